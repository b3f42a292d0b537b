"""Which single changes of a byte sequence could make it one that a tree writes, conditions left aside."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from latchlore.base._bytetree import InputKind, Write

if TYPE_CHECKING:
    from collections.abc import Callable

    from latchlore.base._bytetree import ByteTree, Node

    Belongs = Callable[[InputKind, int], bool]


@dataclass(frozen=True, slots=True)
class Reach:
    """Changes after which a walk may write the sequence, if its conditions hold: what is not here, no walk writes.

    Each is a set of places as the bits of a number, place 0 the lowest.  `replaced`: by value, the places at which it
    may stand in place of what stands there; `put_in`: by value, the places in front of which it may be put in (the
    length itself: at the end); `left_out`: the places that may be left out.
    """

    replaced: dict[int, int] = field(default_factory=dict)
    put_in: dict[int, int] = field(default_factory=dict)
    left_out: int = 0


def find_reach(tree: ByteTree, observed: bytes, belongs: Belongs) -> Reach:
    """The single changes of `observed` that some walk through `tree` allows, as `ByteTree.explain` counts walks."""
    return Ways(tree, observed, belongs).find()


class Ways:
    """Sets of "so many bytes written", as bits, before and behind every write: from the root on, and to the end."""

    def __init__(self, tree: ByteTree, observed: bytes, belongs: Belongs) -> None:
        self.nodes = tree.nodes
        self.all_written = 1 << len(observed)
        self.at: dict[int, int] = {}
        for k, value in enumerate(observed):
            self.at[value] = self.at.get(value, 0) | 1 << k
        self.writes = [self._writes(node, belongs) for node in tree.nodes]
        self.ends = self._backwards()

    def leads_on(self, node: int, done: int) -> bool:
        """Whether some way from the beginning of a node writes what is left behind the first `done` bytes."""
        return bool(self.ends[node] >> done & 1)

    def _writes(self, node: Node, belongs: Belongs) -> list[tuple[frozenset[int], int]]:
        """The values of each write of a node that counts, and where one of them stands."""
        return [
            (event.value.possible, self._places(event.value.possible))
            for event in node.events
            if isinstance(event, Write) and belongs(event.kind, event.address)
        ]

    def _places(self, values: frozenset[int]) -> int:
        places = 0
        for value in values:
            places |= self.at.get(value, 0)
        return places

    def find(self) -> Reach:
        """See `find_reach`."""
        begins = self._forwards()
        replaced: dict[int, int] = {}
        put_in: dict[int, int] = {}
        left_out = 0
        for number, node in enumerate(self.nodes):
            before = begins.get(number, 0)
            behind = self._behind(node, self.ends)
            left = [behind]  # what may still follow, at the end of the node and in front of each of its writes
            for _, places in reversed(self.writes[number]):
                left.append(self.all_written | left[-1] >> 1 & places)
            left.reverse()
            for k, (values, places) in enumerate(self.writes[number]):
                left_out |= before & left[k] >> 1
                for value in values:
                    replaced[value] = replaced.get(value, 0) | before & left[k + 1] >> 1
                    put_in[value] = put_in.get(value, 0) | before & left[k + 1]
                before = (before & places) << 1
            left_out |= before & behind >> 1
        return Reach(replaced, put_in, left_out)

    def _forwards(self) -> dict[int, int]:
        """How many bytes may be written where each node begins."""
        begins: dict[int, int] = {}
        work: deque[tuple[int, int]] = deque([(0, 1)])
        while work:
            number, state = work.popleft()
            new = state & ~begins.get(number, 0)
            if not new:
                continue
            begins[number] = begins.get(number, 0) | new
            for _, places in self.writes[number]:
                new = (new & places) << 1
            work.extend((follower, new) for _, follower in self.nodes[number].successors if new)
        return begins

    def _backwards(self) -> list[int]:
        """How many bytes may be written where each node begins, if the others can follow from there on."""
        ends = [self.all_written] * len(self.nodes)
        before: list[list[int]] = [[] for _ in self.nodes]
        for number, node in enumerate(self.nodes):
            for _, follower in node.successors:
                before[follower].append(number)
        work = deque(range(len(self.nodes)))
        while work:
            number = work.popleft()
            state = self._behind(self.nodes[number], ends)
            for _, places in reversed(self.writes[number]):
                state = self.all_written | state >> 1 & places
            if state & ~ends[number]:
                ends[number] |= state
                work.extend(before[number])
        return ends

    def _behind(self, node: Node, ends: list[int]) -> int:
        """The same where a node ends."""
        state = self.all_written
        for _, follower in node.successors:
            state |= ends[follower]
        return state
