"""`latchlore ask`: the open questions, the best next trial with what it will show, and an outcome entered."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from latchlore.cli import askwording as words
from latchlore.cli import wording
from latchlore.cli._arguments import STUDY, as_typed
from latchlore.evidence import describe_reach, describe_share, describe_shares, describe_worth, trialwording

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.cli._program_page import Page
    from latchlore.evidence import Prospect
    from latchlore.study import OpenQuestion, Questions


@click.command("ask", short_help=wording.COMMANDS["ask"], epilog=wording.STATUSES)
@STUDY
@click.option("--did", default="", metavar="TRIAL", help="Enter the outcome of a trial instead.")
@click.option("--saw", default="", metavar="OUTCOME", help="What it showed: one of its outcomes.")
@click.option(
    "--sure", type=click.FloatRange(0, 100, min_open=True), metavar="PERCENT", help="How sure you are of it; 95."
)
@click.option("--on", default="", metavar="DATE", help="The day, such as 2026-11-26; default today.")
@click.option("--note", default="", metavar="TEXT", help="Anything to be kept beside it.")
@click.option("--sheet", default="", metavar="TRIAL", help="Print the bench sheet of a trial instead.")
@click.option("--filled", type=click.Path(path_type=Path), metavar="FILE", help="Enter what a filled-in sheet says.")
@click.option("--only", default="", metavar="QUESTION", help="One question, by its name in questions.toml.")
@click.option("--json", "as_json", is_flag=True, help="Print the same as JSON (docs/questions.md).")
@click.option(
    "--width", type=click.IntRange(min=40), metavar="COLUMNS", help="Columns; default the terminal's, or 100."
)
def command(
    study: Path, did: str, saw: str, sure: float | None, on: str, note: str, sheet: str, filled: Path | None, only: str,
    as_json: bool, width: int | None,
) -> None:  # fmt: skip
    """List the open questions of STUDY and, for each, the best next trial and what it will show under each rival.

    Trials that can hurt less go first; of those alike what tells most for its cost.  With --did and --saw an outcome is
    added to questions.toml, and the weights after it are printed; --filled takes it from a bench sheet.
    """
    from latchlore.base import UnknownName
    from latchlore.study import SURE_PERCENT, questions_to_plain, read_questions, record_outcome

    if sheet:
        _print_sheet(study, sheet)
        return
    if filled is not None:
        if did or saw:
            raise click.UsageError(words.ONE_WAY)
        did, saw, sure, on, note = _filled(filled, sure, on, note)
    if did:
        if not saw:
            raise click.UsageError(words.NO_OUTCOME_NAMED)
        found = record_outcome(
            study, did, saw, sure=SURE_PERCENT if sure is None else sure, on=_day(on), note=" ".join(note.split())
        )
        only = only or found.question_of(did).name
        if not as_json:
            from latchlore.cli._letters import harmless

            click.echo(harmless(words.KEPT.format(trial=did, saw=saw)))
    elif saw or on or note or sure is not None:
        raise click.UsageError(words.NO_TRIAL_NAMED)
    else:
        found = read_questions(study)
    asked = [one for one in found.questions if only in ("", one.name)]
    if only and not asked:
        raise UnknownName(f"there is no question {only!r}", [one.name for one in found.questions if one.name])
    if as_json:
        from latchlore.cli._program_asking import print_plain

        print_plain(questions_to_plain(found, asked))
        return
    from latchlore.cli._program_page import Page

    page = Page(width)
    _show(page, found, asked, as_typed(study))
    click.echo(page.text(), nl=False, color=page.terminal.tinted)


def _print_sheet(study: Path, trial: str) -> None:
    from latchlore.cli._letters import harmless
    from latchlore.study import read_questions, sheet_text

    found = read_questions(study)
    question = found.question_of(trial)
    click.echo(harmless(sheet_text(found.title, question, question.get_trial(trial))), nl=False)


def _filled(file: Path, sure: float | None, on: str, note: str) -> tuple[str, str, float | None, str, str]:
    """What a sheet says; what is given on the command line goes before it."""
    from latchlore.base import BadInput, Origin
    from latchlore.study import read_sheet

    try:
        text = file.read_bytes().decode("utf-8")
    except UnicodeDecodeError as error:
        raise BadInput(Origin(str(file)), words.NO_TEXT) from error
    told = read_sheet(text, str(file))
    return told.trial, told.saw, told.sure if sure is None else sure, on or told.on, note or told.note


def _day(text: str) -> str:
    from datetime import date

    if not text:
        return date.today().isoformat()
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise click.UsageError(words.BAD_DATE.format(text=text)) from None


def _shares(question: OpenQuestion, weights: Sequence[float]) -> str:
    return describe_shares([one.name for one in question.rivals], weights)


def _show(page: Page, found: Questions, asked: Sequence[OpenQuestion], study: str) -> None:
    from latchlore.cli._program_page import BOLD

    page.say(words.TITLE.format(title=found.title), code=BOLD)
    if found.is_invented:
        page.say(wording.INVENTED)
    if not asked:
        page.say(words.NO_QUESTION)
    for question in asked:
        page.heading(f"{question.name}: {question.text}" if question.name else question.text)
        if not question.rivals:
            page.say(words.NO_RIVALS)
            continue
        _show_weights(page, question)
        _show_seen(page, question)
        if question.decided is None:
            _show_trials(page, question, study)


def _show_weights(page: Page, question: OpenQuestion) -> None:
    from latchlore.cli._program_page import BOLD
    from latchlore.evidence import entropy

    enough = describe_share(question.enough)
    decided = question.decided
    if decided is not None:
        weight = max(question.now)
        page.say(
            trialwording.DECIDED.format(rival=decided.name, share=describe_share(weight), enough=enough), code=BOLD
        )
    else:
        page.say(trialwording.OPEN.format(bits=entropy(question.now), enough=enough))
    page.gap()
    page.say(words.RIVALS)
    wide = max(len(one.name) for one in question.rivals)
    for one, now in zip(question.rivals, question.now, strict=True):
        label = words.RIVAL.format(
            name=f"{one.name:{wide}}", before=f"{describe_share(one.weight):>11}", now=f"{describe_share(now):>11}"
        )
        page.row(label, one.says or "-")


def _show_seen(page: Page, question: OpenQuestion) -> None:
    from latchlore.cli._program_page import WARN

    points = [
        words.STEP.format(
            on=f"{step.seen.on} " if step.seen.on else "",
            trial=step.seen.trial,
            saw=step.seen.saw,
            sure=describe_share(step.seen.sure),
            foreseen=describe_share(step.foreseen),
            after=words.AFTER.format(shares=_shares(question, step.after)),
            origin=step.seen.origin,
        )
        for step in question.steps
    ]
    points += [
        words.SET_ASIDE.format(trial=one.trial, saw=one.saw, why=one.withdrawn, origin=one.origin)
        for one in question.set_aside
    ]
    page.points(words.SEEN, points)
    if question.steps and question.steps[-1].foreseen < trialwording.SURPRISING:
        page.say(trialwording.SURPRISE.format(foreseen=describe_share(question.steps[-1].foreseen)), code=WARN)


def _show_trials(page: Page, question: OpenQuestion, study: str) -> None:
    useful = [one for one in question.prospects if one.tells]
    if useful:
        _show_next(page, question, useful[0], study)
    page.gap()
    if not question.prospects:
        page.say(trialwording.NO_TRIALS)
    elif not useful:
        page.say(trialwording.NONE_TELLS)
    elif question.reach is not None:
        page.say(describe_reach(question.reach, [one.name for one in question.rivals]))
    later = []
    for one in question.prospects[1 if useful else 0 :]:
        form = words.LATER if one.tells else words.NOTHING
        trial = one.trial
        hazard = trialwording.HAZARDS[trial.hazard.key]
        later.append(form.format(trial=trial.name, hazard=hazard, bits=one.bits, cost=trial.cost, unit=question.unit))
    page.points(words.THEN, later)


def _show_next(page: Page, question: OpenQuestion, one: Prospect, study: str) -> None:
    import shlex

    from latchlore.cli._program_page import BOLD, WARN

    trial = one.trial
    stated = question.get_trial(trial.name)
    page.gap()
    page.say(words.NEXT.format(trial=trial.name, hazard=trialwording.HAZARDS[trial.hazard.key]), code=BOLD)
    if stated.how:
        page.say(stated.how, 2)
    page.say(describe_worth(one, question.unit), 2)
    page.row(f"  {words.CAUTION}", f"{trialwording.CAUTIONS[trial.hazard.key]}  {stated.caution}".rstrip(), WARN)
    page.gap()
    page.say(words.FORESEEN)
    wide = max(map(len, trial.outcomes))
    for k, name in enumerate(trial.outcomes):
        chances = _shares(question, [row[k] for row in trial.chances])
        text = words.CANNOT_BE.format(chances=chances)
        if one.after[k]:
            after = words.AFTER.format(shares=_shares(question, one.after[k]))
            text = words.CHANCES.format(chances=chances, total=describe_share(one.foreseen[k]), after=after)
        page.row(words.OUTCOME.format(name=f"{name:{wide}}"), text)
    if stated.computed:
        sentences = [
            words.TOLD.format(rival=rival.name, sentence=told)
            for rival, told in zip(question.rivals, stated.told, strict=True)
        ]
        page.say(f"{words.MADE.format(how=stated.computed)} {'; '.join(sentences)}.")
    page.say(words.TELL.format(study=study, trial=shlex.quote(trial.name)))
