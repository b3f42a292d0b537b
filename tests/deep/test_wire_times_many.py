"""Merging with times over many transmissions."""

from __future__ import annotations

from latchlore.wire import merge
from latchlore.wire._simulate import KINDS
from tests.test_wire_times import timed_trial


def test_merge_with_times_many() -> None:
    """64 bytes, 40 % lost, 20 runs, times of 15 % jitter: right in at least 99 % of 180."""
    right = dict.fromkeys(KINDS, 0)
    for kind in KINDS:
        for seed in range(60):
            sent, runs = timed_trial(kind, 0.4, 20, 0.15, 1000 + seed)
            right[kind] += merge(runs).sequence.data == sent
    print(right)
    assert sum(right.values()) >= 0.99 * 180
