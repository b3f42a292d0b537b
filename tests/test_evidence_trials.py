"""The planner: known puzzles, and the order of an exhaustive search over all plans."""

from __future__ import annotations

import random
import re
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pytest
from scipy.stats import entropy as reference_entropy

from latchlore.evidence import Hazard, Trial, order_trials, reach, reach_ahead, runs_needed, share_out

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.evidence import ChanceTable

Figures = npt.NDArray[np.float64]
SURE: ChanceTable = ((1.0, 0.0), (0.0, 1.0))


def _trial(name: str, chances: ChanceTable, cost: float = 1, hazard: Hazard = Hazard.READING, times: int = 1) -> Trial:
    return Trial(name, tuple("abcdefgh"[: len(chances[0])]), chances, cost, hazard, times)


def _weighing(each: int) -> Trial:
    """Of twelve balls the first `each` on the left pan, the next on the right; 24 rivals: ball k heavy, ball k light.

    Outcomes: left sinks, right sinks, balance.
    """
    rows = []
    for ball in range(12):
        for heavy in (True, False):
            where = 0 if ball < each else 1 if ball < 2 * each else 2
            outcome = 2 if where == 2 else where if heavy else 1 - where
            rows.append(tuple(float(k == outcome) for k in range(3)))
    return _trial(f"{each} against {each}", tuple(rows))


def test_weighing_puzzle() -> None:
    """MacKay (2003), section 4.1: of all first weighings of the twelve balls 4 against 4 tells most, log2 3 bits.

    1 against 1 tells 0.817 bits, 2 against 2 1.252, 3 against 3 1.5, 5 against 5 1.483, 6 against 6 1 bit: the
    entropies of the outcomes (2n/24, 2n/24, rest), by SciPy.
    """
    found = order_trials((1 / 24,) * 24, [_weighing(each) for each in range(1, 7)], ahead=1)
    assert found[0].trial.name == "4 against 4"
    assert found[0].bits == pytest.approx(1.585, abs=0.0005)
    for one in found:
        share = int(one.trial.name[0]) / 12
        assert one.bits == pytest.approx(float(reference_entropy([share, share, 1 - 2 * share], base=2)))


def test_plan_ahead() -> None:
    """A trial is worth what the best plan that begins with it is worth, here of one that pays only after another."""
    parity = (0.25,) * 4
    first = _trial("first bit", ((0.9, 0.1), (0.9, 0.1), (0.1, 0.9), (0.1, 0.9)))
    weak = _trial("weak", ((0.5, 0.5), (0.5, 0.5), (0.5, 0.5), (0.4, 0.6)))
    found = order_trials(parity, [weak, first])
    assert [one.trial.name for one in found] == ["first bit", "weak"]
    assert found[1].plan_bits > found[1].bits  # a weak trial is worth doing for what may follow it


def test_harmless_first() -> None:
    """Hazard goes before worth; what tells nothing goes last, whatever its hazard."""
    sure = _trial("plug it in", SURE, 1, Hazard.PRECIOUS)
    little = _trial("continuity", ((0.6, 0.4), (0.4, 0.6)), 50, Hazard.POWER_OFF)
    nothing = _trial("look", ((0.5, 0.5), (0.5, 0.5)), 1, Hazard.POWER_OFF)
    write = _trial("write", SURE, 2, Hazard.WRITING)
    found = order_trials((0.5, 0.5), [sure, nothing, little, write])
    assert [one.trial.name for one in found] == ["continuity", "write", "plug it in", "look"]
    assert [one.tells for one in found] == [True, True, True, False]


def test_order_wrong() -> None:
    """A table for another number of rivals, a cost of nothing, a look of no depth."""
    with pytest.raises(ValueError, match=r"^a table of chances has one row a rival: 2 rows, 3 rivals$"):
        order_trials((0.2, 0.3, 0.5), [_trial("t", SURE)])
    with pytest.raises(ValueError, match=r"^a trial costs more than nothing, not 0$"):
        _trial("t", SURE, 0)
    with pytest.raises(ValueError, match=r"^a trial is done once or more, not 0 times$"):
        _trial("t", SURE, times=0)
    with pytest.raises(ValueError, match=r"^a plan looks one trial ahead or more, not 0$"):
        reach_ahead([], 0)
    words = re.escape("the chances of a row are 0 to 1 and add up to 1: [0.5, 0.6]")
    with pytest.raises(ValueError, match=f"^{words}$"):
        _trial("t", ((0.5, 0.6), (0.5, 0.5)))


