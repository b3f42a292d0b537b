"""Listening on the desk: one run at a time, received in a thread, kept in the study from its first byte on."""

from __future__ import annotations

import datetime
import threading
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, UnknownName
from latchlore.desk import wording

if TYPE_CHECKING:
    from pathlib import Path

    from latchlore.device import Device
    from latchlore.study import NewRun
    from latchlore.wire import Port

TAIL_BYTES = 512
"""Bytes shown of a run, the last ones; the log has all."""

TAIL_TILES = 2
TAIL_ROWS = 256
MOST_DRAWN = 100_000
"""A longer run is not drawn while it grows: the paper room draws it when it has ended."""


class Listening:
    """A run that is being heard, or has been: `data` so far, `ended` in words once it has ended."""

    def __init__(self, run: NewRun, port: Port, device: Device | None) -> None:
        self.run = run
        self.device = device
        self.data = bytearray()
        self.ended = ""
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._listen, args=(port,), name="listening", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End the run; returns when the log is whole."""
        self._stop.set()
        self._thread.join(timeout=10)

    def _listen(self, port: Port) -> None:
        from latchlore.wire import listen

        try:
            heard = listen(port, self.run.path, self.run.about, self.data.extend, self._stop.is_set)
            self.ended = wording.HEARD.format(count=heard.count, why=heard.ended)
        except OSError as error:  # the log could not be made
            self.ended = str(error)

    def strip_png(self) -> bytes | None:
        """The end of the strip as a picture; None without a device whose paper can be drawn."""
        from latchlore.device import Strip, open_paper

        if self.device is None or len(self.data) > MOST_DRAWN:
            return None
        return Strip(open_paper(self.device, bytes(self.data)), tile_rows=TAIL_ROWS).end_png(TAIL_TILES)


class Ear:
    """The desk's one place for a run."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self.now: Listening | None = None

    def begin(self, port: str, baud: str, framing: str, sequence: str, label: str, device: Device | None) -> Listening:
        """Open a port and listen.

        Refuses while a run is under way, and what `open_port`, `framing_of` and `place_new_run` refuse.
        """
        from latchlore.study import framing_of, place_new_run
        from latchlore.wire import open_port

        with self._lock:
            if self.now is not None and not self.now.ended:
                raise BadInput(Origin(self.now.run.file), wording.STILL_LISTENING)
            if not port:
                raise BadInput(Origin("port"), wording.NO_PORT)
            if not baud.isascii() or not baud.isdecimal() or not 50 <= int(baud) <= 4_000_000:
                raise BadInput(Origin("baud"), wording.NO_BAUD.format(text=baud))
            found = str(framing_of(framing) or "8N1")
            now = datetime.datetime.now().astimezone()
            run = place_new_run(self._folder, sequence, label, port, int(baud), found, now)
            opened = open_port(port, int(baud), found)
            run.make_folder()
            self.now = Listening(run, opened, device)
            return self.now

    def current(self) -> Listening:
        """The run that is being heard or was heard last.  Refuses when there was none."""
        if self.now is None:
            raise UnknownName(wording.NOTHING_HEARD)
        return self.now

    def close(self) -> None:
        """End a run that is under way, with everything kept."""
        if self.now is not None:
            self.now.stop()
