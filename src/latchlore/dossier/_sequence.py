"""The picture of a merged sequence: each byte with its confidence, its rivals, and where one may be missing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import is_doubtful
from latchlore.dossier._svg import Drawing

if TYPE_CHECKING:
    from latchlore.base import ByteSequence, SequenceByte

PER_LINE = 16
CELL = 58
HEIGHT = 66
BAR = 30
POSSIBLE = 0.01
"""A missing byte less likely than this is not drawn."""

EVERYWHERE = 0.5
"""Where more than this share of the places may lack a byte, the caption says so once."""


def draw_sequence(name: str, sequence: ByteSequence) -> str:
    """One cell a byte, sixteen a line: value, a bar as high as its confidence, and in a doubtful one the rivals.

    A wedge between two cells says how likely a byte is missing there.
    """
    marked = missing_everywhere(sequence) is None
    drawing = Drawing(PER_LINE * CELL + 40, f"The sequence {name}, byte by byte, with the confidence of each")
    for i, item in enumerate(sequence.items):
        x, y = 40 + i % PER_LINE * CELL, 6 + i // PER_LINE * HEIGHT
        if i % PER_LINE == 0:
            drawing.text(0, y + 20, f"{i + 1}", "tiny faint")
        _draw_byte(drawing, x, y, item)
        if marked and item.missing_before >= POSSIBLE:
            _draw_gap(drawing, x - 2, y, item.missing_before)
    if marked and sequence.missing_after >= POSSIBLE:
        last = max(0, len(sequence.items) - 1)
        x, y = 40 + last % PER_LINE * CELL, 6 + last // PER_LINE * HEIGHT
        _draw_gap(drawing, x + CELL - 4, y, sequence.missing_after)
    return str(drawing)


def missing_everywhere(sequence: ByteSequence) -> float | None:
    """The highest probability of a missing byte where it is a doubt about most places, else None."""
    chances = [*(item.missing_before for item in sequence.items), sequence.missing_after]
    doubted = sum(chance >= POSSIBLE for chance in chances)
    return max(chances) if len(chances) > 2 and doubted > EVERYWHERE * len(chances) else None


def _draw_byte(drawing: Drawing, x: float, y: float, item: SequenceByte) -> None:
    doubtful = is_doubtful(item.confidence)
    drawing.box(x, y, CELL - 4, BAR, "cell follows", f"{item.value:02X}h: {item.confidence:.2%}")
    height = BAR * item.confidence
    drawing.box(x, y + BAR - height, 5, height, "sure doubtful" if doubtful else "sure")
    drawing.text(x + 12, y + 20, f"{item.value:02X}", "code strong")
    if 0x21 <= item.value <= 0x7E:
        drawing.text(x + 40, y + 20, chr(item.value), "code faint")
    if doubtful:
        drawing.text(x, y + BAR + 12, f"{item.confidence:.0%}", "tiny strong")
        rivals = " ".join(f"{value:02X}" for value, _ in item.alternatives[:2])
        if rivals:
            drawing.text(x, y + BAR + 23, f"or {rivals}", "tiny faint")


def _draw_gap(drawing: Drawing, x: float, y: float, chance: float) -> None:
    drawing.path([(x - 4, y - 5), (x, y + 2), (x + 4, y - 5)], "wedge")
    drawing.text(x + 6, y + BAR + 32, f"gap? {chance:.0%}", "tiny faint")
