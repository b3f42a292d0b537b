"""How many runs a merge needs."""

from __future__ import annotations

import math
import random

import pytest

from latchlore.wire import Run, merge, runs_for_counts, runs_for_order, runs_needed
from latchlore.wire._simulate import heard, transmission


def test_runs_for_order() -> None:
    """The number is the least at which every pair is ordered but for the accepted chance (union bound, by hand)."""
    for length, loss in ((8, 0.2), (100, 0.4), (1000, 0.05)):
        n = runs_for_order(length, loss)
        left = [(length - 1) * (1 - (1 - loss) ** 2) ** k for k in (n - 1, n)]
        assert left[0] > 0.01 >= left[1]


def test_runs_for_order_simulated() -> None:
    """With that many runs, all neighbours have met in 99 % of simulated cases."""
    rng = random.Random(1)
    length, loss = 30, 0.3
    n = runs_for_order(length, loss)
    good = 0
    for _ in range(600):
        runs = [[rng.random() >= loss for _ in range(length)] for _ in range(n)]
        good += all(any(run[i] and run[i + 1] for run in runs) for i in range(length - 1))
    assert good / 600 >= 0.98


def test_runs_for_counts() -> None:
    """Counting longer runs of equal bytes takes more runs; the binomial sum by hand agrees on the size."""
    assert runs_for_counts([2], 0.2) < runs_for_counts([8], 0.2) < runs_for_counts([8, 8, 8], 0.2)
    k, loss = 8, 0.2
    n = runs_for_counts([k], loss)
    # Chance that k + 1 bytes look like k: the mean count lies below the midpoint.
    total = n * (k + 1)
    limit = n * (k + 0.5) * (1 - loss)
    wrong = sum(math.comb(total, c) * (1 - loss) ** c * loss ** (total - c) for c in range(total + 1) if c < limit)
    assert wrong < 0.012


def test_runs_needed_bounds() -> None:
    """Nothing lost: one run; nearly all lost: the bound; never less than the order asks for."""
    assert runs_needed(50, [], 0.0) == 1
    assert runs_needed(50, [3], 0.9999) == 10_000
    assert runs_needed(100, [], 0.4) == runs_for_order(100, 0.4)
    assert runs_needed(1, [], 0.5) == 1


def test_runs_for_order_known() -> None:
    """100 bytes at 20 % loss: ln(0.01 / 99) / ln(0.36) = 9.005, so 10 runs."""
    assert runs_for_order(100, 0.2) == 10
    assert math.log(0.01 / 99) / math.log(0.36) == pytest.approx(9.005, abs=1e-3)


def right_after_asking(kind: str, length: int, loss: float, begin_with: int, seed: int) -> bool:
    """Whether a merge is exactly right once it has been given as many further runs as it asked for."""
    rng = random.Random(f"needed {kind} {length} {loss} {seed}")
    sent = transmission(kind, length, rng)
    runs = [Run.of(heard(sent, rng, loss=loss)) for _ in range(begin_with)]
    found = merge(runs)
    more = found.further_runs or 0
    if more:
        found = merge([*runs, *(Run.of(heard(sent, rng, loss=loss)) for _ in range(more))])
    return found.sequence.data == sent


def test_further_runs_simulated() -> None:
    """The number of runs that a merge asks for makes it right (here all of 8; tests/deep has 360)."""
    for kind, loss, begin_with in (("text", 0.2, 6), ("command", 0.05, 4)):
        assert all(right_after_asking(kind, 24, loss, begin_with, seed) for seed in range(4))
