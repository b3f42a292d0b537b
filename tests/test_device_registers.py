"""Register tables of documents: what they testify, and how it meets the board and the program."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from latchlore.base import (
    AddressSet,
    BadInput,
    BitSense,
    Origin,
    Strength,
    Subject,
    SubjectKind,
    Testimony,
    Witness,
    Words,
    no_progress,
)
from latchlore.device import StatedSwitch, read_device
from latchlore.device import testify as documents_say
from latchlore.evidence import Row, Standing, Table
from latchlore.study import set_aside, weigh_study
from tests.demos import lay_demo

if TYPE_CHECKING:
    from pathlib import Path

HEAD = 'title = "Card notes"\ndevice = "card"\nkind = "note"\ninvented = true\n'
STATUS = """
[[pin]]
number = "11"
signal = "ACK"
active = "low"
page = 2
[[register]]
address = "C801, C803"
direction = "read"
page = 4
bits = [
    { bit = 7, signal = "BUSY", inverted = true, row = 1 },
    { bit = 6, signal = "Ack", when_true = 0, page = 5 },
    { bit = 5, signal = "PAPER-OUT", doubt = "smudged" },
    { bit = 4, always = 1 },
    { bit = 3, unused = true },
]
[[register]]
address = "port 90"
direction = "write"
"""


def test_testify() -> None:
    """Addresses and bits by row, each with its place; what was said of a name is turned by the pin's level."""
    said = documents_say([read_device((HEAD + STATUS).encode(), "documents/card.toml")])
    found = {one.subject: one for one in said if one.subject.kind in (SubjectKind.REGISTER, SubjectKind.BIT)}
    status, bits = ("memory", "C801", "read"), {}
    for subject, one in found.items():
        if subject.kind is SubjectKind.BIT:
            bits[subject.key[3]] = one
    assert found[Subject(SubjectKind.REGISTER, status)].value == AddressSet.of([0xC801, 0xC803])
    assert found[Subject(SubjectKind.REGISTER, ("port", "90", "write"))].value == AddressSet.of([0x90], 8)
    assert [(key, one.value) for key, one in bits.items()] == [
        ("7", BitSense.follows("BUSY", inverted=True)),
        ("6", BitSense.follows("Ack")),  # 0 while true, and true when low: straight
        ("5", Words("PAPER-OUT")),
        ("4", BitSense.tied(1)),
        ("3", BitSense.unconnected()),
    ]
    assert [one.origins[0].detail for one in bits.values()] == ["page 4, row 1", "page 5", "page 4", "page 4", "page 4"]
    assert bits["5"].strength is Strength.GUESSED
    assert [[str(one) for one in each] for each in bits["6"].falls_with] == [
        ["documents/card.toml: C801 (read) bit 6 (page 5)"],
        ["documents/card.toml: signal ACK (page 2)"],
    ]


SWITCHED = """
[[switch]]
name = "base address"
levers = ["1"]
factory = "off"
page = 2
settings = [{ levers = "off", is = "off" }, { levers = "on", is = "on" }]
[[register]]
address = "C80{17}"
direction = "read"
page = 4
when_switch = { "base address" = "off" }
bits = [
    { bit = "{76}", signal = "BUSY", inverted = true },
    { bit = 5, always = "{01}" },
    { bit = "{65}", unused = true },
]
[[register]]
address = "D801"
direction = "read"
page = 5
when_switch = { "base address" = "on" }
bits = [{ bit = 7, signal = "BUSY", inverted = true }]
[[order]]
first_to_last = [["strobe {begins|ends}", "busy begins"]]
page = 6
when_switch = { "base address" = "off" }
"""
SWITCH = "documents/card.toml: switch 'base address'"


def said_of(*stated: StatedSwitch) -> dict[Subject, Testimony]:
    """What the switched card's document says."""
    said = documents_say([read_device((HEAD + SWITCHED).encode(), "documents/card.toml")], stated)
    return {one.subject: one for one in said}


