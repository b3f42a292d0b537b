"""How often a merge is exactly right, over the whole grid of lengths, losses, numbers of runs and kinds of data.

By hand: ``python -m tests.recoverygrid [PART [LENGTH...]]`` prints the table: rates for random bytes, text and
command-like data, each beside the study's (a ! where it lies more than two standard deviations below), and for the
last the limits of `find_limit` and `find_blind_limit`.  PART (such as 0.5) scales the numbers of trials.
"""

from __future__ import annotations

import itertools
import math
import random
import sys
from collections import Counter
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from latchlore.wire import Run, merge
from latchlore.wire._simulate import KINDS, heard, transmission

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy.typing as npt

LENGTHS = (8, 64, 100, 1000)
LOSSES = (0.01, 0.05, 0.2, 0.4)
RUNS = (3, 5, 8, 12, 20, 30)
TRIALS = {8: 100, 64: 40, 100: 40, 1000: 6}
"""Transmissions a cell, by length."""

# Exact recovery in an independent study of the same model (random / text / many equal neighbours), rounded to .01;
# its numbers of trials are read from the steps of its rates: 100 at length 8, 40 at length 100.
STUDY: dict[tuple[int, float], tuple[tuple[float, float, float], ...]] = {
    (8, 0.05): ((0.99, 0.98, 0.95), (0.99, 1.0, 0.99), (1.0, 1.0, 0.99), (1.0, 1.0, 1.0)),
    (8, 0.2): (
        *((0.70, 0.76, 0.60), (0.97, 0.89, 0.78), (1.0, 0.99, 0.93), (1.0, 1.0, 0.93)),
        (1.0, 0.99, 0.96),
    ),
    (8, 0.4): (
        *((0.26, 0.25, 0.17), (0.62, 0.57, 0.38), (0.83, 0.80, 0.61), (0.98, 0.96, 0.73)),
        *((1.0, 0.99, 0.75), (1.0, 0.99, 0.79)),
    ),
    (100, 0.05): ((0.78, 0.63, 0.48), (0.98, 0.93, 0.90), (1.0, 0.98, 0.93), (1.0, 0.98, 1.0)),
    (100, 0.2): (
        *((0.05, 0.03, 0.03), (0.68, 0.38, 0.10), (0.93, 0.98, 0.48), (1.0, 1.0, 0.70)),
        (1.0, 1.0, 0.85),
    ),
    (100, 0.4): (
        *((0.0, 0.0, 0.0), (0.03, 0.0, 0.0), (0.18, 0.05, 0.0), (0.68, 0.55, 0.08)),
        *((0.98, 0.90, 0.08), (1.0, 0.93, 0.38)),
    ),
}
STUDY_TRIALS = {8: 100, 100: 40}
RATES = tuple((k + 0.5) / 100 for k in range(99))
"""Loss rates that could be, as likely each."""
FINE = tuple(k / 400 for k in range(1, 400))
"""The rates at one of which the likeliest numbers must be likeliest."""


class Cell(NamedTuple):
    """One cell of the grid: how many of `trials` merges gave just what was sent; `study`: the rate to compare with."""

    kind: str
    length: int
    loss: float
    num_runs: int
    right: int
    trials: int
    study: float | None

    @property
    def share(self) -> float:
        """The share of merges that were right."""
        return self.right / self.trials

    @property
    def error(self) -> float:
        """The standard deviation of `share`, from one more right and one more wrong than seen."""
        p = (self.right + 1) / (self.trials + 2)
        return math.sqrt(p * (1 - p) / (self.trials + 2))

    @property
    def behind(self) -> float:
        """By how many standard deviations of the difference the share lies below the study's."""
        if self.study is None:
            return 0.0
        num = STUDY_TRIALS[self.length]
        p = (self.study * num + 1) / (num + 2)
        return (self.study - self.share) / math.hypot(self.error, math.sqrt(p * (1 - p) / (num + 2)))


def trial(kind: str, length: int, loss: float, num_runs: int, seed: str) -> bool:
    """Whether one merge of made runs is exactly right."""
    rng = random.Random(f"recovery {kind} {length} {loss} {num_runs} {seed}")
    sent = transmission(kind, length, rng)
    runs = [Run.of(heard(sent, rng, loss=loss)) for _ in range(num_runs)]
    return merge(runs).sequence.data == sent


@lru_cache(maxsize=16)
def _number_chances(kind: str, length: int) -> dict[int, float]:
    """How often the generator makes so many equal bytes in a row."""
    counts = Counter(n for k in range(300) for n in _numbers(transmission(kind, length, random.Random(f"numbers {k}"))))
    return {n: counts[n] / counts.total() for n in counts}


