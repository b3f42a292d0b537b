"""The way of a bit: from a net back through gates, buffers and multiplexers to what it follows."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Any, NamedTuple

from latchlore.board._board import Direction, PinAt
from latchlore.board._evaluate import drive_planes, rest_levels
from latchlore.board._levels import Levels
from latchlore.board._parts import Role

if TYPE_CHECKING:
    from latchlore.board._evaluate import Phase
    from latchlore.board._network import BlockNode, NetNode, Network

MAX_STATES = 16
"""Blocks with more state bits than this are named as a whole, not by the bit."""


BY_ADDRESS = " by the address"
"""Ends the name of a level that the decode makes, not a tie."""


class EndKind(StrEnum):
    """What stands at the far end of a way."""

    SIGNAL = "signal"
    HOST = "host"
    STRAP = "strap"
    LEVEL = "level"
    CELL = "cell"
    OPEN = "open"
    UNKNOWN = "unknown"


class Via(NamedTuple):
    """A connector signal passed on the way, with the inversion between it and the way's start."""

    signal: str
    inverted: bool


class End(NamedTuple):
    """One end found: `plane` where it holds or may hold, `name` the signal, strap, cell or reason.

    `cell` is (block, state).  `sure` is the part of `plane` in which every output on the way is on for certain.
    """

    plane: int
    kind: EndKind
    name: str
    inverted: bool
    way: tuple[PinAt, ...]
    level: int = 0
    cell: tuple[int, int] = (-1, -1)
    via: tuple[Via, ...] = ()
    sure: int = 0

    @property
    def same_as(self) -> tuple[object, ...]:
        """What two ends have in common that are one, wherever they hold."""
        return self[1:-1]


class _Trail(NamedTuple):
    """How a way came so far: turned over or not, the pins and signals passed, the nets, where an output may be off."""

    inverted: bool = False
    way: tuple[PinAt, ...] = ()
    via: tuple[Via, ...] = ()
    seen: frozenset[int] = frozenset()
    doubt: int = 0

    def end(self, plane: int, kind: EndKind, name: str, **more: Any) -> End:
        """An end here."""
        found = {"way": self.way, "via": self.via, **more}
        return End(plane, kind, name, self.inverted, sure=plane & ~self.doubt, **found)

    def step(self, *pins: PinAt, turned: bool = False) -> _Trail:
        """The trail behind some more pins of a part."""
        return self._replace(way=(*self.way, *pins), inverted=self.inverted ^ turned)


