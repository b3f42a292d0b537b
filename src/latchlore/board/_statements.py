"""Which single statements of a net file, or readings, a testimony of the board rests on."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from latchlore.base import BitKind, Statement, StatementKind
from latchlore.board import wording
from latchlore.board._board import PinAt
from latchlore.board._parts import Role
from latchlore.board._reread import readings_of, silent_readings, stated_at

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from latchlore.board._board import Board, Connector, ConnectorPin, Net, Strap
    from latchlore.board._registermap import Register, RegisterBit

BYTE = 8
"""Lines of a data register."""

Alternatives = tuple[tuple[Statement, ...], ...]


def bit_statements(board: Board, bit: RegisterBit) -> Alternatives:
    """Joints, parts and the connector pin on the way of a bit, from its far end to the data line."""
    reach = next((one for one in bit.reaches if one.signal == bit.sense.source), None)
    way = _whole_way(board, bit, reach.way if reach is not None and len(reach.way) >= len(bit.way) else bit.way)
    found: list[Statement] = []
    for near, far in reversed(list(pairwise(way))):
        net = board.net_of(near)
        if near.owner != far.owner and net is not None and net == board.net_of(far):
            found.append(_joint(board, board.net(net), near, far))
    if way and bit.sense.kind in (BitKind.TIED, BitKind.UNCONNECTED):
        found.insert(0, _end(board, way[-1]))
    first = next((at for at in way[:1] if board.net_of(at) is not None), None)
    if first is not None:
        line = board.net(board.net_of(first) or "")
        about = wording.pin_and_line(first, bit.number)
        found.append(_statement(board, line, first, StatementKind.BUS_JOINT, about, _hosts(board, f"d{bit.number}")))
    found += [_part(board, name) for name in dict.fromkeys(at.owner for at in way if _is_part(board, at.owner))]
    return tuple((one,) for one in dict.fromkeys(found))


def register_statements(board: Board, register: Register) -> Alternatives:
    """Where each address line that matters comes in, tagged ``a13``, and the parts that take or give the data."""
    found: list[Statement] = []
    for line in register.matters.lines:
        net = _host_net(board, f"a{line}")
        pins = [at for at in net.pins if _is_part(board, at.owner)] if net is not None else []
        if net is None or not pins:
            continue
        what = " ".join(str(at) for at in pins)
        about = wording.address_line(line)
        hosts = _hosts(board, f"a{line}")
        found.append(_made(board, net, what, StatementKind.LINE, about, pins, hosts, f"a{line}"))
    return tuple((one,) for one in found)


def level_statement(board: Board, plug: Connector, pin: ConnectorPin) -> Alternatives:
    """The level that a connector's row states."""
    at = PinAt(plug.name, pin.number)
    what, about = f"level {at}", wording.pin_text(at)
    return ((Statement(pin.origin.file, what, StatementKind.LEVEL, about, pin.origin, "", _doubted(board, [at])),),)


def name_statement(board: Board, plug: Connector, pin: ConnectorPin) -> Alternatives:
    """The signal that a connector's row states."""
    at = PinAt(plug.name, pin.number)
    what, about = f"pin {at}", wording.pin_text(at)
    return ((Statement(pin.origin.file, what, StatementKind.NAME, about, pin.origin, "", _doubted(board, [at])),),)


def strap_statement(strap: Strap) -> Alternatives:
    """The position that is stated of a strap."""
    what = f"strap {strap.name}"
    return ((Statement(strap.origin.file, what, StatementKind.POSITION, strap.name.upper(), strap.origin),),)


def data_statements(board: Board, register: Register, lines: frozenset[int]) -> Alternatives:
    """What the count of data lines rests on: joints of those that arrive, open pins of those that do not."""
    found: list[Statement] = []
    for bit in register.bits:
        if bit.number in lines:
            found += [one for (one,) in bit_statements(board, bit) if one.kind is not StatementKind.PART]
        elif bit.cell is not None and bit.number < BYTE:
            found.insert(0, _end(board, bit.cell))
    return tuple((one,) for one in dict.fromkeys(found))


def _host_net(board: Board, signal: str) -> Net | None:
    """The net of a line of the computer: by its name, or by the connector pin that carries it."""
    hosts = _hosts(board, signal)
    return next((net for net in board.nets if net.name == signal or not hosts.isdisjoint(net.pins)), None)


def _hosts(board: Board, signal: str) -> set[PinAt]:
    """The connector pins that carry a line of the computer."""
    return {
        PinAt(plug.name, pin.number)
        for plug in board.connectors
        if plug.is_host
        for pin in plug.pins
        if pin.signal == signal
    }


