"""What is printed on a chip: which word is its type, which its date, and what the nets say where both are possible.

A word may be a type number, a date code or both (7400 to 7452 in stock of 1974).  Every reading is kept that gives the
chip exactly one type; words with letters of a maker before or behind the number outrank bare numbers, because a date
has none; then the nets rule out types whose pins do not fit.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from latchlore.board._board import Direction, PinAt
from latchlore.board._catalogue import find_type, iter_types
from latchlore.board._parts import PartType, Pin, Role
from latchlore.board.markfacts import FIRST_YEAR, HOUSE, HOUSE_SERIES, LAST_WEEK, LAST_YEAR, MAKERS, NEAR

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from latchlore.board._board import Board

_DATE_4 = re.compile(r"^(\d\d)(\d\d)[A-Z]{0,2}$")
_DATE_3 = re.compile(r"^(\d)(\d\d)[A-Z]{0,2}$")
_PASSING = ("resistor", "capacitor", "inductor", "fuse", "trimmer")
_OUTPUTS = (Role.OUTPUT, Role.THREE_STATE, Role.OPEN_COLLECTOR)


class DateCode(NamedTuple):
    """A week of a year; where the decade is only implied, one of several."""

    year: int
    week: int

    def __str__(self) -> str:
        return f"week {self.week} of {self.year}"


class TypeWord(NamedTuple):
    """A word read as a type: `is_lettered` where a maker's letters stand before or behind its number."""

    word: str
    type: PartType
    maker: str
    is_lettered: bool


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read all words of a chip: its type, the words that say so, its date codes, words left over."""

    type: PartType
    by: tuple[TypeWord, ...]
    dates: tuple[DateCode, ...]
    date_word: str
    rest: tuple[str, ...]

    @property
    def is_lettered(self) -> bool:
        """Whether a maker's letters speak for the type."""
        return any(word.is_lettered for word in self.by)


@dataclass(frozen=True, slots=True)
class Marking:
    """What the words on a chip come to.

    `readings` are those that are left, best first; one type among them settles it.  `dropped`: what was ruled out,
    with the reason.  `notes`: what to know besides (a date that is also a type number, house numbers without a row).
    """

    words: tuple[str, ...]
    readings: tuple[Reading, ...]
    dropped: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def types(self) -> tuple[PartType, ...]:
        """The types still possible, best first."""
        return tuple(dict.fromkeys(reading.type for reading in self.readings))

    @property
    def settled(self) -> PartType | None:
        """The type, where only one is left."""
        return self.types[0] if len(self.types) == 1 else None

    @property
    def telling_pins(self) -> tuple[int, ...]:
        """Pins by which the first two types left can be told apart: one has an output there, the other has none."""
        if len(self.types) < 2:
            return ()
        return tuple(pin for pin, _, _ in differing_pins(*self.types[:2]))


def read_dates(word: str, years: tuple[int, int] | None = None) -> tuple[DateCode, ...]:
    """The weeks that a word can mean as a date code (YYWW, or YWW with the decade implied), earliest first.

    `years`: first and last year that the board allows.
    """
    first, last = years or (FIRST_YEAR, LAST_YEAR)
    text = word.upper()
    if found := _DATE_4.match(text):
        able = [1900 + int(found[1])]
    elif found := _DATE_3.match(text):
        able = [year for year in range(FIRST_YEAR, LAST_YEAR + 1) if year % 10 == int(found[1])]
    else:
        return ()
    week = int(found[2])
    return tuple(DateCode(year, week) for year in able if first <= year <= last and 1 <= week <= LAST_WEEK)


def read_type(word: str) -> TypeWord | None:
    """A word as a type number: of the 74 series, of a chip by its number, or a house number that is in the table."""
    text = word.upper().replace("µ", "U").replace("-", "")
    row = find_type(text)
    letters = re.match(r"^[A-Z]*", text)
    prefix = letters[0] if letters is not None else ""
    if row is not None:
        bare = text == row.name
        behind = re.search(r"[A-Z]+\d?$", text) is not None
        return TypeWord(word, row, MAKERS.get(prefix, ""), not bare and (bool(prefix) or behind or not text.isdigit()))
    for number in (text, re.sub(r"[A-Z]{1,2}$", "", text)):
        if number in HOUSE:
            kind, maker = HOUSE[number]
            found = find_type(kind)
            if found is not None:
                return TypeWord(word, found, maker, is_lettered=not number.isdigit())
    return None


def house_type(word: str) -> PartType | None:
    """The type that a house number of the table stands for, or None."""
    found = read_type(word)
    return None if found is None else found.type


