"""Merging where it is known how likely each byte sent is missed, because host and listener are known.

The number of bytes sent is known with it.  So the sequence has a byte for every place that some run probably holds,
in order, each with its own known rate; what a merge without this knowledge has found is brought to that number of
bytes and then changed, number kept, as long as that makes the runs likelier.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from latchlore.wire._search import Change, Edit, Search, Tables, strength, weigh_edits

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

HEARD = 0.5
"""A place at which all runs together hold a byte with less than this chance has no byte in the result."""
LEAST_RATE, MOST_RATE = 1e-3, 0.98
MOST_OFF = 12
"""A merge may have so many bytes more or less than the places, to be brought to their number."""
BEST = 10
"""Changes at one turn that are looked at closely."""
MOST_TURNS = 40
MOST_WORSE = 6.0
"""Nats a run by which the runs may fit the known rates worse than rates learnt from themselves."""


class Placed(NamedTuple):
    """A search under known rates; `places[i]`: which byte sent is byte i of the result."""

    search: Search
    places: tuple[int, ...]


def place_known(plain: Search, missed: Sequence[float]) -> Placed | None:
    """The best sequence under known rates; None where the runs do not fit them.

    `plain`: what was found without; `missed[k]`: chance (0 to 1) that a run misses byte k of all bytes sent.
    """
    num_runs = plain.problem.num_runs
    places = tuple(k for k, rate in enumerate(missed) if rate**num_runs < HEARD)
    if not places or abs(len(plain.tables.data) - len(places)) > MOST_OFF:
        return None
    rates = np.clip(np.array([missed[k] for k in places]), LEAST_RATE, MOST_RATE)
    known = _Known(plain, rates)
    while len(known.tables.data) != len(rates):
        best = known.find_best(known.iter_longer(1 if len(known.tables.data) < len(rates) else -1), -math.inf)
        if best is None:
            return None
        known.tables = best
    for _ in range(MOST_TURNS):
        best = known.find_best(known.iter_alike(), known.total(known.tables) + 1e-6)
        if best is None:
            break
        known.tables = best
    if known.tables.loglik < plain.tables.loglik - MOST_WORSE * num_runs:
        return None
    search = Search(plain.problem, known.tables.data, known.model)
    search.tables, search.drops = known.tables, known.tables.drops
    return Placed(search, places)


class _Known:
    def __init__(self, plain: Search, rates: Floats) -> None:
        self.rates = rates
        self.problem = plain.problem
        self.model = plain.model.copy()
        self.model.burst, self.model.drop = 1.0, float(rates.mean())
        self.model.everywhere = self.model.drop
        self.tables = self.make(plain.tables.data)

    def make(self, data: Sequence[int]) -> Tables:
        """Tables of a sequence; where its length is another, its bytes take the rates of the places they fall upon."""
        at = np.linspace(0, len(self.rates) - 1, len(data))
        drops = self.rates if len(data) == len(self.rates) else np.interp(at, np.arange(len(self.rates)), self.rates)
        return Tables(self.problem, data, self.model, np.asarray(drops, np.float64))

    def total(self, tables: Tables) -> float:
        """Log-probability of runs and sequence."""
        return tables.loglik + self.model.log_prior(tables.data)

    def find_best(self, candidates: Iterator[tuple[int, ...]], least: float) -> Tables | None:
        """The likeliest of several sequences, where it is likelier than `least`."""
        best: Tables | None = None
        for data in candidates:
            tables = self.make(data)
            if self.total(tables) > least:
                best, least = tables, self.total(tables)
        return best

    def _changes(self, more: int) -> list[Change]:
        """The most promising changes that make the sequence longer (1), shorter (-1) or neither (0) by one byte."""
        changes = weigh_edits(self.tables, range(len(self.tables.data) + 1))
        return sorted((c for c in changes if len(c.edit.new) - c.edit.taken == more), key=strength)[:BEST]

    def iter_longer(self, more: int) -> Iterator[tuple[int, ...]]:
        """Sequences with a byte more (1) or less (-1)."""
        for change in self._changes(more):
            yield change.edit.apply(self.tables.data)

    def iter_alike(self) -> Iterator[tuple[int, ...]]:
        """Sequences of the same length: one change, or a byte taken out here and one put in there."""
        for change in self._changes(0):
            yield change.edit.apply(self.tables.data)
        less, more = self._changes(-1), self._changes(1)
        for out in less:
            for put in more:
                if not out.edit.at <= put.edit.at <= out.edit.at + 1:
                    yield _both(self.tables.data, out.edit, put.edit)


def _both(data: Sequence[int], one: Edit, other: Edit) -> tuple[int, ...]:
    first, second = sorted((one, other), key=lambda edit: -edit.at)
    return second.apply(first.apply(data))
