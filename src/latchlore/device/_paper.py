"""The printing mechanism: where on the paper every byte of a stream leaves its dots.

Positions are whole numbers on a grid fine enough for every pitch that the table names: `Paper.grid_x` and
`Paper.grid_y` are its exact meshes in millimetres.  x counts from the head's first dot to the right, y from the top of
the first line along the paper.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import Origin, Progress, UnknownName, Unsupported, no_progress
from latchlore.device._charsets import CharacterSet, find_set
from latchlore.device._facts import GRAPHIC_EFFECTS, PAPER_MODES, SET_MODE
from latchlore.device._font import GLYPH_COLUMNS, GLYPH_ROWS, UNKNOWN_GLYPH, Glyph, find_glyph
from latchlore.device._plain import match_pattern
from latchlore.device._reading import Reading, read_stream

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from latchlore.device._device import Command, Device, Graphics, PaperForm

MAX_FEED_MM = 100_000_000
"""Paper is simulated up to a hundred kilometres; a stream that feeds more is refused."""

_CHECKPOINT_EVERY = 256


class Dot(NamedTuple):
    """One dot: grid position, and the byte of the stream that made it."""

    x: int
    y: int
    byte: int


class Piece(NamedTuple):
    """A stretch of bytes that leaves dots in one go: printed characters, or graphics of one command.

    `start`, `end`: the bytes; (x, y): grid position of its upper left dot; `height` in grid steps.  `graphics` is None
    for characters.  `advance` is the width of a character's cell.  `dropped`: over the edge, leaves no dots.
    """

    start: int
    end: int
    x: int
    y: int
    height: int
    modes: Mapping[str, str]
    graphics: Graphics | None
    advance: int
    dropped: bool


@dataclass(slots=True)
class _Head:
    """Where the mechanism is: the span and byte to go on with, the head, the paper, the line step in force."""

    span: int
    offset: int
    x: int
    y: int
    line_steps: int


def _copy(head: _Head) -> _Head:
    return _Head(head.span, head.offset, head.x, head.y, head.line_steps)


def open_paper(
    device: Device,
    data: bytes,
    switches: Mapping[str, str] | None = None,
    *,
    auto_line_feed: bool | None = None,
    pins: Mapping[str, str] | None = None,
) -> Paper:
    """The paper that a stream leaves in a device.

    Automatic line feed is on where the paper section says so, where the switch it names is set so, or where the pin it
    names has that level in `pins` (``{"14": "low"}``); `auto_line_feed` overrides them all.  Refuses a document without
    a [paper] section.
    """
    return Paper(read_stream(device, data, switches), auto_line_feed=auto_line_feed, pins=pins)


class Paper:
    """A printed strip, worked out as far as it is asked for; see `open_paper`."""

    def __init__(
        self, reading: Reading, *, auto_line_feed: bool | None = None, pins: Mapping[str, str] | None = None
    ) -> None:
        form = reading.device.paper
        if form is None:
            raise Unsupported(
                Origin.at_line(reading.device.file, 1),
                "no paper can be drawn without a [paper] section: head, pitches, cell and line feed",
            )
        self.reading = reading
        self.form: PaperForm = form
        self.auto_line_feed = _auto_line_feed(reading, form, auto_line_feed, pins or {})
        drawn = [c.graphics for c in reading.device.commands if c.graphics is not None]
        self.grid_x = _mesh([form.dot_x, *(g.pitch_x for g in drawn if g.pitch_x)])
        self.grid_y = _mesh([form.dot_y, form.step, *(g.pitch_y for g in drawn if g.pitch_y)])
        self._dot_x = int(form.dot_x / self.grid_x)
        self._dot_y = int(form.dot_y / self.grid_y)
        self._step_y = int(form.step / self.grid_y)
        self._edge = form.columns * form.cell_dots * self._dot_x
        self._head_width = form.head_dots * self._dot_x
        self._longest = int(MAX_FEED_MM / self.grid_y)
        self._tallest = 0
        self._walked = _Head(0, 0, 0, 0, form.line_feed)
        self._checkpoints: list[_Head] = [_Head(0, 0, 0, 0, form.line_feed)]
        self._since = 0
        self._done = False
        self._sets: dict[str, CharacterSet] = {reading.device.modes[-1].start: reading.device.characters}
        self._known_cells: dict[tuple[str, ...], dict[int, tuple[tuple[int, int], ...]]] = {}
        self._not_drawn: dict[int, int] = {}

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

    def _checkpoint_above(self, y: int) -> _Head:
        """A copy of the last known state at or above a row, walking on where the row has not been reached."""
        if not self._done and self._checkpoints[-1].y < y:
            self._walk_until(lambda last: last.y >= y)
        found = self._checkpoints[0]
        low, high = 0, len(self._checkpoints)
        while low < high:  # the first checkpoint at or below the row; the one before it is wanted
            middle = (low + high) // 2
            if self._checkpoints[middle].y < y:
                found = self._checkpoints[middle]
                low = middle + 1
            else:
                high = middle
        return _copy(found)

    def _walk(self, head: _Head) -> Iterator[Piece]:
        """Move `head` on to the end, piece by piece."""
        while head.span < len(self.reading):
            piece = self._step(head)
            if piece is not None:
                yield piece

    def _walk_until(self, reached: Callable[[_Head], bool], progress: Progress = no_progress) -> None:
        """Walk on from where the strip is known to, leaving states behind to start from, until `reached`."""
        head, total = self._walked, len(self.reading)
        while head.span < total and not reached(self._checkpoints[-1]):
            if head.offset == 0:
                self._note_not_drawn(self.reading.row_index(head.span))
            piece = self._step(head)
            if piece is not None:
                self._tallest = max(self._tallest, piece.height)
            self._since += 1
            if self._since == _CHECKPOINT_EVERY:
                self._since = 0
                self._checkpoints.append(_copy(head))
                progress(head.span, total, "moving the paper")
        self._done = head.span >= total

    def _note_not_drawn(self, row: int) -> None:
        command = self.reading.device.commands[row] if row >= 0 else None
        if command is None or not (command.effect or command.sets or command.sets_from):
            self._not_drawn[row] = self._not_drawn.get(row, 0) + 1

    def _step(self, head: _Head) -> Piece | None:
        """Do one span, or one line of a span of characters; the piece it leaves, if any."""
        row = self.reading.row_index(head.span)
        commands = self.reading.device.commands
        piece = None
        command = commands[row] if row >= 0 else None
        if command is not None and command.effect == "print":
            piece = self._print(head, command)
            if head.offset:
                return piece
        elif command is not None and command.effect in GRAPHIC_EFFECTS:
            piece = self._draw(head, command)
        elif command is not None and not self.reading.is_cut(head.span):
            self._move(head, command)
        head.span += 1
        if command is not None and head.y > self._longest:
            words = f"the stream feeds more than {MAX_FEED_MM // 1_000_000} km of paper"
            raise Unsupported(command.citation.origin, words)
        return piece

    def _move(self, head: _Head, command: Command) -> None:
        match command.effect:
            case "carriage return":
                head.x = 0
                if self.auto_line_feed:
                    self._feed(head, head.line_steps)
            case "line feed":
                self._feed(head, head.line_steps)
            case "form feed":
                form = (self.form.form_lines or 1) * self.form.line_feed * self._step_y
                head.y = (head.y // form + 1) * form
            case "feed":
                self._feed(head, self._amount(head, command))
            case "line step":
                head.line_steps = self._amount(head, command)
            case "backspace":
                head.x = max(0, head.x - self._cell_width(self.reading.modes(head.span)))
            case "tab":
                cells = (self.form.tab_columns or 1) * self.form.cell_dots * self._dot_x
                head.x = min((head.x // cells + 1) * cells, self._edge)
            case "reset":
                head.x, head.line_steps = 0, self.form.line_feed

    def _feed(self, head: _Head, steps: int) -> None:
        head.y += steps * self._step_y

    def _amount(self, head: _Head, command: Command) -> int:
        start, _ = self.reading.bounds(head.span)
        if isinstance(command.amount, int):
            return command.amount
        match = match_pattern(command.pattern, self.reading.data, start)
        return match.values.get(command.amount or "", 0) if match else 0

    def _cell_width(self, modes: Mapping[str, str]) -> int:
        return self.form.cell_dots * self._dot_x * (2 if modes["wide"] == "on" else 1)

    def _print(self, head: _Head, command: Command) -> Piece | None:
        """Print as much of a span as fits on the line; `head.offset` is where the span goes on, 0 where it is done."""
        start, end = self.reading.bounds(head.span)
        if command.pattern.data_names:
            match = match_pattern(command.pattern, self.reading.data, start)
            start, end = match.data.get(command.pattern.data_names[0], (start, start)) if match else (start, start)
        start = head.offset or start
        head.offset = 0
        if start == end:
            return None
        modes = self.reading.modes(head.span)
        width = self._cell_width(modes)
        height = (2 if modes["tall"] == "on" else 1) * max(self.form.cell_rows, GLYPH_ROWS + 1) * self._dot_y
        if head.x + width > self._edge:
            if self.form.at_edge == "drop" or width > self._edge:
                return Piece(start, end, head.x, head.y, height, modes, None, width, True)
            if self.form.at_edge == "overprint":
                head.x = self._edge - width
            else:
                head.x = 0
                self._feed(head, head.line_steps)
        fits = min(end - start, (self._edge - head.x) // width)
        piece = Piece(start, start + fits, head.x, head.y, height, modes, None, width, False)
        head.x += fits * width
        head.offset = start + fits if start + fits < end else 0
        return piece

    def _draw(self, head: _Head, command: Command) -> Piece | None:
        graphics = command.graphics
        assert graphics is not None
        start, _ = self.reading.bounds(head.span)
        match = match_pattern(command.pattern, self.reading.data, start)
        first, end = match.data.get(graphics.data, (start, start)) if match else (start, start)
        pitch_x = int((graphics.pitch_x or self.form.dot_x) / self.grid_x)
        pitch_y = int((graphics.pitch_y or self.form.dot_y) / self.grid_y)
        unit = graphics.unit_bytes or max(1, end - first)
        units = -(-(end - first) // unit)
        height = graphics.dots * pitch_y if graphics.by_column else units * pitch_y
        modes = self.reading.modes(head.span)
        piece = Piece(first, end, head.x, head.y, height, modes, graphics, pitch_x, False) if end > first else None
        if graphics.by_column:
            head.x = min(head.x + units * pitch_x, self._head_width)
        else:
            head.y += max(0, units - 1) * pitch_y
        self._feed(head, graphics.feed)
        return piece

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
        return [point for point in found if point[0] < self._head_width]

    def piece_dots(self, piece: Piece) -> Iterator[Dot]:
        """The dots of one piece that the head can reach."""
        if piece.dropped:
            return iter(())
        dots = self._character_dots(piece) if piece.graphics is None else self._graphic_dots(piece, piece.graphics)
        return (dot for dot in dots if dot.x < self._head_width)

    def _character_dots(self, piece: Piece) -> Iterator[Dot]:
        for offset, left, cell in self._cells(piece):
            for dx, dy in cell:
                yield Dot(left + dx, piece.y + dy, offset)

    def _cells(self, piece: Piece) -> Iterator[tuple[int, int, tuple[tuple[int, int], ...]]]:
        """Byte, left edge and dots of each character of a piece; a dropped piece has none."""
        if piece.dropped:
            return
        style = tuple(piece.modes[name] for name in (*PAPER_MODES, SET_MODE))
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
                        ((column * wide + i) * self._dot_x, (row * tall + j) * self._dot_y)
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

    @property
    def height(self) -> int:
        """Rows of the grid from the first line to the end of the strip: the last line's characters included."""
        self.work_out()
        return self._walked.y + max(self.form.cell_rows, GLYPH_ROWS) * self._dot_y

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

    def _head_before(self, span: int, byte: int) -> _Head:
        if not self._done and self._checkpoints[-1].span < span:
            self._walk_until(lambda last: last.span >= span)
        found = max(
            (c for c in self._checkpoints if c.span < span or (c.span == span and c.offset <= byte)),
            key=lambda c: (c.span, c.offset),
        )
        return _copy(found)

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


def _auto_line_feed(reading: Reading, form: PaperForm, forced: bool | None, pins: Mapping[str, str]) -> bool:
    if forced is not None:
        return forced
    if form.auto_switch is not None:
        return reading.switches.get(form.auto_switch[0]) == form.auto_switch[1]
    if form.auto_pin is not None:
        return pins.get(form.auto_pin[0]) == form.auto_pin[1]
    return form.auto_line_feed


def _mesh(lengths: list[Fraction]) -> Fraction:
    """The greatest length that divides all of them."""
    mesh = lengths[0]
    for length in lengths[1:]:
        mesh = Fraction(
            math.gcd(mesh.numerator * length.denominator, length.numerator * mesh.denominator),
            mesh.denominator * length.denominator,
        )
    return mesh
