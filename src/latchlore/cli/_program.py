"""`latchlore program`: the group of the commands that ask a program alone."""

from __future__ import annotations

import click

from latchlore.cli import wording
from latchlore.cli._groups import ListedGroup


@click.group(
    "program",
    cls=ListedGroup,
    table=wording.PROGRAM_COMMANDS,
    short_help=wording.COMMANDS["program"],
    epilog=wording.STATUSES,
)
def command() -> None:
    """Ask a program alone: what it touches, what it can send, when, and what it never can.

    Each command takes a study's folder, or image files with the processor, the place and the entry stated.
    """
