"""The lines between host and peripheral as the program treats them: who polls which, at which level, and when."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import SubjectKind, Wait

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import CycleRange, SignalRole
    from latchlore.evidence._standin import Basis


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


def first_look(basis: Basis, role: SignalRole) -> tuple[CycleRange | None, CycleRange | None, tuple[int, ...]]:
    """Over all entries: cycles from a strobe to the first look at a line, to a strobe without a look; the places."""
    from latchlore.program.testify import looks_after

    first: CycleRange | None = None
    blind: CycleRange | None = None
    places: set[int] = set()
    for tree in basis.trees.values():
        found = looks_after(tree, basis.roles, role)
        if found.first is not None:
            first = found.first if first is None else first.widen(found.first)
        if found.blind is not None:
            blind = found.blind if blind is None else blind.widen(found.blind)
        places |= set(found.places)
    return first, blind, tuple(sorted(places))


def poll_period(basis: Basis, role: SignalRole) -> CycleRange | None:
    """Cycles from look to look over all loops that wait for a line."""
    periods = [wait.period for wait in iter_waits(basis, role)]
    found: CycleRange | None = periods[0] if periods else None
    for period in periods[1:]:
        found = period if found is None else found.widen(period)
    return found


def strobe_level(basis: Basis) -> int | None:
    """The pin's level during the strobe's pulse; None where the strobe is not known."""
    from latchlore.program.testify import handshake_timing

    strobes = [role for role in basis.roles if role.signal == "STROBE" and role.direction == "write"]
    if len(strobes) != 1:
        return None
    if strobes[0].active is not None:
        return strobes[0].active
    levels = {handshake_timing(tree, basis.roles).level for tree in basis.trees.values()} - {None}
    level = levels.pop() if len(levels) == 1 else None
    return None if level is None else level ^ int(strobes[0].inverted)
