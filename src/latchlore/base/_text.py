"""Text files read from their bytes."""

from __future__ import annotations

from latchlore.base._errors import BadInput
from latchlore.base._origin import Origin


def decode_text(raw: bytes, file: str) -> str:
    """The text of a file's bytes.  Refuses what is not UTF-8, with line, place (from 0) and value."""
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        words = f"byte {error.start} is {raw[error.start]:02X}h; the file must be UTF-8 text"
        raise BadInput(Origin.at_line(file, line), words) from error
