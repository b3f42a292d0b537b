"""`latchlore record`: the group of the commands that keep findings and their history."""

from __future__ import annotations

import click

from latchlore.cli import wording
from latchlore.cli._groups import ListedGroup


@click.group(
    "record",
    cls=ListedGroup,
    table=wording.RECORD_COMMANDS,
    short_help=wording.COMMANDS["record"],
    epilog=wording.STATUSES,
)
def command() -> None:
    """Keep findings: sentences of yours that rest on subjects of the table, graded by how these stand.

    Findings stand in findings.toml of the study, and every change of one is a line of history.txt, which is only
    ever added to (docs/record.md).
    """