def house_maker(word: str) -> str:
    """The maker whose house numbers look like the word, where the type is not in the table; else empty."""
    text = re.sub(r"[A-Z]{1,2}$", "", word.upper().replace("µ", "U").replace("-", ""))
    if read_type(word) is not None:
        return ""
    return next((maker for pattern, maker in HOUSE_SERIES.items() if re.fullmatch(pattern, text)), "")


def read_marking(words: Sequence[str], years: tuple[int, int] | None = None) -> Marking:
    """Every way to read the words of one chip (in any order) that gives it one type.

    `years`: first and last year of the board's other dates.  Letters outrank bare numbers; a second number of the same
    type outranks a date.
    """
    types = {word: found for word in words if (found := read_type(word)) is not None}
    dates = {word: weeks for word in words if (weeks := read_dates(word, years))}
    readings: list[Reading] = []
    for main in types.values():
        same = tuple(other for other in types.values() if other.type == main.type)
        if any(reading.type == main.type for reading in readings):
            continue
        others = [word for word in words if word not in {one.word for one in same}]
        clash = [word for word in others if word in types and word not in dates]
        if clash:
            continue  # another word can be nothing but another type
        dated = [word for word in others if word in dates]
        for date_word in dated or [""]:
            if any(word in types for word in dated if word != date_word):
                continue
            rest = tuple(word for word in others if word != date_word)
            readings.append(Reading(main.type, same, dates.get(date_word, ()), date_word, rest))
    dropped: list[str] = []
    if any(reading.is_lettered for reading in readings):
        dropped = [
            f"{reading.type.name}: another word has letters, a date has none"
            for reading in readings
            if not reading.is_lettered
        ]
        readings = [reading for reading in readings if reading.is_lettered]
    readings.sort(key=lambda r: (-len(r.by), len(r.rest), r.type.name))
    return Marking(tuple(words), tuple(readings), tuple(dropped), tuple(_notes(words, readings, types, years)))


def _notes(
    words: Sequence[str], readings: list[Reading], types: dict[str, TypeWord], years: tuple[int, int] | None
) -> list[str]:
    notes = []
    if not readings and types:
        notes.append("no way to read all words gives one type")
    for word in words:
        maker = house_maker(word)
        if maker:
            notes.append(f"{word} is a house number of {maker}; its type is not in the table")
    for reading in readings:
        for other in [reading.date_word] if reading.date_word in types else []:
            same = types[other].type.pins == reading.type.pins
            notes.append(f"{other} is also a type number{' with the same pinout' if same else ''}")
        for one in reading.by[1:]:
            weeks = read_dates(one.word, years)
            if weeks:
                notes.append(f"{one.word} is a second number of the {reading.type.name}, and also {weeks[0]}")
            elif one.word.isdigit():
                notes.append(f"{one.word} is a second number of the {reading.type.name}")
    return list(dict.fromkeys(notes))


# --- nets ---


def settle_marking(marking: Marking, board: Board, part: str) -> Marking:
    """Rule out types whose pins do not fit the nets of a part; all stay where none fits."""
    fit = Fit(board)
    reasons = {kind.name: list(fit.misfits(part, kind)) for kind in marking.types}
    left = [reading for reading in marking.readings if not reasons[reading.type.name]]
    if not left or len(left) == len(marking.readings):
        return marking
    dropped = [f"{name}: {why[0]}" for name, why in reasons.items() if why]
    kept = [note for note in marking.notes if not any(note.startswith(f"{word} ") for word in _type_words(left))]
    left_notes = _notes(marking.words, left, {w: t for w in marking.words if (t := read_type(w)) is not None}, None)
    return Marking(marking.words, tuple(left), (*marking.dropped, *dropped), tuple(dict.fromkeys(kept + left_notes)))


def _type_words(readings: Iterable[Reading]) -> set[str]:
    return {one.word for reading in readings for one in reading.by}


def misfits(board: Board, part: str, kind: PartType) -> tuple[str, ...]:
    """Why a part's nets do not fit a type, pin by pin; nothing where they do.  See `Fit.misfits`."""
    return tuple(Fit(board).misfits(part, kind))


