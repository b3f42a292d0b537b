"""Joining: testimonies brought onto the subjects where they meet."""

from __future__ import annotations

import pytest

from latchlore.base import (
    ActiveLevel,
    AddressSet,
    Arm,
    BitLevel,
    BitSense,
    BitUse,
    ByteSequence,
    ByteTable,
    ByteTree,
    Choice,
    Condition,
    CycleRange,
    InputBit,
    InputKind,
    Leaf,
    LeafKind,
    Node,
    Origin,
    SequenceByte,
    SignalRole,
    Strength,
    Subject,
    SubjectKind,
    Testimony,
    Value,
    Witness,
    Words,
    Write,
)
from latchlore.evidence import Standing, join, sent_to, weigh

BOARD = Origin.at_line("board/card.nets", 12)
CODE = Origin.at_address("program/rom.bin", 0x0303)
LOG = Origin.at_line("wire/burst.log", 3)
PAGE = Origin.at_line("documents/a.toml", 9, "page 3")
DATA = AddressSet.parse("1100 1xxx xxxx xxx0")
STATUS = AddressSet.parse("1100 1xxx xxxx xxx1")
ROLES = (SignalRole("DATA", InputKind.MEMORY, DATA, "write"),)


def say(kind: SubjectKind, key: tuple[str, ...], value: Value, witness: Witness, origin: Origin) -> Testimony:
    """One testimony."""
    return Testimony(Subject(kind, key), value, witness, (origin,), "set down for the test", Strength.COMPUTED)


def card() -> list[Testimony]:
    """A card whose status register has BUSY inverted on bit 7 and a strap on bit 0."""
    return [
        say(SubjectKind.REGISTER, ("memory", "C800", "write"), DATA, Witness.BOARD, BOARD),
        say(SubjectKind.REGISTER, ("memory", "C801", "read"), STATUS, Witness.BOARD, BOARD),
        say(
            SubjectKind.BIT,
            ("memory", "C801", "read", "7"),
            BitSense.follows("busy", inverted=True),
            Witness.BOARD,
            BOARD,
        ),
        say(SubjectKind.BIT, ("memory", "C801", "read", "0"), BitSense.follows("w1"), Witness.BOARD, BOARD),
        say(SubjectKind.STRAP, ("w1",), Words("open or joined"), Witness.BOARD, BOARD),
    ]


def test_mirrors_meet() -> None:
    """What the program says about a mirror stands under the register's own address."""
    joined = join(
        [
            *card(),
            say(SubjectKind.REGISTER, ("memory", "C8F0", "write"), AddressSet.of([0xC8F0]), Witness.PROGRAM, CODE),
            say(SubjectKind.BIT, ("memory", "CFFF", "read", "7"), BitUse(goes_on_at=1), Witness.PROGRAM, CODE),
            say(SubjectKind.REGISTER, ("memory", "C8F1", "write"), AddressSet.of([0xC8F1]), Witness.PROGRAM, CODE),
        ],
        ROLES,
    )
    program = {str(one.subject) for one in joined if one.witness is Witness.PROGRAM}
    assert program == {
        "register C800 (write)",
        "C801 (read) bit 7",
        "signal BUSY",
        "register C8F1 (write)",
    }, "a write to the status register's address is another subject: the card answers only to reads there"


def test_signal_meets_document() -> None:
    """Board parity, program sense and the manual's level stand together under the signal, in any spelling."""
    joined = join(
        [
            *card(),
            say(SubjectKind.BIT, ("memory", "C801", "read", "7"), BitUse(goes_on_at=1), Witness.PROGRAM, CODE),
            say(SubjectKind.SIGNAL, ("BUSY*",), ActiveLevel(1), Witness.DOCUMENTS, PAGE),
        ],
        ROLES,
    )
    table = weigh(joined, title="t", invented=True)
    row = next(row for row in table.rows if row.subject == Subject(SubjectKind.SIGNAL, ("BUSY",)))
    assert row.standing is Standing.AGREED
    assert len(row.testimonies) == 3


def test_pins_meet() -> None:
    """A document that does not name its plug speaks of the card's only one."""
    joined = join(
        [
            say(SubjectKind.PIN, ("j1", "1"), Words("STROBE, out"), Witness.BOARD, BOARD),
            say(SubjectKind.PIN, ("connector", "1"), Words("-Strobe, in"), Witness.DOCUMENTS, PAGE),
        ],
        (),
    )
    rows = weigh(joined, title="t", invented=True).rows
    assert [(str(row.subject), row.standing) for row in rows] == [("j1 pin 1", Standing.AGREED)]


