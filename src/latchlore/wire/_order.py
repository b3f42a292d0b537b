"""In which order the lines of a parallel handshake moved, counted over all bytes of a capture."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import BY_MEANING, EventOrder, HandshakeEvent, OrderCount
from latchlore.wire import _edgekernel as kernel
from latchlore.wire._handshake import Seen
from latchlore.wire._lines import clean_line, data_names

if TYPE_CHECKING:
    from collections.abc import Mapping

    from latchlore.base import EventPair
    from latchlore.wire._capture import Capture, Times
    from latchlore.wire._handshake import ParallelReading
    from latchlore.wire._lines import Concluded, ParallelLines

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
    seen, are left out.
    """
    if reading.strobe_active.value is None:
        return None
    apart = max(1, 0 if capture.step is None else capture.step.picoseconds)
    moments = _moments(capture, lines, reading)
    counts: dict[EventPair, tuple[int, int]] = {}
    for first, second in combinations([event for event in HandshakeEvent if event in moments], 2):
        if not _is_told(first, second, moments):
            continue
        known = (moments[first] != UNKNOWN) & (moments[second] != UNKNOWN)
        between = moments[second][known] - moments[first][known]
        kept, against = int((between >= apart).sum()), int((between <= -apart).sum())
        if kept or against:
            counts[first, second] = (kept, against)
    return _order(counts) if counts else None


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


def _moments(capture: Capture, lines: ParallelLines, reading: ParallelReading) -> Moments:
    """Event → its time at each strobe, picoseconds; `UNKNOWN` where a byte does not tell it."""
    real = np.asarray(reading.seen)[np.asarray(reading.seen) != Seen.COUNTED] == Seen.STROBE
    leads, trails = reading.leads[real], reading.trails[real]
    found = {HandshakeEvent.STROBE_BEGINS: leads, HandshakeEvent.STROBE_ENDS: trails}
    found[HandshakeEvent.DATA_SET] = _data_set(capture, lines, trails)
    for line, active, (begins, ends) in (
        (lines.busy, reading.busy_active, _ANSWERS[:2]),
        (lines.ack, reading.ack_active, _ANSWERS[2:]),
    ):
        pulses = _pulses(capture, line, active, leads)
        if pulses is not None:
            found[begins], found[ends] = pulses
    return found


def _data_set(capture: Capture, lines: ParallelLines, trails: Times) -> Times:
    """The last change of the data between the strobe before and the end of this one."""
    latest = np.full(len(trails), UNKNOWN, np.int64)
    for name in data_names(capture, lines):
        if name is not None:
            kernel.last_change(clean_line(capture, name)[0], trails, latest)
    before = np.concatenate([[UNKNOWN], trails[:-1]])
    latest[latest <= before] = UNKNOWN
    return latest


def _pulses(capture: Capture, line: str | None, active: Concluded | None, leads: Times) -> tuple[Times, Times] | None:
    """Begin and end of the only pulse that begins between each strobe and the next."""
    if line is None or active is None or active.value is None:
        return None
    on, off = kernel.find_pulses(*clean_line(capture, line), active.value)
    first = np.searchsorted(on, leads)
    is_only = np.searchsorted(on, np.concatenate([leads[1:], [np.iinfo(np.int64).max]])) - first == 1
    at = np.minimum(first, max(0, len(on) - 1))
    if not len(on):
        return None
    return np.where(is_only, on[at], UNKNOWN), np.where(is_only, off[at], UNKNOWN)


def _is_told(first: HandshakeEvent, second: HandshakeEvent, moments: Moments) -> bool:
    """Whether the order of two events is something seen, and not how pulses were assigned to bytes."""
    if second not in _ANSWERS or first in _ANSWERS:
        return True
    begins = _ANSWERS[0] if second in _ANSWERS[:2] else _ANSWERS[2]
    leads, on = moments[HandshakeEvent.STROBE_BEGINS], moments[begins]
    known = on[:-1] != UNKNOWN
    seen = moments[second] != UNKNOWN
    if first is HandshakeEvent.STROBE_ENDS and bool((moments[second] < moments[first])[seen].all()):
        return bool(seen.any())  # it always lies within a strobe: no question whose it is
    if not known.any():
        return False
    return int((on - leads)[:-1][known].max()) * NEAR <= int((leads[1:] - on[:-1])[known].min())
