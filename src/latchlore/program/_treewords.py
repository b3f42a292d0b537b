"""Events, conditions and leaves of a tree in words, with the names that the board or the study give."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from latchlore.base import Condition, InputKind, Read, Wait, Write, describe_place

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from latchlore.base import ByteTable, ByteTree, CycleRange, Event, InputBit, Leaf, SignalRole
    from latchlore.program._drivers import NamedRegister

MANY_BITS = 3
"""From so many bits of one register on a condition is told by the values of the byte."""

FEW_VALUES = 8


@dataclass(frozen=True, slots=True)
class Names:
    """What registers and bits are called; without any, places only.

    `several`: registers of which a tree keeps more than one reading at a time, so that their bits say which one.
    """

    registers: tuple[NamedRegister, ...] = ()
    roles: tuple[SignalRole, ...] = ()
    several: frozenset[tuple[InputKind, int]] = frozenset()

    def of_tree(self, tree: ByteTree) -> Names:
        """The same names for the readings of a tree."""
        turns: dict[tuple[InputKind, int], set[int]] = {}
        for event in tree.iter_events():
            if not isinstance(event, Write):
                turns.setdefault((event.kind, event.address), set()).add(event.turn)
        return replace(self, several=frozenset(place for place, found in turns.items() if len(found) > 1))

    def reading(self, kind: InputKind, address: int, turn: int) -> str:
        """Which reading is meant: ``, reading 2``, empty where there is only one at a time."""
        return f", reading {turn + 1}" if turn >= 0 and (kind, address) in self.several else ""

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
        if bit.name:
            return f"{bit.name} bit {bit.bit}"
        signal = self.signal(bit.kind, bit.address, bit.bit, "read")
        place = f"{describe_place(bit.kind, bit.address)} bit {bit.bit}{self.reading(bit.kind, bit.address, bit.turn)}"
        return f"{signal} ({place})" if signal else place

    def byte(self, bit: InputBit) -> str:
        """The byte that a bit belongs to."""
        return bit.name or describe_place(bit.kind, bit.address) + self.reading(bit.kind, bit.address, bit.turn)


def event_words(event: Event, names: Names) -> str:
    """An event: ``write B808 ← 1B (DATA)``."""
    place = describe_place(event.kind, event.address)
    name = names.register(event)
    match event:
        case Write():
            return f"write {place} ← {table_words(event.value, names)}" + (f" ({name})" if name else "")
        case Read():
            thrown = ", value thrown away" if event.discarded else ""
            which = names.reading(event.kind, event.address, event.turn)
            return f"read {place}" + (f" ({name})" if name else "") + thrown + which
        case Wait():
            return wait_words(event, names)


def wait_words(event: Wait, names: Names) -> str:
    """A polling loop: ``wait until BUSY (B810 bit 6) = 1``."""
    place = describe_place(event.kind, event.address)
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
    """A condition: ``BUSY (B810 bit 6) = 1``, ``B810 bits 1, 0 are 01 or 10``, ``A masked with 7F is 0D``."""
    if not condition.table or not condition.bits:
        return "always" if condition.table else "never"
    held = [k for k in range(1 << len(condition.bits)) if condition.table >> k & 1]
    groups: dict[tuple[object, ...], list[int]] = {}
    for i, bit in enumerate(condition.bits):
        groups.setdefault((bit.kind, bit.address, bit.turn, bit.name), []).append(i)
    cases = [sorted({sum((k >> i & 1) << i for i in group) for k in held}) for group in groups.values()]
    if math.prod(len(one) for one in cases) == len(held):  # each register has its own condition, whatever the others
        parts = zip(groups.values(), cases, strict=True)
        return " and ".join(_register_words(condition.bits, group, mine, names) for group, mine in parts)
    bits = ", ".join(names.bit(bit) for bit in condition.bits)
    shown = " or ".join("".join(str(k >> i & 1) for i in range(len(condition.bits))) for k in held[:FEW_VALUES])
    return f"({bits}) are {shown}" + (f" or {len(held) - FEW_VALUES} more" if len(held) > FEW_VALUES else "")


def _register_words(bits: Sequence[InputBit], group: Sequence[int], cases: Sequence[int], names: Names) -> str:
    """What a condition says of one register; `cases`: levels at the places of `bits`."""
    mine = sorted((bits[i] for i in group), key=lambda bit: -bit.bit)
    mask = sum(1 << bit.bit for bit in mine)
    values = sorted({sum((case >> i & 1) << bits[i].bit for i in group) for case in cases})
    if len(values) == 1 and len(mine) < MANY_BITS:
        return " and ".join(f"{names.bit(bit)} = {values[0] >> bit.bit & 1}" for bit in mine)
    if len(mine) < MANY_BITS:
        places = ", ".join(str(bit.bit) for bit in mine)
        signals = [names.signal(bit.kind, bit.address, bit.bit, "read") for bit in mine]
        named = f" ({', '.join(signals)})" if all(signals) and not mine[0].name else ""
        others = [value for value in range(mask + 1) if value & ~mask == 0 and value not in values]
        told = others if len(others) < len(values) else values
        shown = " or ".join("".join(str(value >> bit.bit & 1) for bit in mine) for value in told)
        return f"{names.byte(mine[0])} bits {places}{named} are {'' if told is values else 'not '}{shown}"
    whole = mask == (1 << (8 if mask <= 0xFF else 16)) - 1
    return f"{names.byte(mine[0])}{'' if whole else f' masked with {mask:02X}'} {values_words(values, mask)}"


FEW_CASES = 4


def table_words(table: ByteTable, names: Names) -> str:
    """A byte: its value, a copy of another byte, the few values and when, or how many by what."""
    if not table.bits:
        return f"{table.values[0]:02X}"
    copied = copied_byte(table, names)
    if copied is not None:
        return copied
    possible = sorted(table.possible)
    if len(possible) <= FEW_CASES and len(table.bits) <= 2 * MANY_BITS:
        cases = []
        for value in possible:
            held = sum(1 << k for k, one in enumerate(table.values) if one == value)
            cases.append(f"{value:02X} if {condition_words(Condition(table.bits, held), names)}")
        return ", ".join(cases)
    places = ", ".join(sorted({names.byte(bit) for bit in table.bits}))
    if len(possible) <= FEW_VALUES:
        return f"{' or '.join(f'{value:02X}' for value in possible)} by {places}"
    return f"one of {len(possible)} values by {places}"


def copied_byte(table: ByteTable, names: Names) -> str | None:
    """The byte that a table passes on with a mask at most; None where it does more."""
    if len({(bit.kind, bit.address, bit.turn, bit.name) for bit in table.bits}) != 1:
        return None
    fixed = table.values[0]
    mask = sum(1 << bit.bit for bit in table.bits)
    if mask > 0xFF or fixed & mask:
        return None
    expected = [fixed]
    for bit in table.bits:
        expected += [value | 1 << bit.bit for value in expected]
    if expected != list(table.values):
        return None
    words = names.byte(table.bits[0])
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
