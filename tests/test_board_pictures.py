"""The ways of bits through the parts, and the page and commands that show a board."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from latchlore.board import (
    BitWay,
    RegisterMap,
    StepKind,
    bit_ways,
    decode,
    get_type,
    parse_board,
    way_to_plain,
)
from latchlore.board._hops import pass_of
from latchlore.cli import run
from tests.random_boards import Maker

TOP = Path(__file__).resolve().parent.parent
PC_STUDY = TOP / "exams" / "pc-parallel-1981" / "study"
PC = parse_board(next((PC_STUDY / "board").glob("*.nets")).read_text("utf-8"), "pc.nets")
CARD = parse_board((TOP / "src" / "latchlore" / "demo" / "board" / "card.nets").read_text("utf-8"), "card.nets")
PIN_14 = TOP / "exams" / "printer-cable-pin-14" / "study"


def ways_of(found: RegisterMap, address: int, direction: str) -> dict[int, BitWay]:
    """Bit → its way."""
    return {way.bit: way for way in bit_ways(found, found.register(address, direction))}


# --- the ways ---

# Published register bits of the PC printer adapter of 1981 (see the exam's answers.toml): pin, and whether inverted.
PC_CONTROL = {0: (1, True), 1: (14, True), 2: (16, False), 3: (17, True)}
PC_STATUS = {3: (15, False), 4: (13, False), 5: (12, False), 6: (10, False), 7: (11, True)}


def test_ways_of_the_pc_adapter() -> None:
    """Each way ends at the published pin, and its parts turn the level over as published: masks 0B and 80."""
    found = decode(PC)
    for address, direction, published in ((0x3BE, "write", PC_CONTROL), (0x3BD, "read", PC_STATUS)):
        ways = ways_of(found, address, direction)
        for bit, (pin, inverted) in published.items():
            way = ways[bit]
            assert way.connector is not None
            assert (way.connector[0], way.connector[1].number) == ("j1", pin)
            assert way.inverted is inverted
            assert way.num_inversions % 2 == int(inverted), bit
            assert way.is_write is (direction == "write")


@pytest.mark.parametrize("board", [PC, CARD], ids=["pc", "card"])
def test_inversions_add_up(board: object) -> None:
    """On every way of both boards the parts' inversions, found one by one, add up to what the decode says."""
    from latchlore.board import Board

    assert isinstance(board, Board)
    found = decode(board)
    checked = 0
    for register in found.registers:
        for way in bit_ways(found, register):
            if way.inverted is None or any(s.inverts is None and s.far is not None for s in way.steps):
                continue
            assert way.num_inversions % 2 == int(way.inverted), (register.key, way.bit)
            checked += 1
    assert checked >= 15


@pytest.mark.parametrize(
    ("part", "one", "other", "kind", "inverts"),
    [
        # functions of the 7400 series as in any data book: what a pin does to another
        ("7404", 1, 2, StepKind.PASSES, True),
        ("7404", 2, 1, StepKind.PASSES, True),  # told from either side
        ("74244", 2, 18, StepKind.PASSES, False),
        ("74240", 2, 18, StepKind.PASSES, True),
        ("7400", 1, 3, StepKind.PASSES, True),
        ("7408", 1, 3, StepKind.PASSES, False),
        ("7486", 1, 3, StepKind.PASSES, None),  # an exclusive OR turns it over while the other input is high
        ("74374", 3, 2, StepKind.STORES, False),
        ("74534", 3, 2, StepKind.STORES, True),
        ("7474", 2, 5, StepKind.STORES, False),
        ("7474", 2, 6, StepKind.STORES, True),
        ("74125", 1, 3, StepKind.ENABLES, True),
        ("74126", 1, 3, StepKind.ENABLES, False),
        ("74245", 2, 18, StepKind.PASSES, False),
    ],
)
def test_pass_of(part: str, one: int, other: int, kind: StepKind, inverts: bool | None) -> None:
    """What a part does between two of its pins."""
    assert pass_of(get_type(part), one, other) == (kind, inverts)


def test_pass_of_wrong() -> None:
    """Pins of different gates have nothing to do with one another, and nothing is made up."""
    assert pass_of(get_type("7404"), 1, 4) == (StepKind.PASSES, None)


def test_way_to_plain() -> None:
    """A way as data names parts and pins from the data side."""
    plain = way_to_plain(ways_of(decode(PC), 0x3BE, "write")[0])
    assert plain["connector"] == "j1.1"
    assert [(step["part"], step["inverts"], step["does"]) for step in plain["steps"]] == [
        ("u6", False, "stores"),
        ("u7", True, "passes"),
    ]


