"""The picture of a handshake: what the program does for one byte, on a line of cycles."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import InputKind, Read, Wait, Write, describe_place
from latchlore.dossier._svg import Drawing, fold

if TYPE_CHECKING:
    from latchlore.base import CycleRange, Event

WIDTH = 960
LEFT = 150
LANE = 34
LEAST_STEP = 62
"""Room for the words between two events, however few cycles lie between them."""


class _Lane(NamedTuple):
    """One written register, or one bit of it that changes during the handshake."""

    kind: InputKind
    address: int
    bit: int | None


def shape_of(events: tuple[Event, ...]) -> tuple[object, ...]:
    """What two handshakes have in common that differ only in the data: kinds, places, cycles, and what is waited for.

    A register written once carries data; one written twice or more is a control register, whose values count.
    """
    writes = [(event.kind, event.address) for event in events if isinstance(event, Write)]

    def part(event: Event) -> tuple[object, ...]:
        place = (event.kind, event.address)
        own: object = None
        if isinstance(event, Wait):
            own = (event.mask, event.until, event.polls)
        elif isinstance(event, Write) and writes.count(place) > 1:
            own = event.value
        return (type(event), place, event.cycles if event is not events[0] else None, own)

    return tuple(part(event) for event in events)


def draw_handshake(events: tuple[Event, ...]) -> str:
    """Events from left to right on a line of cycles, written values and bits below.

    Distances follow the cycles where they are known and leave room for words; a wait is drawn dashed, since how long
    it takes is up to the device.  A level before the first write of a bit is not known and not drawn.
    """
    drawing = Drawing(WIDTH, "The handshake for one byte, event by event, with the cycles between")
    places = _places(events)
    right = places[-1] + 60
    for i, event in enumerate(events):
        before = places[i - 1] if i else None
        if before is not None:
            drawing.text((before + places[i]) / 2, 14, _cycles_text(event.cycles), "tiny faint", "middle")
            drawing.line(before, 22, places[i], 22, "axis waiting" if isinstance(events[i - 1], Wait) else "axis")
        drawing.dot(places[i], 22, 4, "event wait" if isinstance(event, Wait) else "event")
        for j, words in enumerate(fold(_event_words(event), 16, 3)):
            drawing.text(places[i], 42 + 12 * j, words, "tiny", "middle")
    drawing.line(places[-1], 22, right, 22, "axis")
    y = 88.0
    for lane in _lanes(events):
        _draw_lane(drawing, y, lane, events, places, right)
        y += LANE
    return str(drawing)


def _places(events: tuple[Event, ...]) -> list[float]:
    room = WIDTH - LEFT - 120
    steps = [float(event.cycles.most if event.cycles.most is not None else event.cycles.least) for event in events[1:]]
    total = sum(steps) or 1.0
    spare = max(0.0, room - LEAST_STEP * len(steps))
    places = [float(LEFT + 40)]
    for step in steps:
        places.append(places[-1] + LEAST_STEP + spare * step / total)
    return places


def _cycles_text(cycles: CycleRange) -> str:
    return str(cycles).replace(" cycles", " cyc.") if cycles.most is not None else f"{cycles.least}+ cyc."


def _event_words(event: Event) -> str:
    place = describe_place(event.kind, event.address)
    match event:
        case Write():
            return f"{place} ← {event.value}"
        case Wait():
            return str(event)
        case Read():
            return f"read {place}"


def _lanes(events: tuple[Event, ...]) -> list[_Lane]:
    """A lane for each register written; for one written twice or more, a lane for each bit that changes."""
    written: dict[tuple[InputKind, int], list[int | None]] = {}
    for event in events:
        if isinstance(event, Write):
            sure = event.value.values[0] if len(event.value.possible) == 1 else None
            written.setdefault((event.kind, event.address), []).append(sure)
    lanes: list[_Lane] = []
    for (kind, address), values in written.items():
        known = [value for value in values if value is not None]
        changing = 0
        for value in known:
            changing |= value ^ known[0]
        if changing and len(known) == len(values):
            lanes += [_Lane(kind, address, bit) for bit in range(7, -1, -1) if changing >> bit & 1]
        else:
            lanes.append(_Lane(kind, address, None))
    return lanes


def _draw_lane(
    drawing: Drawing, y: float, lane: _Lane, events: tuple[Event, ...], places: list[float], right: float
) -> None:
    place = describe_place(lane.kind, lane.address)
    drawing.text(0, y + 16, place if lane.bit is None else f"{place} bit {lane.bit}", "small code")
    writes = [
        (x, event)
        for x, event in zip(places, events, strict=True)
        if isinstance(event, Write) and (event.kind, event.address) == (lane.kind, lane.address)
    ]
    ends = [x for x, _ in writes[1:]] + [right]
    if lane.bit is None:
        for (x, event), end in zip(writes, ends, strict=True):
            drawing.box(x, y + 4, end - x, 18, "cell follows")
            drawing.text(x + 6, y + 17, fold(str(event.value), max(4, int((end - x) / 7)), 1)[0], "tiny code")
        return
    points: list[tuple[float, float]] = []
    for (x, event), end in zip(writes, ends, strict=True):
        level = y + 4 if event.value.values[0] >> lane.bit & 1 else y + 22
        points += [(x, level), (end, level)]
    drawing.path(points, "level")
