"""What decoding a board gives: registers with their addresses, bits and ways; connector pins; what is amiss."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import UnknownName, address_digits
from latchlore.board._matters import NOTHING_MATTERS, Matters

if TYPE_CHECKING:
    from latchlore.base import AddressSet, BitSense, Origin
    from latchlore.board._board import Board, Connector, ConnectorPin, PinAt
    from latchlore.board._loops import Loop


class RegisterKind(StrEnum):
    """What an access does."""

    TAKES = "takes"  # a latch or flip-flop takes the data lines
    GIVES = "gives"  # drivers put something on the data lines
    PULSES = "pulses"  # the access itself is the message: a strobe, a set or a clear


@dataclass(frozen=True, slots=True)
class Reach:
    """A signal that a register bit reaches or comes from, with the way as the pins passed, data side first.

    `inverted`: bit 1 means that the signal's pin is low.  `signal` is a connector signal, a strap, another
    register's bit, or ``enable of SIGNAL``.
    """

    signal: str
    inverted: bool
    way: tuple[PinAt, ...]
    active: int | None = None


class Inside(NamedTuple):
    """A register inside a programmable chip: the part, the chip's type, the register's name."""

    part: str
    chip: str
    register: str


@dataclass(frozen=True, slots=True)
class RegisterBit:
    """One bit.  `number` counts data lines from 0.  `cell` is the latch output pin for a bit that is stored."""

    number: int
    sense: BitSense
    way: tuple[PinAt, ...]
    reaches: tuple[Reach, ...]
    cell: PinAt | None
    origins: tuple[Origin, ...]
    note: str = ""
    strap: str = ""


@dataclass(frozen=True, slots=True)
class Register:
    """One register.

    `addresses`: where it answers or may answer; `certain`: where it does for sure (the same set unless something on
    the way is not known; `unsure` then names what).  `space` memory or port, `direction` read or write.  `bits` by
    number, only those the board connects.  `effects`: what an access does besides.  `also`: addresses at which an
    access of the other direction does the same.  `parts` in file order.  `inside`: the registers inside programmable
    chips that it is.  `home`: the lowest address that reaches no other register of its
    direction, where the very lowest reaches one; else None.  `matters`: the host's lines that can matter to it.
    """

    space: str
    direction: str
    kind: RegisterKind
    addresses: AddressSet
    certain: AddressSet
    bits: tuple[RegisterBit, ...]
    effects: tuple[str, ...]
    reaches: tuple[Reach, ...]
    also: AddressSet
    parts: tuple[str, ...]
    unsure: tuple[str, ...]
    origins: tuple[Origin, ...]
    note: str = ""
    inside: tuple[Inside, ...] = ()
    home: int | None = None
    matters: Matters = NOTHING_MATTERS

    @property
    def lowest(self) -> int:
        """The lowest address."""
        return self.addresses.lowest

    @property
    def label(self) -> str:
        """The registers inside programmable chips that it is, such as ``u5 port B``; empty for others."""
        return "; ".join(f"{one.part} {one.register}" for one in self.inside)

    @property
    def address(self) -> int:
        """The address that stands for it: `home`, or the lowest."""
        return self.addresses.lowest if self.home is None else self.home

    @property
    def mirrors(self) -> int:
        """How many addresses reach it, the lowest included."""
        return self.addresses.count

    @property
    def held_mask(self) -> int:
        """The bits that are the same on every read because a strap stands behind them."""
        return sum(1 << bit.number for bit in self.bits if bit.strap)

    @property
    def key(self) -> tuple[str, str, str]:
        """The key of its subject: space, the address that stands for it in hexadecimal, direction."""
        return (self.space, address_digits(self.space, self.address), self.direction)

    def bit(self, number: int) -> RegisterBit:
        """The bit of that number."""
        for bit in self.bits:
            if bit.number == number:
                return bit
        raise UnknownName(f"register {self.key[1]} has no bit {number}", [str(bit.number) for bit in self.bits])


@dataclass(frozen=True, slots=True)
class PinDrive:
    """What stands behind a connector pin.

    `sense`: what the pin's level follows.  `open_collector`: only ever pulled low.  `way` from the pin inwards.
    `switched_by`: bits that enable its driver.
    """

    connector: Connector
    pin: ConnectorPin
    sense: BitSense
    open_collector: bool
    pulled: bool
    way: tuple[PinAt, ...]
    switched_by: tuple[Reach, ...]
    origins: tuple[Origin, ...]


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two outputs on one net that are, or may be, on at once; `during` names the access."""

    net: str
    first: PinAt
    second: PinAt
    during: str
    addresses: AddressSet
    certain: AddressSet


@dataclass(frozen=True, slots=True)
class Collision:
    """Addresses at which a register and something else answer: another register, or a card that the file states.

    `first` and `other` in words; `space` and `direction` as the register's.
    """

    first: str
    other: str
    space: str
    direction: str
    addresses: AddressSet
    origins: tuple[Origin, ...]


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something amiss or not done: a floating input, a net without a driver, an output without a pull-up."""

    kind: str
    place: str
    words: str
    origin: Origin


@dataclass(frozen=True, slots=True)
class RegisterMap:
    """The result of decoding.  Registers by space, lowest address, direction, kind; pins in connector order."""

    board: Board
    registers: tuple[Register, ...]
    pins: tuple[PinDrive, ...]
    conflicts: tuple[Conflict, ...]
    troubles: tuple[Trouble, ...]
    floating_reads: tuple[tuple[str, AddressSet], ...]
    collisions: tuple[Collision, ...] = ()
    loops: tuple[Loop, ...] = ()

    @property
    def not_done(self) -> tuple[str, ...]:
        """What has not been traced, a sentence a part or connector in file order."""
        counts: dict[str, list[str]] = {}
        for trouble in self.troubles:
            if trouble.kind == "not traced":
                counts.setdefault(trouble.place.split(".", maxsplit=1)[0], []).append(trouble.place)
        return tuple(
            f"{owner}: {len(places)} pins are not traced" if len(places) > 1 else f"{places[0]} is not traced"
            for owner, places in counts.items()
        )

    def reached(self, address: int, direction: str, space: str) -> tuple[str, ...]:
        """Everything that an access reaches or may reach: registers by chip's name or parts, then stated cards."""
        found = [
            register.label or ", ".join(register.parts)
            for register in self.registers
            if (register.space, register.direction) == (space, direction) and _holds(register.addresses, address)
        ]
        found += [
            card.name
            for card in self.board.cards
            if card.space == space and direction in card.directions and _holds(card.addresses, address)
        ]
        return tuple(dict.fromkeys(found))

    def register(self, address: int, direction: str, space: str | None = None) -> Register:
        """The first register that answers at an address in this direction (reads and writes that carry data first)."""
        found = [
            r
            for r in self.registers
            if r.direction == direction and space in (None, r.space) and _holds(r.addresses, address)
        ]
        if not found:
            known = [f"{r.key[1]} ({r.direction})" for r in self.registers]
            raise UnknownName(f"no register answers a {direction} at {address:04X}", known)
        return min(found, key=lambda r: r.kind is RegisterKind.PULSES)


def _holds(addresses: AddressSet, address: int) -> bool:
    return any(address & care == value for care, value in addresses.cubes)


def bit_text(space: str, address: str, direction: str, bit: int) -> str:
    """A register bit as the source of another: the words of its subject."""
    return f"{'port ' if space == 'port' else ''}{address} ({direction}) bit {bit}"
