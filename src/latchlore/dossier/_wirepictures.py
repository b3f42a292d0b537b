"""Pictures of the wire: runs aligned under their merge, and measured times against their limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import Span, is_doubtful
from latchlore.dossier import _wirewords as words
from latchlore.dossier._svg import Drawing

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from latchlore.base import SpanLimit
    from latchlore.wire import Figure, Merge, Run

COLUMNS = 32
"""Bytes of the result beside one another."""
MOST_BLOCKS = 40
"""Blocks of columns that are drawn; what is left out is said."""
LEFT = 84
CELL = 26
ROW = 20
WIDTH = LEFT + COLUMNS * CELL + 12
BINS = 72
PLOT_LEFT, PLOT_WIDTH, PLOT_HEIGHT = 200, 600, 54


def draw_runs(merge: Merge, runs: Sequence[Run]) -> str:
    """Runs under their merge, in blocks of 32 bytes.

    Under each byte of the result a bar as long as its confidence; a run's byte stands below its column, an empty
    dashed place is a byte that it lacks, a framed one was read as another, a wedge is a byte too many.
    """
    items = merge.sequence.items
    drawing = Drawing(WIDTH, words.RUNS_NAME.format(count=len(merge.aligned), length=len(items)))
    y = 0.0
    blocks = range(0, len(items), COLUMNS)
    for start in blocks[:MOST_BLOCKS]:
        y = _draw_block(drawing, merge, runs, start, y)
    if len(blocks) > MOST_BLOCKS:
        left = len(items) - MOST_BLOCKS * COLUMNS
        drawing.text(LEFT, y + 14, words.LEFT_OUT.format(count=left), "small faint")
        y += 20
    drawing.text(LEFT, y + 14, words.RUNS_KEY, "tiny faint")
    return str(drawing)


def _draw_block(drawing: Drawing, merge: Merge, runs: Sequence[Run], start: int, top: float) -> float:
    items = merge.sequence.items
    stop = min(len(items), start + COLUMNS)
    drawing.text(LEFT - 10, top + 16, str(start), "tiny code faint", "end")
    for column in range(start, stop):
        item, x = items[column], LEFT + (column - start) * CELL
        title = words.BYTE.format(index=column, value=item.value, confidence=item.confidence)
        drawing.box(x + 1, top + 2, CELL - 2, ROW, "cell", title)
        drawing.text(x + CELL / 2, top + 16, f"{item.value:02X}", "code strong", "middle")
        kind = "sure doubtful" if is_doubtful(item.confidence) else "sure"
        drawing.box(x + 2, top + ROW + 3, (CELL - 4) * item.confidence, 3, kind)
    y = top + ROW + 8
    for aligned in merge.aligned:
        drawing.text(LEFT - 10, y + 14, words.RUN.format(number=aligned.run + 1), "tiny faint", "end")
        data = runs[aligned.run].data
        for column in range(start, stop):
            place, x = aligned.columns[column], LEFT + (column - start) * CELL
            if place is None:
                drawing.box(x + 3, y + 3, CELL - 6, ROW - 6, "cell absent")
                continue
            if data[place] != items[column].value:
                drawing.box(x + 1, y + 1, CELL - 2, ROW - 2, "cell broken")
            drawing.text(x + CELL / 2, y + 14, f"{data[place]:02X}", "tiny code", "middle")
        for extra in aligned.extras:
            if start <= extra.after < stop or (extra.after < 0 and start == 0):
                x = LEFT + (max(extra.after, start - 1) - start + 1) * CELL
                drawing.path([(x - 3, y + 2), (x, y + 7), (x + 3, y + 2)], "wedge")
        y += ROW
    return y + 14


def draw_figures(figures: Mapping[str, Figure], limits: Mapping[str, SpanLimit], source: str) -> str:
    """A histogram of each measured figure; where a limit is stated, the ground that keeps it is shaded."""
    drawing = Drawing(PLOT_LEFT + PLOT_WIDTH + 110, words.TIMES_NAME + (f"; {source}" if source else ""))
    y = 4.0
    for name, figure in figures.items():
        _draw_figure(drawing, figure, limits.get(name), y)
        drawing.text(0, y + 16, name, "small strong")
        drawing.text(0, y + 32, words.TIMES.format(count=figure.count), "tiny faint")
        limit = limits.get(name)
        if limit is not None:
            broken, still_open = figure.judge(limit)
            verdict = words.BROKEN if broken else words.OPEN if still_open else words.KEPT
            drawing.text(0, y + 46, f"{limit}: {verdict.format(count=broken or still_open)}", "tiny")
        y += PLOT_HEIGHT + 34
    return str(drawing)


def _draw_figure(drawing: Drawing, figure: Figure, limit: SpanLimit | None, y: float) -> None:
    low, high = int(figure.lengths.min()) - figure.slack, int(figure.lengths.max()) + figure.slack
    ends = [] if limit is None else [end.picoseconds for end in (limit.least, limit.most) if end is not None]
    low, high = min([low, *ends]), max([high, *ends])
    room = max(1, (high - low) // 20, high // 50 if low == high else 0)
    low, high = max(0, low - room) if low >= 0 else low - room, high + room

    def at(time: float) -> float:
        return PLOT_LEFT + PLOT_WIDTH * (time - low) / (high - low)

    base = y + PLOT_HEIGHT
    if limit is not None:
        first = low if limit.least is None else limit.least.picoseconds
        last = high if limit.most is None else limit.most.picoseconds
        drawing.box(at(first), y, max(0.5, at(last) - at(first)), PLOT_HEIGHT, "limit", str(limit))
        for end in ends:
            drawing.line(at(end), y, at(end), base, "limit-end")
    counts, edges = np.histogram(figure.lengths, bins=BINS, range=(low, high))
    for count, left, right in zip(counts.tolist(), edges.tolist(), edges[1:].tolist(), strict=False):
        if count:
            tall = max(2.0, (PLOT_HEIGHT - 4) * count / int(counts.max()))
            drawing.box(at(left), base - tall, max(1.0, at(right) - at(left)), tall, "time")
    drawing.line(PLOT_LEFT, base, PLOT_LEFT + PLOT_WIDTH, base, "axis")
    for time, anchor in ((low, "start"), (high, "end")):
        drawing.text(at(time), base + 13, _short(time), "tiny faint", anchor)


def _short(picoseconds: int) -> str:
    """A time with three figures, for an axis."""
    text = str(Span(picoseconds))
    number, _, unit = text.partition(" ")
    return f"{float(number):.3g} {unit}"
