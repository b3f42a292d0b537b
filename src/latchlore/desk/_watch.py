"""The study as the desk knows it: weighed once, and again when a file has changed."""

from __future__ import annotations

import hashlib
import os
import threading
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar

from latchlore.base import StudyError
from latchlore.dossier import iter_files

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable
    from pathlib import Path

    from latchlore.base import Progress
    from latchlore.evidence import Table

    Weigh = Callable[[Path, Progress], Table]

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class State:
    """`version` changes with the files.  Either `table` or `error` is there.

    `kept` holds what the rooms worked out from just these files; use `once`.
    """

    version: str
    table: Table | None
    error: StudyError | OSError | None
    kept: dict[Hashable, Future[object]] = field(default_factory=dict, compare=False, repr=False)
    lock: threading.Lock = field(default_factory=threading.Lock, compare=False, repr=False)

    def once(self, key: Hashable, compute: Callable[[], T]) -> T:
        """What `compute` gives, worked out once for these files; callers that come meanwhile wait for it."""
        with self.lock:
            known = self.kept.get(key)
            ours = known is None
            future: Future[object] = Future() if known is None else known
            self.kept[key] = future
        if ours:
            try:
                future.set_result(compute())
            except BaseException as error:
                future.set_exception(error)
        return future.result()  # type: ignore[return-value]  # what was kept under a key is what its compute gave


@dataclass(frozen=True, slots=True)
class Weighing:
    """The table is being made; `words` say how far that is."""

    words: str


class Watched:
    """A study folder whose table is made anew when a file in it is added, removed or written."""

    def __init__(self, folder: Path, weigh: Weigh) -> None:
        self.folder = folder
        self._weigh = weigh
        self._lock = threading.Lock()
        self._worker = ThreadPoolExecutor(1, "weighing")
        self._running: tuple[str, Future[State]] | None = None
        self._words = ""

    def version(self) -> str:
        """A short text that differs whenever the names, sizes or times of the files do."""
        return folder_version(self.folder)

    def state(self) -> State:
        """The table of the files as they are now; several callers wait for one weighing."""
        return self._future().result()

    def state_within(self, seconds: float) -> State | Weighing:
        """The same, but after `seconds` how far the weighing is."""
        future = self._future()
        try:
            return future.result(seconds)
        except TimeoutError:
            return future.result() if future.done() else Weighing(self._words)

    def close(self) -> None:
        """Let the weighing thread end; a weighing under way is not waited for."""
        self._worker.shutdown(wait=False, cancel_futures=True)

    def _future(self) -> Future[State]:
        with self._lock:
            version = self.version()
            if self._running is None or self._running[0] != version or _has_failed(self._running[1]):
                self._words = ""
                self._running = (version, self._worker.submit(self._read, version))
            return self._running[1]

    def _progress(self, done: int, total: int, words: str) -> None:
        self._words = f"{words}: {done} of {total}" if total else words

    def _read(self, version: str) -> State:
        try:
            return State(version, self._weigh(self.folder, self._progress), None)
        except (StudyError, OSError) as error:
            return State(version, None, error)


def _has_failed(future: Future[State]) -> bool:
    """Whether a fault of ours ended the weighing; the next caller tries again."""
    return future.done() and future.exception() is not None


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
