"""Certain and possible addresses over the completions of many boards traced in part."""

from __future__ import annotations

import pytest

from tests.test_board_certain import SERIES, check_cut


@pytest.mark.parametrize("series", SERIES, ids="-".join)
def test_certain_over_many_completions(series: tuple[str, ...]) -> None:
    """Sixty boards of each kind, about a hundred completions each."""
    found = [check_cut(seed, series, 100) for seed in range(1000, 1060)]
    assert sum(certain for certain, _ in found) > 100
    assert sum(doubtful for _, doubtful in found) > 500
