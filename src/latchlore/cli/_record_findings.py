"""The commands of `latchlore record`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from latchlore.cli import recordwording as words
from latchlore.cli import wording
from latchlore.cli._arguments import STUDY, as_typed
from latchlore.cli._letters import harmless

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from latchlore.cli._program_page import Page
    from latchlore.evidence import Change, Judged, Past

JSON = click.option("--json", "as_json", is_flag=True, help="Print the same as JSON (docs/record.md).")
WIDTH = click.option("--width", type=click.IntRange(min=40), metavar="COLUMNS", help=words.WIDTH)
DAY = click.option("--date", "day", default="", metavar="YYYY-MM-DD", help="The date to write; default today's.")


def because_option(*, required: bool = False) -> Callable[[Any], Any]:
    """The option for the researcher's reason."""
    return click.option("--because", default="", required=required, metavar="WORDS", help=words.BECAUSE)


@click.command("list", short_help=wording.RECORD_COMMANDS["list"][1], epilog=wording.STATUSES)
@STUDY
@JSON
@WIDTH
def list_command(study: Path, as_json: bool, width: int | None) -> None:
    """Print every finding of STUDY with its grade, what it rests on, what changed, and its errata."""
    record, judged = _judged(study)
    if as_json:
        _print_plain(judged, record.history)
        return
    page = page_of(width)
    if not judged:
        page.say(words.NONE_YET)
    for one in judged:
        _say_finding(page, one)
        _say_errata(page, one, record.history)
    print_page(page)


@click.command("check", short_help=wording.RECORD_COMMANDS["check"][1], epilog=wording.STATUSES)
@STUDY
@JSON
@WIDTH
def check_command(study: Path, as_json: bool, width: int | None) -> None:
    """Tell which findings of STUDY are no longer as they were accepted, and what changed; nothing is written."""
    record, judged = _judged(study)
    if as_json:
        _print_plain(judged, record.history)
        return
    page = page_of(width)
    say_changed(page, judged, study)
    print_page(page)


@click.command("accept", short_help=wording.RECORD_COMMANDS["accept"][1], epilog=wording.STATUSES)
@STUDY
@because_option()
@DAY
@JSON
@WIDTH
def accept_command(study: Path, because: str, day: str, as_json: bool, width: int | None) -> None:
    """Write every change of STUDY's findings into its history: the old, the new, why, date, and evidence."""
    from latchlore.cli._progress import ProgressLine
    from latchlore.study import accept_changes

    with ProgressLine() as progress:
        changes = accept_changes(study, day or today(), because, progress)
    if as_json:
        from latchlore.evidence import changes_to_plain

        print_json(changes_to_plain(changes))
        return
    page = page_of(width)
    page.say(words.written(len(changes)))
    for change in changes:
        _say_change(page, change, 2, with_name=True)
    print_page(page)


@click.command("add", short_help=wording.RECORD_COMMANDS["add"][1], epilog=wording.STATUSES)
@STUDY
@click.argument("name")
@click.argument("sentence")
@click.option("--on", "rests_on", multiple=True, required=True, metavar="SUBJECT", help=words.ON)
@click.option("--says", nargs=2, multiple=True, metavar="SUBJECT WORDS", help=words.SAYS)
@because_option()
@DAY
@JSON
@WIDTH
def add_command(
    study: Path,
    name: str,
    sentence: str,
    rests_on: tuple[str, ...],
    says: tuple[tuple[str, str], ...],
    because: str,
    day: str,
    as_json: bool,
    width: int | None,
) -> None:
    """Add a finding to STUDY: NAME is what it is called, SENTENCE what you found, in your words."""
    from latchlore.cli._progress import ProgressLine
    from latchlore.study import add_finding

    with ProgressLine() as progress:
        added = add_finding(study, (name, sentence), rests_on, dict(says), day or today(), because, progress)
    if as_json:
        _print_plain([added], ())
        return
    page = page_of(width)
    _say_finding(page, added, with_changes=False)
    print_page(page)


@click.command("withdraw", short_help=wording.RECORD_COMMANDS["withdraw"][1], epilog=wording.STATUSES)
@STUDY
@click.argument("name")
@because_option(required=True)
@DAY
@JSON
def withdraw_command(study: Path, name: str, because: str, day: str, as_json: bool) -> None:
    """Withdraw the finding NAME of STUDY for good.  It stays to be read; what rests on it is unfounded from now on."""
    from latchlore.study import withdraw_finding

    resting = withdraw_finding(study, name, day or today(), because)
    if as_json:
        print_json({"withdrawn": name, "rests_on_it": list(resting)})
        return
    click.echo(words.withdrawn(name))
    if resting:
        click.echo(words.rests_on_it(resting, as_typed(study)))


def say_changed(page: Page, judged: Sequence[Judged], study: Path) -> None:
    """Which findings changed, and in what; then those that are new."""
    changed = [one for one in judged if one.is_changed]
    new = [one for one in judged if one.is_new]
    page.say(words.counted(len(judged), len(changed), len(new)))
    for one in (*changed, *new):
        _say_finding(page, one)
    if changed or new:
        page.gap()
        page.lines.append(harmless(words.accept_next(as_typed(study))))  # never wrapped: it can be pasted


def _say_finding(page: Page, one: Judged, *, with_changes: bool = True) -> None:
    from latchlore.cli._program_page import BOLD

    page.gap()
    page.say(f"{one.name}: {words.STRUCK if one.finding is None else one.finding.sentence}", code=BOLD)
    page.row(f"  {'grade':11}", f"{one.grade.value}: {one.reason}" if one.reason else one.grade.value)
    for ground in one.grounds:
        page.row(f"  {'rests on':11}", f"{ground.on}: {ground.grade.value}")
    if with_changes and one.is_changed:
        for change in one.changes:
            _say_change(page, change, 2)


def _say_change(page: Page, change: Change, indent: int, *, with_name: bool = False) -> None:
    name = f"{change.finding}, " if with_name else ""
    page.row(f"{'':{indent}}{'changed':11}", f"{name}{change.what}: {change.old} → {change.new}")
    page.row(f"{'':{indent}}{'because':11}", change.why)


def _say_errata(page: Page, one: Judged, history: Sequence[Past]) -> None:
    from latchlore.evidence import errata

    for past in errata(history, one.name):
        change = past.change
        page.row(f"  {change.day:11}", f"{change.what}: {change.old} → {change.new}")
        page.row(f"  {'':11}", f"because {change.why} ({past.origin})")


def _judged(study: Path) -> Any:
    from latchlore.cli._progress import ProgressLine
    from latchlore.study import judge_study

    with ProgressLine() as progress:
        return judge_study(study, progress)


def today() -> str:
    """Today's date as ISO 8601 writes it."""
    from datetime import date

    return date.today().isoformat()


def page_of(width: int | None) -> Page:
    """A page of the width asked for."""
    from latchlore.cli._program_page import Page

    return Page(width)


def print_page(page: Page) -> None:
    """Print a page, tinted where the terminal is."""
    click.echo(page.text(), nl=False, color=page.terminal.tinted)


def _print_plain(judged: Sequence[Judged], history: Sequence[Past]) -> None:
    from latchlore.evidence import record_to_plain

    print_json(record_to_plain(judged, history))


def print_json(plain: dict[str, Any]) -> None:
    """Print plain data as JSON, in UTF-8 whatever the terminal speaks."""
    import json

    click.echo(f"{json.dumps(plain, indent=1, ensure_ascii=False)}\n".encode(), nl=False)
