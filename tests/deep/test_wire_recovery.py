"""The grid of exact recovery against an independent study, and against what can be known at all."""

from __future__ import annotations

import math

from tests.recoverygrid import find_limit, iter_cells


def test_recovery() -> None:
    """No cell lies three standard deviations below the study's, unless what can be known at all does.

    With 60 cells compared, three deviations are met by chance in one grid of twelve.
    """
    for cell in iter_cells((8, 100), 1.0, "deep "):
        if cell.study is None:
            continue
        print(cell, f"{cell.behind:.1f} deviations below", flush=True)
        if cell.behind > 3:
            limit = find_limit(cell.kind, cell.length, cell.loss, cell.num_runs)
            assert cell.kind == "command", cell
            assert cell.share >= limit - 3 * math.hypot(cell.error, math.sqrt(limit * (1 - limit) / 100)), (cell, limit)
