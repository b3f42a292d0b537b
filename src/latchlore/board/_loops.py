"""Gates that feed themselves: latches made of gates are recognised and become one storing block each.

A group of gates is cut at one of its nets.  With the net's level as a state, the gates say what the state becomes for
every level of the inputs: kept, set, cleared, or turned over (an oscillator).  A group that no single cut opens, or
with too many inputs, stays as it is and is iterated from unknown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from latchlore.base import AddressSet
from latchlore.board._levels import Levels, known, line_plane
from latchlore.board._parts import Block, Capture, Role, Timing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from latchlore.board._board import PinAt
    from latchlore.board._network import BlockNode, NetNode

MAX_INPUTS = 8
"""Most inputs of a group that is looked into."""


@dataclass(frozen=True, slots=True)
class Loop:
    """A group of gates with feedback.

    `kind`: latch, oscillator, or none (the feedback never matters); empty where it was not looked into.  `pins`: the
    gates' outputs, the one that shows the state first.  `set_by`, `cleared_by`, `kept_by`, `turned_by`: levels of the
    `inputs` as cubes, the first input as the lowest line.  `follows`: (data input, gate input, its level) where it is
    a latch that is open at that level.
    """

    kind: str
    pins: tuple[PinAt, ...]
    inputs: tuple[str, ...]
    set_by: AddressSet | None = None
    cleared_by: AddressSet | None = None
    kept_by: AddressSet | None = None
    turned_by: AddressSet | None = None
    follows: tuple[int, int, int] | None = None


class _Cut(NamedTuple):
    net: int
    order: tuple[int, ...]


class Folded(NamedTuple):
    """What a group becomes: the block that stands for it, its nets, its pins, and what was found."""

    block: Block
    inputs: tuple[int, ...]
    outputs: tuple[int, ...]
    at_in: tuple[PinAt, ...]
    at_out: tuple[PinAt, ...]
    group: frozenset[int]
    loop: Loop


def fold_group(nets: list[NetNode], blocks: list[BlockNode], group: Iterable[int]) -> Folded | Loop:
    """A latch made of gates as one block, or what else the group is."""
    members = frozenset(group)
    pins = tuple(node.out_pin(k) for node in (blocks[b] for b in sorted(members)) for k in range(len(node.outputs)))
    if any(_is_foreign(nets, blocks[b]) for b in members):
        return Loop("", pins, ())
    members = _absorb(nets, blocks, members)
    inputs = _inputs(blocks, members)
    if len(inputs) > MAX_INPUTS:
        return Loop("", pins, tuple(nets[net].name for net in inputs))
    best: Folded | Loop = Loop("", pins, tuple(nets[net].name for net in inputs))
    for cut in _cuts(blocks, members):
        found = _fold(nets, blocks, members, inputs, cut)
        if isinstance(found, Folded) and found.loop.follows is not None:
            return found
        # A latch is better than what another cut says of the same gates, and anything better than nothing.
        if not isinstance(best, Folded) and (isinstance(found, Folded) or not best.kind):
            best = found
    return best


def _is_foreign(nets: list[NetNode], node: BlockNode) -> bool:
    """Whether a block is no plain gate with a net of its own."""
    block = node.block
    if block.step is not None or block.enable is not None or block.drive is not Role.OUTPUT or block.opaque:
        return True
    return any(len(nets[net].drivers) != 1 or nets[net].mystery or nets[net].outside for net in node.outputs)


def _inputs(blocks: list[BlockNode], members: frozenset[int]) -> tuple[int, ...]:
    made = {net for b in members for net in blocks[b].outputs}
    return tuple(dict.fromkeys(net for b in sorted(members) for net in blocks[b].inputs if net not in made))


def _absorb(nets: list[NetNode], blocks: list[BlockNode], members: frozenset[int]) -> frozenset[int]:
    """Take in gates before the group that nothing else looks at, as long as the inputs stay few."""
    grown = True
    while grown:
        grown = False
        for net in _inputs(blocks, members):
            node = nets[net]
            if len(node.drivers) != 1 or node.plugs or node.host or node.rail is not None:
                continue
            before = node.drivers[0][0]
            looked = {sink for out in blocks[before].outputs for sink, _ in nets[out].sinks}
            if _is_foreign(nets, blocks[before]) or not looked <= members:
                continue
            wider = members | {before}
            if len(_inputs(blocks, wider)) <= max(MAX_INPUTS // 2, len(_inputs(blocks, members))):
                members, grown = wider, True
                break
    return members


def _cuts(blocks: list[BlockNode], members: frozenset[int]) -> list[_Cut]:
    """Every net whose level as a state leaves the group without feedback, in block order."""
    made = {net: b for b in members for net in blocks[b].outputs}
    found = []
    for net in made:
        order: list[int] = []
        left = sorted(members)
        while left:
            ready = [
                b for b in left if all(one == net or one not in made or made[one] in order for one in blocks[b].inputs)
            ]
            if not ready:
                break
            order += ready
            left = [b for b in left if b not in order]
        if not left:
            found.append(_Cut(net, tuple(order)))
    return sorted(found, key=lambda cut: (made[cut.net], cut.net))


def _runner(
    blocks: list[BlockNode], inputs: tuple[int, ...], cut: _Cut
) -> Callable[[tuple[Any, ...], Any], dict[int, Any]]:
    """A function from the inputs' levels and the state to the level of every net of the group."""
    steps = tuple((blocks[b].block.function, blocks[b].inputs, blocks[b].outputs) for b in cut.order)

    def run(levels: tuple[Any, ...], state: Any) -> dict[int, Any]:
        at = dict(zip(inputs, levels, strict=True))
        made: dict[int, Any] = {}
        for function, sources, targets in steps:
            values = function(*(at[net] if net in at else state if net == cut.net else made[net] for net in sources))
            made.update(zip(targets, values, strict=True))
        return made

    return run


