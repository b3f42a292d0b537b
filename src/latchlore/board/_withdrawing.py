"""A board without some of its statements: what is withdrawn is not traced any more, never "not joined"."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from latchlore.board._board import Direction, PinAt
from latchlore.board._netfile import unknown_type
from latchlore.board._parts import Role

if TYPE_CHECKING:
    from collections.abc import Iterable

    from latchlore.board._board import Board, Connector


def without(board: Board, withdrawn: Iterable[str]) -> tuple[Board, tuple[str, ...]]:
    """The board without what `Statement.what` names, and those names that the board does not have.

    ``u9.15`` (or several pins): their joints, or that they are open.  ``part u10``: its type.  ``pin j2.10``: its
    signal.  ``level j2.10``: its level.  ``strap w1``: its position.
    """
    missing = []
    for what in withdrawn:
        changed = _without(board, what.lower().split())
        if changed is None:
            missing.append(what)
        else:
            board = changed
    return board, tuple(missing)


def _without(board: Board, words: list[str]) -> Board | None:
    match words:
        case ["part", name]:
            return _no_type(board, name)
        case ["strap", name]:
            straps = tuple(replace(one, joined=None) if one.name == name else one for one in board.straps)
            return None if name not in {one.name for one in board.straps} else replace(board, straps=straps)
        case ["level" | "pin" as kind, pin]:
            return _no_row(board, kind, pin)
        case [*pins] if pins:
            return _no_joints(board, pins)
    return None


def _no_type(board: Board, name: str) -> Board | None:
    if name not in {part.name for part in board.parts}:
        return None
    parts = tuple(
        replace(part, type=unknown_type(len(part.type.pins))) if part.name == name else part for part in board.parts
    )
    return replace(board, parts=parts, _net_at={})


def _no_row(board: Board, kind: str, pin: str) -> Board | None:
    found = False
    plugs: list[Connector] = []
    for plug in board.connectors:
        rows = []
        for row in plug.pins:
            if f"{plug.name}.{row.number}" != pin:
                rows.append(row)
                continue
            found = True
            if kind == "level":
                rows.append(replace(row, active=None))
        plugs.append(replace(plug, pins=tuple(rows)))
    owner, _, number = pin.partition(".")
    untold = {PinAt(owner, int(number))} if found and kind == "pin" else set()
    made = replace(board, connectors=tuple(plugs), not_traced=board.not_traced | untold)
    return made if found else None


def _no_joints(board: Board, names: list[str]) -> Board | None:
    """The pins out of their nets; of a net that has one pin left that pin is not traced either."""
    pins = {at for net in board.nets for at in net.pins if str(at) in names}
    pins |= {at for at in board.open_pins if str(at) in names}
    if {str(at) for at in pins} != set(names):
        return None
    nets = []
    loose = set(pins)
    for net in board.nets:
        left = tuple(at for at in net.pins if at not in pins)
        if len(left) < len(net.pins) and not _is_driven(board, net.name, left):
            loose |= set(left)  # what drives it may be anything now
        if len(left) == len(net.pins) or len(left) > 1 or net.name in {*board.host_signals(), "gnd", "vcc"}:
            nets.append(replace(net, pins=left))
        else:
            loose |= set(left)
    return replace(
        board,
        nets=tuple(net for net in nets if net.pins),
        open_pins=board.open_pins - loose,
        not_traced=board.not_traced | {PinAt(*at) for at in loose},
        _net_at={},
    )


def _is_driven(board: Board, name: str, pins: Iterable[PinAt]) -> bool:
    """Whether something on a net can drive it: the computer, a rail, an output, a connector's signal."""
    if name in {*board.host_signals(), "gnd", "vcc"}:
        return True
    types = {part.name: part.type for part in board.parts}
    directions = {PinAt(plug.name, row.number): row.direction for plug in board.connectors for row in plug.pins}
    for at in pins:
        if at.owner in types and types[at.owner].pin(at.pin).role in _DRIVES:
            return True
        if directions.get(at) in (Direction.IN, Direction.BOTH, Direction.GROUND, Direction.POWER):
            return True
    return any(strap.name == at.owner for strap in board.straps for at in pins)


_DRIVES = frozenset({Role.OUTPUT, Role.THREE_STATE, Role.OPEN_COLLECTOR})
