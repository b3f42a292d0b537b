"""The levels of every net in one phase of a bus cycle, for all addresses at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.board._levels import Levels
from latchlore.board._parts import Role

if TYPE_CHECKING:
    from latchlore.board._board import Strap
    from latchlore.board._network import Network


Outs = tuple[tuple[Levels, ...], Levels | None]
Memo = dict[int, list[tuple[tuple[Levels, ...], Outs]]]
"""What a block gave for which inputs, by block: phases of one board share most of their levels."""


class Phase:
    """The levels of one phase: `nets` by net index, `outs` by block (values, enable or None)."""

    __slots__ = ("full", "memo", "nets", "network", "outs", "rails", "unknown")

    def __init__(self, network: Network, full: int, like: Phase | None = None) -> None:
        self.network, self.full = network, full
        self.memo: Memo = {} if like is None else like.memo
        self.unknown: Levels = Levels(full, full) if like is None else like.unknown
        self.rails: tuple[Levels, Levels] = (Levels(full, 0), Levels(0, full)) if like is None else like.rails
        self.nets: list[Levels] = [self.unknown] * len(network.nets)
        self.outs: list[Outs] = [((), None)] * len(network.blocks)

    def inputs(self, block: int) -> tuple[Levels, ...]:
        """The levels at a block's inputs."""
        return tuple(self.nets[net] for net in self.network.blocks[block].inputs)


class Clash(NamedTuple):
    """Where two drivers of a net are, or may be, on together: planes over the addresses."""

    net: int
    first: tuple[int, int]
    second: tuple[int, int]
    sure: int
    possible: int


def evaluate(
    network: Network, forced: dict[int, Levels], full: int, *, host_drives_data: bool, like: Phase | None = None
) -> Phase:
    """The levels of all nets.

    `like`: another phase of the same network with the same `full`, whose work is used again.  `forced` gives the
    host's lines; `full` is the plane of all situations.  Where `host_drives_data` is false the host's data lines are
    driven by the board alone.  Storing blocks are cut: what their inputs do not force is unknown.  Feedback loops
    start unknown and run to their fixpoint, which exists because more knowledge at the inputs never takes knowledge
    away from the outputs.
    """
    phase = Phase(network, full, like)
    waiting = [len(node.drivers) for node in network.nets]
    quiet = frozenset() if host_drives_data else _data_lines(network)
    for net, node in enumerate(network.nets):
        if net in forced:
            phase.nets[net] = forced[net]
        elif not node.drivers:
            phase.nets[net] = _resolve(phase, net, quiet)
    for group in network.order:
        if len(group) == 1 and not _feeds_itself(network, group[0]):
            _run(phase, group[0])
            for net in network.blocks[group[0]].outputs:
                waiting[net] -= 1
                if not waiting[net] and net not in forced:
                    phase.nets[net] = _resolve(phase, net, quiet)
            continue
        touched = sorted({net for block in group for net in network.blocks[block].outputs})
        changed = True
        while changed:
            changed = False
            for block in group:
                _run(phase, block)
            for net in touched:
                if net not in forced:
                    level = _resolve(phase, net, quiet)
                    if level != phase.nets[net]:
                        phase.nets[net], changed = level, True
        for block in group:
            for net in network.blocks[block].outputs:
                waiting[net] -= 1
    return phase


def _data_lines(network: Network) -> frozenset[int]:
    return frozenset(net for name, net in network.host.items() if name[:1] == "d" and name[1:].isdigit())


def _feeds_itself(network: Network, block: int) -> bool:
    node = network.blocks[block]
    return any(net in node.inputs for net in node.outputs)


def _run(phase: Phase, number: int) -> None:
    levels = phase.inputs(number)
    had = phase.memo.setdefault(number, [])
    for before, outs in had:
        # Levels are never changed, so the same objects are the same levels; equal ones are rare enough to do again.
        if all(a is b for a, b in zip(before, levels, strict=True)):
            phase.outs[number] = outs
            return
    phase.outs[number] = _work(phase, number, levels)
    had.append((levels, phase.outs[number]))


def _work(phase: Phase, number: int, levels: tuple[Levels, ...]) -> Outs:
    block = phase.network.blocks[number].block
    enable = block.enable(*levels) if block.enable is not None else None
    if block.programmed:
        enable = phase.unknown
    elif block.masked and enable is not None:
        enable &= phase.unknown
    if block.step is None:
        return block.function(*levels), enable
    state = block.step(levels, levels, (phase.unknown,) * block.states)
    return block.function(levels, state), enable


