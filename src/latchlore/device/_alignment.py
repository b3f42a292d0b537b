"""Where bytes are missing in a row of data, judged by its neighbours."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

MAX_UNLIKE = 0.5
"""A neighbour from which more than half of the bytes differ says nothing about the place."""


@dataclass(frozen=True, slots=True)
class Gap:
    """Places (from 0) that may be missing.

    `sure`: missing in every best alignment; `possible`: missing in some but not all.  `values`: what the neighbour has
    at the sure places.  `differing`: how many of the bytes that are there differ from the neighbour.
    """

    sure: tuple[int, ...]
    possible: tuple[int, ...]
    values: bytes
    differing: int

    def __str__(self) -> str:
        words = []
        if self.sure:
            places = ", ".join(str(place + 1) for place in self.sure)
            shown = " ".join(f"{value:02X}" for value in self.values)
            words.append(f"column{'s' if len(self.sure) > 1 else ''} {places}, {shown} in the neighbouring row")
        if self.possible:
            places = ", ".join(str(place + 1) for place in self.possible)
            words.append(f"{'the rest' if self.sure else 'some'} among columns {places}")
        return "; ".join(words)


def find_gap(short: bytes, neighbours: Sequence[bytes]) -> Gap | None:
    """Which places of a row are missing in `short`, by the neighbour (a complete row) that it resembles most.

    Every alignment with the fewest differing bytes counts.  None where no neighbour resembles it.
    """
    gaps = [gap for gap in (_gap(short, whole) for whole in neighbours) if gap.differing <= MAX_UNLIKE * len(short)]
    return min(gaps, key=lambda gap: (gap.differing, len(gap.possible)), default=None)


def _gap(short: bytes, whole: bytes) -> Gap:
    """Fewest differences when `short` is laid into `whole` in order; before[i][j]: the first i into the first j."""
    rows, columns = len(short), len(whole)
    before = _table(short, whole)
    behind = [row[::-1] for row in reversed(_table(short[::-1], whole[::-1]))]
    best = before[rows][columns]
    skipped, used = set(), set()
    for i in range(rows + 1):
        for j in range(columns):
            if before[i][j] + behind[i][j + 1] == best:
                skipped.add(j)
            if i < rows and before[i][j] + (short[i] != whole[j]) + behind[i + 1][j + 1] == best:
                used.add(j)
    sure = tuple(sorted(skipped - used))
    return Gap(sure, tuple(sorted(skipped & used)), bytes(whole[j] for j in sure), int(best))


def _table(short: bytes, whole: bytes) -> list[list[float]]:
    rows, columns = len(short), len(whole)
    table = [[float("inf")] * (columns + 1) for _ in range(rows + 1)]
    table[0] = [0.0] * (columns + 1)
    for i in range(1, rows + 1):
        for j in range(i, columns + 1):
            laid = table[i - 1][j - 1] + (short[i - 1] != whole[j - 1])
            table[i][j] = min(laid, table[i][j - 1])
    return table
