"""The graph while it grows, and its finishing into a `ByteTree`.

A growing node starts at some point of a path; its events carry the cycles since the event before (for the first
one: since the start of the node), its edges the cycles since its last event.  Where paths have rejoined, the cycles
before the first event differ from edge to edge; finishing turns them into ranges.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from latchlore.base import (
    Arm,
    ByteTree,
    Choice,
    Condition,
    CycleRange,
    Event,
    InputBit,
    Leaf,
    Link,
    Node,
    Read,
    Wait,
)
from latchlore.program import _values as values
from latchlore.program._values import Sym, Value

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.program._state import State

Cycles: TypeAlias = tuple[int, int]


@dataclass(slots=True)
class Edge:
    """A way on: the condition (None: always), where to, and the cycles from the last event to there."""

    condition: Sym | None
    target: int
    cycles: Cycles


@dataclass(slots=True)
class Polling:
    """The read in front of a node is a loop: until which values of the masked byte, how often, how fast."""

    mask: int
    until: tuple[int, ...]
    period: Cycles
    polls: int | None


@dataclass(slots=True)
class Growing:
    """A node of the growing graph.

    `read`: the answer's variables, where the node starts behind a device read.  `parent`: the node from which it was
    first reached.  `abandoned`: a better node stands in its place.  `turns`: how often the read was met before, on end
    and without a write.  `site`: the place of the read before.  `touches`: events before the node, back to a choice.
    """

    state: State | None
    events: list[Event] = field(default_factory=list)
    edges: list[Edge] = field(default_factory=list)
    leaf: Leaf | None = None
    expanded: bool = False
    read: tuple[int, ...] = ()
    polling: Polling | None = None
    parent: int = -1
    abandoned: bool = False
    turns: int = 0
    site: int = -1
    touches: int = 0


def finish(
    nodes: list[Growing], bits: Sequence[InputBit], entry: int, assumptions: Sequence[str], bounds: Sequence[str]
) -> ByteTree:
    """The graph as a value."""
    find_polls(nodes, bits)
    _place_waits(nodes)
    _inline_links(nodes)
    order = _reachable(nodes)
    starts = _start_ranges(nodes, order)
    number = {old: new for new, old in enumerate(order)}
    finished = tuple(_finish_node(nodes[old], starts[old], number, bits) for old in order)
    return ByteTree(finished, entry, tuple(assumptions), tuple(bounds))


def _reachable(nodes: list[Growing]) -> list[int]:
    """Nodes reached from the root, in the order of a walk that takes the first way first."""
    order: list[int] = []
    seen = set()
    stack = [0]
    while stack:
        node = stack.pop()
        if node in seen:
            continue
        seen.add(node)
        order.append(node)
        stack.extend(edge.target for edge in reversed(nodes[node].edges))
    return order


def find_polls(nodes: list[Growing], bits: Sequence[InputBit]) -> None:
    """Turn reads that are repeated until the value fits into polling loops."""
    for start in _reachable(nodes):
        node = nodes[start]
        if not node.read or node.polling is not None:
            continue
        ways = _ways(nodes, start)
        if ways is None:
            continue
        back = [(c, edge, extra) for c, edge, extra in ways if _returns(nodes, edge, start)]
        onward = [(c, edge, extra) for c, edge, extra in ways if not _returns(nodes, edge, start)]
        if not back or not onward:
            continue
        loop: Value = 0
        for condition, _, _ in back:
            loop = condition | loop
        if not isinstance(loop, Sym) or not set(loop.vars) <= set(node.read):
            continue
        period = _widest([_add(extra, nodes[edge.target].events[0].cycles) for _, edge, extra in back])
        node.polling = _polling(loop, bits, period)
        node.edges = [
            Edge(_simplest(condition, loop), edge.target, _plus(extra, edge.cycles))
            for condition, edge, extra in onward
        ]
        if len(node.edges) == 1:
            node.edges[0].condition = None


def _simplest(condition: Sym, loop: Sym) -> Sym:
    """The condition, of which only the cases outside of the loop matter."""
    kept = condition & (loop ^ 1)
    assert isinstance(kept, Sym)
    return kept


def _polling(loop: Sym, bits: Sequence[InputBit], period: Cycles) -> Polling:
    ready = loop ^ 1
    assert isinstance(ready, Sym)
    mask, until = polled_values(ready, bits)
    return Polling(mask, tuple(until), period, None)


def polled_values(condition: Sym, bits: Sequence[InputBit]) -> tuple[int, list[int]]:
    """The bits of a register that a condition looks at, as a mask, and the masked values for which it holds."""
    mask = sum(1 << bits[v].bit for v in condition.vars)
    found = []
    for k, holds in enumerate(condition.tab.tolist()):
        if holds:
            found.append(sum((k >> i & 1) << bits[v].bit for i, v in enumerate(condition.vars)))
    return mask, sorted(found)


def _ways(nodes: list[Growing], start: int) -> list[tuple[Sym, Edge, Cycles]] | None:
    """The ways out of event-free choices behind a node: condition, last edge, cycles before that edge."""
    found: list[tuple[Sym, Edge, Cycles]] = []
    work: list[tuple[int, Value, Cycles, int]] = [(start, 1, (0, 0), 0)]
    while work:
        at, condition, before, depth = work.pop()
        if nodes[at].events or nodes[at].leaf is not None or depth > 16 or (depth and nodes[at].polling):
            return None
        for edge in nodes[at].edges:
            try:
                met = condition if edge.condition is None else edge.condition & condition
            except values.TooWideError:
                return None
            target = nodes[edge.target]
            if isinstance(met, int) and not met:
                continue
            inner = not target.events and target.leaf is None and target.edges and edge.target != start
            if inner and (len(target.edges) > 1 or not isinstance(met, Sym)) and not target.read:
                work.append((edge.target, met, _plus(before, edge.cycles), depth + 1))
            elif isinstance(met, Sym):
                found.append((met, edge, before))
            else:
                return None
    return found


def _returns(nodes: list[Growing], edge: Edge, start: int) -> bool:
    """Whether an edge leads to a single read in front of the node `start`."""
    target = nodes[edge.target]
    return (
        len(target.events) == 1
        and isinstance(target.events[0], Read)
        and len(target.edges) == 1
        and target.edges[0].target == start
        and target.edges[0].condition is None
    )


def _plus(a: Cycles, b: Cycles) -> Cycles:
    return a[0] + b[0], a[1] + b[1]


def _add(a: Cycles, b: CycleRange) -> Cycles:
    assert b.most is not None
    return a[0] + b.least, a[1] + b.most


def _widest(ranges: list[Cycles]) -> Cycles:
    return min(low for low, _ in ranges), max(high for _, high in ranges)


def _place_waits(nodes: list[Growing]) -> None:
    """Put the loop in the place of the read in front of it."""
    for node in nodes:
        for edge in node.edges[:1]:
            polling = nodes[edge.target].polling
            if polling is None or not node.events:
                continue
            last = node.events[-1]
            if isinstance(last, Read):
                node.events[-1] = Wait(
                    last.kind,
                    last.address,
                    polling.mask,
                    polling.until,
                    CycleRange(*polling.period),
                    last.cycles,
                    polling.polls,
                    last.program_address,
                    last.turn,
                )


def _inline_links(nodes: list[Growing]) -> None:
    """Join a node to the only one that leads to it."""
    incoming = dict.fromkeys(range(len(nodes)), 0)
    incoming[0] = 1
    order = _reachable(nodes)
    for at in order:
        for edge in nodes[at].edges:
            incoming[edge.target] += 1
    for at in order:
        node = nodes[at]
        while len(node.edges) == 1 and node.edges[0].condition is None:
            edge = node.edges[0]
            follower = nodes[edge.target]
            if incoming[edge.target] != 1 or edge.target == at:
                break
            events = list(follower.events)
            if events:
                events[0] = _later(events[0], edge.cycles)
                node.edges = follower.edges
                node.leaf = follower.leaf
            else:
                node.edges = [Edge(e.condition, e.target, _plus(edge.cycles, e.cycles)) for e in follower.edges]
                node.leaf = None if follower.leaf is None else _later_leaf(follower.leaf, edge.cycles)
            node.events = node.events + events


def _later(event: Event, cycles: Cycles) -> Event:
    return replace(event, cycles=event.cycles + CycleRange(*cycles))


def _later_leaf(leaf: Leaf, cycles: Cycles) -> Leaf:
    return replace(leaf, cycles=leaf.cycles + CycleRange(*cycles))


def _start_ranges(nodes: list[Growing], order: list[int]) -> dict[int, CycleRange]:
    """Cycles from the last event to the start of each node, over all ways to it."""
    starts: dict[int, CycleRange] = {order[0]: CycleRange.exactly(0)}
    rounds = dict.fromkeys(order, 0)
    work = [order[0]]
    while work:
        at = work.pop()
        node = nodes[at]
        for edge in node.edges:
            passed = CycleRange(*edge.cycles)
            if not node.events:
                passed = passed + starts[at]
            before = starts.get(edge.target)
            after = passed if before is None else before.widen(passed)
            if after == before:
                continue
            rounds[edge.target] += 1
            if rounds[edge.target] > 200:  # a loop without an event: no most number
                after = CycleRange(after.least, None)
            starts[edge.target] = after
            work.append(edge.target)
    return starts


def _finish_node(node: Growing, start: CycleRange, number: dict[int, int], bits: Sequence[InputBit]) -> Node:
    events = list(node.events)
    leaf = node.leaf
    if events:
        events[0] = replace(events[0], cycles=_not_negative(events[0].cycles + start))
    elif leaf is not None:
        leaf = replace(leaf, cycles=leaf.cycles + start)
    if leaf is not None:
        return Node(tuple(events), leaf)
    if len(node.edges) == 1 and node.edges[0].condition is None:
        return Node(tuple(events), Link(number[node.edges[0].target]))
    arms = []
    for edge in node.edges:
        assert edge.condition is not None
        arms.append(Arm(as_condition(edge.condition, bits), number[edge.target]))
    return Node(tuple(events), Choice(tuple(arms)))


def _not_negative(cycles: CycleRange) -> CycleRange:
    return CycleRange(max(cycles.least, 0), cycles.most)


def as_condition(condition: Sym, bits: Sequence[InputBit]) -> Condition:
    """A 0/1 table as a condition."""
    table = int("".join("1" if v else "0" for v in reversed(condition.tab.tolist())), 2)
    return Condition(tuple(bits[v] for v in condition.vars), table)


def always() -> Sym:
    """A table of no variables that holds."""
    return Sym((), np.ones(1, dtype=np.int32))
