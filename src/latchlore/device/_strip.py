"""The strip seen as one tall picture in numbered tiles, with the way from every mark to its byte and back.

What a page needs that shows a strip: how long it is, one tile at a time, what lies under a point, where a byte left
its marks.  A pixel is 1 / `px_per_mm` of a millimetre on both axes; pixel (0, 0) is the paper's upper left corner.
"""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import Progress, UnknownName, no_progress
from latchlore.device._paper import Dot, Paper
from latchlore.device._picture import TILE_ROWS, draw_tile, png_of, size_px

if TYPE_CHECKING:
    from typing import Any


class Box(NamedTuple):
    """A rectangle in pixels: from `left` and `top` up to, and without, `right` and `bottom`."""

    left: int
    top: int
    right: int
    bottom: int


class Marks(NamedTuple):
    """What one byte left on the paper.

    `dots`: its dots, row by row; empty for a byte that prints nothing.  `box`: the pixels that they touch, None without
    dots.  `stands`: the pixel (x, y) at which the head stood when the byte's span began, so that a byte without marks
    has its place on the strip as well.  `span`: first byte of the span that holds the byte, and the one behind its
    last.
    """

    byte: int
    dots: tuple[Dot, ...]
    box: Box | None
    stands: tuple[int, int]
    span: tuple[int, int]


class Mark(NamedTuple):
    """A dot near a point: its byte, the dot, and how far (pixels) its centre is away."""

    byte: int
    dot: Dot
    away: float


class _Axis(NamedTuple):
    """From grid to pixels in whole numbers: a dot at grid g has its centre at (slope × g + shift) / unit."""

    slope: int
    shift: int
    unit: int

    @classmethod
    def of(cls, mesh: Fraction, shift: Fraction) -> _Axis:
        unit = math.lcm(mesh.denominator, shift.denominator)
        return cls(int(mesh * unit), int(shift * unit), unit)

    def centre(self, grid: int) -> Fraction:
        return Fraction(self.slope * grid + self.shift, self.unit)

    def near(self, grid: int) -> float:
        return (self.slope * grid + self.shift) / self.unit

    def holds(self, grid: int, first: int, end: int) -> bool:
        """Whether the centre lies at pixel `first` or behind, and before `end`."""
        return first * self.unit <= self.slope * grid + self.shift < end * self.unit


