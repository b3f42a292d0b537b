"""Compiled cutting of timed bytes into columns.

Arrays, one entry a byte, in order of time: `when` float64 in units of the time spread, `values` uint8, `runs` int64.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

if TYPE_CHECKING:
    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]
    Counts = npt.NDArray[np.int64]
    Floats = npt.NDArray[np.float64]

NEW_COLUMN = 3.0
"""Nats that a column costs: a byte that could be another."""
ODD_BYTE = 6.0
"""Nats for a byte that is not its column's."""
AGAIN = 4.5
"""Nats for a second byte of the same run in a column: a double."""


@njit(cache=True)
def cut(when: Floats, values: Bytes, runs: Counts, num_runs: int, drop: float, most: int, begins: Counts) -> int:
    """Cut the bytes into columns so that all together are likeliest; where each column begins, and how many there are.

    A column holds neighbours in time: its cost is the squared distance from its middle, the runs that lack it, the
    bytes that differ and those that a run has twice.  A column has `most` bytes at most.
    """
    num = when.shape[0]
    best = np.full(num + 1, np.inf)
    back = np.zeros(num + 1, np.int64)
    best[0] = 0.0
    lack, have = -math.log(drop), -math.log(1.0 - drop)
    seen = np.zeros(num_runs, np.int64)
    counts = np.zeros(256, np.int64)
    for a in range(num):
        if best[a] == np.inf:
            continue
        seen[:] = 0
        counts[:] = 0
        distinct = top = 0
        total = square = 0.0
        for b in range(a, min(num, a + most)):
            t = when[b] - when[a]
            total += t
            square += t * t
            if seen[runs[b]] == 0:
                distinct += 1
            seen[runs[b]] += 1
            counts[values[b]] += 1
            top = max(top, counts[values[b]])
            n = b - a + 1
            spread = 0.5 * (square - total * total / n)
            if spread > 60.0 + 4.0 * n:
                break
            cost = NEW_COLUMN + spread + distinct * have + (num_runs - distinct) * lack
            cost += (n - top) * ODD_BYTE + (n - distinct) * AGAIN
            if best[a] + cost < best[b + 1]:
                best[b + 1] = best[a] + cost
                back[b + 1] = a
    count = 0
    at = num
    while at > 0:
        count += 1
        at = back[at]
    at = num
    for k in range(count - 1, -1, -1):
        at = back[at]
        begins[k] = at
    return count
