"""The way of each bit of a register: from the connector's pin to the data line, part by part, with its inversions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.board import StepKind
from latchlore.dossier._svg import Drawing, fold

if TYPE_CHECKING:
    from latchlore.board import BitWay, Step

WIDTH = 960
LEFT = 148
RIGHT = 108
BOX = 82
LANE = 54
LEAST_PITCH = 112
BUBBLE = 5
ENABLE = "enable of "
"""How the end of a way begins that turns an output on and off (`latchlore.board.Reach`)."""


def draw_ways(name: str, ways: tuple[BitWay, ...]) -> str:
    """One lane a way, the outside on the left, the data line on the right; empty where no way has a step.

    A circle stands where a part turns the level over; an arrow shows which way the data flow; below the outer end
    stands what a 1 in the register means there.
    """
    shown = [way for way in ways if way.steps]
    if not shown:
        return ""
    most = max(len(way.steps) for way in shown)
    width = max(WIDTH, LEFT + RIGHT + LEAST_PITCH * most)
    drawing = Drawing(width, f"The way of each bit of {name}, from outside to the data line")
    pitch = (width - LEFT - RIGHT) / most
    for k, way in enumerate(shown):
        _draw_lane(drawing, 8.0 + LANE * k, way, pitch, width)
    return str(drawing)


def _draw_lane(drawing: Drawing, y: float, way: BitWay, pitch: float, width: float) -> None:
    middle = y + 16
    outside = list(reversed(way.steps))
    places = [width - RIGHT - pitch * (len(outside) - k) + (pitch - BOX) / 2 for k in range(len(outside))]
    start = float(LEFT - 12)
    _draw_end(drawing, y, way)
    x = start
    for place, step in zip(places, outside, strict=True):
        if x != start or _has_outside(way, outside[0]):
            _draw_wire(drawing, x, place, middle, step.net, way)
        x = place + BOX
    _draw_wire(drawing, x, width - RIGHT + 30, middle, "", way)
    for place, step in zip(places, outside, strict=True):  # over the wires, so that the circles are open
        _draw_step(drawing, place, y, step, way)
    drawing.box(width - RIGHT + 30, y + 4, RIGHT - 32, 24, "cell follows")
    drawing.text(width - RIGHT + 38, y + 20, f"{way.net}, bit {way.bit}", "small code")


def _has_outside(way: BitWay, last: Step) -> bool:
    """Whether anything lies beyond the last part: nothing does where the way ends at it, or at an open pin."""
    return last.far is not None and (bool(last.net) or way.connector is not None)


def _draw_end(drawing: Drawing, y: float, way: BitWay) -> None:
    """The outer end: connector pin and signal, and what a 1 means there."""
    at = f"{way.connector[0]}.{way.connector[1].number}" if way.connector is not None else ""
    lines = fold(f"{at} {way.end}".strip(), 19, 1 if at else 2)
    for k, words in enumerate(lines):
        drawing.text(0, y + 14 + 12 * k, words, "small strong" if at else "small")
    if way.inverted is None:
        return
    if way.end.startswith(ENABLE):
        drawing.text(0, y + 26, f"{0 if way.inverted else 1} turns it on", "tiny faint")
        return
    times = way.num_inversions
    turned = "" if not times else f", turned over {times}x"
    if way.connector is None:
        drawing.text(
            0, y + 26 + 12 * (len(lines) - 1), f"{'opposite' if way.inverted else 'same'} level{turned}", "tiny faint"
        )
        return
    drawing.text(0, y + 30, f"1 is {'low' if way.inverted else 'high'}{turned}", "tiny faint")


def _draw_wire(drawing: Drawing, x: float, end: float, y: float, net: str, way: BitWay) -> None:
    drawing.line(x, y, end, y, "wire")
    tip, back = ((x + 4, x + 11) if way.is_write else (end - 4, end - 11)) if end - x > 14 else (0.0, 0.0)
    if tip:
        drawing.path([(back, y - 4), (tip, y), (back, y + 4)], "arrow")
    if net and end - x > 20:
        (words, *_) = fold(net, max(2, int((end - x) / 6)), 1)
        drawing.text((x + end) / 2, y - 6, words, "tiny code faint", "middle")


def _draw_step(drawing: Drawing, x: float, y: float, step: Step, way: BitWay) -> None:
    """A part: its name and type, the two pins, a circle where it turns the level over."""
    drawing.box(x, y, BOX, 32, f"part {step.kind.value}", _step_words(step))
    drawing.text(x + BOX / 2, y + 13, step.part, "small strong", "middle")
    drawing.text(x + BOX / 2, y + 26, fold(step.marking, 12, 1)[0], "tiny faint", "middle")
    if step.kind is StepKind.STORES:
        drawing.line(x + 4, y, x + 4, y + 32, "store")
        drawing.line(x + BOX - 4, y, x + BOX - 4, y + 32, "store")
    near, far = str(step.near.pin), str(step.far.pin) if step.far is not None else ""
    # the circle stands at the output: outside where the data flow out, on the data side where they flow in
    room = 3 + (2 * BUBBLE + 2) * bool(step.inverts)
    drawing.text(x - (room if way.is_write else 3), y + 30, far, "tiny code", "end")
    drawing.text(x + BOX + (3 if way.is_write else room), y + 30, near, "tiny code")
    if step.inverts and step.kind is not StepKind.ENABLES:
        at = x - BUBBLE if way.is_write else x + BOX + BUBBLE
        drawing.dot(at, y + 16, BUBBLE, "bubble")
    elif step.inverts is None and step.far is not None:
        drawing.text(x + BOX / 2, y + 43, "depends on other inputs", "tiny faint", "middle")
    if step.kind is StepKind.ENABLES:
        drawing.text(x + BOX / 2, y + 43, f"on while {'low' if step.inverts else 'high'}", "tiny faint", "middle")


def _step_words(step: Step) -> str:
    turned = {True: ", turned over", False: "", None: ""}[step.inverts]
    return f"{step.part} ({step.marking}) {step.kind.value}: {step.far or 'ends'} - {step.near}{turned}"
