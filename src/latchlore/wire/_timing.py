"""Times between the edges of a parallel handshake, with what the sampling leaves open, against stated figures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import Origin, Span, SpanRange
from latchlore.wire import _edgekernel as kernel
from latchlore.wire import _timingwording as words
from latchlore.wire._lines import clean_line, data_names

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import numpy.typing as npt

    from latchlore.base import SpanLimit
    from latchlore.wire._capture import Capture, Times
    from latchlore.wire._handshake import ParallelReading
    from latchlore.wire._lines import ParallelLines

FIGURES = (
    *(
        "data set-up",
        "strobe width",
        "data hold",
        "pause",
        "byte period",
        "strobe to busy",
        "busy length",
        "busy end to strobe",
    ),
    *("strobe to acknowledge", "acknowledge width", "acknowledge end to busy end"),
)
"""Names of figures, in the order of a byte's life."""


@dataclass(frozen=True, slots=True)
class Violation:
    """A stated figure that was not kept: the figure, its limit, what was measured, where."""

    figure: str
    limit: SpanLimit
    measured: SpanRange
    origin: Origin

    def __str__(self) -> str:
        return words.VIOLATION.format(origin=self.origin, figure=self.figure, measured=self.measured, limit=self.limit)


@dataclass(frozen=True, slots=True, eq=False)
class Figure:
    """One figure at every strobe at which it can be measured.

    `moments` picoseconds: when the measured stretch began; `lengths` picoseconds: the stretch as recorded, which may
    be wrong by less than `slack` picoseconds either way (two edges, each late by less than a sampling period).
    """

    name: str
    file: str
    moments: Times
    lengths: Times
    slack: int

    @property
    def count(self) -> int:
        """How often it was measured."""
        return len(self.lengths)

    def at(self, index: int) -> SpanRange:
        """One measurement with its bounds."""
        length = int(self.lengths[index])
        return SpanRange(Span(length - self.slack), Span(length + self.slack))

    def percentile(self, percent: int) -> SpanRange:
        """The measurement that so many of a hundred do not exceed (nearest rank).  Refuses 0 and less, above 100."""
        if not 0 < percent <= 100:
            raise ValueError(words.PERCENT.format(percent=percent))
        rank = -(-self.count * percent // 100) - 1
        return self.at(int(np.argpartition(self.lengths, rank)[rank]))

    @property
    def least(self) -> SpanRange:
        """The shortest."""
        return self.at(int(self.lengths.argmin()))

    @property
    def most(self) -> SpanRange:
        """The longest."""
        return self.at(int(self.lengths.argmax()))

    def judge(self, limit: SpanLimit) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
        """Indices of the measurements that surely break the limit, and of those of which it cannot be told."""
        below = None if limit.least is None else limit.least.picoseconds
        above = None if limit.most is None else limit.most.picoseconds
        broken = np.zeros(self.count, bool)
        kept = np.ones(self.count, bool)
        if below is not None:
            broken |= self.lengths + self.slack < below
            kept &= self.lengths - self.slack >= below
        if above is not None:
            broken |= self.lengths - self.slack > above
            kept &= self.lengths + self.slack <= above
        return np.flatnonzero(broken), np.flatnonzero(~broken & ~kept)

    def violations(self, limit: SpanLimit) -> Iterator[Violation]:
        """Every measurement that surely breaks the limit, in time order."""
        for k in self.judge(limit)[0]:
            place = Origin.at_time(self.file, Span(int(self.moments[k])))
            yield Violation(self.name, limit, self.at(int(k)), place)


def measure_handshake(capture: Capture, lines: ParallelLines, reading: ParallelReading) -> Mapping[str, Figure]:
    """Every figure that the capture shows, by its name, in the order of `FIGURES`.

    Set-up ends at the latching edge and hold begins there; where the edge is not known, set-up ends at the leading
    and hold begins at the trailing edge, which makes both the shorter.
    """
    slack = 0 if capture.step is None else capture.step.picoseconds
    leads, trails = reading.leads, reading.trails
    first, last = (leads, trails) if reading.latch.value is None else ((leads, trails)[reading.latch.value],) * 2
    found: dict[str, tuple[Times, Times]] = {"strobe width": (leads, trails - leads)}
    found["pause"] = (trails[:-1], leads[1:] - trails[:-1])
    found["byte period"] = (leads[:-1], np.diff(leads))
    data = [clean_line(capture, name)[0] for name in data_names(capture, lines) if name is not None]
    found["data set-up"] = _since_change(data, first)
    found["data hold"] = _until_change(data, last)
    busy = _pulses(capture, lines.busy, reading.busy_active)
    ack = _pulses(capture, lines.ack, reading.ack_active)
    if busy is not None:
        found["strobe to busy"] = _from_to(leads, busy[0], leads[1:])
        found["busy length"] = (busy[0], busy[1] - busy[0])
        found["busy end to strobe"] = _from_to(busy[1], leads, busy[1][1:])
    if ack is not None:
        found["strobe to acknowledge"] = _from_to(leads, ack[0], leads[1:])
        found["acknowledge width"] = (ack[0], ack[1] - ack[0])
    if busy is not None and ack is not None:
        found["acknowledge end to busy end"] = _nearest(ack[1], busy[1], leads)
    return {
        name: Figure(name, capture.file, *found[name], slack)
        for name in FIGURES
        if name in found and len(found[name][0])
    }


def _pulses(capture: Capture, name: str | None, active: object) -> tuple[Times, Times] | None:
    level = getattr(active, "value", None)
    if name is None or level is None:
        return None
    on, off = kernel.find_pulses(*clean_line(capture, name), level)
    return on, off


def _since_change(data: list[Times], moments: Times) -> tuple[Times, Times]:
    latest = np.full(len(moments), np.iinfo(np.int64).min, np.int64)
    for times in data:
        kernel.last_change(times, moments, latest)
    known = latest > np.iinfo(np.int64).min
    return latest[known], moments[known] - latest[known]


def _until_change(data: list[Times], moments: Times) -> tuple[Times, Times]:
    soonest = np.full(len(moments), np.iinfo(np.int64).max, np.int64)
    for times in data:
        kernel.first_change(times, moments, soonest)
    known = soonest < np.iinfo(np.int64).max
    return moments[known], soonest[known] - moments[known]


def _from_to(starts: Times, ends: Times, limits: Times) -> tuple[Times, Times]:
    """From each start to the next end, where one comes before the next limit."""
    index = kernel.next_edge(ends, starts, False)
    limit = np.concatenate([limits, np.full(len(starts) - len(limits), np.iinfo(np.int64).max, np.int64)])
    known = index < len(ends)
    known[known] = ends[index[known]] < limit[known]
    return starts[known], ends[index[known]] - starts[known]


def _nearest(starts: Times, ends: Times, strobes: Times) -> tuple[Times, Times]:
    """From each start to the end that belongs to the same strobe; negative where it comes earlier."""
    mine, theirs = (np.searchsorted(strobes, times, "right") for times in (starts, ends))
    common, a, b = np.intersect1d(mine, theirs, return_indices=True)
    keep = common > 0
    return starts[a[keep]], ends[b[keep]] - starts[a[keep]]
