"""The pictures: what is drawn is what the table says, well formed, the same every time."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.base import (
    AddressSet,
    ByteSequence,
    ByteTable,
    ByteTree,
    CycleRange,
    InputKind,
    Leaf,
    LeafKind,
    Link,
    Node,
    Origin,
    Read,
    SequenceByte,
    Span,
    SpanLimit,
    Strength,
    Subject,
    SubjectKind,
    Testimony,
    Wait,
    Witness,
    Words,
    Write,
)
from latchlore.dossier._handshake import draw_handshake, shape_of
from latchlore.dossier._registers import BINS, _close_views, _share, _wide_views, draw_registers, draw_ribbons
from latchlore.dossier._sequence import draw_sequence, missing_everywhere
from latchlore.dossier._timing import draw_timing
from latchlore.evidence import Row, Standing, Table
from latchlore.program import pick_handshake
from tests.marram import handshake_tree, marram_table

if TYPE_CHECKING:
    from collections.abc import Iterator

EMPTY = Table("", False, (), ())


def _link(subject: Subject) -> str:
    return "#x"


def _texts(picture: str) -> list[str]:
    """Every word that a well-formed picture shows, in order."""
    return [element.text or "" for element in ET.fromstring(picture).iter("text")]


def _boxes(picture: str, classes: str) -> Iterator[tuple[float, float]]:
    """(x, width) of every box of a class."""
    for element in ET.fromstring(picture).iter("rect"):
        if element.get("class") == classes:
            yield float(element.get("x", "nan")), float(element.get("width", "nan"))


def test_draw_registers() -> None:
    """Each register and what each of its bits is stand in the picture, bit 7 on the left."""
    words = _texts(draw_registers(marram_table(), _link))
    assert words[:8] == ["7", "6", "5", "4", "3", "2", "1", "0"]
    assert [word for word in words if word in {"B480", "B481", "B482"}] == ["B480", "B481", "B482"]
    assert words.index("NOT BUSY") < words.index("always 1") < words.index("S1")
    assert "waits for 0" in words
    assert "chooses" in words


def test_draw_registers_empty() -> None:
    """Without registers and bits there is no picture."""
    assert draw_registers(EMPTY, _link) == ""
    assert draw_ribbons(EMPTY, _link) == ()


def test_draw_ribbons() -> None:
    """In the view of sixteen addresses, B480 of `1011 0100 1xxx xx00` is reached at 0, 4, 8 and C, and only there."""
    (picture,) = draw_ribbons(marram_table(), _link)
    words = _texts(picture)
    assert "B480 to B48F: 16 addresses" in words
    assert "0000 to FFFF: 65,536 addresses" in words
    unit = (960 - 128) / 16
    wide = [round((x - 128) / unit) for x, width in _boxes(picture, "reach write") if width > unit - 2]
    assert wide == [0, 4, 8, 12, 2, 6, 10, 14]  # B480, then B482 of `xx10`


@given(
    st.lists(st.tuples(st.integers(0, 0xFFF), st.integers(0, 0xFFF)), min_size=1, max_size=4),
    st.integers(0, 11),
    st.integers(0, 0xFFF),
)
def test_share(cubes: list[tuple[int, int]], log_size: int, place: int) -> None:
    """The share of a block is the number of its addresses in the set, counted one by one."""
    reached = AddressSet.of_cubes(cubes, 12)
    size = 1 << log_size
    first = place & -size
    assert _share(reached, first, size) == sum(address in reached for address in range(first, first + size))


@given(st.lists(st.integers(0, 0xFFFF), min_size=1, max_size=6))
def test_views(addresses: list[int]) -> None:
    """Views are aligned blocks; the narrower wide one holds every address, and each is in one close one."""
    wide = _wide_views(16, [AddressSet.of([address]) for address in addresses])
    close = _close_views(16, addresses)
    assert wide[0] == (0, 0x10000)
    for first, size in (*wide, *close):
        assert size >= 16
        assert size & (size - 1) == 0
        assert first % size == 0
        assert first + size <= 0x10000
    assert all(wide[-1][0] <= address < sum(wide[-1]) for address in addresses)
    assert all(sum(first <= address < first + size for first, size in close) == 1 for address in addresses)
    assert BINS & (BINS - 1) == 0


def test_views_of_a_port_space() -> None:
    """A space of eight lines, ports 84h and 85h: the whole of it, and the block of sixteen around them."""
    ports = AddressSet.of([0x84, 0x85], 8)
    assert _wide_views(8, [ports]) == [(0, 0x100), (0x80, 16)]
    assert _close_views(8, [ports.lowest]) == [(0x80, 16)]


def test_draw_sequence() -> None:
    """Sure bytes show their value, a doubtful one its confidence and rivals, and a gap how likely it is."""
    sequence = ByteSequence(
        (SequenceByte(0x1B, 0.9999), SequenceByte(0x12, 0.87, ((0x10, 0.08), (0x02, 0.04)), 0.06)), 0.8, 5
    )
    words = _texts(draw_sequence("x", sequence))
    assert words == ["1", "1B", "12", "87%", "or 10 02", "gap? 6%"]


def test_draw_sequence_long() -> None:
    """Every byte of a long sequence is drawn, sixteen a line, each line with the number of its first."""
    words = _texts(draw_sequence("x", ByteSequence.certain(bytes(range(100)))))
    assert [word for word in words if len(word) == 2 and word == word.upper()][:3] == ["00", "01", "02"]
    assert sum(word == f"{value:02X}" for value in range(100) for word in words) >= 100
    assert {"1", "17", "33", "49", "65", "81", "97"} <= set(words)


def test_draw_sequence_doubtful_everywhere() -> None:
    """Where a byte may be missing at most places, no wedge is drawn at any; the figure for all is the highest."""
    items = tuple(SequenceByte(value, 1.0, (), 0.1) for value in range(5))
    sequence = ByteSequence(items, 0.3, 1, 0.12)
    assert missing_everywhere(sequence) == 0.12
    assert not any("gap" in word for word in _texts(draw_sequence("x", sequence)))
    assert missing_everywhere(ByteSequence.certain(bytes(5))) is None


def test_draw_sequence_empty() -> None:
    """A sequence without bytes still tells how likely one is missing."""
    assert _texts(draw_sequence("x", ByteSequence((), 1.0, 3, 0.4))) == ["gap? 40%"]


def test_pick_handshake() -> None:
    """The stretch begins at a wait and ends before the next: one byte with its strobe."""
    events = pick_handshake(handshake_tree())
    assert [str(event) for event in events] == [
        "wait until B481 bit 7 = 0",
        "write 1B to B480",
        "write 00 to B482",
        "write 01 to B482",
    ]


def test_pick_handshake_across_links() -> None:
    """A wait in a node of its own goes on in the node that it leads to; a loop of links comes to an end."""
    tree = handshake_tree()
    byte = tree.nodes[3].events
    split = ByteTree((Node(byte[:1], Link(1)), Node(byte[1:2], Link(2)), Node(byte[2:], Link(1))), tree.entry, (), ())
    assert pick_handshake(split) == byte


def test_pick_handshake_wrong() -> None:
    """A tree that waits and never writes, or writes without waiting, has no handshake to draw."""
    read = Read(InputKind.MEMORY, 0xB481, 0, CycleRange.exactly(3))
    wait = next(event for event in handshake_tree().iter_events() if isinstance(event, Wait))
    leaf = Leaf(LeafKind.RETURNED, "", 0)
    assert pick_handshake(ByteTree((Node((wait, read), leaf),), 0)) == ()
    writes = handshake_tree().nodes[3].events[1:]
    assert pick_handshake(ByteTree((Node(writes, leaf),), 0)) == ()


def test_shape_of() -> None:
    """Handshakes that differ in the data alone have one shape; another strobe or other cycles make another."""
    tree = handshake_tree()
    one, two = tree.nodes[1].events[:4], tree.nodes[1].events[4:]
    assert one != two
    assert shape_of(one) == shape_of(two)
    assert shape_of(one) != shape_of(one[:3])
    strobe = one[3]
    assert isinstance(strobe, Write)
    assert shape_of(one) != shape_of((*one[:3], replace(strobe, cycles=CycleRange.exactly(7))))
    assert shape_of(one) != shape_of((*one[:3], replace(strobe, value=ByteTable.constant(0x03))))


def test_draw_handshake() -> None:
    """Every event and the cycles between are named; the strobe's bit, which changes, has a lane of its own."""
    words = _texts(draw_handshake(pick_handshake(handshake_tree())))
    assert [word for word in words if word.endswith("cyc.")] == ["9 cyc.", "6 cyc.", "6 cyc."]
    assert "B480 ← 1B" in words
    assert "B482 bit 0" in words
    assert "B480" in words


def test_draw_timing() -> None:
    """A time within a limit is drawn within its ends: 6 us between 0.5 and 20 us, on one scale."""
    row = next(row for row in marram_table().rows if row.subject.kind is SubjectKind.TIMING)
    picture = draw_timing(row)
    ((time, _),) = _boxes(picture, "time")
    (first, first_width), _ = _boxes(picture, "limit")
    assert first < time < first + first_width
    scale = first_width / float(Fraction("19.5"))
    assert time - first == pytest.approx(scale * 5.4994, abs=0.2)
    assert "no end" in _texts(picture)


def test_draw_timing_wrong() -> None:
    """A subject without times has no picture; a limit of zero is no reason to fall over."""
    subject = Subject(SubjectKind.TIMING, ("pause",))

    def row(value: Words | SpanLimit) -> Row:
        said = Testimony(subject, value, Witness.DOCUMENTS, (Origin("a"),), "read", Strength.STATED)
        return Row(subject, (said,), Standing.SINGLE, "one")

    assert draw_timing(row(Words("short"))) == ""
    assert "0" in _texts(draw_timing(row(SpanLimit(Span(0), Span(0)))))
