"""What is said of two recordings of the same transmission, neither of them known to be right."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from latchlore.base import Span
from latchlore.wire import _peerwording as words

if TYPE_CHECKING:
    from fractions import Fraction

    import numpy.typing as npt

    Times = npt.NDArray[np.int64]


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
