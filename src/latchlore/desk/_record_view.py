"""The record as its room shows it: findings with links to what they rest on, questions with shares in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple
from urllib.parse import urlencode

from latchlore.base import Origin
from latchlore.desk import recordwording as words
from latchlore.dossier import row_anchors
from latchlore.evidence import (
    FINDING,
    Grade,
    describe_reach,
    describe_share,
    describe_shares,
    describe_worth,
    entropy,
    errata,
    one_line,
    trialwording,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.evidence import Change, Judged, Past, Prospect, Table
    from latchlore.study import OpenQuestion, Seen, StatedTrial

MAX_PLACES = 4
"""Places named beside one thing that a finding rests on; the rest stand in its row of the table."""


class GroundView(NamedTuple):
    """One thing that a finding rests on; `href` empty where it is no longer there; `says`: what it must say."""

    on: str
    href: str
    grade: str
    reason: str
    says: str
    places: tuple[Origin, ...]
    num_more: int


class ChangeView(NamedTuple):
    """A change of a finding; `line`: of the history, None while it is not accepted."""

    change: Change
    line: Origin | None


class FindingView(NamedTuple):
    """One finding; `is_held`: it can still be withdrawn."""

    name: str
    sentence: str
    grade: str
    reason: str
    origin: Origin | None
    grounds: tuple[GroundView, ...]
    changes: tuple[ChangeView, ...]
    errata: tuple[ChangeView, ...]
    is_new: bool
    is_held: bool


def view_findings(judged: Sequence[Judged], history: Sequence[Past], table: Table) -> tuple[FindingView, ...]:
    """Every finding in the order of the file."""
    places = _places(table)
    hrefs = {one_line(str(subject)): f"./#{anchor}" for subject, anchor in row_anchors(table).items()}
    hrefs |= {f"{FINDING}{one.name}": f"#finding-{one.name}" for one in judged}
    return tuple(_finding(one, history, hrefs, places) for one in judged)


def _finding(
    one: Judged, history: Sequence[Past], hrefs: dict[str, str], places: dict[str, tuple[Origin, ...]]
) -> FindingView:
    finding = one.finding
    says = dict(finding.says) if finding is not None else {}
    grounds = tuple(
        GroundView(
            ground.on,
            hrefs.get(ground.on, ""),
            ground.grade.value,
            ground.reason,
            says.get(ground.on, ""),
            places.get(ground.on, ())[:MAX_PLACES],
            max(0, len(places.get(ground.on, ())) - MAX_PLACES),
        )
        for ground in one.grounds
    )
    return FindingView(
        one.name,
        words.STRUCK if finding is None else finding.sentence,
        one.grade.value,
        one.reason,
        None if finding is None else finding.origin,
        grounds,
        tuple(ChangeView(change, None) for change in one.changes),
        tuple(ChangeView(past.change, past.origin) for past in errata(history, one.name)),
        one.is_new,
        one.grade is not Grade.WITHDRAWN,
    )


def _places(table: Table) -> dict[str, tuple[Origin, ...]]:
    """Subject as a finding names it → the first place of everything said about it."""
    found: dict[str, dict[Origin, None]] = {}
    for row in table.rows:
        of_row = found.setdefault(one_line(str(row.subject)), {})
        of_row.update((one.origins[0], None) for one in row.testimonies)
    return {name: tuple(of_row) for name, of_row in found.items()}


class RivalView(NamedTuple):
    """A rival with its weights in words; `tenths`: of a bar of a hundred tenths of a percent, 0 to 1000."""

    name: str
    says: str
    before: str
    now: str
    tenths: int
    origin: Origin


class OutcomeView(NamedTuple):
    """One outcome of a trial, foreseen: its chance under each rival, in all, and the shares after it."""

    name: str
    chances: tuple[str, ...]
    total: str
    after: str


class TrialView(NamedTuple):
    """A trial that may still be done."""

    name: str
    sheet: str
    how: str
    hazard: str
    hazard_key: str
    cautions: tuple[str, ...]
    worth: str
    tells: bool
    origin: Origin
    outcomes: tuple[OutcomeView, ...]
    computed: str
    told: tuple[tuple[str, str], ...]


class SeenView(NamedTuple):
    """An outcome that was entered, in words."""

    seen: Seen
    sure: str
    foreseen: str
    after: str


class QuestionView(NamedTuple):
    """A question with everything known of it, in words; `trials` the best next one first."""

    name: str
    anchor: str
    text: str
    origin: Origin
    standing: str
    is_decided: bool
    rivals: tuple[RivalView, ...]
    steps: tuple[SeenView, ...]
    set_aside: tuple[Seen, ...]
    surprise: str
    trials: tuple[TrialView, ...]
    reach: str


def view_questions(questions: Sequence[OpenQuestion]) -> tuple[QuestionView, ...]:
    """Every question in the order of the file."""
    return tuple(_question(one, number) for number, one in enumerate(questions, 1))


def sheet_address(trial: str) -> str:
    """The page of a trial's bench sheet."""
    return "record-sheet?" + urlencode({"trial": trial})


