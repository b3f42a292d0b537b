"""Arguments that several commands share."""

from __future__ import annotations

from pathlib import Path

import click

STUDY = click.argument("study", type=click.Path(path_type=Path), metavar="STUDY")
"""The study's folder; whether it is one, the study's reader says."""


def as_typed(folder: Path) -> str:
    """The folder's name as it is typed behind a command: quoted where it must be, and never taken for an option."""
    import shlex

    name = str(folder)
    return shlex.quote(f"./{name}" if name.startswith("-") else name)