def test_testify_doubtful_digits() -> None:
    """The first reading is said, as a guess, with the others beside it; what a sure bit takes is no reading."""
    found = said_of()
    register = ("memory", "C801", "read")
    said = [found[Subject(SubjectKind.REGISTER, register)]]
    said += [found[Subject(SubjectKind.BIT, (*register, bit))] for bit in "756"]
    said.append(found[Subject(SubjectKind.ORDER, ("handshake order",))])
    assert [str(one.value) for one in said] == [
        "1100 1000 0000 0001",
        "NOT BUSY",
        "always 0",
        "wired to nothing",
        "strobe begins, then busy begins",
    ]
    assert {one.strength for one in said} == {Strength.GUESSED}
    condition = "only while base address is off, as set in the factory"
    address = "the address may also read C807"
    assert [one.note for one in said] == [
        f"{condition}; {address}",
        f"{condition}; {address}; the row may also read bit 6: NOT BUSY",
        f"{condition}; {address}; the row may also read bit 5: always 1",
        f"{condition}; {address}",  # bit 5 stands in a row of its own, so the other reading is none
        f"{condition}; the order may also be read as strobe ends, then busy begins",
    ]


def test_testify_when_switch() -> None:
    """A row that holds under another setting is a note, and what is stated goes before the factory."""
    as_made = said_of()
    on = StatedSwitch("base address", "on", Origin.at_line("study.toml", 3))
    as_stated = said_of(on)
    here = Subject(SubjectKind.REGISTER, ("memory", "C801", "read"))
    assert here in as_made
    assert here not in as_stated
    assert [str(one) for group in as_made[here].falls_with for one in group] == [
        "documents/card.toml: register C801 (read) (page 4)",
        SWITCH,
    ]
    there = Subject(SubjectKind.NOTE, ("D801 (read) while base address on",))
    assert (as_made[there].value, as_made[there].note) == (
        Words("D801; bit 7: NOT BUSY"),
        "only while base address is on, and it is off, as set in the factory",
    )
    stated = as_stated[Subject(SubjectKind.REGISTER, ("memory", "D801", "read"))]
    assert stated.note == "only while base address is on, as stated at study.toml:3"
    assert [str(one) for group in stated.falls_with for one in group][1] == "study.toml: switch 'base address'"
    assert str(as_stated[Subject(SubjectKind.NOTE, ("handshake order while base address off",))].value) == (
        "strobe begins, then busy begins"
    )


def test_testify_when_switch_wrong() -> None:
    """Where nobody tells how the switch stands, no row counts as holding, and the note says what would settle it."""
    text = SWITCHED.replace('factory = "off"\n', "")
    said = documents_say([read_device((HEAD + text).encode(), "documents/card.toml")])
    assert {one.subject.kind for one in said} == {SubjectKind.NOTE}
    assert said[0].note == (
        "only while base address is off, and how it stands is not told: state it under [switches] in study.toml; "
        "the order may also be read as strobe ends, then busy begins"
    )


CARD = """
[[register]]
address = "A810"
direction = "read"
page = 1
bits = [
    {{ bit = 5, signal = "paper-out*" }},
    {{ bit = 6, signal = "BUSY", inverted = {inverted} }},
    {{ bit = 7, signal = "{fault}", inverted = false }},
]
[[register]]
address = "{address}"
direction = "write"
page = 1
"""


def weigh_card(folder: Path, **stated: str) -> Table:
    """The demonstration without its endless entry and with a card's register table, weighed."""
    lay_demo(folder)
    study = (folder / "study.toml").read_text()
    start, end = study.index('[[entry]]\nname = "reset"'), study.index('[[entry]]\nname = "power-on"')
    (folder / "study.toml").write_text(study[:start] + study[end:])
    values = {"inverted": "true", "fault": "FAULT", "address": "A808", **stated}
    (folder / "documents" / "card.toml").write_text(HEAD + CARD.format(**values))
    return weigh_study(folder)


def row_of(table: Table, kind: SubjectKind, *key: str) -> Row:
    """The one row about a subject."""
    [row] = [row for row in table.rows if row.subject == Subject(kind, key)]
    return row