class Strip:
    """A strip of paper at one scale.

    A tile is `tile_rows` pixel rows over the whole width (the last may be shorter); tile 0 is the uppermost.  Tiles are
    drawn when they are asked for and not kept.  The first tiles need only the beginning of the stream; `height_px` and
    `num_tiles` need the whole of it once, about a second for a hundred thousand lines (see `work_out`).  Like the paper
    it must not be asked by two threads at once.
    """

    def __init__(self, paper: Paper, px_per_mm: int = 8, tile_rows: int = TILE_ROWS) -> None:
        self.paper, self.px_per_mm, self.tile_rows = paper, px_per_mm, tile_rows
        shift = (paper.form.margin + paper.form.dot / 2) * px_per_mm
        self._across = _Axis.of(paper.grid_x * px_per_mm, shift)
        self._along = _Axis.of(paper.grid_y * px_per_mm, shift)

    def work_out(self, progress: Progress = no_progress) -> None:
        """Walk to the end of the stream, so that the length is known."""
        self.paper.work_out(progress)

    @property
    def width_px(self) -> int:
        """Width of the paper in pixels."""
        return math.ceil(self.paper.form.width * self.px_per_mm)

    @property
    def height_px(self) -> int:
        """Length of the strip in pixels."""
        return size_px(self.paper, self.px_per_mm)[1]

    @property
    def num_tiles(self) -> int:
        """How many tiles the strip has; at least one."""
        return -(-self.height_px // self.tile_rows)

    def tile(self, index: int) -> Any:
        """The ink of a tile, 0 to 255, as an array (rows, width).  Refuses a tile that the strip does not have."""
        return draw_tile(self.paper, *self._rows(index), self.px_per_mm)

    def tile_png(self, index: int) -> bytes:
        """A tile as a PNG file in the colours of paper and ink.  Refuses a tile that the strip does not have."""
        return png_of(self.tile(index), self.paper.form.look, self.px_per_mm)

    def end_png(self, count: int) -> bytes:
        """The last `count` tiles, or fewer where there are no more, as one PNG file."""
        import numpy as np

        tiles = [self.tile(k) for k in range(max(0, self.num_tiles - count), self.num_tiles)]
        return png_of(np.concatenate(tiles), self.paper.form.look, self.px_per_mm)

    def _rows(self, index: int) -> tuple[int, int]:
        """First pixel row of a tile and how many it has; a tile before the last known state needs no further walk."""
        top = index * self.tile_rows
        if index < 0 or (not self.paper.reaches(self._grid_row(top + self.tile_rows)) and index >= self.num_tiles):
            raise UnknownName(f"the strip has {self.num_tiles} tiles, counted from 0; there is no tile {index}")
        if self.paper.reaches(self._grid_row(top + self.tile_rows)):
            return top, self.tile_rows
        return top, min(self.tile_rows, self.height_px - top)

    def _grid_row(self, pixel_row: int) -> int:
        """The first grid row below a pixel row."""
        return math.ceil(Fraction(pixel_row, self.px_per_mm) / self.paper.grid_y)

    # -- from bytes to marks

    def marks_of(self, byte: int) -> Marks:
        """The marks of a byte, by its offset in the stream.  Refuses an offset outside the stream (IndexError)."""
        dots = self.paper.dots_of(byte)
        span = self.paper.reading.bounds(self.paper.reading.find_span(byte))
        x, y = self.paper.stands_at(byte)
        corner = self._centre(Dot(x, y, byte))
        return Marks(byte, dots, self._box(dots), (int(corner[0]), int(corner[1])), span)

    def tile_of(self, byte: int) -> int:
        """The tile on which the marks of a byte begin, or, for one without marks, on which the head stood."""
        marks = self.marks_of(byte)
        return (marks.box.top if marks.box is not None else marks.stands[1]) // self.tile_rows

    def _box(self, dots: tuple[Dot, ...]) -> Box | None:
        if not dots:
            return None
        radius = self.paper.form.dot * self.px_per_mm / 2
        centres = [self._centre(dot) for dot in dots]
        left, top = (min(one[axis] for one in centres) - radius for axis in (0, 1))
        right, bottom = (max(one[axis] for one in centres) + radius for axis in (0, 1))
        return Box(math.floor(left), math.floor(top), math.ceil(right), math.ceil(bottom))

    def _centre(self, dot: Dot) -> tuple[Fraction, Fraction]:
        """A dot's centre in exact pixels."""
        return self._across.centre(dot.x), self._along.centre(dot.y)

    # -- from marks to bytes

    def marks_at(self, x: float, y: float, reach: float = 0) -> tuple[Mark, ...]:
        """The dots that cover a point (pixels), the nearest first, then in stream order.

        `reach`: pixels by which a dot may miss the point and still be named.  Several bytes may have struck one place;
        each is named, with its nearest dot.
        """
        radius = float(self.paper.form.dot * self.px_per_mm / 2) + reach
        nearest: dict[int, Mark] = {}
        for dot in self.paper.iter_dots(*self._grid_rows(y - radius, y + radius)):
            away = math.hypot(self._across.near(dot.x) - x, self._along.near(dot.y) - y)
            if away <= radius and (dot.byte not in nearest or away < nearest[dot.byte].away):
                nearest[dot.byte] = Mark(dot.byte, dot, away)
        return tuple(sorted(nearest.values(), key=lambda mark: (mark.away, mark.byte)))

    def byte_at(self, x: float, y: float, reach: float = 0) -> int | None:
        """The byte of the mark nearest to a point (pixels), or None where no dot covers it; see `marks_at`."""
        marks = self.marks_at(x, y, reach)
        return marks[0].byte if marks else None

    def bytes_within(self, box: Box) -> tuple[tuple[int, int], ...]:
        """Stretches (first, end) of bytes that have a dot's centre inside a rectangle of pixels, in stream order."""
        found = set()
        for dot in self.paper.iter_dots(*self._grid_rows(box.top, box.bottom)):
            if self._across.holds(dot.x, box.left, box.right) and self._along.holds(dot.y, box.top, box.bottom):
                found.add(dot.byte)
        stretches: list[tuple[int, int]] = []
        for byte in sorted(found):
            if stretches and stretches[-1][1] == byte:
                stretches[-1] = (stretches[-1][0], byte + 1)
            else:
                stretches.append((byte, byte + 1))
        return tuple(stretches)

    def bytes_of_tile(self, index: int) -> tuple[tuple[int, int], ...]:
        """Stretches of bytes that leave a mark on a tile.  Refuses a tile that the strip does not have."""
        top, rows = self._rows(index)
        return self.bytes_within(Box(0, top, self.width_px + 1, top + rows))

    def _grid_rows(self, top: float, bottom: float) -> tuple[int, int]:
        """The grid rows, first and end, whose dots' centres may lie between two pixel rows."""
        form = self.paper.form
        first, last = (
            (Fraction(row) / self.px_per_mm - form.margin - form.dot / 2) / self.paper.grid_y for row in (top, bottom)
        )
        return max(0, math.floor(first)), max(0, math.ceil(last) + 1)
