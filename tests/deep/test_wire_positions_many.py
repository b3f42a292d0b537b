"""Merging with a known listener over many transmissions, against merging the same runs without."""

from __future__ import annotations

from latchlore.wire import merge
from latchlore.wire._simulate import KINDS
from tests.test_wire_positions import known_trial

NUM = 30


def test_merge_known_listener_many() -> None:
    """At least as often right for every kind of data and number of runs, within one of 30; more often in all."""
    without = known = 0
    for kind in KINDS:
        for num_runs in (4, 8):
            plain = better = 0
            for seed in range(NUM):
                told, runs, missed = known_trial(kind, num_runs, 1000 + seed)
                plain += merge(runs).sequence.data == told
                better += merge(runs, missed=missed).sequence.data == told
            print(f"{kind}, {num_runs} runs: {plain} of {NUM} without, {better} with", flush=True)
            assert better >= plain - 1
            without, known = without + plain, known + better
    assert known > without
