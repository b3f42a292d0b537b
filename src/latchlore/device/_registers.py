"""Registers as a document states them: where the host finds them, and what each bit follows."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from latchlore.base import AddressSet, InputKind, address_digits
from latchlore.device._patterns import readings

if TYPE_CHECKING:
    from collections.abc import Mapping

    from latchlore.base import BitSense, Words
    from latchlore.device._device import Citation
    from latchlore.device._models import DeviceModel

MEMORY_LINES = 16
PORT_LINES = 8
_RANGE = re.compile(r"([0-9A-F]{1,4})(?:-([0-9A-F]{1,4}))?")


@dataclass(frozen=True, slots=True)
class RegisterAddresses:
    """The addresses of one register, of memory or of ports; 16 lines, or 8 for ports of at most two digits; `text` as
    it is written.
    """

    kind: InputKind
    addresses: AddressSet
    text: str

    @property
    def key(self) -> tuple[str, str]:
        """Space and lowest address, as a subject's key has them."""
        lowest = self.addresses.lowest
        return (self.kind.value, address_digits(self.kind, lowest))

    def __str__(self) -> str:
        return self.text


def parse_addresses(text: str) -> RegisterAddresses:
    """``C801``, ``C800-C803``, ``port 90``, several with commas: hexadecimal.  Refuses others."""
    body = text.strip()
    is_port = body.startswith("port ")
    numbers: list[int] = []
    digits = 0
    for part in body.removeprefix("port ").split(","):
        match = _RANGE.fullmatch(part.strip())
        if match is None:
            raise ValueError(
                "an address is up to four upper-case hexadecimal digits, such as C801, C800-C803 or port 90"
            )
        first, last = int(match[1], 16), int(match[2] or match[1], 16)
        if first > last:
            raise ValueError("a range goes from the lower to the higher address")
        numbers += range(first, last + 1)
        digits = max(digits, len(match[1]), len(match[2] or ""))
    lines = PORT_LINES if is_port and digits <= 2 else MEMORY_LINES
    return RegisterAddresses(InputKind.PORT if is_port else InputKind.MEMORY, AddressSet.of(numbers, lines), body)


@dataclass(frozen=True, slots=True)
class DoubtfulAddresses:
    """Addresses as read, and the other readings that doubtful digits leave."""

    first: RegisterAddresses
    others: tuple[RegisterAddresses, ...] = ()

    @classmethod
    def parse(cls, text: str) -> DoubtfulAddresses:
        """Read ``C801`` or ``C80{17}``.  A reading that is no address is no reading."""
        first, *rest = readings(text)
        others = []
        for one in rest:
            try:
                others.append(parse_addresses(one))
            except ValueError:
                continue
        return cls(parse_addresses(first), tuple(others))


@dataclass(frozen=True, slots=True)
class StatedBit:
    """What the document says of one bit: what it follows, or only the signal's name where the sense is not told.

    `pin`: the row of the pin table that turns what was said of the signal's name into the pin's level, where one did.
    `others`: the number and what is said in the other readings that doubtful digits leave.
    """

    number: int
    says: BitSense | Words
    citation: Citation
    pin: Citation | None = None
    others: tuple[tuple[int, BitSense | Words], ...] = ()


@dataclass(frozen=True, slots=True)
class StatedRegister:
    """One row of a register table; `direction` ``read`` or ``write``, as the host sees it.

    `others`: the other readings that doubtful digits of the address leave.  `when_switch`: the switch settings under
    which the row holds.
    """

    place: RegisterAddresses
    direction: str
    bits: tuple[StatedBit, ...]
    citation: Citation
    others: tuple[RegisterAddresses, ...] = ()
    when_switch: Mapping[str, str] = field(default_factory=dict)

    @property
    def key(self) -> tuple[str, str, str]:
        """As a subject's key has it."""
        return (*self.place.key, self.direction)


def find_pin(model: DeviceModel, signal: str) -> int | None:
    """The first row of the pin table that gives the signal's active level; None where none does."""
    rows = (i for i, pin in enumerate(model.pin) if pin.active and pin.signal.casefold() == signal.casefold())
    return next(rows, None)
