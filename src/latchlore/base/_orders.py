"""In which order the events of one byte's handshake come: what always comes first, and what may come either way."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

HANDSHAKE_ORDER = "handshake order"
"""What the orders of one byte's handshake are about."""


class HandshakeEvent(StrEnum):
    """Something that happens once for a byte; the order here only sorts, it claims nothing.

    A line *begins* when its name becomes true and *ends* when it is true no longer, whatever the level.  DATA_SET is
    the last change of the data before the strobe ends.  The host looks at a line when its program
    waits for it, or reads it and goes on by what it reads.
    """

    BUSY_LOOKED_AT = "busy looked at"
    DATA_SET = "data set"
    STROBE_BEGINS = "strobe begins"
    STROBE_ENDS = "strobe ends"
    BUSY_BEGINS = "busy begins"
    ACKNOWLEDGE_BEGINS = "acknowledge begins"
    ACKNOWLEDGE_ENDS = "acknowledge ends"
    BUSY_ENDS = "busy ends"
    ACKNOWLEDGE_LOOKED_AT = "acknowledge looked at"


EventPair = tuple[HandshakeEvent, HandshakeEvent]
"""The first comes before the second."""

BY_MEANING: tuple[EventPair, ...] = (
    (HandshakeEvent.STROBE_BEGINS, HandshakeEvent.STROBE_ENDS),
    (HandshakeEvent.DATA_SET, HandshakeEvent.STROBE_ENDS),
    (HandshakeEvent.BUSY_BEGINS, HandshakeEvent.BUSY_ENDS),
    (HandshakeEvent.ACKNOWLEDGE_BEGINS, HandshakeEvent.ACKNOWLEDGE_ENDS),
)
"""Pairs that hold by what the words mean: nobody who says them confirms anybody."""


@dataclass(frozen=True, slots=True)
class OrderCount:
    """How often `first` was seen first (`kept`) and how often `second` (`against`); what was unsure is in neither."""

    first: HandshakeEvent
    second: HandshakeEvent
    kept: int
    against: int

    def share_against(self, pair: EventPair) -> tuple[int, int]:
        """Of how many bytes how many are against a pair of these two events: (against, all)."""
        against = self.against if pair == (self.first, self.second) else self.kept
        return against, self.kept + self.against


@dataclass(frozen=True, slots=True)
class EventOrder:
    """A partial order of a handshake's events.

    `before`: pairs that come in this order for every byte, with all pairs that follow from them, sorted.  `either`:
    pairs that may come, or came, in both orders, each once.  `counts`: where it was measured, how often each pair was
    seen in which order.  Refuses a pair in both orders, of one event, or both in `before` and in `either`.
    """

    before: tuple[EventPair, ...]
    either: tuple[EventPair, ...] = ()
    counts: tuple[OrderCount, ...] = ()

    def __post_init__(self) -> None:
        known = set(self.before)
        for first, second in (*self.before, *self.either):
            if first == second:
                raise ValueError(f"{first.value!r} cannot come before itself")
        for first, second in self.before:
            if (second, first) in known:
                raise ValueError(f"{first.value!r} and {second.value!r} cannot each come before the other")
        for first, second in self.either:
            if (first, second) in known or (second, first) in known:
                raise ValueError(f"{first.value!r} and {second.value!r} have an order and cannot come either way")

    @classmethod
    def of(
        cls, before: Iterable[EventPair], either: Iterable[EventPair] = (), counts: Iterable[OrderCount] = ()
    ) -> EventOrder:
        """The order with all that follows.  Refuses (ValueError) what `EventOrder` refuses, and a circle."""
        pairs = tuple(before)
        circle = find_circle(pairs)
        if circle:
            names = ", ".join(event.value for event in circle)
            raise ValueError(f"these cannot each come before the next, all around: {names}")
        both = {(a, b) if _RANK[a] <= _RANK[b] else (b, a) for a, b in either}
        return cls(tuple(sorted(_closed(pairs), key=_pair_rank)), tuple(sorted(both, key=_pair_rank)), tuple(counts))

    def told(self) -> frozenset[EventPair]:
        """The pairs in order, without those that hold by what the words mean."""
        return frozenset(self.before) - frozenset(BY_MEANING)

    def chains(self) -> tuple[tuple[HandshakeEvent, ...], ...]:
        """The order as the fewest words say it: chains of events of which each comes before the next."""
        left = [pair for pair in self.before if not _between(pair, self.before)]
        found = []
        while left:
            start = next(pair for pair in left if not any(other[1] == pair[0] for other in left))
            left.remove(start)
            chain = list(start)
            while True:
                pair = next((one for one in left if one[0] == chain[-1]), None)
                if pair is None:
                    break
                left.remove(pair)
                chain.append(pair[1])
            found.append(tuple(chain))
        return tuple(found)

    def __str__(self) -> str:
        parts = [", then ".join(chain) for chain in self.chains()]
        for pair in self.either:
            shares = [one.share_against(pair) for one in self.counts if {one.first, one.second} == set(pair)]
            seen = "".join(f" (the second first in {against:,} of {total:,} bytes)" for against, total in shares)
            parts.append(f"{pair[0]} and {pair[1]} either way{seen}")
        return "; ".join(parts) or "no order is told"


_RANK = {event: rank for rank, event in enumerate(HandshakeEvent)}


def _pair_rank(pair: EventPair) -> tuple[int, int]:
    return (_RANK[pair[0]], _RANK[pair[1]])


def _closed(pairs: Iterable[EventPair]) -> set[EventPair]:
    closed = set(pairs)
    while True:
        more = {(a, d) for a, b in closed for c, d in closed if b == c} - closed
        if not more:
            return closed
        closed |= more


def _between(pair: EventPair, pairs: Sequence[EventPair]) -> bool:
    """Whether a pair follows from two others of a closed order."""
    return any(a == pair[0] and (b, pair[1]) in pairs for a, b in pairs)


def find_circle(pairs: Iterable[EventPair]) -> tuple[HandshakeEvent, ...]:
    """The fewest events of which each should come before the next and the last before the first; empty: there are none.

    Of several that are as short, the one that begins with the first event in the order of `HandshakeEvent`.
    """
    after: dict[HandshakeEvent, list[HandshakeEvent]] = {}
    for first, second in sorted(set(pairs), key=_pair_rank):
        after.setdefault(first, []).append(second)
    best: tuple[HandshakeEvent, ...] = ()
    for start in sorted(after, key=_RANK.__getitem__):
        ways: list[tuple[HandshakeEvent, ...]] = [(start,)]
        met: set[HandshakeEvent] = set()
        while ways:
            way = ways.pop(0)
            for event in after.get(way[-1], ()):
                if event == start:
                    if not best or len(way) < len(best):
                        best = way
                    ways = []
                    break
                if event not in met:
                    met.add(event)
                    ways.append((*way, event))
    return best
