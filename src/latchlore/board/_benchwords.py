"""The statements of a net file that speak of connectors: ``face``, ``volts``, ``levels``, ``cable``, ``mate``."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from latchlore.board._bench import Bench, DriveKind, Flow, Mate, PinsFrom, StatedLevels, Volts
from latchlore.board._board import PinAt
from latchlore.board._electrical import Electrical, Level, Point, electrical_of
from latchlore.board._face import Face, SeenFrom, layout_rows

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from latchlore.base import Origin

FORMS = {
    "face": (
        2,
        "face CONNECTOR single|rows|pairs|round|NUMBERS... [seen printed|mating|rear|unknown] [from left|right]",
    ),
    "volts": (2, "volts PIN|vcc VOLTS [feeds|takes]"),
    "levels": (
        2,
        "levels PIN|CONNECTOR FAMILY|TYPE [firm|collector|three-state] [vih|vil|voh|vol|iih|iil|ioh|iol VALUE]...",
    ),
    "cable": (2, "cable CONNECTOR straight|A-B..."),
    "mate": (2, "mate CONNECTOR CONNECTOR-OF-THE-BOARD"),
    "pins": (3, "pins CONNECTOR from DOCUMENT"),
}
"""Statement → fewest words, form."""

_RANGE = re.compile(r"(\d{1,3})(?:-(\d{1,3})(?:-(\d{1,2}))?)?")
_VOLTS = re.compile(r"(\d+(?:\.\d+)?)(vcc|v)?")
_AMPS = re.compile(r"(\d+(?:\.\d+)?)(ma|ua)")
_LEVEL_KEYS = ("vih", "vil", "voh", "vol")
_CURRENT_KEYS = ("iih", "iil", "ioh", "iol")
_KINDS = (DriveKind.FIRM, DriveKind.COLLECTOR, DriveKind.THREE_STATE)
_NOTHING = Electrical("stated levels", None, None, None, (), (), None, None, None, None, None, ())


class BenchMistake(Exception):
    """One mistake of one line; the net file's reader says where."""


