"""What a tree answers once it is known which bit of which register carries which signal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import ByteTree, Choice, CycleRange, Emission, Event, InputBit, InputKind, Wait, Write
from latchlore.program import wording

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from latchlore.base import SignalRole

DATA = "DATA"
STROBE = "STROBE"


def belongs_to(roles: Iterable[SignalRole]) -> Callable[[InputKind, int], bool]:
    """Whether an address is one of those that carry the roles."""
    chosen = tuple(roles)
    return lambda kind, address: any(role.kind is kind and address in role.addresses for role in chosen)


def data_roles(roles: Iterable[SignalRole]) -> tuple[SignalRole, ...]:
    """The registers whose whole byte goes to the device."""
    return tuple(role for role in roles if role.direction == "write" and role.bit is None)


def emission(tree: ByteTree, pattern: Sequence[frozenset[int]], roles: Sequence[SignalRole]) -> Emission:
    """Whether the program may write, one after another to the data register, a byte out of each set.

    "Never" only where the search was exhausted; its bounds and assumptions stand in the answer.  Where a path was
    not followed to its end and no other writes the pattern, it cannot be told.
    """
    data = data_roles(roles)
    if not data:
        return Emission(None, (wording.NO_DATA_REGISTER,))
    if tree.can_emit(pattern, belongs_to(data)):
        return Emission(True, (wording.MAY,))
    if tree.is_exhausted:
        return Emission(False, (wording.exhausted(len(tree.nodes), tree.entry), *tree.assumptions))
    ends = sorted({f"{leaf.reason} at {leaf.address:04X}" for leaf in tree.leaves if not leaf.is_done})
    return Emission(None, tuple(wording.not_followed(words) for words in ends))


@dataclass(frozen=True, slots=True)
class Timing:
    """Ranges of cycles over all paths; None where the tree shows no such pair of writes.

    `set_up`: from the data write to the strobe's first edge; `width`: from the first edge to the second; `hold`:
    from the second edge to the next data write; `period`: from strobe to strobe.  `at`: the program address of the
    write that makes the first edge.  `level`: the bit's level during the pulse.
    """

    set_up: CycleRange | None
    width: CycleRange | None
    hold: CycleRange | None
    period: CycleRange | None
    at: int | None
    level: int | None = None


_Since = dict[str, CycleRange]


def handshake_timing(tree: ByteTree, roles: Sequence[SignalRole], strobe: str = STROBE) -> Timing:
    """Times of the handshake's writes in cycles, least and most over all paths.

    An edge is a write that changes the strobe's bit, or makes its level known; a pulse is an edge and the one back.
    The pulse's level is the program's own (`own_pulse`), else the one that the roles state, else the one that a data
    write leads to; where all of these are silent and either level is left again, there are no times.  Loops of unknown
    length give no most number.
    """
    own = own_pulse(tree, roles, strobe)
    watch = _Watch(tree, roles, strobe)
    watch.follow()
    return watch.timing(None if own is None else own[0])


def pulse_level(tree: ByteTree, roles: Sequence[SignalRole], strobe: str = STROBE) -> int | None:
    """The level of the strobe's bit during the pulse.

    The program's own where it tells (`own_pulse`), so that a wrong statement about the board does not turn the
    program's testimony round; else the one that the roles state; else the one that is always left again sooner.  None
    where the tree shows no pulse, or where nothing tells.
    """
    own = own_pulse(tree, roles, strobe)
    if own is not None:
        return own[0]
    watch = _Watch(tree, roles, strobe)
    watch.follow()
    stated = watch.stated_level()
    return stated if stated in watch.widths else watch.sooner()


def own_pulse(tree: ByteTree, roles: Sequence[SignalRole], strobe: str = STROBE) -> tuple[int, tuple[int, ...]] | None:
    """The level of the strobe's bit that the program itself shows to be the pulse, with the writes that make its edges.

    Nothing that is stated of the strobe's level is used, and no width alone: a pulse may well last longer than the gap
    to the next.  Data must lead to the level.  It is then the one that is always left again sooner than the other, or
    the only one that is left again at all; or, where data never lead to the other, the one that is left again within a
    bound while the other may last as long as the device wishes: a program that holds its strobe until it is answered
    would show the opposite bounds.  None where the program does not tell.
    """
    watch = _Watch(tree, roles, strobe, own=True)
    watch.follow()
    led = [one for one in (0, 1) if ("set-up", one) in watch.found]
    level = watch.sooner()
    if level is None:
        bounded = [one for one, cycles in sorted(watch.widths.items()) if cycles.most is not None]
        if len(bounded) != 1 or bounded != led:
            return None
        level = bounded[0]
    elif level not in led:
        return None
    return level, tuple(sorted(set(watch.at.values())))


class _Watch:
    """Carries "cycles since the last data write, since the last edge" along every way, as ranges.

    `own`: what the roles state of the strobe's level is not used.
    """

    def __init__(self, tree: ByteTree, roles: Sequence[SignalRole], strobe: str, *, own: bool = False) -> None:
        self.tree, self.own = tree, own
        self.is_data = belongs_to(data_roles(roles))
        self.strobes = [role for role in roles if role.direction == "write" and role.signal == strobe]
        self.found: dict[tuple[str, int | None], CycleRange] = {}
        self.at: dict[int, int] = {}

    def level(self, event: Write) -> int | None:
        """The level of the strobe's bit that a write sets; None where it is another register or not known."""
        for role in self.strobes:
            if role.kind is event.kind and event.address in role.addresses and role.bit is not None:
                levels = {value >> role.bit & 1 for value in event.value.possible}
                return levels.pop() if len(levels) == 1 else None
        return None

    def beside_strobe(self, event: Write) -> tuple[tuple[InputBit, ...], tuple[int, ...]] | None:
        """The bits of a data write that are not the strobe's; None where the strobe stands in another register."""
        mask = 0
        for role in self.strobes:
            if role.kind is event.kind and event.address in role.addresses and role.bit is not None:
                mask |= 1 << role.bit
        return (event.value.bits, tuple(value & ~mask for value in event.value.values)) if mask else None

    def rests(self, event: Write, now: int) -> bool:
        """Whether a first data write of a register with a strobe bit leaves that at rest.

        Where nothing stated may be used it may be the pulse or its end, so it is no edge that could be measured from.
        """
        if not self.is_data(event.kind, event.address) or self.beside_strobe(event) is None:
            return False
        return self.own or self.stated_level() == 1 - now

    def note(self, what: str, level: int | None, cycles: CycleRange | None) -> None:
        """Widen a figure."""
        if cycles is None:
            return
        before = self.found.get((what, level))
        self.found[what, level] = cycles if before is None else before.widen(cycles)

    def follow(self) -> None:
        """Visit every node until nothing widens any more."""
        start: dict[tuple[int, int | None], _Since] = {(0, None): {}}
        rounds: dict[tuple[int, int | None], int] = {}
        work: list[tuple[int, int | None]] = [(0, None)]
        while work:
            at = work.pop()
            level, since = self.events(self.tree.nodes[at[0]].events, at[1], dict(start[at]))
            for _, target in self.tree.nodes[at[0]].successors:
                key = (target, level)
                merged = dict(since) if key not in start else _wider(start[key], since)
                if key in start and merged == start[key]:
                    continue
                rounds[key] = rounds.get(key, 0) + 1
                if rounds[key] > 64:  # a loop without an edge: no most number
                    # only what still grows is given up: a pulse inside of a growing loop keeps its exact width
                    known = start.get(key, {})
                    merged = {n: c if known.get(n) == c else CycleRange(c.least, None) for n, c in merged.items()}
                    if key in start and merged == start[key]:
                        continue
                start[key] = merged
                work.append(key)

    def events(self, events: tuple[Event, ...], level: int | None, since: _Since) -> tuple[int | None, _Since]:
        """Go along the events of a node."""
        sent: object = None  # where a bit of the data port is the strobe: the other bits of the last data write
        for event in events:
            passed = event.cycles
            since = {name: cycles + passed for name, cycles in since.items()}
            if isinstance(event, Wait):
                most = (
                    None if event.polls is None or event.period.most is None else event.period.most * (event.polls - 1)
                )
                wait = CycleRange(0, most)
                since = {name: cycles + wait for name, cycles in since.items()}
            elif isinstance(event, Write):
                if self.is_data(event.kind, event.address):
                    now_sent = self.beside_strobe(event)
                    if now_sent is None or now_sent != sent:  # else only the strobe's bit moves
                        self.note("hold", level, since.get("edge"))
                        since = {**since, "data": CycleRange.exactly(0)}
                    sent = now_sent
                now = self.level(event)
                if now is not None and now != level:
                    if level is None and self.rests(event, now):
                        level = now  # a first data write that leaves its own strobe bit at rest makes no edge
                    else:
                        level, since = self.edge(event, now, since)
        return level, since

    def edge(self, event: Write, now: int, since: _Since) -> tuple[int, _Since]:
        """The strobe's bit takes a level."""
        self.note("set-up", now, since.get("data"))
        self.note("width", 1 - now, since.get("edge"))
        self.note("period", now, since.get(f"edge to {now}"))
        self.at.setdefault(now, event.program_address)
        zero = CycleRange.exactly(0)
        kept = {name: cycles for name, cycles in since.items() if name != "data"}
        return now, {**kept, "edge": zero, f"edge to {now}": zero}

    def stated_level(self) -> int | None:
        """The bit's level that makes the strobe true, where a role says so."""
        stated = {role.active ^ role.inverted for role in self.strobes if role.active is not None}
        return stated.pop() if len(stated) == 1 else None

    @property
    def widths(self) -> dict[int, CycleRange]:
        """How long each level lasts that is left again."""
        return {level: cycles for (what, level), cycles in self.found.items() if what == "width" and level is not None}

    def sooner(self) -> int | None:
        """The only level that is left again, or the one that always is sooner than the other."""
        widths = self.widths
        if len(widths) == 1:
            return next(iter(widths))
        for level, cycles in widths.items():
            if cycles.most is not None and cycles.most < widths[1 - level].least:
                return level
        return None

    def timing(self, own: int | None) -> Timing:
        """The figures of the pulse: at the program's own level, else at the stated one, else at the likeliest."""
        widths = self.widths
        if not widths:
            return Timing(self.found.get(("set-up", None)), None, None, None, None)
        active = self.stated_level() if own is None else own
        if active not in widths:
            # nobody says which level is the pulse: a data write leads to it, and it is sure to be left again soonest
            led = [level for level in widths if ("set-up", level) in self.found]
            if not led and len(widths) > 1:  # a pulse and the gap behind it look alike
                return Timing(None, None, None, None, None)
            active = min(
                led or widths, key=lambda level: (widths[level].most or float("inf"), widths[level].least, level)
            )
        return Timing(
            self.found.get(("set-up", active)),
            widths[active],
            self.found.get(("hold", 1 - active)),
            self.found.get(("period", active)),
            self.at.get(active),
            active,
        )


