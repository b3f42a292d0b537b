"""What a pin guarantees and asks for electrically: records, look-up by family and type, margins and fan-out.

Voltages are whole millivolts or exact fractions of them, currents whole microamperes, both without a sign: the
direction follows from the name (`low` sinks, `high` sources; an input gives `iil` and takes `iih`).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import UnknownName

if TYPE_CHECKING:
    from collections.abc import Iterable

    from latchlore.board._parts import PartType


class Level(NamedTuple):
    """A voltage as `share` of the supply plus `millivolts` (which may be negative)."""

    millivolts: int
    share: Fraction = Fraction(0)

    def at(self, supply_mv: int) -> Fraction:
        """In millivolts at that supply."""
        return self.share * supply_mv + self.millivolts


class Point(NamedTuple):
    """An output level that is guaranteed up to so many microamperes."""

    level: Level
    microamps: int


class Technology(StrEnum):
    """What an input does when nothing is joined to it."""

    BIPOLAR = "bipolar"  # reads high, badly
    MOS = "mos"  # reads anything, and may draw current


@dataclass(frozen=True, slots=True)
class LevelRow:
    """Limits of one family or type from one source; None or () where the source does not give them.

    `supply`: lowest and highest supply in millivolts for which they hold.  `low` and `high`: guaranteed output levels
    by rising current.  `leak`: current into an output that is off.  `off_most`: highest voltage that an open
    collector stands.  `is_memory`: set down from memory.
    """

    name: str
    source: str
    supply: tuple[int, int] | None = None
    vil: Level | None = None
    vih: Level | None = None
    low: tuple[Point, ...] = ()
    high: tuple[Point, ...] = ()
    iil: int | None = None
    iih: int | None = None
    leak: int | None = None
    off_most: int | None = None
    technology: Technology | None = None
    is_memory: bool = False


@dataclass(frozen=True, slots=True)
class Electrical:
    """The limits that hold for a pin, put together from the rows of its type and its family.

    `sources` names, for every field that is known, the document (or *from memory*) behind it, by field name.
    """

    name: str
    supply: tuple[int, int] | None
    vil: Level | None
    vih: Level | None
    low: tuple[Point, ...]
    high: tuple[Point, ...]
    iil: int | None
    iih: int | None
    leak: int | None
    off_most: int | None
    technology: Technology | None
    sources: tuple[tuple[str, str], ...]

    def source(self, field: str) -> str:
        """The document behind a field; empty where the field is not known."""
        return dict(self.sources).get(field, "")


FIELDS = ("supply", "vil", "vih", "low", "high", "iil", "iih", "leak", "off_most", "technology")
MEMORY = "from memory"
"""Stands for the source of a figure that was set down without one."""


def electrical_of(text: str, part: PartType | None = None, pin: str = "") -> Electrical | None:
    """The limits of a type or family as printed or typed: ``SN74LS244N``, ``74ls244``, ``ls``, ``8255``.

    `part` is the catalogue's row where the caller has it, `pin` the name of the pin where it matters: the bus side of
    a port chip is not its ports.  None where the table does not know the family.
    """
    from latchlore.board._catalogue import FAMILIES, split_type
    from latchlore.board.levelfacts import CMOS_4000, FILLED_UP, OTHER_TYPES, PORT_PIN

    word = text.upper().replace("-", "")
    if word in OTHER_TYPES:
        key = OTHER_TYPES[word]
        if f"{key} BUS" in FILLED_UP and pin and not PORT_PIN.match(pin):
            key = f"{key} BUS"
        return put_together(key, [key, *(["NMOS"] if key in FILLED_UP else [])])
    split = split_type(word)
    if split is not None:
        number, family = split[0].removeprefix("74").removeprefix(split[1]), split[1]
        return put_together(f"74{family}{number}", [f"74{family}{number}", f"74{family}"])
    if word in ("TTL", "74"):
        return put_together("74", ["74"])
    if word in FAMILIES and word:
        return put_together(f"74{word}", [f"74{word}"])
    if word.startswith("74") and word[2:] in FAMILIES:
        return put_together(word, [word])
    if word == "CMOS" or CMOS_4000.match(word):
        return put_together(word, ["4000"])
    return None if part is None or part.name.upper() == word else electrical_of(part.name)


def get_electrical(text: str) -> Electrical:
    """As `electrical_of`.  Refuses a type or family that the table does not know, naming the families."""
    found = electrical_of(text)
    if found is None:
        from latchlore.board.levelfacts import LEVELS, OTHER_TYPES

        families = {row.name for row in LEVELS if not row.name[2:].lstrip("ABCFHLST")}
        raise UnknownName(f"no levels are known for {text!r}", [*sorted(families), "4000", *OTHER_TYPES])
    return found


def put_together(name: str, keys: Iterable[str]) -> Electrical | None:
    """The rows of the keys put together, earlier ones first; None where no row has any of them."""
    from latchlore.board.levelfacts import LEVELS

    rows = [row for key in keys for row in LEVELS if row.name == key]
    if not rows:
        return None
    found: dict[str, object] = {}
    sources: list[tuple[str, str]] = []
    for field in FIELDS:
        row = next((row for row in rows if getattr(row, field) not in (None, ())), None)
        found[field] = getattr(row if row is not None else rows[0], field)
        if row is not None:
            sources.append((field, MEMORY if row.is_memory else row.source))
    return Electrical(name=name, sources=tuple(sources), **found)  # type: ignore[arg-type]  # by field name


def low_point(driver: Electrical, microamps: Fraction) -> Point | None:
    """The lowest guaranteed low level while so much current flows in; None beyond what is guaranteed."""
    return next((point for point in driver.low if point.microamps >= microamps), None)


def high_point(driver: Electrical, microamps: Fraction) -> Point | None:
    """The highest guaranteed high level while so much current flows out; None beyond what is guaranteed."""
    return next((point for point in driver.high if point.microamps >= microamps), None)


class Margins(NamedTuple):
    """Noise margins in millivolts, negative where the levels are not guaranteed to be understood."""

    low: Fraction
    high: Fraction


def margins(driver: Electrical, load: Electrical, supply_mv: int) -> Margins | None:
    """Margins with the driver at the end of its guaranteed current; None where a level is not known."""
    if load.vil is None or load.vih is None or not driver.low or not driver.high:
        return None
    return Margins(
        load.vil.at(supply_mv) - driver.low[-1].level.at(supply_mv),
        driver.high[-1].level.at(supply_mv) - load.vih.at(supply_mv),
    )


class FanOut(NamedTuple):
    """How many inputs an output drives in each state."""

    low: int
    high: int


def fan_out(driver: Electrical, load: Electrical, supply_mv: int) -> FanOut | None:
    """How many inputs of the kind a driver serves with levels they are sure to understand.

    None where a level or a current is not known; 0 where no guaranteed level suits the input.
    """
    if load.vil is None or load.vih is None or load.iil is None or load.iih is None:
        return None
    if not driver.low or not driver.high:
        return None
    vil, vih = load.vil.at(supply_mv), load.vih.at(supply_mv)
    sinks = [point.microamps for point in driver.low if point.level.at(supply_mv) <= vil]
    gives = [point.microamps for point in driver.high if point.level.at(supply_mv) >= vih]
    return FanOut(max(sinks, default=0) // load.iil, max(gives, default=0) // load.iih)


class PullRange(NamedTuple):
    """Smallest and largest pull-up in ohms for a line of open collectors."""

    least: Fraction
    most: Fraction


def pull_up_range(
    driver: Electrical, load: Electrical, supply_mv: int, *, drivers: int = 1, loads: int = 1
) -> PullRange | None:
    """The pull-ups with which every level on a line of open collectors is sure; None where a figure is not known.

    One collector that is on must sink the resistor's current and that of the inputs; with all off, the leaks and the
    inputs may not draw the line below what the inputs take for high (the usual rule of the makers' data books).
    """
    figures = (load.vil, load.vih, load.iil, load.iih, driver.leak)
    if any(one is None for one in figures) or not driver.low:
        return None
    assert load.vil is not None
    assert load.vih is not None
    point = next((p for p in reversed(driver.low) if p.level.at(supply_mv) <= load.vil.at(supply_mv)), None)
    if point is None:
        return None
    spare = point.microamps - loads * (load.iil or 0)
    drawn = drivers * (driver.leak or 0) + loads * (load.iih or 0)
    if spare <= 0 or drawn <= 0:
        return None
    return PullRange(
        (supply_mv - point.level.at(supply_mv)) * 1000 / spare, (supply_mv - load.vih.at(supply_mv)) * 1000 / drawn
    )
