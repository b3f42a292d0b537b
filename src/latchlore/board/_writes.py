"""Registers that take the data lines, and accesses that are themselves the message."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import AddressSet, BitSense, Origin, address_digits
from latchlore.board._board import Direction, PinAt
from latchlore.board._inners import bit_notes, find_inner, inner_notes, mask_reasons
from latchlore.board._matters import control_nets, matters_words, side_nets, what_matters
from latchlore.board._moves import held_by, moving_nets, still_plane
from latchlore.board._parts import Timing
from latchlore.board._reasons import describe_unsure
from latchlore.board._registermap import Inside, Reach, Register, RegisterBit, RegisterKind, bit_text
from latchlore.board._reread import way_origins
from latchlore.board._ways import MAX_STATES, EndKind, Tracer

if TYPE_CHECKING:
    from latchlore.board._accesses import Access
    from latchlore.board._network import BlockNode, Network
    from latchlore.board._parts import Capture
    from latchlore.board._registermap import PinDrive

Cell = tuple[int, int]  # (block, state bit)


class CellName(NamedTuple):
    """A cell as a register's bit: the bit's text, and whether the cell holds its opposite."""

    text: str
    inverted: bool


class Take(NamedTuple):
    """A cell that takes a data line, perhaps inverted; the way runs from the cell's data pin to the data line."""

    cell: Cell
    inverted: bool
    way: tuple[PinAt, ...]


@dataclass(slots=True)
class Draft:
    """A register while it is put together."""

    access: Access
    possible: int
    sure: int
    takes: dict[int, list[Take]] = field(default_factory=dict)
    effects: list[str] = field(default_factory=list)
    reaches: list[Reach] = field(default_factory=list)
    parts: set[str] = field(default_factory=set)
    timings: set[str] = field(default_factory=set)
    inners: dict[tuple[str, str], None] = field(default_factory=dict)
    causes: set[int] = field(default_factory=set)
    behind: set[int] = field(default_factory=set)
    also: AddressSet | None = None
    home: int | None = None

    @property
    def addresses(self) -> AddressSet:
        """Where it answers or may answer."""
        return self.access.addresses(self.possible)

    @property
    def key(self) -> tuple[str, str, AddressSet]:
        """What makes two drafts one register."""
        return (self.access.cycle.space, self.access.cycle.direction, self.addresses)

    def finish(self, network: Network, drives: list[PinDrive], ends: dict[Cell, list[Reach]]) -> Register:
        """The register, with the signals its bits reach."""
        cycle, where = self.access.cycle, self.addresses
        bits = tuple(_finish_bit(network, number, take, ends, drives) for number, take in sorted(self.takes.items()))
        order = {part.name: k for k, part in enumerate(network.board.parts)}
        parts = tuple(sorted(self.parts, key=lambda name: order.get(name, len(order))))
        unsure = describe_unsure(network, self.access, self.causes) if self.sure != self.possible else ()
        inners = [inner for part, name in self.inners if (inner := find_inner(network.board, part, name)) is not None]
        unsure += mask_reasons(inners)
        matters = what_matters(network, self.behind)
        if unsure:
            unsure += (matters_words(matters, cycle.lines),)
        return Register(
            space=cycle.space,
            direction=cycle.direction,
            kind=RegisterKind.TAKES if bits else RegisterKind.PULSES,
            addresses=where,
            certain=self.access.addresses(self.sure),
            bits=bits,
            effects=tuple(dict.fromkeys(sorted(self.effects))),
            reaches=tuple(self.reaches),
            also=self.also or AddressSet.of_cubes((), where.width),
            parts=parts,
            unsure=unsure,
            origins=_part_origins(network, parts) or (cycle.origin,),
            note="; ".join([*sorted(self.timings), *inner_notes(inners)]),
            home=self.home,
            matters=matters,
            inside=tuple(Inside(inner.part, inner.chip, inner.register.name) for inner in inners),
        )


def find_writes(network: Network, accesses: list[Access]) -> list[Draft]:
    """Drafts of all registers that take data and of all pulses, in order of space, address set and direction."""
    drafts: dict[tuple[str, str, AddressSet], Draft] = {}
    for access in accesses:
        if access.cycle.direction == "write":
            for number, node in enumerate(network.blocks):
                for capture in node.block.captures:
                    _add_capture(drafts, access, number, node, capture)
    for access in accesses:
        _add_pulses(network, drafts, access)
    for access in accesses:
        if access.cycle.direction == "read":
            _add_also(network, drafts, access)
    set_homes(list(drafts.values()))
    return list(drafts.values())