def _fold(
    nets: list[NetNode], blocks: list[BlockNode], members: frozenset[int], inputs: tuple[int, ...], cut: _Cut
) -> Folded | Loop:
    run = _runner(blocks, inputs, cut)
    count = len(inputs)
    full = (1 << (1 << count)) - 1
    levels = tuple(known(line_plane(k, count), full) for k in range(count))
    if not count:
        full = 1
    low = run(levels, Levels(full, 0))[cut.net].sure1
    high = run(levels, Levels(0, full))[cut.net].sure1
    sets = {"set_by": low & high, "cleared_by": ~(low | high) & full, "kept_by": high & ~low, "turned_by": low & ~high}
    planes = {name: AddressSet.from_table(plane, max(count, 1)) for name, plane in sets.items()}
    ordered = sorted(members, key=lambda b: (cut.net not in blocks[b].outputs, b))
    outputs = tuple(net for b in ordered for net in blocks[b].outputs)
    at_out = tuple(blocks[b].out_pin(k) for b in ordered for k in range(len(blocks[b].outputs)))
    names = tuple(nets[net].name for net in inputs)
    kind = "oscillator" if sets["turned_by"] else "latch" if sets["kept_by"] else "none"
    follows = _follows(sets["set_by"], sets["cleared_by"], sets["kept_by"], count) if kind == "latch" else None
    loop = Loop(kind, at_out, names, **planes, follows=follows)
    if kind != "latch":
        return loop

    def function(now: tuple[Any, ...], state: tuple[Any, ...]) -> tuple[Any, ...]:
        made = run(now, state[0])
        return tuple(made[net] for net in outputs)

    def step(_before: tuple[Any, ...], now: tuple[Any, ...], state: tuple[Any, ...]) -> tuple[Any, ...]:
        return (run(now, state[0])[cut.net],)

    captures: tuple[Capture, ...] = ()
    if follows is not None:
        data, gate, level = follows
        captures = (Capture(0, data, gate, Timing.HIGH if level else Timing.LOW),)
    first = {net: blocks[b].in_pin(k) for b in reversed(ordered) for k, net in enumerate(blocks[b].inputs)}
    at_in = tuple(first[net] for net in inputs)
    block = Block(
        tuple(at.pin for at in at_in),
        tuple(at.pin for at in at_out),
        function,
        states=1,
        step=step,
        captures=captures,
    )
    return Folded(block, inputs, outputs, at_in, at_out, members, loop)


def _follows(made: int, cleared: int, kept: int, count: int) -> tuple[int, int, int] | None:
    """Data and gate inputs of an open latch, and the gate's level: there the state is the data, else it is kept."""
    full = (1 << (1 << count)) - 1
    for gate in range(count):
        for level in (1, 0):
            line = line_plane(gate, count)
            open_at = line if level else full & ~line
            if kept != full & ~open_at:
                continue
            for data in range(count):
                if data != gate and made == open_at & line_plane(data, count) and cleared == open_at & ~made:
                    return data, gate, level
    return None


def describe_loop(loop: Loop) -> str:
    """A group of gates in words."""
    at = ", ".join(str(pin) for pin in loop.pins)
    if loop.kind == "oscillator":
        assert loop.turned_by is not None
        return f"{at} feed themselves and turn over by themselves where {_where(loop, loop.turned_by)}"
    if loop.kind == "none":
        return f"{at} feed themselves, and it never matters"
    if loop.kind != "latch":
        return f"{at} feed themselves; their levels are computed as far as the inputs force them"
    assert loop.set_by is not None
    assert loop.cleared_by is not None
    if loop.follows is not None:
        data, gate, level = loop.follows
        name = f"{loop.inputs[gate]} is {'high' if level else 'low'}"
        return f"latch of {at}: {loop.pins[0]} follows {loop.inputs[data]} while {name}"
    parts = [
        f"{words} where {_where(loop, where)}"
        for words, where in ((f"{loop.pins[0]} is set", loop.set_by), ("cleared", loop.cleared_by))
        if where
    ]
    return f"latch of {at}: {', '.join(parts)}"


def _where(loop: Loop, where: AddressSet) -> str:
    """Cubes over the inputs in words."""
    choices = []
    for care, value in where.cubes:
        terms = [
            f"{name} is {'high' if value >> k & 1 else 'low'}" for k, name in enumerate(loop.inputs) if care >> k & 1
        ]
        choices.append(" and ".join(terms) or "always")
    return " or ".join(choices)
