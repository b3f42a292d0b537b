"""Two versions of a board: changed claims, matched registers, changed joints, and nothing where nothing changed.

The edits are made to boards whose claims are published or worked out by hand beside each case; the comparison is never
asked what the right answer is.
"""

from __future__ import annotations

import json
import random
import re
from pathlib import Path

import pytest

from latchlore.board import (
    Board,
    Change,
    Claim,
    Comparison,
    Turn,
    compare_boards,
    comparison_to_plain,
    decode,
    parse_board,
)
from latchlore.cli import run
from tests.random_boards import Maker

TOP = Path(__file__).resolve().parent.parent
PC = next((TOP / "exams" / "pc-parallel-1981" / "study" / "board").glob("*.nets")).read_text("utf-8")
CARD = (TOP / "src" / "latchlore" / "demo" / "board" / "card.nets").read_text("utf-8")


def edited(text: str, *edits: tuple[str, str]) -> str:
    """The text with each piece, which must be there once, replaced."""
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def compared(old: str, new: str) -> Comparison:
    """The comparison of two net files."""
    return compare_boards(parse_board(old, "old.nets"), parse_board(new, "new.nets"))


def told(found: Comparison, claim: Claim) -> list[tuple[str, str, str | None, str | None]]:
    """(subject, turn, old, new) of every change of a claim."""
    return [(one.subject, one.turn.value, one.old, one.new) for one in found.changes if one.claim is claim]


def test_nothing() -> None:
    """The same board differs in nothing, whatever its nets are called."""
    assert compared(CARD, CARD).changes == ()
    renamed = re.sub(r"\bnet nadr\b", "net zz", PC)
    assert renamed != PC
    assert compared(PC, renamed).changes == ()


@pytest.mark.parametrize("seed", range(24))
def test_nothing_but_names(seed: int) -> None:
    """Random boards whose nets are called otherwise and stand in another order differ in nothing."""
    chance = random.Random(seed)
    text = Maker(seed, 12).build(unknowns=0, buffered=bool(seed % 2))
    board = parse_board(text, "old.nets")
    kept = {*board.host_signals(), "gnd", "vcc"}
    own = sorted(net.name for net in board.nets if net.name not in kept)
    names = dict(zip(own, chance.sample([f"q{k}" for k in range(len(own))], len(own)), strict=True))
    nets: list[str] = []
    rest: list[str] = []
    for line in text.split("\n"):
        words = [names.get(word, word) if line.startswith(("net ", "pull ")) else word for word in line.split()]
        (nets if line.startswith("net ") else rest).append(" ".join(words))
    chance.shuffle(nets)
    last = [line for line in rest if line.startswith(("pull ", "tie "))]
    other = [line for line in rest if line not in last]
    assert compared(text, "\n".join([*other, *nets, *last])).changes == ()


def test_polarity() -> None:
    """The inverter behind busy left out (bench case 4): bit 6 turns its polarity, and the joints say why."""
    found = compared(
        CARD,
        edited(
            CARD,
            ("net busy     j2.10 u10.3", "net busy     j2.10 u9.15"),
            ("net nbusy    u10.4 u9.15", "open u10.4"),
            ("tie low u10.5", "tie low u10.3 u10.5"),
        ),
    )
    (change,) = [one for one in found.changes if one.claim is Claim.BIT]
    assert (change.subject, change.turn, change.old, change.new) == (
        "A810 (read) bit 6",
        Turn.POLARITY,
        "NOT busy",
        "busy",
    )
    assert "net busy: u10.3 goes, u9.15 comes" in change.because
    assert "old.nets:159" in [str(origin) for origin in change.old_origins]


def test_one_jumper() -> None:
    """An inverter in A8 moves every register by 100h, as between the published adapters at 378 and 278: 3BC to 2BC."""
    low_a8 = edited(PC, ("net a8 u1.2\n", "net a8 u2.13\nnet na8 u2.12 u1.2\n"), ("tie low u2.13 u3.4", "tie low u3.4"),
                    ("open u2.12 u3.6", "open u3.6"))  # fmt: skip
    found = compared(PC, low_a8)
    moved = told(found, Claim.REGISTER)
    assert len(moved) == len(decode(parse_board(PC, "pc.nets")).registers)
    assert {turn for _, turn, _, _ in moved} == {"moves"}
    assert ("port 02BC (write, takes)", "moves", "11 1011 1100 (1 address)", "10 1011 1100 (1 address)") in moved
    assert told(found, Claim.BIT) == []  # what the bits are wired to is the same
    because = [one.because for one in found.changes if one.claim is Claim.REGISTER]
    assert all(any("a8" in words for words in one) for one in because)


