"""What a replacement for the lost peripheral must do, as far as the weighed study and its program say."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from latchlore.evidence._table import Standing

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from latchlore.base import (
        AddressSet,
        ByteTree,
        Clock,
        CycleRange,
        InputKind,
        Origin,
        SignalRole,
        SpanLimit,
        SpanRange,
        Subject,
    )
    from latchlore.evidence._table import Row, Table


class Feed(StrEnum):
    """Who gives a bit of the status byte its level."""

    STAND_IN = "stand-in"  # a line of the connector
    STRAP = "strap"  # a strap on the card
    TIE = "tie"  # the card ties it to a level
    NOBODY = "nobody"  # wired to nothing: what it reads is chance
    UNKNOWN = "unknown"  # not traced


@dataclass(frozen=True, slots=True)
class Driver:
    """A routine that sends: the status bytes under which it does.

    `depends`: other inputs decide as well, so that no byte lets it send in every case; `lets` then holds those under
    which it may.  `is_exhausted`: whether all of its paths were followed.
    """

    name: str
    lets: frozenset[int]
    depends: bool
    is_exhausted: bool


@dataclass(frozen=True, slots=True)
class StatusLine:
    """One bit of the status byte.

    `level`: what the bit must read while idle, None where both will do.  `pin`: the level at the connector, where the
    stand-in feeds it: the one that is asked for, else the one that says that nothing is wrong; None where nobody says.
    `probably_undriven`: only comparisons of the whole byte look at it, at the level of a bus that nothing drives.
    """

    bit: int
    feed: Feed
    signal: str
    level: int | None
    pin: int | None
    tested_by: tuple[str, ...]
    standing: Standing
    subject: Subject | None
    probably_undriven: bool = False


@dataclass(frozen=True, slots=True)
class StatusByte:
    """The idle byte of one status register.

    `lets_all`: bytes that every driver takes and the card can read; `value`: the one chosen, None where there is none;
    `care`: the bits of it that must be so.  `bits` from 7 down.
    """

    register: str
    kind: InputKind
    addresses: AddressSet
    drivers: tuple[Driver, ...]
    lets_all: frozenset[int]
    value: int | None
    care: int
    bits: tuple[StatusLine, ...]
    origins: tuple[Origin, ...] = ()

    @property
    def pattern(self) -> str:
        """The idle byte bit by bit, 7 on the left, x where either level will do: ``1100 1xxx``; empty without one."""
        if self.value is None:
            return ""
        bits = "".join(str(self.value >> bit & 1) if self.care >> bit & 1 else "x" for bit in range(7, -1, -1))
        return f"{bits[:4]} {bits[4:]}"

    def lets(self, value: int) -> tuple[str, ...]:
        """The drivers that send where the register always reads `value`."""
        return tuple(driver.name for driver in self.drivers if value in driver.lets)


@dataclass(frozen=True, slots=True)
class Demand:
    """One thing that a stand-in must do, keep, or take.

    `key` names it for programs, `what` for people, `says` is the sentence.  `limit`: what the time must keep, where it
    is one, and `cycles` the count of the host's clock that it comes from.  `settle`: what would settle it, empty where
    it is agreed.
    """

    key: str
    what: str
    says: str
    standing: Standing
    subjects: tuple[Subject, ...] = ()
    origins: tuple[Origin, ...] = ()
    settle: tuple[str, ...] = ()
    limit: SpanLimit | SpanRange | None = None
    cycles: CycleRange | None = None


@dataclass(frozen=True, slots=True)
class Answering:
    """Whether something is quick enough for the demand that asks most: ``suffices``, ``measure`` or ``too slow``."""

    what: str
    usual: SpanRange
    verdict: str


@dataclass(frozen=True, slots=True)
class StandIn:
    """The specification.  `never`: what was never exercised, so is not specified; `unsaid`: why parts are missing."""

    title: str
    invented: bool
    status: tuple[StatusByte, ...]
    demands: tuple[Demand, ...]
    answering: tuple[Answering, ...]
    never: tuple[str, ...]
    unsaid: tuple[str, ...]

    def find_demand(self, key: str) -> Demand | None:
        """The demand of that key, or None."""
        return next((one for one in self.demands if one.key == key), None)


@dataclass(frozen=True, slots=True)
class StatedCommand:
    """A command of a document: its code and meaning in words, and the bytes that may stand at each of its places."""

    document: str
    code: str
    meaning: str
    pattern: tuple[frozenset[int], ...]


@dataclass(frozen=True, slots=True)
class Basis:
    """What a specification is made from; `trees` by the names of the entries."""

    table: Table
    roles: tuple[SignalRole, ...]
    trees: Mapping[str, ByteTree]
    clock: Clock | None
    commands: tuple[StatedCommand, ...] = ()
    rows: dict[Subject, Row] = field(default_factory=dict)
    places: Mapping[int, Origin] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.rows.update({row.subject: row for row in self.table.rows})

    def origins(self, addresses: Sequence[int]) -> tuple[Origin, ...]:
        """The places of program addresses, those of no image left out."""
        return tuple(self.places[one] for one in addresses if one in self.places)


_WEAKEST = (Standing.CONTRADICTED, Standing.SILENT, Standing.SINGLE, Standing.AGREED)


def weakest_standing(standings: Sequence[Standing]) -> Standing:
    """The worst of them: what rests on several things stands no better; nothing to rest on is silence."""
    return min(standings, key=_WEAKEST.index, default=Standing.SILENT)
