"""Trials: which one to do next, and whether all of them together can decide.

A **plan** begins with one trial and may go on, depending on what was seen, with others, each as often as it may be
done, or stop; it looks `ahead` trials far.  Its worth is the information to be expected of it, in bits, divided by
the cost to be expected of it.  A trial is worth what the best plan that begins with it is worth.  A plan uses no trial
of a higher hazard than its first one, so that nothing harmless is put first for the sake of something dangerous.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import IntEnum
from itertools import product
from typing import TYPE_CHECKING

from latchlore.evidence import trialwording as words
from latchlore.evidence._rivals import check_table, information, predict, seen_surely, share_out, update

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.evidence._rivals import ChanceTable, Weights

AHEAD = 3
"""So many trials a plan looks ahead, where there are not too many."""
MOST_STATES = 2_000
"""States of knowledge looked through; where there would be more, plans look less far ahead."""
MOST_WAYS = 60_000
"""Ways all trials together can come out, up to which all are looked at."""
MOST_RUNS = 20
"""So often a trial is repeated at most."""
MIN_BITS = 1e-3
"""A trial that tells less than this, as things stand, is told to tell nothing."""
_DIGITS = 9  # of a worth: beyond them differences are rounding


class Hazard(IntEnum):
    """What a trial can hurt, the harmless first."""

    POWER_OFF = 0
    READING = 1
    WRITING = 2
    PRECIOUS = 3

    @property
    def key(self) -> str:
        """As it is written in a study: ``power-off``, ``reading``, ``writing``, ``precious``."""
        return tuple(words.HAZARDS)[self.value]

    @classmethod
    def of_key(cls, key: str) -> Hazard:
        """The hazard of that key; ValueError for any other."""
        return cls(tuple(words.HAZARDS).index(key))


@dataclass(frozen=True, slots=True)
class Trial:
    """What can be done: the chances of its outcomes under each rival, its cost, its hazard.

    `chances`: a row a rival, in the order of the rivals.  `cost`: above 0, in any unit that all trials share.
    `times`: how often it may still be done; its outcomes are independent of one another under each rival.
    """

    name: str
    outcomes: tuple[str, ...]
    chances: ChanceTable
    cost: float
    hazard: Hazard
    times: int = 1

    def __post_init__(self) -> None:
        check_table(self.chances, len(self.chances))
        if len(self.chances[0]) != len(self.outcomes):
            raise ValueError(words.COLUMNS.format(row=list(self.chances[0])))
        if not 0 < self.cost < math.inf:
            raise ValueError(words.COST.format(cost=self.cost))
        if self.times < 1:
            raise ValueError(words.TIMES.format(times=self.times))


@dataclass(frozen=True, slots=True)
class Prospect:
    """A trial and what may be expected of it.

    `bits`: of the trial alone.  `plan_bits` and `plan_cost`: of the best plan that begins with it.  `foreseen`: the
    chance of each outcome; `after`: the weights after each (empty for an outcome that cannot be).
    """

    trial: Trial
    bits: float
    plan_bits: float
    plan_cost: float
    foreseen: Weights
    after: tuple[Weights, ...]

    @property
    def worth(self) -> float:
        """Bits to be expected for one unit of cost."""
        return self.plan_bits / self.plan_cost

    @property
    def tells(self) -> bool:
        """Whether it tells anything worth naming."""
        return self.bits >= MIN_BITS


def rank(prospect: Prospect) -> tuple[bool, int, float, float]:
    """Best first: what tells anything, then the lowest hazard, then the highest worth, then what tells most at once.

    Hazard goes before worth because a rare machine that is hurt answers no further question; what tells nothing is
    no reason to wait with a trial of a higher hazard.  Where two plans hold the same trials, the one that begins with
    more bits per cost may be broken off with more gain.  Both are rounded to nine digits, so that rounding does not
    decide between equals; of what is still equal, and of what tells nothing, the first stated goes first.
    """
    if not prospect.tells:
        return (True, prospect.trial.hazard, 0.0, 0.0)
    at_once = prospect.bits / prospect.trial.cost
    return (False, prospect.trial.hazard, -_rounded(prospect.worth), -_rounded(at_once))


def _rounded(number: float) -> float:
    return float(f"{number:.{_DIGITS - 1}e}")


def order_trials(weights: Sequence[float], trials: Sequence[Trial], ahead: int = AHEAD) -> tuple[Prospect, ...]:
    """All trials, the best next one first (`rank`).

    `ahead` is lowered where more than `MOST_STATES` states of knowledge would be looked through (`reach_ahead`).
    Refuses tables with another number of rows than there are weights.
    """
    for trial in trials:
        check_table(trial.chances, len(weights))
    depth = reach_ahead(trials, ahead)
    prospects = [_prospect(tuple(weights), tuple(trials), k, depth) for k in range(len(trials))]
    return tuple(sorted(prospects, key=rank))


def reach_ahead(trials: Sequence[Trial], ahead: int = AHEAD) -> int:
    """How many trials ahead plans look: at most `ahead`, and 1 at least."""
    if ahead < 1:
        raise ValueError(words.AHEAD.format(ahead=ahead))
    branches = sum(len(trial.outcomes) for trial in trials)
    while ahead > 1 and math.comb(branches + ahead - 1, ahead - 1) > MOST_STATES:
        ahead -= 1
    return ahead


def _prospect(weights: Weights, trials: tuple[Trial, ...], first: int, ahead: int) -> Prospect:
    trial = trials[first]
    foreseen = predict(weights, trial.chances)
    after = tuple(
        update(weights, [(trial.chances, seen_surely(k, len(foreseen)))]) if chance > 0 else ()
        for k, chance in enumerate(foreseen)
    )
    allowed = tuple(k for k, one in enumerate(trials) if one.hazard <= trial.hazard)
    bits, cost = _Planner(weights, trials, allowed).best_plan(first, ahead)
    return Prospect(trial, information(weights, trial.chances), bits, cost, foreseen, after)


_Steps = tuple[tuple[int, int], ...]  # (trial, outcome) of every step so far, sorted: their order does not matter


class _Planner:
    """The best plans from one state of knowledge; what follows from a state is worked out once."""

    def __init__(self, weights: Weights, trials: tuple[Trial, ...], allowed: tuple[int, ...]) -> None:
        self._start, self._trials, self._allowed = weights, trials, allowed
        self._options: dict[tuple[_Steps, int], tuple[float, tuple[tuple[float, _Steps], ...]]] = {}
        self._weights: dict[_Steps, Weights] = {(): weights}

    def best_plan(self, first: int, ahead: int) -> tuple[float, float]:
        """Bits and cost to be expected of the plan of the greatest worth that begins with a trial.

        For a price of one unit of cost the plan of the greatest gain is found backwards; the price is raised to that
        plan's worth until no plan gains at it (W. Dinkelbach, On Nonlinear Fractional Programming, Management
        Science 13, 1967).  There are finitely many plans, so this ends.
        """
        bits, _ = self._option((), first)
        plan = (bits, self._trials[first].cost)
        while True:
            price = plan[0] / plan[1]
            better = self._follow((), first, ahead, price, {})
            if better[0] - price * better[1] <= 1e-13 or better[0] / better[1] <= price:
                return plan
            plan = better

    def _follow(
        self, steps: _Steps, trial: int, ahead: int, price: float, known: dict[tuple[_Steps, int], tuple[float, float]]
    ) -> tuple[float, float]:
        """Bits and cost of a trial and of the best that follows it."""
        bits, branches = self._option(steps, trial)
        cost = self._trials[trial].cost
        for chance, after in branches if ahead > 1 else ():
            more = self._best(after, ahead - 1, price, known)
            bits, cost = bits + chance * more[0], cost + chance * more[1]
        return bits, cost

    def _best(
        self, steps: _Steps, ahead: int, price: float, known: dict[tuple[_Steps, int], tuple[float, float]]
    ) -> tuple[float, float]:
        """Bits and cost of what is best to do from here; to stop gains and costs nothing."""
        key = (steps, ahead)
        if key not in known:
            best = (0.0, 0.0)
            for trial in self._allowed:
                if sum(one == trial for one, _ in steps) < self._trials[trial].times:
                    found = self._follow(steps, trial, ahead, price, known)
                    if found[0] - price * found[1] > best[0] - price * best[1]:
                        best = found
            known[key] = best
        return known[key]

    def _option(self, steps: _Steps, trial: int) -> tuple[float, tuple[tuple[float, _Steps], ...]]:
        """A trial done after these steps: its bits, and each outcome that can be with its chance and the steps then."""
        key = (steps, trial)
        if key not in self._options:
            table = self._trials[trial].chances
            weights = self._weights[steps]
            branches = []
            for k, chance in enumerate(predict(weights, table)):
                if chance > 0:
                    after = tuple(sorted((*steps, (trial, k))))
                    if after not in self._weights:
                        self._weights[after] = update(weights, [(table, seen_surely(k, len(table[0])))])
                    branches.append((chance, after))
            self._options[key] = (information(weights, table), tuple(branches))
        return self._options[key]


@dataclass(frozen=True, slots=True)
class Reach:
    """Whether trials can decide: whatever all of them show, each as often as it may be done.

    `chance`: that one rival reaches `enough` then, None where there are more than `MOST_WAYS` ways.  `most`: the
    highest weight any rival can reach, and `best` that rival; with `chance` None `most` is a bound from above.
    `ways`: in how many ways they can come out, outcomes of the same trial in any order.
    """

    enough: float
    chance: float | None
    most: float
    best: int
    ways: int

    @property
    def can_decide(self) -> bool | None:
        """None: not looked through, and not ruled out."""
        return False if self.most < self.enough else None if self.chance is None else True


def reach(weights: Sequence[float], trials: Sequence[Trial], enough: float) -> Reach:
    """Whether one rival can reach the weight `enough` by these trials.

    Exhaustive up to `MOST_WAYS` ways.  Beyond, a bound: against each other rival alone, every trial comes out as
    favourably as it can.
    """
    ways = math.prod(math.comb(trial.times + len(trial.outcomes) - 1, trial.times) for trial in trials)
    rivals = range(len(weights))
    if ways > MOST_WAYS:
        bounds = [_bound(weights, trials, rival) for rival in rivals]
        best = max(rivals, key=lambda k: bounds[k])
        return Reach(enough, None, bounds[best], best, ways)
    decided: list[float] = []
    most, best = -1.0, 0
    for way in product(*(tuple(_iter_ways(trial)) for trial in trials)):
        joint = [weight * math.prod(one[k] for one in way) for k, weight in enumerate(weights)]
        chance = math.fsum(joint)
        if chance <= 0:
            continue
        top = max(rivals, key=lambda k: joint[k])
        if joint[top] / chance > most:
            most, best = joint[top] / chance, top
        if joint[top] / chance >= enough:
            decided.append(chance)
    return Reach(enough, math.fsum(decided), most, best, ways)


def runs_needed(weights: Sequence[float], trial: Trial, enough: float, chance: float = 0.9) -> int | None:
    """How often a trial must be done for one rival to reach `enough` with this chance by it alone.

    None where even `MOST_RUNS` times do not; 0 where a rival has reached it already.
    """
    if max(weights) >= enough:
        return 0
    for times in range(1, MOST_RUNS + 1):
        decided = reach(weights, [replace(trial, times=times)], enough).chance
        if decided is not None and decided >= chance:
            return times
    return None


def _iter_ways(trial: Trial) -> Iterator[Weights]:
    """For every way a trial done `times` times can come out: the chance under each rival."""
    for counts in _splits(trial.times, len(trial.outcomes)):
        orders = math.factorial(trial.times) // math.prod(math.factorial(count) for count in counts)
        yield tuple(
            orders * math.prod(chance**count for chance, count in zip(row, counts, strict=True))
            for row in trial.chances
        )


def _splits(total: int, parts: int) -> Iterator[tuple[int, ...]]:
    if parts == 1:
        yield (total,)
        return
    for first in range(total, -1, -1):
        for rest in _splits(total - first, parts - 1):
            yield (first, *rest)


def _bound(weights: Sequence[float], trials: Sequence[Trial], rival: int) -> float:
    """A weight that a rival cannot pass."""
    if weights[rival] <= 0:
        return 0.0
    others = 0.0
    for other, weight in enumerate(weights):
        if other == rival:
            continue
        ratio = weight / weights[rival]
        for trial in trials:
            pairs = zip(trial.chances[rival], trial.chances[other], strict=True)
            ratio *= min(theirs / own for own, theirs in pairs if own > 0) ** trial.times
        others += ratio
    return share_out([1.0, others])[0]