def set_homes(drafts: list[Draft]) -> None:
    """Give a register that shares its lowest address with another one the lowest address that it has alone."""
    for draft in drafts:
        if not draft.takes:
            continue
        mine, cycle = draft.addresses, draft.access.cycle
        others = [
            other.addresses
            for other in drafts
            if other is not draft
            and other.takes
            and (other.access.cycle.space, other.access.cycle.direction) == (cycle.space, cycle.direction)
            and other.addresses.width == mine.width
            and not mine.is_disjoint(other.addresses)
        ]
        if any(mine.lowest in other for other in others):
            alone = mine
            for other in others:
                alone = alone - other
            if alone:
                draft.home = alone.lowest


def name_cells(drafts: list[Draft]) -> dict[Cell, CellName]:
    """Each cell that takes a data line, as the bit of the register with the lowest address."""
    names: dict[Cell, CellName] = {}
    for draft in sorted(drafts, key=lambda d: (d.access.cycle.space, d.addresses.lowest)):
        here = draft.addresses.lowest if draft.home is None else draft.home
        address = address_digits(draft.access.cycle.space, here)
        for number, takes in sorted(draft.takes.items()):
            for take in takes:
                text = bit_text(draft.access.cycle.space, address, draft.access.cycle.direction, number)
                names.setdefault(take.cell, CellName(text, take.inverted))
    return names


def inner_text(node: BlockNode, state: int) -> str:
    """A bit inside a programmable chip, as the source of another."""
    single = node.block.states == 1
    if node.block.bits and node.block.bits[state]:
        return f"{node.part} {node.block.bits[state]}"
    return f"{node.part} {node.block.inner}" if single else f"{node.part} {node.block.inner} bit {state}"


def cell_pin(node: BlockNode, state: int) -> PinAt:
    """The output pin that shows a state bit; the data pin for a bit that is shown nowhere."""
    outputs = node.block.outputs or tuple(c.data for c in node.block.captures if c.state == state)
    if not node.block.outputs:
        return node.in_pin(outputs[0])
    return node.out_pin(state if node.block.states > 1 and 0 <= state < len(outputs) else 0)


def capture_planes(access: Access, number: int, capture: Capture) -> tuple[int, int]:
    """Where the capture happens for sure, and where it may happen, during the access."""
    rest, active = access.rest.inputs(number), access.active.inputs(number)
    before, now = rest[capture.clock], active[capture.clock]
    if capture.timing in (Timing.FALL, Timing.LOW):
        before, now = ~before, ~now
    # A rising clock takes data at the start or at the end of the access; a gate opens for it, or shuts for it.
    sure = (before.sure0 & now.sure1) | (before.sure1 & now.sure0)
    possible = (before.can0 & now.can1) | (before.can1 & now.can0)
    if capture.timing in (Timing.HIGH, Timing.LOW):
        sure, possible = before.sure0 & now.sure1, before.can0 & now.can1
    if capture.enable is not None:
        block = access.active.network.blocks[number].block
        enable = capture.enable(*active) if block.step is not None else None
        if enable is not None:
            sure, possible = sure & enable.sure1, possible & enable.can1
    network = access.active.network
    if network.blocks[number].block.masked:
        sure = 0
    seen = possible & ~(before.unknown & now.unknown)
    possible &= ~still_plane(network, access, network.blocks[number].inputs[capture.clock])
    return sure, seen if not _is_selected(access, seen, possible) else possible


def _is_selected(access: Access, seen: int, possible: int) -> bool:
    """Whether what may happen is chosen by anything traced: no line or address keeps it away is no choice."""
    return bool(seen) or possible != access.full


