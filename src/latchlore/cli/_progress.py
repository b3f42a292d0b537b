"""How long work shows how far it is: one line on the terminal, and only after a while."""

from __future__ import annotations

import sys
import time
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import TracebackType

QUIET_SECONDS = 1.0
"""Work shorter than this says nothing."""

STEP_SECONDS = 0.1


class ProgressLine:
    """A `Progress` that writes one line over and over on `stream`, and wipes it at the end.

    Silent where the stream is no terminal, and for the first second of the work.
    """

    def __init__(self, stream: TextIO | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        self._stream = sys.stderr if stream is None else stream
        self._clock = clock
        self._next = clock() + QUIET_SECONDS
        self._shown = 0

    def __enter__(self) -> ProgressLine:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._shown:
            self._write("")

    def __call__(self, done: int, total: int, words: str) -> None:
        """Show it, at most ten times a second."""
        if not self._stream.isatty() or self._clock() < self._next:
            return
        self._next = self._clock() + STEP_SECONDS
        share = f"{min(done, total) * 100 // total:3d} %  " if total else ""
        self._write(f"{share}{words}"[:78])

    def _write(self, text: str) -> None:
        self._stream.write(f"\r{text:{self._shown}}" + ("" if text else "\r"))
        self._stream.flush()
        self._shown = len(text)
