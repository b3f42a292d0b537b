"""Where climbs begin and when they end: drafts, the same with equal bytes counted anew; the best climb is kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from latchlore.wire._rates import Model
from latchlore.wire._search import Problem, Search, Tables, draft

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

MOST_TURNS = 6
"""Turns of learning the rates and climbing again."""
SETTLED_RATES = 0.03
"""The rates are learnt when none of their logarithms moves by more than this."""
LOOKED_AHEAD = 300
"""Two changes at once are tried only in sequences up to this length, for the time it takes."""
MOST_RECOUNTS = 3
"""So often a sequence is tried with its equal bytes counted anew."""
RECOUNT_DOUBLE = 0.08
"""The chance of a double from which such a trial begins to learn."""
RECOUNT_SHARE = 0.02
"""Where fewer bytes than this part are counted away, no guess of doubles is made, nor a long sequence tried again."""
DOUBLES_COST, FEW_DOUBLES = 1.0, 0.004
"""A chance of doubles above the second must explain the runs by so many nats better than none: one rate more, learnt
from the same runs, explains that much by chance (Akaike)."""
LEAST_SINGLE = 4
"""The loss of single bytes is taken from so many of them at least."""


def search(problem: Problem, orders: Sequence[Sequence[int]]) -> Search:
    """The best of one climb per order of the runs (see `draft`), and of others with equal bytes counted anew."""
    best: Search | None = None
    for order in orders:
        data = draft(problem, order)
        start = _start(problem, data)
        counted = _recount(start.tables)
        if counted != data:
            best = _better(best, _settled(_start(problem, counted, _double_before(data, counted))))
        if counted == data or len(data) <= LOOKED_AHEAD:
            best = _better(best, _settled(start))
    assert best is not None
    best = _recounted(best)
    if len(best.tables.data) <= LOOKED_AHEAD and best.look_ahead():
        _settle(best)
    return best


def _start(problem: Problem, data: list[int], double: float | None = None) -> Search:
    """Where a climb begins, before anything is learnt; `double`: the chance of one, where a guess is at hand."""
    model = Model() if double is None else Model(double=double)
    lengths = np.diff(problem.starts)
    model.drop = min(0.8, max(0.02, 1 - float(lengths.mean()) / max(1, len(data))))
    model.learn_symbols(data)
    return Search(problem, data, model)


def _settled(climb: Search) -> Search:
    _settle(climb)
    return climb


def _better(one: Search | None, other: Search) -> Search:
    return other if one is None or _worth(other) > _worth(one) + 1e-9 else one


def _worth(climb: Search) -> float:
    """What climbs are compared by, in nats."""
    return climb.fair_total - (DOUBLES_COST if climb.model.double > FEW_DOUBLES else 0.0)


def _double_before(data: Sequence[int], counted: Sequence[int]) -> float | None:
    """A first guess of the chance of a double where so many bytes were taken for doubles; None: the usual one."""
    return RECOUNT_DOUBLE if len(data) - len(counted) > RECOUNT_SHARE * len(data) else None


def _recounted(best: Search) -> Search:
    """The better of a climb and another one from its sequence with equal bytes counted by the loss of single ones.

    Where a listener doubles bytes, a climb may end at a sequence that has every double in it as a byte of its own,
    which most runs then have lost; no single change leads away from it, since the rates were learnt from it.
    """
    for _ in range(MOST_RECOUNTS):
        data = _recount(best.tables)
        removed = len(best.tables.data) - len(data)
        if not removed or (len(data) > LOOKED_AHEAD and removed < RECOUNT_SHARE * len(data)):
            break
        other = _settled(_start(best.problem, data, RECOUNT_DOUBLE))
        if _better(best, other) is best:
            break
        best = other
    return best


def _recount(tables: Tables) -> list[int]:
    """The sequence with as many equal bytes in a row as the runs hold of them, a loss as of bytes that stand alone."""
    if not tables.data:
        return []
    found = tables.expect()
    held = (1 - found.dropped + found.doubles).mean(axis=0)
    starts = np.concatenate([[0], np.flatnonzero(np.diff(tables.xs.astype(np.int16)) != 0) + 1])
    sizes = np.diff(np.append(starts, len(tables.data)))
    single = held[starts[sizes == 1]]
    kept = min(1.0, max(0.05, float(np.median(single)) if len(single) >= LEAST_SINGLE else 1.0))
    data: list[int] = []
    for start, size in zip(starts.tolist(), sizes.tolist(), strict=True):
        count = max(1, round(float(held[start : start + size].sum()) / kept)) if size > 1 else 1
        data += [tables.data[start]] * min(size, count)
    return data


def _settle(climb: Search) -> None:
    """Climb and learn by turns until nothing moves."""
    climb.climb()
    for turn in range(MOST_TURNS):
        before, data = climb.model.gist(), climb.tables.data
        # Rates by position come last: too early, they take doubles for losses at the places between.
        climb.learn(spread=turn > 1)
        climb.climb()
        if turn > 1 and data == climb.tables.data and np.abs(climb.model.gist() - before).max() < SETTLED_RATES:
            break


def search_timed(problem: Problem, data: Sequence[int], times: Floats, model: Model) -> Search:
    """The best sequence near a draft whose columns have times; `model` as a merge without times has learnt it."""
    model.learn_symbols(list(data))
    climb = Search(problem, data, model, times)
    _settle(climb)
    return climb
