"""Layouts of many random pictures."""

from __future__ import annotations

import random

from latchlore.device import Layout, rank_layouts
from tests.test_device_layouts import Picture, write

LAYOUTS = [Layout(True, high, unit, 8 * unit) for high in (True, False) for unit in (1, 2, 3)]
LAYOUTS += [Layout(False, high, 12, 1) for high in (True, False)]


def blocks_of_dots(rng: random.Random) -> Picture:
    """Eight rectangles on 96 by 96 dots, where they overlap turned over."""
    picture = [[0] * 96 for _ in range(96)]
    for _ in range(8):
        left, top, width, height = rng.randrange(90), rng.randrange(90), rng.randrange(3, 30), rng.randrange(3, 30)
        for y in range(top, min(96, top + height)):
            for x in range(left, min(96, left + width)):
                picture[y][x] ^= 1
    return picture


def test_rank_layouts_many() -> None:
    """Of 400 sparse pictures nearly half are decided, at most two of them wrongly; no tie leaves the right one out."""
    right = wrong = left_out = 0
    for seed in range(400):
        rng = random.Random(seed)
        picture, layout = blocks_of_dots(rng), rng.choice(LAYOUTS)
        ranking = rank_layouts(write(picture, layout))
        right += ranking.tied == (layout,)
        wrong += ranking.is_decided and ranking.tied != (layout,)
        left_out += layout not in ranking.tied and not ranking.is_decided
    print(f"of 400: {right} decided rightly, {wrong} wrongly, {left_out} ties without the right one")
    assert right >= 150
    assert wrong + left_out <= 2
