"""Orders of events: what follows from pairs, circles, and words."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.base import EventOrder, HandshakeEvent, OrderCount, find_circle

DATA, BEGIN, END = HandshakeEvent.DATA_SET, HandshakeEvent.STROBE_BEGINS, HandshakeEvent.STROBE_ENDS
BUSY, ACK = HandshakeEvent.BUSY_ENDS, HandshakeEvent.ACKNOWLEDGE_ENDS
EVENTS = tuple(HandshakeEvent)


def test_order() -> None:
    """All that follows stands in the order, and the words say no more than is needed."""
    order = EventOrder.of([(BEGIN, END), (DATA, BEGIN), (BEGIN, BUSY)], [(ACK, BUSY)])
    assert order.before == ((DATA, BEGIN), (DATA, END), (DATA, BUSY), (BEGIN, END), (BEGIN, BUSY))
    assert order.told() == {(DATA, BEGIN), (DATA, BUSY), (BEGIN, BUSY)}
    assert str(order) == (
        "data set, then strobe begins, then strobe ends; strobe begins, then busy ends; "
        "acknowledge ends and busy ends either way"
    )


def test_order_counted() -> None:
    """A measured pair says how often it came the other way."""
    order = EventOrder.of([], [(BUSY, ACK)], [OrderCount(ACK, BUSY, 7, 3)])
    assert str(order) == "acknowledge ends and busy ends either way (the second first in 3 of 10 bytes)"
    assert order.counts[0].share_against((BUSY, ACK)) == (7, 10)


def test_order_wrong() -> None:
    """No circle, no pair both ordered and loose, no event before itself."""
    with pytest.raises(
        ValueError,
        match=r"^these cannot each come before the next, all around: data set, strobe begins, strobe ends$",
    ):
        EventOrder.of([(DATA, BEGIN), (BEGIN, END), (END, DATA)])
    with pytest.raises(ValueError, match=r"^'data set' and 'strobe ends' have an order and cannot come either way$"):
        EventOrder.of([(DATA, BEGIN), (BEGIN, END)], [(END, DATA)])
    with pytest.raises(ValueError, match=r"^'data set' cannot come before itself$"):
        EventOrder.of([], [(DATA, DATA)])


@given(st.lists(st.tuples(st.sampled_from(EVENTS[:5]), st.sampled_from(EVENTS[:5])), max_size=7))
def test_find_circle(pairs: list[tuple[HandshakeEvent, HandshakeEvent]]) -> None:
    """There is a circle exactly where no sequence of the events keeps every pair (tried one by one)."""
    circle = find_circle(pairs)
    fits = any(all(line.index(a) < line.index(b) for a, b in pairs) for line in permutations(EVENTS[:5]))
    assert bool(circle) is not fits
    if circle:
        assert set(zip(circle, (*circle[1:], circle[0]), strict=True)) <= set(pairs)
