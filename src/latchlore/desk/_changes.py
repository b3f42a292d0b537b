"""Changes of the study's files made on the desk, each of which can be taken back.

A change is taken back only while the files still hold what it wrote: what somebody wrote since is never lost.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from latchlore.base import BadInput, Origin, UnknownName
from latchlore.desk import wording

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

T = TypeVar("T")
MAX_KEPT = 100


@dataclass(frozen=True, slots=True)
class Done:
    """A change: file → content before and after it (None: not there); only files that differ."""

    words: str
    before: dict[str, bytes | None]
    after: dict[str, bytes | None]


class Changes:
    """The desk's changes of one study, the last `MAX_KEPT` of them; they are forgotten when the desk is closed."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self._done: list[Done] = []

    @property
    def last(self) -> Done | None:
        """The change that Undo would take back."""
        return self._done[-1] if self._done else None

    def carry_out(self, words: str, files: tuple[str, ...], act: Callable[[], T]) -> T:
        """Let `act` write, and remember what `files` held before and after; nothing is kept of an act that fails."""
        with self._lock:
            before = {file: self._content(file) for file in files}
            result = act()
            after = {file: self._content(file) for file in files}
            changed = [file for file in files if before[file] != after[file]]
            if changed:
                self._done.append(
                    Done(words, {one: before[one] for one in changed}, {one: after[one] for one in changed})
                )
                del self._done[:-MAX_KEPT]
            return result

    def undo(self) -> Done:
        """Take the last change back.  Refuses when there is none, and when a file of it was changed since."""
        from latchlore.study import remove_files, write_files

        with self._lock:
            if not self._done:
                raise UnknownName(wording.NOTHING_TO_UNDO)
            done = self._done[-1]
            for file, content in done.after.items():
                if self._content(file) != content:
                    raise BadInput(Origin(file), wording.CHANGED_SINCE.format(words=done.words))
            written = {file: content for file, content in done.before.items() if content is not None}
            if written:
                write_files(self._folder, written, {file: done.after[file] for file in written})
            remove_files(self._folder, {file: done.after[file] for file, held in done.before.items() if held is None})
            self._done.pop()
            return done

    def _content(self, file: str) -> bytes | None:
        try:
            return (self._folder / file).read_bytes()
        except FileNotFoundError:
            return None
