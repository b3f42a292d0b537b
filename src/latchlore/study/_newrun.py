"""Where a run that is listened to is kept: a new log of its sequence, named by the moment at which it began."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import BadInput, Origin

if TYPE_CHECKING:
    import datetime
    from pathlib import Path


class NewRun(NamedTuple):
    """A log that is not there yet, and the comment that it begins with; `file` is its path from the study's folder."""

    path: Path
    file: str
    about: str

    def make_folder(self) -> None:
        """Make the sequence's folder where it is not there."""
        self.path.parent.mkdir(parents=True, exist_ok=True)


def place_new_run(
    folder: Path, sequence: str, label: str, port: str, baud: int, framing: str, now: datetime.datetime
) -> NewRun:
    """Name the next log of a sequence; nothing is made yet (`NewRun.make_folder`).

    Refuses a folder that is no study's, and a sequence whose name cannot be a folder's.
    """
    if re.fullmatch(r"[^/\\\0]{1,80}", sequence) is None or sequence.startswith("."):
        raise BadInput(Origin("--sequence"), f"is a name that can be a folder's, not {sequence!r}")
    if not folder.is_dir():
        raise BadInput(Origin(str(folder)), "there is no such folder; latchlore new makes a study")
    file = f"wire/{sequence}/{now:%Y-%m-%d-%H%M%S}.log"
    about = f"{label or sequence}; {port}, {baud} baud {framing.upper()}, from {now:%Y-%m-%d %H:%M:%S}"
    return NewRun(folder / file, file, about)
