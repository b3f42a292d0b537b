"""What stands behind each output pin of the connectors."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import BitSense, Origin, address_digits
from latchlore.board._accesses import data_nets
from latchlore.board._board import Direction, PinAt
from latchlore.board._evaluate import Phase, evaluate
from latchlore.board._levels import Levels, known
from latchlore.board._parts import Role
from latchlore.board._registermap import PinDrive, Reach
from latchlore.board._ways import End, EndKind, Tracer
from latchlore.board._writes import cell_pin, inner_text

if TYPE_CHECKING:
    from latchlore.board._accesses import Access
    from latchlore.board._board import Connector, ConnectorPin
    from latchlore.board._network import Network
    from latchlore.board._writes import Cell, CellName, Draft


def find_pin_drives(
    network: Network, accesses: list[Access], names: dict[Cell, CellName], drafts: list[Draft]
) -> tuple[list[PinDrive], dict[Cell, list[Reach]]]:
    """Every output pin's drive in connector order, and for each cell the signals it reaches, nearest first.

    Looked at between two accesses, with the address and data lines unknown.
    """
    phase = resting_phase(network, accesses)
    tracer = Tracer(phase, data_is_end=True, outward=True)
    pulses = _pulse_sources(drafts)
    drives: list[PinDrive] = []
    reached: dict[Cell, list[Reach]] = {}
    data = set(data_nets(network).values())
    for plug in network.board.connectors:
        for pin in plug.pins:
            net = network.index.get(PinAt(plug.name, pin.number))
            if net is None or net in data or pin.direction not in (Direction.OUT, Direction.BOTH):
                continue
            drives.append(_drive(network, tracer, plug, pin, net, names, pulses, reached))
    return drives, reached


def resting_phase(network: Network, accesses: list[Access]) -> Phase:
    """The board between two accesses: control lines at rest, address and data unknown."""
    forced: dict[int, Levels] = {}
    for access in accesses:
        for signal, resting, _ in access.cycle.controls:
            net = network.host.get(signal)
            if net is not None:
                level = known(resting, 1)
                # Lines that rest differently before different accesses are not known between them.
                forced[net] = level if forced.get(net, level) == level else Levels(1, 1)
    return evaluate(network, forced, 1, host_drives_data=True)


def _pulse_sources(drafts: list[Draft]) -> dict[str, tuple[str, bool]]:
    """Signals that an access pulses: signal → (words of the access, low-going)."""
    found: dict[str, tuple[str, bool]] = {}
    for draft in sorted(drafts, key=lambda d: (d.access.cycle.space, d.addresses.lowest, d.access.cycle.direction)):
        address = address_digits(draft.access.cycle.space, draft.addresses.lowest)
        for reach in draft.reaches:
            words = f"the access {address} ({draft.access.cycle.direction})"
            found.setdefault(reach.signal, (words, reach.inverted))
    return found


def _drive(
    network: Network,
    tracer: Tracer,
    plug: Connector,
    pin: ConnectorPin,
    net: int,
    names: dict[Cell, CellName],
    pulses: dict[str, tuple[str, bool]],
    reached: dict[Cell, list[Reach]],
) -> PinDrive:
    node = network.nets[net]
    ends = [end for end in tracer.trace(net, 1) if not (end.kind is EndKind.SIGNAL and end.name == pin.signal)]
    at = PinAt(plug.name, pin.number)
    for end in ends:
        if end.kind is EndKind.CELL and end.cell[1] >= 0:
            way = (*reversed(end.way), at)
            reached.setdefault(end.cell, []).append(Reach(pin.signal, end.inverted, way, pin.active))
    switched = _switches(network, tracer, net, pin, names, reached)
    collectors = [network.blocks[b].block.drive is Role.OPEN_COLLECTOR for b, _ in node.drivers]
    if pin.signal in pulses:
        sense = BitSense.follows(pulses[pin.signal][0], inverted=pulses[pin.signal][1])
    else:
        sense = _sense(network, ends, names)
    return PinDrive(
        connector=plug,
        pin=pin,
        sense=sense,
        open_collector=bool(collectors) and all(collectors),
        pulled=bool(node.pulls),
        way=(at, *(ends[0].way if ends else ())),
        switched_by=tuple(switched),
        origins=_origins(network, pin, node.name),
    )


def _origins(network: Network, pin: ConnectorPin, net: str) -> tuple[Origin, ...]:
    return (pin.origin, *(n.origin for n in network.board.nets if n.name == net))


def _sense(network: Network, ends: list[End], names: dict[Cell, CellName]) -> BitSense:
    senses = list(dict.fromkeys(end_sense(network, end, names) for end in ends))
    if len(senses) == 1:
        return senses[0]
    if not senses:
        return BitSense.unconnected()
    return BitSense.unknown(f"several sources: {', '.join(str(s) for s in senses)}")


def end_sense(network: Network, end: End, names: dict[Cell, CellName]) -> BitSense:
    """What a bit follows whose way ends there."""
    match end.kind:
        case EndKind.SIGNAL | EndKind.HOST | EndKind.STRAP:
            return BitSense.follows(end.name, inverted=end.inverted)
        case EndKind.LEVEL:
            return BitSense.tied(end.level)
        case EndKind.OPEN:
            return BitSense.unconnected()
        case EndKind.CELL:
            name = names.get(end.cell)
            if name is not None:
                return BitSense.follows(name.text, inverted=end.inverted ^ name.inverted)
            node = network.blocks[end.cell[0]]
            if node.block.inner:
                return BitSense.follows(inner_text(node, end.cell[1]), inverted=end.inverted)
            return BitSense.follows(f"the state of {cell_pin(node, end.cell[1])}", inverted=end.inverted)
        case _:
            return BitSense.unknown(end.name)


def _switches(
    network: Network,
    tracer: Tracer,
    net: int,
    pin: ConnectorPin,
    names: dict[Cell, CellName],
    reached: dict[Cell, list[Reach]],
) -> list[Reach]:
    """Register bits that turn a three-state driver of the pin on or off."""
    found: list[Reach] = []
    for number, output in network.nets[net].drivers:
        node = network.blocks[number]
        levels = tracer.phase.inputs(number)
        enable = node.block.enable
        if node.block.programmed or enable is None or not enable(*levels).unknown:
            continue
        for k, level in enumerate(levels):
            if not level.unknown:
                continue
            low = enable(*levels[:k], Levels(1, 0), *levels[k + 1 :])
            high = enable(*levels[:k], Levels(0, 1), *levels[k + 1 :])
            if low == high:
                continue
            turned = bool(high.sure0 or low.sure1)
            for end in tracer.trace(node.inputs[k], 1):
                if end.kind is EndKind.CELL and end.cell[1] >= 0:
                    way = (*reversed(end.way), node.in_pin(k), node.out_pin(output))
                    reach = Reach(f"enable of {pin.signal}", end.inverted ^ turned, way)
                    reached.setdefault(end.cell, []).append(reach)
                    name = names.get(end.cell)
                    if name is not None:
                        found.append(Reach(name.text, reach.inverted ^ name.inverted, way))
    return found