def _question(one: OpenQuestion, number: int) -> QuestionView:
    names = [rival.name for rival in one.rivals]
    decided = one.decided
    standing = ""
    if one.rivals:
        enough = describe_share(one.enough)
        standing = (
            trialwording.OPEN.format(bits=entropy(one.now), enough=enough)
            if decided is None
            else trialwording.DECIDED.format(rival=decided.name, share=describe_share(max(one.now)), enough=enough)
        )
    last = one.steps[-1].foreseen if one.steps else 1.0
    return QuestionView(
        name=one.name,
        anchor=f"question-{number}",
        text=one.text,
        origin=one.origin,
        standing=standing,
        is_decided=decided is not None,
        rivals=tuple(
            RivalView(
                rival.name,
                rival.says,
                describe_share(rival.weight),
                describe_share(now),
                round(1000 * now),
                rival.origin,
            )
            for rival, now in zip(one.rivals, one.now, strict=True)
        ),
        steps=tuple(
            SeenView(
                step.seen,
                describe_share(step.seen.sure),
                describe_share(step.foreseen),
                describe_shares(names, step.after),
            )
            for step in one.steps
        ),
        set_aside=one.set_aside,
        surprise=(
            trialwording.SURPRISE.format(foreseen=describe_share(last)) if last < trialwording.SURPRISING else ""
        ),
        trials=tuple(view_trial(one, prospect) for prospect in one.prospects) if decided is None else (),
        reach=_reach(one, names),
    )


def _reach(one: OpenQuestion, names: list[str]) -> str:
    if one.decided is not None or not one.rivals:
        return ""
    if not one.prospects:
        return trialwording.NO_TRIALS
    if not any(prospect.tells for prospect in one.prospects):
        return trialwording.NONE_TELLS
    return "" if one.reach is None else describe_reach(one.reach, names)


def view_trial(question: OpenQuestion, prospect: Prospect) -> TrialView:
    """A trial with what it will show, said before it is done."""
    trial = prospect.trial
    stated = question.get_trial(trial.name)
    names = [rival.name for rival in question.rivals]
    return TrialView(
        trial.name,
        sheet_address(trial.name),
        stated.how,
        trialwording.HAZARDS[trial.hazard.key],
        trial.hazard.key,
        cautions_of(stated),
        describe_worth(prospect, question.unit),
        prospect.tells,
        stated.origin,
        tuple(_iter_outcomes(prospect, names)),
        stated.computed,
        tuple(zip(names, stated.told, strict=True)) if stated.told else (),
    )


def cautions_of(stated: StatedTrial) -> tuple[str, ...]:
    """What everybody is told before a trial of this hazard, then what its author says of this one."""
    return tuple(filter(None, (trialwording.CAUTIONS[stated.trial.hazard.key], stated.caution)))


def _iter_outcomes(prospect: Prospect, names: list[str]) -> Iterator[OutcomeView]:
    trial = prospect.trial
    for k, name in enumerate(trial.outcomes):
        yield OutcomeView(
            name,
            tuple(describe_share(row[k]) for row in trial.chances),
            describe_share(prospect.foreseen[k]),
            describe_shares(names, prospect.after[k]) if prospect.after[k] else "",
        )
