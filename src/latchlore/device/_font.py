"""The dot font: which dots make a character in a 5×7 cell."""

from __future__ import annotations

from functools import cache
from pathlib import Path

GLYPH_COLUMNS = 5
GLYPH_ROWS = 7

Glyph = tuple[int, ...]
"""Seven rows from the top; bit 4 is the leftmost dot."""

UNKNOWN_GLYPH: Glyph = (0b11111, 0b10001, 0b10001, 0b10001, 0b10001, 0b10001, 0b11111)
"""An empty frame: printed where the font has no picture of a character, so that nothing disappears."""


@cache
def _font() -> dict[str, Glyph]:
    text = Path(__file__).with_name("dots5x7.txt").read_text(encoding="utf-8")
    font: dict[str, Glyph] = {}
    for line in text.splitlines():
        if line and not line.startswith("#"):
            code, *rows = line.split()
            font[chr(int(code, 16))] = tuple(int(row.replace("#", "1").replace(".", "0"), 2) for row in rows)
    return font


def find_glyph(character: str) -> Glyph | None:
    """The dots of a character, or None where the font has no picture of it."""
    return _font().get(character)


def known_characters() -> tuple[str, ...]:
    """Every character that the font has a picture of, by code point."""
    return tuple(sorted(_font()))