def _add_capture(
    drafts: dict[tuple[str, str, AddressSet], Draft], access: Access, number: int, node: BlockNode, capture: Capture
) -> None:
    sure, possible = capture_planes(access, number, capture)
    if not possible or sure == access.full:
        return  # what happens at every address is selected by none
    tracer = Tracer(access.active, data_is_end=True)
    holders = held_by(access, number, capture)
    for plane in holders.values():
        sure &= ~plane
    ends = tracer.trace(node.inputs[capture.data], possible)
    for end in ends:
        if end.kind is not EndKind.HOST or end.name[:1] != "d" or not end.name[1:].isdigit():
            continue
        certain = sure & end.sure
        for other in ends:
            if other is not end:
                certain &= ~other.plane  # two outputs on the way may be on together: the cell may take either
        draft = _draft(drafts, access, end.plane, certain)
        cell = (number, capture.state)
        way = (cell_pin(node, capture.state), node.in_pin(capture.data), *end.way)
        draft.takes.setdefault(int(end.name[1:]), []).append(Take(cell, end.inverted, way))
        draft.parts.add(node.part)
        beside = side_nets(access.active.network, set(end.way))
        draft.causes |= {node.inputs[capture.clock], *beside, *holders}
        draft.behind |= beside
        draft.causes.update(node.inputs if node.block.inner else ())
        draft.behind.update(control_nets(access.active.network, number))
        if node.block.inner:
            draft.inners[node.part, node.block.inner] = None
        draft.timings.add(_timing_words(access, number, capture, end.plane))


def _timing_words(access: Access, number: int, capture: Capture, plane: int) -> str:
    if capture.timing in (Timing.HIGH, Timing.LOW):
        return "open during the access"
    before, now = access.rest.inputs(number)[capture.clock], access.active.inputs(number)[capture.clock]
    if capture.timing is Timing.FALL:
        before, now = ~before, ~now
    rises, falls = plane & before.can0 & now.can1, plane & before.can1 & now.can0
    if rises and falls:
        return "takes data at the start of the access or at its end"
    return "takes data at the start of the access" if rises else "takes data at its end"


def _draft(drafts: dict[tuple[str, str, AddressSet], Draft], access: Access, possible: int, sure: int) -> Draft:
    key = (access.cycle.space, access.cycle.direction, access.addresses(possible))
    found = drafts.get(key)
    if found is None:
        found = drafts[key] = Draft(access, possible, sure)
    found.sure &= sure
    return found


def _add_pulses(network: Network, drafts: dict[tuple[str, str, AddressSet], Draft], access: Access) -> None:
    for number, node in enumerate(network.blocks):
        if node.block.step is None:
            continue
        for words, plane in _state_effects(access, number, node):
            if plane and plane != access.full and _is_seen(network, node):
                draft = _draft(drafts, access, plane, plane)
                draft.effects.append(words)
                draft.parts.add(node.part)
                draft.behind.update(node.inputs)
    for net, joint in enumerate(network.nets):
        before, now = access.rest.nets[net], access.active.nets[net]
        for plug, pin in joint.plugs:
            if plug.is_host or pin.direction not in (Direction.OUT, Direction.BOTH):
                continue
            # A level that a storing block holds is set or cleared by an access, not pulsed.
            still = 0 if net in moving_nets(network, access) else before.unknown
            for inverted, sure, able in (
                (True, before.sure1 & now.sure0, before.can1 & now.can0 & ~still),
                (False, before.sure0 & now.sure1, before.can0 & now.can1 & ~still),
            ):
                seen = able & ~(before.unknown & now.unknown)
                if able and sure != access.full and not joint.host and _is_selected(access, seen, able):
                    draft = _draft(drafts, access, able, sure)
                    draft.causes.add(net)
                    draft.effects.append(f"{'low' if inverted else 'high'} pulse on {pin.signal}")
                    draft.reaches.append(Reach(pin.signal, inverted, (PinAt(plug.name, pin.number),), pin.active))
                    draft.parts.update(network.blocks[block].part for block, _ in joint.drivers)
                    draft.behind.add(net)


def _is_seen(network: Network, node: BlockNode) -> bool:
    """Whether anything looks at the block's outputs."""
    return any(network.nets[net].sinks or network.nets[net].plugs or network.nets[net].host for net in node.outputs)


def _state_effects(access: Access, number: int, node: BlockNode) -> list[tuple[str, int]]:
    """What an access does to a storing block besides taking data: sets, clears, clocks."""
    rest, active = access.rest.inputs(number), access.active.inputs(number)
    changed = 0
    for before, now in zip(rest, active, strict=True):
        changed |= (before.sure0 & now.sure1) | (before.sure1 & now.sure0)
    if not changed or node.block.inner or node.block.opaque:
        return []
    effects = _forced_effects(access, number, node, changed) if node.block.states <= MAX_STATES else []
    if effects or node.block.captures:
        return effects
    pins = [
        str(node.in_pin(k))
        for k, (before, now) in enumerate(zip(rest, active, strict=True))
        if (before.sure0 & now.sure1) | (before.sure1 & now.sure0)
    ]
    return [(f"{'starts' if node.block.timed else 'works on'} {node.part} by {', '.join(pins)}", changed)]


