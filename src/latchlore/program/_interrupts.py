"""Interrupts where an entry is stated: what their routines may change, and what they send themselves.

A routine may run between any two instructions.  Every cell that it may write is therefore unknown to the program each
time it looks, whatever the program has written there: so a wait on a flag that the routine sets goes on both ways, and
no value that the routine may leave is passed over.  That covers all orders of the two as long as the routine gives the
registers back and writes to no device.  Where it does otherwise, the graph begins with a choice: the program without
its interruptions, and the routine by itself, which ends in a place that is not followed further; so "may" is said of
both, and "never" of none.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from latchlore.base import (
    HELD,
    Arm,
    ByteTree,
    Choice,
    Condition,
    InputBit,
    InputKind,
    Leaf,
    LeafKind,
    Link,
    Node,
    Write,
)
from latchlore.program import wording

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


MAX_ROUNDS = 6
ENABLES = frozenset({"IFF1", "IFF2", "IE"})  # the processor itself clears them on the way in


@dataclass(frozen=True, slots=True)
class Shared:
    """What one exploration has to know of the others.

    `cells`: those that others may write at any time.  `unknown`: those that may not hold any more what was loaded.
    """

    cells: frozenset[int] = frozenset()
    unknown: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Followed:
    """An exploration: its graph, the cells it may write, and the registers that it does not give back."""

    tree: ByteTree
    written: frozenset[int]
    changed: tuple[str, ...]


def explore_interrupted(
    entry: int, interrupts: Sequence[int], follow: Callable[[int, Shared, bool], Followed], known: frozenset[int]
) -> ByteTree:
    """The graph of a program with interrupt routines.

    `follow` explores from an entry (True: an interrupt routine).  `known`: cells whose content was stated or loaded
    and that can be written.
    """
    unknown: frozenset[int] = frozenset()
    routines: dict[int, Followed] = {}
    while True:
        routines = _routines(interrupts, follow, routines, unknown)
        cells = frozenset().union(*(routine.written for routine in routines.values()))
        main = follow(entry, Shared(cells), False)
        changed = (main.written | cells) & known
        if changed <= unknown:
            break
        unknown |= changed
    tree = main.tree
    for at, routine in routines.items():
        sends = any(isinstance(event, Write) for event in routine.tree.iter_events())
        if sends or routine.changed or not routine.tree.is_exhausted:
            tree = _beside(tree, at, routine)
    return tree


def _routines(
    interrupts: Sequence[int],
    follow: Callable[[int, Shared, bool], Followed],
    before: dict[int, Followed],
    unknown: frozenset[int],
) -> dict[int, Followed]:
    """The routines, each with what the others may write, until nothing more comes."""
    found = dict(before)
    for _ in range(MAX_ROUNDS):
        new: dict[int, Followed] = {}
        for at in interrupts:
            others = frozenset().union(*(found[one].written for one in found if one != at))
            new[at] = follow(at, Shared(others, unknown), True)
            new[at] = replace(new[at], written=new[at].written | (found[at].written if at in found else frozenset()))
        settled = {at: one.written for at, one in new.items()} == {at: one.written for at, one in found.items()}
        found = new
        if settled or len(interrupts) == 1:
            return found
    return {at: replace(one, written=frozenset(range(0x10000))) for at, one in found.items()}


def _beside(tree: ByteTree, at: int, routine: Followed) -> ByteTree:
    """The graph with a routine beside it."""
    bit = InputBit(InputKind.CELL, 0, 0, HELD, f"an interrupt to {at:04X}")
    first = len(tree.nodes) + 1
    choice = Choice((Arm(Condition.of_bit(bit, 0), 1), Arm(Condition.of_bit(bit, 1), first)))
    nodes = [Node((), choice), *(_moved(node, 1) for node in tree.nodes)]
    reason = wording.interrupt_apart(at, routine.changed)
    for node in routine.tree.nodes:
        moved = _moved(node, first)
        if isinstance(moved.after, Leaf) and moved.after.kind is LeafKind.RETURNED:
            moved = replace(moved, after=replace(moved.after, kind=LeafKind.BOUND, reason=reason))
        nodes.append(moved)
    return replace(tree, nodes=tuple(nodes))


def _moved(node: Node, by: int) -> Node:
    """A node whose followers have other numbers."""
    match node.after:
        case Choice(arms):
            return replace(node, after=Choice(tuple(replace(arm, node=arm.node + by) for arm in arms)))
        case Link(target):
            return replace(node, after=Link(target + by))
        case _:
            return node
