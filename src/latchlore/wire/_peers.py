"""Compares two recordings of the same transmission, neither of them known to be right, with their times as evidence.

The fewest steps from one to the other are found first; times choose among ways with as few, and then say of each byte
that only one has whether the other lost it or it is in excess, where they can.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from latchlore.base import Span
from latchlore.wire import _peerkernel as kernel
from latchlore.wire import _peerwording as words

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
GAPS_MIN = 20
"""So many ordinary pauses must be known before a pause is called unusual."""
SHARE = 100
"""One pause in so many may be longer, one shorter, than what is called ordinary."""


class Verdict(StrEnum):
    """What the times say of a byte that only one recording has."""

    LOST = "lost"
    ADDED = "added"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class PeerStep:
    """One step between two recordings.

    `first_at`, `second_at`: where in each (where one has no such byte, the byte that follows).  `first`, `second`: the
    bytes, None where there is none.  `low`, `high`: between which places of the recording that has the byte it may
    stand just as well.  `verdict`: of a byte that only one has, whether the other one lost it, or this one has it in
    excess, or neither can be told; OPEN for two different bytes.  `why`: the reason in words.
    """

    first_at: int
    second_at: int
    first: int | None
    second: int | None
    low: int
    high: int
    verdict: Verdict
    why: str

    @property
    def wrong(self) -> int | None:
        """Which recording is wrong there: 0 the first, 1 the second, None where it cannot be told."""
        if self.verdict is Verdict.OPEN:
            return None
        owner = 0 if self.second is None else 1
        return 1 - owner if self.verdict is Verdict.LOST else owner

    def __str__(self) -> str:
        if self.first is not None and self.second is not None:
            text = words.DIFFER.format(
                first=f"{self.first:02X}", first_at=self.first_at, second=f"{self.second:02X}", second_at=self.second_at
            )
            return f"{text}: {self.why}"
        owner = 0 if self.second is None else 1
        byte, at, place = (
            (self.first, self.first_at, self.second_at),
            (self.second, self.second_at, self.first_at),
        )[owner]
        text = words.ONLY.format(
            byte=f"{byte:02X}", at=at, one=words.SIDE[owner], other=words.SIDE[1 - owner], place=place
        )
        if self.low != self.high:
            text += words.ANYWHERE.format(low=self.low, high=self.high)
        said = {
            Verdict.LOST: words.LOST.format(one=words.SIDE[1 - owner]),
            Verdict.ADDED: words.ADDED.format(one=words.SIDE[owner]),
            Verdict.OPEN: words.OPEN,
        }[self.verdict]
        return f"{text}: {said}; {self.why}"


@dataclass(frozen=True, slots=True)
class Pauses:
    """Pauses between neighbouring bytes that both recordings have, in one of them: how many, and nearest ranks."""

    count: int
    least: Span
    p5: Span
    p50: Span
    p95: Span
    most: Span

    @classmethod
    def of(cls, gaps: Times) -> Pauses | None:
        """The distribution; None where there are no pauses."""
        if not len(gaps):
            return None
        ordered = np.sort(gaps)
        ranks = [ordered[max(0, -(-len(ordered) * share // 100) - 1)] for share in (5, 50, 95)]
        return cls(len(gaps), *(Span(int(x)) for x in (ordered[0], *ranks, ordered[-1])))


class Shift(NamedTuple):
    """Two neighbouring bytes between which the pauses differ: place of the later one in each, both pauses."""

    first_at: int
    second_at: int
    first: Span
    second: Span


@dataclass(frozen=True, slots=True)
class PeerReport:
    """What two recordings have in common and in what they differ.

    `steps`: in order.  `pairs`: bytes that both have, equal or not.  `pace`: the second's time for one of the first's,
    over all pauses that both have, None without times.  `pauses`: of each recording.  `shifts`: the pauses that differ
    most once the pace is taken out, the largest difference first, ten at most.
    """

    steps: tuple[PeerStep, ...]
    pairs: int
    pace: Fraction | None
    pauses: tuple[Pauses | None, Pauses | None]
    shifts: tuple[Shift, ...]

    def count(self, side: int, verdict: Verdict) -> int:
        """How many bytes a recording (0 or 1) surely lost or has in excess."""
        return sum(step.wrong == side and step.verdict is verdict for step in self.steps)

    @property
    def open(self) -> int:
        """Of how many steps nothing tells which recording is wrong."""
        return sum(step.verdict is Verdict.OPEN for step in self.steps)


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
    judge = _Judge(data, times, (gaps[0], gaps[1]))
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


class _Judge:
    """Says of each byte that one recording lacks which of the two is wrong, from the pauses both have."""

    def __init__(
        self, data: tuple[npt.NDArray[np.uint8], ...], times: tuple[Times, Times], gaps: tuple[Times, Times]
    ) -> None:
        self.data, self.times = data, times
        ordered = [np.sort(each) for each in gaps]
        self.known = len(gaps[0]) >= GAPS_MIN
        spare = len(gaps[0]) // SHARE
        if self.known:
            self.least = [int(each[spare]) for each in ordered]
            self.usual = [int(each[len(each) // 2]) for each in ordered]
            self.most = [int(each[-1 - spare]) for each in ordered]

    def steps(self, ways: Ways, places: tuple[Times, Times]) -> Iterator[PeerStep]:
        marks = np.flatnonzero(ways != kernel.PAIR)
        groups = np.split(marks, np.flatnonzero((np.diff(marks) != 1) | (np.diff(ways[marks]) != 0)) + 1)
        for group in groups if len(marks) else []:
            owner = 0 if ways[group[0]] == kernel.ONLY_FIRST else 1
            at = int(places[owner][group[0]]) - 1
            place = int(places[1 - owner][group[0]])  # the other's byte that follows
            for offset in range(len(group)):
                yield self._only(owner, at, len(group), offset, place)
        pairs = np.flatnonzero(ways == kernel.PAIR)
        one, other = places[0][pairs] - 1, places[1][pairs] - 1
        for k in np.flatnonzero(self.data[0][one] != self.data[1][other]):
            i, j = int(one[k]), int(other[k])
            values = int(self.data[0][i]), int(self.data[1][j])
            yield PeerStep(i, j, *values, i, i, Verdict.OPEN, words.WHY_CHANGED)

    def _only(self, owner: int, at: int, count: int, offset: int, place: int) -> PeerStep:
        own = self.data[owner]
        k = at + offset
        low = high = k
        while low and own[low - 1] == own[k]:
            low -= 1
        while high + 1 < len(own) and own[high + 1] == own[k]:
            high += 1
        verdict, why = self._verdict(owner, at, count, k, place)
        byte = int(own[k])
        if owner == 0:
            return PeerStep(k, place, byte, None, low, high, verdict, why)
        return PeerStep(place, k, None, byte, low, high, verdict, why)

    def _verdict(self, owner: int, at: int, count: int, k: int, place: int) -> tuple[Verdict, str]:
        """The pauses around `count` bytes from `at` on that the other lacks before its byte `place`."""
        own, other = self.times[owner], self.times[1 - owner]
        if not 0 < place < len(other) or not 0 < at <= at + count < len(own):
            return Verdict.OPEN, words.NO_TIMES
        around, across = own[at - 1 : at + count + 1], other[place - 1 : place + 1]
        if kernel.UNTIMED in around or kernel.UNTIMED in across:
            return Verdict.OPEN, words.NO_TIMES
        if not self.known:
            return Verdict.OPEN, words.FEW_TIMES
        pauses = np.diff(around)
        pause = int(across[1] - across[0])
        sooner = [(int(own[m] - own[m - 1]), m) for m in (k, k + 1) if self.data[owner][m] == self.data[owner][m - 1]]
        if sooner and 2 * min(sooner)[0] < self.least[owner]:
            gap = Span(min(sooner)[0])
            return Verdict.ADDED, words.WHY_DOUBLE.format(gap=gap, one=words.SIDE[owner])
        whole = int(pauses.min()) * 2 >= self.least[owner]  # each byte had a time of its own
        if whole and pause > self.most[1 - owner]:
            times = pause / max(1, self.usual[1 - owner])
            return Verdict.LOST, words.WHY_PAUSE.format(one=words.SIDE[1 - owner], times=times)
        if not whole and pause < (count + 1) * self.least[1 - owner]:
            return Verdict.ADDED, words.WHY_SHORT.format(one=words.SIDE[1 - owner], count=count + 1)
        return Verdict.OPEN, words.BETWEEN
