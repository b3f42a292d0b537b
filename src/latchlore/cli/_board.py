"""`latchlore board`: the group of the commands that ask a board alone."""

from __future__ import annotations

import click

from latchlore.cli import wording
from latchlore.cli._groups import ListedGroup


@click.group(
    "board",
    cls=ListedGroup,
    table=wording.BOARD_COMMANDS,
    short_help=wording.COMMANDS["board"],
    epilog=wording.STATUSES,
)
def command() -> None:
    """Ask a board alone: trace it with a meter, and ask what its nets say.

    Each command takes a study's folder.  What is done at the bench has its caution where it is asked for.
    """
