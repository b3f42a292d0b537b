"""Weights, chances and what trials can reach, in words for people, the same on every face."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.evidence import trialwording as words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.evidence._trials import Prospect, Reach


def describe_share(weight: float) -> str:
    """A weight or chance (0 to 1) in percent; what is not quite 0 or 1 is not rounded to it."""
    if 0 < weight < 0.001:
        return "under 0.1%"
    if 0.999 < weight < 1:
        return "over 99.9%"
    return f"{weight:.1%}"


def describe_shares(names: Sequence[str], weights: Sequence[float]) -> str:
    """``as traced 90.0%, no inverter 10.0%``: one share a name."""
    return ", ".join(f"{name} {describe_share(weight)}" for name, weight in zip(names, weights, strict=True))


def describe_reach(told: Reach, names: Sequence[str]) -> str:
    """Whether trials can decide, in one sentence; `names` of the rivals."""
    if told.can_decide is None:
        return words.MAY.format(ways=told.ways)
    if told.can_decide and told.chance is not None:
        return words.CAN.format(chance=describe_share(told.chance))
    return words.CANNOT.format(
        best=names[told.best], most=describe_share(told.most), enough=describe_share(told.enough)
    )


def describe_worth(one: Prospect, unit: str) -> str:
    """What is to be expected of a trial, and at what cost."""
    trial = one.trial
    worth = words.WORTH_ALONE.format(worth=one.bits / trial.cost)
    if one.plan_cost > trial.cost:
        worth = words.WORTH_PLAN.format(plan=one.plan_bits, cost=one.plan_cost, unit=unit, worth=one.worth)
    return words.FACTS.format(bits=one.bits, cost=trial.cost, unit=unit, worth=worth)
