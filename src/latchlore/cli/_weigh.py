"""`latchlore weigh`: the table of subjects as text or as plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from latchlore.cli import wording
from latchlore.cli._arguments import STUDY

if TYPE_CHECKING:
    from pathlib import Path

    from latchlore.evidence import Table


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
    whose withdrawal would end them.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.study import weigh_study

    with ProgressLine() as progress:
        table = weigh_study(study, progress)
    print_table(table, as_json=as_json, width=width)
    return exit_status(table)


def print_table(table: Table, *, as_json: bool = False, width: int | None = None) -> None:
    """Print the table in one of its two forms."""
    if as_json:
        import json

        from latchlore.evidence import table_to_plain

        text = json.dumps(table_to_plain(table), indent=1, ensure_ascii=False)
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
