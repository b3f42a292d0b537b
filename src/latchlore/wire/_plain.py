"""The model of `_kernel` in plain Python: slow, whole tables, no windows; the referee of the compiled arithmetic."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True)
class Listener:
    """The rates of `_kernel`, as plain numbers.  `drop_r` and `drop_d`: one per column.  `reads[x][y]`."""

    drop_r: Sequence[float]
    drop_d: Sequence[float]
    reads: Sequence[Sequence[float]]
    double: float
    foreign: float


Row = list[tuple[float, float]]


def rows(sent: bytes, run: bytes, listener: Listener) -> list[Row]:
    """For every number of columns passed, and bytes used: the probability of state R and of state D."""
    any_byte = listener.foreign / 256
    table: list[Row] = [[(any_byte**j, 0.0) for j in range(len(run) + 1)]]
    leave_r, leave_d = 1 - listener.double - listener.foreign, 1 - listener.foreign
    for i, x in enumerate(sent):
        row: Row = []
        for j in range(len(run) + 1):
            above_r, above_d = table[i][j]
            got = 0.0
            gone = above_r * leave_r * listener.drop_r[i] + above_d * leave_d * listener.drop_d[i]
            if j:
                y = run[j - 1]
                corner_r, corner_d = table[i][j - 1]
                enter = corner_r * leave_r * (1 - listener.drop_r[i]) + corner_d * leave_d * (1 - listener.drop_d[i])
                left_r, left_d = row[j - 1]
                got = enter * listener.reads[x][y] + left_r * (listener.double * listener.reads[x][y] + any_byte)
                gone += left_d * any_byte
            row.append((got, gone))
        table.append(row)
    return table


def log_likelihood(sent: bytes, run: bytes, listener: Listener) -> float:
    """Natural logarithm of the chance that this listener hears `run` when `sent` is sent; -inf if it cannot."""
    got, gone = rows(sent, run, listener)[-1][-1]
    total = got * (1 - listener.double - listener.foreign) + gone * (1 - listener.foreign)
    return math.log(total) if total > 0 else -math.inf
