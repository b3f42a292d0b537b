"""How many bytes a program sends from its entry to an end, under some levels of the bits that stay the same."""

from __future__ import annotations

import heapq
from typing import TYPE_CHECKING

from latchlore.base import Condition, CycleRange, Leaf, Write

if TYPE_CHECKING:
    from collections.abc import Callable

    from latchlore.base import ByteTree, InputBit, InputKind

Ways = list[list[int]]


class Lengths:
    """Counts the bytes of one tree once, and answers for any levels."""

    def __init__(self, tree: ByteTree, belongs: Callable[[InputKind, int], bool]) -> None:
        self.tree = tree
        self.counts = [
            sum(1 for event in node.events if isinstance(event, Write) and belongs(event.kind, event.address))
            for node in tree.nodes
        ]
        self.leaves = [isinstance(node.after, Leaf) for node in tree.nodes]

    def between(self, held: dict[InputBit, int]) -> CycleRange:
        """Least and most number of bytes to an end; no most number where a loop can send more and more.

        Where no end can be reached the least number is 0: any number may be seen before the watching stops.
        """
        ways, order = self._ways(held)
        ending = self._ending(ways, order)
        if not ending:
            return CycleRange(0, None)
        least = self._least(ways)
        low = min(least[at] for at in order if self.leaves[at])
        return CycleRange(low, self._most(ways, [at for at in order if at in ending], ending))

    def _ways(self, held: dict[InputBit, int]) -> tuple[Ways, list[int]]:
        """The ways still open from each node that can be reached, and those nodes."""
        ways: Ways = [[] for _ in self.tree.nodes]
        order: list[int] = []
        seen = {0}
        work = [0]
        while work:
            at = work.pop()
            order.append(at)
            for condition, target in self.tree.nodes[at].successors:
                if condition is None or may_hold(condition, held):
                    ways[at].append(target)
                    if target not in seen:
                        seen.add(target)
                        work.append(target)
        return ways, order

    def _ending(self, ways: Ways, order: list[int]) -> set[int]:
        """Nodes from which an end can be reached."""
        back: dict[int, list[int]] = {}
        for at in order:
            for target in ways[at]:
                back.setdefault(target, []).append(at)
        work = [at for at in order if self.leaves[at]]
        found = set(work)
        while work:
            for before in back.get(work.pop(), ()):
                if before not in found:
                    found.add(before)
                    work.append(before)
        return found

    def _least(self, ways: Ways) -> dict[int, int]:
        """Fewest bytes up to and with each node."""
        best = {0: self.counts[0]}
        heap = [(self.counts[0], 0)]
        while heap:
            sent, at = heapq.heappop(heap)
            if sent > best[at]:
                continue
            for target in ways[at]:
                after = sent + self.counts[target]
                if after < best.get(target, after + 1):
                    best[target] = after
                    heapq.heappush(heap, (after, target))
        return best

    def _most(self, ways: Ways, order: list[int], ending: set[int]) -> int | None:
        """Most bytes from the entry to an end; None where a loop on the way sends."""
        groups = _groups(ways, order, ending)  # every group behind those that it leads to
        member = {at: k for k, group in enumerate(groups) for at in group}
        longest: list[int] = []
        for k, group in enumerate(groups):
            loops = len(group) > 1 or group[0] in ways[group[0]]
            own = sum(self.counts[at] for at in group)
            if loops and own:
                return None
            onward = [longest[member[t]] for at in group for t in ways[at] if t in member and member[t] != k]
            longest.append(own + max(onward, default=0))
        return longest[member[0]]


def _groups(ways: Ways, order: list[int], among: set[int]) -> list[list[int]]:
    """Strongly connected groups of some nodes, each behind those that it leads to (Tarjan's method, unrolled)."""
    number: dict[int, int] = {}
    low: dict[int, int] = {}
    open_nodes: list[int] = []
    is_open: set[int] = set()
    groups: list[list[int]] = []
    for root in order:
        if root in number:
            continue
        stack = [(root, 0)]
        while stack:
            at, step = stack.pop()
            if step == 0:
                number[at] = low[at] = len(number)
                open_nodes.append(at)
                is_open.add(at)
            targets = [t for t in ways[at] if t in among]
            if step and targets[step - 1] in is_open:
                low[at] = min(low[at], low[targets[step - 1]])
            if step < len(targets):
                stack.append((at, step + 1))
                target = targets[step]
                if target not in number:
                    stack.append((target, 0))
                continue
            if low[at] == number[at]:
                cut = open_nodes.index(at)
                groups.append(open_nodes[cut:])
                is_open -= set(open_nodes[cut:])
                del open_nodes[cut:]
    return groups


def may_hold(condition: Condition, held: dict[InputBit, int]) -> bool:
    """Whether a condition can hold where some bits are known."""
    if not any(bit in held for bit in condition.bits):
        return condition.table != 0
    care = sum(1 << i for i, bit in enumerate(condition.bits) if bit in held)
    value = sum(held[bit] << i for i, bit in enumerate(condition.bits) if bit in held)
    return any(condition.table >> k & 1 and k & care == value for k in range(1 << len(condition.bits)))
