"""How often the verdicts on two recordings are right: simulated truths, run by hand."""

from __future__ import annotations

import random
from itertools import product

import pytest

from latchlore.base import Span
from latchlore.wire import Run, Verdict, compare_peers

US = 1_000_000
LENGTH = 500
SEEDS = range(100, 140)
"""The threshold was chosen on seeds 0 to 19."""


def heard(sent: bytes, times: list[int], lose: set[int], double: set[int]) -> tuple[Run, list[int]]:
    """What a listener hears, a byte read twice 2 us later; of each byte which of those sent it is."""
    data, at, places = bytearray(), [], []
    for k, byte in enumerate(sent):
        for again in range(0 if k in lose else 2 if k in double else 1):
            data.append(byte)
            at.append(Span(times[k] + again * 2 * US))
            places.append(k)
    return Run.of(bytes(data), times=at), places


def judged(seed: int, loss: float, jitter: float, line: int) -> tuple[int, int, int]:
    """Steps, right verdicts, wrong verdicts; a pause 40 times as long after every `line` bytes, 0: none."""
    rng = random.Random(seed)
    sent = bytes(rng.choice(b"     THE TIDE 0011") for _ in range(LENGTH))
    times = [0]
    for k in range(1, LENGTH):
        gap = 100 * US * rng.uniform(1 - jitter, 1 + jitter) * (40 if line and k % line == 0 else 1)
        times.append(times[-1] + int(gap))
    lost = [{k for k in range(LENGTH) if rng.random() < loss} for _ in (0, 1)]
    double = [{k for k in range(LENGTH) if rng.random() < loss / 2 and k not in lost[side]} for side in (0, 1)]
    runs = [heard(sent, times, lost[side], double[side]) for side in (0, 1)]
    report = compare_peers(runs[0][0], runs[1][0])
    right = wrong = 0
    for step in report.steps:
        if step.wrong is None:
            continue
        owner = 0 if step.second is None else 1
        places = set(runs[owner][1][step.low : step.high + 1])  # it may be any of the equal ones
        true = bool(places & (lost[1 - owner] if step.verdict is Verdict.LOST else double[owner]))
        right += true
        wrong += not true
    return len(report.steps), right, wrong


@pytest.mark.parametrize(("loss", "told"), [(0.01, 0.85), (0.05, 0.5), (0.2, 0.15)])
def test_compare_peers_verdicts(loss: float, told: float) -> None:
    """Verdicts are right, at most 1 of 500 excepted, and not rarer than the document says.

    The wrong ones: a byte read twice beside two lost ones, where fewer steps than truly happened explain the bytes.
    """
    totals = [0, 0, 0]
    for seed, jitter, line in product(SEEDS, (0.05, 0.15, 0.3), (0, 24)):
        totals = [a + b for a, b in zip(totals, judged(seed, loss, jitter, line), strict=True)]
    steps, right, wrong = totals
    print(f"loss {loss}: {steps} steps, {right} right, {wrong} wrong")
    assert wrong * 500 <= right
    assert right >= told * steps
