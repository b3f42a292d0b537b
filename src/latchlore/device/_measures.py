"""Lengths as exact millimetres, times with the transcriber's doubt, and byte rows as text."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

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


def parse_bytes(text: str) -> bytes:
    """Read ``1B 40 0D``: pairs of hexadecimal digits with spaces between.  Refuses an empty row."""
    words = text.split()
    if not words or any(re.fullmatch(r"[0-9A-F]{2}", word) is None for word in words):
        raise ValueError("bytes are pairs of upper-case hexadecimal digits with spaces between, such as '1B 40'")
    return bytes(int(word, 16) for word in words)
