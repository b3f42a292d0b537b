"""A tree as rows one under another: what happens, the choices with their arms indented, ends with their reasons.

Text and picture are drawn from the same rows.  A node that several ways lead to stands where the first of them
comes to it; the others say where.  Events that come over and over with nothing but one byte changed are one row.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from latchlore.base import Choice, CycleRange, Leaf, Link, Write
from latchlore.program import _treewords as words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.base import ByteTree, Event
    from latchlore.program._treewords import Names

MIN_TIMES = 3
MAX_PERIOD = 12
FAR = 32
SHOWN_BYTES = 24


class RowKind(StrEnum):
    """What a row tells."""

    NODE = "node"
    EVENT = "event"
    REPEAT = "repeat"
    ARM = "arm"
    GO = "go"
    LEAF = "leaf"


@dataclass(frozen=True, slots=True)
class Row:
    """One row: `depth` counts the choices on the way; `node` is the node that it belongs to, or leads to.

    `cycles`: from the row before, for an event; `at`: the place in the program.  `is_done` False: a place that was
    not followed.  `goes_on`: an arm whose rows stand below at its own depth, because the other arms end at once.
    """

    kind: RowKind
    depth: int
    node: int
    words: str
    cycles: CycleRange | None = None
    at: int | None = None
    is_done: bool = True
    goes_on: bool = False


@dataclass(frozen=True, slots=True)
class Repeat:
    """A block of events that comes `times` times.

    `varied`: the bytes of its one write that changes, in order, and `varied_index` its place in the block; empty and
    -1 where none does.  `before`: cycles in front of the first block, where those between blocks stand in the block.
    """

    block: tuple[Event, ...]
    times: int
    before: CycleRange
    varied: bytes = b""
    varied_index: int = -1


def outline(tree: ByteTree, names: Names) -> Iterator[Row]:
    """The rows of a tree, from the entry on."""
    names = names.of_tree(tree)
    incoming = [0] * len(tree.nodes)
    for node in tree.nodes:
        for _, target in node.successors:
            incoming[target] += 1
    seen: set[int] = set()
    work: list[Row] = [Row(RowKind.GO, 0, 0, "")]
    while work:
        row = work.pop()
        if row.kind is not RowKind.GO:
            yield row
            continue
        if row.node in seen:
            yield replace(row, words=f"on at node {row.node}")
            continue
        seen.add(row.node)
        if row.node == 0 or incoming[row.node] > 1:
            yield Row(RowKind.NODE, row.depth, row.node, f"node {row.node}")
        yield from _event_rows(tree, row, names)
        work += reversed(list(_rows_behind(tree, row, names, seen)))


def _rows_behind(tree: ByteTree, row: Row, names: Names, seen: set[int]) -> Iterator[Row]:
    match tree.nodes[row.node].after:
        case Choice(arms):
            short = [arm for arm in arms if arm.node in seen or _is_end(tree, arm.node)]
            long = [arm for arm in arms if arm not in short]
            # Where one arm goes on much longer than all others, it stays at its depth: a chain of tests reads down.
            if len(long) > 1:
                sizes = {arm: _size(tree, arm.node, seen) for arm in long}
                longest = max(long, key=sizes.__getitem__)
                if sizes[longest] >= FAR and sum(sizes.values()) < sizes[longest] + FAR // 2:
                    short, long = [*short, *(arm for arm in long if arm is not longest)], [longest]
            for arm in (*short, *long):
                text = words.condition_words(arm.condition, names)
                goes_on = long == [arm]
                yield Row(RowKind.ARM, row.depth, arm.node, text, goes_on=goes_on)
                yield Row(RowKind.GO, row.depth + (not goes_on), arm.node, "")
        case Link(target):
            yield Row(RowKind.GO, row.depth, target, "")
        case Leaf() as leaf:
            text = words.leaf_words(leaf)
            yield Row(RowKind.LEAF, row.depth, row.node, text, leaf.cycles, leaf.address, leaf.is_done)


def _size(tree: ByteTree, start: int, seen: set[int]) -> int:
    """How many nodes not shown yet an arm leads to, counted up to `FAR`."""
    found: set[int] = set()
    work = [start]
    while work and len(found) < FAR:
        at = work.pop()
        if at not in found and at not in seen:
            found.add(at)
            work += [target for _, target in tree.nodes[at].successors]
    return len(found)


def _is_end(tree: ByteTree, at: int) -> bool:
    return isinstance(tree.nodes[at].after, Leaf) and not tree.nodes[at].events


def _event_rows(tree: ByteTree, row: Row, names: Names) -> Iterator[Row]:
    for one in fold_repeats(tree.nodes[row.node].events):
        if not isinstance(one, Repeat):
            yield _event_row(one, row.depth, row.node, names)
            continue
        shown = one.varied[:SHOWN_BYTES].hex(" ").upper()
        more = f" … {len(one.varied) - SHOWN_BYTES} more" if len(one.varied) > SHOWN_BYTES else ""
        varied = f", with {shown}{more}" if one.varied else ""
        yield Row(RowKind.REPEAT, row.depth, row.node, f"{one.times} times{varied}:", one.before)
        for k, event in enumerate(one.block):
            below = _event_row(event, row.depth + 1, row.node, names)
            if k == one.varied_index and isinstance(event, Write):
                old = f"← {event.value.values[0]:02X}"
                below = replace(below, words=below.words.replace(old, "← the next of these", 1))
            yield below


def _event_row(event: Event, depth: int, node: int, names: Names) -> Row:
    return Row(RowKind.EVENT, depth, node, words.event_words(event, names), event.cycles, event.program_address)


# -- repeats -------------------------------------------------------------------------------------------------------


def fold_repeats(events: Sequence[Event]) -> list[Event | Repeat]:
    """Blocks that come at least three times on end as one; at most one write of a block may change its byte.

    The cycles between the blocks are the same too, except in front of the first.
    """
    found: list[Event | Repeat] = []
    plain = [replace(event, program_address=0) for event in events]
    at = 0
    while at < len(events):
        best: Repeat | None = None
        for period in range(1, min(MAX_PERIOD, (len(events) - at) // MIN_TIMES) + 1):
            one = _repeat_at(events, plain, at, period)
            if one is not None and (best is None or one.times * len(one.block) > best.times * len(best.block)):
                best = one
        if best is None:
            found.append(events[at])
            at += 1
        else:
            found.append(best)
            at += best.times * len(best.block)
    return found


def _repeat_at(events: Sequence[Event], plain: Sequence[Event], at: int, period: int) -> Repeat | None:
    """The repeats of a block of so many events; `plain` are the events without their places."""
    block = plain[at + period : at + 2 * period]
    first = [replace(plain[at], cycles=block[0].cycles), *plain[at + 1 : at + period]]
    varied = _changed(block, first)
    if varied is None or len(varied) > 1:
        return None
    times = 2
    while True:
        other = plain[at + times * period : at + (times + 1) * period]
        changed = _changed(block, other) if len(other) == period else None
        if changed is None or len(varied | changed) > 1:
            break
        varied |= changed
        times += 1
    if times < MIN_TIMES:
        return None
    shown = tuple(events[at + period : at + 2 * period])
    if not varied:
        return Repeat(shown, times, events[at].cycles)
    (index,) = varied
    writes = [events[at + k * period + index] for k in range(times)]
    values = bytes(write.value.values[0] for write in writes if isinstance(write, Write))
    return Repeat(shown, times, events[at].cycles, values, index)


def _changed(block: Sequence[Event], other: Sequence[Event]) -> set[int] | None:
    """The writes of two blocks whose bytes differ; None where something else does."""
    found = set()
    for k, (first, second) in enumerate(zip(block, other, strict=True)):
        if first == second:
            continue
        if not (isinstance(first, Write) and isinstance(second, Write)) or first.value.bits or second.value.bits:
            return None
        if replace(first, value=second.value) != second:
            return None
        found.add(k)
    return found
