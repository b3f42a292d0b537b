"""Says of each byte that only one of two recordings has which of the two is wrong, from how likely its pauses are.

Two explanations are weighed for each such byte: it was sent, and the pauses beside it are two ordinary ones; or it was
not, and one ordinary pause was cut in two, at any place or, where an equal byte stands beside it, soon after that.  How
likely a pause is, is counted over the pauses between neighbouring bytes that both recordings have.  Nothing is said
where the other recording's pause is another one: then other bytes stand there than the fewest steps have it.
"""

from __future__ import annotations

import math
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import Span
from latchlore.wire import _peerkernel as kernel
from latchlore.wire import _peerwording as words
from latchlore.wire._peerresults import PeerStep, Verdict

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy.typing as npt

    Times = npt.NDArray[np.int64]
    Ways = npt.NDArray[np.uint8]

GAPS_MIN = 20
"""So many ordinary pauses must be known before any is called likely or unlikely."""
ODDS = 30
"""An explanation is given where it is so many times likelier than the other one."""
ALIKE = (2, 3)
"""The shorter of both pauses across the place is at least this part of the longer one."""
NEAR = 8
"""So many bytes that both have, on each side of a place, tell how the clocks lie there."""
NOISE = 0.1
"""A byte in excess that equals no neighbour is so much rarer than one read twice: common practice, not measured."""
GROUP_MOST = 4
"""Of more bytes in a row that only one recording has nothing is said."""
UNSEEN = 0.01
"""Each bin counts for so much of a pause before any was seen: a hundred bins, e^10 to one, for one pause together."""
SOON = 1 / 10
"""Density of the logarithm of how long after a byte it is read a second time: anywhere within e^10 to one."""
BINS = 10
"""Bins of the pauses' logarithm in one unit of it: about a tenth of the pause each."""


class PauseOdds:
    """How likely pauses are, as a density over their natural logarithm, smoothed over three bins; never zero."""

    def __init__(self, pauses: Times) -> None:
        self.total = len(pauses)
        places, counts = np.unique([self._bin(int(pause)) for pause in pauses], return_counts=True)
        self._counts = dict(zip(places.tolist(), counts.tolist(), strict=True))

    @staticmethod
    def _bin(pause: int) -> int:
        return math.floor(math.log(max(pause, 1)) * BINS)

    def __call__(self, pause: int) -> float:
        """The density at a pause of so many picoseconds."""
        at = self._bin(pause)
        count: float = sum(self._counts.get(at + k, 0) * share for k, share in ((-1, 0.25), (0, 0.5), (1, 0.25)))
        return (count + UNSEEN) / (self.total + 1) * BINS


