"""Lines of a large file, counted only when one has to be named, whatever its lines end in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin
from latchlore.wire import _capturewording as words

if TYPE_CHECKING:
    from pathlib import Path

PIECE = 1 << 20
BYTE_ORDER_MARK = b"\xef\xbb\xbf"


def count_line_ends(raw: bytes) -> int:
    """Line ends in a text: LF, CR LF or CR, also mixed."""
    return raw.count(b"\n") + raw.count(b"\r") - raw.count(b"\r\n")


def line_at(path: Path, offset: int) -> int:
    """The number, from 1, of the line that holds a byte of a file; the file is read up to there, a piece at a time."""
    line, left, last = 1, offset, b""
    with path.open("rb") as source:
        while left > 0 and (piece := source.read(min(left, PIECE))):
            line += count_line_ends(piece) - (last == b"\r" and piece[:1] == b"\n")
            left -= len(piece)
            last = piece[-1:]
    return line


def skip_mark(raw: bytes, file: str) -> int:
    """How many bytes of a byte-order mark a text begins with.  Refuses UTF-16."""
    if raw[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        raise BadInput(Origin.at_line(file, 1), words.UTF16)
    return len(BYTE_ORDER_MARK) if raw.startswith(BYTE_ORDER_MARK) else 0
