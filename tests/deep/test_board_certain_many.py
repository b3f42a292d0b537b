"""Certain and possible addresses over the completions of many boards traced in part."""

from __future__ import annotations

import pytest

from tests.test_board_certain import SERIES, check_cut


@pytest.mark.parametrize("series", SERIES, ids="-".join)
def test_certain_over_many_completions(series: tuple[str, ...]) -> None:
    """Sixty boards of each kind, about two dozen completions each."""
    found = [check_cut(seed, series, 24) for seed in range(1000, 1060)]
    assert sum(certain for certain, _ in found) > 0
    assert sum(doubtful for _, doubtful in found) > 0
