"""The demonstration study: the Marram tide recorder and its strip printer card, wholly invented.

This folder is the study itself, as `latchlore demo` copies it.  Its program and logs are made by `demo-source/`.
"""

from __future__ import annotations

from pathlib import Path

__all__ = ["demo_folder"]


def demo_folder() -> Path:
    """The folder of the packaged study.  Its files are originals: copy them, never write here."""
    return Path(__file__).parent
