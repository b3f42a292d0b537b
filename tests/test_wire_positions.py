"""Merging with a known listener: the chance of missing each byte is evidence of order and number."""

from __future__ import annotations

import random

import pytest

from latchlore.base import Span
from latchlore.wire import HostTimes, Listener, Run, merge, predict_misses, simulate_listener
from latchlore.wire._simulate import transmission


def us(value: float) -> Span:
    """Microseconds."""
    return Span(round(value * 10**6))


def known_trial(kind: str, num_runs: int, seed: int) -> tuple[bytes, list[Run], tuple[float, ...]]:
    """64 bytes at an even pace of 47 us, a listener of 52 us: what can be heard, the runs, the chances of misses."""
    rng = random.Random(f"known {kind} {seed}")
    sent = transmission(kind, 64, rng)
    host = HostTimes.regular(64, us(47), setup=us(2))
    listener = Listener(us(3), us(52), jitter=us(9), reads=us(4), depth=rng.randrange(2))
    heard = [simulate_listener(host, listener, rng.randrange(1 << 30)) for _ in range(num_runs)]
    missed = predict_misses(host, listener).missed
    told = bytes(value for value, rate in zip(sent, missed, strict=True) if rate**num_runs < 0.5)
    return told, [Run.of(bytes(sent[k] for k in one)) for one in heard], missed


def test_merge_known_listener() -> None:
    """With the listener known, command-like data is right at least as often, and more often in all."""
    without = known = 0
    for seed in range(6):
        told, runs, missed = known_trial("command", 5, seed)
        without += merge(runs).sequence.data == told
        known += merge(runs, missed=missed).sequence.data == told
    assert known >= 5
    assert known > without


def test_merge_known_listener_says() -> None:
    """What was used is said; a byte that no run can hear is absent, and the gap is where it was."""
    runs = [Run.of(b"TIDE")] * 4
    found = merge(runs, missed=(0.1, 0.1, 1.0, 0.1, 0.1))
    assert found.sequence.data == b"TIDE"
    assert found.notes[0] == (
        "the chance of missing each of the 5 bytes sent was given, and was used; no run can be expected to hold 1 of "
        "them (counted from 0: 2), so the result lacks them"
    )
    assert [item.missing_before > 0.9 for item in found.sequence.items] == [False, False, True, False]
    assert merge(runs, missed=(0.1,) * 4).notes[0] == (
        "the chance of missing each of the 4 bytes sent was given, and was used"
    )


@pytest.mark.parametrize("missed", [(0.1,) * 40, (0.95, 0.95, 0.95, 0.0, 0.0), (1.0, 1.0)])
def test_merge_known_listener_wrong(missed: tuple[float, ...]) -> None:
    """Chances that the runs do not fit are left out, and that is said."""
    runs = [Run.of(b"TIDE AT NOON"), Run.of(b"TIDE AT NON"), Run.of(b"TIE AT NOON")]
    found = merge(runs, missed=missed)
    assert found.notes[0].startswith("the runs do not fit the given chances of missing each of ")
    assert found.sequence == merge(runs).sequence
