"""The referee of the calibration: whether what a weighed table says of a generated study is true.

Every value of every row that stands agreed is held against the drawing; a value that the referee cannot judge is an
error of the test, so that nothing passes unjudged.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from latchlore.base import (
    ActiveLevel,
    AddressSet,
    BitKind,
    BitLevel,
    BitSense,
    BitUse,
    ByteSequence,
    ByteTree,
    Emission,
    SpanLimit,
    SpanRange,
    SubjectKind,
    Testimony,
    Witness,
    Words,
)
from latchlore.evidence import Row, Standing, Table, tells

if TYPE_CHECKING:
    from tests.generated_studies import Drawn, Plant


LEANS = "leans on "
"""How the sentence begins with which an agreement names what it leans on and a contradiction suspects."""


def true_addresses(study: Drawn, row: Row) -> AddressSet:
    """The addresses of the register that a row is about, by its key's address."""
    width = 16 if study.cpu == "6502" else 8
    address, direction = int(row.subject.key[1], 16), row.subject.key[2]
    names = ("status",) if direction == "read" else ("data", "control")
    for name in names:
        care, value = study.pattern(study.index[name])
        if address & care == value:
            return AddressSet.of_cubes([(care, value)], width)
    return AddressSet.of((), width)


def true_sense(study: Drawn, row: Row) -> BitSense | None:
    """What the bit of a row follows; None where no register of the card is there."""
    address, direction, number = int(row.subject.key[1], 16), row.subject.key[2], int(row.subject.key[3])
    if direction == "write":
        care, value = study.pattern(study.index["control"])
        is_strobe = address & care == value and number == study.strobe_bit
        return BitSense.follows("STROBE", inverted=study.strobe_inverted) if is_strobe else None
    care, value = study.pattern(study.index["status"])
    if direction != "read" or address & care != value:
        return None
    bit = study.bits[number]
    if bit.source:
        return BitSense.follows(bit.source, inverted=bit.inverted)
    return BitSense.unconnected() if bit.level is None else BitSense.tied(bit.level)


def is_true(study: Drawn, row: Row, one: Testimony) -> bool:
    """Whether what a testimony says is so."""
    kind, value, key = row.subject.kind, one.value, row.subject.key
    match value:
        case AddressSet():
            true = true_addresses(study, row)
            if one.witness is Witness.BOARD:
                return value == true
            wide = AddressSet.of_cubes(true.cubes, max(true.width, value.width))
            return bool(value) and AddressSet.of_cubes(value.cubes, wide.width) <= wide
        case BitSense() if kind is SubjectKind.BIT:
            return value == true_sense(study, row)
        case BitSense() if key[0].upper() == "STROBE":
            return value == BitSense.follows("STROBE", inverted=study.strobe_inverted)
        case BitSense():
            bits = [bit for bit in study.bits if bit.source == value.source == key[0].upper()]
            return bool(bits) and value.kind is BitKind.FOLLOWS and bits[0].inverted == value.inverted
        case BitLevel() if kind is SubjectKind.STRAP:
            return study.straps[key[0].upper()] == value.level
        case BitLevel():
            source = study.bits[int(key[3])].source
            return source in study.straps and study.straps[source] == value.level
        case ActiveLevel() if kind is SubjectKind.BIT and key[2] == "write":
            return true_sense(study, row) is not None and study.active("STROBE") == value.level
        case ActiveLevel() if kind is SubjectKind.BIT:
            source = study.bits[int(key[3])].source
            return bool(source) and source not in study.straps and study.active(source) == value.level
        case ActiveLevel():
            return study.active(key[0]) == value.level
        case ByteSequence():
            return value.data == study.sent
        case SpanRange():
            return value.least.picoseconds <= study.width_ps() <= value.most.picoseconds
        case SpanLimit():
            return value.least is not None and value.least.picoseconds <= study.width_ps()
        case Emission():
            return value.happens == study.claims[key[0]][1]
        case Words():
            return words_are_true(study, row, value)
        case BitUse() | ByteTree():
            return True  # what the program does is read from it; that it is the right image is asked of the others
    raise AssertionError(f"the referee cannot judge {one}")


