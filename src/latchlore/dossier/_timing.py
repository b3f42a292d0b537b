"""The picture of times against limits: one scale a subject, what was found above, what is demanded below."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import Span, SpanLimit, SpanRange
from latchlore.dossier._svg import Drawing

if TYPE_CHECKING:
    from latchlore.evidence import Row

WIDTH = 960
LEFT = 250
LINE = 24


def draw_timing(row: Row) -> str:
    """One line a testimony on a common scale from zero: a bar for a time, a bracket for a limit.

    A limit without an end on one side fades out there.  Empty text where no testimony is a time.
    """
    said = [(one, one.value) for one in row.testimonies if isinstance(one.value, SpanRange | SpanLimit)]
    if not said:
        return ""
    marks = [span for _, value in said for span in (value.least, value.most) if span is not None]
    top = max(span.picoseconds for span in marks) * 5 // 4 or 1
    drawing = Drawing(WIDTH, f"{row.subject}: times and limits on one scale")
    scale = (WIDTH - LEFT - 90) / top
    y = 4.0
    for one, value in said:
        drawing.use(0, y, f"w-{one.witness.value}")
        drawing.text(24, y + 13, str(value), "small")
        _draw_value(drawing, y, value, scale)
        y += LINE
    drawing.line(LEFT, y + 2, WIDTH - 60, y + 2, "axis")
    ends = [Span(0), *sorted(set(marks))]
    taken = -1.0
    for span in ends:
        x = LEFT + span.picoseconds * scale
        drawing.line(x, y, x, y + 6, "axis")
        if x > taken:
            drawing.text(x, y + 18, str(span) if span.picoseconds else "0", "tiny", "middle")
            taken = x + 70
    return str(drawing)


def _draw_value(drawing: Drawing, y: float, value: SpanRange | SpanLimit, scale: float) -> None:
    least = LEFT + (value.least.picoseconds if value.least is not None else 0) * scale
    most = LEFT + value.most.picoseconds * scale if value.most is not None else WIDTH - 60
    if isinstance(value, SpanRange):
        drawing.box(least, y + 3, max(3.0, most - least), 11, "time")
        return
    drawing.box(least, y + 3, most - least, 11, "limit")
    if value.least is not None:
        drawing.line(least, y, least, y + 17, "limit-end")
    if value.most is not None:
        drawing.line(most, y, most, y + 17, "limit-end")
    else:
        drawing.text(most + 4, y + 13, "no end", "tiny faint")
