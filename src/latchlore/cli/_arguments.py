"""Arguments that several commands share."""

from __future__ import annotations

from pathlib import Path

import click

STUDY = click.argument("study", type=click.Path(path_type=Path), metavar="STUDY")
"""The study's folder; whether it is one, the study's reader says."""