def _numbers(data: bytes) -> list[int]:
    return [len(list(same)) for _, same in itertools.groupby(data)]


def find_limit(kind: str, length: int, loss: float, num_runs: int, trials: int = 100) -> float:
    """How often somebody counts all equal bytes right who knows the rate of losses, how often the generator makes
    each number, and which byte of a run belongs where: no merge of runs without times can be right more often.
    """
    return _count_right(kind, length, loss, num_runs, trials, (loss,))


def find_blind_limit(kind: str, length: int, loss: float, num_runs: int, trials: int = 100) -> float:
    """The same for somebody who must learn the rate of losses from the same runs, and takes any to be as likely."""
    return _count_right(kind, length, loss, num_runs, trials, RATES)


def _count_right(kind: str, length: int, loss: float, num_runs: int, trials: int, rates: tuple[float, ...]) -> float:
    """The share of transmissions in which the likeliest numbers of equal bytes, under all `rates` together, are right.

    The likeliest of all are among those that are likeliest at one rate: a rate weighs only how many bytes there are
    in all, and which numbers are likeliest for a length is the same at every rate.
    """
    chances = _number_chances(kind, length)
    logs = np.log(np.array(sorted({*FINE, *rates})))
    right = 0
    for k in range(trials):
        rng = random.Random(f"limit {kind} {length} {loss} {num_runs} {k}")
        numbers = _numbers(transmission(kind, length, rng))
        seen = [[sum(rng.random() >= loss for _ in range(number)) for _ in range(num_runs)] for number in numbers]
        worth = _worth(seen, chances)
        steps = num_runs * np.arange(worth.shape[1])
        answers = np.unique((worth[None] + logs[:, None, None] * steps).argmax(axis=2), axis=0)
        lost = num_runs * answers.sum(axis=1) - sum(map(sum, seen))
        received = sum(map(sum, seen))
        at_rates = [lost * math.log(p) + received * math.log1p(-p) for p in rates]
        likely = np.take_along_axis(worth, answers.T, axis=1).sum(axis=0) + np.logaddexp.reduce(at_rates)
        right += answers[int(likely.argmax())].tolist() == numbers
    return right / trials


def _worth(seen: list[list[int]], chances: dict[int, float]) -> npt.NDArray[np.float64]:
    """[g, n]: that n equal bytes were sent in place g: its chance, and the ways to lose all but those seen."""
    worth = np.full((len(seen), max(map(max, seen)) + 12), -np.inf)
    for g, one in enumerate(seen):
        for n in range(max(1, *one), max(one) + 12):
            ways = sum(math.lgamma(n + 1) - math.lgamma(n - some + 1) for some in one)
            worth[g, n] = math.log(chances.get(n, 1e-4)) + ways
    return worth


def find_study(kind: str, length: int, loss: float, num_runs: int) -> float | None:
    """The study's rate for a cell, where it has one."""
    rows, k = STUDY.get((length, loss), ()), RUNS.index(num_runs)
    return rows[k][KINDS.index(kind)] if k < len(rows) else None


def iter_cells(lengths: tuple[int, ...] = LENGTHS, part: float = 1.0, seed: str = "") -> Iterator[Cell]:
    """Every cell, by length, loss, runs and kind."""
    for length in lengths:
        for loss in LOSSES:
            for num_runs in RUNS:
                for kind in KINDS:
                    trials = max(2, round(TRIALS[length] * part))
                    right = sum(trial(kind, length, loss, num_runs, f"{seed}{k}") for k in range(trials))
                    yield Cell(kind, length, loss, num_runs, right, trials, find_study(kind, length, loss, num_runs))


def main(arguments: list[str]) -> None:
    """Print the table, a line for a length, loss and number of runs."""
    part = float(arguments[0]) if arguments else 1.0
    lengths = tuple(int(text) for text in arguments[1:]) or LENGTHS
    line: list[str] = []
    for cell in iter_cells(lengths, part):
        if cell.kind == KINDS[0]:
            line = [f"{cell.length:5} {cell.loss:4.0%} {cell.num_runs:3}"]
        beside = "     " if cell.study is None else f"({cell.study:.2f})"
        line.append(f"{cell.share:.2f} {beside}{'!' if cell.behind > 2 else ' '}")
        if cell.kind == KINDS[-1]:
            limit = find_limit(cell.kind, cell.length, cell.loss, cell.num_runs, 100 if cell.length <= 100 else 10)
            blind = find_blind_limit(
                cell.kind, cell.length, cell.loss, cell.num_runs, 100 if cell.length <= 100 else 10
            )
            line.append(f"limit {limit:.2f} {blind:.2f}")
            print("  ".join(line), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
