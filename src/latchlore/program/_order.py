"""In which order a program moves the lines of a handshake and looks at them, over every path of its tree."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import EventOrder, HandshakeEvent, Origin, Unsupported, Wait, Write
from latchlore.program import wording
from latchlore.program._answers import STROBE, belongs_to, data_roles, pulse_level
from latchlore.program._looks import used_turns

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from latchlore.base import ByteTree, Event, EventPair, SignalRole

MAX_STATES = 50_000
"""So many places of a tree are visited; a tree with more is not asked for its order."""

LOOKED_AT = {
    HandshakeEvent.BUSY_LOOKED_AT: frozenset({"BUSY"}),
    HandshakeEvent.ACKNOWLEDGE_LOOKED_AT: frozenset({"ACK", "ACKNOWLEDGE", "ACKNLG"}),
}
_DATA, _BEGIN, _END = HandshakeEvent.DATA_SET, HandshakeEvent.STROBE_BEGINS, HandshakeEvent.STROBE_ENDS


class _State(NamedTuple):
    """A place of the tree: the strobe's bit, the events of this byte so far, whether a pulse lies behind.

    `sent`: the other bits of the last data write, where the strobe is one of the data register's.
    """

    node: int
    level: int | None
    seen: frozenset[HandshakeEvent]
    is_later: bool
    sent: object


@dataclass(slots=True)
class Found:
    """What was found: the pairs, those of looks between two bytes, and the program addresses of the writes."""

    pairs: set[EventPair] = field(default_factory=set)
    gaps: set[HandshakeEvent] = field(default_factory=set)
    places: set[int] = field(default_factory=set)


def find_order(trees: Iterable[ByteTree], roles: Sequence[SignalRole]) -> tuple[EventOrder, tuple[int, ...]] | None:
    """The order over all trees, with the program addresses of the writes; None where there is no pulse to go by.

    A data write after the strobe has begun and before it ends belongs to this strobe, one after it has ended to the
    next.  A look between two bytes belongs to the later one where a first byte has such a look before it, else to the
    earlier one.  None too where nothing tells which level of the strobe's bit is the pulse.  Refuses a tree of too many
    places.
    """
    whole = Found()
    for tree in trees:
        level = pulse_level(tree, roles)
        if level is None:
            continue
        found = _Follower(tree, roles, level).follow()
        if found is None:
            raise Unsupported(Origin("the program"), wording.order_too_large(tree.entry, MAX_STATES))
        whole.pairs |= found.pairs | _behind(found)
        whole.places |= found.places
    if not whole.pairs:
        return None
    either = {(a, b) for a, b in whole.pairs if (b, a) in whole.pairs}
    return _order(whole.pairs - either, either), tuple(sorted(whole.places))


def _order(before: set[EventPair], either: set[EventPair]) -> EventOrder:
    """The order; where paths that each lack some event go all around together, no pair of them is sure."""
    try:
        return EventOrder.of(before, either)
    except ValueError:
        return EventOrder.of((), before | either)


def _behind(found: Found) -> set[EventPair]:
    """Looks between two bytes that belong to the earlier one, since no first byte is preceded by one."""
    late = [look for look in found.gaps if (look, _DATA) not in found.pairs and (look, _BEGIN) not in found.pairs]
    return {(event, look) for look in late for event in (_DATA, _BEGIN, _END)}


class _Follower:
    """Visits every place of a tree once for each order of events that leads there."""

    def __init__(self, tree: ByteTree, roles: Sequence[SignalRole], active: int) -> None:
        self.tree, self.active = tree, active
        self.is_data = belongs_to(data_roles(roles))
        self.strobes = [r for r in roles if r.direction == "write" and r.signal == STROBE and r.bit is not None]
        self.looks = {
            event: [
                (role, used_turns(tree, role))
                for role in roles
                if role.direction == "read" and role.signal in names and role.bit is not None
            ]
            for event, names in LOOKED_AT.items()
        }
        self.found = Found()

    def follow(self) -> Found | None:
        """What the tree shows; None where it has too many places."""
        work = [_State(0, None, frozenset(), False, None)]
        done = set(work)
        while work:
            if len(done) > MAX_STATES:
                return None
            at = work.pop()
            for event in self.tree.nodes[at.node].events:
                at = self.step(at, event)
            for _, target in self.tree.nodes[at.node].successors:
                state = at._replace(node=target)
                if state not in done:
                    done.add(state)
                    work.append(state)
        return self.found

    def step(self, at: _State, event: Event) -> _State:
        """The state behind one event."""
        if isinstance(event, Write):
            return self.write(at, event)
        for look, watched in self.looks.items():
            if any(_watches(event, role, used) for role, used in watched):
                at = self.look(at, look)
        return at

    def look(self, at: _State, look: HandshakeEvent) -> _State:
        """The program looks at a line."""
        if at.is_later and _DATA not in at.seen and _BEGIN not in at.seen:
            self.found.gaps.add(look)
            return at
        return self.note(at, look)

    def note(self, at: _State, event: HandshakeEvent) -> _State:
        """An event of this byte, behind those that were."""
        self.found.pairs |= {(before, event) for before in at.seen if before != event}
        return at._replace(seen=at.seen | {event})

    def write(self, at: _State, event: Write) -> _State:
        """Data, an edge of the strobe, or both in one write (which tells no order)."""
        now, mask = self.strobe_of(event)
        has_data = self.is_data(event.kind, event.address)
        moves = now is not None and now != at.level
        if has_data and mask:
            others = (event.value.bits, tuple(value & ~mask for value in event.value.values))
            has_data = others != at.sent and not (moves and at.sent is None and now == 1 - self.active)
            at = at._replace(sent=others)
        if has_data and not (moves and mask and at.level is not None):
            at = self.note(at, _DATA)
            self.found.places.add(event.program_address)
        if now is None or not moves:
            return at
        was, at = at.level, at._replace(level=now)
        if now == self.active:
            self.found.places.add(event.program_address)
            return self.note(at, _BEGIN)
        if was != self.active:
            return at
        at = self.note(at, _END)
        return at._replace(seen=frozenset(), is_later=True)

    def strobe_of(self, event: Write) -> tuple[int | None, int]:
        """The level of the strobe's bit behind a write, None where it does not say; and the strobe's bits in it."""
        mask = 0
        for role in self.strobes:
            if role.kind is event.kind and event.address in role.addresses and role.bit is not None:
                mask |= 1 << role.bit
        if not mask:
            return None, 0
        levels = {int(value & mask != 0) for value in event.value.possible if value & mask in (0, mask)}
        return (levels.pop() if len(levels) == 1 else None), mask


def _watches(event: Event, role: SignalRole, used: frozenset[tuple[int, int]]) -> bool:
    """Whether an event is a wait for a bit, or a read whose value of it decides something."""
    if event.kind is not role.kind or event.address not in role.addresses or isinstance(event, Write):
        return False
    return (isinstance(event, Wait) and bool(event.mask >> (role.bit or 0) & 1)) or (event.address, event.turn) in used
