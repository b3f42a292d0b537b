"""Captures: what a set of lines did in time, as columns of changes a channel."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import Origin, Span, UnknownName

if TYPE_CHECKING:
    import numpy.typing as npt

    from latchlore.wire._overview import Overview

    Times = npt.NDArray[np.int64]
    """Shape (changes,): whole picoseconds on the capture's own clock, never falling."""
    Levels = npt.NDArray[np.uint8]
    """Shape (changes,): 0, 1, 2 unknown, 3 high impedance."""
    Planes = npt.NDArray[np.uint64]
    """Shape (changes, words): 64 bits a word, lowest word first."""

_RANGE = re.compile(r"\[(-?\d+):(-?\d+)\]")

LOW, HIGH, UNKNOWN, FLOATING = range(4)
"""Levels of one line: 0, 1, unknown (``x``), high impedance (``z``)."""


class ChannelKind(StrEnum):
    """What a channel carries: one line, several lines read as a number, or a measured quantity."""

    LOGIC = "logic"
    VECTOR = "vector"
    REAL = "real"


@dataclass(frozen=True, slots=True, eq=False)
class Channel:
    """One line, bus or quantity of a capture.

    `names`: every name the file gives it, the first one shown.  `bits`: the range as the file writes it, such as
    ``[7:0]``, or empty; the number on its right is that of the lowest bit (IEEE 1364-2005, 4.3.1).  `width`: lines, 1
    up.  `times`: when it was said to have a value; a value said again is kept, since a bus that carries the same byte
    twice is written twice.  `levels` holds the levels of a LOGIC channel, `value` and `unknown` the planes of a VECTOR
    (unknown 0: value is the bit; unknown 1: value 0 is unknown, 1 is high impedance), `reals` the quantities of a REAL
    one; the others are empty.  `overview`: of a channel on disk, for drawing.
    """

    names: tuple[str, ...]
    kind: ChannelKind
    width: int
    times: Times
    levels: Levels
    value: Planes
    unknown: Planes
    reals: npt.NDArray[np.float64]
    bits: str = ""
    overview: Overview | None = None

    @property
    def name(self) -> str:
        """The name that is shown."""
        return self.names[0]

    @property
    def num_changes(self) -> int:
        """How many values the file gives."""
        return len(self.times)

    @property
    def numbers(self) -> range:
        """What the file calls its bits, the lowest first: by `bits` where that fits the width, else from 0 up."""
        match = _RANGE.fullmatch(self.bits)
        if match is not None:
            highest, lowest = int(match[1]), int(match[2])
            turn = 1 if highest >= lowest else -1
            if abs(highest - lowest) + 1 == self.width:
                return range(lowest, highest + turn, turn)
        return range(self.width)

    @property
    def bit_names(self) -> tuple[str, ...]:
        """The names of a bus's lines, the lowest first: ``D[0]``, ``D[1]``, ..."""
        return tuple(f"{self.name}[{number}]" for number in self.numbers)

    def text(self, index: int) -> str:
        """The value of a change as the file could have written it: ``1``, ``0xz1``, ``3.3``."""
        if self.kind is ChannelKind.LOGIC:
            return "01xz"[self.levels[index]]
        if self.kind is ChannelKind.REAL:
            return repr(float(self.reals[index]))
        value, unknown = (
            int.from_bytes(plane[index].astype("<u8").tobytes(), "little") for plane in (self.value, self.unknown)
        )
        return "".join("01xz"[2 * (unknown >> k & 1) + (value >> k & 1)] for k in range(self.width - 1, -1, -1))

    def edges(self) -> tuple[Times, Levels]:
        """Times and levels of the real changes of a line: what is said again without a change is left out."""
        if self.kind is not ChannelKind.LOGIC:
            raise UnknownName(f"channel {self.name!r} is no single line")
        keep = np.ones(len(self.levels), bool)
        keep[1:] = self.levels[1:] != self.levels[:-1]
        return self.times[keep], self.levels[keep]


@dataclass(frozen=True, slots=True, eq=False)
class Gap:
    """A stretch in which nothing was recorded; `until` None: to the end."""

    since: Span
    until: Span | None


@dataclass(frozen=True, slots=True, eq=False)
class Capture:
    """A capture: `channels` in file order; `begin` and `end` its first and last time.

    `notes`: what the reader must know about how it was read (cut off, rounded), in words.  `gaps`: where recording
    was switched off.  `step`: the sampling period, None where the file records changes.  `breaks_off`: the file ends
    in the middle of a record, so that there was more.
    """

    file: str
    channels: tuple[Channel, ...]
    begin: Span
    end: Span
    notes: tuple[str, ...] = ()
    gaps: tuple[Gap, ...] = ()
    step: Span | None = None
    breaks_off: bool = False
    _by_name: dict[str, Channel] = field(default_factory=dict, repr=False)
    _overviews: dict[int, Overview] = field(default_factory=dict, repr=False)

    def __post_init__(self) -> None:
        for channel in self.channels:
            for name in channel.names:
                self._by_name.setdefault(name, channel)

    def get_channel(self, name: str) -> Channel:
        """The channel of that name; the last part of a dotted name is enough where only one channel has it."""
        if name in self._by_name:
            return self._by_name[name]
        ends = [c for c in self.channels if any(n.rpartition(".")[2] == name for n in c.names)]
        if len(ends) == 1:
            return ends[0]
        if ends:
            raise UnknownName(f"{self.file}: {len(ends)} channels end in {name!r}", [c.name for c in ends])
        raise UnknownName(f"{self.file}: no channel {name!r}", list(self._by_name))

    def get_overview(self, channel: Channel) -> Overview:
        """The overview of one of the capture's channels; made when first asked for where the file did not keep it."""
        if channel.overview is not None:
            return channel.overview
        from latchlore.wire._overview import make_overview

        if id(channel) not in self._overviews:
            self._overviews[id(channel)] = make_overview(channel)
        return self._overviews[id(channel)]

    @property
    def num_changes(self) -> int:
        """Values of all channels together."""
        return sum(channel.num_changes for channel in self.channels)

    def origin(self, time_ps: int) -> Origin:
        """A moment of the capture."""
        return Origin.at_time(self.file, Span(time_ps))
