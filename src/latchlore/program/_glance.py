"""What meets the eye in an image: fill, and texts."""

from __future__ import annotations

import re
from dataclasses import dataclass

from latchlore.program import _loadwords as words

LEAST_FILL = 32  # equal bytes on end that are fill and not a table (common practice)
LEAST_TEXT = 6  # characters on end, with a letter among the first ones, that are hardly chance
_FILL = re.compile(rb"(.)\1{%d,}" % (LEAST_FILL - 1), re.DOTALL)
_TEXT = re.compile(rb"[\x20-\x7e]{%d,}[\xa0-\xfe]?|[\x20-\x7e]{%d}[\xa0-\xfe]" % (LEAST_TEXT, LEAST_TEXT - 1))
_WORD = re.compile(r"[A-Za-z]{3}")


@dataclass(frozen=True, slots=True)
class Fill:
    """One byte that fills stretches: how many bytes of the image, and the longest stretch (first, last offset)."""

    value: int
    count: int
    longest: tuple[int, int]

    def __str__(self) -> str:
        return words.fill(self.value, self.count, *self.longest)


@dataclass(frozen=True, slots=True)
class Text:
    """Characters on end at an offset; `is_marked` where the last one has its top bit set."""

    offset: int
    text: str
    is_marked: bool = False

    def __str__(self) -> str:
        return f"{self.offset:04X} {self.text!r}"


def find_fills(data: bytes) -> tuple[Fill, ...]:
    """Bytes that fill stretches of `LEAST_FILL` or more, the commonest first."""
    found: dict[int, list[tuple[int, int]]] = {}
    for match in _FILL.finditer(data):
        found.setdefault(data[match.start()], []).append((match.start(), match.end() - 1))
    fills = [
        Fill(value, sum(b - a + 1 for a, b in runs), max(runs, key=lambda run: (run[1] - run[0], -run[0])))
        for value, runs in found.items()
    ]
    return tuple(sorted(fills, key=lambda one: (-one.count, one.value)))


def find_texts(data: bytes) -> tuple[Text, ...]:
    """Stretches of ASCII of `LEAST_TEXT` or more characters with three letters on end in them, by offset."""
    found = []
    for match in _TEXT.finditer(data):
        raw = match.group()
        is_marked = raw[-1] > 0x7F
        text = (raw[:-1] + bytes([raw[-1] & 0x7F])).decode("ascii")
        if _WORD.search(text):
            found.append(Text(match.start(), text, is_marked))
    return tuple(found)
