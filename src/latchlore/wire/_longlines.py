"""Lines of a long capture, their edges cleaned and their pulses found part by part, so that memory stays bounded.

Without a spool the same is done at once and in memory, which is quicker for a short capture.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from latchlore.wire import _edgekernel as kernel
from latchlore.wire._lines import channel_of, clean_line, levels_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.wire._capture import Capture, Channel, Levels, Times
    from latchlore.wire._spool import Spool

    Edges = tuple[Times, Levels]

WINDOW = 1 << 18
"""So many edges, or strobes, are in memory at a time."""


def clean_long(capture: Capture, name: str, spool: Spool | None) -> Edges:
    """What `clean_line` gives; the columns of the capture itself where they are clean, else columns of the spool."""
    if spool is None:
        return clean_line(capture, name)
    channel, bit = channel_of(capture, name)
    times = channel.times
    if bit is None and all(end - begin == len(found[0]) for begin, end, found in clean_parts(channel, bit)):
        return times, channel.levels
    for _, _, (when, levels) in clean_parts(channel, bit):
        spool.add(f"{name} times", "<i8", when)
        spool.add(f"{name} levels", "u1", levels)
    return spool.column(f"{name} times", "<i8"), spool.column(f"{name} levels", "u1")


def clean_parts(
    channel: Channel, bit: int | None, begin: int = 0, stop: int | None = None
) -> Iterator[tuple[int, int, Edges]]:
    """Begin, end and clean edges of each part of a line, whole times together; of the changes from `begin` to `stop`.

    The first edge of all is the level at the begin.  `channel`, `bit`: as `channel_of` names the line.
    """
    stop = len(channel.times) if stop is None else stop
    last = -1
    while begin < stop:
        end = begin + WINDOW
        if end < stop:  # of several changes at one time the last counts, so none may be left for the next
            end = int(np.searchsorted(channel.times, channel.times[end - 1], "right"))
        end = min(end, stop)
        times, levels = kernel.clean_edges(channel.times[begin:end], levels_of(channel, bit, begin, end))
        again = int(levels[0] == last)  # no change from the end of the part before
        last = int(levels[-1])
        yield begin, end, (times[again:], levels[again:])
        begin = end


def pulses_long(edges: Edges, active: int, name: str, spool: Spool | None) -> tuple[Times, Times]:
    """What `find_pulses` gives; where there is a spool, columns of it, kept under that name."""
    times, levels = edges
    if spool is None:
        on, off = kernel.find_pulses(times, levels, active)
        return on, off
    for begin in range(1, len(times), WINDOW):  # each with an edge more on either side
        part = slice(begin - 1, begin + WINDOW + 1)
        for kind, found in zip(("on", "off"), kernel.find_pulses(times[part], levels[part], active), strict=True):
            spool.add(f"{name} {kind}", "<i8", found)
    return spool.column(f"{name} on", "<i8"), spool.column(f"{name} off", "<i8")
