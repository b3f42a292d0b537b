"""Lengths as exact millimetres, times, digits and words with the transcriber's doubt, and byte rows as text."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from itertools import product

from latchlore.base import Span
from latchlore.device._patterns import readings

MM_PER_INCH = Fraction(254, 10)

_LENGTH = re.compile(r"(\d+(?:\.\d+)?|\d+/\d+)\s*(mm|in)")


@dataclass(frozen=True, slots=True, order=True)
class Length:
    """A length above zero as an exact fraction of millimetres."""

    mm: Fraction

    @classmethod
    def parse(cls, text: str) -> Length:
        """Read ``0.33 mm``, ``1/72 in``.  Refuses zero and anything else."""
        match = _LENGTH.fullmatch(text.strip())
        if match is None or (match[1].count("/") and int(match[1].split("/")[1]) == 0):
            raise ValueError("a length is a number or a fraction and mm or in, such as '0.33 mm' or '1/72 in'")
        mm = Fraction(match[1]) * (MM_PER_INCH if match[2] == "in" else 1)
        if mm <= 0:
            raise ValueError("a length is above zero")
        return cls(mm)

    def __str__(self) -> str:
        return f"{float(self.mm):.4g} mm"


@dataclass(frozen=True, slots=True)
class DoubtfulSpan:
    """A time as read, and the other readings that doubtful digits leave."""

    span: Span
    others: tuple[Span, ...] = ()

    @classmethod
    def parse(cls, text: str) -> DoubtfulSpan:
        """Read ``500 ns`` or ``{17}00 ns``."""
        first, *rest = (Span.parse(reading) for reading in readings(text))
        return cls(first, tuple(rest))


@dataclass(frozen=True, slots=True)
class DoubtfulDigit:
    """A digit as read, and the other readings that doubt leaves."""

    first: int
    others: tuple[int, ...] = ()

    @classmethod
    def parse(cls, value: object, most: int) -> DoubtfulDigit:
        """Read the number 7 or the text ``{71}``, each 0 to `most`.  A reading above is no reading."""
        if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= most:
            return cls(value)
        words = f"this is a number from 0 to {most}, or a doubtful digit such as '{{{most}{most - 1}}}', not {value!r}"
        if not isinstance(value, str):
            raise ValueError(words)
        first, *rest = (
            int(one) if re.fullmatch(r"[0-9]", one) and int(one) <= most else None for one in readings(value)
        )
        if first is None:
            raise ValueError(words)
        return cls(first, tuple(one for one in rest if one is not None))


_WORD_DOUBT = re.compile(r"\{([^{}|]+(?:\|[^{}|]+)+)\}")


def word_readings(text: str) -> tuple[str, ...]:
    """Every reading of a text with doubtful words ``{begins|ends}``, the transcriber's own first."""
    pieces = _WORD_DOUBT.split(text)
    if any(letter in "".join(pieces[::2]) for letter in "{|}"):
        raise ValueError(f"doubtful words are written {{begins|ends}}, not {text!r}")
    options = [[piece] if i % 2 == 0 else piece.split("|") for i, piece in enumerate(pieces)]
    return tuple("".join(words) for words in product(*options))


def parse_bytes(text: str) -> bytes:
    """Read ``1B 40 0D``: pairs of hexadecimal digits with spaces between.  Refuses an empty row."""
    words = text.split()
    if not words or any(re.fullmatch(r"[0-9A-F]{2}", word) is None for word in words):
        raise ValueError("bytes are pairs of upper-case hexadecimal digits with spaces between, such as '1B 40'")
    return bytes(int(word, 16) for word in words)