class Tracer:
    """Follows ways back in one phase.  `data_is_end`: whether the host's data lines end a way (writes).

    `outward`: a pin that a program can turn round counts as an output; else only where nothing else is on its net.
    """

    def __init__(self, phase: Phase, *, data_is_end: bool, outward: bool = False) -> None:
        self.phase, self.network = phase, phase.network
        self.data_is_end, self.outward = data_is_end, outward
        self.strapped = strapped_nets(self.network)

    def trace(self, net: int, where: int) -> list[End]:
        """Every end of a net within the plane `where`; planes of different ends may overlap where drivers fight."""
        return self._net(net, where, _Trail())

    def _net(self, net: int, where: int, trail: _Trail) -> list[End]:
        node = self.network.nets[net]
        if not where:
            return []
        if net in trail.seen:
            return [trail.end(where, EndKind.UNKNOWN, f"a loop through {node.name}")]
        trail = trail._replace(seen=trail.seen | {net})
        if node.rail is not None:
            return [trail.end(where, EndKind.LEVEL, node.name, level=node.rail ^ trail.inverted)]
        if node.host and self._host_ends(node):
            return [trail.end(where, EndKind.HOST, node.host)]
        for plug, pin in node.plugs:
            if not plug.is_host:
                trail = trail._replace(via=(*trail.via, Via(pin.signal, trail.inverted)))
        ends = self._drivers(net, where, trail)
        _, _, nobody = drive_planes(self.phase, net)
        rest = where & nobody & self._surely_undriven(net)
        if rest:
            ends += self._undriven(net, node, rest, trail)
        return ends

    def _host_ends(self, node: NetNode) -> bool:
        is_data = node.host[:1] == "d" and node.host[1:].isdigit()
        if is_data:
            return self.data_is_end
        return node.outside or not node.drivers

    def _surely_undriven(self, net: int) -> int:
        """Where no driver is on for sure; a driver that may be on counts as the end of the way."""
        plane = self.phase.full
        for block, output in self._counted(net):
            values, enable = self.phase.outs[block]
            if self.network.blocks[block].block.drive is Role.OPEN_COLLECTOR:
                plane &= values[output].sure1
            elif enable is not None:
                plane &= enable.sure0
            else:
                return 0
        return plane

    def _counted(self, net: int) -> list[tuple[int, int]]:
        """The drivers of a net that count."""
        node = self.network.nets[net]
        turned = {d for d in node.drivers if self.network.blocks[d[0]].block.programmed}
        if not turned or self.outward:
            return node.drivers
        rest = [d for d in node.drivers if d not in turned]
        shown = any(pin.direction is Direction.OUT for _, pin in node.plugs)
        if rest or node.outside or node.straps or node.mystery or node.untraced or (node.pulls and not shown):
            return rest
        return node.drivers

    def _undriven(self, net: int, node: NetNode, rest: int, trail: _Trail) -> list[End]:
        if node.straps:
            strap, _ = node.straps[0]
            return [trail.end(rest, EndKind.STRAP, strap.name)]
        for plug, pin in node.plugs:
            if not plug.is_host and pin.direction in (Direction.IN, Direction.BOTH):
                return [trail.end(rest, EndKind.SIGNAL, pin.signal, via=trail.via[:-1])]
        if node.host and not node.drivers:
            return [trail.end(rest, EndKind.HOST, node.host)]
        if node.mystery:
            pins = ", ".join(str(at) for at in node.mystery)
            return [trail.end(rest, EndKind.UNKNOWN, f"behind {pins}")]
        if node.untraced:
            return [trail.end(rest, EndKind.UNKNOWN, f"{node.name} is not traced")]
        if node.pulls:
            can0, can1 = rest_levels(self.phase, net, outside=False)
            if not (can0 and can1):
                level = int(can1 > 0) ^ trail.inverted
                return [trail.end(rest, EndKind.LEVEL, f"pull on {node.name}", level=level, via=())]
        if node.drivers or node.loose or not _may_hide_driver(self):
            return [trail.end(rest, EndKind.OPEN, node.name)]
        return [trail.end(rest, EndKind.UNKNOWN, f"no driver of net {node.name} has been traced")]

    def _drivers(self, net: int, where: int, trail: _Trail) -> list[End]:
        ends: list[End] = []
        for block, output in self._counted(net):
            _values, enable = self.phase.outs[block]
            on, doubt = where, 0
            collector = self.network.blocks[block].block.drive is Role.OPEN_COLLECTOR
            if collector:
                on &= self._collector_decides(net, block, output)
            elif enable is not None:
                # Which way a port's pin is turned is the program's choice, no gap of the trace.
                programmed = self.network.blocks[block].block.programmed
                on, doubt = on & enable.can1, 0 if programmed else enable.can0
            if self.network.blocks[block].block.opaque:
                doubt = on  # such a pin may be on only at times
            if on:
                found = self._output(block, output, on, trail._replace(doubt=trail.doubt | doubt))
                # An open collector that follows nothing we know may never pull at all.
                ends += [e._replace(sure=0) if collector and e.kind is EndKind.UNKNOWN else e for e in found]
        return ends

    def _collector_decides(self, net: int, block: int, output: int) -> int:
        """Where an open-collector output matters: not where it is released for sure while another one is not."""
        others = 0
        for other, out in self.network.nets[net].drivers:
            if (other, out) != (block, output):
                values, enable = self.phase.outs[other]
                collector = self.network.blocks[other].block.drive is Role.OPEN_COLLECTOR
                others |= values[out].can0 if collector else (enable.can1 if enable is not None else self.phase.full)
        values, _ = self.phase.outs[block]
        return values[output].can0 | ((self.phase.full & ~others) & ~values[output].sure1)

    def _output(self, number: int, output: int, on: int, trail: _Trail) -> list[End]:
        node = self.network.blocks[number]
        values, _ = self.phase.outs[number]
        levels = self.phase.inputs(number)
        ends, on = self._straps_behind(number, output, on, trail)
        out_pin = node.out_pin(output)
        here = trail.step(out_pin)
        for fixed, plane in ((0, on & values[output].sure0), (1, on & values[output].sure1)):
            if plane:
                words = f"{out_pin}{BY_ADDRESS}"
                ends.append(here.end(plane, EndKind.LEVEL, words, level=fixed ^ trail.inverted, via=()))
        rest = on & values[output].unknown
        if not rest:
            return ends
        if node.block.opaque:
            words = f"made by the logic of {node.part}, which is not known"
            return [*ends, here.end(rest, EndKind.UNKNOWN, words)]
        if node.block.states:
            found, rest = self._cells(number, output, rest, here)
            ends += found
        for k, level in enumerate(levels):
            if not rest & level.unknown:
                continue
            same, opposite = self._follows(number, output, k, levels, rest)
            for plane, turned in ((same, False), (opposite, True)):
                if plane:
                    ends += self._net(node.inputs[k], plane, here.step(node.in_pin(k), turned=turned))
            rest &= ~(same | opposite)
        if rest:
            unknown = [str(node.in_pin(k)) for k, level in enumerate(levels) if rest & level.unknown]
            words = f"made of several unknown inputs of {node.part}: {', '.join(unknown)}" if unknown else node.part
            ends.append(here.end(rest, EndKind.UNKNOWN, words))
        return ends

    def _straps_behind(self, number: int, output: int, on: int, trail: _Trail) -> tuple[list[End], int]:
        """Ends at straps and ties for the part of `on` where one of known level decides, and the rest of `on`."""
        node = self.network.blocks[number]
        ends: list[End] = []
        levels = self.phase.inputs(number)
        for k, net in enumerate(node.inputs):
            if net not in self.strapped or not on:
                continue
            for plane, turned in zip(self._follows(number, output, k, levels, on), (False, True), strict=True):
                step = trail.step(node.out_pin(output), node.in_pin(k), turned=turned)
                for end in self._net(net, plane, step):
                    if end.kind is EndKind.STRAP or (end.kind is EndKind.LEVEL and not end.name.endswith(BY_ADDRESS)):
                        ends.append(end)
                        on &= ~end.plane
        return ends, on

    def _follows(self, number: int, output: int, k: int, levels: tuple[Levels, ...], where: int) -> tuple[int, int]:
        """Where the output equals input k, and where it is its opposite, whatever the other inputs are."""
        full = self.phase.full
        low, high = (self._with(number, output, (*levels[:k], set_to, *levels[k + 1 :])) for set_to in _both(full))
        return where & low.sure0 & high.sure1, where & low.sure1 & high.sure0

    def _with(self, number: int, output: int, levels: tuple[Levels, ...]) -> Levels:
        block = self.network.blocks[number].block
        if block.step is None:
            level: Levels = block.function(*levels)[output]
            return level
        state = block.step(levels, levels, (self.phase.unknown,) * block.states)
        shown: Levels = block.function(levels, state)[output]
        return shown

    def _cells(self, number: int, output: int, rest: int, here: _Trail) -> tuple[list[End], int]:
        node, full = self.network.blocks[number], self.phase.full
        levels, ends = self.phase.inputs(number), []
        if node.block.states > MAX_STATES:
            return [here.end(rest, EndKind.CELL, node.part, cell=(number, -1))], 0
        # A register inside a chip shows its bits in their order, whatever its control lines are.
        inside = bool(node.block.inner) and node.block.states == len(node.outputs) > 1
        guesses = [] if inside else _guesses(node, levels, full)
        for k in (output,) if inside else range(node.block.states):
            same, opposite = self._shows(number, output, k, levels, rest)
            for guess in guesses:
                more = self._shows(number, output, k, guess, rest & ~(same | opposite))
                same, opposite = same | more[0], opposite | more[1]
            for plane, turned in ((same, False), (opposite, True)):
                if plane:
                    ends.append(here.step(turned=turned).end(plane, EndKind.CELL, node.part, cell=(number, k)))
            rest &= ~(same | opposite)
        if rest and node.block.timed:
            ends.append(here.end(rest, EndKind.UNKNOWN, f"the pulse of {node.part}"))
            rest = 0
        return ends, rest

    def _shows(self, number: int, output: int, k: int, levels: tuple[Levels, ...], where: int) -> tuple[int, int]:
        """Where the output shows state bit k, and where its opposite."""
        block = self.network.blocks[number].block
        if not where or block.step is None:
            return 0, 0
        unknown = (self.phase.unknown,) * block.states
        pair = []
        for fixed in _both(self.phase.full):
            state = (*unknown[:k], fixed, *unknown[k + 1 :])
            pair.append(block.function(levels, block.step(levels, levels, state))[output])
        return where & pair[0].sure0 & pair[1].sure1, where & pair[0].sure1 & pair[1].sure0


