"""Compiled walks over the edges of lines.

Arrays: `times` int64 picoseconds, never falling; `levels` uint8 (0, 1, 2 unknown, 3 high impedance); a line has the
level of its last change.  `queries` int64 picoseconds, never falling.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import njit

if TYPE_CHECKING:
    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]
    Times = npt.NDArray[np.int64]


@njit(cache=True, nogil=True)
def add_line(times: Times, levels: Bytes, queries: Times, bit: int, before: Bytes, at: Bytes, doubt: Bytes) -> None:
    """Put a line's level just before and at each query into bit `bit` of `before` and `at`.

    `doubt` gets the bit where the two differ or either is no level; of several changes at one time, each counts: a
    line that goes away and comes back at the very time of the query is in doubt too.
    """
    one = np.uint8(1 << bit)
    num = times.shape[0]
    k = 0  # changes before the query
    for q in range(queries.shape[0]):
        when = queries[q]
        if k < num:
            k += times[k] < when  # without a branch, for one change or none a query is the rule
        while k < num and times[k] < when:
            k += 1
        first = levels[k - 1] if k else np.uint8(2)
        level = first
        changed = False
        j = k
        while j < num and times[j] == when:
            changed = changed or levels[j] != first
            level = levels[j]
            j += 1
        before[q] |= one * (first == 1)
        at[q] |= one * (level == 1)
        doubt[q] |= one * (changed or first > 1 or level > 1)


@njit(cache=True, nogil=True)
def next_edge(times: Times, queries: Times, strictly: bool) -> Times:
    """The index of the first time at or after each query, after it where `strictly`; len(times) where there is none."""
    found = np.empty(queries.shape[0], np.int64)
    k = 0
    num = times.shape[0]
    more = 1 if strictly else 0
    for q in range(queries.shape[0]):
        when = queries[q] + more
        if k < num:
            k += times[k] < when
        while k < num and times[k] < when:
            k += 1
        found[q] = k
    return found


@njit(cache=True, nogil=True)
def clean_edges(times: Times, levels: Bytes) -> tuple[Times, Bytes]:
    """Changes between different levels only; of several at one time, the last.  The arrays given, where they are so."""
    clean = True
    for k in range(1, times.shape[0]):
        clean &= (times[k] != times[k - 1]) & (levels[k] != levels[k - 1])
    if clean:
        return times, levels
    out_times = np.empty(times.shape[0], np.int64)
    out_levels = np.empty(times.shape[0], np.uint8)
    n = 0
    for k in range(times.shape[0]):
        if n and out_times[n - 1] == times[k]:
            out_levels[n - 1] = levels[k]
            if n > 1 and out_levels[n - 2] == levels[k]:
                n -= 1
            continue
        if n and out_levels[n - 1] == levels[k]:
            continue
        out_times[n] = times[k]
        out_levels[n] = levels[k]
        n += 1
    return out_times[:n].copy(), out_levels[:n].copy()


@njit(cache=True, nogil=True)
def find_pulses(times: Times, levels: Bytes, active: int) -> tuple[Times, Times]:
    """Where the line goes to its active level from the other, and where it leaves it; only whole pulses."""
    lead = np.empty(times.shape[0], np.int64)
    trail = np.empty(times.shape[0], np.int64)
    n = 0
    for k in range(1, times.shape[0] - 1):
        if levels[k] == active and levels[k - 1] == 1 - active and levels[k + 1] == 1 - active:
            lead[n] = times[k]
            trail[n] = times[k + 1]
            n += 1
    return lead[:n].copy(), trail[:n].copy()


@njit(cache=True, nogil=True)
def last_change(times: Times, queries: Times, latest: Times) -> None:
    """Raise `latest` to the time of the line's last real change at or before each query."""
    num = times.shape[0]
    k = 0
    for q in range(queries.shape[0]):
        if k < num:
            k += times[k] <= queries[q]
        while k < num and times[k] <= queries[q]:
            k += 1
        if k > 1 and times[k - 1] > latest[q]:  # the first change is the level at the start
            latest[q] = times[k - 1]


@njit(cache=True, nogil=True)
def first_change(times: Times, queries: Times, soonest: Times) -> None:
    """Lower `soonest` to the time of the line's first real change after each query."""
    num = times.shape[0]
    k = 1
    for q in range(queries.shape[0]):
        if k < num:
            k += times[k] <= queries[q]
        while k < num and times[k] <= queries[q]:
            k += 1
        if k < num:
            soonest[q] = min(soonest[q], times[k])


@njit(cache=True, nogil=True)
def time_held(times: Times, levels: Bytes, end: int) -> tuple[int, int]:
    """For how long the line is at 1, and at 0, up to `end`."""
    held = np.zeros(4, np.int64)
    for k in range(times.shape[0]):
        until = times[k + 1] if k + 1 < times.shape[0] else max(end, times[k])
        held[levels[k] & 3] += until - times[k]
    return held[1], held[0]


@njit(cache=True, nogil=True)
def count_steps(lengths: Times, low: int, high: int, shift: int, counts: Times) -> None:
    """Count the lengths from `low` to `high` in steps of 2 to the power of `shift`, the first beginning at `low`."""
    for k in range(lengths.shape[0]):
        if low <= lengths[k] <= high:
            counts[(lengths[k] - low) >> shift] += 1


@njit(cache=True, nogil=True)
def tally_pulses(times: Times, levels: Bytes, counts: Times, shortest: Times, longest: Times) -> None:
    """Count the pulses that `find_pulses` finds, to 0 and to 1 each in its place, and bound their lengths."""
    for k in range(1, times.shape[0] - 1):
        level = levels[k]
        if level < 2 and levels[k - 1] == 1 - level and levels[k + 1] == 1 - level:
            length = times[k + 1] - times[k]
            counts[level] += 1
            shortest[level] = min(shortest[level], length)
            longest[level] = max(longest[level], length)


@njit(cache=True, nogil=True)
def count_widths(times: Times, levels: Bytes, active: int, low: int, high: int, shift: int, counts: Times) -> None:
    """Count the lengths of pulses as `count_steps` does."""
    for k in range(1, times.shape[0] - 1):
        if levels[k] == active and levels[k - 1] == 1 - active and levels[k + 1] == 1 - active:
            length = times[k + 1] - times[k]
            if low <= length <= high:
                counts[(length - low) >> shift] += 1
