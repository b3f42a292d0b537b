"""Live listening: bytes from a serial port or a socket into a new byte log, kept from the first byte on.

Every piece that arrives is one line of the log, written and flushed before anything else is done with it; once a
second, and after the first piece, the file is brought to the disk.  What ends the run (the plug pulled, the user) is a
comment at its end.
"""

from __future__ import annotations

import os
import socket
import time
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from latchlore.base import BadInput, Origin
from latchlore.wire import _listenwording as words

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path
    from typing import IO

POLL_SECONDS = 0.05
SYNC_SECONDS = 1.0


class Port(Protocol):
    """Where bytes come from: what pyserial's ports offer."""

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read at once."""

    def read(self, size: int = 1) -> bytes:
        """Up to so many bytes, waiting as long as the port's time-out at most."""

    def close(self) -> None:
        """Give it back."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What a run of listening gave: bytes received, and why it ended, in words."""

    count: int
    ended: str


class _SocketPort:
    """A TCP connection.  pyserial's own drops what has arrived before it is open, and loses what a close cuts short."""

    in_waiting = 4096

    def __init__(self, name: str) -> None:
        host, _, number = name.removeprefix("socket://").rpartition(":")
        try:
            if not host or not number.isdecimal():
                raise ValueError(words.SOCKET_NAME)
            self._socket = socket.create_connection((host, int(number)), timeout=10)
        except (OSError, ValueError, OverflowError) as error:
            raise BadInput(Origin(name), words.NO_PORT.format(why=" ".join(str(error).split()))) from error
        self._socket.settimeout(POLL_SECONDS)

    def read(self, size: int = 1) -> bytes:
        """What is there, or nothing after a while."""
        try:
            piece = self._socket.recv(size)
        except TimeoutError:
            return b""
        if not piece:
            raise EOFError(words.CLOSED)
        return piece

    def close(self) -> None:
        """End the connection."""
        self._socket.close()


def open_port(name: str, baud: int = 9600, framing: str = "8N1") -> Port:
    """A serial port by its device name, or ``socket://HOST:PORT``.  Refuses what cannot be opened, with the reason."""
    if name.startswith("socket://"):
        return _SocketPort(name)
    import serial

    bits, parity, stops = framing[0], framing[1], framing[2]
    try:
        port: Port = serial.serial_for_url(
            name, baudrate=baud, bytesize=int(bits), parity=parity, stopbits=int(stops), timeout=POLL_SECONDS
        )
    except (serial.SerialException, ValueError, OSError) as error:
        raise BadInput(Origin(name), words.NO_PORT.format(why=" ".join(str(error).split()))) from error
    return port


def listen(
    port: Port,
    path: Path,
    label: str,
    on_bytes: Callable[[bytes], None],
    should_stop: Callable[[], bool],
    clock: Callable[[], int] = time.monotonic_ns,
) -> Heard:
    """Receive until the port goes away or `should_stop` says so; the log is made anew and never overwrites a file.

    Each line begins with the time since the first byte, in microseconds, of its first byte's arrival *here*: a
    serial port hands bytes over in pieces, so times tell pauses, not strobes.  `KeyboardInterrupt` ends the run like
    `should_stop`; the log is whole in every case.
    """
    count = 0
    ended = ""
    with path.open("x", encoding="utf-8", newline="\n") as log:
        log.write(words.HEAD.format(label=" ".join(label.split())))
        _sync(log)
        _sync_folder(path.parent)
        began: int | None = None
        synced = clock()
        try:
            while not ended and not should_stop():
                piece, ended = _receive(port)
                now = clock()
                try:
                    if piece:
                        first = began is None
                        began = now if began is None else began
                        log.write(f"{(now - began) // 1000}us {piece.hex(' ').upper()}\n")
                        log.flush()
                        count += len(piece)
                    if now - synced > SYNC_SECONDS * 1e9 or (piece and first):
                        _sync(log)
                        synced = now
                except OSError as error:
                    ended = words.NOT_KEPT.format(why=" ".join(str(error).split()))
                    continue
                if piece:
                    on_bytes(piece)
        except KeyboardInterrupt:
            pass
        finally:
            port.close()
            ended = ended or words.STOPPED
            with suppress(OSError):  # a full disk has refused the bytes before, and that is said
                log.write(words.TAIL.format(count=count, why=ended))
                _sync(log)
    return Heard(count, ended)


def _receive(port: Port) -> tuple[bytes, str]:
    """What is there, and why nothing more will come, in words, where that is so."""
    import serial

    try:
        # only what is there is asked for: a longer read from a socket that closes meanwhile would lose it
        return port.read(max(1, port.in_waiting)), ""
    except (serial.SerialException, OSError, EOFError) as error:
        return b"", words.GONE.format(why=" ".join(str(error).split()))


def _sync_folder(folder: Path) -> None:
    """Bring a new file's name to the disk, where the system can."""
    with suppress(OSError):
        opened = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)


def _sync(log: IO[str]) -> None:
    log.flush()
    os.fsync(log.fileno())
