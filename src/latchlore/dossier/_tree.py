"""The picture of a decision tree: its rows one under another, choices as branches of a line, ends as boxes.

A long tree is cut at `MAX_ROWS` rows, and the picture says how many it leaves out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.dossier._svg import Drawing, fold
from latchlore.program import RowKind, cycles_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.program import Row

WIDTH = 960
MAX_ROWS = 160
LINE = 19
CYCLES_END = 118
PLACE = 126
LEFT = 186
STEP = 20
LETTER = 6.1
"""Width of a letter of a row, about; a row that needs more room goes on in a second line."""

TITLE_LETTERS = 130

MAX_DEPTH = 22
"""Deeper rows stand no further to the right."""


def draw_tree(title: str, rows: Sequence[Row], more: int = 0) -> str:
    """The rows of `program.outline` as a picture; `more` further ones are left out."""
    drawing = Drawing(WIDTH, title)
    shown, left_out = rows[:MAX_ROWS], len(rows[MAX_ROWS:]) + more
    y = 4.0
    for line in fold(title, TITLE_LETTERS, 3):
        drawing.text(0, y + 12, line, "strong")
        y += 18
    drawing.text(CYCLES_END, y + 13, "cycles", "tiny faint", "end")
    drawing.text(PLACE, y + 13, "place", "tiny faint")
    drawing.line(0, y + 19, WIDTH, y + 19, "guide")
    y += 24
    open_at: dict[int, float] = {}
    for row in shown:
        depth = min(row.depth, MAX_DEPTH)
        for level in [level for level in open_at if level > depth]:
            del open_at[level]
        y = _draw_row(drawing, row, depth, y, open_at)
    if left_out:
        drawing.text(LEFT, y + 14, f"… and {left_out:,} more rows, left out of the picture", "small faint")
    return str(drawing)


def _draw_row(drawing: Drawing, row: Row, depth: int, y: float, open_at: dict[int, float]) -> float:
    """One row from `y` down; where the next one begins."""
    x = LEFT + depth * STEP
    room = max(20, int((WIDTH - x - 24) / LETTER))
    lines = fold(_words(row), room, 3)
    bottom = y + LINE + 13 * (len(lines) - 1)
    before = open_at.get(depth)
    if before is not None:
        drawing.line(x, before, x, bottom if row.kind is RowKind.NODE else y + 4, "axis")
    elif depth:  # below an arm
        turn = [(x - STEP + 5, y + 9), (x, y + 9), (x, bottom)] if row.kind is RowKind.NODE else []
        drawing.path(turn or [(x - STEP + 5, y + 9), (x - 5, y + 9)], "branch")
    if row.cycles is not None:
        drawing.text(CYCLES_END, y + 13, cycles_words(row.cycles), "tiny code faint", "end")
    if row.at is not None:
        drawing.text(PLACE, y + 13, f"{row.at:04X}", "tiny code")
    classes = _draw_mark(drawing, row, x, y)
    for k, line in enumerate(lines):
        drawing.text(x + 14, y + 13 + 13 * k, line, classes)
    open_at[depth] = bottom if row.kind is RowKind.NODE else y + 14
    if row.kind in (RowKind.LEAF, RowKind.GO):
        open_at.pop(depth, None)
    return bottom


def _words(row: Row) -> str:
    if row.kind is RowKind.ARM:
        return f"{'else, ' if row.goes_on else ''}if {row.words}"
    return row.words


def _draw_mark(drawing: Drawing, row: Row, x: float, y: float) -> str:
    """The shape that a row begins with; the class of its words."""
    middle = y + 9
    match row.kind:
        case RowKind.EVENT:
            drawing.dot(x, middle, 4, "event wait" if row.words.startswith("wait") else "event")
            return "small"
        case RowKind.ARM:
            points = [(x, middle - 5), (x + 5, middle), (x, middle + 5), (x - 5, middle), (x, middle - 5)]
            drawing.path(points, "level")
            return "small strong"
        case RowKind.LEAF:
            drawing.box(x - 5, middle - 5, 10, 10, "cell" if row.is_done else "cell unknown", row.words)
            return "small" if row.is_done else "small strong"
        case RowKind.REPEAT:
            drawing.dot(x - 2, middle, 3, "event")
            drawing.dot(x + 3, middle, 3, "event")
            return "small strong"
        case RowKind.GO:
            drawing.path([(x - 4, middle - 4), (x + 4, middle), (x - 4, middle + 4)], "level")
            return "small faint"
        case RowKind.NODE:
            return "tiny faint"
