"""The strip as a picture: PNG in tiles at true proportions, SVG for short strips."""

from __future__ import annotations

import os
import struct
import zlib
from fractions import Fraction
from itertools import islice
from typing import TYPE_CHECKING, Any, NamedTuple
from xml.sax.saxutils import escape

from latchlore.base import Origin, Progress, UnknownName, Unsupported, no_progress
from latchlore.device._looks import LOOKS
from latchlore.device._wording import describe_span

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from latchlore.device._paper import Paper

TILE_ROWS = 512
MAX_SVG_DOTS = 200_000
_PHASES = 4


def size_px(paper: Paper, px_per_mm: int = 8) -> tuple[int, int]:
    """Width and height of the whole picture in pixels."""
    width, height = paper.size_mm
    return -(-width * px_per_mm // 1), -(-height * px_per_mm // 1)


def draw_tile(paper: Paper, top: int, rows: int, px_per_mm: int = 8) -> Any:
    """Pixel rows `top` to `top + rows` of the strip as an array (rows, width) of ink, 0 to 255.

    The picture's proportions are the paper's: both axes have `px_per_mm`.  Only the part of the stream that leads up
    to these rows is worked out.
    """
    import numpy as np

    form = paper.form
    width = int(-(-form.width * px_per_mm // 1))
    stamp = _stamps(form.dot * px_per_mm, form.look)
    side = stamp.shape[-1]
    ink = np.zeros((rows + 2 * side, width + 2 * side), dtype=np.uint8)
    first = _grid_row(paper, top - side, px_per_mm)
    last = _grid_row(paper, top + rows + side, px_per_mm) + 1
    positions = paper.points(max(0, first), max(0, last))
    if not positions:
        return ink[side : side + rows, side : side + width]
    points = np.array(positions, dtype=np.int64)
    left, top_phase, columns, lines = _place(paper, points, top, px_per_mm)
    inside = (lines > -side) & (lines < rows + side) & (columns > -side) & (columns < width + side)
    left, top_phase, columns, lines = left[inside], top_phase[inside], columns[inside], lines[inside]
    reach = np.arange(side)
    at_rows = (lines + side)[:, None, None] + reach[None, :, None] - side // 2
    at_columns = (columns + side)[:, None, None] + reach[None, None, :] - side // 2
    at_rows, at_columns = np.broadcast_arrays(at_rows, at_columns)
    keep = (at_rows >= 0) & (at_rows < ink.shape[0]) & (at_columns >= 0) & (at_columns < ink.shape[1])
    shades = stamp[top_phase, left]
    np.maximum.at(ink.reshape(-1), at_rows[keep] * ink.shape[1] + at_columns[keep], shades[keep])
    return ink[side : side + rows, side : side + width]


def _grid_row(paper: Paper, pixel_row: int, px_per_mm: int) -> int:
    """The grid row whose dots' centres lie at a pixel row."""
    mm = Fraction(pixel_row, px_per_mm) - paper.form.margin - paper.form.dot / 2
    return int(mm / paper.grid_y // 1)


def _place(paper: Paper, points: Any, top: int, px_per_mm: int) -> tuple[Any, Any, Any, Any]:
    """Sub-pixel phase and pixel of each dot's centre, exactly: (phase x, phase y, column, row)."""
    axes = []
    half = paper.form.dot / 2
    for axis, mesh in ((0, paper.grid_x), (1, paper.grid_y)):
        scale, shift = mesh * px_per_mm * _PHASES, (paper.form.margin + half) * px_per_mm * _PHASES
        if axis == 1:
            shift -= top * _PHASES
        common = scale.denominator * shift.denominator
        fine = (points[:, axis] * int(scale * common) + int(shift * common)) // common
        axes.append((fine % _PHASES, fine // _PHASES))
    return axes[0][0], axes[1][0], axes[0][1], axes[1][1]


def _stamps(diameter: Fraction, look: str) -> Any:
    """Pictures of a dot for each sub-pixel phase: (phase y, phase x, side, side) of ink."""
    import numpy as np

    soft = LOOKS[look].softness
    radius = float(diameter) / 2
    side = 2 * (int(radius + soft) + 1) + 1
    middle = side // 2
    phases = (np.arange(_PHASES) + 0.5) / _PHASES - 0.5
    away = np.arange(side) - middle
    dy = away[None, None, :, None] - phases[:, None, None, None]
    dx = away[None, None, None, :] - phases[None, :, None, None]
    edge = (radius + soft / 2 - np.hypot(dx, dy)) / soft
    return np.rint(np.clip(edge, 0, 1) * 255).astype(np.uint8)


class Stretch(NamedTuple):
    """A part of the strip: from `top` to `bottom`, in millimetres from its upper edge (None: to its end)."""

    top: Fraction = Fraction(0)
    bottom: Fraction | None = None

    def cut(self, paper: Paper) -> tuple[Fraction, Fraction]:
        """Both ends on the strip.  Refuses a stretch that begins behind its own end or the strip's."""
        if self.bottom is not None and paper.reaches(int(self.bottom / paper.grid_y) + 1):
            end = self.bottom  # the rest of the stream need not be worked out
        else:
            length = paper.size_mm[1]
            end = length if self.bottom is None else min(self.bottom, length)
        if self.top >= end:
            raise UnknownName(
                f"the strip ends at {_mm(end)} mm, or the stretch does; none begins at {_mm(self.top)} mm"
            )
        return self.top, end


WHOLE = Stretch()


def iter_tiles(paper: Paper, px_per_mm: int = 8, rows: int = TILE_ROWS, stretch: Stretch = WHOLE) -> Iterator[Any]:
    """The strip, or a stretch of it, from the top in tiles of `rows` pixel rows (the last may be shorter)."""
    first, end = _rows_of(paper, px_per_mm, stretch)
    for top in range(first, end, rows):
        yield draw_tile(paper, top, min(rows, end - top), px_per_mm)


def _rows_of(paper: Paper, px_per_mm: int, stretch: Stretch) -> tuple[int, int]:
    """First pixel row of a stretch and the one behind its last."""
    top, bottom = stretch.cut(paper)
    return int(top * px_per_mm // 1), int(-(-bottom * px_per_mm // 1))


def png_pieces(
    paper: Paper, px_per_mm: int = 8, progress: Progress = no_progress, stretch: Stretch = WHOLE
) -> Iterator[bytes]:
    """A PNG file in pieces, tile by tile, so that a strip of any length is never held as a whole.

    The file states its resolution, so that a print comes out at the paper's own size.
    """
    first, end = _rows_of(paper, px_per_mm, stretch)
    width, height = int(-(-paper.form.width * px_per_mm // 1)), end - first
    yield _png_head(width, height, paper.form.look, px_per_mm)
    packer = zlib.compressobj(6)
    done = 0
    for tile in iter_tiles(paper, px_per_mm, stretch=stretch):
        packed = packer.compress(_png_rows(tile))
        if packed:
            yield _chunk(b"IDAT", packed)
        done += len(tile)
        progress(done, height, "drawing the strip")
    yield _chunk(b"IDAT", packer.flush()) + _chunk(b"IEND", b"")


def png_of(ink: Any, look: str, px_per_mm: int = 8) -> bytes:
    """A PNG file of ink (rows, width), such as a tile, in the colours of a look."""
    head = _png_head(ink.shape[1], ink.shape[0], look, px_per_mm)
    return head + _chunk(b"IDAT", zlib.compress(_png_rows(ink), 1)) + _chunk(b"IEND", b"")


def _png_head(width: int, height: int, look: str, px_per_mm: int) -> bytes:
    return (
        b"\x89PNG\r\n\x1a\n"
        + _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 3, 0, 0, 0))
        + _chunk(b"pHYs", struct.pack(">IIB", px_per_mm * 1000, px_per_mm * 1000, 1))
        + _chunk(b"PLTE", _palette(look))
    )


def _png_rows(ink: Any) -> bytes:
    return b"".join(b"\0" + row.tobytes() for row in ink)


def _chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def _palette(look: str) -> bytes:
    paper, ink = LOOKS[look].paper, LOOKS[look].ink
    return bytes((a * (255 - k) + b * k + 127) // 255 for k in range(256) for a, b in zip(paper, ink, strict=True))


def write_png(
    paper: Paper, path: Path, px_per_mm: int = 8, progress: Progress = no_progress, stretch: Stretch = WHOLE
) -> None:
    """Write the strip, or a stretch of it, as a PNG file, whole or not at all."""
    part = path.with_name(path.name + ".part")
    try:
        with part.open("wb") as file:
            for piece in png_pieces(paper, px_per_mm, progress, stretch):
                file.write(piece)
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


def svg_text(paper: Paper, stretch: Stretch = WHOLE) -> str:
    """The strip, or a stretch of it, as SVG in millimetres; lengths along are those from the strip's upper edge.

    Each byte's dots are one path that carries the byte's offset and meaning.  Refuses more than 200,000 dots: draw them
    as PNG, or a shorter stretch.
    """
    width, (top, bottom) = paper.form.width, stretch.cut(paper)
    height = bottom - top
    look = LOOKS[paper.form.look]
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_mm(width)}mm" height="{_mm(height)}mm" '
        f'viewBox="0 {_mm(top)} {_mm(width)} {_mm(height)}">',
        f'<rect y="{_mm(top)}" width="100%" height="100%" fill="{_colour(look.paper)}"/>',
        f'<g fill="none" stroke="{_colour(look.ink)}" stroke-width="{_mm(paper.form.dot)}" stroke-linecap="round">',
    ]
    reach = paper.form.margin + paper.form.dot
    rows = (max(0, int((edge - reach) / paper.grid_y)) for edge in (top, bottom + 2 * reach))
    dots = list(islice(paper.iter_dots(*rows), MAX_SVG_DOTS + 1))
    if len(dots) > MAX_SVG_DOTS:
        words = f"the strip has more than {MAX_SVG_DOTS} dots; draw it as PNG"
        raise Unsupported(Origin.at_line(paper.reading.device.file, 1), words)
    across = {dot.x: _mm(paper.position_mm(dot)[0]) for dot in {dot.x: dot for dot in dots}.values()}
    along = {dot.y: _mm(paper.position_mm(dot)[1]) for dot in {dot.y: dot for dot in dots}.values()}
    by_byte: dict[int, list[str]] = {}
    for dot in dots:
        by_byte.setdefault(dot.byte, []).append(f"M{across[dot.x]} {along[dot.y]}h0")
    for byte, moves in by_byte.items():
        span = paper.reading[paper.reading.find_span(byte)]
        lines.append(
            f'<path data-byte="{byte}" d="{"".join(moves)}"><title>byte {byte:04X}h: '
            f"{paper.reading.data[byte]:02X}, in {escape(describe_span(span))}</title></path>"
        )
    return "\n".join([*lines, "</g>", "</svg>", ""])


def _mm(value: Fraction) -> str:
    """Millimetres with four places, which is a thousandth of the finest dot."""
    return f"{round(value * 10_000) / 10_000:.4f}".rstrip("0").rstrip(".")


def _colour(rgb: tuple[int, int, int]) -> str:
    return "#{:02x}{:02x}{:02x}".format(*rgb)
