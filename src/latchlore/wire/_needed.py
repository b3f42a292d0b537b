"""How many runs it takes until a merge is right.

Two neighbours are put in order only by a run that holds both: with loss rate p and n runs, a pair stays without
order with (1 - (1-p)^2)^n, so all L - 1 pairs are ordered but for a chance a once
n >= ln(a / (L-1)) / ln(1 - (1-p)^2).  A run of k equal bytes can only be counted: the mean of n binomial counts
must tell k from k + 1.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

MISS = 0.01
"""Accepted chance that the merge is wrong."""
MOST_RUNS = 10_000


def runs_for_order(length: int, loss: float, miss: float = MISS) -> int:
    """Runs until every two neighbours stand together in one of them, but for a chance `miss`."""
    if length < 2 or loss <= 0:
        return 1
    both = (1 - loss) ** 2
    if both < 1e-6:
        return MOST_RUNS
    return max(1, math.ceil(math.log(miss / (length - 1)) / math.log1p(-both)))


def runs_for_counts(groups: Sequence[int], loss: float, miss: float = MISS) -> int:
    """Runs until the numbers of equal bytes (each at least 2) can be counted, but for a chance `miss` in all.

    The midpoint between k (1-p) and (k+1) (1-p) lies (1-p)/2 from the mean count, whose spread is
    sqrt(k p (1-p) / n); the normal distribution gives n.
    """
    if not groups or loss <= 0:
        return 1
    if loss > 0.999:
        return MOST_RUNS
    low, high = 1, MOST_RUNS
    while low < high:
        middle = (low + high) // 2
        wrong = sum(math.erfc(0.5 * math.sqrt(middle * (1 - loss) / (2 * (k + 0.5) * loss))) for k in groups)
        low, high = (low, middle) if wrong <= miss else (middle + 1, high)
    return low


def runs_needed(length: int, groups: Sequence[int], loss: float, miss: float = MISS) -> int:
    """Runs until order and counts are right, but for a chance `miss`."""
    return min(MOST_RUNS, max(runs_for_order(length, loss, miss), runs_for_counts(groups, loss, miss)))
