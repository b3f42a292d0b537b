"""What a run must be told so that it takes the walk of a witness: registers, RAM, and the answer to every read."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from latchlore.base import HELD, Choice, Condition, InputBit, InputKind, Read, Wait, Write
from latchlore.program._facts import NOTHING, Bits, Facts, assume, solve

if TYPE_CHECKING:
    from latchlore.base import ByteTree, Event
    from latchlore.program import Witness


@dataclass
class Replay:
    """Every reading on the walk is given a number of its own, and its bits are named by that number."""

    tree: ByteTree
    witness: Witness
    bits: Bits = field(default_factory=Bits)
    facts: Facts = NOTHING
    readings: dict[tuple[InputKind, int, int], int] = field(default_factory=dict)
    events: list[Read | Wait] = field(default_factory=list)
    step: int = 0

    def __post_init__(self) -> None:
        for number in self.witness.nodes:
            node = self.tree.nodes[number]
            for event in node.events:
                self.follow(event)
                if self.step == len(self.witness.steps):
                    return
            if isinstance(node.after, Choice):
                self.take()

    def follow(self, event: Event) -> None:
        """One event: a read is a new reading, a write may be one of the code's."""
        steps = self.witness.steps[self.step :]
        if isinstance(event, Write):
            if steps[:1] == (event,):
                self.step += 1
            elif len(steps) > 1 and isinstance(steps[0], Condition) and steps[1] == event:
                self.take()
                self.step += 1
            return
        self.readings[event.kind, event.address, event.turn] = len(self.events)
        self.events.append(event)
        if isinstance(event, Wait):
            self.step += 1
            if event.polls is None:
                self.add(self.bits.as_condition(self.bits.until(event)))

    def take(self) -> None:
        """The next step is a condition."""
        condition = self.witness.steps[self.step]
        assert isinstance(condition, Condition)
        self.step += 1
        self.add(condition)

    def add(self, condition: Condition) -> None:
        """It holds, of the readings as they are now."""
        bits = tuple(self.numbered(bit) for bit in condition.bits)
        facts = assume(self.facts, self.bits.condition(Condition(bits, condition.table)))
        assert facts is not None, "the conditions of a witness cannot hold together"
        self.facts = facts

    def numbered(self, bit: InputBit) -> InputBit:
        """The bit of the reading that it is meant of."""
        if bit.turn == HELD:
            return bit
        return replace(bit, turn=self.readings[bit.kind, bit.address, bit.turn])

    def levels(self) -> dict[InputBit, int]:
        """Levels under which everything holds."""
        return {self.bits.bits[number]: level for number, level in solve(self.facts).items()}

    def registers(self) -> dict[str, int]:
        """Registers and flags at the entry."""
        found: dict[str, int] = {}
        for bit, level in self.levels().items():
            if bit.kind is InputKind.ARGUMENT:
                found[bit.name] = found.get(bit.name, 0) | level << bit.bit
        return found

    def memory(self) -> dict[int, int]:
        """RAM at the entry."""
        found: dict[int, int] = {}
        for bit, level in self.levels().items():
            if bit.kind is InputKind.CELL:
                found[bit.address] = found.get(bit.address, 0) | level << bit.bit
        return found

    def answers(self) -> list[int]:
        """The answer to every read; a loop that gives up is answered as often as it asks."""
        levels = self.levels()
        found: list[int] = []
        for number, event in enumerate(self.events):
            value = sum(
                level << bit.bit
                for bit, level in levels.items()
                if (bit.kind, bit.address, bit.turn) == (event.kind, event.address, number)
            )
            times = 1
            if isinstance(event, Wait) and event.polls is not None and value & event.mask not in event.until:
                times = event.polls
            found += [value] * times
        return found
