"""Compares two recordings of the same transmission, neither of them known to be right, with their times as evidence.

The fewest steps from one to the other are found first; times choose among ways with as few, and then say of each byte
that only one has whether the other lost it or it is in excess, where they can.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import Span
from latchlore.wire import _peerkernel as kernel
from latchlore.wire._peerjudge import Judge
from latchlore.wire._peerresults import Pauses, PeerReport, Shift

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    import numpy.typing as npt

    from latchlore.wire._bytelog import Run

    Times = npt.NDArray[np.int64]
    Ways = npt.NDArray[np.uint8]

CONTEXT = 32
"""So many equal bytes on both sides of a step are aligned anew with their times."""
TRUSTED = 4
"""With so many equal bytes beside a step the clocks of both recordings are laid together there."""
CELLS_MOST = 64 * 2**20
"""A stretch of more pairs than this keeps the alignment by bytes alone."""


def compare_peers(first: Run, second: Run) -> PeerReport:
    """Two recordings of the same transmission side by side; neither is taken for the truth.

    The number of steps is the edit distance of the bytes.  Times, where a recording has them, serve as evidence only.
    """
    data = tuple(np.frombuffer(run.data, np.uint8) for run in (first, second))
    times = (_times(first), _times(second))
    ways = _align(first.data, second.data, times)
    places = (np.cumsum(ways != kernel.ONLY_SECOND), np.cumsum(ways != kernel.ONLY_FIRST))
    pairs = np.flatnonzero(ways == kernel.PAIR)
    at = (places[0][pairs] - 1, places[1][pairs] - 1)
    joined = (np.diff(at[0]) == 1) & (np.diff(at[1]) == 1)
    later = (at[0][1:][joined], at[1][1:][joined])
    timed = np.ones(len(later[0]), bool)
    for side in (0, 1):
        timed &= (times[side][later[side]] != kernel.UNTIMED) & (times[side][later[side] - 1] != kernel.UNTIMED)
    later = (later[0][timed], later[1][timed])
    gaps = tuple(times[side][later[side]] - times[side][later[side] - 1] for side in (0, 1))
    judge = Judge(data, times, (gaps[0], gaps[1]))
    total = int(gaps[0].sum())
    pace = Fraction(int(gaps[1].sum()), total) if total > 0 else None
    return PeerReport(
        tuple(sorted(judge.steps(ways, places), key=lambda step: (step.first_at, step.second_at))),
        len(pairs),
        pace,
        (Pauses.of(gaps[0]), Pauses.of(gaps[1])),
        tuple(_shifts(later, (gaps[0], gaps[1]), pace)),
    )


def _times(run: Run) -> Times:
    if run.times is None:
        return np.full(len(run.data), kernel.UNTIMED, np.int64)
    return np.array([kernel.UNTIMED if time is None else time.picoseconds for time in run.times], np.int64)


def _shifts(later: tuple[Times, Times], gaps: tuple[Times, Times], pace: Fraction | None) -> Iterator[Shift]:
    """The pauses that differ most, by whole picoseconds, then by place."""
    if pace is None:
        return
    apart = [
        (-abs(int(b) * pace.denominator - int(a) * pace.numerator), k)
        for k, (a, b) in enumerate(zip(*gaps, strict=True))
    ]
    for far, k in sorted(apart)[:10]:
        if far:
            spans = (Span(int(gap[k])) for gap in gaps)
            yield Shift(int(later[0][k]), int(later[1][k]), *spans)


def _align(first: bytes, second: bytes, times: tuple[Times, Times]) -> Ways:
    """The way through both recordings: by bytes, then stretch by stretch around the steps with the times."""
    from rapidfuzz.distance import Levenshtein

    blocks = [block for block in Levenshtein.opcodes(first, second) if block.tag != "equal"]
    ways: list[Ways] = []
    done = (0, 0)
    for a, b, c, d, trust in _stretches(
        ((o.src_start, o.src_end, o.dest_start, o.dest_end) for o in blocks), len(first)
    ):
        ways.append(np.full(a - done[0], kernel.PAIR, np.uint8))
        one, other = np.frombuffer(first[a:b], np.uint8), np.frombuffer(second[c:d], np.uint8)
        if (b - a) * (d - c) <= CELLS_MOST:
            ways.append(kernel.align(one, other, *_one_clock(times, (a, b, c, d), trust)))
        else:
            ways += [_plain_way(o.tag, o.src_end - o.src_start, o.dest_end - o.dest_start)
                     for o in Levenshtein.opcodes(first[a:b], second[c:d])]  # fmt: skip
        done = (b, d)
    ways.append(np.full(len(first) - done[0], kernel.PAIR, np.uint8))
    return np.concatenate(ways)


def _plain_way(tag: str, first: int, second: int) -> Ways:
    way = {"delete": kernel.ONLY_FIRST, "insert": kernel.ONLY_SECOND}.get(tag, kernel.PAIR)
    return np.full(max(first, second), way, np.uint8)


def _stretches(
    blocks: Iterable[tuple[int, int, int, int]], length: int
) -> Iterator[tuple[int, int, int, int, tuple[bool, bool]]]:
    """Stretches around the steps, with equal bytes on both sides, joined where they meet; are these bytes enough?"""
    found: list[list[int]] = []
    for a, b, c, d in blocks:
        if found and a - found[-1][1] <= 2 * CONTEXT:
            found[-1][1], found[-1][3] = b, d
        else:
            found.append([a, b, c, d])
    before = 0
    for k, (a, b, c, d) in enumerate(found):
        until = found[k + 1][0] - CONTEXT if k + 1 < len(found) else length
        lead, tail = min(CONTEXT, a - before), min(CONTEXT, until - b)
        yield a - lead, b + tail, c - lead, d + tail, (lead >= TRUSTED, tail >= TRUSTED)
        before = b + tail


def _one_clock(
    times: tuple[Times, Times], stretch: tuple[int, int, int, int], trust: tuple[bool, bool]
) -> tuple[Times, Times]:
    """The times of a stretch on the second's clock, laid together at its trusted ends; untimed where there is none."""
    a, b, c, d = stretch
    one, other = times[0][a:b], times[1][c:d]
    if not any(trust) or kernel.UNTIMED in one or kernel.UNTIMED in other:
        return np.full(b - a, kernel.UNTIMED, np.int64), np.full(d - c, kernel.UNTIMED, np.int64)
    length, wanted = int(one[-1] - one[0]), int(other[-1] - other[0])
    if not (all(trust) and length > 0):
        length = wanted = 1
    base, to = (one[0], other[0]) if trust[0] else (one[-1], other[-1])
    return np.array([int(to) + int(time - base) * wanted // length for time in one], np.int64), other
