"""What stands at an origin: the cited line of a text, or the bytes around an offset."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import Origin, Place

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

MAX_LINE = 240
MAX_READ = 1 << 20
"""A cited line further down than this many bytes is named but not shown."""

PER_ROW = 16


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the excerpt: its label, its text, and whether it is the one cited."""

    label: str
    text: str
    cited: bool


@dataclass(frozen=True, slots=True)
class Excerpt:
    """Lines around a place; `why_not` says why there are none."""

    lines: tuple[Line, ...]
    why_not: str = ""


def read_excerpt(folder: Path, origin: Origin, loads: Mapping[str, int], around: int) -> Excerpt:
    """The cited place with `around` lines (or rows of sixteen bytes) before and after it.

    `loads`: file → address of its first byte, for places that are addresses.  Never reads a file outside `folder`.
    """
    path = find_file(folder, origin.file)
    if path is None:
        return Excerpt((), "the file is not in the study's folder")
    try:
        match origin.place:
            case Place.LINE:
                return _text_lines(path, origin.number, around)
            case Place.BYTE:
                return _byte_rows(path, origin.number, 0, around)
            case Place.ADDRESS if origin.file in loads:
                load = loads[origin.file]
                return _byte_rows(path, origin.number - load, load, around)
            case Place.ADDRESS:
                return Excerpt((), "the study does not say which byte of the file has this address")
            case Place.TIME:
                return Excerpt((), "a time in a capture")
            case _:
                return Excerpt((), "the place is named in words only")
    except OSError as error:
        return Excerpt((), error.strerror or "the file cannot be read")


def find_file(folder: Path, name: str) -> Path | None:
    """The file `name` of the study, or None where there is none or where it leads out of the folder."""
    if not name or "\0" in name:
        return None
    root = folder.resolve()
    try:
        path = (root / name).resolve()
        inside = path.is_relative_to(root) and path.is_file()
    except (OSError, RuntimeError):  # a name too long, or links in a circle
        return None
    hidden = any(part.startswith(".") for part in path.relative_to(root).parts) if inside else True
    return None if hidden else path


def _text_lines(path: Path, number: int, around: int) -> Excerpt:
    with path.open("rb") as stream:
        raw = stream.read(MAX_READ)
    lines = raw.decode("utf-8", "replace").split("\n")
    if not 1 <= number <= len(lines):
        return Excerpt((), "the line lies beyond what is shown" if len(raw) == MAX_READ else "there is no such line")
    shown = range(max(1, number - around), min(len(lines), number + around) + 1)
    return Excerpt(tuple(Line(str(i), _shorten(lines[i - 1]), i == number) for i in shown))


def _shorten(text: str) -> str:
    clean = "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in text.expandtabs(4))
    return clean if len(clean) <= MAX_LINE else clean[:MAX_LINE] + "…"


def _byte_rows(path: Path, offset: int, base: int, around: int) -> Excerpt:
    if offset < 0:
        return Excerpt((), "the address lies before the image")
    row = (base + offset) // PER_ROW * PER_ROW - base
    first = max(0, row - around * PER_ROW)
    with path.open("rb") as stream:
        stream.seek(first)
        data = stream.read(row + (around + 1) * PER_ROW - first)
    if first + len(data) <= offset:
        return Excerpt((), "the file ends before this place")
    rows = []
    start = first
    while start < first + len(data):
        stop = (base + start) // PER_ROW * PER_ROW + PER_ROW - base
        piece = data[start - first : stop - first]
        text = " ".join(f"[{b:02X}]" if start + i == offset else f"{b:02X}" for i, b in enumerate(piece))
        rows.append(Line(f"{base + start:04X}", text, start <= offset < stop))
        start = stop
    return Excerpt(tuple(rows))
