"""Which bytes of the images are code, as far as jumps and calls lead from stated entries, without running anything.

Every way out of an instruction is followed; registers are carried along as long as all ways to a place agree on them
(after a call: those that the routine, and all that it calls, never sets).  What is behind a call is followed once a
return of the routine was found.  A place where it cannot go on is listed with its reason.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from latchlore.base import Progress, no_progress
from latchlore.program import _findwords as wording
from latchlore.program._bounds import Bounds
from latchlore.program._cpu import cpu_folders, get_cpu
from latchlore.program._entry import check_entry
from latchlore.program._image import SPACE
from latchlore.program._loadcode import find_vector
from latchlore.program._loadfacts import LANDMARKS
from latchlore.program._static import Access, Looker, OffImageError, Registers, Way

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from latchlore.base import AddressSet
    from latchlore.program._cpu import Row
    from latchlore.program._image import Image

CALLS = frozenset({"call", "call if", "restart", "interrupt"})
RETURNS = frozenset({"return", "return if", "return interrupt"})


def cpu_names() -> tuple[str, ...]:
    """The processors that are known, in the order of their names."""
    return tuple(cpu_folders())


def has_ports(cpu: str) -> bool:
    """Whether a processor has a space of ports beside its memory."""
    return get_cpu(cpu).space > SPACE


def unknown_registers(cpu: str, given: Iterable[str]) -> tuple[str, ...]:
    """Registers (no flags) of which nothing is known at an entry where only `given` ones are."""
    processor = get_cpu(cpu)
    known = {*given, *processor.at_entry, *processor.volatile, processor.stack}
    return tuple(name for name in processor.registers if name not in known)


def vector_entries(images: Iterable[Image], cpu: str) -> dict[int, str]:
    """Entries that the processor itself names: address → ``vector NAME``.

    Those that lead into an image; empty where there is none.
    """
    marks = LANDMARKS.get(cpu)
    if marks is None:
        return {}
    loaded = tuple(images)
    found: dict[int, str] = {}
    for name in ("reset",) if marks.start is not None else tuple(marks.vectors.values()):
        target = find_vector(cpu, name, loaded)
        if isinstance(target, int) and any(target in image for image in loaded):
            found[target] = f"{found[target]}, {name}" if target in found else f"vector {name}"
    return found


@dataclass(frozen=True, slots=True)
class Instruction:
    """One instruction that is reached.

    `text` in the mnemonics of the chip's maker.  `accesses`: what it may touch, in order, fetches left out.  `calls`
    and `jumps`: where it can lead besides the next instruction, rising.  `routines`: entries and called places from
    which it is reached without a call in between, rising.  `is_on_stack`: it works on the stack; where that lies is
    not known, and its accesses there are not real addresses.
    """

    address: int
    data: bytes
    text: str
    is_documented: bool
    flow: str
    accesses: tuple[Access, ...]
    calls: tuple[int, ...]
    jumps: tuple[int, ...]
    routines: tuple[int, ...]
    is_on_stack: bool = False

    @property
    def end(self) -> int:
        """The address behind it."""
        return self.address + len(self.data)


@dataclass(frozen=True, slots=True)
class NotFollowed:
    """A place where following ends for another reason than a return; `address` is that of the instruction."""

    address: int
    reason: str


@dataclass(frozen=True, slots=True)
class CodeMap:
    """What was reached.

    `instructions` by rising address.  `entries`: address → name as stated.  `called_from`, `jumped_from`: target →
    addresses of instructions, rising.  `takes_inline`: called places that read what lies behind their call (inline
    text), so that nothing is followed there.  `assumptions`: what is taken for granted, in sentences.
    """

    cpu: str
    images: tuple[Image, ...]
    entries: Mapping[int, str]
    instructions: Mapping[int, Instruction]
    called_from: Mapping[int, tuple[int, ...]]
    jumped_from: Mapping[int, tuple[int, ...]]
    takes_inline: frozenset[int]
    not_followed: tuple[NotFollowed, ...]
    assumptions: tuple[str, ...]
    num_places: int = 0

    def name_of(self, start: int) -> str:
        """What a routine is called: its name as an entry, else its address."""
        return f"{start:04X} “{self.entries[start]}”" if self.entries.get(start) else f"{start:04X}"

    @property
    def routines(self) -> tuple[int, ...]:
        """Entries and called places in the images, rising."""
        starts = set(self.entries) | set(self.called_from)
        return tuple(sorted(start for start in starts if start in self.instructions))


def map_code(
    images: Sequence[Image],
    entries: Mapping[int, str],
    *,
    cpu: str,
    devices: AddressSet | None = None,
    port_mask: int | None = None,
    memory: Mapping[int, int] | None = None,
    places: Iterable[int] = (),
    progress: Progress = no_progress,
) -> CodeMap:
    """Follow the code from entries (address → name) and from `places` known to be code by other means.

    `devices`: addresses whose content may change although an image lies there.  `memory`: RAM bytes known at the
    entries, taken for code where something leads there.  Refuses an entry outside of the
    images.
    """
    loaded = tuple(images)
    for entry in entries:
        check_entry(loaded, entry)
    known = {place for place in places if any(place in image for image in loaded)} - set(entries)
    mask = Bounds().port_mask if port_mask is None else port_mask
    inline: frozenset[int] = frozenset()
    while True:
        mapper = _Mapper(cpu, loaded, devices, mask, inline, memory or {})
        mapper.follow(entries, sorted(known), progress)
        found = inline | mapper.find_inline()
        if found == inline:
            return mapper.result(entries, len(known))
        inline = found


@dataclass(slots=True)
class _Call:
    """A call: where from, where to (None: not known), and what comes behind it."""

    site: int
    target: int | None
    after: int


@dataclass(slots=True)
class _Routine:
    """What is known of a called place so far."""

    returns: bool = False
    drops_caller: bool = False
    reads_own_return: bool = False
    writes_own_return: bool = False
    jumps_anywhere: bool = False
    sets: set[int] = field(default_factory=set)
    calls: set[int] = field(default_factory=set)


class _Mapper:
    """One walk over the code."""

    def __init__(
        self,
        cpu: str,
        images: tuple[Image, ...],
        devices: AddressSet | None,
        port_mask: int,
        inline: frozenset[int],
        ram: Mapping[int, int],
    ) -> None:
        self.cpu, self.images, self.devices, self.inline, self.ram = get_cpu(cpu), images, devices, inline, ram
        self.looker = Looker(self.cpu, self.memory, self.fixed, port_mask)
        self.stack = self.looker.index[self.cpu.stack]
        self.own_cells = frozenset(self.cpu.return_cells(self.cpu.entry_stack))
        self.states: dict[int, Registers] = {}
        self.owners: dict[int, set[int]] = {}
        self.queue: deque[int] = deque()
        self.calls: dict[tuple[int, int | None], _Call] = {}
        self.routines: dict[int, _Routine] = {}
        self.edges: dict[int, tuple[set[int], set[int]]] = {}  # instruction → called, jumped to
        self.stuck: dict[int, set[str]] = {}

    # -- memory ------------------------------------------------------------------------------------------------

    def memory(self, address: int) -> int | None:
        """A byte of the images, or of the RAM that is known."""
        if self.devices is not None and address in self.devices:
            return None
        for image in self.images:
            if address in image:
                is_unknown = any(first <= address <= last for first, last in image.unknown)
                return None if is_unknown else image.data[address - image.load]
        return self.ram.get(address)

    def fixed(self, address: int) -> int | None:
        """A byte that nothing changes."""
        holder = next((image for image in self.images if address in image), None)
        return None if holder is None or holder.writable or address in self.ram else self.memory(address)

    # -- following ---------------------------------------------------------------------------------------------

    def follow(self, entries: Mapping[int, str], places: list[int], progress: Progress) -> None:
        """Go everywhere."""
        for entry in entries:
            self.routines.setdefault(entry, _Routine())
            self.arrive(entry, self.looker.at_entry(), {entry})
        nothing: Registers = (None,) * len(self.looker.index)
        for place in places:
            self.arrive(place, nothing, set())
        while True:
            while self.queue:
                at = self.queue.popleft()
                self.visit(at)
                if not len(self.states) & 0xFF:
                    progress(len(self.states), 0, wording.MAPPING)
            if not self.release():
                return

    def arrive(self, at: int, registers: Registers, owners: set[int]) -> bool:
        """Come to an instruction; whether that tells anything new."""
        before = self.states.get(at)
        known = registers
        if before is not None:
            known = tuple(a if a == b else None for a, b in zip(before, registers, strict=True))
        mine = self.owners.setdefault(at, set())
        if known == before and owners <= mine:
            return False
        self.states[at] = known
        mine |= owners
        self.queue.append(at)
        return True

    def mark_stuck(self, at: int, reason: str) -> None:
        """Note that following ends at an instruction."""
        self.stuck.setdefault(at, set()).add(reason)

    def visit(self, at: int) -> None:
        """Follow one instruction."""
        self.stuck.pop(at, None)
        try:
            row = self.looker.row(at)
            data = self.looker.data(at)
        except OffImageError as error:
            self.mark_stuck(at, wording.cut_off(error.address))
            return
        if row is None:
            self.mark_stuck(at, wording.undocumented(self.cpu.spell(self.cpu.code_at(self.looker.byte, at))))
            return
        self.edges[at] = (set(), set())
        after = (at + len(data)) & 0xFFFF
        mine = [self.routines.setdefault(owner, _Routine()) for owner in sorted(self.owners[at])]
        sets = {self.looker.index[name] for name in row.print.may_write}
        for routine in mine:
            routine.sets |= sets
        for way in self.looker.ways(at, self.states[at]):
            if row.flow in CALLS and any(access.is_write for access in way.accesses):
                self.call(at, after, way, mine)
            elif row.flow in RETURNS and (way.targets is None or row.flow != "return if"):
                self.come_back(at, mine)
            else:
                self.note_stack_use(way, mine)
                self.go_on(at, after, row, way, mine)

    def go_on(self, at: int, after: int, row: Row, way: Way, mine: list[_Routine]) -> None:
        """Follow a way that is neither a call nor a return."""
        if way.targets is None:
            for routine in mine:
                routine.jumps_anywhere = True
            self.mark_stuck(at, wording.UNKNOWN_JUMP)
            return
        for target in way.targets:
            if target != after or row.flow not in ("next", "branch", "refresh", "call if", "return if", "halt"):
                self.edges[at][1].add(target)
            if self.memory(target) is None:
                self.mark_stuck(at, wording.leaves(target))
                for routine in mine:
                    routine.jumps_anywhere = True
                continue
            self.arrive(target, way.registers, self.owners[at])

    def note_stack_use(self, way: Way, mine: list[_Routine]) -> None:
        """Whether it looks at the address that its caller left on the stack."""
        for access in way.accesses:
            if access.kind in ("rd", "wr") and access.addresses and self.own_cells & set(access.addresses):
                for routine in mine:
                    routine.reads_own_return |= access.kind == "rd"
                    routine.writes_own_return |= access.kind == "wr"

    def call(self, at: int, after: int, way: Way, mine: list[_Routine]) -> None:
        """Follow a call, and remember what lies behind it."""
        for target in way.targets if way.targets is not None else (None,):
            self.calls.setdefault((at, target), _Call(at, target, after))
            if target is None:
                self.mark_stuck(at, wording.UNKNOWN_CALL)
                for routine in mine:
                    routine.sets |= set(range(len(self.looker.index)))
                continue
            self.edges[at][0].add(target)
            for routine in mine:
                routine.calls.add(target)
            if self.memory(target) is None:
                self.mark_stuck(at, wording.calls_out(target))
                continue
            self.routines.setdefault(target, _Routine())
            registers = list(way.registers)
            registers[self.stack] = self.cpu.entry_stack  # every routine is looked at with the same stack
            self.arrive(target, tuple(registers), {target})

    def come_back(self, at: int, mine: list[_Routine]) -> None:
        """A return: to the caller, or to an address that the routine has put there itself."""
        row, pointer = self.looker.row(at), self.states[at][self.stack]
        if pointer is not None and row is not None:
            pointer -= row.pushes
        if pointer is None or self.cpu.return_cells(pointer) == self.cpu.return_cells(self.cpu.entry_stack):
            for routine in mine:
                routine.returns = True
            return
        if row is not None and row.flow == "return interrupt":
            for routine in mine:
                routine.returns = True
        elif self.cpu.popped(self.cpu.entry_stack, 2) == pointer:
            for routine in mine:
                routine.drops_caller = True
        elif pointer > self.cpu.entry_stack:
            self.mark_stuck(at, wording.DROPS_CALLERS)
        else:
            self.mark_stuck(at, wording.PUSHED_RETURN)

    def release(self) -> bool:
        """Follow what lies behind calls of routines that come back."""
        changed = False
        for call in list(self.calls.values()):
            is_known = call.target is not None and self.memory(call.target) is not None
            sets: set[int] | None = None
            if is_known:
                assert call.target is not None
                if self.routines[call.target].drops_caller:  # it goes back to whoever called the caller
                    for owner in sorted(self.owners[call.site]):
                        changed |= not self.routines[owner].returns
                        self.routines[owner].returns = True
                if call.target in self.inline or not self.routines[call.target].returns:
                    continue
                sets = self.all_set(call.target)
            before = self.states[call.site]
            registers = [None if sets is None or k in sets else one for k, one in enumerate(before)]
            registers[self.stack] = before[self.stack]
            if self.memory(call.after) is None:
                self.mark_stuck(call.site, wording.leaves(call.after))
                continue
            changed |= self.arrive(call.after, tuple(registers), self.owners[call.site])
        return changed

    def all_set(self, start: int) -> set[int] | None:
        """Registers that a routine, or one that it calls, may set; None where that cannot be told."""
        found: set[int] = set()
        work, seen = [start], {start}
        while work:
            at = work.pop()
            if at not in self.routines:
                return None
            routine = self.routines[at]
            if routine.jumps_anywhere:
                return None
            found |= routine.sets
            work += sorted(routine.calls - seen)
            seen |= routine.calls
        return found

    # -- what came out -----------------------------------------------------------------------------------------

    def find_inline(self) -> frozenset[int]:
        """Called places that take bytes from behind their calls: they read their own return address and change it."""
        called = {target for called, _ in self.edges.values() for target in called}
        return frozenset(
            start
            for start, routine in self.routines.items()
            if start in called and routine.reads_own_return and (routine.writes_own_return or routine.jumps_anywhere)
        )

    def result(self, entries: Mapping[int, str], num_places: int) -> CodeMap:
        """Everything as a value."""
        for call in self.calls.values():
            if call.target in self.inline:
                self.mark_stuck(call.site, wording.inline(call.target))
        found = {}
        for at in sorted(self.states):
            one = self.instruction(at)
            if one is not None:
                found[at] = one
        called: dict[int, set[int]] = {}
        jumped: dict[int, set[int]] = {}
        for one in found.values():
            for target in one.calls:
                called.setdefault(target, set()).add(one.address)
            for target in one.jumps:
                jumped.setdefault(target, set()).add(one.address)
        return CodeMap(
            self.cpu.name,
            self.images,
            dict(entries),
            found,
            {target: tuple(sorted(sites)) for target, sites in sorted(called.items())},
            {target: tuple(sorted(sites)) for target, sites in sorted(jumped.items())},
            self.inline & set(called),
            tuple(NotFollowed(at, reason) for at in sorted(self.stuck) for reason in sorted(self.stuck[at])),
            wording.map_assumptions(len(entries), num_places),
            num_places,
        )

    def instruction(self, at: int) -> Instruction | None:
        """One instruction with all that is known of it in the end; None where not even its bytes are."""
        try:
            row = self.looker.row(at)
            data = self.looker.data(at)
        except OffImageError:
            return None
        owners = tuple(sorted(self.owners[at]))
        if row is None:
            text = wording.undocumented(self.cpu.spell(self.cpu.code_at(self.looker.byte, at)))
            return Instruction(at, data, text, False, "", (), (), (), owners)
        accesses = dict.fromkeys(one for way in self.looker.ways(at, self.states[at]) for one in way.accesses)
        text = f"{row.name} {self.cpu.operand(self.looker.byte, at)}".rstrip()
        called, jumped = self.edges.get(at, (set(), set()))
        on_stack = self.cpu.stack in row.print.reads
        return Instruction(
            at,
            data,
            text,
            True,
            row.flow,
            tuple(accesses),
            tuple(sorted(called)),
            tuple(sorted(jumped)),
            owners,
            on_stack,
        )
