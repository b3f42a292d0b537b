"""Compiled placing of a run on a draft by its pauses: what counts is how long two bytes lie apart, not when they come.

Arrays: `when` float64 the times of the run's bytes, `values` uint8 the bytes; `columns` float64 the times of the
draft's columns, `drafted` uint8 their bytes; all times in units of the spread of one pause.
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

REACH = 10
"""So many columns, and bytes, may be passed over between two bytes whose distance is compared."""
HALF_LOG = np.array([0.0, *(0.5 * math.log(k) for k in range(1, REACH + 1))])
ODD_PAUSE = 8.0
"""Nats for a pause that is nothing like the draft's: a host that waits for something else once."""


@njit(cache=True, nogil=True)
def place(
    when: Floats,
    values: Bytes,
    columns: Floats,
    drafted: Bytes,
    passed: Floats,
    gain: Floats,
    new: float,
    owner: Counts,
) -> float:
    """The likeliest columns of a run's bytes: `owner[j]`, -1 for a byte that the draft lacks; and how likely, in nats.

    `passed[i]`: nats for passing over column i; `gain[y]`: for a byte that is the column's; `new`: for one that the
    draft lacks.  Only equal bytes are placed; a pause over k columns spreads as the root of k.
    """
    num, length = when.shape[0], columns.shape[0]
    owner[:] = -1
    best = np.full((length, num), -np.inf)
    back = np.full((length, num), -1, np.int64)
    skipped = np.zeros(length + 1)
    for i in range(length):
        skipped[i + 1] = skipped[i] + passed[i]
    # the best placing so far among earlier columns and bytes, as if nothing were passed over afterwards
    top = np.full((length + 1, num + 1), -np.inf)
    top_at = np.full((length + 1, num + 1), -1, np.int64)
    for i in range(length):
        for j in range(num):
            if drafted[i] == values[j]:
                score, link = -skipped[i] - new * j, -1
                other = top[i, j] - skipped[i] - new * (j - 1) - ODD_PAUSE
                if other > score:
                    score, link = other, int(top_at[i, j])
                for di in range(1, min(i, REACH) + 1):
                    apart = columns[i] - columns[i - di]
                    for dj in range(1, min(j, REACH) + 1):
                        before = best[i - di, j - dj]
                        if before == -np.inf:
                            continue
                        off = when[j] - when[j - dj] - apart
                        odd = 0.5 * off * off / max(di, dj) + HALF_LOG[max(di, dj)]
                        if odd < ODD_PAUSE:
                            other = before - odd - (skipped[i] - skipped[i - di + 1]) - new * (dj - 1)
                            if other > score:
                                score, link = other, (i - di) * num + j - dj
                best[i, j] = score + gain[values[j]]
                back[i, j] = link
            here = best[i, j] + skipped[i + 1] + new * j
            top[i + 1, j + 1], top_at[i + 1, j + 1] = here, i * num + j
            if top[i, j + 1] >= here:
                top[i + 1, j + 1], top_at[i + 1, j + 1] = top[i, j + 1], top_at[i, j + 1]
            if top[i + 1, j] > top[i + 1, j + 1]:
                top[i + 1, j + 1], top_at[i + 1, j + 1] = top[i + 1, j], top_at[i + 1, j]
    link = int(top_at[length, num])
    if link < 0 or top[length, num] - skipped[length] - new * (num - 1) < -skipped[length] - new * num:
        nothing: float = -skipped[length] - new * num
        return nothing
    likely: float = top[length, num] - skipped[length] - new * (num - 1)
    while link >= 0:
        i, j = link // num, link % num
        owner[j] = i
        link = int(back[i, j])
    return likely


@njit(cache=True, nogil=True)
def fit_pauses(sums: Floats, counts: Floats, since: Counts, until: Counts, spans: Floats, pauses: Floats) -> None:
    """One turn of fitting the draft's pauses (`pauses[i]` before column i + 1) to measured spans, in place.

    Span s runs from column `since[s]` to `until[s]` and lasts `spans[s]`; what it is longer than the pauses in it is
    shared out alike.  `sums` and `counts`: room, one a pause.
    """
    sums[:] = 0.0
    counts[:] = 0.0
    for s in range(spans.shape[0]):
        a, b = since[s], until[s]
        whole = 0.0
        for i in range(a, b):
            whole += pauses[i]
        more = (spans[s] - whole) / (b - a)
        # a pause that was odd once must not stretch the draft
        weight = 1.0 / (1.0 + more * more * (b - a) / 16.0)
        for i in range(a, b):
            sums[i] += weight * more
            counts[i] += weight
    for i in range(pauses.shape[0]):
        if counts[i] > 0.0:
            pauses[i] += sums[i] / counts[i]
