"""`latchlore record strike` and `restore`: single statements of the evidence withdrawn, and counted again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from latchlore.cli import recordwording as words
from latchlore.cli import wording
from latchlore.cli._arguments import STUDY
from latchlore.cli._record_findings import DAY, JSON, WIDTH, because_option, page_of, print_json, print_page, today

if TYPE_CHECKING:
    from pathlib import Path


@click.command("strike", short_help=wording.RECORD_COMMANDS["strike"][1], epilog=wording.STATUSES)
@STUDY
@click.argument("statement")
@because_option(required=True)
@DAY
@JSON
@WIDTH
def strike_command(study: Path, statement: str, because: str, day: str, as_json: bool, width: int | None) -> None:
    """Withdraw one STATEMENT of STUDY's evidence, by its name as the repairs of `weigh` print it.

    The file that holds it stays as it is; withdrawn.txt says what does not count any more, and why (docs/record.md).
    """
    _change(study, statement, because, day, as_json, width, again=False)


@click.command("restore", short_help=wording.RECORD_COMMANDS["restore"][1], epilog=wording.STATUSES)
@STUDY
@click.argument("statement")
@because_option(required=True)
@DAY
@JSON
@WIDTH
def restore_command(study: Path, statement: str, because: str, day: str, as_json: bool, width: int | None) -> None:
    """Let a STATEMENT of STUDY's evidence that was withdrawn count again."""
    _change(study, statement, because, day, as_json, width, again=True)


def _change(study: Path, name: str, because: str, day: str, as_json: bool, width: int | None, *, again: bool) -> None:
    from latchlore.cli._progress import ProgressLine
    from latchlore.evidence import read_again
    from latchlore.study import set_aside

    with ProgressLine() as progress:
        done = set_aside(study, name, day or today(), because, progress, again=again)
    if as_json:
        readings = [str(one.origin) for one in done.statement.readings]
        changed = [list(one) for one in done.changed]
        print_json({"statement": name, "counts": again, "readings": readings, "changed": changed})
        return
    page = page_of(width)
    page.say((words.restored if again else words.struck)(name, done.statement.about))
    if done.statement.readings and not again:
        page.say(words.to_read_again(read_again(done.statement.readings)), 2)
    for subject, old, new in done.changed:
        page.say(f"{subject}: {words.stands_now(old, new)}", 2)
    if not done.changed:
        page.say(words.NOTHING_ELSE, 2)
    print_page(page)
