"""A thousand random driver programs for each processor: the same comparison as in the quick tests."""

from __future__ import annotations

import pytest

from tests import test_program_random, test_program_z80_random


@pytest.mark.parametrize("first", range(1000, 2000, 50))
def test_a_thousand_programs(first: int) -> None:
    """Writes, reads, polls, choices, ends and cycles of concrete runs all stand in the graph.

    Endless programs that keep old statuses in RAM may have more nodes than the bound: few, and the graph says so.
    """
    cut: list[int] = []
    compare = test_program_random.compare
    assert [words for seed in range(first, first + 50) if (words := compare(seed, cut=cut))] == []
    assert len(cut) <= 1


@pytest.mark.parametrize("first", range(1000, 2000, 50))
def test_a_thousand_z80_programs(first: int) -> None:
    """The same for the Z80, and the same touches on another machine."""
    compare = test_program_z80_random.compare
    assert [words for seed in range(first, first + 50) if (words := compare(seed))] == []
