"""Times between the edges of a parallel handshake, with what the sampling leaves open, against stated figures."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import Origin, Span, SpanRange
from latchlore.wire import _edgekernel as kernel
from latchlore.wire import _timingwording as words
from latchlore.wire._handshake import is_long
from latchlore.wire._lines import channel_of, data_names
from latchlore.wire._longlines import WINDOW, clean_long, pulses_long
from latchlore.wire._spool import Spool

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    import numpy.typing as npt

    from latchlore.base import SpanLimit
    from latchlore.wire._capture import Capture, Times
    from latchlore.wire._handshake import ParallelReading
    from latchlore.wire._lines import Concluded, ParallelLines

    Flags = npt.NDArray[np.bool_]

FAR = np.iinfo(np.int64).max
COUNTED_BITS = 16
"""A figure's lengths are counted in up to so many steps, as a power of two, at a time."""
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
        return self._range(int(self.lengths[index]))

    def _range(self, length: int) -> SpanRange:
        return SpanRange(Span(length - self.slack), Span(length + self.slack))

    def percentile(self, percent: int) -> SpanRange:
        """The measurement that so many of a hundred do not exceed (nearest rank).  Refuses 0 and less, above 100."""
        if not 0 < percent <= 100:
            raise ValueError(words.PERCENT.format(percent=percent))
        return self._range(_select(self.lengths, -(-self.count * percent // 100) - 1))

    @property
    def least(self) -> SpanRange:
        """The shortest."""
        return self._range(int(self.lengths.min()))

    @property
    def most(self) -> SpanRange:
        """The longest."""
        return self._range(int(self.lengths.max()))

    def find_length(self, length: int) -> int:
        """The index of the first measurement of this length, in picoseconds, which there must be."""
        for begin in range(0, self.count, WINDOW):
            found = np.flatnonzero(self.lengths[begin : begin + WINDOW] == length)
            if len(found):
                return begin + int(found[0])
        raise ValueError(words.NO_LENGTH.format(figure=self.name, length=Span(length)))

    def judge(self, limit: SpanLimit) -> tuple[int, int]:
        """How many measurements surely break the limit, and of how many it cannot be told."""
        num_broken = num_open = 0
        for _, broken, kept in self._judged(limit):
            num_broken += int(np.count_nonzero(broken))
            num_open += int(np.count_nonzero(~broken & ~kept))
        return num_broken, num_open

    def iter_broken(self, limit: SpanLimit) -> Iterator[int]:
        """Indices of the measurements that surely break the limit, in time order."""
        for begin, broken, _ in self._judged(limit):
            for k in np.flatnonzero(broken).tolist():
                yield begin + k

    def violations(self, limit: SpanLimit) -> Iterator[Violation]:
        """Every measurement that surely breaks the limit, in time order."""
        for k in self.iter_broken(limit):
            place = Origin.at_time(self.file, Span(int(self.moments[k])))
            yield Violation(self.name, limit, self.at(k), place)

    def _judged(self, limit: SpanLimit) -> Iterator[tuple[int, Flags, Flags]]:
        """Of each part: where it begins, and which of its measurements surely break and surely keep the limit."""
        below = None if limit.least is None else limit.least.picoseconds
        above = None if limit.most is None else limit.most.picoseconds
        for begin in range(0, self.count, WINDOW):
            lengths = self.lengths[begin : begin + WINDOW]
            broken = np.zeros(len(lengths), bool)
            kept = np.ones(len(lengths), bool)
            if below is not None:
                broken |= lengths + self.slack < below
                kept &= lengths - self.slack >= below
            if above is not None:
                broken |= lengths - self.slack > above
                kept &= lengths + self.slack <= above
            yield begin, broken, kept


def _select(lengths: Times, rank: int) -> int:
    """The value that stands at this place, from 0, of the lengths in order.  They are counted, not put in order."""
    low, high = int(lengths.min()), int(lengths.max())
    return select_counted(low, high, rank, lambda *steps: kernel.count_steps(lengths, *steps))


def select_counted(low: int, high: int, rank: int, count: Callable[[int, int, int, Times], None]) -> int:
    """The value that stands at this place, from 0, among those from `low` to `high`.

    `count` counts as `kernel.count_steps` does: least and greatest value that counts, shift of a step, counts.
    """
    while low < high:  # the value lies between them, at `rank` among those that do
        shift = max(0, (high - low).bit_length() - COUNTED_BITS)
        counts = np.zeros((high - low >> shift) + 1, np.int64)
        count(low, high, shift, counts)
        up_to = np.cumsum(counts)
        step = int(np.searchsorted(up_to, rank, "right"))
        rank -= int(up_to[step] - counts[step])
        low += step << shift
        high = min(high, low + (1 << shift) - 1)
    return low


def measure_handshake(capture: Capture, lines: ParallelLines, reading: ParallelReading) -> Mapping[str, Figure]:
    """Every figure that the capture shows, by its name, in the order of `FIGURES`.

    Set-up ends at the latching edge and hold begins there; where the edge is not known, set-up ends at the leading
    and hold begins at the trailing edge, which makes both the shorter.  Stretches that reach into one in which nothing
    was recorded are left out.  A capture that was long to read
    (`read_parallel`) is measured window by window, and the figures' columns lie in files that vanish with them.
    """
    if not is_long(capture, lines):
        return _Meter(capture, lines, reading, None).measure()
    with closing(Spool(channel_of(capture, lines.strobe)[0].times)) as spool:
        return _Meter(capture, lines, reading, spool).measure()


class _Meter:
    """Measures the figures of one capture: at once, or with a spool in windows of `WINDOW` strobes or pulses.

    Each `_from` takes the part of its columns that a window needs, with the edges just before and after it.
    """

    def __init__(self, capture: Capture, lines: ParallelLines, reading: ParallelReading, spool: Spool | None) -> None:
        self.capture, self.lines, self.reading, self.spool = capture, lines, reading, spool
        self.found: dict[str, tuple[Times, Times]] = {}

    def measure(self) -> Mapping[str, Figure]:
        """The figures."""
        slack = 0 if self.capture.step is None else self.capture.step.picoseconds
        self._measure_strobes()
        self._measure_data()
        self._measure_answers()
        if self.capture.gaps:
            self.found = {name: self._recorded(name, *columns) for name, columns in self.found.items()}
        return {
            name: Figure(name, self.capture.file, *self.found[name], slack)
            for name in FIGURES
            if name in self.found and len(self.found[name][0])
        }

    def _recorded(self, name: str, moments: Times, lengths: Times) -> tuple[Times, Times]:
        """A figure without the stretches of which a part was not recorded."""
        gaps = self.capture.gaps
        begins = np.array([gap.since.picoseconds for gap in gaps], np.int64)
        ends = np.array([FAR if gap.until is None else gap.until.picoseconds for gap in gaps], np.int64)
        parts: list[tuple[Times, Times]] = []
        for begin in range(0, len(moments), WINDOW):
            since, length = moments[begin : begin + WINDOW], lengths[begin : begin + WINDOW]
            until = since + length
            first = np.searchsorted(ends, np.minimum(since, until), "left")  # the first gap that may reach into it
            clear = np.append(begins, FAR)[first] > np.maximum(since, until)
            parts.append((since[clear], length[clear]))
            if self.spool is not None:
                for kind, column in zip(("moment", "length"), parts.pop(), strict=True):
                    self.spool.add(f"{name} recorded {kind}", "<i8", column)
        if self.spool is not None:
            keys = f"{name} recorded moment", f"{name} recorded length"
            return self.spool.column(keys[0], "<i8"), self.spool.column(keys[1], "<i8")
        if not parts:
            return moments, lengths
        return np.concatenate([since for since, _ in parts]), np.concatenate([length for _, length in parts])

    def _measure_strobes(self) -> None:
        leads, trails = self.reading.leads, self.reading.trails
        self._put("strobe width", leads, lambda b, e: trails[b:e] - leads[b:e])
        self._put("pause", trails[:-1], lambda b, e: leads[b + 1 : e + 1] - trails[b:e])
        self._put("byte period", leads[:-1], lambda b, e: leads[b + 1 : e + 1] - leads[b:e])

    def _measure_data(self) -> None:
        leads, trails = self.reading.leads, self.reading.trails
        latch = self.reading.latch.value
        first, last = (leads, trails) if latch is None else ((leads, trails)[latch],) * 2
        names = [name for name in data_names(self.capture, self.lines) if name is not None]
        data = [clean_long(self.capture, name, self.spool)[0] for name in names]
        self._find("data set-up", len(first), lambda b, e: _since_change(data, first[b:e]))
        self._find("data hold", len(last), lambda b, e: _until_change(data, last[b:e]))

    def _measure_answers(self) -> None:
        leads = self.reading.leads
        busy = self._pulses(self.lines.busy, self.reading.busy_active)
        ack = self._pulses(self.lines.ack, self.reading.ack_active)
        if busy is not None:
            on, off = busy
            self._find("strobe to busy", len(leads), lambda b, e: _from_to(leads[b:e], on, leads[b + 1 : e + 1]))
            self._put("busy length", on, lambda b, e: off[b:e] - on[b:e])
            self._find("busy end to strobe", len(off), lambda b, e: _from_to(off[b:e], leads, off[b + 1 : e + 1]))
        if ack is not None:
            begins, ends = ack
            self._find(
                "strobe to acknowledge", len(leads), lambda b, e: _from_to(leads[b:e], begins, leads[b + 1 : e + 1])
            )
            self._put("acknowledge width", begins, lambda b, e: ends[b:e] - begins[b:e])
        if busy is not None and ack is not None:
            self._find(
                "acknowledge end to busy end",
                len(leads),
                lambda b, e: _nearest(ends, off, leads[b:e], leads[b + 1 : e + 1]),
            )

    def _pulses(self, name: str | None, active: Concluded | None) -> tuple[Times, Times] | None:
        if name is None or active is None or active.value is None:
            return None
        return pulses_long(clean_long(self.capture, name, self.spool), active.value, name, self.spool)

    def _put(self, name: str, moments: Times, lengths: Callable[[int, int], Times]) -> None:
        """A figure with a length at each of these moments; `lengths` gives those from one index to another."""
        if self.spool is None:
            self.found[name] = moments, lengths(0, len(moments))
            return
        for begin in range(0, len(moments), WINDOW):
            self.spool.add(f"{name} length", "<i8", lengths(begin, min(len(moments), begin + WINDOW)))
        self.found[name] = moments, self.spool.column(f"{name} length", "<i8")

    def _find(self, name: str, count: int, find: Callable[[int, int], tuple[Times, Times]]) -> None:
        """A figure of which `find` gives moments and lengths for some of the things from one index to another."""
        if not count:
            return
        if self.spool is None:
            self.found[name] = find(0, count)
            return
        keys = f"{name} moment", f"{name} length"
        for begin in range(0, count, WINDOW):
            for key, column in zip(keys, find(begin, min(count, begin + WINDOW)), strict=True):
                self.spool.add(key, "<i8", column)
        self.found[name] = self.spool.column(keys[0], "<i8"), self.spool.column(keys[1], "<i8")


def _since_change(data: list[Times], moments: Times) -> tuple[Times, Times]:
    """From the last change at or before each moment to it, where there is one."""
    latest = np.full(len(moments), np.iinfo(np.int64).min, np.int64)
    for times in data:
        first, after = np.searchsorted(times, moments[[0, -1]], "right")
        kernel.last_change(times[max(0, first - 2) : after], moments, latest)  # two, for the first of all is no change
    known = latest > np.iinfo(np.int64).min
    return latest[known], moments[known] - latest[known]


def _until_change(data: list[Times], moments: Times) -> tuple[Times, Times]:
    """From each moment to the first change after it, where there is one."""
    soonest = np.full(len(moments), FAR, np.int64)
    for times in data:
        first, after = np.searchsorted(times, moments[[0, -1]], "right")
        kernel.first_change(times[max(0, first - 1) : max(1, after) + 1], moments, soonest)
    known = soonest < FAR
    return moments[known], soonest[known] - moments[known]


def _next(starts: Times, ends: Times, limits: Times) -> Times:
    """The first end at or after each start and before its limit, else `FAR`; the last start may have no limit."""
    first, last = np.searchsorted(ends, starts[[0, -1]], "left")
    ends = ends[first : last + 1]
    index = kernel.next_edge(ends, starts, False)
    found = np.full(len(starts), FAR, np.int64)
    is_there = index < len(ends)
    found[is_there] = ends[index[is_there]]
    found[: len(limits)][found[: len(limits)] >= limits] = FAR
    return found


def _from_to(starts: Times, ends: Times, limits: Times) -> tuple[Times, Times]:
    """From each start to the next end, where one comes before the limit."""
    found = _next(starts, ends, limits)
    known = found < FAR
    return starts[known], found[known] - starts[known]


def _nearest(starts: Times, ends: Times, strobes: Times, limits: Times) -> tuple[Times, Times]:
    """From the first start to the first end between each strobe and its limit; negative where the end comes earlier."""
    begins, finishes = _next(strobes, starts, limits), _next(strobes, ends, limits)
    known = (begins < FAR) & (finishes < FAR)
    return begins[known], finishes[known] - begins[known]