class BenchReader:
    """Collects the statements.  `sizes` maps connectors to their number of pins; `pin_at` reads a pin."""

    def __init__(self, sizes: Callable[[], Mapping[str, int]], pin_at: Callable[[str], PinAt]) -> None:
        self._sizes, self._pin_at = sizes, pin_at
        self._faces: dict[str, Face] = {}
        self._volts: dict[PinAt | None, Volts] = {}
        self._levels: dict[tuple[str, int], StatedLevels] = {}
        self._cables: dict[str, tuple[tuple[tuple[int, int], ...] | None, Origin]] = {}
        self._mates: dict[str, Mate] = {}
        self._pins_from: dict[str, PinsFrom] = {}

    def read(self, statement: str, words: list[str], origin: Origin) -> None:
        """Read one statement in small letters.  Raises `BenchMistake`."""
        {
            "face": self._face,
            "volts": self._say_volts,
            "levels": self._say_levels,
            "cable": self._cable,
            "mate": self._mate,
            "pins": self._pins,
        }[statement](words, origin)

    def finish(self) -> Bench:
        """Everything read; a straight cable joins the numbers that the connector has."""
        mates = []
        for mate in self._mates.values():
            pairs, _ = self._cables.get(mate.own, (None, None))
            if pairs == ():
                face = self._faces.get(mate.own)
                numbers = face.numbers if face is not None else range(1, self._sizes()[mate.own] + 1)
                pairs = tuple((number, number) for number in sorted(numbers))
            mates.append(replace(mate, cable=pairs))
        return Bench(
            tuple(self._faces.values()),
            tuple(self._volts.values()),
            tuple(self._levels.values()),
            tuple(mates),
            tuple(self._pins_from.values()),
        )

    def iter_loose_ends(self, described: Mapping[str, Mapping[int, Origin]]) -> Iterator[tuple[Origin, str]]:
        """What does not fit together: cables that lead nowhere, pins and wires that the face does not hold.

        `described`: connector → pin → where it is described.
        """
        for name, (pairs, origin) in self._cables.items():
            if name not in self._mates:
                yield origin, f"the cable of {name!r} leads nowhere; write: mate {name} CONNECTOR-OF-THE-BOARD"
            face = self._faces.get(name)
            for own, _ in pairs or ():
                if face is not None and own not in face.numbers:
                    yield origin, f"the cable joins pin {own}, which the face of {name!r} ({face.origin}) does not hold"
        for name, face in self._faces.items():
            for number, origin in described.get(name, {}).items():
                if number not in face.numbers:
                    at = f"{name}.{number}"
                    yield origin, f"pin {at} is described, and the face of {name!r} ({face.origin}) does not hold it"

    def _connector(self, word: str) -> str:
        if word not in self._sizes():
            known = ", ".join(repr(name) for name in self._sizes()) or "none"
            raise BenchMistake(f"{word!r} is no connector; connectors are {known}")
        return word

    def _face(self, words: list[str], origin: Origin) -> None:
        name = self._connector(words[0])
        if name in self._faces:
            raise BenchMistake(f"the face of {name!r} stands here and at {self._faces[name].origin}")
        rest, from_right, seen = words[1:], None, SeenFrom.UNKNOWN
        layout: list[str] = []
        while rest:
            word = rest.pop(0)
            if word == "seen":
                if not rest or rest[0] not in set(SeenFrom):
                    raise BenchMistake(f"seen is followed by {', '.join(SeenFrom)}, not {' '.join(rest[:1])!r}")
                seen = SeenFrom(rest.pop(0))
            elif word == "from":
                if not rest or rest[0] not in ("left", "right"):
                    raise BenchMistake(f"from is followed by left or right, not {' '.join(rest[:1])!r}")
                from_right = rest.pop(0) == "right"
            else:
                layout.append(word)
        size = self._sizes()[name]
        rows = layout_rows(layout[0], size) if len(layout) == 1 else None
        if rows is None:
            rows = tuple(_row_numbers(word, size) for word in layout)
        numbers = [number for row in rows for number in row if number]
        twice = next((number for number in numbers if numbers.count(number) > 1), None)
        if twice is not None:
            raise BenchMistake(f"the face of {name!r} holds pin {twice} twice")
        if not numbers:
            raise BenchMistake(f"the face of {name!r} holds no pin")
        self._faces[name] = Face(name, rows, seen, from_right, " ".join(layout), origin)

    def _say_volts(self, words: list[str], origin: Origin) -> None:
        place = None if words[0] == "vcc" else self._pin_at(words[0])
        if place is not None and place.owner not in self._sizes():
            raise BenchMistake(f"volts are stated for a connector pin or for vcc, not for {words[0]!r}")
        if place in self._volts:
            raise BenchMistake(f"the voltage of {words[0]!r} stands here and at {self._volts[place].origin}")
        found = re.fullmatch(r"(-?\d{1,4}(?:\.\d{1,3})?)v?", words[1])
        if found is None:
            raise BenchMistake(f"a voltage is a number of volts such as 5 or -12, not {words[1]!r}")
        flow = Flow.UNKNOWN
        if len(words) > 2:
            if words[2] not in ("feeds", "takes"):
                raise BenchMistake(f"a supply pin feeds or takes, not {words[2]!r}")
            flow = Flow(words[2])
        self._volts[place] = Volts(place, int(Fraction(found[1]) * 1000), flow, origin)

    def _say_levels(self, words: list[str], origin: Origin) -> None:
        place = self._pin_at(words[0]) if "." in words[0] else PinAt(self._connector(words[0]), 0)
        if place.owner not in self._sizes():
            raise BenchMistake(f"levels are stated for a connector or its pins, not for {words[0]!r}")
        if place in self._levels:
            raise BenchMistake(f"the levels of {words[0]!r} stand here and at {self._levels[place].origin}")
        electrical, kind = _stated(words[1:])
        self._levels[place] = StatedLevels(place.owner, place.pin, electrical, kind, origin)

    def _cable(self, words: list[str], origin: Origin) -> None:
        name = self._connector(words[0])
        if name in self._cables:
            raise BenchMistake(f"the cable of {name!r} stands here and at {self._cables[name][1]}")
        if words[1:] == ["straight"]:
            self._cables[name] = ((), origin)
            return
        pairs = []
        for word in words[1:]:
            found = re.fullmatch(r"(\d{1,3})-(\d{1,3})", word)
            if found is None or not 1 <= int(found[1]) <= self._sizes()[name]:
                raise BenchMistake(
                    f"a wire of the cable is written as own pin, minus, board's pin such as 1-19, not {word!r}"
                )
            pairs.append((int(found[1]), int(found[2])))
        self._cables[name] = (tuple(pairs), origin)

    def _mate(self, words: list[str], origin: Origin) -> None:
        name = self._connector(words[0])
        if name in self._mates:
            raise BenchMistake(f"{name!r} is mated here and at {self._mates[name].origin}")
        self._mates[name] = Mate(name, words[1], None, origin)

    def _pins(self, words: list[str], origin: Origin) -> None:
        name = self._connector(words[0])
        if words[1] != "from":
            raise BenchMistake(f"the form is: pins CONNECTOR from DOCUMENT, not {' '.join(words)!r}")
        if name in self._pins_from:
            raise BenchMistake(f"the pins of {name!r} stand here and at {self._pins_from[name].origin}")
        self._pins_from[name] = PinsFrom(name, words[2], origin)