def _wider(old: _Since, new: _Since) -> _Since:
    both = dict(old)
    for name, cycles in new.items():
        both[name] = both[name].widen(cycles) if name in both else cycles
    return both


def written_values(tree: ByteTree, kind: InputKind, addresses: Callable[[int], bool]) -> frozenset[int]:
    """Every byte that can be written to a register."""
    return tree.possible_bytes(lambda k, address: k is kind and addresses(address))


@dataclass(frozen=True, slots=True)
class Use:
    """How the code looks at one bit of a read register, and where it reads it."""

    goes_on_at: frozenset[int]
    branches: bool
    in_values: bool
    program_addresses: tuple[int, ...]


def bit_uses(tree: ByteTree, kind: InputKind, is_register: Callable[[int], bool]) -> dict[int, Use]:
    """For each of the eight bits of a register that is read, how the code looks at it."""
    waits: dict[int, set[int]] = {k: set() for k in range(8)}
    places: dict[int, set[int]] = {k: set() for k in range(8)}
    branching, in_values = set(), set()
    reads = sorted(
        {e.program_address for e in tree.iter_events() if not isinstance(e, Write) and _is(e, kind, is_register)}
    )
    for node in tree.nodes:
        for event in node.events:
            if isinstance(event, Wait) and _is(event, kind, is_register):
                for k in range(8):
                    levels = {value >> k & 1 for value in event.until}
                    if event.mask >> k & 1:
                        places[k].add(event.program_address)
                        if len(levels) == 1:
                            waits[k] |= levels
                        else:
                            branching.add(k)
            elif isinstance(event, Write):
                in_values |= {b.bit for b in event.value.bits if _mine(b, kind, is_register)}
        if isinstance(node.after, Choice):
            for arm in node.after.arms:
                branching |= {b.bit for b in arm.condition.bits if _mine(b, kind, is_register)}
    return {
        k: Use(frozenset(waits[k]), k in branching, k in in_values, tuple(sorted(places[k])) or tuple(reads))
        for k in range(8)
    }


def _is(event: Event, kind: InputKind, is_register: Callable[[int], bool]) -> bool:
    return event.kind is kind and is_register(event.address)


def _mine(bit: InputBit, kind: InputKind, is_register: Callable[[int], bool]) -> bool:
    return bit.kind is kind and is_register(bit.address)
