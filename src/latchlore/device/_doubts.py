"""A merged sequence read with its doubts: which spans each doubtful or missing byte could change, and how sure each is.

Doubts are taken one by one and as independent of each other; a byte that may be missing is taken to have any of its
256 values alike.  Where one doubt could change how the place of another is read, the two together are not looked at:
up to the first such place the figures are exact, from there on they are estimates.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import ByteSequence, Origin, Progress, Unsupported, no_progress
from latchlore.device._reading import Reading, read_stream
from latchlore.device._walk import Reread, Walk
from latchlore.device._wording import describe_doubt

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from latchlore.base import SequenceByte
    from latchlore.device._device import Device

MAX_BYTES = 65_536
MAX_DOUBTS = 2_000
LEAST_DOUBT = 0.001
"""Alternatives less probable than this are not looked at."""


@dataclass(frozen=True, slots=True)
class DoubtEffect:
    """What the stream reads like if the byte is one of `values`: from `first` up to `until` the spans differ.

    `probability`: of these values together.  `returns`: the reading is the same again at `until`.  `same_spans`: only
    bytes differ, not the spans.  `more`: complaints more than in the reading chosen.
    """

    values: tuple[int, ...]
    probability: float
    first: int
    until: int
    returns: bool
    same_spans: bool
    more: int


@dataclass(frozen=True, slots=True)
class Doubt:
    """A place of the stream that a merge leaves open.

    `is_missing`: a byte may be missing in front of the place (else: the byte there may be another).  `probability`:
    0 to 1.  `effects`: grouped by what they change, most probable first.
    """

    place: int
    is_missing: bool
    probability: float
    effects: tuple[DoubtEffect, ...]

    def __str__(self) -> str:
        return describe_doubt(self)


@dataclass(frozen=True, slots=True)
class SpanDoubt:
    """How sure one span is, 0 to 1.

    `stands`: that a span with this meaning stands just here.  `exact`: that all its bytes are right as well.
    """

    stands: float
    exact: float


@dataclass(frozen=True, slots=True)
class DoubtfulReading:
    """The reading of the most probable bytes, every doubt with its effect, and how sure each span is.

    `exact_until`: the figures of spans that end up to this byte follow exactly from the doubts; behind it doubts meet
    and the figures are estimates.  The length of the stream where none do.
    """

    reading: Reading
    doubts: tuple[Doubt, ...]
    spans: tuple[SpanDoubt, ...]
    exact_until: int


def read_sequence(
    device: Device,
    sequence: ByteSequence,
    switches: Mapping[str, str] | None = None,
    progress: Progress = no_progress,
) -> DoubtfulReading:
    """Read a merged sequence and carry its doubts through.

    Refuses over 2,000 doubtful places, or any in over 65,536 bytes.
    """
    data = sequence.data
    reading = read_stream(device, data, switches, progress)
    open_places = list(_open_places(sequence))
    if not open_places:
        return DoubtfulReading(reading, (), (SpanDoubt(1.0, 1.0),) * len(reading), len(data))
    if len(data) > MAX_BYTES:
        words = f"doubts are carried through up to {MAX_BYTES} bytes; cut the sequence ({len(data)} bytes) into parts"
        raise Unsupported(Origin.at_line(device.file, 1), words)
    if len(open_places) > MAX_DOUBTS:
        words = f"{len(open_places)} doubtful places are more than {MAX_DOUBTS}; merge more runs first"
        raise Unsupported(Origin.at_line(device.file, 1), words)
    walk = Walk(reading.table, data)
    doubts = []
    for count, (place, is_missing, options) in enumerate(open_places):
        progress(count, len(open_places), "carrying doubts through")
        cut = 0 if is_missing else 1
        changes = [(value, p, walk.change(place, cut, bytes([value]))) for value, p in options]
        doubts.append(Doubt(place, is_missing, sum(p for _, p in options), _effects(changes)))
    return DoubtfulReading(reading, tuple(doubts), _span_doubts(reading, doubts), _exact_until(reading, doubts))


def _open_places(sequence: ByteSequence) -> Iterator[tuple[int, bool, list[tuple[int, float]]]]:
    """(place, is missing, [(value, probability)]) of every doubt worth looking at."""
    for place, item in enumerate(sequence.items):
        if item.missing_before >= LEAST_DOUBT:
            yield place, True, [(value, item.missing_before / 256) for value in range(256)]
        options = _other_values(item)
        if options:
            yield place, False, options
    if sequence.missing_after >= LEAST_DOUBT:
        yield len(sequence.items), True, [(value, sequence.missing_after / 256) for value in range(256)]


def _other_values(item: SequenceByte) -> list[tuple[int, float]]:
    """The other values of a byte; doubt that names no value is shared among all of them."""
    named = {value: p for value, p in item.alternatives if value != item.value}
    left = 1 - item.confidence - sum(named.values())
    unnamed = [value for value in range(256) if value != item.value and value not in named]
    if left >= LEAST_DOUBT and unnamed:
        named.update((value, left / len(unnamed)) for value in unnamed)
        return sorted(named.items())
    return sorted((value, p) for value, p in named.items() if p >= LEAST_DOUBT)


def _effects(changes: list[tuple[int, float, Reread]]) -> tuple[DoubtEffect, ...]:
    groups: dict[Reread, list[tuple[int, float]]] = {}
    for value, p, change in changes:
        groups.setdefault(change, []).append((value, p))
    effects = [
        DoubtEffect(
            tuple(value for value, _ in members),
            sum(p for _, p in members),
            change.first,
            change.until,
            change.returns,
            change.same_spans,
            change.more,
        )
        for change, members in groups.items()
    ]
    return tuple(sorted(effects, key=lambda effect: (-effect.probability, effect.values)))


def _span_doubts(reading: Reading, doubts: list[Doubt]) -> tuple[SpanDoubt, ...]:
    """Each place's doubt counts once in every span that it may touch."""
    stands, exact = [1.0] * len(reading), [1.0] * len(reading)
    for doubt in doubts:
        moved: dict[int, float] = {}
        touched: dict[int, float] = {}
        for effect in doubt.effects:
            for index in _spans_between(reading, effect.first, effect.until):
                touched[index] = touched.get(index, 0.0) + effect.probability
                if not effect.same_spans:
                    moved[index] = moved.get(index, 0.0) + effect.probability
        for index, p in touched.items():
            exact[index] *= max(0.0, 1 - p)
        for index, p in moved.items():
            stands[index] *= max(0.0, 1 - p)
    return tuple(SpanDoubt(one, two) for one, two in zip(stands, exact, strict=True))


