"""The printing mechanism: how every span of a stream moves the head and the paper, and which stretch it prints.

Positions are whole numbers on a grid fine enough for every pitch that the table names: `Mechanism.grid_x` and
`Mechanism.grid_y` are its exact meshes in millimetres.  x counts from the head's first dot to the right, y from the top
of the first line along the paper.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import Origin, Unsupported
from latchlore.device._facts import AUTO_MODE, GRAPHIC_EFFECTS
from latchlore.device._font import GLYPH_ROWS
from latchlore.device._plain import match_pattern

if TYPE_CHECKING:
    from collections.abc import Mapping

    from latchlore.device._device import Command, Graphics, PaperForm
    from latchlore.device._reading import Reading

MAX_FEED_MM = 100_000_000
"""Paper is simulated up to a hundred kilometres; a stream that feeds more is refused."""


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
class Head:
    """Where the mechanism is: the span and byte to go on with, the head, the paper, the steps in force.

    `line_steps`: steps from line to line.  `form_top`, `form`: where the first form begins and how long each is, on the
    grid; a form of 0 is none.
    """

    span: int
    offset: int
    x: int
    y: int
    line_steps: int
    form_top: int
    form: int

    def copy(self) -> Head:
        """Another head at the same place."""
        return replace(self)


class Mechanism:
    """The moving parts of one device, for one reading of a stream; it knows no place of its own (see `Head`)."""

    def __init__(self, reading: Reading, forced: bool | None, pins: Mapping[str, str]) -> None:
        form = reading.device.paper
        if form is None:
            raise Unsupported(
                Origin.at_line(reading.device.file, 1),
                "no paper can be drawn without a [paper] section: head, pitches, cell and line feed",
            )
        self.reading = reading
        self.form: PaperForm = form
        self.forced_auto = forced
        self.auto_reasons = _auto_reasons(reading, form, pins)
        drawn = [c.graphics for c in reading.device.commands if c.graphics is not None]
        self.grid_x = _mesh([form.dot_x, *(g.pitch_x for g in drawn if g.pitch_x)])
        self.grid_y = _mesh([form.dot_y, form.step, *(g.pitch_y for g in drawn if g.pitch_y)])
        self.dot_x = int(form.dot_x / self.grid_x)
        self.dot_y = int(form.dot_y / self.grid_y)
        self._step_y = int(form.step / self.grid_y)
        self.edge = form.columns * form.cell_dots * self.dot_x
        self.head_width = form.head_dots * self.dot_x
        self._longest = int(MAX_FEED_MM / self.grid_y)

    def start(self) -> Head:
        """The mechanism at power-on: first dot of the first line, which is the top of a form."""
        return Head(
            0, 0, 0, 0, self.form.line_feed, 0, (self.form.form_lines or 0) * self.form.line_feed * self._step_y
        )

    def feeds_by_itself(self, modes: Mapping[str, str]) -> bool:
        """Whether a carriage return feeds a line under these modes: by the host's command, the cable or a switch."""
        if self.forced_auto is not None:
            return self.forced_auto
        return bool(self.auto_reasons) or modes[AUTO_MODE] == "on"

    def step(self, head: Head) -> Piece | None:
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

    def _move(self, head: Head, command: Command) -> None:
        match command.effect:
            case "carriage return":
                head.x = 0
                if self.feeds_by_itself(self.reading.modes(head.span)):
                    self._feed(head, head.line_steps)
            case "line feed":
                self._feed(head, head.line_steps)
            case "form feed":
                form = head.form or head.line_steps * self._step_y
                head.y = head.form_top + ((head.y - head.form_top) // max(form, 1) + 1) * form
            case "feed":
                self._feed(head, self._amount(head, command))
            case "line step":
                head.line_steps = self._amount(head, command)
            case "form length":
                head.form_top, head.form = head.y, self._amount(head, command) * head.line_steps * self._step_y
            case "backspace":
                head.x = max(0, head.x - self._cell_width(self.reading.modes(head.span)))
            case "tab":
                cells = (self.form.tab_columns or 1) * self.form.cell_dots * self.dot_x
                head.x = min((head.x // cells + 1) * cells, self.edge)
            case "reset":
                fresh = self.start()
                head.x, head.line_steps, head.form_top, head.form = 0, fresh.line_steps, head.y, fresh.form

    def _feed(self, head: Head, steps: int) -> None:
        head.y += steps * self._step_y

    def _amount(self, head: Head, command: Command) -> int:
        start, _ = self.reading.bounds(head.span)
        if isinstance(command.amount, int):
            return command.amount
        match = match_pattern(command.pattern, self.reading.data, start)
        return match.values.get(command.amount or "", 0) if match else 0

    def _cell_width(self, modes: Mapping[str, str]) -> int:
        return self.form.cell_dots * self.dot_x * (2 if modes["wide"] == "on" else 1)

    def _print(self, head: Head, command: Command) -> Piece | None:
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
        height = (2 if modes["tall"] == "on" else 1) * max(self.form.cell_rows, GLYPH_ROWS + 1) * self.dot_y
        if head.x + width > self.edge:
            if self.form.at_edge == "drop" or width > self.edge:
                return Piece(start, end, head.x, head.y, height, modes, None, width, True)
            if self.form.at_edge == "overprint":
                head.x = self.edge - width
            else:
                head.x = 0
                self._feed(head, head.line_steps)
        fits = min(end - start, (self.edge - head.x) // width)
        piece = Piece(start, start + fits, head.x, head.y, height, modes, None, width, False)
        head.x += fits * width
        head.offset = start + fits if start + fits < end else 0
        return piece

    def _draw(self, head: Head, command: Command) -> Piece | None:
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
            head.x = min(head.x + units * pitch_x, self.head_width)
        else:
            head.y += max(0, units - 1) * pitch_y
        self._feed(head, graphics.feed)
        return piece


def _auto_reasons(reading: Reading, form: PaperForm, pins: Mapping[str, str]) -> tuple[str, ...]:
    """The places other than the host's commands that ask for a line feed after each carriage return, in words."""
    reasons = ["the device always does"] if form.auto_line_feed else []
    for way in form.auto_feeds:
        stands = reading.switches if way.kind == "switch" else pins
        if stands.get(way.name) == way.value:
            reasons.append(str(way))
    return tuple(reasons)


def _mesh(lengths: list[Fraction]) -> Fraction:
    """The greatest length that divides all of them."""
    mesh = lengths[0]
    for length in lengths[1:]:
        mesh = Fraction(
            math.gcd(mesh.numerator * length.denominator, length.numerator * mesh.denominator),
            mesh.denominator * length.denominator,
        )
    return mesh