def test_card(tmp_path: Path) -> None:
    """A right table agrees with the board's decode and nets; one that names a signal only agrees in that."""
    table = weigh_card(tmp_path / "study")
    status = ("memory", "A810", "read")
    rows = [row_of(table, SubjectKind.BIT, *status, bit) for bit in "567"]
    rows += [
        row_of(table, SubjectKind.REGISTER, *status),
        row_of(table, SubjectKind.REGISTER, "memory", "A808", "write"),
    ]
    for row in rows:
        assert row.standing is Standing.AGREED, row
        assert row.by_witness(Witness.DOCUMENTS)
    assert "the same signal is named; the document does not tell its sense" in rows[0].reason
    assert row_of(table, SubjectKind.SIGNAL, "BUSY").standing is Standing.AGREED
    assert len(list(table.iter_standing(Standing.CONTRADICTED))) == 2  # as without it: the demonstration's own


@pytest.mark.parametrize(
    ("stated", "subject", "reason", "repair"),
    [
        (
            {"inverted": "false"},
            (SubjectKind.BIT, "memory", "A810", "read", "6"),
            "one follows the bit to NOT BUSY, the other to BUSY",
            "the document is wrong there, or speaks of another variant",
        ),
        (
            {"fault": "ACK"},
            (SubjectKind.BIT, "memory", "A810", "read", "7"),
            "one follows the bit to FAULT, the other to ACK",
            "the document is wrong there, or speaks of another variant",
        ),
        (
            {"address": "A808, A818"},  # with both address lines high that tell the registers apart, none answers
            (SubjectKind.REGISTER, "memory", "A808", "write"),
            "the document names addresses that the board does not answer to: 1010 1000 0001 1000",
            "the document is wrong there, or speaks of another variant",
        ),
    ],
)
def test_card_wrong(
    tmp_path: Path, stated: dict[str, str], subject: tuple[SubjectKind, str], reason: str, repair: str
) -> None:
    """An inverter, a signal or an address that the document has wrong."""
    table = weigh_card(tmp_path / "study", **stated)
    row = row_of(table, *subject)
    assert row.standing is Standing.CONTRADICTED
    assert reason in row.reason
    assert repair in [one.words for one in row.repairs]


def switched_study(folder: Path, more: str = "") -> Path:
    """A study of the switched card's document alone."""
    (folder / "documents").mkdir(parents=True)
    (folder / "documents" / "card.toml").write_text(HEAD + SWITCHED, "utf-8")
    (folder / "study.toml").write_text(f'title = "A card"\ninvented = true\n{more}', "utf-8")
    return folder


def test_switches(tmp_path: Path) -> None:
    """How the switch was found set decides which register the document speaks of; withdrawn, it speaks of none."""
    made = weigh_study(switched_study(tmp_path / "made"))
    assert row_of(made, SubjectKind.REGISTER, "memory", "C801", "read").standing is Standing.SINGLE
    folder = switched_study(tmp_path / "stated", '[switches]\n"base address" = "on"\n')
    stated = weigh_study(folder)
    assert [str(row.subject) for row in stated.rows if row.subject.kind is SubjectKind.REGISTER] == [
        "register D801 (read)"
    ]
    set_aside(folder, "study.toml: switch 'base address'", "2026-11-27", "not the same card", no_progress, again=False)
    assert [row for row in weigh_study(folder).rows if row.subject.kind is SubjectKind.REGISTER] == []


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('"bass address" = "on"', "no document has a switch 'bass address'; there are 'base address'"),
        ('"base address" = "up"', "switch 'base address' has no setting 'up'; the documents list 'off', 'on'"),
    ],
)
def test_switches_wrong(tmp_path: Path, line: str, words: str) -> None:
    """A switch, or a setting, that no document has is refused with its place."""
    folder = switched_study(tmp_path / "study", f"[switches]\n{line}\n")
    with pytest.raises(BadInput, match=rf"^study\.toml:4 \(switches\..*\): {re.escape(words)}$"):
        weigh_study(folder)
