"""When a program looks at a bit again after it has handed over a byte: how soon the device must have answered."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import Choice, CycleRange, Leaf, LeafKind, Wait, Write
from latchlore.program._answers import STROBE, belongs_to, handshake_timing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import ByteTree, Event, InputBit, SignalRole

DATA = "DATA"
MAX_ROUNDS = 64
"""How often a place may widen before its most number is given up: a loop without an edge has none."""


@dataclass(frozen=True, slots=True)
class Looks:
    """Cycles from the strobe's first edge, least and most over all paths; a data write where no strobe is known.

    `first`: to the first read whose value of the bit matters, None where no path looks behind a strobe.  `blind`: to
    the next strobe on paths that do not look in between, None where all do.  `places`: program addresses of the first
    reads, rising.  `again`: the least cycles to the first read where a routine that returned without a look is entered
    anew at once, its caller's own instructions not counted; None where no path returns so, or none looks before it
    strobes.
    """

    first: CycleRange | None
    blind: CycleRange | None
    places: tuple[int, ...]
    again: int | None = None


class _State(NamedTuple):
    """A place in the tree, the strobe's level there, and whether a strobe has not been looked behind yet."""

    node: int
    level: int | None
    is_waiting: bool


def looks_after(tree: ByteTree, roles: Sequence[SignalRole], watched: SignalRole) -> Looks:
    """When the program looks at `watched`, one bit of a register that is read, after a strobe.

    A read counts only if some path's conditions or bytes depend on the bit, so a figure may be too small (a read that
    matters on another path only), never too large.
    """
    found = _Follower(tree, roles, watched)
    found.follow()
    head = found.least_before_look()
    again = None if found.tail is None or head is None else found.tail + head
    return Looks(found.first, found.blind, tuple(sorted(found.places)), again)


def used_turns(tree: ByteTree, watched: SignalRole) -> frozenset[tuple[int, int]]:
    """Address and turn of the reads whose value of the watched bit decides something."""
    bits: set[InputBit] = set()
    for node in tree.nodes:
        for event in node.events:
            if isinstance(event, Write):
                bits.update(event.value.bits)
        if isinstance(node.after, Choice):
            for arm in node.after.arms:
                bits.update(arm.condition.bits)
    return frozenset(
        (one.address, one.turn)
        for one in bits
        if one.kind is watched.kind and one.bit == watched.bit and one.address in watched.addresses and one.turn >= 0
    )


class _Follower:
    """Carries "cycles since the strobe" along every way, as ranges."""

    def __init__(self, tree: ByteTree, roles: Sequence[SignalRole], watched: SignalRole) -> None:
        assert watched.bit is not None
        self.tree = tree
        self.kind, self.addresses, self.bit = watched.kind, watched.addresses, watched.bit
        self.strobes = [role for role in roles if role.direction == "write" and role.signal == STROBE]
        if not self.strobes:
            self.strobes = [role for role in roles if role.direction == "write" and role.signal == DATA]
        self.is_strobe = belongs_to(self.strobes)
        self.active = handshake_timing(tree, roles).level
        self.used = used_turns(tree, watched)
        self.first: CycleRange | None = None
        self.blind: CycleRange | None = None
        self.places: set[int] = set()
        self.tail: int | None = None

    def looks(self, event: Event) -> bool:
        """Whether an event is a read whose value of the bit matters."""
        if isinstance(event, Write) or event.kind is not self.kind or event.address not in self.addresses:
            return False
        if isinstance(event, Wait) and event.mask >> self.bit & 1:
            return True
        return (event.address, event.turn) in self.used

    def follow(self) -> None:
        """Visit every place until nothing widens any more."""
        start: dict[_State, CycleRange] = {_State(0, None, False): CycleRange.exactly(0)}
        rounds: dict[_State, int] = {}
        work = list(start)
        while work:
            at = work.pop()
            level, since = self.events(at, start[at] if at.is_waiting else None)
            after = self.tree.nodes[at.node].after
            if isinstance(after, Leaf) and after.kind is LeafKind.RETURNED and since is not None:
                tail = since.least + after.cycles.least
                self.tail = tail if self.tail is None else min(self.tail, tail)
            passed = since or CycleRange.exactly(0)
            for _, target in self.tree.nodes[at.node].successors:
                key = _State(target, level, since is not None)
                merged = passed if key not in start else start[key].widen(passed)
                rounds[key] = rounds.get(key, 0) + 1
                if rounds[key] > MAX_ROUNDS:
                    merged = CycleRange(merged.least, None)
                if start.get(key) != merged:
                    start[key] = merged
                    work.append(key)

    def least_before_look(self) -> int | None:
        """The least cycles from the entry to a look with no strobe before it; None where no path looks so."""
        best: dict[int, int] = {0: 0}
        found: list[int] = []
        work = [0]
        while work:
            node = work.pop(0)
            passed, is_open = best[node], True
            for event in self.tree.nodes[node].events:
                passed += event.cycles.least
                if self.looks(event):
                    found.append(passed)
                is_open = not self.looks(event) and not self._may_strobe(event)
                if not is_open:
                    break
            for _, target in self.tree.nodes[node].successors if is_open else ():
                if passed < best.get(target, passed + 1):
                    best[target] = passed
                    work.append(target)
        return min(found, default=None)

    def _may_strobe(self, event: Event) -> bool:
        return isinstance(event, Write) and self.is_strobe(event.kind, event.address) and self._edge(event, None)[1]

    def events(self, at: _State, since: CycleRange | None) -> tuple[int | None, CycleRange | None]:
        """Go along the events of a node: the level behind them, and the cycles since a strobe not looked behind."""
        level = at.level
        for event in self.tree.nodes[at.node].events:
            since = None if since is None else since + event.cycles
            if self.looks(event):
                self._note_look(event, since)
                since = None
            elif isinstance(event, Wait) and since is not None:
                since = CycleRange(since.least, None)  # it waits for another thing, as long as that takes
            elif isinstance(event, Write) and self.is_strobe(event.kind, event.address):
                level, is_edge = self._edge(event, level)
                if is_edge:
                    if since is not None:
                        self.blind = since if self.blind is None else self.blind.widen(since)
                    since = CycleRange.exactly(0)
        return level, since

    def _note_look(self, event: Event, since: CycleRange | None) -> None:
        if since is not None:
            self.first = since if self.first is None else self.first.widen(since)
            self.places.add(event.program_address)

    def _edge(self, event: Write, level: int | None) -> tuple[int | None, bool]:
        """The strobe's level behind a write, and whether a pulse begins with it."""
        levels: set[int] = set()
        for role in self.strobes:
            if role.kind is event.kind and event.address in role.addresses:
                if role.bit is None:
                    return level, True  # the access itself is the pulse
                levels |= {value >> role.bit & 1 for value in event.value.possible}
        if len(levels) != 1:
            return level, False
        now = levels.pop()
        return now, now != level and now == self.active