def test_swapped_registers() -> None:
    """Two registers that change places are told as moved, not as rewired."""
    found = compared(
        CARD,
        edited(
            CARD,
            ("net wdata    u5.14 u7.11 u6.1", "net wdata    u5.13 u7.11 u6.1"),
            ("net wcontrol u5.13 u8.9  u6.2", "net wcontrol u5.14 u8.9  u6.2"),
        ),
    )
    upper, lower = "101x 10xx xxx1 0xxx (512 addresses)", "101x 10xx xxx0 1xxx (512 addresses)"
    assert told(found, Claim.REGISTER) == [
        ("register A808 (write, takes)", "moves", upper, lower),
        ("register A810 (write, takes)", "moves", lower, upper),
    ]
    assert told(found, Claim.BIT) == []
    assert told(found, Claim.PIN) == []


def test_swapped_bits() -> None:
    """Two data wires swapped at the latch: both bits are told as having moved, at the register and at the pins."""
    found = compared(
        CARD,
        edited(CARD, ("net q1 u7.2  u12.2", "net q1 u7.5  u12.2"), ("net q2 u7.5  u12.4", "net q2 u7.2  u12.4")),
    )
    assert told(found, Claim.BIT) == [
        ("A808 (write) bit 0", "moves", "data1", "data2, which was bit 1"),
        ("A808 (write) bit 1", "moves", "data2", "data1, which was bit 0"),
    ]
    assert ("j2 pin 2", "source", "A808 (write) bit 0", "A808 (write) bit 1") in told(found, Claim.PIN)


@pytest.mark.parametrize(
    ("edit", "claim", "change"),
    [
        (("strap w2 open", "strap w2 joined"), Claim.STRAP, ("strap w2", "stated", "open", "joined")),
        (("pull up busy 4k7\n", ""), Claim.PULL, ("pull up at j2.10", "goes", "4k7", None)),
        (("pull up fault 4k7", "pull up fault 10k"), Claim.PULL, ("pull up at j2.12", "stated", "4k7", "10k")),
        (("part u12 74ls244 drives", "part u12 74ls240 drives"), Claim.PART, ("u12", "stated", "74ls244", "74ls240")),
        (("part u12 74ls244 drives", "part u12 74ls240 drives"), Claim.PIN,
         ("j2 pin 2", "polarity", "A808 (write) bit 0", "NOT A808 (write) bit 0")),
        (("pin j2.10 busy in high", "pin j2.10 busy in low"), Claim.PIN,
         ("j2 pin 10", "stated", "busy, in, true when high", "busy, in, true when low")),
        (("tie high u9.8", "tie low u9.8"), Claim.BIT, ("A810 (read) bit 3", "polarity", "always 1", "always 0")),
        (("net q1 u7.2  u12.2\n", "open u7.2\ntie low u12.2\n"), Claim.BIT,
         ("A808 (write) bit 0", "source", "data1", "wired to nothing")),
        (("open u9.6\n", "tie low u9.6\n"), Claim.TROUBLE,
         ("floating input at u9.6", "goes", "input 1A3 of 74ls244 is connected to nothing", None)),
    ],
)  # fmt: skip
def test_kinds(edit: tuple[str, str], claim: Claim, change: tuple[str, str, str | None, str | None]) -> None:
    """One edit of each kind, and the claim that changes by it."""
    assert change in told(compared(CARD, edited(CARD, edit)), claim)


def test_turned_round() -> None:
    """Compared the other way, the same subjects change, and what came goes (random pins moved to other nets)."""
    chance = random.Random(7)
    board = parse_board(CARD, "card.nets")
    for _ in range(25):
        text = _one_pin_moved(board, chance)
        there, back = compared(CARD, text), compared(text, CARD)
        forth = {one.subject: one for one in there.changes if one.claim in (Claim.PIN, Claim.STRAP)}
        other = {one.subject: one for one in back.changes if one.claim in (Claim.PIN, Claim.STRAP)}
        assert set(forth) == set(other)
        assert there.changes, text
        assert _num_pins(there.changes) == _num_pins(back.changes)


