"""An invented table for the tests of the faces: the Marram tide recorder's card for the Quill strip printer.

Nobody, no maker, no machine and no figure in it is real; nothing in it was computed.  It holds at least one value of
every type, every standing, and text that would break a careless page.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

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
    Clock,
    Condition,
    CycleRange,
    Emission,
    EventOrder,
    HandshakeEvent,
    InputBit,
    InputKind,
    Leaf,
    LeafKind,
    Link,
    Node,
    OrderCount,
    Origin,
    Read,
    SequenceByte,
    Span,
    SpanLimit,
    Statement,
    StatementKind,
    Strength,
    Subject,
    SubjectKind,
    Testimony,
    Value,
    Wait,
    Witness,
    Words,
    Write,
)
from latchlore.evidence import Repair, Row, Standing, Table

if TYPE_CHECKING:
    from pathlib import Path

NETS = "board/card.nets"
ROM = "program/marram.bin"
LOG = "wire/power-on.log"
GUIDE = "documents/quill-guide.toml"
SERVICE = "documents/quill-service.toml"
LABEL = "documents/label.txt"

FILES = {
    NETS: "board marram printer card\nhost 6502\npart u1 74ls138 d3\nnet sel u1.15 u2.11\nnet nc u3.13\n",
    LOG: "# the borrowed listener\n1B 40 12 0D\n1B 40 0D\n1B 12 0D\n",
    GUIDE: 'title = "Quill 24 operating guide"\n[[command]]\npattern = "1B 4B"\nmeaning = "draw n dot columns"\n',
    SERVICE: 'title = "Quill 24S service notes"\n[[command]]\npattern = "1B 4B"\nmeaning = "<b>select</b> set"\n',
    LABEL: "The strip once showed the tide as a dot-drawn curve.\n",
}
"""Text files of the study, so that an origin can be opened."""

ROM_BYTES = bytes(range(256)) * 8
"""Stands in for the image; it is no program."""


def _say(
    subject: Subject,
    value: Value,
    witness: Witness,
    origin: Origin,
    method: str,
    strength: Strength = Strength.COMPUTED,
    note: str = "",
) -> Testimony:
    return Testimony(subject, value, witness, (origin,), method, strength, note)


def _register(address: str, direction: str, pattern: str, line: int) -> Row:
    subject = Subject(SubjectKind.REGISTER, ("memory", address, direction))
    board = AddressSet.parse(pattern)
    used = AddressSet.of([int(address, 16)])
    return Row(
        subject,
        (
            _say(subject, board, Witness.BOARD, Origin.at_line(NETS, line), "every address was tried on the nets"),
            _say(subject, used, Witness.PROGRAM, Origin.at_address(ROM, 0xF012), "the paths from the entry touch it"),
        ),
        Standing.AGREED,
        "every address used is a mirror of this register",
    )


def _bit(bit: int, sense: BitSense, use: BitUse, standing: Standing, reason: str) -> Row:
    subject = Subject(SubjectKind.BIT, ("memory", "B481", "read", str(bit)))
    return Row(
        subject,
        (
            _say(subject, sense, Witness.BOARD, Origin.at_line(NETS, 5), "the bit was followed through the gates"),
            _say(subject, use, Witness.PROGRAM, Origin.at_address(ROM, 0xF01A), "the paths from the entry test it"),
        ),
        standing,
        reason,
    )


def handshake_tree() -> ByteTree:
    """Straps choose the first byte; then one byte with its strobe, and back to the wait for the next."""
    strap = InputBit(InputKind.MEMORY, 0xB481, 0)
    cycles = CycleRange.exactly

    def byte(value: int) -> tuple[Wait | Write, ...]:
        return (
            Wait(InputKind.MEMORY, 0xB481, 0x80, (0x00,), cycles(7), cycles(4), None, 0xF020),
            Write(InputKind.MEMORY, 0xB480, ByteTable.constant(value), cycles(9), 0xF027),
            Write(InputKind.MEMORY, 0xB482, ByteTable.constant(0x00), cycles(6), 0xF02C),
            Write(InputKind.MEMORY, 0xB482, ByteTable.constant(0x01), cycles(6), 0xF031),
        )

    return ByteTree(
        (
            Node(
                (Read(InputKind.MEMORY, 0xB481, 0, cycles(12), 0xF004),),
                Choice((Arm(Condition.of_bit(strap, 0), 1), Arm(Condition.of_bit(strap, 1), 2))),
            ),
            Node(byte(0x1B) + byte(0x40), Link(3)),
            Node(byte(0x1B) + byte(0x12), Link(3)),
            Node(byte(0x0D), Leaf(LeafKind.RETURNED, "returns to the caller", 0xF040, cycles(8))),
        ),
        0xF000,
        ("straps do not change while it runs",),
        ("at most 4,096 nodes",),
    )


def _sequence_row() -> Row:
    subject = Subject(SubjectKind.SEQUENCE, ("power-on",))
    merged = ByteSequence(
        (
            SequenceByte(0x1B, 0.9999),
            SequenceByte(0x40, 0.9998),
            SequenceByte(0x12, 0.87, ((0x10, 0.08), (0x02, 0.04)), 0.06),
            SequenceByte(0x0D, 0.9995),
        ),
        0.86,
        9,
        0.01,
    )
    return Row(
        subject,
        (
            _say(subject, handshake_tree(), Witness.PROGRAM, Origin.at_address(ROM, 0xF000), "all paths were followed"),
            _say(subject, merged, Witness.WIRE, Origin.at_line(LOG, 2), "nine runs were merged", Strength.MEASURED),
        ),
        Standing.AGREED,
        "the merged bytes lie on a path of the program",
        follows=("B481 bit 0 = 0 when it was logged, so strap S1 was joined",),
    )


def _timing_row() -> Row:
    subject = Subject(SubjectKind.TIMING, ("strobe width",))
    actual = Clock.of(mhz=Fraction(1), tolerance_ppm=100).span(CycleRange.exactly(6))
    return Row(
        subject,
        (
            _say(subject, actual, Witness.PROGRAM, Origin.at_address(ROM, 0xF02C), "6 cycles at 1 MHz ±100 ppm"),
            _say(
                subject,
                SpanLimit(Span.parse("0.5 us"), Span.parse("20 us")),
                Witness.DOCUMENTS,
                Origin.at_line(GUIDE, 2, "page 42"),
                "read from the page",
                Strength.STATED,
            ),
            _say(
                subject,
                SpanLimit(Span.parse("1 us")),
                Witness.DOCUMENTS,
                Origin.at_line(SERVICE, 2, "page 7"),
                "read from the page",
                Strength.STATED,
            ),
        ),
        Standing.AGREED,
        "5.9994 us to 6.0006 us keeps both limits",
    )


LABEL_ROW = Statement(
    LABEL, "dot drawing (museum label)", StatementKind.ROW, "dot drawing", Origin.at_line(LABEL, 1, "museum label")
)


def _repair(k: int, words: str, one: Testimony) -> Repair:
    origin = one.origins[0]
    return Repair((k,), words, (Statement(origin.file, str(one.subject), StatementKind.ROW, "a row", origin),))


def _command_row() -> Row:
    subject = Subject(SubjectKind.COMMAND, ("1B 4B",))
    said = (
        _say(
            subject,
            Words("draw n dot columns"),
            Witness.DOCUMENTS,
            Origin.at_line(GUIDE, 4, "page 12, row 3"),
            "read from the table",
            Strength.STATED,
        ),
        _say(
            subject,
            Words("<b>select</b> set"),
            Witness.DOCUMENTS,
            Origin.at_line(SERVICE, 4, "page 9"),
            "read from the table",
            Strength.GUESSED,
            "the page is stained & torn",
        ),
    )
    return Row(
        subject,
        said,
        Standing.CONTRADICTED,
        "one says 'draw n dot columns', the other '<b>select</b> set'",
        (
            _repair(1, "the service notes speak of the Quill 24S, which may differ", said[1]),
            _repair(0, "the guide's row is misprinted", said[0]),
        ),
    )


def _single(subject: Subject, value: Value, witness: Witness, origin: Origin, strength: Strength) -> Row:
    return Row(
        subject, (_say(subject, value, witness, origin, "read", strength),), Standing.SINGLE, "one witness speaks"
    )


def marram_table() -> Table:
    """The table.  Its `invented` is true."""
    never = Emission(False, ("every path was followed to its end", "code 1B 4B with any count"))
    return Table(
        "The Marram strip printer card",
        True,
        (
            _register("B480", "write", "1011 0100 1xxx xx00", 4),
            _register("B481", "read", "1011 0100 1xxx xxx1", 4),
            _register("B482", "write", "1011 0100 1xxx xx10", 4),
            _bit(0, BitSense.follows("S1"), BitUse(None, True, ("long form", "short form")), Standing.AGREED, "fits"),
            _bit(3, BitSense.unconnected(), BitUse(), Standing.AGREED, "the bit carries nothing and no path uses it"),
            _bit(5, BitSense.tied(1), BitUse(), Standing.AGREED, "the bit is tied"),
            _bit(6, BitSense.unknown("U9 is not known"), BitUse(), Standing.SINGLE, "the board cannot tell yet"),
            _bit(7, BitSense.follows("BUSY", inverted=True), BitUse(0), Standing.AGREED, "the loop waits for BUSY"),
            _single(
                Subject(SubjectKind.SIGNAL, ("BUSY",)),
                ActiveLevel(1),
                Witness.DOCUMENTS,
                Origin.at_line(GUIDE, 1, "page 40"),
                Strength.STATED,
            ),
            _single(
                Subject(SubjectKind.ORDER, ("handshake order",)),
                EventOrder.of(
                    [(HandshakeEvent.DATA_SET, HandshakeEvent.STROBE_BEGINS)],
                    [(HandshakeEvent.STROBE_ENDS, HandshakeEvent.BUSY_BEGINS)],
                    [OrderCount(HandshakeEvent.STROBE_ENDS, HandshakeEvent.BUSY_BEGINS, 19, 3)],
                ),
                Witness.WIRE,
                Origin(LOG),
                Strength.MEASURED,
            ),
            _single(
                Subject(SubjectKind.PIN, ("J2", "11")),
                Words("BUSY, out"),
                Witness.DOCUMENTS,
                Origin.on_page(LABEL, "page 41"),
                Strength.STATED,
            ),
            _single(
                Subject(SubjectKind.STRAP, ("S1",)),
                BitLevel(0, "with the strap joined, as stated"),
                Witness.BOARD,
                Origin.at_line(NETS, 3),
                Strength.MEASURED,
            ),
            _sequence_row(),
            _timing_row(),
            _command_row(),
            Row(
                Subject(SubjectKind.EMISSION, ("dot drawing",)),
                (
                    _say(
                        Subject(SubjectKind.EMISSION, ("dot drawing",)),
                        never,
                        Witness.PROGRAM,
                        Origin.at_address(ROM, 0xF000),
                        "no walk of the tree writes the code",
                    ),
                    _say(
                        Subject(SubjectKind.EMISSION, ("dot drawing",)),
                        Emission(True),
                        Witness.DOCUMENTS,
                        Origin.at_line(LABEL, 1, "museum label"),
                        "read from the label",
                        Strength.GUESSED,
                    ),
                ),
                Standing.CONTRADICTED,
                "one says that it is sent, the other that it never is",
                (Repair((1,), "the label speaks of another program or another card", (LABEL_ROW,)),),
            ),
            Row(Subject(SubjectKind.NOTE, ("paper",)), (), Standing.SILENT, "nobody speaks about it"),
        ),
        tuple(Witness),
        ("B481 bit 6: U9 is not known, so what drives it was not followed",),
    )


def lay_study(folder: Path) -> Path:
    """Write the study's files into `folder`, so that origins can be opened; the folder."""
    for name, text in FILES.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
    (folder / ROM).parent.mkdir(parents=True, exist_ok=True)
    (folder / ROM).write_bytes(ROM_BYTES)
    return folder
