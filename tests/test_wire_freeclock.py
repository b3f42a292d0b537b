"""Merging runs of a handshake that runs free: pauses are evidence where times drift apart."""

from __future__ import annotations

import random

import numpy as np
import pytest

from latchlore.base import Span
from latchlore.wire import Run, merge
from latchlore.wire._freemend import free_clock, weigh_counts
from latchlore.wire._simulate import KINDS, transmission

US = 1_000_000


def free_trial(
    kind: str, loss: float, num_runs: int, jitter: float, seed: int, *, even: bool = False, waits: float = 0.0
) -> tuple[bytes, list[Run]]:
    """64 bytes, pauses of 100 us (`even`) or 50 to 200 us; in every run each pause strays by `jitter` of the shortest.

    `waits`: the chance that a host waits for something else once, for up to ten pauses.
    """
    rng = random.Random(f"free {kind} {seed}")
    sent = transmission(kind, 64, rng)
    gaps = [100 if even else rng.randrange(50, 200) for _ in sent]
    spread = jitter * min(gaps)
    runs: list[Run] = []
    for _ in range(num_runs):
        now = rng.random() * 1000
        data, times = bytearray(), []
        for value, gap in zip(sent, gaps, strict=True):
            now += max(gap / 5, gap + rng.gauss(0, spread))
            if rng.random() < waits:
                now += rng.random() * 1000
            if rng.random() >= loss:
                data.append(value)
                times.append(Span(int(now * US)))
        runs.append(Run.of(bytes(data), times=times))
    return sent, runs


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("even", [False, True])
def test_merge_free_running(kind: str, even: bool) -> None:
    """40 % lost, 20 runs: right although times drift by a whole pause and more (tests/deep has many)."""
    sent, runs = free_trial(kind, 0.4, 20, 0.15, 1, even=even)
    assert merge(runs).sequence.data == sent


def test_merge_free_running_waits() -> None:
    """A host that waits once in a while for something else does not disturb it."""
    sent, runs = free_trial("command", 0.2, 10, 0.1, 7, waits=0.05)
    assert merge(runs).sequence.data == sent


def test_merge_free_running_counts() -> None:
    """Ten equal bytes at even pauses, 30 % lost: without times the number is open, by the pauses it is certain."""
    rng = random.Random(2)
    sent = b"A" + b" " * 10 + b"B"
    runs: list[Run] = []
    for _ in range(12):
        now, data, times = 0.0, bytearray(), []
        for value in sent:
            now += 100 + rng.gauss(0, 8)
            if rng.random() >= 0.3:
                data.append(value)
                times.append(Span(int(now * US)))
        runs.append(Run.of(bytes(data), times=times))
    timed = merge(runs)
    assert timed.sequence.data == sent
    assert timed.repeats[0].counts[0][1] > 0.95
    assert merge([Run.of(run.data) for run in runs]).repeats[0].counts[0][1] < 0.95


def test_merge_free_running_open() -> None:
    """Pauses that spread by half of themselves cannot count: no number of equal bytes is then given as certain."""
    said = wrong = 0
    for seed in range(2):
        sent, runs = free_trial("command", 0.3, 8, 0.5, seed, even=True)
        found = merge(runs).sequence
        said += found.confidence > 0.95
        wrong += found.confidence > 0.95 and found.data != sent
    assert wrong == 0


def test_free_clock() -> None:
    """The clock has a column for every byte and the spread of one pause."""
    sent, runs = free_trial("random", 0.2, 8, 0.15, 1, even=True)
    times = [np.array([t.picoseconds for t in run.times or () if t], np.float64) for run in runs]
    clock = free_clock([run.data for run in runs], times, 0.2)
    assert clock is not None
    assert bytes(clock.values) == sent
    assert clock.spread_ps == pytest.approx(15 * US, rel=0.25)


def test_free_clock_wrong() -> None:
    """Runs of one byte, and runs that share nothing, have no clock of pauses."""
    one = [np.array([5.0 * US])] * 3
    assert free_clock([b"A", b"A", b"A"], one, 0.1) is None
    rng = np.random.default_rng(1)
    strange = [np.cumsum(rng.uniform(50, 150, 20)) * US for _ in range(4)]
    assert free_clock([bytes([k] * 20) for k in range(4)], strange, 0.1) is None


def test_weigh_counts() -> None:
    """A byte too many, and one too few, in a run of equal ones is found out by the pauses."""
    rng = random.Random(4)
    sent = b"TIDE" + b"." * 6 + b"HYTHE"
    runs, times = [], []
    for _ in range(8):
        keep = [k for k in range(len(sent)) if rng.random() >= 0.2]
        pauses = np.cumsum([100 + rng.gauss(0, 6) for _ in sent])
        runs.append(bytes(sent[k] for k in keep))
        times.append(pauses[keep] * US)
    for number, best in ((5, 1), (6, 0), (7, -1)):
        data = b"TIDE" + b"." * number + b"HYTHE"
        columns = np.concatenate([np.arange(1, 5), np.linspace(5, 10, number), np.arange(11, 16)]) * 100.0 * US
        gains = weigh_counts(runs, times, list(data), columns, 0.2).gains
        assert max((gains[4, 1], 1), (gains[4, -1], -1), (0.0, 0))[1] == best
