"""`latchlore weigh`: the table of subjects as text or as plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from latchlore.cli import wording
from latchlore.cli._arguments import STUDY

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from latchlore.evidence import Judged, Table


@click.command("weigh", short_help=wording.COMMANDS["weigh"], epilog=wording.STATUSES)
@STUDY
@click.option("--json", "as_json", is_flag=True, help="Print the same as JSON (docs/weigh-json.md).")
@click.option(
    "--width",
    type=click.IntRange(min=40),
    metavar="COLUMNS",
    help="Columns to use; default the terminal's, or 100.",
)
def command(study: Path, as_json: bool, width: int | None) -> int:
    """Put the witnesses of STUDY side by side and print the table.

    Each witness is asked about the same subjects.  A subject stands agreed, single, contradicted or silent; each
    value is printed with the place that it comes from.  Contradictions come first, with the fewest statements
    whose withdrawal would end them.  Where the study keeps a record, the findings that changed since they were
    accepted come last.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.study import find_record, judge_record, weigh_study

    with ProgressLine() as progress:
        table = weigh_study(study, progress)
    record = find_record(study)
    judged = () if record is None else judge_record(record, table)
    if record is None or not as_json:
        print_table(table, as_json=as_json, width=width)
    else:
        from latchlore.evidence import record_to_plain

        print_table(table, as_json=True, besides={"record": record_to_plain(judged, record.history)})
    if record is not None and not as_json:
        _print_record(judged, study, width)
    return exit_status(table)


def _print_record(judged: Sequence[Judged], study: Path, width: int | None) -> None:
    from latchlore.cli import recordwording
    from latchlore.cli._program_page import Page
    from latchlore.cli._record_findings import say_changed

    page = Page(width)
    page.lines.append("")
    page.heading(recordwording.HEADING)
    say_changed(page, judged, study)
    click.echo(page.text(), nl=False, color=page.terminal.tinted)


def print_table(
    table: Table, *, as_json: bool = False, width: int | None = None, besides: Mapping[str, Any] | None = None
) -> None:
    """Print the table in one of its two forms; `besides` are further keys of the JSON."""
    if as_json:
        import json

        from latchlore.evidence import table_to_plain

        text = json.dumps({**table_to_plain(table), **(besides or {})}, indent=1, ensure_ascii=False)
        click.echo(f"{text}\n".encode(), nl=False)  # UTF-8, whatever the terminal speaks
    else:
        from latchlore.cli._terminal import Terminal
        from latchlore.cli._text import table_text

        terminal = Terminal.of_stdout(width)
        click.echo(table_text(table, terminal), nl=False, color=terminal.tinted)


def exit_status(table: Table) -> int:
    """0, or the status of a contradiction where the table holds one."""
    from latchlore.base import OUTCOME, Contradiction
    from latchlore.evidence import Standing

    return OUTCOME[Contradiction].exit_code if table.num_standing(Standing.CONTRADICTED) else 0
