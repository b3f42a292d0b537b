"""What each line of a capture does: its edges, pulses and levels, read part by part so that memory stays bounded."""

from __future__ import annotations

from array import array
from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from latchlore.wire import _edgekernel as kernel
from latchlore.wire._capture import ChannelKind
from latchlore.wire._handshake import LONG
from latchlore.wire._lines import channel_of, clean_line, conclude_by_times
from latchlore.wire._longlines import clean_parts
from latchlore.wire._timing import select_counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.wire._capture import Capture, Levels, Times

    Part = tuple[Times, Levels, int]

KEPT = LONG
"""The edges of a line of so many changes at most are kept in memory once cleaned."""
STRETCHES = 16
"""A line of many edges is looked at in so many stretches, the first at its begin, the last at its end."""
STRETCH_EDGES = 1 << 13


@dataclass(frozen=True, slots=True)
class Activity:
    """What a line does: edges, the share of time at 1, pulses to the rarer level and their middle width."""

    name: str
    edges: int
    high: float
    pulses: int
    width_ps: int


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """Some pulses of a line, one after another; `first`, `last`: whether there are none before, and none after them."""

    leads: Times
    trails: Times
    first: bool
    last: bool

    @property
    def since(self) -> int | None:
        """The time from which on edges count; None: from the begin of the capture."""
        return None if self.first else int(self.leads[0])

    @property
    def until(self) -> int | None:
        """The time before which edges count; None: to the end of the capture."""
        return None if self.last else int(self.leads[-1])


