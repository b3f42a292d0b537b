"""How two orders of one handshake's events stand to each other: the same, compatible, or with a pair that cannot be."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import EventOrder, Witness, find_circle
from latchlore.evidence import orderwording as wording
from latchlore.evidence.facts import RARE_OF

if TYPE_CHECKING:
    from latchlore.base import EventPair, HandshakeEvent, OrderCount, Testimony


def differences(first: Testimony, second: Testimony) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What cannot be true together, and what is only noted: exceptions that are rare, and ways that are only open.

    Two documents may speak of two devices and two captures of two settings: they are noted and never contradict.
    """
    one, other = _order(first), _order(second)
    clashes: list[str] = []
    notes: list[str] = []
    circle = find_circle((*one.before, *other.before))
    if circle:
        clashes.append(_circle(first, second, circle))
    for orderly, loose in ((first, second), (second, first)):
        for pair in _order(orderly).before:
            if not ({pair, pair[::-1]} & set(_order(loose).either)):
                continue
            count = _count(_order(loose), pair)
            if count is None:
                if loose.witness is not Witness.DOCUMENTS:
                    notes.append(wording.open_ways(orderly.witness, loose.witness, pair))
                continue
            against, total = count.share_against(pair)
            words = wording.not_always_kept(orderly.witness, pair, against, total)
            (clashes if _is_broken(_order(loose), pair) else notes).append(words)
    if first.witness is second.witness:
        return (), (*clashes, *notes)
    return tuple(clashes), tuple(notes)


def shared(first: EventOrder, second: EventOrder) -> frozenset[EventPair]:
    """The pairs that both tell, rare exceptions let pass; none that holds by what the words mean."""
    return frozenset((first.told() | _nearly(first)) & (second.told() | _nearly(second)))


def clashing_pair(first: EventOrder, second: EventOrder) -> EventPair | None:
    """A pair of events as the first has it, which the second has, or mostly saw, the other way round; None: a circle.

    The pair as the first orders it; where only the second has an order, the other way round.
    """
    for pair in first.before:
        if pair[::-1] in second.before or _is_broken(second, pair):
            return pair
    return next((pair[::-1] for pair in second.before if _is_broken(first, pair)), None)


def _is_broken(loose: EventOrder, pair: EventPair) -> bool:
    """Whether a pair was seen the other way round in more than rare bytes."""
    count = _count(loose, pair)
    if count is None:
        return False
    against, total = count.share_against(pair)
    return against * RARE_OF > total


def _nearly(order: EventOrder) -> set[EventPair]:
    """Pairs that were seen in one order but for rare exceptions."""
    found: set[EventPair] = set()
    for count in order.counts:
        for pair in ((count.first, count.second), (count.second, count.first)):
            against, total = count.share_against(pair)
            if against and against * RARE_OF <= total:
                found.add(pair)
    return found


def _count(order: EventOrder, pair: EventPair) -> OrderCount | None:
    return next((one for one in order.counts if {one.first, one.second} == set(pair)), None)


def _order(one: Testimony) -> EventOrder:
    assert isinstance(one.value, EventOrder)
    return one.value


def _circle(first: Testimony, second: Testimony, circle: tuple[HandshakeEvent, ...]) -> str:
    """Who says which step of a circle; one of two events is the plain contradiction."""
    steps = list(zip(circle, (*circle[1:], circle[0]), strict=True))
    mine = [pair for pair in steps if pair in _order(first).before]
    theirs = [pair for pair in steps if pair not in _order(first).before]
    return wording.cannot_both(first.witness, mine, second.witness, theirs)
