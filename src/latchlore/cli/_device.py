"""`latchlore device`: the group of the commands that ask device tables alone."""

from __future__ import annotations

import click

from latchlore.cli import wording
from latchlore.cli._groups import ListedGroup


@click.group(
    "device",
    cls=ListedGroup,
    table=wording.DEVICE_COMMANDS,
    short_help=wording.COMMANDS["device"],
    epilog=wording.STATUSES,
)
def command() -> None:
    """Ask the documents alone: what a stream means, which device it was for, what it printed, how devices differ.

    Tables are written down from manuals (docs/device-table.md).  A stream is a file of bytes, or a byte log, whose name
    ends in .log; the runs of a log are merged.
    """
