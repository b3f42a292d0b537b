"""Compiled making and walking of overviews; what the arrays hold is said in `_overview`.

`codes` uint8: the level of each change (0, 1, 2 unknown, 3 high impedance); `changed` uint8: 1 where it differs from
the change before.  `begins` int64: where each layer's buckets begin in `spans`, one entry more than layers; layer 0 is
the changes themselves.  Times are int64 picoseconds and never fall.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import njit

if TYPE_CHECKING:
    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]
    Times = npt.NDArray[np.int64]
    Reals = npt.NDArray[np.float64]

CHANGES = 64
"""Changes in a bucket of the first layer."""
FOLD = 8
"""Buckets of a layer in one of the next."""
LAYERS = 32


@njit(cache=True, nogil=True)
def fold_changes(
    times: Times, codes: Bytes, changed: Bytes, reals: Reals, spans: Times, marks: Bytes, extremes: Reals
) -> None:
    """Fill the buckets of the first layer; `extremes` only where it has rows."""
    num = times.shape[0]
    for bucket in range(spans.shape[0]):
        begin, end = bucket * CHANGES, min(num, (bucket + 1) * CHANGES)
        edges, seen = 0, 0
        for k in range(begin, end):
            edges += changed[k]
            seen |= 1 << codes[k]
        spans[bucket, 0], spans[bucket, 1], spans[bucket, 2] = times[begin], times[end - 1], edges
        marks[bucket] = seen | codes[end - 1] << 4
        if extremes.shape[0]:
            least = most = reals[begin]
            for k in range(begin + 1, end):
                least, most = np.fmin(least, reals[k]), np.fmax(most, reals[k])
            extremes[bucket, 0], extremes[bucket, 1] = least, most


@njit(cache=True, nogil=True)
def fold_buckets(
    spans: Times, marks: Bytes, extremes: Reals, out_spans: Times, out_marks: Bytes, out_extremes: Reals
) -> None:
    """Fill the buckets of a layer from those of the layer below."""
    num = spans.shape[0]
    for bucket in range(out_spans.shape[0]):
        begin, end = bucket * FOLD, min(num, (bucket + 1) * FOLD)
        edges, seen = 0, 0
        for k in range(begin, end):
            edges += spans[k, 2]
            seen |= marks[k] & 15
        out_spans[bucket, 0], out_spans[bucket, 1], out_spans[bucket, 2] = spans[begin, 0], spans[end - 1, 1], edges
        out_marks[bucket] = seen | marks[end - 1] & 0xF0
        if out_extremes.shape[0]:
            least, most = extremes[begin, 0], extremes[begin, 1]
            for k in range(begin + 1, end):
                least, most = np.fmin(least, extremes[k, 0]), np.fmax(most, extremes[k, 1])
            out_extremes[bucket, 0], out_extremes[bucket, 1] = least, most


@njit(cache=True, nogil=True)
def find_change(times: Times, spans: Times, begins: Times, when: int) -> int:
    """The index of the first change at or after a time; the number of changes where there is none."""
    layer = begins.shape[0] - 2
    node, stop = 0, begins[layer + 1] - begins[layer]
    if spans[begins[layer], 0] >= when:
        return 0
    while True:  # the first bucket from `node` on begins before `when`
        while node + 1 < stop and spans[begins[layer] + node + 1, 0] < when:
            node += 1
        if layer == 0:
            break
        layer -= 1
        node *= FOLD
        stop = min(node + FOLD, begins[layer + 1] - begins[layer])
    change = node * CHANGES
    stop = min(change + CHANGES, times.shape[0])
    while change < stop and times[change] < when:
        change += 1
    return change


@njit(cache=True, nogil=True)
def enter_column(when: int, column: int, held: int, quantity: float, borders: Times, seen: Bytes, ends: Reals) -> int:
    """The column of a time, at or after `column`; what the line holds is brought into each column entered."""
    while column + 1 < seen.shape[0] and when >= borders[column + 1]:
        column += 1
        if held < 4:
            seen[column] |= 1 << held
            if ends.shape[0]:
                ends[column, 0] = ends[column, 1] = quantity
    return column


@njit(cache=True, nogil=True)
def count_changes(
    times: Times,
    codes: Bytes,
    flagged: bool,
    reals: Reals,
    begin: int,
    stop: int,
    column: int,
    held: int,
    borders: Times,
    seen: Bytes,
    counts: Times,
    ends: Reals,
) -> int:
    """Count changes `begin` to `stop` (not itself) one by one, the first at or after `column`; the column reached."""
    if not flagged and begin and ends.shape[0] == 0:  # lines: nothing but levels
        before = codes[begin - 1]
        border, edges, levels = borders[column + 1], 0, 0
        for k in range(begin, stop):
            if times[k] >= border:
                counts[column] += edges
                seen[column] |= levels
                column = enter_column(times[k], column, before, np.nan, borders, seen, ends)
                border, edges, levels = borders[column + 1], 0, 0
            code = codes[k]
            edges += code != before
            levels |= 1 << code
            before = code
        counts[column] += edges
        seen[column] |= levels
        return column
    quantity = reals[begin - 1] if begin and ends.shape[0] else np.nan
    level = np.uint8(held)
    for k in range(begin, stop):
        column = enter_column(times[k], column, level, quantity, borders, seen, ends)
        level = np.uint8(codes[k] & 3)
        seen[column] |= 1 << level
        if flagged:
            counts[column] += codes[k] >> 7
        elif k:
            counts[column] += codes[k] != codes[k - 1]
        if ends.shape[0]:
            quantity = reals[k]
            ends[column, 0] = np.fmin(ends[column, 0], quantity)
            ends[column, 1] = np.fmax(ends[column, 1], quantity)
    return column


@njit(cache=True, nogil=True)
def fill_columns(
    times: Times,
    codes: Bytes,
    flagged: bool,
    reals: Reals,
    spans: Times,
    marks: Bytes,
    extremes: Reals,
    begins: Times,
    first: int,
    last: int,
    layer: int,
    borders: Times,
    near: int,
    seen: Bytes,
    counts: Times,
    ends: Reals,
) -> None:
    """Count the edges of changes `first` to `last` (not itself), which lie between the borders, into the columns.

    `seen` gets the levels as bits, also the one with which a column begins; `ends` (where it has rows) the least and
    largest quantity.  `codes` holds levels, or, where `flagged`, levels with 128 where a change is an edge.  A bucket
    whose changes lie no further apart than `near` counts for the column in which it begins.  The walk begins with the
    buckets of `layer` (0: changes) and goes down only where a bucket does not fit a column.
    """
    column, done = 0, first  # changes before `done` are counted
    held, quantity = np.uint8(4), np.nan
    if first:
        held = np.uint8(codes[first - 1] & 3)
        seen[0] |= 1 << held
        if ends.shape[0]:
            quantity = reals[first - 1]
            ends[0, 0] = ends[0, 1] = quantity
    sizes = np.ones(LAYERS, np.int64)
    for k in range(1, layer + 1):
        sizes[k] = sizes[k - 1] * (CHANGES if k == 1 else FOLD)
    while done < last:
        now = layer  # the largest bucket that begins here, is wanted whole and fits a column
        while now:
            size = sizes[now]
            if done % size == 0 and done + size <= last:
                at = begins[now - 1] + done // size
                begin, end = spans[at, 0], spans[at, 1]
                column = enter_column(begin, column, held, quantity, borders, seen, ends)
                if end < borders[column + 1] or end - begin <= near:
                    break
            now -= 1
        if now == 0:
            stop = min(last, (done // CHANGES + 1) * CHANGES) if layer else last
            column = count_changes(times, codes, flagged, reals, done, stop, column, held, borders, seen, counts, ends)
            done, held = stop, np.uint8(codes[stop - 1] & 3)
            if ends.shape[0]:
                quantity = reals[done - 1]
            continue
        done += sizes[now]
        seen[column] |= marks[at] & 15
        counts[column] += spans[at, 2]
        held = np.uint8(marks[at] >> 4)
        if ends.shape[0]:
            quantity = reals[done - 1]
            ends[column, 0] = np.fmin(ends[column, 0], extremes[at, 0])
            ends[column, 1] = np.fmax(ends[column, 1], extremes[at, 1])
    enter_column(borders[-1], column, held, quantity, borders, seen, ends)
