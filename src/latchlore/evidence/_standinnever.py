"""What no witness ever exercised, and what therefore is in no specification."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import BitUse, SubjectKind, Witness, Write
from latchlore.evidence import standinwording as words
from latchlore.evidence._signals import signal_name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import SignalRole
    from latchlore.evidence._standin import Basis

NO_SIGNALS = frozenset({"GND", "VCC", "0V", "+5V", "GROUND"})


def iter_never(basis: Basis) -> Iterator[str]:
    """Sentences: lines, bits, control levels, commands, entries and times that nothing ever showed."""
    yield from _unwired(basis)
    yield from _unread_bits(basis)
    yield from _still_controls(basis)
    yield from _unsent_commands(basis)
    yield from _unlogged(basis)
    if not any(row.subject.kind is SubjectKind.TIMING and row.by_witness(Witness.WIRE) for row in basis.table.rows):
        yield words.NO_TIMES


def _unwired(basis: Basis) -> Iterator[str]:
    """Signals of the connector that no register bit was found to carry."""
    carried = {signal_name(role.signal) for role in basis.roles}
    if not basis.table.heard or Witness.BOARD not in basis.table.heard:
        return
    for row in basis.table.rows:
        if row.subject.kind is SubjectKind.SIGNAL:
            name = signal_name(row.subject.key[0])
            if name not in carried and name not in NO_SIGNALS and not name.startswith("DATA"):
                yield words.unwired(row.subject.key[0])


def _unread_bits(basis: Basis) -> Iterator[str]:
    """Status bits that no path looks at, though every path was followed (the program says so)."""
    found: dict[str, list[str]] = {}
    for row in basis.table.rows:
        if row.subject.kind is SubjectKind.BIT and row.subject.key[2] == "read":
            is_unread = any(one.value == BitUse() for one in row.by_witness(Witness.PROGRAM))
            if is_unread and _is_status(basis, row.subject.key[1]):
                found.setdefault(str(row.subject).rpartition(" bit ")[0], []).append(row.subject.key[3])
    for register, bits in found.items():
        yield words.unread_bits(register, bits)


def _is_status(basis: Basis, address: str) -> bool:
    number = int(address, 16)
    return any(role.direction == "read" and number in role.addresses for role in basis.roles)


def _still_controls(basis: Basis) -> Iterator[str]:
    """Lines to the peripheral that the program never makes true, or never makes false."""
    is_done = bool(basis.trees) and all(tree.is_exhausted for tree in basis.trees.values())
    for role in basis.roles:
        if role.direction == "write" and role.bit is not None:
            levels = _written_levels(basis, role)
            if len(levels) == 1:
                yield words.still(role.signal, levels.pop() ^ int(role.inverted), is_done=is_done)


def _written_levels(basis: Basis, role: SignalRole) -> set[int]:
    assert role.bit is not None
    return {
        value >> role.bit & 1
        for tree in basis.trees.values()
        for event in tree.iter_events()
        if isinstance(event, Write) and event.kind is role.kind and event.address in role.addresses
        for value in event.value.possible
    }


def _unsent_commands(basis: Basis) -> Iterator[str]:
    """Commands of the documents that no entry ever sends, or of which that cannot be told."""
    from latchlore.program.testify import emission

    if not basis.trees or not any(role.signal == "DATA" for role in basis.roles):
        return
    never: dict[str, list[str]] = {}
    untold: dict[str, list[str]] = {}
    for command in basis.commands:
        answers = [emission(tree, command.pattern, basis.roles).happens for tree in basis.trees.values()]
        if not any(answers):
            found = untold if None in answers else never
            found.setdefault(command.document, []).append(f"{command.code} ({command.meaning})")
    for document in dict.fromkeys(command.document for command in basis.commands):
        if document in never:
            yield words.unsent(document, never[document])
        if document in untold:
            yield words.untold(document, untold[document])


def _unlogged(basis: Basis) -> Iterator[str]:
    """Entries whose bytes no log ever showed."""
    names = [
        row.subject.key[0]
        for row in basis.table.rows
        if row.subject.kind is SubjectKind.SEQUENCE
        and row.by_witness(Witness.PROGRAM)
        and not row.by_witness(Witness.WIRE)
    ]
    if names:
        yield words.unlogged(names)
