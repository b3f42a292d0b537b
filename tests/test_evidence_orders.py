"""Weighing orders of events: the same, one that tells more, a pair that cannot be, and what a repair would mean."""

from __future__ import annotations

from latchlore.base import (
    HANDSHAKE_ORDER,
    EventOrder,
    EventPair,
    HandshakeEvent,
    OrderCount,
    Origin,
    Statement,
    StatementKind,
    Strength,
    Subject,
    SubjectKind,
    Testimony,
    Witness,
)
from latchlore.device import read_device
from latchlore.device import testify as documents_say
from latchlore.evidence import Row, Standing, weigh

DATA, BEGIN, END = HandshakeEvent.DATA_SET, HandshakeEvent.STROBE_BEGINS, HandshakeEvent.STROBE_ENDS
BUSY_ON, BUSY_OFF = HandshakeEvent.BUSY_BEGINS, HandshakeEvent.BUSY_ENDS
ACK_OFF = HandshakeEvent.ACKNOWLEDGE_ENDS
FILES = {
    Witness.PROGRAM: Origin.at_address("program/rom.bin", 0x0303),
    Witness.WIRE: Origin("wire/plug.vcd"),
    Witness.DOCUMENTS: Origin.at_line("documents/guide.toml", 9, "page 4"),
}


def say(witness: Witness, order: EventOrder, origin: Origin | None = None) -> Testimony:
    """One testimony about the handshake's order."""
    place = origin or FILES[witness]
    falls: tuple[tuple[Statement, ...], ...] = ()
    if witness is Witness.PROGRAM:
        about = "the instruction at 0303"
        falls = ((Statement(place.file, "at 0303", StatementKind.INSTRUCTION, about, place),),)
    strength = Strength.STATED if witness is Witness.DOCUMENTS else Strength.COMPUTED
    subject = Subject(SubjectKind.ORDER, (HANDSHAKE_ORDER,))
    return Testimony(subject, order, witness, (place,), "set down for the test", strength, "", falls)


def row_of(*said: Testimony) -> Row:
    """The only row of the weighed testimonies."""
    [row] = weigh(said, title="t", invented=True).rows
    return row


def order(*pairs: EventPair, either: tuple[EventPair, ...] = (), counts: tuple[OrderCount, ...] = ()) -> EventOrder:
    """An order by its pairs."""
    return EventOrder.of(pairs, either, counts)


def test_same() -> None:
    """The same pairs from two witnesses agree."""
    one = order((DATA, BEGIN), (BEGIN, END))
    row = row_of(say(Witness.PROGRAM, one), say(Witness.WIRE, one))
    assert row.standing is Standing.AGREED
    assert row.reason == "the same order: data set, then strobe begins"


def test_compatible() -> None:
    """One that tells more agrees in what both tell."""
    row = row_of(
        say(Witness.PROGRAM, order((DATA, BEGIN), (BEGIN, END))),
        say(Witness.WIRE, order((DATA, BEGIN), (BEGIN, END), (END, BUSY_ON), (BUSY_ON, BUSY_OFF))),
    )
    assert row.standing is Standing.AGREED
    assert row.reason == "the orders fit, and one tells more; both say: data set, then strobe begins"


def test_by_meaning_only() -> None:
    """That a strobe begins before it ends confirms nobody."""
    row = row_of(say(Witness.PROGRAM, order((BEGIN, END))), say(Witness.WIRE, order((BEGIN, END), (END, BUSY_ON))))
    assert row.standing is Standing.SINGLE
    assert row.reason == "they speak of other events, or of none in an order: nothing is compared"


def test_same_wrong() -> None:
    """Two orders of one pair contradict each other; every repair says what it would mean."""
    row = row_of(
        say(Witness.PROGRAM, order((DATA, BEGIN), (BEGIN, END))), say(Witness.WIRE, order((BEGIN, DATA), (DATA, END)))
    )
    assert row.standing is Standing.CONTRADICTED
    assert row.reason == (
        "the program puts 'data set' before 'strobe begins', the wire 'strobe begins' before 'data set': "
        "these cannot both be"
    )
    assert [repair.words for repair in row.repairs] == [
        "the instruction at 0303 is misread, or the bit that it moves is not the strobe's: "
        "'strobe begins' comes before 'data set'",
        "two channels of the capture are exchanged, or a level was read the wrong way round (strobe begins, data set)",
    ]


