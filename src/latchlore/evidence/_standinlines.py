"""The lines between host and peripheral as the program treats them: who polls which, at which level, and when."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import SubjectKind, Wait

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from latchlore.base import CycleRange, SignalRole
    from latchlore.evidence._standin import Basis
    from latchlore.program.testify import Looks, Timing


def strap_names(basis: Basis) -> frozenset[str]:
    """Straps of the card, in upper case."""
    return frozenset(row.subject.key[0].upper() for row in basis.table.rows if row.subject.kind is SubjectKind.STRAP)


def read_roles(basis: Basis) -> tuple[SignalRole, ...]:
    """Bits that lines of the peripheral are read by; straps of the card left out."""
    straps = strap_names(basis)
    return tuple(
        role
        for role in basis.roles
        if role.direction == "read" and role.bit is not None and role.signal.upper() not in straps
    )


def iter_waits(basis: Basis, role: SignalRole) -> Iterator[Wait]:
    """Polling loops that end at one level of a line."""
    for tree in basis.trees.values():
        for event in tree.iter_events():
            if isinstance(event, Wait) and event.kind is role.kind and event.address in role.addresses:
                assert role.bit is not None
                levels = {value >> role.bit & 1 for value in event.until}
                if event.mask >> role.bit & 1 and len(levels) == 1:
                    yield event


def go_on_pin(basis: Basis, role: SignalRole) -> int | None:
    """The level of a line's pin that lets the host go on; None where loops wait for both."""
    assert role.bit is not None
    levels = {next(iter(wait.until)) >> role.bit & 1 for wait in iter_waits(basis, role)}
    return levels.pop() ^ int(role.inverted) if len(levels) == 1 else None


def looks_at(basis: Basis, role: SignalRole) -> Looks:
    """Over all entries: when a line is looked at behind a strobe (see `program.testify.Looks`)."""
    from latchlore.program.testify import Looks, looks_after

    found = [looks_after(tree, basis.roles, role) for tree in basis.trees.values()]
    return Looks(
        _widest(one.first for one in found),
        _widest(one.blind for one in found),
        tuple(sorted({place for one in found for place in one.places})),
        min((one.again for one in found if one.again is not None), default=None),
    )


def soonest_look(looks: Looks) -> int | None:
    """The least cycles from a strobe to a look, a routine that is entered anew counted in; None where nobody looks."""
    first = None if looks.first is None else looks.first.least
    return min((one for one in (first, looks.again) if one is not None), default=None)


def handshake_cycles(basis: Basis) -> Timing:
    """Over all entries: set-up, width, hold and period in cycles, as `program.testify.Timing`."""
    from latchlore.program.testify import Timing, handshake_timing

    found = [handshake_timing(tree, basis.roles) for tree in basis.trees.values()]
    levels = {one.level for one in found} - {None}
    return Timing(
        _widest(one.set_up for one in found),
        _widest(one.width for one in found),
        _widest(one.hold for one in found),
        _widest(one.period for one in found),
        next((one.at for one in found if one.at is not None), None),
        levels.pop() if len(levels) == 1 else None,
    )


def _widest(ranges: Iterable[CycleRange | None]) -> CycleRange | None:
    found: CycleRange | None = None
    for one in ranges:
        if one is not None:
            found = one if found is None else found.widen(one)
    return found


def data_bits(basis: Basis) -> tuple[int, ...]:
    """The bits of the data register that carry data: those that are no line of their own, such as the strobe."""
    data = [role for role in basis.roles if role.direction == "write" and role.signal == "DATA"]
    own = {
        role.bit
        for role in basis.roles
        if role.direction == "write" and any(role.kind is one.kind and role.addresses == one.addresses for one in data)
    }
    return tuple(bit for bit in range(8) if bit not in own)


def poll_period(basis: Basis, role: SignalRole) -> CycleRange | None:
    """Cycles from look to look over all loops that wait for a line."""
    periods = [wait.period for wait in iter_waits(basis, role)]
    found: CycleRange | None = periods[0] if periods else None
    for period in periods[1:]:
        found = period if found is None else found.widen(period)
    return found


def strobe_level(basis: Basis) -> int | None:
    """The pin's level during the strobe's pulse; None where the strobe is not known."""
    strobes = [role for role in basis.roles if role.signal == "STROBE" and role.direction == "write"]
    if len(strobes) != 1:
        return None
    if strobes[0].active is not None:
        return strobes[0].active
    level = handshake_cycles(basis).level
    return None if level is None else level ^ int(strobes[0].inverted)
