"""Follows the log of a run that is being listened to, so that others may look on; see `_listen`."""

from __future__ import annotations

import re
import time
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import BadInput, Origin, Span
from latchlore.wire import _listenwording as words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

_PIECE = re.compile(rb"(\d+)us((?: [0-9A-F]{2})+)")
_TAIL = re.compile(rb"# (\d+) bytes; (.*)")
_HEAD_LINES = 3
READ_MOST = 1 << 20


class HeardPiece(NamedTuple):
    """Bytes that arrived together, and when the first of them did, since the run's first byte."""

    at: Span
    data: bytes


class LogFollower:
    """Reads what has come to a log that `listen` writes, as often as it is asked; nothing is locked, nothing waits.

    `ended`: why the run ended, in words, once the log says so, else None (a listener that was killed says nothing).
    `count`: bytes so far.  Refuses a log that `listen` did not write, with its line.
    """

    def __init__(self, path: Path, file: str) -> None:
        self.path, self.file = path, file
        self.ended: str | None = None
        self.count = 0
        self._at = 0
        self._line = 0

    def poll(self) -> tuple[HeardPiece, ...]:
        """The pieces that are new since the last time, in order, at most about 300 kB of them; often none.

        A line that is still being written is left for the next time.
        """
        with self.path.open("rb") as log:
            log.seek(self._at)
            raw = log.read(READ_MOST)
        whole = raw[: raw.rfind(b"\n") + 1]
        self._at += len(whole)
        pieces = []
        for line in whole.split(b"\n")[:-1]:
            self._line += 1
            piece = _PIECE.fullmatch(line)
            if piece is not None:
                pieces.append(HeardPiece(Span.of(us=int(piece[1])), bytes.fromhex(piece[2].decode())))
                self.count += len(pieces[-1].data)
            elif self._line > _HEAD_LINES:
                tail = _TAIL.fullmatch(line)
                if tail is None:
                    shown = line[:40].decode("utf-8", "replace")
                    raise BadInput(Origin.at_line(self.file, self._line), words.NOT_HEARD.format(text=shown))
                self.ended = tail[2].decode("utf-8", "replace")
        return tuple(pieces)


def follow_log(
    path: Path,
    file: str,
    should_stop: Callable[[], bool] = lambda: False,
    pause: Callable[[], object] = lambda: time.sleep(0.1),
) -> Iterator[HeardPiece]:
    """Each piece of a run as it arrives, from its first byte on, until the run ends or `should_stop` says so.

    `pause` is called whenever nothing is new.  A listener that was killed leaves no end: let `should_stop` tell.
    """
    follower = LogFollower(path, file)
    while True:
        pieces = follower.poll()
        yield from pieces
        if follower.ended is not None or should_stop():
            return
        if not pieces:
            pause()