class Judge:
    """Gives the steps of an alignment, each with its verdict; `gaps`: pauses between neighbours that both have."""

    def __init__(
        self, data: tuple[npt.NDArray[np.uint8], ...], times: tuple[Times, Times], gaps: tuple[Times, Times]
    ) -> None:
        self.data, self.times = data, times
        self.known = len(gaps[0]) >= GAPS_MIN
        self.usual = int(np.median(gaps[0])) if self.known else 0
        self.odds = [PauseOdds(each) for each in gaps]

    def steps(self, ways: Ways, places: tuple[Times, Times]) -> Iterator[PeerStep]:
        """Bytes that only one has, then bytes that differ; `places`: bytes of each up to and with every step."""
        marks = np.flatnonzero(ways != kernel.PAIR)
        groups = np.split(marks, np.flatnonzero((np.diff(marks) != 1) | (np.diff(ways[marks]) != 0)) + 1)
        pairs = np.flatnonzero(ways == kernel.PAIR)
        one, other = places[0][pairs] - 1, places[1][pairs] - 1
        for group in groups if len(marks) else []:
            owner = 0 if ways[group[0]] == kernel.ONLY_FIRST else 1
            at = int(places[owner][group[0]]) - 1
            place = int(places[1 - owner][group[0]])  # the other's byte that follows
            verdicts = [(Verdict.OPEN, words.NO_NEIGHBOURS if self.known else words.FEW_TIMES)]
            if (
                self.known
                and group[0] > 0
                and group[-1] + 1 < len(ways)
                and (ways[[group[0] - 1, group[-1] + 1]] == kernel.PAIR).all()
            ):
                behind = int(np.searchsorted(pairs, group[0]))
                if self._is_astray(one, other, behind):
                    verdicts = [(Verdict.OPEN, words.ASTRAY)]
                else:
                    verdicts = self._verdicts(owner, at, len(group), place)
            for offset in range(len(group)):
                yield self._only(owner, at + offset, place, *verdicts[offset % len(verdicts)])
        for k in np.flatnonzero(self.data[0][one] != self.data[1][other]):
            i, j = int(one[k]), int(other[k])
            values = int(self.data[0][i]), int(self.data[1][j])
            yield PeerStep(i, j, *values, i, i, Verdict.OPEN, words.WHY_CHANGED)

    def _is_astray(self, one: Times, other: Times, behind: int) -> bool:
        """Whether the pair before a place, or the one behind it, lies off the clocks of those around by half a pause.

        Then fewer steps than truly happened explain the bytes, and the wrong ones are put side by side.
        """
        around = slice(max(0, behind - NEAR), behind + NEAR)
        first, second = self.times[0][one[around]], self.times[1][other[around]]
        timed = (first != kernel.UNTIMED) & (second != kernel.UNTIMED)
        apart = second - first
        middle = np.sort(apart[timed])[timed.sum() // 2] if timed.any() else 0
        at = behind - around.start
        beside = [k for k in (at - 1, at) if timed[k]]
        return any(2 * abs(int(apart[k]) - int(middle)) > self.usual for k in beside)

    def _only(self, owner: int, k: int, place: int, verdict: Verdict, why: str) -> PeerStep:
        own = self.data[owner]
        low = high = k
        while low and own[low - 1] == own[k]:
            low -= 1
        while high + 1 < len(own) and own[high + 1] == own[k]:
            high += 1
        if owner == 0:
            return PeerStep(k, place, int(own[k]), None, low, high, verdict, why)
        return PeerStep(place, k, None, int(own[k]), low, high, verdict, why)

    def _verdicts(self, owner: int, at: int, count: int, place: int) -> list[tuple[Verdict, str]]:
        """For each of `count` bytes from `at` on that the other lacks before its byte `place`."""
        around = self.times[owner][at - 1 : at + count + 1].tolist()
        across = self.times[1 - owner][place - 1 : place + 1].tolist()
        if kernel.UNTIMED in around or kernel.UNTIMED in across:
            return [(Verdict.OPEN, words.NO_TIMES)]
        if count > GROUP_MOST:
            return [(Verdict.OPEN, words.LONG_GROUP.format(most=GROUP_MOST))]
        whole, pause = around[-1] - around[0], across[1] - across[0]
        if min(whole, pause) * ALIKE[1] < max(whole, pause) * ALIKE[0]:
            said = words.UNLIKE.format(pause=Span(pause), whole=Span(whole), one=words.SIDE[1 - owner])
            return [(Verdict.OPEN, said)]
        sent, not_sent = np.zeros(count), np.zeros(count)
        for real in product((True, False), repeat=count):
            likely = self._likely(owner, at, around, real)
            sent += np.where(real, likely, 0)
            not_sent += np.where(real, 0, likely)
        pairs = zip(sent.tolist(), not_sent.tolist(), strict=True)
        return [self._verdict(owner, at + k, *likely) for k, likely in enumerate(pairs)]

    def _likely(self, owner: int, at: int, around: list[int], real: tuple[bool, ...]) -> float:
        """How likely the times are where these bytes were sent and the others are in excess."""
        own, likely = self.data[owner], 1.0
        last = around[0]
        for k, is_real in enumerate((*real, True), 1):
            if is_real:
                likely *= self.odds[owner](around[k] - last)
                last = around[k]
        for k, is_real in enumerate(real, 1):
            if not is_real:
                before = max(j for j in range(k) if j == 0 or real[j - 1])
                after = min(j for j in range(k + 1, len(around)) if j == len(around) - 1 or real[j - 1])
                room = max(1, around[after] - around[before])
                byte = own[at + k - 1]
                twin = byte in (own[at + k - 2], own[at + k])
                anywhere = max(1, around[k] - around[before]) / room
                likely *= (anywhere + SOON) / 2 if twin else anywhere * NOISE
        return likely

    def _verdict(self, owner: int, k: int, sent: float, not_sent: float) -> tuple[Verdict, str]:
        before, here, after = self.times[owner][k - 1 : k + 2].tolist()
        pauses = {"before": Span(here - before), "after": Span(after - here)}
        if sent > ODDS * not_sent:
            return Verdict.LOST, words.WHY_SENT.format(odds=_odds(sent, not_sent), **pauses)
        if not_sent > ODDS * sent:
            return Verdict.ADDED, words.WHY_NOT_SENT.format(odds=_odds(not_sent, sent), **pauses)
        return Verdict.OPEN, words.BETWEEN.format(**pauses)


def _odds(one: float, other: float) -> str:
    """How many times likelier, in two digits at most."""
    ratio = one / other if other else math.inf
    return "over a million" if ratio > 1e6 else f"{float(f'{ratio:.2g}'):,.0f}"
