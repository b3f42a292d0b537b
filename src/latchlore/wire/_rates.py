"""The rates of a listener: how often it drops, doubles and bends, and how they are learnt from a merge."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Bytes = npt.NDArray[np.uint8]

FOREIGN = 1e-5
"""Chance of a byte that was never sent, per byte: a listener cannot invent, but a log can be typed wrongly."""
GARBLED = 1e-5
"""Chance that a byte is read as any value."""
FLIP_PRIOR = (0.02, 60.0)
DOUBLE_PRIOR = (0.15, 60.0)
DROP_PRIOR = (1.0, 9.0)
BURST_PRIOR = 20.0  # weight of "no burst" in drops
REPEAT_PRIOR = (0.1, 10.0)
BYTE_PRIOR = 0.25
EVEN = 1000.0
"""Concentration that stands for "every byte has the same drop rate"."""
ODD, ODD_DROP = 5e-4, 0.85
"""The chance that a byte is lost in nearly every run whatever the others are, and how often that one is lost."""
CONCENTRATIONS = (2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 150.0, 400.0, EVEN)
GRID = (0.004, 0.015, 0.04, 0.08, 0.14, 0.22, 0.32, 0.43, 0.55, 0.67, 0.78, 0.87, 0.94, 0.98)


@dataclass(slots=True)
class Model:
    """The current belief about the listener and about what is sent; mutable, one per merge.

    `drop` and `concentration`: the drop rate of a column is Beta-distributed with this mean and weight;
    `everywhere`: the mean over all places, bursts included.  `burst`:
    odds of a drop are multiplied by it right after a drop.  `flip[k, v]`: chance that bit k is read wrong when it is
    v.  `repeat`: chance that a byte equals the one before by intention.  `symbols`: chance of each value.
    """

    drop: float = 0.1
    everywhere: float = 0.1
    concentration: float = EVEN
    burst: float = 1.0
    double: float = DOUBLE_PRIOR[0] / DOUBLE_PRIOR[1]
    flip: Floats = field(default_factory=lambda: np.full((8, 2), FLIP_PRIOR[0] / FLIP_PRIOR[1]))
    repeat: float = REPEAT_PRIOR[0] / REPEAT_PRIOR[1]
    symbols: Floats = field(default_factory=lambda: np.full(256, 1 / 256))
    _log_fresh: list[float] = field(default_factory=list)
    _log_again: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._log_next()

    def _log_next(self) -> None:
        fresh = (1 - self.repeat) * self.symbols
        self._log_fresh, self._log_again = np.log(fresh).tolist(), np.log(fresh + self.repeat).tolist()

    def copy(self) -> Model:
        """The same belief, to be changed by itself."""
        return replace(self, flip=self.flip.copy(), symbols=self.symbols.copy())

    def gist(self) -> Floats:
        """Logarithms of the rates, for telling whether they have moved; small rates are all alike."""
        numbers = [self.drop, 1 - self.drop, self.double, self.repeat]
        rates = np.log(np.concatenate((numbers, self.flip.ravel())) + 0.004)
        return np.concatenate((rates, np.log([self.burst, self.concentration])))

    def reads(self) -> Floats:
        """The table reads[x, y]: probability to read y where x was sent."""
        table = np.ones((1, 1))
        for k in range(8):  # line 7 ends up as the outermost factor, as it is the highest bit of the index
            up, down = float(self.flip[k, 0]), float(self.flip[k, 1])
            line = np.array([[1 - up, up], [down, 1 - down]])
            table = (line[:, None, :, None] * table[None, :, None, :]).reshape(2 << k, 2 << k)
        return (1 - GARBLED) * table + GARBLED / 256

    def after_drop(self, drop: Floats | float) -> Floats:
        """The drop rate right after a drop, from the rate elsewhere."""
        rate = np.asarray(drop, dtype=np.float64)
        return self.burst * rate / (1 - rate + self.burst * rate)

    def log_next(self, before: int, value: int) -> float:
        """Log-probability that `value` is sent after `before` (-1: nothing before)."""
        return self._log_again[value] if value == before else self._log_fresh[value]

    def log_prior(self, data: list[int]) -> float:
        """Log-probability that this was sent."""
        return sum(self.log_next(data[i - 1] if i else -1, value) for i, value in enumerate(data))

    def drop_grid(self) -> tuple[Floats, Floats]:
        """Drop rates of a column not yet known, and their weights (sum 1)."""
        if self.concentration >= EVEN:
            return np.array([self.drop]), np.array([1.0])
        a, b = self.drop * self.concentration, (1 - self.drop) * self.concentration
        points = np.array(GRID)
        edges = np.concatenate(([0.0], (points[1:] + points[:-1]) / 2, [1.0]))
        weights = np.exp((a - 1) * np.log(points) + (b - 1) * np.log1p(-points)) * np.diff(edges)
        if weights.sum() <= 0 or self.concentration > 100:
            spread = math.sqrt(self.drop * (1 - self.drop) / (self.concentration + 1))
            points = np.clip(self.drop + spread * np.array([-1.7, -0.8, 0.0, 0.8, 1.7]), 1e-4, 1 - 1e-4)
            weights = np.array([0.12, 0.23, 0.3, 0.23, 0.12])
        return points, weights / weights.sum()

    def learn_symbols(self, data: list[int]) -> None:
        """Learn what is sent from the draft itself."""
        counts = np.bincount(np.array(data, dtype=np.int64), minlength=256).astype(np.float64)
        repeats = sum(1 for a, b in itertools.pairwise(data) if a == b)
        self.repeat = (repeats + REPEAT_PRIOR[0]) / (len(data) + REPEAT_PRIOR[1])
        self.symbols = (counts + BYTE_PRIOR) / (counts.sum() + 256 * BYTE_PRIOR)
        self._log_next()

    def learn_lines(self, pairs: Floats) -> None:
        """Learn the flip rates from the expected numbers of (sent, read)."""
        sent, read = np.nonzero(pairs > 1e-9)
        weight = pairs[sent, read]
        for k in range(8):
            level, wrong = sent >> k & 1, (sent ^ read) >> k & 1
            totals = np.bincount(level * 2 + wrong, weights=weight, minlength=4).reshape(2, 2)
            learnt = (totals[:, 1] + FLIP_PRIOR[0]) / (totals.sum(axis=1) + FLIP_PRIOR[1])
            self.flip[k] = np.minimum(0.5, learnt)

    def learn_doubles(self, doubles: float, received: float) -> None:
        """Learn the chance of a double from the expected number."""
        self.double = min(0.5, (doubles + DOUBLE_PRIOR[0]) / (received + DOUBLE_PRIOR[1]))

    def learn_drops(self, dropped: Floats, after: Floats, alone: npt.NDArray[np.bool_], *, spread: bool) -> Floats:
        """Learn the drop rates; the result is each column's own rate.

        `dropped[r, i]`: as `_kernel.expect` gives it; `after`: its `after_drop`.  `alone[i]`: the byte has no equal
        neighbour, so that its drops are its own.  `spread`: learn the concentration as well.
        """
        num_runs, length = dropped.shape
        lost = dropped.sum(axis=0)
        trials = num_runs * length
        after_trials, after_lost = float(after[:, 0].sum()), float(after[:, 1].sum())
        first = (float(lost.sum()) - after_lost + DROP_PRIOR[0]) / (trials - after_trials + sum(DROP_PRIOR))
        everywhere = (float(lost.sum()) + DROP_PRIOR[0]) / (trials + sum(DROP_PRIOR))
        unseen = unseen_factor(everywhere, num_runs)
        first, everywhere = min(0.95, first * unseen), min(0.95, everywhere * unseen)
        self.everywhere = everywhere
        again = (after_lost + BURST_PRIOR * everywhere) / (after_trials + BURST_PRIOR)
        self.drop = min(0.95, max(1e-4, first))
        self.burst = max(1.0, again / (1 - again) * (1 - self.drop) / self.drop) if again < 0.999 else 1000.0
        if self.burst < 1.5:
            self.burst, self.drop = 1.0, min(0.95, max(1e-4, everywhere))
        if spread and int(alone.sum()) >= 4:
            self.concentration = _concentration(lost[alone], num_runs, self.drop if self.burst == 1 else everywhere)
        weight = self.concentration
        return (
            np.clip((self.drop * weight + lost) / (weight + num_runs), 1e-4, 1 - 1e-4)
            if weight < EVEN
            else np.full(length, self.drop)
        )

    def overfit(self, dropped: Floats, drops: Floats) -> float:
        """Nats by which each column's own learnt rate explains its drops better than rates not known before.

        `dropped[r, i]`: as `_kernel.expect` gives it; `drops[i]`: the rate in use.  The other side is the mean over
        what is believed of a rate before anything is seen, a Beta distribution.
        """
        if self.concentration >= EVEN:
            return 0.0
        num_runs = dropped.shape[0]
        lost = np.clip(dropped.sum(axis=0), 0.0, num_runs)
        used = float((lost * np.log(drops) + (num_runs - lost) * np.log1p(-drops)).sum())
        mean = self.drop if self.burst == 1 else self.everywhere
        return max(0.0, used - _log_marginal(lost, num_runs, mean, self.concentration))


def unseen_factor(seen: float, num_runs: int) -> float:
    """True loss rate over the one counted, since a byte that every run dropped is not counted.

    The counted rate of n runs is p (1 - p^(n-1)) / (1 - p^n); solved for p by halving.
    """
    if num_runs < 2:
        return 1.0
    low, high = seen, 0.95
    for _ in range(40):
        p = (low + high) / 2
        counted = p * (1 - p ** (num_runs - 1)) / (1 - p**num_runs)
        low, high = (p, high) if counted < seen else (low, p)
    return max(1.0, low / seen)


def _concentration(lost: Floats, num_runs: int, mean: float) -> float:
    """The weight of the Beta prior under which the columns' drops are likeliest; even rates unless clearly not."""
    best, best_weight = -math.inf, EVEN
    for weight in CONCENTRATIONS:
        total = _log_marginal(lost, num_runs, mean, weight)
        if weight >= EVEN:
            total += 2.0  # even rates are the rule; two nats of evidence are asked for the exception
        if total > best:
            best, best_weight = total, weight
    return best_weight


def _log_marginal(lost: Floats, num_runs: int, mean: float, weight: float) -> float:
    """Log-probability of each column's drops (one order of runs) under a Beta-distributed rate, over all columns."""
    a, b = mean * weight, (1 - mean) * weight
    whole = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) - math.lgamma(a + b + num_runs)
    return sum(math.lgamma(a + k) + math.lgamma(b + num_runs - k) + whole for k in lost.tolist())
