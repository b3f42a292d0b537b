"""What a merge says."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.base import ByteSequence


class ExtraKind(StrEnum):
    """What a byte is that belongs to no column."""

    DOUBLE = "double"  # the byte before it, read once more
    FOREIGN = "foreign"  # explained by nothing


@dataclass(frozen=True, slots=True)
class Extra:
    """A byte of a run that belongs to no column: byte `index` of the run, behind column `after` (-1: before all)."""

    index: int
    after: int
    kind: ExtraKind


@dataclass(frozen=True, slots=True)
class AlignedRun:
    """A run under the result.  `columns[i]`: index of the run's byte that is byte i of the result, None: dropped.

    `run`: index into the runs given.  `num_flipped`: placed bytes that differ from the result.
    """

    run: int
    columns: tuple[int | None, ...]
    extras: tuple[Extra, ...]
    num_flipped: int

    @property
    def num_dropped(self) -> int:
        """How many bytes of the result this run lacks."""
        return sum(1 for place in self.columns if place is None)


@dataclass(frozen=True, slots=True)
class Flip:
    """Chance that one data line is read wrong: line `bit` (0 to 7) at level `level` (0 or 1), rate 0 to 1."""

    bit: int
    level: int
    rate: float


@dataclass(frozen=True, slots=True)
class Rates:
    """What the listener did.  All rates 0 to 1.

    `loss`: a sent byte is dropped.  `double`: a received byte is read again.  `burst`: the odds of a loss right
    after a loss, as a multiple of the odds elsewhere (1: losses are independent).  `even`: whether every byte is as
    likely to be dropped as any other.  `losses[i]`: for byte i of the result, the part of the runs that lack it.
    `flips`: lines read wrong more often than 1 in 1,000, worst first.
    """

    loss: float
    double: float
    burst: float
    even: bool
    losses: tuple[float, ...]
    flips: tuple[Flip, ...]


@dataclass(frozen=True, slots=True)
class Repeat:
    """A run of equal bytes, whose number can only be counted: `counts` (number, probability), likeliest first.

    `start`: its first byte in the result.
    """

    start: int
    value: int
    counts: tuple[tuple[int, float], ...]

    def __str__(self) -> str:
        shown = ", ".join(f"{number}: {part:.0%}" for number, part in self.counts if part >= 0.005)
        return f"{self.value:02X} × ({shown})"


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another whole sequence with its probability (0 to 1), and in words where it differs."""

    data: bytes
    probability: float
    words: str


@dataclass(frozen=True, slots=True)
class Outlier:
    """A run that was left out because it does not fit the others; `run` is its index."""

    run: int
    words: str


@dataclass(frozen=True, slots=True)
class Merge:
    """Several runs merged into the most probable sequence.

    `further_runs`: how many more runs like these it takes until order and counts are right with 99 % (0: none; None:
    one run tells nothing about losses).  `truncated`: a sentence where all runs end suspiciously alike, else empty.
    `notes`: what the reader must know, most important first.
    """

    sequence: ByteSequence
    rates: Rates
    aligned: tuple[AlignedRun, ...]
    repeats: tuple[Repeat, ...]
    alternatives: tuple[Alternative, ...]
    outliers: tuple[Outlier, ...]
    truncated: str
    further_runs: int | None
    notes: tuple[str, ...]
