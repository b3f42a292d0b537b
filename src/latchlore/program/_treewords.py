"""Events, conditions and leaves of a tree in words, with the names that the board or the study give."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import InputKind, Read, Wait, Write

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from latchlore.base import ByteTable, Condition, CycleRange, Event, InputBit, Leaf, SignalRole
    from latchlore.program._drivers import NamedRegister

MANY_BITS = 3
"""From so many bits of one register on a condition is told by the values of the byte."""

FEW_VALUES = 8


@dataclass(frozen=True, slots=True)
class Names:
    """What registers and bits are called; without any, places only."""

    registers: tuple[NamedRegister, ...] = ()
    roles: tuple[SignalRole, ...] = ()

    def register(self, event: Event) -> str:
        """The name of the register that an event touches, empty where it has none."""
        direction = "write" if isinstance(event, Write) else "read"
        for one in self.registers:
            if one.kind is event.kind and one.direction in (direction, "both") and event.address in one:
                return one.name
        return ""

    def signal(self, kind: InputKind, address: int, bit: int, direction: str) -> str:
        """The signal that a bit carries, empty where nobody says so."""
        for role in self.roles:
            if role.kind is kind and role.bit == bit and role.direction == direction and address in role.addresses:
                return role.signal
        return ""

    def bit(self, bit: InputBit) -> str:
        """An input bit: ``BUSY (B810 bit 6)``."""
        signal = self.signal(bit.kind, bit.address, bit.bit, "read")
        return f"{signal} ({bit})" if signal and not bit.name else str(bit)


def place_words(kind: InputKind, address: int) -> str:
    """An address: ``B810``, ``port 91``."""
    if kind is InputKind.PORT:
        return f"port {address:02X}" if address <= 0xFF else f"port {address:04X}"
    return f"{address:04X}"


def event_words(event: Event, names: Names) -> str:
    """An event: ``write B808 ← 1B (DATA)``."""
    place = place_words(event.kind, event.address)
    name = names.register(event)
    match event:
        case Write():
            return f"write {place} ← {table_words(event.value)}" + (f" ({name})" if name else "")
        case Read():
            thrown = ", value thrown away" if event.discarded else ""
            return f"read {place}" + (f" ({name})" if name else "") + thrown
        case Wait():
            return wait_words(event, names)


def wait_words(event: Wait, names: Names) -> str:
    """A polling loop: ``wait until BUSY (B810 bit 6) = 1``."""
    place = place_words(event.kind, event.address)
    if event.mask.bit_count() == 1 and len(event.until) == 1:
        bit = event.mask.bit_length() - 1
        signal = names.signal(event.kind, event.address, bit, "read")
        text = f"{place} bit {bit}"
        words = f"wait until {f'{signal} ({text})' if signal else text} = {event.until[0] >> bit}"
    else:
        words = f"wait until {place} masked with {event.mask:02X} {values_words(event.until, event.mask)}"
    return words + (f", at most {event.polls:,} reads" if event.polls is not None else "")


def values_words(values: Iterable[int], mask: int) -> str:
    """Values under a mask: ``is 30``, ``is not 0D``, ``is 20 to 7E or A0``."""
    wanted = set(values)
    every = [value for value in range(mask + 1) if value & ~mask == 0]
    others = [value for value in every if value not in wanted]
    positive, negative = _ranges(sorted(wanted), every), _ranges(others, every)
    if len(negative) < len(positive):
        return f"is not {' nor '.join(negative)}"
    more = f" or {len(positive) - FEW_VALUES} more" if len(positive) > FEW_VALUES else ""
    return f"is {' or '.join(positive[:FEW_VALUES])}{more}"


def _ranges(values: Sequence[int], every: Sequence[int]) -> list[str]:
    """Neighbours among `every` put together."""
    rank = {value: k for k, value in enumerate(every)}
    digits = 2 if not every or every[-1] <= 0xFF else 4
    found: list[list[int]] = []
    for value in values:
        if found and rank[value] == rank[found[-1][1]] + 1:
            found[-1][1] = value
        else:
            found.append([value, value])
    return [
        f"{low:0{digits}X}"
        if low == high
        else f"{low:0{digits}X} {'or' if rank[high] - rank[low] == 1 else 'to'} {high:0{digits}X}"
        for low, high in found
    ]


def condition_words(condition: Condition, names: Names) -> str:
    """A condition; one over many bits of one register is told by values: ``A masked with 7F is 0D``."""
    registers = {(bit.kind, bit.address, bit.turn, bit.name) for bit in condition.bits}
    if len(registers) == 1 and len(condition.bits) >= MANY_BITS:
        mask = sum(1 << bit.bit for bit in condition.bits)
        values = []
        for k in range(1 << len(condition.bits)):
            if condition.table >> k & 1:
                values.append(sum((k >> i & 1) << bit.bit for i, bit in enumerate(condition.bits)))
        words = values_words(values, mask)
        place = byte_words(condition.bits[0])
        whole = mask in (0xFF, 0xFFFF) and mask.bit_length() == 8 * (1 + (max(b.bit for b in condition.bits) > 7))
        return f"{place} {words}" if whole else f"{place} masked with {mask:02X} {words}"
    text = str(condition)
    for bit in sorted(condition.bits, key=lambda one: -len(str(one))):
        if (named := names.bit(bit)) != str(bit):
            text = text.replace(str(bit), named)
    return text


def byte_words(bit: InputBit) -> str:
    """The byte that a bit belongs to."""
    place = bit.name or place_words(bit.kind, bit.address)
    return place + (f" (read {bit.turn + 1})" if bit.turn >= 0 and not bit.name else "")


def table_words(table: ByteTable) -> str:
    """A byte: its value, a copy of another byte, or how many values by what."""
    if not table.bits:
        return f"{table.values[0]:02X}"
    copied = copied_byte(table)
    if copied is not None:
        return copied
    places = ", ".join(sorted({byte_words(bit) for bit in table.bits}))
    possible = sorted(table.possible)
    if len(possible) <= FEW_VALUES:
        return f"{' or '.join(f'{value:02X}' for value in possible)} by {places}"
    return f"one of {len(possible)} values by {places}"


def copied_byte(table: ByteTable) -> str | None:
    """The byte that a table passes on with a mask at most; None where it does more."""
    if len({(bit.kind, bit.address, bit.turn, bit.name) for bit in table.bits}) != 1:
        return None
    fixed = table.values[0]
    mask = sum(1 << bit.bit for bit in table.bits)
    if mask > 0xFF or fixed & mask:
        return None
    for k, value in enumerate(table.values):
        if value != fixed | sum((k >> i & 1) << bit.bit for i, bit in enumerate(table.bits)):
            return None
    words = byte_words(table.bits[0])
    if mask != 0xFF:
        words += f" masked with {mask:02X}"
    return words + (f" with {fixed:02X} set" if fixed else "")


def leaf_words(leaf: Leaf) -> str:
    """The end of a path: ``returns: RTS to the caller``."""
    mark = "" if leaf.is_done else "NOT FOLLOWED: "
    return f"{mark}{leaf.kind.value}: {leaf.reason}"


def cycles_words(cycles: CycleRange) -> str:
    """Cycles in short: ``+12``, ``+12 to 14``, ``+12 or more``."""
    if cycles.most is None:
        return f"+{cycles.least:,} or more"
    return f"+{cycles.least:,}" if cycles.least == cycles.most else f"+{cycles.least:,} to {cycles.most:,}"