# --- the page ---


def test_picture_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The page is whole, without scripts or addresses, and the same twice; an earlier page is written over."""
    page = tmp_path / "board.html"
    assert run(["board", "picture", str(PC_STUDY), "-o", str(page)]) == 0
    assert capsys.readouterr().out == f"Wrote {page}\n"
    first = page.read_bytes()
    text = first.decode()
    for heading in ("The registers", "The way of each bit", "The board"):
        assert f">{heading}</h2>" in text
    assert "<script" not in text
    assert "http://" not in text.replace("http://www.w3.org", "")
    assert run(["board", "picture", str(PC_STUDY), "-o", str(page)]) == 0
    assert page.read_bytes() == first
    ids = re.findall(r' id="([^"]*)"', text)
    assert len(ids) == len(set(ids))
    assert {link for link in re.findall(r'href="#([^"]*)"', text) if not link.startswith(("s-", "w-"))} <= set(ids)


def test_picture_command_mating(tmp_path: Path) -> None:
    """A mating stands first, its cautions before its ways, danger marked by a word."""
    page = tmp_path / "board.html"
    assert run(["board", "picture", str(PIN_14), "-o", str(page)]) == 0
    text = page.read_text("utf-8")
    places = [
        text.index(words)
        for words in (
            ">What it is put together with</h2>",
            "Before anything is put together",
            "Power off on both sides",
            "the right way <span",
            "j2.14 auto-feed is held low for good by j1.14 gnd: it is always true",
            '<span class="verdict unsafe">UNSAFE</span>',
        )
    ]
    assert places == sorted(places)


def test_picture_command_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Foreign files, folders and missing folders are refused, and so is a command without a page."""
    foreign = tmp_path / "mine.html"
    foreign.write_text("<p>mine</p>", "utf-8")
    for target, words in (
        (foreign, "exists and is no page of this command; name another file"),
        (tmp_path, "is a folder; name a file for the page"),
        (tmp_path / "none" / "a.html", "there is no such folder to write it in"),
    ):
        assert run(["board", "picture", str(PC_STUDY), "-o", str(target)]) == 2
        assert capsys.readouterr().err == f"latchlore: {target}: {words}\n"
    assert foreign.read_text("utf-8") == "<p>mine</p>"
    assert run(["board", "picture", str(PC_STUDY)]) == 2
    assert "name the page to write: -o PAGE, or ask for --json" in capsys.readouterr().err


def test_picture_json(capsys: pytest.CaptureFixture[str]) -> None:
    """Nets and ways as JSON."""
    assert run(["board", "picture", str(PC_STUDY), "--json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert plain["format"] == "latchlore-board-page"
    control = next(one for one in plain["registers"] if (one["address"], one["direction"]) == ("03BE", "write"))
    assert control["ways"][0]["connector"] == "j1.1"
    assert {"net": "strobe", "pins": ["u7.2", "j1.1", "u10.2"]} in plain["nets"]


def test_dossier(tmp_path: Path) -> None:
    """The dossier holds the same sections, the mating's places among its sources, and its data in the twin."""
    assert run(["dossier", str(PIN_14), "-o", str(tmp_path / "out")]) == 0
    text = (tmp_path / "out" / "index.html").read_text("utf-8")
    assert text.index(">What it is put together with</h2>") < text.index(">Every subject</h2>")
    ids = set(re.findall(r' id="([^"]*)"', text))
    assert set(re.findall(r'href="#([^"]*)"', text)) <= ids
    twin = json.loads((tmp_path / "out" / "dossier.json").read_text("utf-8"))
    assert twin["matings"][0]["ways"][0]["kind"] == "right"
    assert run(["dossier", str(PC_STUDY), "-o", str(tmp_path / "pc")]) == 0
    page = (tmp_path / "pc" / "index.html").read_text("utf-8")
    assert ">The way of each bit</h2>" in page
    assert "matings" not in json.loads((tmp_path / "pc" / "dossier.json").read_text("utf-8"))


def test_inversions_add_up_at_random() -> None:
    """On random boards, too, the parts' inversions found one by one are those of the decode."""
    checked = 0
    for seed in range(12):
        found = decode(parse_board(Maker(seed, 10).build(unknowns=seed % 3, buffered=bool(seed % 2)), "random.nets"))
        ways = [way for register in found.registers for way in bit_ways(found, register) if way.inverted is not None]
        told = [way for way in ways if all(step.inverts is not None or step.far is None for step in way.steps)]
        assert [way.num_inversions % 2 for way in told] == [int(bool(way.inverted)) for way in told], seed
        checked += len(told)
    assert checked > 100
