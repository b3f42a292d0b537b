"""Open questions as the page shows them: rivals with their weights, what was seen, the best next trial, the others."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.dossier import wording
from latchlore.dossier._standings import question_anchor
from latchlore.dossier._view import PlaceLink
from latchlore.evidence.trialwording import CAUTIONS, HAZARDS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from latchlore.base import Origin
    from latchlore.evidence import Prospect
    from latchlore.study import OpenQuestion, Questions

    LinkToOrigin = Callable[[Origin], str]


class RivalView(NamedTuple):
    """One possible answer; weights as text, `share` the weight now in whole per cent, for a bar."""

    name: str
    says: str
    before: str
    now: str
    share: int
    place: PlaceLink


class OutcomeView(NamedTuple):
    """What a trial may show: the chance under each rival, in all, and the weights after it (empty: cannot be)."""

    name: str
    chances: tuple[str, ...]
    total: str
    after: tuple[str, ...]


class TrialView(NamedTuple):
    """The best next trial, with the caution of its kind and the study's own."""

    name: str
    hazard: str
    how: str
    caution: str
    facts: str
    made: str
    outcomes: tuple[OutcomeView, ...]
    place: PlaceLink


class QuestionView(NamedTuple):
    """A question; `rivals` empty where none are stated."""

    anchor: str
    name: str
    text: str
    verdict: str
    is_decided: bool
    rivals: tuple[RivalView, ...]
    seen: tuple[tuple[str, PlaceLink], ...]
    trial: TrialView | None
    reached: str
    later: tuple[str, ...]
    place: PlaceLink


def view_questions(questions: Questions, link: LinkToOrigin) -> tuple[QuestionView, ...]:
    """Every question, those that are decided included."""
    return tuple(_view(k, one, link) for k, one in enumerate(questions.questions))


def iter_question_origins(questions: Questions) -> Iterator[Origin]:
    """Every place that the questions lead to."""
    for one in questions.questions:
        yield one.origin
        yield from (rival.origin for rival in one.rivals)
        yield from (trial.origin for trial in one.trials)
        yield from (step.seen.origin for step in one.steps)
        yield from (seen.origin for seen in one.set_aside)


def _share(chance: float) -> str:
    """A chance in per cent; what is not quite 0 or 1 is not rounded to it."""
    if 0 < chance < 0.001:
        return "under 0.1%"
    return "over 99.9%" if 0.999 < chance < 1 else f"{chance:.1%}"


def _place(origin: Origin, link: LinkToOrigin) -> PlaceLink:
    return PlaceLink(str(origin), link(origin))


def _view(k: int, one: OpenQuestion, link: LinkToOrigin) -> QuestionView:
    decided = one.decided
    if not one.rivals:
        verdict = wording.NO_RIVALS
    elif decided is not None:
        verdict = wording.DECIDED.format(rival=decided.name, share=_share(max(one.now)), enough=_share(one.enough))
    else:
        verdict = wording.UNDECIDED.format(enough=_share(one.enough))
    useful = [prospect for prospect in one.prospects if prospect.tells] if decided is None else []
    rest = [prospect for prospect in one.prospects if prospect not in useful[:1]] if decided is None else []
    return QuestionView(
        question_anchor(k),
        one.name,
        one.text,
        verdict,
        decided is not None,
        tuple(
            RivalView(
                rival.name, rival.says, _share(rival.weight), _share(now), round(100 * now), _place(rival.origin, link)
            )
            for rival, now in zip(one.rivals, one.now, strict=True)
        ),
        tuple(_iter_seen(one, link)),
        _trial(one, useful[0], link) if useful else None,
        _reached(one, useful) if one.rivals and decided is None else "",
        tuple(_later(prospect, one.unit) for prospect in rest),
        _place(one.origin, link),
    )


def _iter_seen(one: OpenQuestion, link: LinkToOrigin) -> Iterator[tuple[str, PlaceLink]]:
    for step in one.steps:
        words = wording.SEEN.format(
            on=f"{step.seen.on}, " if step.seen.on else "",
            trial=step.seen.trial,
            saw=step.seen.saw,
            sure=_share(step.seen.sure),
            foreseen=_share(step.foreseen),
            after=_shares(one, step.after),
        )
        yield words + (f"  {step.seen.note}" if step.seen.note else ""), _place(step.seen.origin, link)
    for seen in one.set_aside:
        words = wording.SET_ASIDE.format(trial=seen.trial, saw=seen.saw, why=seen.withdrawn)
        yield words, _place(seen.origin, link)


def _shares(one: OpenQuestion, weights: Sequence[float]) -> str:
    return ", ".join(f"{rival.name} {_share(weight)}" for rival, weight in zip(one.rivals, weights, strict=True))


def _trial(one: OpenQuestion, prospect: Prospect, link: LinkToOrigin) -> TrialView:
    trial = prospect.trial
    stated = one.get_trial(trial.name)
    made = ""
    if stated.computed:
        told = zip(one.rivals, stated.told, strict=True)
        made = wording.MADE.format(
            how=stated.computed, told="; ".join(f"under “{rival.name}” {words}" for rival, words in told)
        )
    return TrialView(
        trial.name,
        HAZARDS[trial.hazard.key],
        stated.how,
        f"{CAUTIONS[trial.hazard.key]}  {stated.caution}".rstrip(),
        wording.TRIAL_FACTS.format(bits=prospect.bits, cost=trial.cost, unit=one.unit),
        made,
        tuple(
            OutcomeView(
                name,
                tuple(_share(row[k]) for row in trial.chances),
                _share(prospect.foreseen[k]),
                tuple(map(_share, prospect.after[k])),
            )
            for k, name in enumerate(trial.outcomes)
        ),
        _place(stated.origin, link),
    )


def _reached(one: OpenQuestion, useful: Sequence[Prospect]) -> str:
    if not one.prospects:
        return wording.NO_TRIALS
    if not useful:
        return wording.NONE_TELLS
    told = one.reach
    if told is None or told.can_decide is None:
        return ""
    if told.can_decide and told.chance is not None:
        return wording.CAN_DECIDE.format(chance=_share(told.chance))
    best = one.rivals[told.best].name
    return wording.CANNOT_DECIDE.format(best=best, most=_share(told.most), enough=_share(one.enough))


def _later(prospect: Prospect, unit: str) -> str:
    trial = prospect.trial
    form = wording.LATER if prospect.tells else wording.TELLS_NOTHING
    return form.format(
        trial=trial.name, hazard=HAZARDS[trial.hazard.key], bits=prospect.bits, cost=trial.cost, unit=unit
    )
