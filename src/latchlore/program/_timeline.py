"""The handshake as events one after another, with cycles; how wide, how early, how long, how often, over all paths."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from latchlore.base import AddressSet, CycleRange, InputKind, Link, SignalRole, Wait, Write
from latchlore.program import wording
from latchlore.program._answers import STROBE, Timing, belongs_to, data_roles, handshake_timing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from latchlore.base import ByteTree, Event
    from latchlore.program._drivers import NamedRegister

MAX_EVENTS = 14


def pick_handshake(tree: ByteTree) -> tuple[Event, ...]:
    """The first stretch from a wait up to the next wait, a choice or an end; at most 14 events.

    Nodes in order, across links; the first stretch that holds a write counts.  Empty where the tree has none.
    """
    for node in range(len(tree.nodes)):
        for place, event in enumerate(tree.nodes[node].events):
            if isinstance(event, Wait):
                stretch = _stretch(tree, node, place)
                if any(isinstance(one, Write) for one in stretch):
                    return stretch
    return ()


def pick_writes(tree: ByteTree) -> tuple[Event, ...]:
    """As `pick_handshake`; where nothing waits, the first stretch that begins with a write."""
    found = pick_handshake(tree)
    if found:
        return found
    for node in range(len(tree.nodes)):
        for place, event in enumerate(tree.nodes[node].events):
            if isinstance(event, Write):
                return _stretch(tree, node, place)
    return ()


def pick_data(tree: ByteTree, roles: Sequence[SignalRole]) -> tuple[Event, ...]:
    """The stretch around a write of the data, from the wait in front of it on if there is one in its node.

    A byte of the caller's (from a register or RAM) counts before one of the program's own.  Empty where no data is
    written.
    """
    is_data = belongs_to(data_roles(roles))
    found: list[tuple[bool, int, int]] = []
    for node, one in enumerate(tree.nodes):
        waits = [place for place, event in enumerate(one.events) if isinstance(event, Wait)]
        for place, event in enumerate(one.events):
            if isinstance(event, Write) and is_data(event.kind, event.address):
                start = max((wait for wait in waits if wait < place), default=place)
                is_own = not any(bit.kind in (InputKind.ARGUMENT, InputKind.CELL) for bit in event.value.bits)
                found.append((is_own, node, start))
    return _stretch(tree, *min(found)[1:]) if found else ()


def _stretch(tree: ByteTree, node: int, place: int) -> tuple[Event, ...]:
    """The event at `place` of a node and what follows it without another wait or a choice."""
    stretch: list[Event] = [tree.nodes[node].events[place]]
    rest = tree.nodes[node].events[place + 1 :]
    seen = {node}
    while True:
        for event in rest:
            if isinstance(event, Wait) or len(stretch) == MAX_EVENTS:
                return tuple(stretch)
            stretch.append(event)
        after = tree.nodes[node].after
        if not isinstance(after, Link) or after.node in seen:
            return tuple(stretch)
        node = after.node
        seen.add(node)
        rest = tree.nodes[node].events


@dataclass(frozen=True, slots=True)
class Moment:
    """An event of the handshake; `since`: cycles from the first one, all waits taken as already over."""

    event: Event
    since: CycleRange


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure over all paths: its name, least and most cycles, and the program addresses that show it, rising."""

    name: str
    cycles: CycleRange
    places: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Polling:
    """A loop that reads until a value comes.

    `period`: from read to read.  `polls` None: it never gives up; else after so many reads, and `time_out` from the
    first read to the last.  `places`: of the reads in the program.
    """

    event: Wait
    period: CycleRange
    polls: int | None
    time_out: CycleRange | None
    places: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Pulse:
    """Bits of a written register that go to one level and back together, where nobody says which is the strobe."""

    register: str
    kind: InputKind
    address: int
    bits: tuple[int, ...]
    timing: Timing


@dataclass(frozen=True, slots=True)
class Handshake:
    """What the entries together show.  `moments`: the stretch for one byte, empty where there is none.

    `figures` need the strobe's bit (and the data register for set-up and hold); `pulses` stand in for them where it
    is not known.
    """

    moments: tuple[Moment, ...]
    figures: tuple[Figure, ...]
    pollings: tuple[Polling, ...]
    pulses: tuple[Pulse, ...]


def read_handshake(
    trees: Sequence[ByteTree], roles: Sequence[SignalRole], registers: Sequence[NamedRegister] = ()
) -> Handshake:
    """The handshake of some entries; figures are least and most over all of their paths."""
    picks: tuple[Callable[[ByteTree], tuple[Event, ...]], ...] = (
        lambda tree: pick_data(tree, roles),
        pick_handshake,
        pick_writes,
    )
    events = next((found for pick in picks for tree in trees if (found := pick(tree))), ())
    has_strobe = any(role.signal == STROBE and role.direction == "write" for role in roles)
    timings = [handshake_timing(tree, roles) for tree in trees] if has_strobe else []
    pulses = () if has_strobe else _pulses(trees, roles, registers)
    return Handshake(_moments(events), _figures(timings), _pollings(trees), pulses)


