"""`latchlore wire`: the group of the commands that ask captures and logs alone."""

from __future__ import annotations

import click

from latchlore.cli import wording
from latchlore.cli._groups import ListedGroup


@click.group(
    "wire",
    cls=ListedGroup,
    table=wording.WIRE_COMMANDS,
    short_help=wording.COMMANDS["wire"],
    epilog=wording.STATUSES,
)
def command() -> None:
    """Ask captures and logs alone: what was sent, how sure it is, why bytes are missing, what the lines did in time.

    Captures are VCD files, tables of samples or changes, or packed samples; logs are bytes as listeners write them
    down (docs/capture.md, docs/byte-log.md).
    """