def _whole_way(board: Board, bit: RegisterBit, way: Sequence[PinAt]) -> tuple[PinAt, ...]:
    """The way without pins that stand twice, and to the connector or strap at its far end."""
    pins = list(dict.fromkeys(way))
    if pins and bit.sense.kind is BitKind.FOLLOWS:
        net = board.net_of(pins[-1])
        ends = [at for at in board.net(net).pins if _names(board, at, bit.sense.source)] if net is not None else []
        pins += [at for at in ends[:1] if at not in pins]
    return tuple(pins)


def _names(board: Board, at: PinAt, signal: str) -> bool:
    """Whether a pin is the strap or connector pin of that signal."""
    if any(strap.name == at.owner == signal for strap in board.straps):
        return True
    pins = (pin for plug in board.connectors if plug.name == at.owner for pin in plug.pins if pin.number == at.pin)
    return any(pin.signal == signal for pin in pins)


def _joint(board: Board, net: Net, near: PinAt, far: PinAt) -> Statement:
    """A joint by the pin whose loss leaves most of the net: the far one, where it is a part's."""
    pin = far if _is_part(board, far.owner) else near
    kind = StatementKind.BUS_JOINT if _is_bus(board, net) else StatementKind.JOINT
    return _statement(board, net, pin, kind, wording.two_pins(near, far), {near, far} - {pin})


def _end(board: Board, at: PinAt) -> Statement:
    """The pin at which a way ends: tied, or wired to nothing."""
    name = board.net_of(at)
    if name is not None:
        return _statement(board, board.net(name), at, StatementKind.JOINT, wording.tied_pin(at, name))
    part = board.part(at.owner).origin if _is_part(board, at.owner) else board.origin
    read = silent_readings(board, at)
    origin = read[0].origin if read else part
    about = wording.pin_text(at)
    return Statement(origin.file, str(at), StatementKind.OPEN, about, origin, "", _doubted(board, [at]), read)


def _statement(
    board: Board, net: Net, at: PinAt, kind: StatementKind, about: str, far: Collection[PinAt] = ()
) -> Statement:
    return _made(board, net, str(at), kind, about, [at], far)


def _made(
    board: Board,
    net: Net,
    what: str,
    kind: StatementKind,
    about: str,
    pins: Sequence[PinAt],
    far: Collection[PinAt],
    tag: str = "",
) -> Statement:
    """A statement that pins stand in a net; `far`: with what they are joined there, where that is known."""
    read = readings_of(board, pins, far)
    origin = read[0].origin if read else stated_at(board, pins) or net.origin
    return Statement(origin.file, what, kind, about, origin, tag, _doubted(board, [*pins, net.name]), read)


def _part(board: Board, name: str) -> Statement:
    part = board.part(name)
    about = wording.part_text(name, part.marking)
    return Statement(part.origin.file, f"part {name}", StatementKind.PART, about, part.origin, "", False)


def _is_bus(board: Board, net: Net) -> bool:
    """Whether parts drive a net in turn, or the computer does."""
    return net.name in board.host_signals() or any(_role(board, at) is Role.THREE_STATE for at in net.pins)


def _role(board: Board, at: PinAt) -> Role | None:
    if not _is_part(board, at.owner):
        return None
    return board.part(at.owner).type.pin(at.pin).role


def _is_part(board: Board, name: str) -> bool:
    return any(part.name == name for part in board.parts)


def _doubted(board: Board, places: Sequence[PinAt | str]) -> bool:
    names = {str(place) for place in places}
    return any(doubt.place in names for doubt in board.doubts)


def find_statement(board: Board, what: str) -> Statement | None:
    """What `Statement.what` names on a board, or None."""
    words = what.lower().split()
    for net in board.nets:
        pins = [at for at in net.pins if str(at) in words]
        if len(pins) == len(words) == 1:
            return _statement(board, net, pins[0], StatementKind.JOINT, wording.pin_and_net(pins[0], net.name))
    for at in board.open_pins:
        if [str(at)] == words:
            return _end(board, at)
    for part in board.parts:
        if words == ["part", part.name]:
            return _part(board, part.name)
    for strap in board.straps:
        if words == ["strap", strap.name]:
            return strap_statement(strap)[0][0]
    for plug in board.connectors:
        for pin in plug.pins:
            if words == ["pin", f"{plug.name}.{pin.number}"]:
                return name_statement(board, plug, pin)[0][0]
            if words == ["level", f"{plug.name}.{pin.number}"] and pin.active is not None:
                return level_statement(board, plug, pin)[0][0]
    return None
