"""Merging with times: order and counts that losses hide come back."""

from __future__ import annotations

import random

import numpy as np
import pytest

from latchlore.base import Span
from latchlore.wire import Run, merge
from latchlore.wire._simulate import KINDS, transmission


def timed_trial(
    kind: str, loss: float, num_runs: int, jitter: float, seed: int, length: int = 64
) -> tuple[bytes, list[Run]]:
    """Uneven pauses of 50 to 200 us; each run begins when it likes; `jitter`: part of the shortest pause."""
    rng = random.Random(f"{kind} {seed}")
    sent = transmission(kind, length, rng)
    gaps = [rng.randrange(50, 200) for _ in range(length)]
    moments = np.cumsum(gaps) * 1_000_000
    spread = jitter * min(gaps) * 1_000_000
    runs: list[Run] = []
    for _ in range(num_runs):
        offset = rng.random() * 1e9
        keep = [i for i in range(length) if rng.random() >= loss]
        times = sorted(int(offset + moments[i] + rng.gauss(0, spread)) for i in keep)
        runs.append(Run.of(bytes(sent[i] for i in keep), times=[Span(time) for time in times]))
    return sent, runs


@pytest.mark.parametrize("kind", KINDS)
def test_merge_with_times(kind: str) -> None:
    """64 bytes, 40 % lost, 20 runs, times of 15 % jitter: right in at least 99 % (here all of 6; tests/deep: 60)."""
    for seed in range(6):
        sent, runs = timed_trial(kind, 0.4, 20, 0.15, seed)
        assert merge(runs).sequence.data == sent


def test_merge_with_times_counts() -> None:
    """Ten equal bytes, 40 % lost: without times the number stays open, with times it is certain."""
    rng = random.Random(1)
    sent = b"A" + b" " * 10 + b"B"
    runs: list[Run] = []
    for _ in range(12):
        keep = [k for k in range(len(sent)) if rng.random() >= 0.4]
        times = [Span.of(us=100 * k + rng.randrange(8)) for k in keep]
        runs.append(Run.of(bytes(sent[k] for k in keep), times=times))
    timed = merge(runs)
    assert timed.sequence.data == sent
    assert timed.repeats[0].counts[0][1] > 0.99
    plain = merge([Run.of(run.data) for run in runs])
    assert plain.repeats[0].counts[0][1] < 0.95


def test_merge_with_times_partly() -> None:
    """Runs of which some bytes have no time are merged as if none had; order of the runs does not matter."""
    sent, runs = timed_trial("text", 0.2, 6, 0.15, 3)
    first = runs[0]
    assert first.times is not None
    holes = Run.of(first.data, times=[None, *first.times[1:]])
    without = merge([Run.of(run.data) for run in runs])
    assert merge([holes, *runs[1:]]).sequence == without.sequence
    assert merge(runs).sequence.data == merge(runs[::-1]).sequence.data == sent


def test_merge_with_times_rough() -> None:
    """Times that spread over several bytes tell no order and are left out."""
    _, runs = timed_trial("random", 0.2, 6, 3.0, 3)
    assert merge(runs).sequence == merge([Run.of(run.data) for run in runs]).sequence