def _resolve(phase: Phase, net: int, quiet: frozenset[int]) -> Levels:
    """The level of a net from all that drives it; see `NetNode` for what may stand on a net."""
    node = phase.network.nets[net]
    if node.rail is not None:
        return phase.rails[node.rail]
    if len(node.drivers) == 1:
        block, output = node.drivers[0]
        if phase.network.blocks[block].block.drive is Role.OUTPUT and phase.outs[block][0]:
            return phase.outs[block][0][output]
    can0, can1, nobody = drive_planes(phase, net)
    if nobody:
        may0, may1 = rest_levels(phase, net, outside=node.outside and net not in quiet)
        can0 |= nobody & may0
        can1 |= nobody & may1
    return phase.unknown if can0 == can1 == phase.full else Levels(can0, can1)


def drive_planes(phase: Phase, net: int) -> tuple[int, int, int]:
    """Where some driver can pull the net low, high, and where possibly none drives it."""
    can0 = can1 = 0
    nobody = phase.full
    for block, output in phase.network.nets[net].drivers:
        values, enable = phase.outs[block]
        level = values[output] if values else phase.unknown
        drive = phase.network.blocks[block].block.drive
        if drive is Role.OPEN_COLLECTOR:
            can0 |= level.can0
            nobody &= level.can1
        elif enable is None and (drive is not Role.THREE_STATE or values):
            can0 |= level.can0
            can1 |= level.can1
            nobody = 0
        else:
            on = enable if enable is not None else phase.unknown
            can0 |= on.can1 & level.can0
            can1 |= on.can1 & level.can1
            nobody &= on.can0
    return can0, can1, nobody


def rest_levels(phase: Phase, net: int, *, outside: bool) -> tuple[int, int]:
    """Where an undriven net can be low and high: straps, pulls, the world outside; unknown where nothing is."""
    node, full = phase.network.nets[net], phase.full
    for strap, _ in node.straps:
        if strap.joined is None:
            return full, full
        rail = _rail_joined(phase, net, strap) if strap.joined else None
        if rail is not None:
            return (0, full) if rail else (full, 0)
    if outside or node.mystery:
        return full, full
    levels = {pull.level for pull in node.pulls}
    if len(levels) == 1:
        return (0, full) if levels == {1} else (full, 0)
    return full, full


def _rail_joined(phase: Phase, net: int, strap: Strap) -> int | None:
    """The rail to which a strap in its position joins a net, or None."""
    from latchlore.board._board import PinAt

    ends = [phase.network.index[PinAt(strap.name, k)] for k in strap.joined or ()]
    if net not in ends:
        return None
    return next((rail for end in ends if (rail := phase.network.nets[end].rail) is not None), None)


def find_clashes(phase: Phase) -> list[Clash]:
    """Every pair of drivers of a net that are, or may be, on at once and are not all open collector."""
    found = []
    blocks = phase.network.blocks
    for net, node in enumerate(phase.network.nets):
        drivers = [driver for driver in node.drivers if not blocks[driver[0]].block.programmed]
        for k, first in enumerate(drivers):
            # Registers of one chip take turns on its pins; a pin that a program can turn round is told apart.
            chip = blocks[first[0]].part if blocks[first[0]].block.inner else ""
            for second in drivers[:k]:
                if chip and blocks[second[0]].part == chip:
                    continue
                sure, possible = _both_on(phase, second, first)
                if possible:
                    found.append(Clash(net, second, first, sure, possible))
    return found


def _both_on(phase: Phase, first: tuple[int, int], second: tuple[int, int]) -> tuple[int, int]:
    sure = possible = phase.full
    collectors = 0
    for block, output in (first, second):
        values, enable = phase.outs[block]
        if phase.network.blocks[block].block.drive is Role.OPEN_COLLECTOR:
            collectors += 1
            sure &= values[output].sure0
            possible &= values[output].can0
        elif enable is not None:
            sure &= enable.sure1
            possible &= enable.can1
        elif phase.network.blocks[block].block.opaque:
            sure = 0  # an output of programmable logic may be off at times
    return (0, 0) if collectors == 2 else (sure, possible)