def words_are_true(study: Drawn, row: Row, value: Words) -> bool:
    """Statements in words."""
    kind, key = row.subject.kind, row.subject.key
    match kind:
        case SubjectKind.PIN:
            return value.text.split(",")[0] == study.plug[int(key[1])].signal
        case SubjectKind.WIDTH:
            return value.text == f"{study.lines} bits"
        case SubjectKind.COMMAND:
            return value.text == study.commands[key[0]]
        case SubjectKind.STRAP:
            return value.text == ("open" if study.straps[key[0].upper()] else "joined")
    raise AssertionError(f"the referee cannot judge {value} of {row.subject}")


@dataclass
class Score:
    """What was counted over studies, and what went wrong, by kind."""

    studies: int = 0
    agreed: int = 0
    leaning: int = 0
    leaning_wrong: int = 0
    agreed_wrong: list[str] = field(default_factory=list)
    planted: Counter[str] = field(default_factory=Counter)
    missed: list[str] = field(default_factory=list)
    mended: Counter[str] = field(default_factory=Counter)
    unmended: list[str] = field(default_factory=list)
    first: int = 0
    false_alarms: list[str] = field(default_factory=list)

    def add(self, study: Drawn, table: Table) -> None:
        """Judge one table."""
        self.studies += 1
        contradicted = {str(row.subject): row for row in table.iter_standing(Standing.CONTRADICTED)}
        for row in table.iter_standing(Standing.AGREED):
            self.agreed += 1
            leans = any(words.startswith(LEANS) for words in row.follows)
            self.leaning += leans
            wrong = [one for one in row.testimonies if tells(one) and not is_true(study, row, one)]
            if wrong:
                self.leaning_wrong += leans
                kinds = "+".join(plant.kind for plant in study.plants) or "nothing planted"
                self.agreed_wrong.append(f"{study.seed}: {row.subject} ({kinds}): {wrong[0].value}")
        explained: set[str] = set()
        for plant in study.plants:
            self.planted[plant.kind] += 1
            rows = [contradicted[name] for name in plant.subjects if name in contradicted]
            explained |= {*plant.subjects, *plant.follows}
            if not rows:
                self.missed.append(f"{study.seed}: {plant.kind}")
                continue
            self.mend(study, plant, rows)
        self.false_alarms += [f"{study.seed}: {name}" for name in contradicted if name not in explained]

    def mend(self, study: Drawn, plant: Plant, rows: list[Row]) -> None:
        """Whether a repair among the first three of a contradicted subject is the true one: wrong statements alone."""
        places = [
            k
            for row in rows
            for k, repair in enumerate(row.repairs[:3])
            if repair.statements and {str(one) for one in repair.statements} <= self.wrong(study, plant)
        ]
        if places:
            self.mended[plant.kind] += 1
            self.first += min(places) == 0
        else:
            self.unmended.append(f"{study.seed}: {plant.kind}")

    @staticmethod
    def wrong(study: Drawn, plant: Plant) -> frozenset[str]:
        """The wrong statements of a plant, and of others that bear on the same subjects."""
        same = [one for one in study.plants if set(one.subjects) & set(plant.subjects)]
        return frozenset().union(*(one.wrong for one in same))

    @property
    def right_share(self) -> float:
        """Of the agreed subjects, those of which every statement is true."""
        return 1 - len(self.agreed_wrong) / max(1, self.agreed)

    @property
    def bare_right_share(self) -> float:
        """Of the agreed subjects that lean on nothing suspected, those of which every statement is true."""
        return 1 - (len(self.agreed_wrong) - self.leaning_wrong) / max(1, self.agreed - self.leaning)

    @property
    def found_share(self) -> float:
        """Of the planted contradictions, those found."""
        return 1 - len(self.missed) / max(1, self.planted.total())

    @property
    def mended_share(self) -> float:
        """Of the planted contradictions, those whose true repair is among the first three (not found: not among)."""
        return self.mended.total() / max(1, self.planted.total())