# --- exhaustive search: the figures of every single plan are written down, none is left out ------------------------


def _plans(
    trials: Sequence[Trial], first: int, left: dict[int, int], ahead: int, joint: list[float]
) -> tuple[Figures, Figures]:
    """For every plan that begins with a trial, without exception: what is not known at its ends, and what it costs.

    Both are sums over the plan's ends, weighted by their chance.  `joint`: how likely each rival is together with
    what was seen so far; `left`: how often each trial may still be done.  A plan chooses for each outcome on its own
    whether to stop or which plan follows, so the figures of all plans are the sums over all combinations.
    """
    rest = {k: count - (k == first) for k, count in left.items()}
    unknown, cost = np.zeros(1), np.full(1, sum(joint) * trials[first].cost)
    for k in range(len(trials[first].outcomes)):
        seen = [one * row[k] for one, row in zip(joint, trials[first].chances, strict=True)]
        stop = sum(seen) * float(reference_entropy(seen, base=2)) if sum(seen) > 0 else 0.0
        following = [(np.full(1, stop), np.zeros(1))]
        if ahead > 1 and sum(seen) > 0:
            following += [_plans(trials, one, rest, ahead - 1, seen) for one, count in rest.items() if count > 0]
        unknown = np.add.outer(unknown, np.concatenate([one for one, _ in following])).ravel()
        cost = np.add.outer(cost, np.concatenate([one for _, one in following])).ravel()
    return unknown, cost


def exhaustive(weights: Sequence[float], trials: Sequence[Trial], ahead: int) -> tuple[list[tuple[str, float]], int]:
    """Names and worths in the order that the description of `rank` demands, and the number of plans compared."""
    before = float(reference_entropy(weights, base=2))
    rows = []
    plans = 0
    for first, trial in enumerate(trials):
        left = {k: one.times for k, one in enumerate(trials) if one.hazard <= trial.hazard}
        unknown, cost = _plans(trials, first, left, ahead, list(weights))
        plans += len(cost)
        worth = float(((before - unknown) / cost).max())
        alone = before - float(_plans(trials, first, left, 1, list(weights))[0][0])
        digits = (0.0, 0.0) if alone < 1e-3 else (-float(f"{worth:.8e}"), -float(f"{alone / trial.cost:.8e}"))
        rows.append((alone < 1e-3, trial.hazard, *digits, first, worth))
    return [(trials[first].name, worth) for *_, first, worth in sorted(rows)], plans


def problem(rng: random.Random) -> tuple[tuple[float, ...], list[Trial]]:
    """Three rivals and three or four trials, some with certain rows, some of no use, costs over a decade."""
    weights = share_out([rng.random() + 0.02 for _ in range(3)])
    shapes = rng.choice(((2, 2, 2), (2, 2, 3), (2, 3, 2), (3, 2, 2), (2, 2)))
    trials = []
    for k, outcomes in enumerate(shapes):
        rows = tuple(share_out([rng.random() ** rng.choice((1, 6)) + 1e-6 for _ in range(outcomes)]) for _ in range(3))
        if rng.random() < 0.3:  # two rivals that this trial cannot tell apart
            rows = (rows[0], rows[0], rows[2])
        if rng.random() < 0.15:
            rows = (rows[0],) * 3
        if rng.random() < 0.3:
            sure = tuple(float(one == 0) for one in range(outcomes))
            rows = (sure, *rows[1:])
        times = 2 if len(shapes) == 2 and k == 0 else 1
        trials.append(_trial(f"t{k}", rows, round(10 ** rng.random(), 2), Hazard(rng.choice((0, 1, 1, 1, 2))), times))
    return weights, trials


