"""The planner's order on two thousand random problems of three rivals, against the search over all plans."""

from __future__ import annotations

import random

import pytest

from latchlore.evidence import order_trials
from tests.test_evidence_trials import exhaustive, problem


@pytest.mark.parametrize("seed", range(4))
def test_order_is_exhaustive(seed: int) -> None:
    """Order and worths, five hundred problems a seed, looking one, two and three trials ahead."""
    rng = random.Random(1000 + seed)
    for number in range(500):
        weights, trials = problem(rng)
        ahead = 1 + number % 3
        found = order_trials(weights, trials, ahead)
        expected, _ = exhaustive(weights, trials, ahead)
        assert [one.trial.name for one in found] == [name for name, _ in expected]
        assert [one.worth for one in found] == pytest.approx([worth for _, worth in expected], rel=1e-9, abs=1e-12)
