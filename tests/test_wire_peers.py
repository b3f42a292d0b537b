"""Two recordings of one transmission side by side, against generated truths and edlib's edit distance."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import pairwise

import edlib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from latchlore.base import Span
from latchlore.wire import PeerStep, Run, Verdict, compare_peers

US = 1_000_000


@settings(deadline=None)
@given(st.binary(max_size=80), st.binary(max_size=80), st.booleans())
def test_compare_peers(first: bytes, second: bytes, timed: bool) -> None:
    """The number of steps is edlib's edit distance, and doing them turns the first into the second."""
    runs = [
        Run.of(data, times=[Span.of(us=7 * k) for k in range(len(data))] if timed else None) for data in (first, second)
    ]
    report = compare_peers(*runs)
    if first and second:
        assert len(report.steps) == edlib.align(list(first), list(second))["editDistance"]
    made, at = bytearray(), 0
    for step in report.steps:
        made += first[at : step.first_at]
        at = step.first_at
        assert len(made) == step.second_at
        if step.second is not None:
            made.append(step.second)
        at += step.first is not None
    assert bytes(made + first[at:]) == second


def heard(sent: bytes, times: list[int], lose: set[int], double: set[int], clock: Fraction, start: int) -> Run:
    """What a listener hears: some bytes lost, some read twice within 2 us, on a clock of its own."""
    data, at = bytearray(), []
    for k, byte in enumerate(sent):
        for again in range(0 if k in lose else 2 if k in double else 1):
            data.append(byte)
            at.append(Span(start + int((times[k] + again * 2 * US) * clock)))
    return Run.of(bytes(data), times=at)


def apart(rng: random.Random, length: int, share: float) -> list[int]:
    """Some places, at least four apart and away from the ends, so that each is a step of its own."""
    found: list[int] = []
    for k in range(8, length - 8):
        if rng.random() < share and (not found or k - found[-1] > 4):
            found.append(k)
    return found


@pytest.mark.parametrize("seed", range(6))
def test_compare_peers_verdicts(seed: int) -> None:
    """With pauses of 15 % jitter every byte that only one has is rightly laid to the one that is wrong.

    Losses and doubles in both, clocks .3 % apart, texts with runs of equal bytes.
    """
    rng = random.Random(seed)
    sent = bytes(rng.choice(b"     THE TIDE 0011") for _ in range(800))
    times = [0]
    for _ in sent[1:]:
        times.append(times[-1] + int(100 * US * rng.uniform(0.85, 1.15)))
    places = apart(rng, len(sent), 0.08)
    rng.shuffle(places)
    quarter = len(places) // 4
    lost = (set(places[:quarter]), set(places[quarter : 2 * quarter]))
    doubled = (set(places[2 * quarter : 3 * quarter]), set(places[3 * quarter :]))
    runs = [heard(sent, times, lost[k], doubled[k], (Fraction(1), Fraction(1003, 1000))[k], k * 5 * US) for k in (0, 1)]
    report = compare_peers(*runs)
    for side in (0, 1):
        assert report.count(side, Verdict.LOST) == len(lost[side])
        assert report.count(side, Verdict.ADDED) == len(doubled[side])
    assert report.open == 0
    assert report.pace is not None
    assert abs(report.pace - Fraction(1003, 1000)) < Fraction(1, 10_000)
    wanted = sorted(_place(sent, k, lost[1], doubled[1]) for k in lost[0])
    assert sorted(s.second_at for s in report.steps if s.wrong == 0 and s.verdict is Verdict.LOST) == wanted


def _place(sent: bytes, k: int, lost: set[int], doubled: set[int]) -> int:
    """Where byte k stands in a recording."""
    return k - sum(j < k for j in lost) + sum(j < k for j in doubled)


def test_compare_peers_open() -> None:
    """Pauses that vary as much as a lost byte makes them tell nothing; neither do recordings without times."""
    rng = random.Random(3)
    sent = bytes(rng.randrange(32, 127) for _ in range(300))
    times = [0]
    for _ in sent[1:]:
        times.append(times[-1] + int(100 * US * rng.uniform(0.2, 5)))
    lose = set(range(20, 280, 20))
    whole, part = heard(sent, times, set(), set(), Fraction(1), 0), heard(sent, times, lose, set(), Fraction(1), 0)
    report = compare_peers(whole, part)
    assert len(report.steps) == len(lose)
    assert report.count(1, Verdict.LOST) + report.open == len(lose)
    assert report.open >= len(lose) * 2 // 3
    assert report.count(0, Verdict.ADDED) == report.count(0, Verdict.LOST) == 0
    bare = compare_peers(Run.of(whole.data), Run.of(part.data))
    assert bare.open == len(lose)
    assert bare.pace is None
    assert bare.pauses == (None, None)
    assert not bare.shifts


def test_compare_peers_words() -> None:
    """What is said of a byte lost, doubled and bent; the pause that differs most is named with both lengths."""
    sent = bytes(range(0x20, 0x60))
    times = [100 * US * k for k in range(len(sent))]
    first = heard(sent, times, set(), {40}, Fraction(1), 0)
    late = [time + (30 * US if k >= 50 else 0) for k, time in enumerate(times)]
    second = heard(sent[:60] + b"~" + sent[61:], late, {20}, set(), Fraction(1), 0)
    report = compare_peers(first, second)
    assert [str(step) for step in report.steps] == [
        "byte 34 at 20 of the first is not in the second, where it would stand at 20: the second lost it; pauses of "
        "100 us before it and 100 us after it are 300,000 times likelier of a byte that was sent",
        "byte 48 at 41 of the first is not in the second, where it would stand at 40 (or any of the equal ones from 40 "
        "to 41): the first has it in excess; pauses of 2 us before it and 98 us after it are 37 times likelier of a "
        "byte that was not sent",
        "byte 5C at 61 of the first is 7E at 59 of the second: one byte was bent on the way to one of them; a third "
        "recording would tell",
    ]
    assert isinstance(report.steps[0], PeerStep)
    widest = report.shifts[0]
    assert (widest.first_at, widest.second_at) == (51, 49)
    assert (widest.first, widest.second) == (Span.of(us=100), Span.of(us=130))
    pauses = report.pauses[1]
    assert pauses is not None
    assert (pauses.least, pauses.p50, pauses.most) == (Span.of(us=100), Span.of(us=100), Span.of(us=130))


def test_compare_peers_same() -> None:
    """A recording compared with itself has no steps and a pace of one."""
    times = [Span.of(us=50 * k + k % 3) for k in range(90)]
    run = Run.of(bytes(range(90)), times=times)
    report = compare_peers(run, run)
    assert not report.steps
    assert not report.shifts
    assert (report.pairs, report.pace) == (90, Fraction(1))
    first = report.pauses[0]
    assert first is not None
    gaps = sorted(b - a for a, b in pairwise(times))
    assert (first.count, first.least, first.most) == (89, gaps[0], gaps[-1])
