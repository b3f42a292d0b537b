"""What is amiss on a board, or not done yet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.board._board import PinAt
from latchlore.board._catalogue import find_type
from latchlore.board._markings import Fit, near_types
from latchlore.board._parts import Role
from latchlore.board._registermap import PinDrive, Trouble

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import Origin
    from latchlore.board._network import NetNode, Network


def find_troubles(network: Network, drives: list[PinDrive]) -> Iterator[Trouble]:
    """Every trouble, parts in file order, then nets, then doubts.

    Kinds: ``not traced``, ``floating input``, ``no driver``, ``two outputs``, ``no pull-up``, ``supply``,
    ``near type``, ``doubt``.
    """
    yield from _inputs(network)
    firsts = {net.pins[0]: (k, net.origin) for k, net in enumerate(network.board.nets) if net.pins}
    for node in network.nets:
        named = [firsts[at] for at in node.pins if at in firsts]
        if named:
            yield from _net_troubles(network, node, min(named, key=lambda pair: pair[0])[1])
    for drive in drives:
        if drive.open_collector and not drive.pulled:
            yield Trouble(
                "no pull-up",
                f"{drive.connector.name}.{drive.pin.number}",
                f"{drive.pin.signal} is open collector and no pull-up is on this board",
                drive.pin.origin,
            )
    yield from _near_types(network)
    for doubt in network.board.doubts:
        yield Trouble("doubt", doubt.place, doubt.words, doubt.origin)


def _inputs(network: Network) -> Iterator[Trouble]:
    for part in network.board.parts:
        for pin in part.type.pins:
            at = PinAt(part.name, pin.number)
            if at in network.board.not_traced and pin.role is not Role.NONE:
                yield Trouble("not traced", str(at), f"{pin.name} of {part.marking} is not traced", part.origin)
            elif pin.role is Role.INPUT and at in network.board.open_pins and _is_used(network, at):
                words = f"input {pin.name} of {part.marking} is connected to nothing"
                yield Trouble("floating input", str(at), words, part.origin)


def _near_types(network: Network) -> Iterator[Trouble]:
    """Parts whose type is easily taken for another that differs at some pins."""
    fit: Fit | None = None
    for part in network.board.parts:
        against = ""
        for k, (other, pins, words) in enumerate(near_types(part.type.name)):
            fit = fit or Fit(network.board)
            if k == 0:
                against = next(iter(fit.misfits(part.name, part.type)), "")
            which = f"pin{'s' if len(pins) > 1 else ''} {', '.join(str(pin) for pin in pins)}"
            said = f"{part.marking} and {other} differ at {which}: {words}"
            row = find_type(other)
            if against and row is not None and not any(fit.misfits(part.name, row)):
                said = f"{said}; the nets fit the {other} better: {against}"
            yield Trouble("near type", part.name, said, part.origin)


def _is_used(network: Network, at: PinAt) -> bool:
    """Whether some output of a block that reads the pin goes anywhere."""
    net = network.index.get(at)
    if net is None:
        return False
    for block, _ in network.nets[net].sinks:
        for out in network.blocks[block].outputs:
            node = network.nets[out]
            if node.sinks or node.plugs or node.host:
                return True
    return False


def _net_troubles(network: Network, node: NetNode, origin: Origin) -> Iterator[Trouble]:
    firm = [
        network.blocks[b].out_pin(k)
        for b, k in node.drivers
        if network.blocks[b].block.drive is Role.OUTPUT and network.board.part(network.blocks[b].part).type.blocks
    ]
    if len(firm) > 1:
        yield Trouble("two outputs", node.name, f"{firm[0]} and {firm[1]} both drive the net at all times", origin)
    if node.rail is not None and node.drivers:
        pin = network.blocks[node.drivers[0][0]].out_pin(node.drivers[0][1])
        yield Trouble("supply", node.name, f"output {pin} is tied to the supply", origin)
    driven = node.drivers or node.outside or node.rail is not None or node.straps or node.mystery
    if node.sinks and not (driven or node.pulls or node.host):
        yield Trouble("no driver", node.name, "inputs only: the driver is not traced, or there is none", origin)
