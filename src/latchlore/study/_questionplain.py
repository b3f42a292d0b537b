"""Questions as plain data for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.study._questions import OpenQuestion, Questions


def questions_to_plain(found: Questions, asked: Sequence[OpenQuestion]) -> dict[str, Any]:
    """Some of a study's questions: weights and chances are numbers from 0 to 1, lists go by rival or by outcome."""
    return {
        "format": "latchlore-questions",
        "version": 1,
        "study": found.title,
        "invented": found.is_invented,
        "questions": [_question(one) for one in asked],
    }


def _question(one: OpenQuestion) -> dict[str, Any]:
    reached = one.reach
    return {
        "name": one.name,
        "text": one.text,
        "origin": str(one.origin),
        "enough": one.enough,
        "unit": one.unit,
        "rivals": [
            {"name": rival.name, "says": rival.says, "before": rival.weight, "now": now}
            for rival, now in zip(one.rivals, one.now, strict=True)
        ],
        "decided": None if one.decided is None else one.decided.name,
        "seen": [
            {
                "trial": step.seen.trial,
                "saw": step.seen.saw,
                "sure": step.seen.sure,
                "on": step.seen.on,
                "note": step.seen.note,
                "origin": str(step.seen.origin),
                "foreseen": step.foreseen,
                "after": list(step.after),
            }
            for step in one.steps
        ],
        "withdrawn": [
            {"trial": seen.trial, "saw": seen.saw, "why": seen.withdrawn, "origin": str(seen.origin)}
            for seen in one.set_aside
        ],
        "trials": [
            {
                "name": prospect.trial.name,
                "hazard": prospect.trial.hazard.key,
                "cost": prospect.trial.cost,
                "times": prospect.trial.times,
                "outcomes": list(prospect.trial.outcomes),
                "chances": [list(row) for row in prospect.trial.chances],
                "bits": prospect.bits,
                "plan_bits": prospect.plan_bits,
                "plan_cost": prospect.plan_cost,
                "tells": prospect.tells,
                "foreseen": list(prospect.foreseen),
                "after": [list(weights) for weights in prospect.after],
            }
            for prospect in one.prospects
        ],
        "can_decide": None if reached is None else reached.can_decide,
        "chance_to_decide": None if reached is None else reached.chance,
    }
