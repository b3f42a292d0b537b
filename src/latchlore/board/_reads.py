"""Registers that drive the data lines, and what each of their bits follows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import AddressSet, BitSense
from latchlore.board._accesses import data_nets
from latchlore.board._inners import inner_notes, mask_reasons, read_inners, shown_notes
from latchlore.board._matters import matters_words, side_nets, what_matters
from latchlore.board._outputs import end_sense
from latchlore.board._parts import Role
from latchlore.board._reasons import describe_unsure
from latchlore.board._registermap import Inside, Reach, Register, RegisterBit, RegisterKind
from latchlore.board._reread import way_origins
from latchlore.board._ways import End, EndKind, Tracer

if TYPE_CHECKING:
    from latchlore.board._accesses import Access
    from latchlore.board._network import Network
    from latchlore.board._writes import Cell, CellName


def find_reads(network: Network, access: Access, names: dict[Cell, CellName]) -> tuple[list[Register], int]:
    """Every register of a read access, and the plane of addresses where drivers pass on nothing but open lines.

    Addresses with the same ends on every data line are one register.
    """
    tracer = Tracer(access.active, data_is_end=False)
    ends: dict[int, list[End]] = {}
    for number, net in data_nets(network).items():
        on = _driven(network, access, net)
        if on:
            ends[number] = tracer.trace(net, on)
    classes = _classes([end.plane for found in ends.values() for end in found])
    registers: list[Register] = []
    floating = 0
    joined: dict[tuple[tuple[int, tuple[tuple[object, ...], ...]], ...], int] = {}
    has_chips = any(node.block.inner for node in network.blocks)
    for plane in classes:
        here = {k: [e for e in found if e.plane & plane] for k, found in ends.items()}
        if all(e.kind is EndKind.OPEN for found in here.values() for e in found):
            floating |= plane
            continue
        signature = tuple((k, tuple(e.same_as for e in found)) for k, found in here.items() if found)
        if has_chips:  # two registers of a chip may show the same pins and still be two
            inners = tuple((one.part, one.register.name) for one in read_inners(network, access, plane))
            signature = (*signature, (-1, (inners,)))
        joined[signature] = joined.get(signature, 0) | plane
    for signature, plane in joined.items():
        bits = {k: [e for e in ends[k] if e.plane & plane] for k in (item[0] for item in signature if item[0] >= 0)}
        registers.append(_register(network, access, names, plane, bits))
    return registers, floating


def _driven(network: Network, access: Access, net: int) -> int:
    """Where some driver on the board may drive the line."""
    may = 0
    for block, output in network.nets[net].drivers:
        values, enable = access.active.outs[block]
        if network.blocks[block].block.drive is Role.OPEN_COLLECTOR:
            may |= access.full & ~values[output].sure1
        elif enable is not None:
            may |= enable.can1
        else:
            may = access.full
    return may


def _classes(planes: list[int]) -> list[int]:
    """The coarsest disjoint planes of which each given plane is a union."""
    classes: list[int] = []
    for plane in dict.fromkeys(planes):
        rest, split = plane, []
        for one in classes:
            split += [part for part in (one & plane, one & ~plane) if part]
            rest &= ~one
        classes = split + ([rest] if rest else [])
    return classes


def _register(
    network: Network,
    access: Access,
    names: dict[Cell, CellName],
    plane: int,
    bits: dict[int, list[End]],
) -> Register:
    certain = _certain(plane, bits)
    parts = {at.owner for found in bits.values() for end in found for at in end.way}
    order = [part.name for part in network.board.parts if part.name in parts]
    inners = read_inners(network, access, plane)
    passed = {at for found in bits.values() for end in found for at in end.way}
    behind = side_nets(network, passed)
    matters = what_matters(network, behind)
    unsure = (describe_unsure(network, access, behind) if certain != plane else ()) + mask_reasons(inners)
    return Register(
        space=access.cycle.space,
        direction="read",
        kind=RegisterKind.GIVES,
        addresses=access.addresses(plane),
        certain=access.addresses(certain),
        bits=tuple(_bit(network, access, names, number, found) for number, found in sorted(bits.items())),
        effects=(),
        reaches=(),
        also=AddressSet.of_cubes((), access.cycle.width),
        parts=tuple(order),
        unsure=(*unsure, matters_words(matters, access.cycle.lines)) if unsure else (),
        origins=tuple(network.board.part(name).origin for name in order) or (access.cycle.origin,),
        note="; ".join(inner_notes(inners)),
        matters=matters,
        inside=tuple(Inside(inner.part, inner.chip, inner.register.name) for inner in inners),
    )


def _certain(plane: int, bits: dict[int, list[End]]) -> int:
    """Where every bit comes from where it says for sure: all outputs on all ways are on, from the line to the end.

    A bit with two ends needs both of them: where one of two drivers may be off, another register is read.
    """
    for found in bits.values():
        for end in found:
            plane &= end.sure
    return plane


def _bit(network: Network, access: Access, names: dict[Cell, CellName], number: int, ends: list[End]) -> RegisterBit:
    senses = list(dict.fromkeys(end_sense(network, end, names) for end in ends))
    sense = senses[0] if len(senses) == 1 else BitSense.unknown(f"several sources: {', '.join(str(s) for s in senses)}")
    reaches = [_reach(network, end) for end in ends if end.kind in (EndKind.SIGNAL, EndKind.STRAP)]
    reaches += [Reach(via.signal, via.inverted, end.way) for end in ends if end.kind is EndKind.CELL for via in end.via]
    way = ends[0].way
    origins = list(way_origins(network.board, way)) or [
        network.board.part(way[0].owner).origin if way else access.cycle.origin
    ]
    note = "floats" if sense == BitSense.unconnected() else "; ".join(shown_notes(network, ends))
    straps = [end.name for end in ends if end.kind is EndKind.STRAP]
    strap = straps[0] if straps and len(senses) == 1 else ""
    return RegisterBit(number, sense, way, tuple(reaches), None, tuple(origins), note, strap)


def _reach(network: Network, end: End) -> Reach:
    active = next(
        (pin.active for plug in network.board.connectors for pin in plug.pins if pin.signal == end.name), None
    )
    return Reach(end.name, end.inverted, end.way, active)