def _moments(events: Iterable[Event]) -> tuple[Moment, ...]:
    found: list[Moment] = []
    since = CycleRange.exactly(0)
    for number, event in enumerate(events):
        since = since + event.cycles if number else since
        found.append(Moment(event, since))
    return tuple(found)


_FIGURES: tuple[tuple[str, Callable[[Timing], CycleRange | None]], ...] = (
    (wording.SET_UP, lambda timing: timing.set_up),
    (wording.STROBE_WIDTH, lambda timing: timing.width),
    (wording.HOLD, lambda timing: timing.hold),
    (wording.BYTE_PERIOD, lambda timing: timing.period),
)


def _figures(timings: Sequence[Timing]) -> tuple[Figure, ...]:
    found = []
    for name, of in _FIGURES:
        ranges = [(cycles, timing.at) for timing in timings if (cycles := of(timing)) is not None]
        if ranges:
            whole = _widest(cycles for cycles, _ in ranges)
            found.append(Figure(name, whole, tuple(sorted({at for _, at in ranges if at is not None}))))
    return tuple(found)


def _widest(ranges: Iterable[CycleRange]) -> CycleRange:
    first, *others = ranges
    for one in others:
        first = first.widen(one)
    return first


def _pollings(trees: Iterable[ByteTree]) -> tuple[Polling, ...]:
    groups: dict[tuple[object, ...], list[Wait]] = {}
    for tree in trees:
        for event in tree.iter_events():
            if isinstance(event, Wait):
                key = (event.kind, event.address, event.mask, event.until, event.polls)
                groups.setdefault(key, []).append(event)
    found = []
    for waits in groups.values():
        period = _widest(wait.period for wait in waits)
        polls = waits[0].polls
        time_out = None
        if polls is not None:
            most = None if period.most is None else period.most * (polls - 1)
            time_out = CycleRange(period.least * (polls - 1), most)
        places = tuple(sorted({wait.program_address for wait in waits}))
        found.append(Polling(replace(waits[0], turn=0), period, polls, time_out, places))
    return tuple(sorted(found, key=lambda one: (one.event.kind, one.event.address, one.places)))


def _pulses(
    trees: Sequence[ByteTree], roles: Sequence[SignalRole], registers: Sequence[NamedRegister]
) -> tuple[Pulse, ...]:
    """Bits of written registers that surely take both levels, with their times, those of like times together."""
    data = data_roles(roles)
    found: dict[tuple[str, InputKind, int, Timing], list[int]] = {}
    for kind, addresses, name in _written(trees, registers):
        if any(role.kind is kind and addresses.lowest in role.addresses for role in data):
            continue
        for bit in range(8):
            timing = _bit_timing(trees, data, kind, addresses, bit)
            if timing is not None and timing.width is not None:
                found.setdefault((name, kind, addresses.lowest, timing), []).append(bit)
    return tuple(
        Pulse(name, kind, address, tuple(bits), timing) for (name, kind, address, timing), bits in found.items()
    )


def _bit_timing(
    trees: Sequence[ByteTree], data: Sequence[SignalRole], kind: InputKind, addresses: AddressSet, bit: int
) -> Timing | None:
    """The times of one bit over all trees; None where it does not take both levels."""
    role = SignalRole(STROBE, kind, addresses, "write", bit)
    levels = {
        next(iter(values)) >> bit & 1
        for tree in trees
        for event in tree.iter_events()
        if isinstance(event, Write) and event.kind is kind and event.address in addresses
        for values in [event.value.possible]
        if len(values) == 1
    }
    if len(levels) < 2:
        return None
    whole: Timing | None = None
    for tree in trees:
        one = handshake_timing(tree, (*data, role))
        if one.width is None:
            continue
        whole = one if whole is None or whole.level != one.level else _widen(whole, one)
    return whole


def _widen(first: Timing, second: Timing) -> Timing:
    def both(a: CycleRange | None, b: CycleRange | None) -> CycleRange | None:
        return a.widen(b) if a is not None and b is not None else a or b

    return Timing(
        both(first.set_up, second.set_up),
        both(first.width, second.width),
        both(first.hold, second.hold),
        both(first.period, second.period),
        first.at,
        first.level,
    )


def _written(trees: Iterable[ByteTree], registers: Sequence[NamedRegister]) -> list[tuple[InputKind, AddressSet, str]]:
    """Registers that are written, named ones first, then single addresses."""
    writes = sorted(
        {(event.kind, event.address) for tree in trees for event in tree.iter_events() if isinstance(event, Write)}
    )
    found: list[tuple[InputKind, AddressSet, str]] = []
    for kind, address in writes:
        known = next(
            (one for one in registers if one.kind is kind and one.direction != "read" and address in one), None
        )
        width = 8 if kind is InputKind.PORT and address <= 0xFF else 16
        entry = (kind, AddressSet.of((address,), width), "") if known is None else (kind, known.addresses, known.name)
        if entry not in found:
            found.append(entry)
    return found