def test_around_wrong() -> None:
    """Orders may share no pair and still go all around."""
    row = row_of(
        say(Witness.WIRE, order((END, BUSY_ON), (BUSY_OFF, ACK_OFF))),
        say(Witness.DOCUMENTS, order((BUSY_ON, BUSY_OFF), (ACK_OFF, END))),
    )
    assert row.standing is Standing.CONTRADICTED
    assert row.reason == (
        "the wire puts 'strobe ends' before 'busy begins', 'busy ends' before 'acknowledge ends', "
        "the document 'busy begins' before 'busy ends', 'acknowledge ends' before 'strobe ends': these cannot both be"
    )


def counted(kept: int, against: int) -> EventOrder:
    """A measured pair that came both ways, beside one that always holds."""
    pair = (ACK_OFF, BUSY_OFF)
    return order((DATA, BEGIN), either=(pair,), counts=(OrderCount(*pair, kept, against),))


def test_exceptions() -> None:
    """Exceptions of one byte in a hundred are told and contradict nobody."""
    row = row_of(say(Witness.WIRE, counted(990, 10)), say(Witness.DOCUMENTS, order((ACK_OFF, BUSY_OFF))))
    assert row.standing is Standing.AGREED
    assert row.reason == (
        "the orders fit, and one tells more; both say: acknowledge ends, then busy ends; the document puts "
        "'acknowledge ends' before 'busy ends'; on the wire it is the other way in 10 of the 1,000 bytes that tell"
    )


def test_exceptions_wrong() -> None:
    """More than that contradicts, and so does the other order however rare the exceptions."""
    row = row_of(say(Witness.WIRE, counted(989, 11)), say(Witness.DOCUMENTS, order((ACK_OFF, BUSY_OFF))))
    assert row.standing is Standing.CONTRADICTED
    assert row.reason == (
        "the document puts 'acknowledge ends' before 'busy ends'; on the wire it is the other way in 11 of the 1,000 "
        "bytes that tell"
    )
    row = row_of(say(Witness.WIRE, counted(999, 1)), say(Witness.DOCUMENTS, order((BUSY_OFF, ACK_OFF))))
    assert row.standing is Standing.CONTRADICTED


GUIDE = """title = "GQ-3500, appendix F"
device = "GQ-3500"
kind = "manual"
[[order]]
first_to_last = [["data set", "strobe begins"]]
either = [["acknowledge ends", "busy ends"]]
page = "F-4"
"""


def test_published() -> None:
    """Epson GQ-3500, page F-4: data stable 0.5 us before the strobe; switches 4-1 and 4-2 set how ACK and BUSY follow.

    Either wire fits such a document, and one whose data come after the strobe does not.
    """
    [stated] = documents_say([read_device(GUIDE.encode(), "documents/gq.toml")])
    for pair in ((ACK_OFF, BUSY_OFF), (BUSY_OFF, ACK_OFF)):
        row = row_of(stated, say(Witness.WIRE, order((DATA, BEGIN), pair)))
        assert row.standing is Standing.AGREED
        assert row.reason == "the orders fit, and one tells more; both say: data set, then strobe begins"
    row = row_of(stated, say(Witness.WIRE, order((BEGIN, DATA))))
    assert row.standing is Standing.CONTRADICTED
    assert [repair.words for repair in row.repairs] == [
        "the document has 'data set' and 'strobe begins' the wrong way round, or speaks of another variant",
        "two channels of the capture are exchanged, or a level was read the wrong way round (strobe begins, data set)",
    ]


def test_two_documents() -> None:
    """Two documents may speak of two devices: other orders are said and do not contradict."""
    row = row_of(
        say(Witness.DOCUMENTS, order((ACK_OFF, BUSY_OFF))),
        say(Witness.DOCUMENTS, order((BUSY_OFF, ACK_OFF)), Origin.at_line("documents/other.toml", 9)),
    )
    assert row.standing is Standing.SINGLE
    assert row.reason == (
        "the document puts 'acknowledge ends' before 'busy ends', the document 'busy ends' before 'acknowledge ends': "
        "these cannot both be"
    )
