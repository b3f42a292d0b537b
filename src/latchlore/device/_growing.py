"""The strip as lines of letters, for a terminal, while the stream is still coming in."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.device import _wording as words
from latchlore.device._paper import Paper, open_paper

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from latchlore.device._device import Device
    from latchlore.device._mechanism import Piece

BLANK_MOST = 66
"""So many empty lines are shown at most where the paper moves on; common practice: a form of 11 inches."""


class TextLine(NamedTuple):
    """One line of the strip in letters, without its line end.

    `y`: its place along the paper, on the strip's grid.  Wide characters take two columns, what prints nothing known
    is shown as in `CharacterSet.text`, graphics as words.  `start`, `end`: the bytes from its first piece to its last.
    """

    y: int
    text: str
    start: int
    end: int


def text_lines(paper: Paper, top: int = 0) -> Iterator[TextLine]:
    """The lines that begin on grid row `top` or below it, in order, empty ones left out."""
    rows: dict[int, list[Piece]] = {}
    for piece in paper.iter_pieces(top):
        if piece.y >= top and not piece.dropped:
            rows.setdefault(piece.y, []).append(piece)
    for y in sorted(rows):
        pieces = rows[y]
        yield TextLine(y, _line(paper, pieces), min(p.start for p in pieces), max(p.end for p in pieces))


def _line(paper: Paper, pieces: list[Piece]) -> str:
    """Letters at their columns; what is printed over another stands in its place, blanks leave it."""
    cell = paper.form.cell_dots * paper.mechanism.dot_x
    columns: list[str] = []

    def put(at: int, letter: str) -> None:
        columns.extend(" " * (at + 1 - len(columns)))
        if letter != " ":
            columns[at] = letter

    for piece in pieces:
        if piece.graphics is not None:
            size = piece.end - piece.start
            for k, letter in enumerate(words.GRAPHICS_IN_TEXT.format(count=size)):
                put(piece.x // cell + k, letter)
            continue
        for k, letter in enumerate(paper.letters(piece)):
            put((piece.x + k * piece.advance) // cell, letter)
    return "".join(columns).rstrip()


class GrowingStrip:
    """Takes the bytes of a stream as they come and gives each line of the strip once the paper has moved past it.

    The stream is read anew each time, so bytes are better given in some number than one by one.
    """

    def __init__(self, device: Device, switches: Mapping[str, str] | None = None) -> None:
        self.device, self.switches = device, switches
        self.data = bytearray()
        self._top = self._foot = 0  # where lines not shown yet begin; where the next one would without more feeding
        open_paper(device, b"", switches)  # refuses a document without paper

    def add(self, data: bytes) -> tuple[str, ...]:
        """Take further bytes; the lines that are finished by them."""
        self.data += data
        paper = open_paper(self.device, bytes(self.data), self.switches)
        reading = paper.reading
        if len(reading) and reading.is_cut(len(reading) - 1):  # a command still coming in may yet mean more
            start, _ = reading.bounds(len(reading) - 1)
            paper = open_paper(self.device, bytes(self.data[:start]), self.switches)
        return self._shown(paper, [line for line in text_lines(paper, self._top) if paper.reaches(line.y + 1)])

    def finish(self) -> tuple[str, ...]:
        """The lines that are left when no further bytes will come."""
        paper = open_paper(self.device, bytes(self.data), self.switches)
        return self._shown(paper, list(text_lines(paper, self._top)))

    def _shown(self, paper: Paper, lines: list[TextLine]) -> tuple[str, ...]:
        pitch = max(1, int(paper.form.line_feed * paper.form.step / paper.grid_y))
        shown: list[str] = []
        for line in lines:
            shown += [""] * min(BLANK_MOST, (line.y - self._foot) // pitch)
            shown.append(line.text)
            self._top, self._foot = line.y + 1, line.y + pitch
        return tuple(shown)
