"""How long a one-shot's pulse lasts: resistor and capacitor from the nets, formulas and bands from the sheets."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import Span, SpanRange
from latchlore.board._board import PinAt
from latchlore.board._catalogue import split_type
from latchlore.board.timedfacts import (
    BARE_74121_PS,
    R_INSIDE,
    R_LIMITS,
    RETRIGGER_LS123_PS,
    SPREAD_UNKNOWN,
    WIDTHS,
    WidthRow,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import Origin
    from latchlore.board._board import Board, Part

_SECTIONS = {"74121": ("",), "74122": ("",), "74123": ("1", "2"), "74221": ("1", "2")}
_VALUE = re.compile(r"(\d+(?:\.\d+)?)\s*([a-zµ]*)(\d*)")
_STEPS = {"": 0, "r": 0, "p": -12, "n": -9, "u": -6, "µ": -6, "m": -3, "k": 3, "meg": 6}
_UNITS = ("ohms", "ohm", "f")
NOT_JOINED = "the pin of resistor and capacitor is joined to nothing that is traced"
_TOLERANCE = re.compile(r"(\d+(?:\.\d+)?)\s*%")


class Amount(NamedTuple):
    """A value with its bounds (equal where no tolerance is stated), in ohms or farads."""

    least: Fraction
    nominal: Fraction
    most: Fraction

    def plus(self, other: Amount) -> Amount:
        """Two resistors in series, or two capacitors side by side."""
        return Amount(self.least + other.least, self.nominal + other.nominal, self.most + other.most)


NOTHING = Amount(Fraction(0), Fraction(0), Fraction(0))


class Rule(NamedTuple):
    """One sheet's answer: what its formula gives for the nominal values, and the band with every tolerance."""

    row: WidthRow
    formula: SpanRange
    band: SpanRange


@dataclass(frozen=True, slots=True)
class OneShot:
    """One section of a one-shot on a board.

    `rules`: every sheet that may be meant, the maker's own where the marking names one.  `band` spans them all, None
    where something is not known; `notes` say what, and what is out of a sheet's range.
    """

    part: str
    section: str
    ohms: Amount | None
    farads: Amount | None
    rules: tuple[Rule, ...]
    band: SpanRange | None
    dead: Span | None
    notes: tuple[str, ...]
    origins: tuple[Origin, ...]

    @property
    def name(self) -> str:
        """Part and section, such as ``u3 section 2``."""
        return f"{self.part} section {self.section}" if self.section else self.part


def parse_value(words: str, *, small: bool) -> Amount | None:
    """A value as it is printed: ``10k``, ``4k7``, ``3.3uF``, ``1000p 5%``; None where it has no such form.

    `small`: a capacitor, whose bare number is picofarads; else a resistor, whose bare number is ohms, M mega.
    """
    text = words.strip().lower().replace(",", ".")
    tolerance = _TOLERANCE.search(text)
    text = (text[: tolerance.start()] if tolerance else text).strip(" +-")
    if text.endswith("±"):
        text = text[:-1].strip()
    found = _VALUE.fullmatch(text.replace(" ", ""))
    if found is None:
        return None
    number, letters, after = found.groups()
    for unit in _UNITS:
        if letters.endswith(unit):
            letters = letters[: -len(unit)]
            break
    if letters == "m" and not small:
        letters = "meg"
    if letters not in _STEPS or (after and "." in number) or (small and letters in ("k", "r", "meg")):
        return None
    if not small and letters in ("p", "n", "u", "µ"):
        return None
    value = Fraction(f"{number}.{after}" if after else number) * Fraction(10) ** _STEPS[letters]
    if small and not letters and not text.endswith("f"):
        value = value / 10**12
    if not value:
        return None
    off = Fraction(tolerance[1]) / 100 if tolerance else Fraction(0)
    return Amount(value * (1 - off), value, value * (1 + off))


