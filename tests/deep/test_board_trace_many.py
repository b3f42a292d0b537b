"""The tracing guide on boards of 14 chips, with one action in a hundred wrong."""

from __future__ import annotations

import pytest

from latchlore.board.tracing import conclude
from tests.test_board_trace_guide import labels, trace
from tests.traceboards import Bench, draw, wrong_joints


@pytest.mark.parametrize("seed", [820, 821, 822])
def test_trace_with_mistakes(seed: int) -> None:
    """At most one joint stays wrong, and a doubt stands beside whatever is."""
    drawn = draw(seed, 14)
    traced = conclude(drawn.board, trace(drawn, Bench(drawn, 0.01, seed), strips=True))
    found = labels(traced.board)
    assert sum(wrong_joints(drawn, found)) <= 1
    doubted = {doubt.place for doubt in traced.board.doubts}
    for net in drawn.nets:
        pieces = {found[at] for at in net}
        beside = {found[at] for at in found if str(at) in doubted}
        assert len(pieces) == 1 or pieces & beside