class Fit:
    """Whether types fit the nets of a board."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self.types = {part.name: part.type for part in board.parts}
        self.plugs = {PinAt(plug.name, pin.number): pin.direction for plug in board.connectors for pin in plug.pins}
        self.plug_names = {plug.name for plug in board.connectors}
        self.nets = {net.name: net.pins for net in board.nets}
        self.free = board.host_signals() | {pull.net for pull in board.pulls}

    def misfits(self, part: str, kind: PartType) -> Iterator[str]:
        """Why a part's nets do not fit a type.

        An input must have something that can drive its net; an output must not stand on a rail or against an output
        that always drives; a supply pin must not stand on a signal.  Pins that are not traced say nothing.
        """
        size = len(self.types[part].pins)
        if size != len(kind.pins):
            yield f"it has {len(kind.pins)} pins, the chip {size}"
            return
        for pin in kind.pins:
            net = self.board.net_of(PinAt(part, pin.number))
            if net is not None:
                yield from self._misfit(part, kind, pin, net)

    def _misfit(self, part: str, kind: PartType, pin: Pin, net: str) -> Iterator[str]:
        around = [at for at in self.nets[net] if at.owner != part]
        rail = self._rail(net, around)
        if pin.role in (Role.GROUND, Role.POWER):
            wanted = "vcc" if pin.role is Role.POWER else "gnd"
            if rail != wanted and (rail or any(self._drives(at) for at in around)):
                yield f"pin {pin.number} is its supply and stands on net {net!r}"
        elif pin.role in _OUTPUTS and rail:
            yield f"pin {pin.number} is an output and stands on the {'ground' if rail == 'gnd' else 'supply'}"
        elif pin.role is Role.OUTPUT and any(self._drives(at) is Role.OUTPUT for at in around):
            yield f"pin {pin.number} is an output and stands against another output"
        elif pin.role is Role.OUTPUT and any(self._drives(at) is Role.THREE_STATE for at in around):
            yield f"pin {pin.number} is an output that always drives and stands against a three-state one"
        elif pin.role is Role.INPUT and not rail and not self._has_driver(net, part, kind, around):
            yield f"an output is needed at pin {pin.number}"

    def _rail(self, net: str, around: Sequence[PinAt]) -> str:
        if net in ("gnd", "vcc"):
            return net
        for at in around:
            role = self.types[at.owner].pin(at.pin).role if at.owner in self.types else None
            if role in (Role.GROUND, Role.POWER):
                return "gnd" if role is Role.GROUND else "vcc"
            direction = self.plugs.get(at)
            if direction in (Direction.GROUND, Direction.POWER):
                return "gnd" if direction is Direction.GROUND else "vcc"
        return ""

    def _drives(self, at: PinAt) -> Role | None:
        """The role of a pin that can drive its net; None where it cannot."""
        if at.owner in self.types:
            role = self.types[at.owner].pin(at.pin).role
            able = role in (*_OUTPUTS, Role.BOTH, Role.UNKNOWN) or self.types[at.owner].name == "transistor"
            return role if able else None
        if at.owner in self.plug_names:
            return Role.BOTH if self.plugs.get(at) in (None, Direction.IN, Direction.BOTH) else None
        return Role.BOTH  # a strap

    def _has_driver(self, net: str, part: str, kind: PartType, around: Sequence[PinAt]) -> bool:
        """Whether something on the net can drive an input, or is not known well enough to say no."""
        own = (kind.pin(at.pin).role for at in self.nets[net] if at.owner == part)
        if net in self.free or any(role in (*_OUTPUTS, Role.BOTH) for role in own):
            return True
        if any(self._drives(at) is not None for at in around):
            return True
        # A resistor or capacitor passes on what stands behind it; a lamp passes on nothing.
        legs = [at.owner for at in around if at.owner in self.types and self.types[at.owner].name in _PASSING]
        return any(not self._leads_to_lamp(net, leg) for leg in legs)

    def _leads_to_lamp(self, net: str, leg: str) -> bool:
        """Whether a part of legs leads from the net to lamps and rails alone."""
        for pin in self.types[leg].pins:
            beyond = self.board.net_of(PinAt(leg, pin.number))
            if beyond is None or beyond == net:
                continue
            others = [one for one in self.nets[beyond] if one.owner != leg]
            if self._rail(beyond, others):
                continue
            names = [self.types[one.owner].name if one.owner in self.types else "" for one in others]
            if not names or any(name != "led" for name in names):
                return False
        return True


# --- near types ---


def differing_pins(one: PartType, other: PartType) -> tuple[tuple[int, str, str], ...]:
    """Pins whose role differs: (number, role on the first, role on the other)."""
    return tuple(
        (a.number, a.role.value, b.role.value)
        for a, b in zip(one.pins, other.pins, strict=False)
        if a.role is not b.role
    )


@lru_cache(maxsize=256)
def near_types(name: str) -> tuple[tuple[str, tuple[int, ...], str], ...]:
    """Types that are easily taken for one another: (other type, pins at which they differ, how), by number.

    A type of another family has the same function and is not named here.
    """
    found = [(row.types[1 - row.types.index(name)], row.pins, row.words) for row in NEAR if name in row.types]
    return tuple(sorted(found))


def same_pinout(kind: PartType) -> tuple[PartType, ...]:
    """Other types of the catalogue with the same roles at the same pins, by number."""
    roles = [pin.role for pin in kind.pins]
    return tuple(other for other in iter_types() if other != kind and [pin.role for pin in other.pins] == roles)
