"""What a run must be given so that it takes a way that sends: registers, RAM, and answers of other devices."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import HELD, InputKind, Write, describe_place
from latchlore.evidence._join import sent_to

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from latchlore.base import ByteTree, Condition, InputBit
    from latchlore.evidence._standin import Basis, StandIn

MAX_STEPS = 20_000
MAX_ENDS = 400
MAX_BYTES = 64


@dataclass(frozen=True, slots=True)
class Inputs:
    """Registers and RAM at the entry, and by (space, address) the answers to reads in turn."""

    registers: Mapping[str, int] = field(default_factory=dict)
    memory: Mapping[int, int] = field(default_factory=dict)
    reads: Mapping[tuple[InputKind, int], tuple[int, ...]] = field(default_factory=dict)

    def with_given(self, given: Inputs | None) -> Inputs:
        """These, and below them what the study gives at the entry: what is stated wins."""
        if given is None:
            return self
        return Inputs({**self.registers, **given.registers}, {**self.memory, **given.memory}, self.reads)

    def in_words(self) -> tuple[str, ...]:
        """What was given, for people."""
        found = [f"{name} = {value:02X}" for name, value in sorted(self.registers.items())]
        found += [f"{address:04X} = {value:02X}" for address, value in sorted(self.memory.items())]
        for (kind, address), answers in sorted(self.reads.items()):
            read = ", ".join(f"{value:02X}" for value in answers)
            found.append(f"reads of {describe_place(kind, address)} give {read}")
        return tuple(found)


def inputs_for(basis: Basis, tree: ByteTree, stand_in: StandIn, wanted: bytes) -> Inputs | None:
    """Inputs under which the tree sends: the bytes `wanted` where there are any, else the longest way found.

    Bits that no way fixes are 0.  None where no way sends with the idle status byte within the bounds.
    """
    belongs = sent_to(basis.roles)
    if belongs is None:
        return None
    if wanted:
        for path in tree.explain(wanted, belongs):
            levels = _levels_of(path.conditions, {}, stand_in)
            if levels is not None:
                return _as_inputs(levels, stand_in)
        return None
    # a way on is as often the last arm as the first: both orders, and the longer of what they find
    ways = [_longest_way(tree, belongs, stand_in, step) for step in (-1, 1)]
    sent, levels = max(ways, key=lambda one: one[0])
    return None if not sent else _as_inputs(levels, stand_in)


class _Way(NamedTuple):
    """A walk so far: where it stands, the levels that it took, the bytes it sent, and where it was with how many."""

    node: int
    levels: dict[InputBit, int]
    sent: int
    last: dict[int, int]


def _longest_way(
    tree: ByteTree, belongs: Callable[[InputKind, int], bool], stand_in: StandIn, step: int
) -> tuple[int, dict[InputBit, int]]:
    """(Bytes, levels) of the way that sends most, up to `MAX_BYTES`, among those that come to an end first.

    `step`: -1 goes into the first arm first, 1 into the last.  Arms that the levels taken so far rule out are not
    entered, so every way is possible by itself.
    """
    best: tuple[int, dict[InputBit, int]] = (0, {})
    stack = [_Way(0, {}, 0, {})]
    ends = 0
    for _ in range(MAX_STEPS):
        if not stack or ends == MAX_ENDS:
            break
        way = stack.pop()
        node = tree.nodes[way.node]
        sent = way.sent + sum(isinstance(one, Write) and belongs(one.kind, one.address) for one in node.events)
        is_round = way.last.get(way.node) == way.sent
        if is_round or sent >= MAX_BYTES or not node.successors:
            ends += 1
            best = max(best, (sent, way.levels), key=lambda one: one[0])
            continue
        last = {**way.last, way.node: way.sent}
        for condition, target in node.successors[::step]:
            levels = way.levels if condition is None else _levels_of((condition,), way.levels, stand_in)
            if levels is not None:
                stack.append(_Way(target, levels, sent, last))
    return best


def _levels_of(
    conditions: tuple[Condition, ...], known: Mapping[InputBit, int], stand_in: StandIn
) -> dict[InputBit, int] | None:
    """Levels under which all conditions hold beside those known, the status byte's kept; None where none were found.

    Conditions are met in order and the first fitting case is taken, so a way may be passed over that more search would
    find; a way that is taken is run afterwards, and a run that does not send is told.
    """
    levels = dict(known)
    for condition in conditions:
        for case in range(1 << len(condition.bits)):
            if not condition.table >> case & 1:
                continue
            new = {bit: case >> i & 1 for i, bit in enumerate(condition.bits)}
            if all(levels.get(bit, level) == level and _allows(stand_in, bit, level) for bit, level in new.items()):
                levels.update(new)
                break
        else:
            return None
    return levels


def _allows(stand_in: StandIn, bit: InputBit, level: int) -> bool:
    """Whether the idle status byte has this level there; other bits may have any."""
    for status in stand_in.status:
        if bit.kind is status.kind and not bit.name and bit.address in status.addresses and status.value is not None:
            return status.value >> bit.bit & 1 == level
    return True


def _as_inputs(levels: Mapping[InputBit, int], stand_in: StandIn) -> Inputs:
    """The same as a run takes them; the status byte is the model's own affair."""
    registers: dict[str, int] = {}
    memory: dict[int, int] = {}
    turns: dict[tuple[InputKind, int], dict[int, int]] = {}
    for bit, level in levels.items():
        if bit.kind is InputKind.ARGUMENT:
            registers[bit.name] = registers.get(bit.name, 0) | level << bit.bit
        elif bit.kind is InputKind.CELL:
            memory[bit.address] = memory.get(bit.address, 0) | level << bit.bit
        elif not any(bit.kind is one.kind and bit.address in one.addresses for one in stand_in.status):
            turn = 0 if bit.turn == HELD else bit.turn
            of = turns.setdefault((bit.kind, bit.address), {})
            of[turn] = of.get(turn, 0) | level << bit.bit
    reads = {place: tuple(of.get(k, 0) for k in range(max(of) + 1)) for place, of in turns.items()}
    return Inputs(registers, memory, reads)