class Line:
    """One line of a capture: figures over all of it, and its edges in parts.

    `high_ps`, `low_ps`: for how long it is at 1 and at 0; `active`: the level it has rarely, None where that cannot be
    told, in which case `counted` is 1; `num_edges`: with the level at the begin; `pulses`: to 0, and to 1.
    """

    def __init__(self, capture: Capture, name: str) -> None:
        self.name = name
        self._channel, self._bit = channel_of(capture, name)
        self._whole = clean_line(capture, name) if self._channel.num_changes <= KEPT else None
        self._shortest, self._longest = np.full(2, np.iinfo(np.int64).max), np.zeros(2, np.int64)
        self._marks = array("q"), array("q")  # of each part: the place of its first edge, and its time
        self.num_edges = self.high_ps = self.low_ps = 0
        self.pulses = self._tally(capture.end.picoseconds)
        self.active = conclude_by_times(self.high_ps, self.low_ps).value
        self.counted = 1 if self.active is None else self.active

    def _tally(self, end: int) -> tuple[int, int]:
        counts = np.zeros(2, np.int64)
        times, levels = np.zeros(0, np.int64), np.zeros(0, np.uint8)
        for times, levels, known in self.parts():
            if len(times) > known or not self.num_edges:
                new = known if self.num_edges else 0
                for column, value in zip(self._marks, (self.num_edges, int(times[new])), strict=True):
                    column.append(value)
                self.num_edges += len(times) - new
            kernel.tally_pulses(times, levels, counts, self._shortest, self._longest)
            self._hold(times[known - 1 :], levels[known - 1 :], int(times[-1]))
        self._hold(times[-1:], levels[-1:], end)
        return int(counts[0]), int(counts[1])

    def _hold(self, times: Times, levels: Levels, end: int) -> None:
        high, low = kernel.time_held(times, levels, end)
        self.high_ps += int(high)
        self.low_ps += int(low)

    def parts(self, since: int | None = None, until: int | None = None) -> Iterator[Part]:
        """Clean edges from one time on, before another, in parts; of each also how many edges at its front are known.

        In front of the first part stands one that tells the level before, or the level at the begin; in front of the
        others stand the last two of the part before, so that each pulse is found in one part.
        """
        when = self._channel.times if self._whole is None else self._whole[0]
        end = len(when) if until is None else int(np.searchsorted(when, until, "left"))
        begin = 0 if since is None else int(np.searchsorted(when, since, "left"))
        if begin:
            begin = int(np.searchsorted(when, when[begin - 1], "left"))
        if self._whole is not None:
            if begin < end:
                yield self._whole[0][begin:end], self._whole[1][begin:end], 1
            return
        times, levels = np.zeros(0, np.int64), np.zeros(0, np.uint8)
        for _, _, (more, their) in clean_parts(self._channel, self._bit, begin, end):
            known = len(times[-2:])
            if known:
                times, levels = np.concatenate([times[-2:], more]), np.concatenate([levels[-2:], their])
            else:
                times, levels = more, their
            yield times, levels, max(1, known)

    def middle_width(self, active: int) -> int:
        """The median length of the pulses to a level, in picoseconds; 0 without any."""
        num = self.pulses[active]
        if not num:
            return 0

        def count(low: int, high: int, shift: int, counts: Times) -> None:
            for times, levels, _ in self.parts():
                kernel.count_widths(times, levels, active, low, high, shift, counts)

        low, high = int(self._shortest[active]), int(self._longest[active])
        lower = select_counted(low, high, (num - 1) // 2, count)
        if num % 2 or lower == high:
            return lower
        up_to = np.zeros(1, np.int64)
        count(low, lower, (lower - low).bit_length(), up_to)  # all in one step
        return lower if up_to[0] > num // 2 else (lower + select_counted(low, high, num // 2, count)) // 2

    def activity(self) -> Activity:
        """What the line does, over the whole capture."""
        held = self.high_ps + self.low_ps
        share = self.high_ps / held if held else 0.0
        pulses, width = self.pulses[self.counted], self.middle_width(self.counted)
        return Activity(self.name, max(0, self.num_edges - 1), share, pulses, width)

    @property
    def num_parts(self) -> int:
        """In how many parts spread over it a long line is looked at; 1: it has so few edges that all are."""
        return STRETCHES if self.num_edges > STRETCHES * STRETCH_EDGES else 1

    @cached_property
    def stretches(self) -> tuple[Stretch, ...]:
        """Its pulses in those parts in which there are two or more."""
        if self.num_parts == 1:
            return self.whole
        step = self.num_edges - STRETCH_EDGES
        begins = [step * k // (STRETCHES - 1) for k in range(STRETCHES)]
        found = (self._stretch(begin, begin + STRETCH_EDGES) for begin in begins)
        return tuple(stretch for stretch in found if len(stretch.leads) > 1)

    @property
    def whole(self) -> tuple[Stretch, ...]:
        """All its pulses."""
        return (self._stretch(0, self.num_edges),)

    def _stretch(self, begin: int, end: int) -> Stretch:
        """The whole pulses among the edges from one place to another, counted with the level at the begin."""
        places, when = self._marks
        mark = bisect_right(places, begin) - 1
        at, since = places[mark], when[mark]
        chosen: list[tuple[Times, Levels]] = []
        for times, levels, known in self.parts(since if mark else None):
            new = known if chosen or mark else 0
            low, high = new + max(0, begin - at), new + end - at
            at += len(times) - new
            chosen.append((times[max(low, 0) : high], levels[max(low, 0) : high]))
            if at >= end:
                break
        times, levels = chosen[0] if len(chosen) == 1 else map(np.concatenate, zip(*chosen, strict=True))
        leads, trails = kernel.find_pulses(times, levels, self.counted)
        return Stretch(leads, trails, begin == 0, end == self.num_edges)


def describe_lines(capture: Capture) -> list[Line]:
    """The single lines of a capture, in file order; vectors are taken apart."""
    names: list[str] = []
    for channel in capture.channels:
        if channel.kind is ChannelKind.LOGIC:
            names.append(channel.name)
        elif channel.kind is ChannelKind.VECTOR:
            names += channel.bit_names
    return [Line(capture, name) for name in names]


def measure_activity(capture: Capture) -> tuple[Activity, ...]:
    """What each single line of a capture does, over all of it; vectors are taken apart."""
    return tuple(line.activity() for line in describe_lines(capture))