def find_one_shots(board: Board) -> tuple[OneShot, ...]:
    """Every section of every one-shot whose timing pins are joined to something, in file order."""
    found = []
    for part in board.parts:
        for section in _SECTIONS.get(part.type.name, ()):
            one = _Section(board, part, section).read()
            if one is not None:
                found.append(one)
    return tuple(found)


class _Section:
    def __init__(self, board: Board, part: Part, section: str) -> None:
        self.board, self.part, self.section = board, part, section
        split = split_type(part.marking)
        self.family = split[1] if split is not None else ""
        self.maker = re.match(r"[a-z]*", part.marking)[0].upper()  # type: ignore[index]  # matches always
        self.notes: list[str] = []
        self.origins: list[Origin] = [part.origin]

    def net(self, name: str) -> str | None:
        """The net of a pin by name, without the section's digit."""
        for pin in self.part.type.pins:
            if pin.name == self.section + name:
                return self.board.net_of(PinAt(self.part.name, pin.number))
        return None

    def read(self) -> OneShot | None:
        rc, cap = self.net("REXT/CEXT"), self.net("CEXT")
        inside = self.net("RINT")
        if rc is None and cap is None and inside is None:
            return None
        farads = self.capacitors(rc, cap)
        ohms = self.resistors(rc, inside)
        rules: list[Rule] = []
        band: SpanRange | None = None
        if ohms is not None and farads is not None:
            rules = list(self.rules(ohms, farads))
            if not rules:
                words = f"no rule is known for a {self.part.marking} with {_picofarads(farads.nominal)} pF"
                self.notes.append(words)
        elif ohms is not None and self.is_bare(rc, cap, inside):
            band = SpanRange(*(Span(ps) for ps in BARE_74121_PS))
            self.notes.remove(NOT_JOINED)
            self.notes.append("no capacitor: the chip's own pulse, with its inner resistor")
        if rules:
            band = SpanRange(min(r.band.least for r in rules), max(r.band.most for r in rules))
        dead = None
        if farads is not None and (self.part.type.name, self.family) == ("74123", "LS"):
            dead = Span(_whole(farads.most * 10**12 * RETRIGGER_LS123_PS, up=True))
        return OneShot(
            self.part.name,
            self.section,
            ohms,
            farads,
            tuple(rules),
            band,
            dead,
            tuple(self.notes),
            tuple(dict.fromkeys(self.origins)),
        )

    def is_bare(self, rc: str | None, cap: str | None, inside: str | None) -> bool:
        """A 74121 whose capacitor pins are seen to be free."""
        pins = [PinAt(self.part.name, k) for k in (10, 11)]
        free = rc is None and cap is None and all(at in self.board.open_pins for at in pins)
        return self.part.type.name == "74121" and free and inside is not None

    # --- parts around it ---

    def legs(self, net: str) -> Iterator[tuple[Part, str | None]]:
        """Parts with two legs on a net, each with the net of its other leg."""
        for part in self.board.parts:
            if len(part.type.pins) != 2 or part.type.blocks:
                continue
            nets = [self.board.net_of(PinAt(part.name, k)) for k in (1, 2)]
            if net in nets and nets[0] != nets[1]:
                yield part, nets[1 - nets.index(net)]

    def value(self, part: Part, *, small: bool) -> Amount | None:
        found = parse_value(part.words, small=small)
        if found is None:
            self.notes.append(f"the value of {part.name} is not known: {part.words!r}")
        self.origins.append(part.origin)
        return found

    def capacitors(self, rc: str | None, cap: str | None) -> Amount | None:
        """All capacitors between the two timing pins; the 'LS types' first pin is their ground."""
        if rc is None:
            self.notes.append(NOT_JOINED)
            return None
        total: Amount | None = None
        for part, other in self.legs(rc):
            if part.type.name == "capacitor" and (other == cap or self.is_rail(other, 0)):
                found = self.value(part, small=True)
                if found is None:
                    return None
                total = found if total is None else total.plus(found)
        if total is None:
            self.notes.append("no capacitor is traced")
        return total

    def is_rail(self, net: str | None, level: int) -> bool:
        """Whether a net is the supply (1) or ground (0)."""
        if net is None:
            return False
        if net in ("gnd", "vcc"):
            return net == ("vcc" if level else "gnd")
        roles = {"power"} if level else {"ground"}
        types = {part.name: part.type for part in self.board.parts}
        pins = self.board.net(net).pins
        return any(at.owner in types and types[at.owner].pin(at.pin).role.value in roles for at in pins)

    def resistors(self, rc: str | None, inside: str | None) -> Amount | None:
        """The resistor from the supply to the timing pin, or the chip's own."""
        outer = self.chain(rc, frozenset()) if rc is not None else None
        own = R_INSIDE.get((self.part.type.name, self.family))
        if inside is not None and own is not None:
            value = Fraction(own[0])
            chain = NOTHING if self.is_rail(inside, 1) else self.chain(inside, frozenset())
            if chain is not None:
                self.notes.append(own[1])
                return Amount(value, value, value).plus(chain)
        if outer is None:
            self.notes.append("no resistor to the supply is traced")
            return None
        limits = R_LIMITS.get((self.part.type.name, self.family))
        if limits is not None and not limits[0] <= outer.nominal <= limits[1]:
            low, high = limits[0] // 1000, limits[1] // 1000
            self.notes.append(f"the resistor is outside the sheet's {low} to {high} kohm")
        return outer

    def chain(self, net: str, seen: frozenset[str]) -> Amount | None:
        """Resistors in series from a net to the supply; None where there is no such way, or a value is not known."""
        for part, other in self.legs(net):
            if part.type.name != "resistor" or other is None or other in seen:
                continue
            rest = NOTHING if self.is_rail(other, 1) else self.chain(other, seen | {net})
            if rest is not None:
                found = self.value(part, small=False)
                return None if found is None else found.plus(rest)
        for pull in self.board.pulls:
            if pull.net == net and pull.level == 1:
                self.origins.append(pull.origin)
                return parse_value(pull.words, small=False)
        return None

    # --- rules ---

    def rules(self, ohms: Amount, farads: Amount) -> Iterator[Rule]:
        picofarads = farads.nominal * 10**12
        fitting = [
            row
            for row in WIDTHS
            if self.part.type.name in row.types
            and self.family == row.family
            and picofarads >= row.c_from
            and (not row.c_below or picofarads < row.c_below)
        ]
        if any(self.maker in row.makers for row in fitting if self.maker):
            fitting = [row for row in fitting if not row.makers or self.maker in row.makers]
        for row in fitting:
            low, high = row.spread or SPREAD_UNKNOWN
            if row.spread is None:
                words = f"no limits of a part are at hand for {row.source}; {low} to {high} of it are taken"
                self.notes.append(words)
            yield Rule(
                row,
                _range(
                    _width(row, row.k_low, ohms.nominal, farads.nominal),
                    _width(row, row.k_high, ohms.nominal, farads.nominal),
                ),
                _range(
                    low * _width(row, row.k_low, ohms.least, farads.least),
                    high * _width(row, row.k_high, ohms.most, farads.most),
                ),
            )


def _width(row: WidthRow, k: Fraction, ohms: Fraction, farads: Fraction) -> Fraction:
    """Seconds."""
    return k * ohms * farads * (1 + row.a * 1000 / ohms)


def _whole(value: Fraction, *, up: bool) -> int:
    return -(-value.numerator // value.denominator) if up else value.numerator // value.denominator


def _range(least: Fraction, most: Fraction) -> SpanRange:
    """Seconds to whole picoseconds, rounded outwards."""
    return SpanRange(Span(_whole(least * 10**12, up=False)), Span(_whole(most * 10**12, up=True)))


def _picofarads(farads: Fraction) -> str:
    value = farads * 10**12
    return str(value.numerator) if value.denominator == 1 else f"about {value.numerator // value.denominator}"