def _num_pins(changes: tuple[Change, ...]) -> int:
    return sum(
        len((one.old or "").split(", ")) * bool(one.old) + len((one.new or "").split(", ")) * bool(one.new)
        for one in changes
        if one.claim is Claim.JOINT
    )


def _one_pin_moved(board: Board, chance: random.Random) -> str:
    """The card with one pin taken from its net and put to another."""
    nets = [net for net in board.nets if net.name not in ("gnd", "vcc") and len(net.pins) > 2]
    one, other = chance.sample(nets, 2)
    pin = str(chance.choice([at for at in one.pins if at.owner.startswith("u")]))
    lines = []
    for line in CARD.split("\n"):
        words = line.split()
        if words[:2] == ["net", one.name]:
            words.remove(pin)
        elif words[:2] == ["net", other.name]:
            words.append(pin)
        lines.append(" ".join(words))
    return "\n".join(lines)


def test_no_host() -> None:
    """Without a host there are no registers; pins and joints are compared all the same, and the gap is said."""
    old = "part u1 74ls04\nplug j1 2\npin j1.1 a in\nnet a j1.1 u1.1\n"
    new = old.replace("u1.1", "u1.3")
    found = compared(old, new)
    assert told(found, Claim.JOINT) == [("net a", "moves", "u1.1", "u1.3")]
    assert found.not_done == (
        "registers and bits were not compared: old.nets:1: the board states no host; write for instance: host 6502",
        "registers and bits were not compared: new.nets:1: the board states no host; write for instance: host 6502",
    )


def test_to_plain() -> None:
    """As data, and the same bytes twice."""
    found = compared(CARD, edited(CARD, ("strap w2 open", "strap w2 joined")))
    plain = comparison_to_plain(found)
    assert json.loads(json.dumps(plain)) == plain
    assert plain["changes"][0]["subject"] == "strap w2"


def test_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`latchlore board compare` takes files or folders and prints claims before joints."""
    (tmp_path / "old.nets").write_text(CARD, "utf-8")
    (tmp_path / "new.nets").write_text(
        edited(CARD, ("net q1 u7.2  u12.2", "net q1 u7.5  u12.2"), ("net q2 u7.5  u12.4", "net q2 u7.2  u12.4")),
        "utf-8",
    )
    assert run(["board", "compare", str(tmp_path / "old.nets"), str(tmp_path / "new.nets"), "--width", "200"]) == 0
    text = capsys.readouterr().out
    assert "~ A808 (write) bit 0 (moves): data1 -> data2, which was bit 1\n" in text
    assert text.index("Bits") < text.index("Connector pins") < text.index("Joints")
    assert run(["board", "compare", str(TOP / "src/latchlore/demo"), str(TOP / "src/latchlore/demo")]) == 0
    assert capsys.readouterr().out == "No claim differs, and no joint.\n"


def test_command_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A place that is not there, or holds no board, is refused by its name."""
    missing = tmp_path / "none.nets"
    assert run(["board", "compare", str(missing), str(missing)]) == 2
    assert capsys.readouterr().err == f"latchlore: {missing}: cannot be read (no such file or directory)\n"
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "a.log").write_text("41\n", "utf-8")
    assert run(["board", "map", str(tmp_path / "study")]) == 2
    assert capsys.readouterr().err == (
        "latchlore: board: the study has no net file; write one: board/NAME.nets (docs/net-file.md)\n"
    )


def test_map_command(capsys: pytest.CaptureFixture[str]) -> None:
    """`latchlore board map` prints the published registers of the PC adapter, and the same as JSON."""
    study = str(TOP / "exams" / "pc-parallel-1981" / "study")
    assert run(["board", "map", study, "--ways"]) == 0
    text = capsys.readouterr().out
    assert "port 03BE write (takes)\n  11 1011 1110: 1 address, parts u6\n" in text
    assert "    bit 0  NOT strobe\n" in text
    assert "  j1.1 strobe: NOT port 03BE (write) bit 0, open collector, pulled\n" in text
    assert run(["board", "map", study, "--json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert plain["format"] == "latchlore-register-map"
    written = next(one for one in plain["registers"] if (one["address"], one["direction"]) == ("03BE", "write"))
    assert [bit["sense"]["inverted"] for bit in written["bits"]][:4] == [True, True, False, True]  # mask 0B
