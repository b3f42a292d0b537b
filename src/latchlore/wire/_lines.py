"""Single lines of a capture, by name, with their edges cleaned and their active level stated or concluded."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import UnknownName
from latchlore.wire import _edgekernel as kernel
from latchlore.wire import _handshakewording as words
from latchlore.wire._capture import ChannelKind

if TYPE_CHECKING:
    from latchlore.wire._capture import Capture, Channel, Levels, Times

_BIT = re.compile(r"(.*)\[(-?\d+)\]")
SURELY_RARE = 1 / 10
"""Above this share it may be the resting one all the same: a strobe that is held until the device answers."""
RARE = 1 / 3
"""A level held for less than this share of the time is taken for the active one, where nothing else tells."""


class Latch(StrEnum):
    """The edge of the strobe at which the device takes the data."""

    LEADING = "leading"
    TRAILING = "trailing"


@dataclass(frozen=True, slots=True)
class ParallelLines:
    """Which channels carry a parallel handshake, by name.

    `data`: D0 first, None where the interface has no such line; a single name of a VECTOR channel stands for all its
    bits.  A bit of a vector is named ``D[3]``, by the number that the file gives it.  Levels: 0 or 1, the level at
    which the line means what its name says; None: to be concluded.  `latch`: None: to be concluded.  Where bit 7 of the
    data port is the strobe, name that line as strobe and leave it out of `data`.
    """

    data: tuple[str | None, ...]
    strobe: str
    strobe_active: int | None = None
    busy: str | None = None
    busy_active: int | None = None
    ack: str | None = None
    ack_active: int | None = None
    latch: Latch | None = None

    def __post_init__(self) -> None:
        if not 1 <= len(self.data) <= 8:
            raise ValueError(words.DATA_COUNT.format(count=len(self.data)))
        for level in (self.strobe_active, self.busy_active, self.ack_active):
            if level not in {None, 0, 1}:
                raise ValueError(words.ACTIVE_LEVEL.format(level=level))
        named = [name for name in (*self.data, self.strobe, self.busy, self.ack) if name is not None]
        twice = next((name for k, name in enumerate(named) if name in named[:k]), None)
        if twice is not None:
            raise ValueError(words.LINE_TWICE.format(name=twice))


@dataclass(frozen=True, slots=True)
class Concluded:
    """Something that was stated or worked out, and why; `value` None: it cannot be told.

    `is_weak`: nothing may rest on it.
    """

    value: int | None
    why: str
    is_weak: bool = False


def channel_of(capture: Capture, name: str) -> tuple[Channel, int | None]:
    """The channel of one line, and the bit of it where that is a vector, written ``D[3]``.  Refuses other names."""
    try:
        channel = capture.get_channel(name)
    except UnknownName:
        match = _BIT.fullmatch(name)
        if match is None:
            raise
        channel = capture.get_channel(match[1])
        number = int(match[2])
        if channel.kind is not ChannelKind.VECTOR:
            text = words.NO_BITS.format(file=capture.file, name=match[1], bit=number)
            raise UnknownName(text) from None
        if number not in channel.numbers:
            ends = {"lowest": channel.numbers[0], "highest": channel.numbers[-1]}
            text = words.NO_SUCH_BIT.format(file=capture.file, name=match[1], bit=number, **ends)
            raise UnknownName(text) from None
        return channel, channel.numbers.index(number)
    if channel.kind is not ChannelKind.LOGIC:
        raise UnknownName(words.NO_LINE.format(file=capture.file, name=name, kind=channel.kind))
    return channel, None


def levels_of(channel: Channel, bit: int | None, begin: int = 0, end: int | None = None) -> Levels:
    """The levels of some changes of a line, as `channel_of` names it; all of them where no bounds are given."""
    if bit is None:
        return channel.levels[begin:end]
    word, shift = divmod(bit, 64)
    one = np.uint64(1)
    value = (channel.value[begin:end, word] >> np.uint64(shift)) & one
    unknown = (channel.unknown[begin:end, word] >> np.uint64(shift)) & one
    return (value + 2 * unknown).astype(np.uint8)


def get_line(capture: Capture, name: str) -> tuple[Times, Levels]:
    """All changes of one line: a LOGIC channel, or a bit of a vector written ``D[3]``.  Refuses other names."""
    channel, bit = channel_of(capture, name)
    return channel.times, levels_of(channel, bit)


def data_names(capture: Capture, lines: ParallelLines) -> tuple[str | None, ...]:
    """The names of the data lines one by one, a vector taken apart."""
    if len(lines.data) == 1 and lines.data[0] is not None and not _BIT.fullmatch(lines.data[0]):
        channel = capture.get_channel(lines.data[0])
        if channel.kind is ChannelKind.VECTOR:
            if channel.width > 8:
                raise UnknownName(words.WIDE_DATA.format(file=capture.file, name=channel.name, width=channel.width))
            return channel.bit_names
    return lines.data


def clean_line(capture: Capture, name: str) -> tuple[Times, Levels]:
    """The edges of a line: changes between different levels, one at a time."""
    cleaned: tuple[Times, Levels] = kernel.clean_edges(*get_line(capture, name))
    return cleaned


def conclude_by_share(edges: tuple[Times, Levels], end: int) -> Concluded:
    """The active level of a line from how long it holds each: the rare one."""
    times, levels = edges
    return conclude_by_times(*kernel.time_held(times, levels, end))


def conclude_by_times(high: int, low: int) -> Concluded:
    """The active level of a line that was at 1 and at 0 for so long: the rare one."""
    if not high or not low:
        return Concluded(None, words.NEVER_MOVES)
    share = high / (high + low)
    if share < RARE:
        return Concluded(1, words.BY_SHARE.format(level="high", share=share), share > SURELY_RARE)
    if share > 1 - RARE:
        return Concluded(0, words.BY_SHARE.format(level="low", share=1 - share), 1 - share > SURELY_RARE)
    return Concluded(None, words.EVEN_SHARE.format(share=share))


def conclude_by_idle(edges: tuple[Times, Levels], moments: Times) -> Concluded:
    """The active level of a busy line: the other one than it has when a strobe begins."""
    return conclude_by_counts(*count_high(edges, moments))


def count_high(edges: tuple[Times, Levels], moments: Times) -> tuple[int, int]:
    """At how many moments a line is high, and at how many its level is sure."""
    before, at, doubt = (np.zeros(len(moments), np.uint8) for _ in range(3))
    kernel.add_line(*edges, moments, 0, before, at, doubt)
    sure = doubt == 0
    return int(before[sure].sum()), int(sure.sum())


def conclude_by_counts(high: int, num: int) -> Concluded:
    """The active level of a line that is high at so many of those moments at which strobes begin."""
    if not num:
        return Concluded(None, words.NO_MOMENTS)
    if high * 10 <= num:
        return Concluded(1, words.BY_IDLE.format(level="low", count=num - high, num=num))
    if high * 10 >= 9 * num:
        return Concluded(0, words.BY_IDLE.format(level="high", count=high, num=num))
    return Concluded(None, words.UNSTEADY.format(high=high, num=num))