def _forced_effects(access: Access, number: int, node: BlockNode, changed: int) -> list[tuple[str, int]]:
    """State bits that an access sets or clears for sure, and that were not forced so before."""
    rest, active = access.rest.inputs(number), access.active.inputs(number)
    step = node.block.step
    assert step is not None
    unknown = (access.active.unknown,) * node.block.states
    after = step(active, rest, step(rest, active, unknown))
    held = step(rest, rest, unknown)
    effects = []
    for k, level in enumerate(after):
        pin = cell_pin(node, k)
        effects.append((f"sets {pin}", level.sure1 & ~held[k].sure1 & changed))
        effects.append((f"clears {pin}", level.sure0 & ~held[k].sure0 & changed))
    return [(words, plane) for words, plane in effects if plane]


def _add_also(network: Network, drafts: dict[tuple[str, str, AddressSet], Draft], access: Access) -> None:
    """Mark registers that a read clocks as well."""
    for draft in drafts.values():
        if draft.access.cycle.space != access.cycle.space or draft.access.cycle.direction != "write":
            continue
        plane = 0
        for takes in draft.takes.values():
            for take in takes:
                node = network.blocks[take.cell[0]]
                for capture in node.block.captures:
                    if capture.state == take.cell[1]:
                        plane |= capture_planes(access, take.cell[0], capture)[1]
        if plane:
            more = access.addresses(plane)
            draft.also = more if draft.also is None else draft.also | more


def _finish_bit(
    network: Network, number: int, takes: list[Take], ends: dict[Cell, list[Reach]], drives: list[PinDrive]
) -> RegisterBit:
    reaches: list[Reach] = []
    for take in takes:
        for reach in ends.get(take.cell, []):
            way = (*reversed(take.way), *reach.way)
            reaches.append(Reach(reach.signal, reach.inverted ^ take.inverted, way, reach.active))
    first = takes[0]
    node = network.blocks[first.cell[0]]
    pin = cell_pin(node, first.cell[1])
    return RegisterBit(
        number=number,
        sense=_bit_sense(network, takes, reaches),
        way=tuple(reversed(first.way)),
        reaches=tuple(reaches),
        cell=pin,
        origins=_bit_origins(network, first, reaches, drives),
        note="; ".join(
            [f"also {'NOT ' if r.inverted else ''}{r.signal}" for r in reaches[1:]] + bit_notes(network, takes, number)
        ),
    )


def _bit_sense(network: Network, takes: list[Take], reaches: list[Reach]) -> BitSense:
    if reaches:
        return BitSense.follows(reaches[0].signal, inverted=reaches[0].inverted)
    inner = next((n for n in (network.blocks[take.cell[0]] for take in takes) if n.block.inner), None)
    if inner is not None:
        state = next(take.cell[1] for take in takes if network.blocks[take.cell[0]] is inner)
        return BitSense.follows(inner_text(inner, state))
    goes, untraced = [], []
    for take in takes:
        node = network.blocks[take.cell[0]]
        for net in node.outputs:
            goes += [network.blocks[b].in_pin(k) for b, k in network.nets[net].sinks if b != take.cell[0]]
            if network.nets[net].untraced:
                untraced.append(network.nets[net].name)
    if goes:
        return BitSense.unknown(f"goes to {', '.join(sorted({str(at) for at in goes}))}")
    if untraced:
        return BitSense.unknown(f"{untraced[0]} is not traced")
    return BitSense.unconnected()


def _bit_origins(network: Network, take: Take, reaches: list[Reach], drives: list[PinDrive]) -> tuple[Origin, ...]:
    origins: list[Origin] = []
    for reach in reaches:
        origins += [d.pin.origin for d in drives if d.pin.signal == reach.signal]
    origins += way_origins(network.board, take.way)
    return tuple(dict.fromkeys(origins)) or _part_origins(network, (network.blocks[take.cell[0]].part,))


def _part_origins(network: Network, parts: tuple[str, ...]) -> tuple[Origin, ...]:
    return tuple(part.origin for part in network.board.parts if part.name in parts)
