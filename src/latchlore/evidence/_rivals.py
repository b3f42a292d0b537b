"""Rivals and their weights: what an outcome makes of them, and what a trial may be expected to tell, in bits.

Pure arithmetic: weights are tuples of numbers that add up to 1, one a rival; a trial is a table with a row a rival,
each row the chances of the outcomes if that rival is true.  Sources: D. J. C. MacKay, Information Theory, Inference,
and Learning Algorithms (2003), chapters 2, 4 and 8; J. Pearl, Probabilistic Reasoning in Intelligent Systems (1988),
section 2.2 (evidence that is itself in doubt).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeAlias

from latchlore.evidence import trialwording as words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

Weights: TypeAlias = "tuple[float, ...]"
ChanceTable: TypeAlias = "tuple[tuple[float, ...], ...]"

LEAST_SUM = 1e-6
"""A row of chances adds up to 1 within this."""


def share_out(numbers: Sequence[float]) -> Weights:
    """The same numbers in proportion, adding up to 1.  Refuses a negative or endless one, and nothing but zeros."""
    if any(not math.isfinite(one) or one < 0 for one in numbers):
        raise ValueError(words.NO_WEIGHTS.format(numbers=list(numbers)))
    most = max(numbers, default=0.0)
    if most <= 0:
        raise ValueError(words.NO_WEIGHTS.format(numbers=list(numbers)))
    scaled = [one / most for one in numbers]  # so that the sum neither overflows nor vanishes
    total = math.fsum(scaled)
    return tuple(one / total for one in scaled)


def check_table(chances: ChanceTable, rivals: int) -> None:
    """Refuse a table that has not a row a rival, or a row that is no distribution over two outcomes or more."""
    if len(chances) != rivals:
        raise ValueError(words.ROWS.format(rows=len(chances), rivals=rivals))
    for row in chances:
        if len(row) != len(chances[0]) or len(row) < 2:
            raise ValueError(words.COLUMNS.format(row=list(row)))
        if any(not 0 <= one <= 1 for one in row) or abs(math.fsum(row) - 1) > LEAST_SUM:
            raise ValueError(words.NOT_ONE.format(row=list(row)))


def entropy(weights: Sequence[float]) -> float:
    """What is not known, in bits: 0 where one weight is 1, log2 of their number where all are equal."""
    return max(0.0, -math.fsum(one * math.log2(one) for one in weights if one > 0)) + 0.0


def predict(weights: Sequence[float], chances: ChanceTable) -> Weights:
    """The chance of each outcome, before the trial is done."""
    return tuple(
        math.fsum(weight * row[k] for weight, row in zip(weights, chances, strict=True)) for k in range(len(chances[0]))
    )


def information(weights: Sequence[float], chances: ChanceTable) -> float:
    """Bits by which the trial may be expected to lessen what is not known: the mutual information.

    0 where all rivals foresee the same, at most the entropy of the weights.
    """
    total = predict(weights, chances)
    terms: list[float] = []
    for weight, row in zip(weights, chances, strict=True):
        for chance, among in zip(row, total, strict=True):
            if weight > 0 and among > 0:
                # p log(p/q) - p + q is never negative; the parts added sum up to nothing over a row
                own = chance * math.log(chance / among) if chance > 0 else 0.0
                terms.append(weight * (own - chance + among))
    return max(0.0, math.fsum(terms) / math.log(2))


def seen_surely(outcome: int, outcomes: int, sure: float = 1.0) -> Weights:
    """What an outcome that was seen says, with its own doubt: how likely it is to be seen so for each true outcome.

    `sure`: the chance that what was seen was so; the rest falls on the other outcomes alike.  `sure` of 1 divided by
    `outcomes` says nothing at all.
    """
    if not 0 <= outcome < outcomes or outcomes < 2:
        raise ValueError(words.NO_OUTCOME.format(outcome=outcome, outcomes=outcomes))
    if not 0 <= sure <= 1:
        raise ValueError(words.SURE.format(sure=sure))
    rest = (1 - sure) / (outcomes - 1)
    return tuple(sure if k == outcome else rest for k in range(outcomes))


def update(weights: Sequence[float], outcomes: Iterable[tuple[ChanceTable, Weights]]) -> Weights:
    """The weights after outcomes, by the rule of Bayes; each is a table and what was seen (`seen_surely`).

    The order of the outcomes does not matter, to the last digit.  Refuses outcomes that no rival allows.
    """
    logs: list[list[float]] = [[math.log(one) if one > 0 else -math.inf] for one in weights]
    for chances, seen in outcomes:
        for log, row in zip(logs, chances, strict=True):
            likelihood = math.fsum(chance * one for chance, one in zip(row, seen, strict=True))
            log.append(math.log(likelihood) if likelihood > 0 else -math.inf)
    totals = [-math.inf if -math.inf in log else math.fsum(log) for log in logs]
    most = max(totals)
    if most == -math.inf:
        raise ValueError(words.IMPOSSIBLE)
    return share_out([math.exp(one - most) for one in totals])
