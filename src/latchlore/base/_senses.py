"""What a register bit follows, how a program looks at it, and which level of a signal means what."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from latchlore.base._addresses import AddressSet
    from latchlore.base._bytetree import InputKind


class BitKind(StrEnum):
    """What stands at the far end of a register bit."""

    FOLLOWS = "follows"  # a named signal, straight or inverted
    TIED = "tied"  # a fixed level
    UNCONNECTED = "unconnected"  # wired to nothing
    UNKNOWN = "unknown"  # not traced, or behind a part that is not known


@dataclass(frozen=True, slots=True)
class BitSense:
    """What one register bit follows.

    FOLLOWS: the bit equals the level of the signal `source` (a connector signal, a strap, another register's bit),
    or its opposite where `inverted`; a signal's level is 1 when its pin is high.  TIED: `level` 0 or 1.
    UNCONNECTED: nothing drives the bit (or the bit drives nothing); `level` None.  UNKNOWN: not done.
    """

    kind: BitKind
    source: str = ""
    inverted: bool = False
    level: int | None = None

    @classmethod
    def follows(cls, source: str, *, inverted: bool = False) -> BitSense:
        """The bit equals the signal, or its opposite."""
        return cls(BitKind.FOLLOWS, source, inverted)

    @classmethod
    def tied(cls, level: int) -> BitSense:
        """The bit always reads as `level`."""
        return cls(BitKind.TIED, level=level)

    @classmethod
    def unconnected(cls) -> BitSense:
        """The bit is wired to nothing."""
        return cls(BitKind.UNCONNECTED)

    @classmethod
    def unknown(cls, why: str = "") -> BitSense:
        """The bit has not been traced, or lies behind something unknown."""
        return cls(BitKind.UNKNOWN, why)

    def __str__(self) -> str:
        match self.kind:
            case BitKind.FOLLOWS:
                return f"NOT {self.source}" if self.inverted else self.source
            case BitKind.TIED:
                return f"always {self.level}"
            case BitKind.UNCONNECTED:
                return "wired to nothing"
            case _:
                return f"not known ({self.source})" if self.source else "not known"


@dataclass(frozen=True, slots=True)
class BitUse:
    """How a program looks at one bit of a register, or pulses it.

    `goes_on_at`: the value at which a polling loop on this bit ends, None where no loop waits for it.  `branches`:
    whether some path is chosen by it.  `outcomes`: for a bit that chooses, what follows for 0 and for 1, in words.
    `pulsed_at`: for a bit that is written, the value that it takes for a pulse and leaves again; None where there is no
    pulse, or where it is not told which of the two values is it.
    """

    goes_on_at: int | None = None
    branches: bool = False
    outcomes: tuple[str, ...] = ()
    pulsed_at: int | None = None

    def __str__(self) -> str:
        parts = []
        if self.goes_on_at is not None:
            parts.append(f"waits until it is {self.goes_on_at}")
        if self.branches:
            chosen = "; ".join(f"{level}: {words}" for level, words in enumerate(self.outcomes))
            parts.append(f"chooses ({chosen})" if chosen else "chooses a path")
        if self.pulsed_at is not None:
            parts.append(f"pulses it at {self.pulsed_at}")
        return ", ".join(parts) or "never looked at"


@dataclass(frozen=True, slots=True)
class BitLevel:
    """The level that a bit or strap had, or has: 0 or 1.  `when`: under which circumstances, in words."""

    level: int
    when: str

    def __post_init__(self) -> None:
        if self.level not in (0, 1):
            raise ValueError(f"a level is 0 or 1, not {self.level!r}")

    def __str__(self) -> str:
        return f"{self.level} {self.when}"


@dataclass(frozen=True, slots=True)
class ActiveLevel:
    """Which level of a signal's pin makes its name true: 1 for BUSY high when busy, 0 for a low-going strobe."""

    level: int

    def __str__(self) -> str:
        return "true when high" if self.level else "true when low"


@dataclass(frozen=True, slots=True)
class SignalRole:
    """Which signal one bit of a register, or the whole of it, carries.

    `addresses`: every address of the register.  `bit` 0 to 7, or None where the whole byte is the signal (data).
    `inverted`: a bit of 1 means that the signal's pin is low.  `active`: the level of the pin that makes the signal's
    name true, where somebody says so.  `home`: the address that stands for the register, where the lowest one reaches
    another register as well; None for the lowest.
    """

    signal: str
    kind: InputKind
    addresses: AddressSet
    direction: Literal["read", "write"]
    bit: int | None = None
    inverted: bool = False
    active: int | None = None
    home: int | None = None

    def __post_init__(self) -> None:
        if self.active not in (None, 0, 1):
            raise ValueError(f"a level is 0 or 1, not {self.active!r}")
        if self.bit is not None and not 0 <= self.bit <= 7:
            raise ValueError(f"a register has bits 0 to 7, not {self.bit!r}")
        if self.direction not in ("read", "write"):
            raise ValueError(f"a register is for 'read' or 'write', not {self.direction!r}")