DOUBTED = ByteSequence((SequenceByte(0x1B, 0.9999), SequenceByte(0x44, 0.98, ((0x40, 0.02),))), 0.98, 9)


@pytest.mark.parametrize(
    ("logged", "method"),
    [
        (ByteSequence.certain(b"\x1b\x40"), "looked up which paths of the program write the logged sequence"),
        (
            DOUBTED,
            "no path of the program writes just the logged sequence; looked up which paths settle a single doubt",
        ),
    ],
)
def test_straps_from_log(logged: ByteSequence, method: str) -> None:
    """A log whose only explaining path needs a strap's bit to be 1 says so under the strap, and by what it is told."""
    strap = InputBit(InputKind.MEMORY, 0xC803, 0)

    def write(value: int) -> Write:
        return Write(InputKind.MEMORY, 0xC802, ByteTable.constant(value), CycleRange.exactly(9))

    end = Leaf(LeafKind.RETURNED, "RTS", 0xF010)
    tree = ByteTree(
        (
            Node((write(0x1B),), Choice((Arm(Condition.of_bit(strap, 0), 1), Arm(Condition.of_bit(strap, 1), 2)))),
            Node((), end),
            Node((write(0x40),), end),
        ),
        0xF000,
    )
    joined = join(
        [
            *card(),
            say(SubjectKind.SEQUENCE, ("power-on",), tree, Witness.PROGRAM, CODE),
            say(SubjectKind.SEQUENCE, ("power-on",), logged, Witness.WIRE, LOG),
        ],
        ROLES,
    )
    row = next(
        row
        for row in weigh(joined, title="t", invented=True).rows
        if row.subject == Subject(SubjectKind.STRAP, ("w1",))
    )
    assert [str(one.value) for one in row.by_witness(Witness.WIRE)] == ["1 when 'power-on' was logged"]
    assert row.by_witness(Witness.WIRE)[0].origins == (LOG, CODE)
    assert row.by_witness(Witness.WIRE)[0].method.startswith(method)


def test_level_at_port() -> None:
    """The bit that a log tells of at a port is the subject that a board has for it, however high the port."""
    for address, digits in ((0x90, "90"), (0x378, "0378")):
        bit = InputBit(InputKind.PORT, address, 0)
        data = AddressSet.of((address + 1,), 16)
        end = Leaf(LeafKind.RETURNED, "RET", 0x10)
        write = Write(InputKind.PORT, address + 1, ByteTable.constant(0x40), CycleRange.exactly(9))
        choice = Choice((Arm(Condition.of_bit(bit, 0), 1), Arm(Condition.of_bit(bit, 1), 2)))
        tree = ByteTree((Node((), choice), Node((), end), Node((write,), end)), 0)
        joined = join(
            [
                say(SubjectKind.SEQUENCE, ("power-on",), tree, Witness.PROGRAM, CODE),
                say(SubjectKind.SEQUENCE, ("power-on",), ByteSequence.certain(b"\x40"), Witness.WIRE, LOG),
            ],
            (SignalRole("DATA", InputKind.PORT, data, "write"),),
        )
        told = [one for one in joined if isinstance(one.value, BitLevel)]
        assert [(one.subject.key, str(one.value)) for one in told] == [
            (("port", digits, "read", "0"), "1 when 'power-on' was logged")
        ]


def test_strap_moved() -> None:
    """A strap stated to lie the other way than a log needs contradicts it; one that lies so agrees."""
    for level, standing in ((0, Standing.CONTRADICTED), (1, Standing.AGREED)):
        said = join(
            [
                *card(),
                say(SubjectKind.STRAP, ("w1",), BitLevel(level, "as stated"), Witness.BOARD, BOARD),
                say(SubjectKind.BIT, ("memory", "C801", "read", "0"), BitLevel(1, "then"), Witness.WIRE, LOG),
            ],
            ROLES,
        )
        row = next(row for row in weigh(said, title="t", invented=True).rows if row.subject.kind is SubjectKind.STRAP)
        assert row.standing is standing
        if standing is Standing.CONTRADICTED:
            assert row.reason == "0 as stated, but 1 then"


def test_sent_to() -> None:
    """Only writes to the data register carry bytes, through all its mirrors; without a role nothing can be said."""
    belongs = sent_to(ROLES)
    assert belongs is not None
    assert belongs(InputKind.MEMORY, 0xCFFE)
    assert not belongs(InputKind.MEMORY, 0xCFFF)
    assert not belongs(InputKind.PORT, 0xCFFE)
    assert sent_to(()) is None
