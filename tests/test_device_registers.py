"""Register tables of documents: what they testify, and how it meets the board and the program."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest

from latchlore.base import AddressSet, BitSense, Strength, Subject, SubjectKind, Witness, Words
from latchlore.demo import demo_folder
from latchlore.device import read_device
from latchlore.device import testify as documents_say
from latchlore.evidence import Row, Standing, Table
from latchlore.study import weigh_study

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
    shutil.copytree(demo_folder(), folder, ignore=shutil.ignore_patterns("__*"))
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
