"""The study as the desk knows it: weighed once, and again when a file has changed."""

from __future__ import annotations

import hashlib
import os
import threading
from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import StudyError, no_progress
from latchlore.dossier import iter_files

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from latchlore.base import Progress
    from latchlore.evidence import Table

    Weigh = Callable[[Path, Progress], Table]


@dataclass(frozen=True, slots=True)
class State:
    """`version` changes with the files.  Either `table` or `error` is there."""

    version: str
    table: Table | None
    error: StudyError | OSError | None


class Watched:
    """A study folder whose table is made anew when a file in it is added, removed or written."""

    def __init__(self, folder: Path, weigh: Weigh) -> None:
        self.folder = folder
        self._weigh = weigh
        self._lock = threading.Lock()
        self._state: State | None = None

    def version(self) -> str:
        """A short text that differs whenever the names, sizes or times of the files do."""
        return folder_version(self.folder)

    def state(self) -> State:
        """The table of the files as they are now; several callers wait for one weighing."""
        with self._lock:
            version = self.version()
            if self._state is None or self._state.version != version:
                self._state = self._read(version)
            return self._state

    def _read(self, version: str) -> State:
        try:
            return State(version, self._weigh(self.folder, no_progress), None)
        except (StudyError, OSError) as error:
            return State(version, None, error)


def folder_version(folder: Path) -> str:
    """A digest of the names, sizes and times of change of every file below the folder."""
    digest = hashlib.sha256()
    for name in iter_files(folder):
        try:
            facts = os.stat(folder / name)
        except OSError:  # gone between listing and looking: the next look will tell
            continue
        digest.update(f"{name}\0{facts.st_size}\0{facts.st_mtime_ns}\0".encode("utf-8", "surrogateescape"))
    return digest.hexdigest()[:16]