def _exact_until(reading: Reading, doubts: list[Doubt]) -> int:
    """Where the first doubt begins to work whose changes another doubt may fall into."""
    found = len(reading.data)
    places: dict[int, int] = {}
    for doubt in doubts:
        places[doubt.place] = places.get(doubt.place, 0) + 1
    for doubt in doubts:
        harmless = not doubt.is_missing and _is_data(reading, doubt.place)
        for effect in doubt.effects:
            if effect.same_spans and harmless:
                continue
            # A row that breaks off was read one byte further than it ends.
            reach = range(effect.first, max(effect.until, doubt.place) + 1)
            if any(place in reach for place in places if place != doubt.place) or places[doubt.place] > 1:
                found = min(found, effect.first)
    return found


def _is_data(reading: Reading, place: int) -> bool:
    """Whether a byte is of a row's data or all of its row, so that no other byte is read by it."""
    span = reading[reading.find_span(place)]
    if span.command is None:
        return False
    return len(span.command.pattern.parts) == 1 or any(first <= place < end for first, end in span.data.values())


def _spans_between(reading: Reading, first: int, until: int) -> range:
    """The spans that a changed stretch touches; a byte put in between two spans touches neither."""
    if first >= until:
        return range(0)
    return range(reading.find_span(first), reading.find_span(until - 1) + 1)
