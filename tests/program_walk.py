"""Walks a graph along the accesses of a concrete run: the check that exploration and execution agree."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import Choice, Condition, CycleRange, InputBit, InputKind, Leaf, LeafKind, Link, Wait, Write

if TYPE_CHECKING:
    from latchlore.base import ByteTree
    from latchlore.program import Access, Run


class Walker:
    """Walks a graph along the accesses of a concrete run.

    What a loop that gave up leaves in its counter is unknown in the graph: there any value may stand, and a walk that
    fits is looked for.
    """

    def __init__(self, tree: ByteTree, levels: dict[str, int]) -> None:
        self.tree, self.levels = tree, levels
        self.read: dict[tuple[int, int], int] = {}
        self.problems: list[str] = []

    def level(self, bit: InputBit) -> int | None:
        """The level an unknown bit had in the run; None where it may have been either."""
        if bit.kind is InputKind.ARGUMENT:
            return self.levels.get(bit.name, 0) >> bit.bit & 1
        if bit.kind is InputKind.CELL:
            return None if bit.name else 0
        return self.read[bit.address, bit.turn] >> bit.bit & 1

    def cases(self, bits: tuple[InputBit, ...]) -> list[int]:
        """The rows of a table over these bits that may have held in the run."""
        rows = [0]
        for i, bit in enumerate(bits):
            level = self.level(bit)
            rows = [row | one << i for row in rows for one in ((0, 1) if level is None else (level,))]
        return rows

    def holds(self, condition: Condition) -> bool:
        """Whether a condition may have held in the run."""
        return any(condition.table >> row & 1 for row in self.cases(condition.bits))

    def walk(self, result: Run, at: int = 0, position: int = 0, last: int = 0) -> str:
        """What does not fit, or nothing."""
        accesses = list(result.accesses)
        while True:
            node = self.tree.nodes[at]
            for event in node.events:
                if position == len(accesses):
                    return "" if result.end is LeafKind.BOUND else f"the graph goes on at node {at} with {event}"
                access = accesses[position]
                if not _within(event.cycles, access.cycle - last):
                    return f"node {at}: {event} after {access.cycle - last} cycles, not {event.cycles}"
                last = access.cycle
                position += 1
                if isinstance(event, Write):
                    fits = {event.value.values[row] for row in self.cases(event.value.bits)}
                    place = (access.direction, _place(access)) == ("write", event.address)
                    if not place or access.value not in fits:
                        return f"node {at}: {event} with {fits}, but the run did {access}"
                    continue
                if (access.direction, _place(access)) != ("read", event.address):
                    return f"node {at}: {event}, but the run did {access}"
                if isinstance(event, Wait):
                    position, last, words = self.poll(event, accesses, position, last)
                    if words or position == len(accesses):
                        return words
                self.read[event.address, event.turn] = accesses[position - 1].value
            match node.after:
                case Leaf(kind=LeafKind.BOUND):
                    return ""  # not followed further, and the graph says so
                case Leaf(kind=kind, cycles=cycles):
                    if position != len(accesses) or kind is not result.end:
                        return f"node {at}: ends with {kind}, the run with {result.end} after {len(accesses)} accesses"
                    return "" if _within(cycles, result.cycles - last) else f"node {at}: {cycles} to the end"
                case Link(node=target):
                    at = target
                case Choice(arms=arms):
                    ways = [arm.node for arm in arms if self.holds(arm.condition)]
                    if len(ways) == 1:
                        at = ways[0]
                        continue
                    free = any(bit.name for arm in arms for bit in arm.condition.bits if bit.kind is InputKind.CELL)
                    if not ways or not free:
                        return f"node {at}: {len(ways)} arms hold"
                    kept = dict(self.read)
                    words = ""
                    for way in ways:
                        self.read = dict(kept)
                        words = self.walk(result, way, position, last)
                        if not words:
                            break
                    return words

    def poll(self, event: Wait, accesses: list[Access], position: int, last: int) -> tuple[int, int, str]:
        """Follow a polling loop to its end."""
        polls = 1
        while accesses[position - 1].value & event.mask not in event.until:
            if polls == event.polls:
                return position, last, ""
            if position == len(accesses):
                return position, last, ""
            access = accesses[position]
            if (access.direction, _place(access)) != ("read", event.address):
                return position, last, f"{event}: but the run did {access}"
            if not _within(event.period, access.cycle - last):
                return position, last, f"{event}: {access.cycle - last} cycles from poll to poll"
            last = access.cycle
            position, polls = position + 1, polls + 1
        return position, last, ""


def _within(cycles: CycleRange, actual: int) -> bool:
    return cycles.least <= actual and (cycles.most is None or actual <= cycles.most)


def _place(access: Access) -> int:
    """The address; of a port the eight lines that an exploration looks at."""
    return access.address & 0xFF if access.is_port else access.address
