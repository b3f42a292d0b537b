"""`latchlore new`: a study folder to start from."""

from __future__ import annotations

from pathlib import Path

import click

from latchlore.cli import wording
from latchlore.cli._arguments import as_typed


@click.command("new", short_help=wording.COMMANDS["new"], epilog=wording.STATUSES)
@click.argument("folder", type=click.Path(path_type=Path), metavar="FOLDER")
def command(folder: Path) -> int:
    """Make FOLDER a study, with comments that explain each file.

    FOLDER must not exist yet, or be empty.  Nothing else is touched.
    """
    from latchlore.study import new_study

    new_study(folder)
    click.echo(wording.NEW_MADE.format(folder=folder, typed=as_typed(folder)))
    return 0