def test_order_is_exhaustive() -> None:
    """On 200 random problems of three rivals the order, and every worth, is that of the search over all plans.

    The order: what tells anything before what does not, then by hazard, then by the worth of the best plan that
    begins with the trial (bits per cost, up to three trials one after the other), then by its own bits per cost.
    Some problems must be such that looking no further than one trial gives another order, and that leaving out the
    hazard does: the test would be no use otherwise.
    """
    rng = random.Random(20)
    otherwise = unlike = plans = 0
    for _ in range(200):
        weights, trials = problem(rng)
        found = order_trials(weights, trials, ahead=3)
        expected, count = exhaustive(weights, trials, 3)
        plans += count
        assert [one.trial.name for one in found] == [name for name, _ in expected]
        assert [one.worth for one in found] == pytest.approx([worth for _, worth in expected], rel=1e-9, abs=1e-12)
        nearest = order_trials(weights, trials, ahead=1)
        otherwise += [one.trial.name for one in nearest] != [one.trial.name for one in found]
        by_worth = sorted(found, key=lambda one: -one.worth)
        unlike += [one.trial.name for one in by_worth] != [one.trial.name for one in found]
    assert plans > 50_000
    assert otherwise >= 3
    assert unlike >= 20


def test_reach_ahead() -> None:
    """Few trials are looked through to the full depth; of a hundred only the nearest."""
    assert reach_ahead([_trial("t", SURE)] * 10) == 3
    assert reach_ahead([_trial("t", SURE)] * 100) == 2
    assert reach_ahead([_trial("t", SURE)] * 3000) == 1


def test_reach() -> None:
    """Whether trials can decide, and how likely they are to.

    MacKay's test of example 2.3 twice: both positive gives 0.01·0.9025 / (0.01·0.9025 + 0.99·0.0025) = 0.785 for the
    disease; the other rival is beyond 95 % with every other result.
    """
    table = ((0.95, 0.05), (0.05, 0.95))
    twice = reach((0.01, 0.99), [_trial("test", table, times=2)], 0.95)
    assert twice.can_decide
    assert twice.ways == 3
    assert twice.chance == pytest.approx(1 - (0.01 * 0.9025 + 0.99 * 0.0025))
    even = reach((0.5, 0.5), [_trial("test", table)], 0.96)
    assert even.can_decide is False
    assert even.most == pytest.approx(0.95)
    assert reach((0.5, 0.5), [], 0.95).can_decide is False


def test_runs_needed() -> None:
    """How often a trial is repeated: by hand, with 90 % against 10 % and 1 : 1, one run reaches 90 %, not 95 %.

    Two runs decide where they agree, 0.81 + 0.01 = 82 % of the time; three where they agree, 0.729 + 0.001, or not at
    all (2 : 1 leaves 90 %); four decide unless they stand 2 : 2 (3 : 1 is 81 : 1): 1 - 6·0.81·0.01 = 95.14 %.
    """
    table = ((0.9, 0.1), (0.1, 0.9))
    assert runs_needed((0.5, 0.5), _trial("t", table), 0.95) == 4
    assert runs_needed((0.5, 0.5), _trial("t", table), 0.95, 0.8) == 2
    assert runs_needed((0.96, 0.04), _trial("t", table), 0.95) == 0
    assert runs_needed((0.5, 0.5), _trial("t", ((0.5, 0.5), (0.5, 0.5))), 0.95) is None


def test_reach_bounded() -> None:
    """With too many ways to look at, a bound rules out what cannot be; what is not ruled out stays open."""
    table = ((0.5, 0.3, 0.2), (0.5, 0.2, 0.3))
    trials = [_trial(f"t{k}", table) for k in range(11)]
    bound = reach((0.5, 0.5), trials, 0.999)
    assert (bound.chance, bound.can_decide, bound.ways) == (None, False, 3**11)
    assert bound.most == pytest.approx(1.5**11 / (1 + 1.5**11))
    assert reach((0.5, 0.5), trials, 0.9).can_decide is None
