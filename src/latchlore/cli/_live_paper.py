"""What arrives while listening, on the terminal: the strip line by line, or plain text where no device is known.

Drawing runs beside the listening and never holds it up; where the terminal goes away the listening goes on.
"""

from __future__ import annotations

import queue
import sys
import threading
import time
from contextlib import suppress
from typing import TYPE_CHECKING

from latchlore.cli._letters import harmless

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import TracebackType

    from latchlore.device import Device

REST_SECONDS = 0.25
REST_SHARE = 4
"""After each look at the paper it rests so many times as long as that took, for a long strip takes longer to read."""


def as_text(piece: bytes) -> str:
    """Bytes as a printer would take plain text; bytes that are no text are shown as ``<1B>``."""
    return "".join(
        chr(byte) if 0x20 <= byte < 0x7F else "\n" if byte == 0x0A else "" if byte == 0x0D else f"<{byte:02X}>"
        for byte in piece
    )


class LivePaper:
    """Shows pieces as they come, in a thread of its own; a device's paper in its width, lines as they are finished."""

    def __init__(self, device: Device | None, write: Callable[[str], object] = sys.stdout.write) -> None:
        self._device, self._write = device, write
        self._pieces: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> LivePaper:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._pieces.put(None)
        self._thread.join()

    def __call__(self, piece: bytes) -> None:
        """Show a piece; returns at once."""
        self._pieces.put(piece)

    def _run(self) -> None:
        with suppress(OSError, ValueError):  # the terminal is gone
            self._grow() if self._device is not None else self._plain()

    def _plain(self) -> None:
        while (piece := self._pieces.get()) is not None:
            self._show(as_text(piece))

    def _grow(self) -> None:
        from latchlore.device import GrowingStrip

        assert self._device is not None
        strip = GrowingStrip(self._device)
        assert self._device.paper is not None
        wide = self._device.paper.columns
        over = False
        while not over:
            data, over = self._all_there()
            began = time.monotonic()
            lines = strip.add(data) if data else ()
            if over:
                lines += strip.finish()
            self._show("".join(f"|{harmless(line):{wide}}|\n" for line in lines))
            if not over:
                time.sleep(max(REST_SECONDS, REST_SHARE * (time.monotonic() - began)))

    def _all_there(self) -> tuple[bytes, bool]:
        """Everything that has come meanwhile (something at least), and whether that was all."""
        found = bytearray()
        piece = self._pieces.get()
        while piece is not None:
            found += piece
            try:
                piece = self._pieces.get_nowait()
            except queue.Empty:
                return bytes(found), False
        return bytes(found), True

    def _show(self, text: str) -> None:
        if text:
            self._write(text)
            sys.stdout.flush()
