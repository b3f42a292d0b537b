"""Walks through a `ByteTree`, one by one, and whether there were more of them than were looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base._bytetree import HELD, ByteTable, ByteTree, Condition, InputBit, InputKind, Leaf, Path, Write

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

Conditions = tuple[Condition, ...]


class Paths(tuple[Path, ...]):
    """Walks found, in order.  `is_complete`: the search came to its end, so that there are no others."""

    is_complete: bool

    def __new__(cls, paths: Iterable[Path], *, is_complete: bool) -> Paths:
        """The walks and whether they are all."""
        made = super().__new__(cls, paths)
        made.is_complete = is_complete
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


def explain_bytes(
    tree: ByteTree, observed: bytes, belongs: Callable[[InputKind, int], bool], max_paths: int, max_steps: int
) -> Paths:
    """See `ByteTree.explain`."""
    found: list[Path] = []
    stack: list[tuple[int, tuple[int, ...], Conditions, int, dict[int, int]]] = [(0, (), (), 0, {})]
    steps = 0
    while stack and len(found) < max_paths and steps < max_steps:
        steps += 1
        node, walked, conditions, done, last = stack.pop()
        if last.get(node) == done:
            if done == len(observed):  # sent everything, and now goes round without sending: a main loop
                found.append(Path(walked, conditions, observed, None))
            continue
        walked, last = (*walked, node), {**last, node: done}
        options: list[tuple[Conditions, int]] = [(conditions, done)]
        over: list[Conditions] = []
        for event in tree.nodes[node].events:
            if not (isinstance(event, Write) and belongs(event.kind, event.address)):
                continue
            going: list[tuple[Conditions, int]] = []
            for met, at in options:
                if at == len(observed):
                    over.append(met)
                    continue
                going += [(added, at + 1) for value, added in _values(event.value, met) if value == observed[at]]
            options = going
        found += [Path(walked, met, observed, None) for met in over]
        after = tree.nodes[node].after
        for met, at in reversed(options):
            if isinstance(after, Leaf):
                if at == len(observed):
                    found.append(Path(walked, met, observed, after.kind))
                continue
            for condition, follower in reversed(tree.nodes[node].successors):
                added = met if condition is None else (*met, condition)
                if condition is None or _consistent(added):
                    stack.append((follower, walked, added, at, last))
    found.sort(key=lambda path: (path.ends is None, len(path.nodes), path.nodes))
    return Paths(found, is_complete=not stack)


def _values(value: ByteTable, conditions: Conditions) -> list[tuple[int, Conditions]]:
    """Each value the byte can take, with the conditions under which it does."""
    if not value.bits:
        return [(value.values[0], conditions)]
    tables: dict[int, int] = {}
    for k, one in enumerate(value.values):
        tables[one] = tables.get(one, 0) | 1 << k
    return [(one, (*conditions, Condition(value.bits, tables[one]))) for one in sorted(tables)]


def _consistent(conditions: Conditions) -> bool:
    """Whether no bit that keeps its level (`HELD`) is fixed to both; others may be read anew on the way."""
    held: dict[InputBit, int] = {}
    for path in (Path((), (condition,), b"", None) for condition in conditions):
        for bit, level in path.held_bits().items():
            if bit.turn == HELD and held.setdefault(bit, level) != level:
                return False
    return True
