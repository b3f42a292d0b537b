"""Which runs are of one transmission: two kinds among them are told apart, and a run that goes on is no stranger."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from rapidfuzz.distance import LCSseq

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

LOOKED_AT = 2000
"""So many bytes of each run are compared with those of the others."""
APART = 0.12
"""Two kinds are looked for where runs of one kind share so much more with each other than with those of the other."""
MOST_TURNS = 10
GOES_ON, LEAST_SHARED = 0.8, 6
"""A run goes on where others stop if it begins with so much of their result, of so many bytes at least."""


def split(runs: Sequence[bytes]) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
    """Two kinds of runs, two of each at least, that share clearly less with each other than among themselves; or None.

    The larger kind stands first; of kinds as large, the one with more bytes.  Indices rise.
    """
    num = len(runs)
    if num < 4:
        return None
    alike = _likeness(runs)
    outside = alike - np.diag(np.full(num, np.nan))  # a run's likeness to itself tells nothing
    centred = alike - alike.mean(axis=0)[None, :] - alike.mean(axis=1)[:, None] + alike.mean()
    first = np.linalg.eigh(centred)[1][:, -1] > 0
    for _ in range(MOST_TURNS):
        if min(int(first.sum()), int((~first).sum())) < 2:
            return None
        nearer = np.nanmean(outside[:, first], axis=1) > np.nanmean(outside[:, ~first], axis=1)
        if (nearer == first).all():
            break
        first = nearer
    if min(int(first.sum()), int((~first).sum())) < 2:
        return None
    between = float(alike[np.ix_(first, ~first)].mean())
    within = min(float(np.nanmean(outside[np.ix_(one, one)])) for one in (first, ~first))
    if between > within - APART:
        return None
    kinds = [tuple(int(k) for k in np.flatnonzero(one)) for one in (first, ~first)]
    kinds.sort(key=lambda kind: (-len(kind), -sum(len(runs[k]) for k in kind), sorted(runs[k] for k in kind)))
    return kinds[0], kinds[1]


def _likeness(runs: Sequence[bytes]) -> Floats:
    """For every two runs, the part of the shorter one's bytes that both hold in order."""
    heads = [run[:LOOKED_AT] for run in runs]
    alike = np.ones((len(runs), len(runs)))
    for k, one in enumerate(heads):
        for m in range(k):
            shared = LCSseq.similarity(one, heads[m]) / max(1, min(len(one), len(heads[m])))
            alike[k, m] = alike[m, k] = shared
    return alike


def goes_on(result: bytes, run: bytes) -> bool:
    """Whether a run is what others hold and goes on after their end, or began before their start."""
    reach = len(result) + len(result) // 5
    if len(run) <= len(result) or len(result) < LEAST_SHARED:
        return False
    heads = ((result, run[:reach]), (result[::-1], run[::-1][:reach]))
    return any(LCSseq.similarity(one, other) >= GOES_ON * len(result) for one, other in heads)
