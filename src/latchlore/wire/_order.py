"""In which order the lines of a parallel handshake moved, counted over all bytes of a capture."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass, field
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import BY_MEANING, EventOrder, HandshakeEvent, OrderCount
from latchlore.wire import _edgekernel as kernel
from latchlore.wire._handshake import Seen, is_long
from latchlore.wire._lines import channel_of, data_names
from latchlore.wire._longlines import WINDOW, clean_long, pulses_long
from latchlore.wire._spool import Spool

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from latchlore.base import EventPair
    from latchlore.wire._capture import Capture, Times
    from latchlore.wire._handshake import ParallelReading
    from latchlore.wire._lines import ParallelLines

    Moments = Mapping[HandshakeEvent, Times]

UNKNOWN = np.iinfo(np.int64).min
NEAR = 4
"""An answer belongs to the strobe before it where it comes this many times sooner than the strobe after it: the same
judgement as for an answering line that counts bytes."""

_ANSWERS = (
    HandshakeEvent.BUSY_BEGINS,
    HandshakeEvent.BUSY_ENDS,
    HandshakeEvent.ACKNOWLEDGE_BEGINS,
    HandshakeEvent.ACKNOWLEDGE_ENDS,
)


def count_order(capture: Capture, lines: ParallelLines, reading: ParallelReading) -> EventOrder | None:
    """The order of the lines' moves, a pair of events by all bytes that tell it; None where nothing tells one.

    A pair counts only where both events lie at least a sampling period apart, or at different times in an exact
    capture.  The data are set when they last change before the strobe ends; a byte like the one before tells nothing
    of them.  A busy or acknowledge pulse belongs to the strobe before it, and tells of a byte only where it is the
    only one up to the next strobe; that it follows the strobe at all is told only where it always comes at least
    `NEAR` times sooner than the next strobe does.  Strobes that look like ringing, and bytes whose strobe was not
    seen, are left out.  A capture that was long to read is counted window by window.
    """
    if reading.strobe_active.value is None:
        return None
    apart = max(1, 0 if capture.step is None else capture.step.picoseconds)
    tally = _Tally(apart)
    if not is_long(capture, lines):
        tally.add_all(_windows(capture, lines, reading, None))
    else:
        with closing(Spool(channel_of(capture, lines.strobe)[0].times)) as spool:
            tally.add_all(_windows(capture, lines, reading, spool))
    counts = {pair: both for pair, both in tally.counts.items() if any(both) and tally.is_told(*pair)}
    return _order(counts) if counts else None


@dataclass(slots=True)
class _Tally:
    """What is counted over the windows of a capture.

    `counts`: pair → how often the first event came first, and the second.  Of the pulses that begin with an event:
    `latest`, how long after the strobe at most; `soonest`, how long before the next strobe at least.  `seen` events,
    and those `outside` a strobe at least once.
    """

    apart: int
    counts: dict[EventPair, tuple[int, int]] = field(default_factory=dict)
    latest: dict[HandshakeEvent, int] = field(default_factory=dict)
    soonest: dict[HandshakeEvent, int] = field(default_factory=dict)
    seen: set[HandshakeEvent] = field(default_factory=set)
    outside: set[HandshakeEvent] = field(default_factory=set)

    def add_all(self, windows: Iterator[tuple[Moments, Times]]) -> None:
        """Count the moments of each window, with the strobes that follow those of the window."""
        for moments, following in windows:
            for first, second in combinations([event for event in HandshakeEvent if event in moments], 2):
                known = (moments[first] != UNKNOWN) & (moments[second] != UNKNOWN)
                between = moments[second][known] - moments[first][known]
                kept, against = self.counts.get((first, second), (0, 0))
                kept += int((between >= self.apart).sum())
                self.counts[first, second] = kept, against + int((between <= -self.apart).sum())
            for event in (event for event in _ANSWERS if event in moments):
                self._add_answers(event, moments, following)

    def _add_answers(self, event: HandshakeEvent, moments: Moments, following: Times) -> None:
        leads, when = moments[HandshakeEvent.STROBE_BEGINS], moments[event]
        known = when != UNKNOWN
        if known.any():
            self.seen.add(event)
        if (when >= moments[HandshakeEvent.STROBE_ENDS])[known].any():
            self.outside.add(event)
        known = known[: len(following)]
        if known.any():
            after = int((when - leads)[: len(following)][known].max())
            before = int((following - when[: len(following)])[known].min())
            self.latest[event] = max(after, self.latest.get(event, after))
            self.soonest[event] = min(before, self.soonest.get(event, before))

    def is_told(self, first: HandshakeEvent, second: HandshakeEvent) -> bool:
        """Whether the order of two events is something seen, and not how pulses were assigned to bytes."""
        if second not in _ANSWERS or first in _ANSWERS:
            return True
        begins = _ANSWERS[0] if second in _ANSWERS[:2] else _ANSWERS[2]
        if first is HandshakeEvent.STROBE_ENDS and second not in self.outside:
            return second in self.seen  # it always lies within a strobe: no question whose it is
        return begins in self.latest and self.latest[begins] * NEAR <= self.soonest[begins]


def _order(counts: Mapping[EventPair, tuple[int, int]]) -> EventOrder:
    before: list[EventPair] = [(a, b) for (a, b), (kept, against) in counts.items() if not against]
    before += [(b, a) for (a, b), (kept, against) in counts.items() if not kept]
    either = [pair for pair, (kept, against) in counts.items() if kept and against]
    told = [_count(pair, *both) for pair, both in counts.items() if pair not in BY_MEANING]
    try:
        return EventOrder.of(before, either, told)
    except ValueError:  # pairs that different bytes tell go all around together: no order holds for every byte
        return EventOrder.of((), (*before, *either), told)


def _count(pair: EventPair, kept: int, against: int) -> OrderCount:
    """The count with the event first that mostly comes first."""
    return OrderCount(*pair, kept, against) if kept >= against else OrderCount(*pair[::-1], against, kept)


def _windows(
    capture: Capture, lines: ParallelLines, reading: ParallelReading, spool: Spool | None
) -> Iterator[tuple[Moments, Times]]:
    """Event → its time at each strobe of a window, picoseconds, `UNKNOWN` where a byte does not tell it; and the leads
    of the strobes after each, of which the last of all has none.
    """
    leads, trails = _strobes(reading, spool)
    names = [name for name in data_names(capture, lines) if name is not None]
    data = [clean_long(capture, name, spool)[0] for name in names]
    answers: list[tuple[tuple[HandshakeEvent, HandshakeEvent], tuple[Times, Times]]] = []
    for line, active, events in (
        (lines.busy, reading.busy_active, _ANSWERS[:2]),
        (lines.ack, reading.ack_active, _ANSWERS[2:]),
    ):
        if line is not None and active is not None and active.value is not None:
            pulses = pulses_long(clean_long(capture, line, spool), active.value, line, spool)
            if len(pulses[0]):
                answers.append((events, pulses))
    size = max(1, len(leads)) if spool is None else WINDOW
    for begin in range(0, len(leads), size):
        end = min(len(leads), begin + size)
        following = leads[begin + 1 : end + 1]
        moments = {HandshakeEvent.STROBE_BEGINS: leads[begin:end], HandshakeEvent.STROBE_ENDS: trails[begin:end]}
        before = trails[begin - 1 : end - 1] if begin else np.concatenate([[UNKNOWN], trails[: end - 1]])
        moments[HandshakeEvent.DATA_SET] = _data_set(data, trails[begin:end], before)
        for both, (on, off) in answers:
            moments |= zip(both, _only_pulses(on, off, leads[begin:end], following), strict=True)
        yield moments, following


def _strobes(reading: ParallelReading, spool: Spool | None) -> tuple[Times, Times]:
    """Leads and trails of the strobes that do not look like ringing."""
    seen, leads, trails = reading.seen, reading.leads, reading.trails
    if spool is None:
        real = seen[seen != Seen.COUNTED] == Seen.STROBE
        return leads[real], trails[real]
    at = 0
    for begin in range(0, len(seen), WINDOW):
        part = seen[begin : begin + WINDOW]
        real = part[part != Seen.COUNTED] == Seen.STROBE
        for name, times in (("lead", leads), ("trail", trails)):
            spool.add(name, "<i8", times[at : at + len(real)][real])
        at += len(real)
    return spool.column("lead", "<i8"), spool.column("trail", "<i8")


def _data_set(data: list[Times], trails: Times, before: Times) -> Times:
    """The last change of the data between the end of the strobe before and the end of this one."""
    latest = np.full(len(trails), UNKNOWN, np.int64)
    for times in data:
        first, after = np.searchsorted(times, trails[[0, -1]], "right")
        kernel.last_change(times[max(0, first - 2) : after], trails, latest)  # two, for the first of all is no change
    latest[latest <= before] = UNKNOWN
    return latest


def _only_pulses(on: Times, off: Times, leads: Times, following: Times) -> tuple[Times, Times]:
    """Begin and end of the only pulse that begins between each strobe and the next."""
    first = np.searchsorted(on, leads)
    after = np.full(len(leads), len(on))
    after[: len(following)] = np.searchsorted(on, following)
    at = np.minimum(first, len(on) - 1)
    is_only = after - first == 1
    return np.where(is_only, on[at], UNKNOWN), np.where(is_only, off[at], UNKNOWN)
