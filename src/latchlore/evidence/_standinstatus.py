"""The idle status byte: what every driver takes, what the card itself fixes, and what is left to the stand-in."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import (
    ActiveLevel,
    AddressSet,
    BitKind,
    BitLevel,
    BitSense,
    InputKind,
    Subject,
    SubjectKind,
    Write,
    address_digits,
)
from latchlore.evidence import standinfacts as facts
from latchlore.evidence._signals import holds_back, signal_name
from latchlore.evidence._standin import Driver, Feed, StatusByte, StatusLine
from latchlore.evidence._standinlines import go_on_pin, read_roles, strap_names
from latchlore.evidence._table import Standing

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import ByteTree
    from latchlore.evidence._standin import Basis

EVERY = range(256)
UNDRIVEN = 0xFF
"""What a bus reads that nothing drives: TTL inputs and pull-ups make it ones; *common practice*."""


class _Register(NamedTuple):
    """A register that is read, all its mirrors, and the address that stands for it."""

    kind: InputKind
    addresses: AddressSet
    home: int

    @property
    def key(self) -> tuple[str, str, str]:
        return (self.kind.value, address_digits(self.kind, self.home), "read")

    def holds(self, kind: InputKind, address: int) -> bool:
        return kind is self.kind and address in self.addresses


class _Wire(NamedTuple):
    """What stands behind one bit: who feeds it, the signal, its sense, and its level where that is fixed."""

    feed: Feed
    signal: str = ""
    inverted: bool = False
    level: int | None = None


def status_bytes(basis: Basis) -> tuple[StatusByte, ...]:
    """One for each status register that decides whether some driver sends, in the order of the roles."""
    found = []
    for register in _registers(basis):
        made = _status_byte(basis, register)
        if made is not None:
            found.append(made)
    return tuple(found)


def _registers(basis: Basis) -> list[_Register]:
    """Registers with a line of the peripheral; where nobody names one, every address that is read."""
    found = [
        _Register(role.kind, role.addresses, role.addresses.lowest if role.home is None else role.home)
        for role in read_roles(basis)
    ]
    if not found:
        read = {
            (event.kind, event.address)
            for tree in basis.trees.values()
            for event in tree.iter_events()
            if not isinstance(event, Write)
        }
        found = [_Register(kind, AddressSet.of((address,)), address) for kind, address in sorted(read)]
    return list(dict.fromkeys(found))


def _status_byte(basis: Basis, register: _Register) -> StatusByte | None:
    from latchlore.program.testify import status_tests

    data = [role for role in basis.roles if role.signal == "DATA" and role.direction == "write"]

    def is_data(kind: InputKind, address: int) -> bool:
        return any(role.kind is kind and address in role.addresses for role in data)

    senders = {name: tree for name, tree in basis.trees.items() if tree.possible_bytes(is_data)}
    asking = {name: tree for name, tree in senders.items() if _reads(tree, register)}
    if not asking:
        return None
    answer = status_tests(asking, register.holds, is_data, undriven=UNDRIVEN)
    drivers = tuple(
        Driver(test.name, test.satisfied_by or test.may_do, not test.satisfied_by, test.is_exhausted)
        for test in answer.tests
    )
    has_line = any(register.holds(role.kind, role.addresses.lowest) for role in read_roles(basis))
    if not has_line and not any(test.tested for test in answer.tests):
        return None
    wires = {bit: _wire(basis, register, bit) for bit in range(8)}
    fixed = {bit: wire.level for bit, wire in wires.items() if wire.level is not None}
    asked = frozenset(EVERY).intersection(*(driver.lets for driver in drivers))
    lets_all = frozenset(value for value in asked if all(value >> bit & 1 == level for bit, level in fixed.items()))
    value = min(lets_all, key=lambda one: _order(basis, one, asked, wires), default=None)
    care = 0 if value is None else sum(1 << bit for bit in range(8) if value ^ 1 << bit not in asked)
    tested = {bit: tuple(test.name for test in answer.tests if bit in test.tested) for bit in range(8)}
    whole = frozenset(test.name for test in answer.tests if len(test.tested) == len(wires))
    bits = tuple(
        _line(basis, register, bit, wires[bit], tested[bit], value, care=care >> bit & 1, whole=whole)
        for bit in range(7, -1, -1)
    )
    row = basis.rows.get(Subject(SubjectKind.REGISTER, register.key))
    origins = () if row is None else tuple(origin for one in row.testimonies for origin in one.origins)
    return StatusByte(_text(register), register.kind, register.addresses, drivers, lets_all, value, care, bits, origins)


def _text(register: _Register) -> str:
    return str(Subject(SubjectKind.REGISTER, register.key)).removesuffix(" (read)").removeprefix("register ")


def _reads(tree: ByteTree, register: _Register) -> bool:
    return any(
        not isinstance(event, Write) and register.holds(event.kind, event.address) for event in tree.iter_events()
    )


def _order(basis: Basis, value: int, asked: frozenset[int], wires: dict[int, _Wire]) -> tuple[int, int, int]:
    """Best first: fewest bits that must be right by chance, then fewest lines that say that something is wrong.

    A byte that relies on a bit which nobody drives works on one card and not on the next.  Lines that no driver looks
    at are still left quiet.  Last the byte itself, ones first as on an undriven bus, so that the order is total.
    """
    by_chance = sum(wires[bit].feed is Feed.NOBODY and value ^ 1 << bit not in asked for bit in range(8))
    wrong = 0
    for bit, wire in wires.items():
        quiet = _quiet_level(basis, wire) if wire.feed is Feed.STAND_IN else None
        wrong += quiet is not None and (value >> bit & 1) != quiet
    return (by_chance, wrong, -value)


def _quiet_level(basis: Basis, wire: _Wire) -> int | None:
    """The bit's level when its line neither holds the host back nor tells it anything; None where nobody says.

    As far as the line's level is stated; for a line that comes as a pulse else the one that no loop waits for.
    """
    is_pulse = signal_name(wire.signal) in facts.PULSE_NAMES
    holds = holds_back(wire.signal)
    row = basis.rows.get(Subject(SubjectKind.SIGNAL, (wire.signal,)))
    said = () if row is None or row.standing is Standing.CONTRADICTED else row.testimonies
    active = next((one.value.level for one in said if isinstance(one.value, ActiveLevel)), None)
    if active is None and is_pulse:
        active = next((go_on_pin(basis, role) for role in read_roles(basis) if role.signal == wire.signal), None)
    if active is None or holds is None:
        return None
    pin = 1 - active if holds or is_pulse else active
    return pin ^ int(wire.inverted)


def _wire(basis: Basis, register: _Register, bit: int) -> _Wire:
    """What the board says stands behind a bit; where it says nothing, what a role states."""
    straps = strap_names(basis)
    row = basis.rows.get(Subject(SubjectKind.BIT, (*register.key, str(bit))))
    senses = [one.value for one in row.testimonies if isinstance(one.value, BitSense)] if row is not None else []
    for sense in senses:
        match sense.kind:
            case BitKind.TIED:
                return _Wire(Feed.TIE, level=sense.level)
            case BitKind.UNCONNECTED:
                return _Wire(Feed.NOBODY)
            case BitKind.FOLLOWS if sense.source.upper() in straps:
                level = _strap_level(basis, sense.source)
                return _Wire(Feed.STRAP, sense.source.upper(), sense.inverted, level)
            case BitKind.FOLLOWS:
                return _Wire(Feed.STAND_IN, sense.source.upper(), sense.inverted)
    for role in basis.roles:
        if role.direction == "read" and role.bit == bit and register.holds(role.kind, role.addresses.lowest):
            return _Wire(Feed.STAND_IN, role.signal, role.inverted)
    return _Wire(Feed.UNKNOWN)


def _strap_level(basis: Basis, name: str) -> int | None:
    """The level of a strap where it is told and not disputed."""
    for row in basis.table.rows:
        if row.subject.kind is SubjectKind.STRAP and row.subject.key[0].upper() == name.upper():
            levels = {one.value.level for one in row.testimonies if isinstance(one.value, BitLevel)}
            return levels.pop() if len(levels) == 1 else None
    return None


def _line(
    basis: Basis,
    register: _Register,
    bit: int,
    wire: _Wire,
    tested_by: tuple[str, ...],
    value: int | None,
    *,
    care: int,
    whole: frozenset[str],
) -> StatusLine:
    level = None if value is None or not care else value >> bit & 1
    pin = None
    if wire.feed is Feed.STAND_IN and value is not None:
        quiet = _quiet_level(basis, wire)
        asked = value >> bit & 1 if level is not None or quiet is None else quiet
        pin = None if level is None and quiet is None else asked ^ int(wire.inverted)
    subject = next(_subjects(basis, register, bit, wire), None)
    standing = Standing.SILENT if subject is None else basis.rows[subject].standing
    # only drivers that compare the whole byte look at it, and it has the level of a bus that nothing drives
    is_chance = wire.feed is Feed.UNKNOWN and bool(tested_by) and level == UNDRIVEN >> bit & 1 and whole >= {*tested_by}
    return StatusLine(bit, wire.feed, wire.signal, level, pin, tested_by, standing, subject, is_chance)


def _subjects(basis: Basis, register: _Register, bit: int, wire: _Wire) -> Iterator[Subject]:
    """The subject that a bit's line rests on: its signal's or strap's row, else its own."""
    kinds = (SubjectKind.SIGNAL, SubjectKind.STRAP)
    for kind, name in product(kinds, dict.fromkeys((wire.signal, wire.signal.lower()))):
        if name and Subject(kind, (name,)) in basis.rows:
            yield Subject(kind, (name,))
    own = Subject(SubjectKind.BIT, (*register.key, str(bit)))
    if own in basis.rows:
        yield own
