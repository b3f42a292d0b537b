"""The strip of paper that a stream leaves: where its pieces and dots are, worked out as far as they are asked for."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import Progress, UnknownName, no_progress
from latchlore.device._charsets import CharacterSet, find_set
from latchlore.device._facts import SET_MODE, STYLE_MODES
from latchlore.device._font import GLYPH_COLUMNS, GLYPH_ROWS, UNKNOWN_GLYPH, Glyph, find_glyph
from latchlore.device._mechanism import Head, Mechanism, Piece
from latchlore.device._reading import Reading, read_stream

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from latchlore.device._device import Command, Device, Graphics, PaperForm

_CHECKPOINT_EVERY = 256


class Dot(NamedTuple):
    """One dot: grid position, and the byte of the stream that made it."""

    x: int
    y: int
    byte: int


def open_paper(
    device: Device,
    data: bytes,
    switches: Mapping[str, str] | None = None,
    *,
    auto_line_feed: bool | None = None,
    pins: Mapping[str, str] | None = None,
) -> Paper:
    """The paper that a stream leaves in a device.

    A carriage return feeds a line where one of three places asks for it: the host (a row sets the mode ``auto line
    feed``), the cable (a pin named by the paper section has its level in `pins`, as ``{"14": "low"}``), or a switch
    that is set so; and where the paper section says that it always does.  `auto_line_feed` overrides them all.  Refuses
    a document without a [paper] section.
    """
    return Paper(read_stream(device, data, switches), auto_line_feed=auto_line_feed, pins=pins)


class Paper:
    """A printed strip, worked out as far as it is asked for; see `open_paper`.

    Only the spans of the stream and one state of the mechanism for every 256 pieces are held, never dots or pixels.
    A strip remembers how far it is worked out, so it must not be asked by two threads at once.
    """

    def __init__(
        self, reading: Reading, *, auto_line_feed: bool | None = None, pins: Mapping[str, str] | None = None
    ) -> None:
        self.mechanism = Mechanism(reading, auto_line_feed, pins or {})
        self.reading = reading
        self.form: PaperForm = self.mechanism.form
        self.grid_x, self.grid_y = self.mechanism.grid_x, self.mechanism.grid_y
        self._tallest = 0
        self._walked = self.mechanism.start()
        self._checkpoints: list[Head] = [self._walked.copy()]
        self._since = 0
        self._done = False
        self._sets: dict[str, CharacterSet] = {reading.device.modes[-1].start: reading.device.characters}
        self._known_cells: dict[tuple[str, ...], dict[int, tuple[tuple[int, int], ...]]] = {}
        self._not_drawn: dict[int, int] = {}
        self._fed_twice = 0
        self._just_fed = False

    # -- the walk along the stream

    def iter_pieces(self, top: int = 0, bottom: int | None = None) -> Iterator[Piece]:
        """The pieces that may touch the rows from `top` up to `bottom` (grid; None: to the end), in stream order."""
        self._checkpoint_above(top)  # so that every piece that begins above is known
        head = self._checkpoint_above(top - self._tallest)
        for piece in self._walk(head):
            if bottom is not None and piece.y >= bottom:
                return
            if piece.y + piece.height > top:
                yield piece

    def _checkpoint_above(self, y: int) -> Head:
        """A copy of the last known state at or above a row, walking on where the row has not been reached."""
        if not self._done and self._checkpoints[-1].y < y:
            self._walk_until(lambda last: last.y >= y)
        found = bisect_left(self._checkpoints, y, key=lambda one: one.y)  # those before it are above the row
        return self._checkpoints[max(0, found - 1)].copy()

    def _walk(self, head: Head) -> Iterator[Piece]:
        """Move `head` on to the end, piece by piece."""
        while head.span < len(self.reading):
            piece = self.mechanism.step(head)
            if piece is not None:
                yield piece

    def _walk_until(self, reached: Callable[[Head], bool], progress: Progress = no_progress) -> None:
        """Walk on from where the strip is known to, leaving states behind to start from, until `reached`."""
        head, total = self._walked, len(self.reading)
        while head.span < total and not reached(self._checkpoints[-1]):
            if head.offset == 0:
                self._note(head.span)
            piece = self.mechanism.step(head)
            if piece is not None:
                self._tallest = max(self._tallest, piece.height)
            self._since += 1
            if self._since == _CHECKPOINT_EVERY:
                self._since = 0
                self._checkpoints.append(head.copy())
                progress(head.span, total, "moving the paper")
        self._done = head.span >= total

    def _note(self, span: int) -> None:
        """Count spans whose part on the paper is not known, and line feeds behind a return that has fed already."""
        row = self.reading.row_index(span)
        command = self.reading.device.commands[row] if row >= 0 else None
        if command is None or not (command.effect or command.sets or command.sets_from):
            self._not_drawn[row] = self._not_drawn.get(row, 0) + 1
        effect = command.effect if command is not None else ""
        self._fed_twice += self._just_fed and effect == "line feed"
        self._just_fed = effect == "carriage return" and self.mechanism.feeds_by_itself(self.reading.modes(span))

    # -- dots

    def iter_dots(self, top: int = 0, bottom: int | None = None) -> Iterator[Dot]:
        """The dots on the rows from `top` up to `bottom` (grid; None: to the end), in stream order.

        A dot printed twice is given twice, once for each byte that made it.
        """
        for piece in self.iter_pieces(top, bottom):
            for dot in self.piece_dots(piece):
                if dot.y >= top and (bottom is None or dot.y < bottom):
                    yield dot

    def points(self, top: int = 0, bottom: int | None = None) -> list[tuple[int, int]]:
        """Grid positions of the dots of the pieces that touch these rows: what a picture needs, faster than dots."""
        found: list[tuple[int, int]] = []
        for piece in self.iter_pieces(top, bottom):
            if piece.graphics is not None:
                found += [(dot.x, dot.y) for dot in self._graphic_dots(piece, piece.graphics)]
                continue
            for _, left, cell in self._cells(piece):
                found += [(left + dx, piece.y + dy) for dx, dy in cell]
        return [point for point in found if point[0] < self.mechanism.head_width]

    def piece_dots(self, piece: Piece) -> Iterator[Dot]:
        """The dots of one piece that the head can reach."""
        if piece.dropped:
            return iter(())
        dots = self._character_dots(piece) if piece.graphics is None else self._graphic_dots(piece, piece.graphics)
        return (dot for dot in dots if dot.x < self.mechanism.head_width)

    def _character_dots(self, piece: Piece) -> Iterator[Dot]:
        for offset, left, cell in self._cells(piece):
            for dx, dy in cell:
                yield Dot(left + dx, piece.y + dy, offset)

    def _cells(self, piece: Piece) -> Iterator[tuple[int, int, tuple[tuple[int, int], ...]]]:
        """Byte, left edge and dots of each character of a piece; a dropped piece has none."""
        if piece.dropped:
            return
        style = tuple(piece.modes[name] for name in (*STYLE_MODES, SET_MODE))
        known = self._known_cells.setdefault(style, {})
        for k, offset in enumerate(range(piece.start, piece.end)):
            byte = self.reading.data[offset]
            if byte not in known:
                character = self._character_set(piece.modes[SET_MODE]).find(byte)
                glyph = (find_glyph(character) if character else None) or UNKNOWN_GLYPH
                known[byte] = self._cell(glyph, piece.modes)
            yield offset, piece.x + k * piece.advance, known[byte]

    def _cell(self, glyph: Glyph, modes: Mapping[str, str]) -> tuple[tuple[int, int], ...]:
        """The dots of one character cell relative to its corner, row by row."""
        wide = 2 if modes["wide"] == "on" else 1
        tall = 2 if modes["tall"] == "on" else 1
        inverse, underlined = modes["inverse"] == "on", modes["underlined"] == "on"
        rows = max(self.form.cell_rows, GLYPH_ROWS + 1) if underlined else self.form.cell_rows
        dots = []
        for row in range(rows):
            for column in range(self.form.cell_dots):
                inked = row < GLYPH_ROWS and column < GLYPH_COLUMNS and bool(glyph[row] >> (4 - column) & 1)
                inked = (inked or (underlined and row == GLYPH_ROWS)) != inverse
                if inked:
                    dots += [
                        ((column * wide + i) * self.mechanism.dot_x, (row * tall + j) * self.mechanism.dot_y)
                        for j in range(tall)
                        for i in range(wide)
                    ]
        return tuple(dots)

    def _graphic_dots(self, piece: Piece, graphics: Graphics) -> Iterator[Dot]:
        pitch_y = int((graphics.pitch_y or self.form.dot_y) / self.grid_y)
        unit = graphics.unit_bytes or max(1, piece.end - piece.start)
        dots = graphics.dots or 8 * unit
        for offset in range(piece.start, piece.end):
            number, place = divmod(offset - piece.start, unit)
            byte = self.reading.data[offset]
            for bit in range(8):
                if not byte >> bit & 1:
                    continue
                along = 8 * place + (7 - bit if graphics.high_first else bit)
                if along >= dots:
                    continue
                if graphics.by_column:
                    yield Dot(piece.x + number * piece.advance, piece.y + along * pitch_y, offset)
                else:
                    yield Dot(piece.x + along * piece.advance, piece.y + number * pitch_y, offset)

    def letters(self, piece: Piece) -> tuple[str, ...]:
        """The characters of a piece that is no graphics, one a byte; ``<1B>`` for what prints nothing known."""
        characters = self._character_set(piece.modes[SET_MODE])
        return tuple(characters.text(self.reading.data[k : k + 1]) for k in range(piece.start, piece.end))

    def _character_set(self, name: str) -> CharacterSet:
        if name not in self._sets:
            found = find_set(name)
            if found is None:
                raise UnknownName(f"there is no character set named {name!r}")
            self._sets[name] = found
        return self._sets[name]

    # -- questions about the strip

    def work_out(self, progress: Progress = no_progress) -> None:
        """Walk to the end of the stream, so that the length of the strip is known."""
        if not self._done:
            self._walk_until(lambda _: False, progress)
            progress(len(self.reading), len(self.reading), "moving the paper")

    def reaches(self, y: int) -> bool:
        """Whether the stream is known to feed the paper at least to a grid row; walks on as far as that takes."""
        if not self._done and self._walked.y < y:
            self._walk_until(lambda _: self._walked.y >= y)
        return self._walked.y >= y

    @property
    def height(self) -> int:
        """Rows of the grid from the first line to the end of the strip: the last line's characters included."""
        self.work_out()
        return self._walked.y + max(self.form.cell_rows, GLYPH_ROWS) * self.mechanism.dot_y

    @property
    def size_mm(self) -> tuple[Fraction, Fraction]:
        """Width of the paper and length of the strip, with a head's margin above and below."""
        return self.form.width, self.height * self.grid_y + 2 * self.form.margin

    @property
    def not_drawn(self) -> tuple[tuple[Command | None, int], ...]:
        """Rows whose part on the paper is not known, with their number of spans; None: bytes that no row explains."""
        self.work_out()
        commands = self.reading.device.commands
        return tuple((commands[row] if row >= 0 else None, num) for row, num in sorted(self._not_drawn.items()))

    @property
    def auto_line_feed(self) -> bool:
        """Whether a carriage return feeds a line at power-on."""
        return self.mechanism.feeds_by_itself({mode.name: mode.start for mode in self.reading.device.modes})

    @property
    def auto_reasons(self) -> tuple[str, ...]:
        """The places other than the host's commands that ask for a line feed after each return, in words."""
        return self.mechanism.auto_reasons if self.mechanism.forced_auto is None else ()

    @property
    def num_fed_twice(self) -> int:
        """How many line feeds follow a carriage return that has fed a line by itself: lines of double spacing."""
        self.work_out()
        return self._fed_twice

    def dots_of(self, byte: int) -> tuple[Dot, ...]:
        """The dots that a byte of the stream made, row by row.  Refuses an offset outside the stream."""
        span = self.reading.find_span(byte)
        head = self._head_before(span, byte)
        for piece in self._walk(head):
            if piece.start <= byte < piece.end:
                return tuple(dot for dot in self.piece_dots(piece) if dot.byte == byte)
            if piece.start > byte:
                break
        return ()

    def _head_before(self, span: int, byte: int) -> Head:
        if not self._done and self._checkpoints[-1].span < span:
            self._walk_until(lambda last: last.span >= span)
        found = bisect_right(self._checkpoints, (span, byte), key=lambda one: (one.span, one.offset))
        return self._checkpoints[found - 1].copy()

    def stands_at(self, byte: int) -> tuple[int, int]:
        """Grid position of the head when the span of a byte begins (a byte that leaves no dot has a place, too)."""
        span = self.reading.find_span(byte)
        head = self._head_before(span, 0)
        while head.span < span:
            self.mechanism.step(head)
        return head.x, head.y

    def bytes_at(self, x: int, y: int) -> tuple[int, ...]:
        """The bytes that made the dot at a grid position, in stream order; empty where there is none."""
        return tuple(dot.byte for dot in self.iter_dots(y, y + 1) if dot.x == x)

    def position_mm(self, dot: Dot) -> tuple[Fraction, Fraction]:
        """The centre of a dot from the paper's left edge and from the strip's upper edge, in exact millimetres."""
        half = self.form.dot / 2
        return (
            self.form.margin + dot.x * self.grid_x + half,
            self.form.margin + dot.y * self.grid_y + half,
        )
