"""Tracing on the desk: one guide kept while its readings file stays what it wrote, and what the page shows of it."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, NamedTuple

from latchlore.board import tracewording
from latchlore.desk._watch import folder_version

if TYPE_CHECKING:
    from pathlib import Path

    from latchlore.board import PinAt
    from latchlore.study import Tracing


class PinKey(NamedTuple):
    """A pin of the row that is dragged along: its number in a readings file, and how likely it beeps (may be empty)."""

    number: str
    share: str


class Asked(NamedTuple):
    """What is asked next.  `keys` are the pins of a row; `single`: one pin only, answered by yes or no."""

    action: str
    why: str
    header: str
    keys: tuple[PinKey, ...]
    single: bool
    done: bool


class Bench:
    """The tracing of one study's board; made anew when a file of the study has been changed by anybody else."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self._kept: tuple[str, Tracing] | None = None
        self.strip: tuple[PinAt, ...] = ()

    def tracing(self) -> Tracing:
        """The tracing as the files are now.  Refuses what `open_tracing` refuses."""
        from latchlore.study import open_tracing

        with self._lock:
            version = folder_version(self._folder)
            if self._kept is None or self._kept[0] != version:
                self._kept = (version, open_tracing(self._folder))
            return self._kept[1]

    def answer(self, typed: str) -> None:
        """Take an answer; it is on disk when this returns."""
        tracing = self.tracing()
        with self._lock:
            self.strip = tracing.proposal.strip or self.strip
            tracing.answer(typed)
            self._kept = (folder_version(self._folder), tracing)


def asked_view(tracing: Tracing, strip: tuple[PinAt, ...]) -> Asked:
    """What is asked next, in words and keys."""
    asked = tracing.proposal
    likely = dict(asked.likely)
    single = len(asked.row) == 1 and asked.row_word == str(asked.row[0].pin)
    keys = tuple(
        PinKey(str(at.pin), f"{likely[at]:.0%}" if likely.get(at, 0) >= tracewording.WORTH_NAMING else "")
        for at in asked.row
    )
    header = tracewording.describe_progress(len(tracing.readings), asked.left, asked.missing)
    action = tracewording.describe_action(asked, strip)
    return Asked(action, asked.words, header, keys, single, asked.held is None)