def strapped_nets(network: Network) -> frozenset[int]:
    """The nets at a strap, a rail or a pull, and those that follow one through blocks without memory."""
    if "strapped" in network.kept:
        return network.kept["strapped"]
    found = {k for k, node in enumerate(network.nets) if node.straps or node.rail is not None or node.pulls}
    stack = list(found)
    while stack:
        for block, _ in network.nets[stack.pop()].sinks:
            if not network.blocks[block].block.states:
                more = [net for net in network.blocks[block].outputs if net not in found]
                found.update(more)
                stack += more
    network.kept["strapped"] = frozenset(found)
    return network.kept["strapped"]


def _guesses(node: BlockNode, levels: tuple[Levels, ...], full: int) -> list[tuple[Levels, ...]]:
    """The levels with unknown clears, presets and gates of a storing block set at rest one way or the other.

    A cell whose clear line is not known is still the end of the way: a clear is one of the ways to fill it.
    """
    data = {capture.data for capture in node.block.captures}
    loose = [k for k, level in enumerate(levels) if level.unknown and k not in data]
    if not node.block.captures or not 0 < len(loose) <= 3:
        return []
    guesses = []
    for choice in range(1 << len(loose)):
        fixed = {k: _both(full)[choice >> n & 1] for n, k in enumerate(loose)}
        guesses.append(tuple(fixed.get(k, level) for k, level in enumerate(levels)))
    return guesses


def _both(full: int) -> tuple[Levels, Levels]:
    return Levels(full, 0), Levels(0, full)


def _may_hide_driver(tracer: Tracer) -> bool:
    """Whether some output on the board that is not traced could be the driver of a net without one."""
    board = tracer.network.board
    outputs = (Role.OUTPUT, Role.THREE_STATE, Role.OPEN_COLLECTOR, Role.BOTH, Role.UNKNOWN)
    types = {part.name: part.type for part in board.parts}
    return any(at.owner not in types or types[at.owner].pin(at.pin).role in outputs for at in board.not_traced)
