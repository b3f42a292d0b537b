"""Walks through a `ByteTree`, one by one, and whether there were more of them than were looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from latchlore.base._bytetree import (
    HELD,
    ByteTable,
    ByteTree,
    Condition,
    InputBit,
    InputKind,
    Leaf,
    LeafKind,
    Path,
    Write,
)
from latchlore.base._treereach import Ways

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

Conditions = tuple[Condition, ...]


class Paths(tuple[Path, ...]):
    """Walks found, in order.  `is_complete`: the search came to its end, so that there are no others; after `steps`."""

    is_complete: bool
    steps: int

    def __new__(cls, paths: Iterable[Path], *, is_complete: bool, steps: int = 0) -> Paths:
        """The walks and whether they are all."""
        made = super().__new__(cls, paths)
        made.is_complete, made.steps = is_complete, steps
        return made


class Walks:
    """Walks given one after another.  `is_complete`: True once all have been given and no limit was reached."""

    __slots__ = ("_given", "is_complete")

    def __init__(self, give: Callable[[Walks], Iterator[Path]]) -> None:
        self.is_complete = False
        self._given = give(self)

    def __iter__(self) -> Iterator[Path]:
        return self._given

    def __next__(self) -> Path:
        return next(self._given)


def walk_all(
    tree: ByteTree, belongs: Callable[[InputKind, int], bool], max_bytes: int, max_paths: int, walks: Walks
) -> Iterator[Path]:
    """See `ByteTree.iter_paths`."""
    stack: list[tuple[int, tuple[int, ...], Conditions, bytes, dict[int, int]]] = [(0, (), (), b"", {})]
    given = 0
    while stack:
        node, walked, conditions, written, last = stack.pop()
        if last.get(node) == len(written) or len(written) >= max_bytes:
            if given == max_paths:
                return
            given += 1
            yield Path(walked, conditions, written, None)
            continue
        walked, last = (*walked, node), {**last, node: len(written)}
        grown: list[tuple[Conditions, bytes]] = [(conditions, written)]
        for event in tree.nodes[node].events:
            if isinstance(event, Write) and belongs(event.kind, event.address):
                grown = [
                    (added, text + bytes([value]))
                    for text_conditions, text in grown
                    for value, added in _values(event.value, text_conditions)
                ]
        after = tree.nodes[node].after
        for grown_conditions, text in reversed(grown):
            if isinstance(after, Leaf):
                if given == max_paths:
                    return
                given += 1
                yield Path(walked, grown_conditions, text, after.kind)
                continue
            for condition, follower in reversed(tree.nodes[node].successors):
                met = grown_conditions if condition is None else (*grown_conditions, condition)
                stack.append((follower, walked, met, text, last))
    walks.is_complete = True


class Explainer:
    """Looks up byte sequences in one tree, one after another: what it has learnt of a node is kept for the next.

    `belongs` tells which writes count.
    """

    def __init__(self, tree: ByteTree, belongs: Callable[[InputKind, int], bool]) -> None:
        self.tree, self.belongs = tree, belongs
        self.writes: dict[int, list[_Values]] = {}
        self.arms: dict[int, list[tuple[Condition | None, Held, int]]] = {}

    def explain(self, observed: bytes, max_paths: int = 64, max_steps: int = 200_000) -> Paths:
        """See `ByteTree.explain`.  Where no way writes the rest, whatever its conditions, no walk goes on."""
        ways = Ways(self.tree, observed, self.belongs)
        found: list[Path] = []
        stack = [_Walk(0, None, None, 0, frozenset(), {})] if ways.leads_on(0, 0) else []
        steps = 0
        while stack and len(found) < max_paths and steps < max_steps:
            steps += 1
            walk = stack.pop()
            if walk.node in walk.here:
                if walk.done == len(observed):  # sent everything, and now goes round without sending: a main loop
                    found.append(_path(walk.walked, walk.conditions, observed, None))
                continue
            self._go_on(walk, observed, ways, found, stack)
        found.sort(key=lambda path: (path.ends is None, len(path.nodes), path.nodes))
        return Paths(found, is_complete=not stack, steps=steps)

    def _go_on(self, walk: _Walk, observed: bytes, ways: Ways, found: list[Path], stack: list[_Walk]) -> None:
        """Through a node and to those behind it; walks that come to their end are put to those found."""
        node, done = walk.node, walk.done
        walked = (walk.walked, node)
        options = [(walk.conditions, done, walk.held)]
        for write in self._writes_of(node):
            found += [_path(walked, met, observed, None) for met, at, _ in options if at == len(observed)]
            options = [
                (met if condition is None else (met, condition), at + 1, after)
                for met, at, held in options
                if at < len(observed)
                for condition, fixed in write.get(observed[at], ())
                if (after := _joined(held, fixed)) is not None
            ]
        leaf = self.tree.nodes[node].after
        for met, at, held in reversed(options):
            if isinstance(leaf, Leaf):
                if at == len(observed):
                    found.append(_path(walked, met, observed, leaf.kind))
                continue
            been = walk.here | {node} if at == done else frozenset[int]()
            for condition, fixed, follower in reversed(self._arms_of(node)):
                after = _joined(held, fixed)
                if after is not None and ways.leads_on(follower, at):
                    added = met if condition is None else (met, condition)
                    stack.append(_Walk(follower, walked, added, at, been, after))

    def _writes_of(self, node: int) -> list[_Values]:
        """The writes of a node that count, in time order."""
        if node not in self.writes:
            self.writes[node] = [
                _values_of(event)
                for event in self.tree.nodes[node].events
                if isinstance(event, Write) and self.belongs(event.kind, event.address)
            ]
        return self.writes[node]

    def _arms_of(self, node: int) -> list[tuple[Condition | None, Held, int]]:
        if node not in self.arms:
            self.arms[node] = [(met, _held(met), follower) for met, follower in self.tree.nodes[node].successors]
        return self.arms[node]


Held = dict[InputBit, int]
Chain = tuple[Any, Any] | None
"""Things in a row, as (those before, the last one): walks share their beginnings, and a long one costs no copies."""


class _Walk(NamedTuple):
    """A walk on its way: where it is, where it was, the conditions met, how many bytes it has written.

    `here`: the nodes it has been at since it wrote the last one; `held`: the levels of bits that keep them.
    """

    node: int
    walked: Chain
    conditions: Chain
    done: int
    here: frozenset[int]
    held: Held


_Values = dict[int, list[tuple[Condition | None, Held]]]
"""Of a write: for each value, the conditions under which it is written, with the levels that each fixes."""


def _values_of(write: Write) -> _Values:
    found: _Values = {}
    for value, added in _values(write.value, ()):
        condition = added[0] if added else None
        found.setdefault(value, []).append((condition, _held(condition)))
    return found


def _path(walked: Chain, conditions: Chain, observed: bytes, ends: LeafKind | None) -> Path:
    return Path(tuple(_in_order(walked)), tuple(_in_order(conditions)), observed, ends)


def _in_order(chain: Chain) -> list[Any]:
    """The things of a chain, the first one first."""
    found = []
    while chain is not None:
        chain, last = chain
        found.append(last)
    found.reverse()
    return found


def _held(condition: Condition | None) -> Held:
    """The levels that a condition fixes of bits that keep theirs."""
    if condition is None:
        return {}
    fixed = Path((), (condition,), b"", None).held_bits()
    return {bit: level for bit, level in fixed.items() if bit.turn == HELD}


def _joined(held: Held, fixed: Held) -> Held | None:
    """Both together; None where a bit would have to be 0 and 1.  Bits read anew on the way are in neither."""
    if not fixed:
        return held
    if any(held.get(bit, level) != level for bit, level in fixed.items()):
        return None
    return {**held, **fixed}


def _values(value: ByteTable, conditions: Conditions) -> list[tuple[int, Conditions]]:
    """Each value the byte can take, with the conditions under which it does."""
    if not value.bits:
        return [(value.values[0], conditions)]
    tables: dict[int, int] = {}
    for k, one in enumerate(value.values):
        tables[one] = tables.get(one, 0) | 1 << k
    return [(one, (*conditions, Condition(value.bits, tables[one]))) for one in sorted(tables)]
