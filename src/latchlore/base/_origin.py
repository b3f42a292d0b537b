"""Where a fact came from: a file and a place in it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.base._spans import Span


class Place(StrEnum):
    """How a place inside a file is counted."""

    FILE = "file"
    LINE = "line"
    BYTE = "byte"
    ADDRESS = "address"
    TIME = "time"
    PAGE = "page"


@dataclass(frozen=True, slots=True, order=True)
class Origin:
    """A place in a file of the study.

    `file` is the path from the study's folder, with forward slashes.  `number` is the line (from 1), byte offset
    (from 0), address, or time in picoseconds, as `place` says; 0 where `place` is FILE or PAGE.  `detail` is the
    page, row or key path in words, or empty.
    """

    file: str
    place: Place = Place.FILE
    number: int = 0
    detail: str = ""

    @classmethod
    def at_line(cls, file: str, line: int, detail: str = "") -> Origin:
        """A line of a text file, counted from 1."""
        return cls(file, Place.LINE, line, detail)

    @classmethod
    def at_byte(cls, file: str, offset: int, detail: str = "") -> Origin:
        """A byte offset of a binary file, counted from 0."""
        return cls(file, Place.BYTE, offset, detail)

    @classmethod
    def at_address(cls, file: str, address: int, detail: str = "") -> Origin:
        """An address of an image, as the processor sees it."""
        return cls(file, Place.ADDRESS, address, detail)

    @classmethod
    def at_time(cls, file: str, time: Span, detail: str = "") -> Origin:
        """An edge of a capture."""
        return cls(file, Place.TIME, time.picoseconds, detail)

    @classmethod
    def on_page(cls, file: str, detail: str) -> Origin:
        """A page (and row) of a document, in the document's own words, such as ``page 12, row 3``."""
        return cls(file, Place.PAGE, 0, detail)

    def __str__(self) -> str:
        """``file:58`` for a line, ``file at C801`` for an address, and so on."""
        from latchlore.base._spans import Span

        match self.place:
            case Place.LINE:
                text = f"{self.file}:{self.number}"
            case Place.BYTE:
                text = f"{self.file} byte {self.number:04X}h"
            case Place.ADDRESS:
                text = f"{self.file} at {self.number:04X}"
            case Place.TIME:
                text = f"{self.file} at {Span(self.number)}"
            case _:
                text = self.file
        return f"{text} ({self.detail})" if self.detail else text
