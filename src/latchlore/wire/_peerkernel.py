"""Compiled alignment of two byte strings by fewest steps and, among those, by their times."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import njit

if TYPE_CHECKING:
    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]
    Times = npt.NDArray[np.int64]

UNTIMED = np.iinfo(np.int64).min
"""The time of a byte that has none."""
PAIR, ONLY_FIRST, ONLY_SECOND = range(3)
MISFIT_MOST = 1 << 40


@njit(cache=True, nogil=True)
def align(first: Bytes, second: Bytes, first_at: Times, second_at: Times) -> Bytes:
    """The way through both strings: `PAIR`, `ONLY_FIRST` or `ONLY_SECOND`, in order.

    Fewest steps (a pair of different bytes is one) come first; of ways with as few, the one in which the times of the
    pairs, on one clock, lie nearest together.  Times are picoseconds; a byte that is `UNTIMED` fits anywhere.
    """
    rows, columns = first.shape[0] + 1, second.shape[0] + 1
    steps, misfit = np.empty((2, columns), np.int64), np.empty((2, columns), np.int64)
    came = np.empty((rows, columns), np.uint8)
    for j in range(columns):
        steps[0, j], misfit[0, j], came[0, j] = j, 0, ONLY_SECOND
    for i in range(1, rows):
        now, last = i & 1, 1 - (i & 1)
        steps[now, 0], misfit[now, 0], came[i, 0] = i, 0, ONLY_FIRST
        for j in range(1, columns):
            apart = 0
            if first_at[i - 1] != UNTIMED and second_at[j - 1] != UNTIMED:
                apart = min(abs(first_at[i - 1] - second_at[j - 1]), MISFIT_MOST)
            best, far, way = steps[last, j - 1] + (first[i - 1] != second[j - 1]), misfit[last, j - 1] + apart, PAIR
            if (steps[last, j] + 1, misfit[last, j]) < (best, far):
                best, far, way = steps[last, j] + 1, misfit[last, j], ONLY_FIRST
            if (steps[now, j - 1] + 1, misfit[now, j - 1]) < (best, far):
                best, far, way = steps[now, j - 1] + 1, misfit[now, j - 1], ONLY_SECOND
            steps[now, j], misfit[now, j], came[i, j] = best, far, way
    out = np.empty(rows + columns, np.uint8)
    at, i, j = rows + columns, rows - 1, columns - 1
    while i or j:
        at -= 1
        way = came[i, j]
        out[at] = way
        i -= way != ONLY_SECOND
        j -= way != ONLY_FIRST
    return out[at:].copy()