def _row_numbers(word: str, size: int) -> tuple[int, ...]:
    """``1-17``, ``17-1``, ``1-33-2`` (every second), ``5``, ``key`` for a gap; several joined by commas."""
    numbers: list[int] = []
    for piece in word.split(","):
        if piece == "key":
            numbers.append(0)
            continue
        found = _RANGE.fullmatch(piece)
        if found is None:
            raise BenchMistake(f"a row is single, rows, pairs, round or numbers such as 1-17 or 1-33-2, not {word!r}")
        first, last, step = int(found[1]), int(found[2] or found[1]), int(found[3] or 1)
        if not (1 <= first <= size and 1 <= last <= size and step):
            raise BenchMistake(f"pins are 1 to {size}, which {piece!r} does not keep to")
        numbers += range(first, last + 1, step) if first <= last else range(first, last - 1, -step)
    return tuple(numbers)


def _stated(words: list[str]) -> tuple[Electrical, DriveKind]:
    """A family or type, then a kind of output, then keys with values; each of them may be left out."""
    rest = list(words)
    electrical, kind = _NOTHING, DriveKind.UNKNOWN
    if rest[0] not in (*_LEVEL_KEYS, *_CURRENT_KEYS, *_KINDS):
        known = electrical_of(rest[0])
        if known is None:
            raise BenchMistake(f"no levels are known for {rest[0]!r}; state them as in: levels j1.1 vih 2.0 vil 0.8")
        electrical, kind = known, _kind_of_type(rest.pop(0))
    if rest and rest[0] in _KINDS:
        kind = DriveKind(rest.pop(0))
    if len(rest) % 2:
        raise BenchMistake(f"levels come in pairs of key and value; {rest[-1]!r} stands alone")
    levels: dict[str, Level] = {}
    currents: dict[str, int] = {}
    for key, value in zip(rest[::2], rest[1::2], strict=True):
        if key in _LEVEL_KEYS:
            levels[key] = _level(key, value)
        elif key in _CURRENT_KEYS:
            currents[key] = _current(key, value)
        else:
            raise BenchMistake(f"a level's key is one of {', '.join((*_LEVEL_KEYS, *_CURRENT_KEYS))}, not {key!r}")
    electrical = replace(
        electrical,
        vih=levels.get("vih", electrical.vih),
        vil=levels.get("vil", electrical.vil),
        iih=currents.get("iih", electrical.iih),
        iil=currents.get("iil", electrical.iil),
        low=_points(electrical.low, levels.get("vol"), currents.get("iol"), "vol", "iol"),
        high=_points(electrical.high, levels.get("voh"), currents.get("ioh"), "voh", "ioh"),
        sources=(*electrical.sources, *((key, "stated") for key in (*levels, *currents))),
    )
    if electrical.low and kind is DriveKind.UNKNOWN:
        kind = DriveKind.FIRM
    return electrical, kind


def _kind_of_type(word: str) -> DriveKind:
    """How a type's outputs drive, where all of them do alike."""
    from latchlore.board._catalogue import find_type
    from latchlore.board._parts import Role

    part = find_type(word)
    roles = {pin.role for pin in part.pins} if part is not None else set()
    kinds = {
        Role.OUTPUT: DriveKind.FIRM,
        Role.OPEN_COLLECTOR: DriveKind.COLLECTOR,
        Role.THREE_STATE: DriveKind.THREE_STATE,
        Role.BOTH: DriveKind.THREE_STATE,
    }
    found = {kind for role, kind in kinds.items() if role in roles}
    return found.pop() if len(found) == 1 else DriveKind.UNKNOWN


def _points(
    had: tuple[Point, ...], level: Level | None, current: int | None, level_key: str, current_key: str
) -> tuple[Point, ...]:
    if level is None and current is None:
        return had
    if current is None and not had:
        raise BenchMistake(f"{level_key} needs {current_key}: the current up to which it holds, such as 4ma")
    if level is None and not had:
        raise BenchMistake(f"{current_key} needs {level_key}: the level that holds up to it, such as 0.4")
    return (Point(level or had[-1].level, had[-1].microamps if current is None else current),)


def _level(key: str, value: str) -> Level:
    found = _VOLTS.fullmatch(value)
    if found is None:
        raise BenchMistake(
            f"{key} is a number of volts such as 2.4, or a share of the supply such as 0.7vcc, not {value!r}"
        )
    if found[2] == "vcc":
        return Level(0, Fraction(found[1]))
    return Level(int(Fraction(found[1]) * 1000))


def _current(key: str, value: str) -> int:
    found = _AMPS.fullmatch(value)
    if found is None:
        raise BenchMistake(f"{key} is a current such as 8ma or 20ua, not {value!r}")
    return int(Fraction(found[1]) * (1000 if found[2] == "ma" else 1))
