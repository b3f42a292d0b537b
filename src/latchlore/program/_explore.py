"""Follows every path of a program from an entry, with device bits unknown until the code looks at them."""

from __future__ import annotations

import contextlib
import gc
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from latchlore.base import (
    HELD,
    AddressSet,
    ByteTable,
    ByteTree,
    CycleRange,
    InputBit,
    InputKind,
    Leaf,
    LeafKind,
    Progress,
    Read,
    Write,
    no_progress,
)
from latchlore.program import _core as core
from latchlore.program import _values as values
from latchlore.program import wording
from latchlore.program._bounds import Bounds
from latchlore.program._cores import core_of
from latchlore.program._cpu import Cpu, get_cpu
from latchlore.program._diamonds import fold
from latchlore.program._graph import Cycles, Edge, Growing, finish
from latchlore.program._image import SPACE, Image
from latchlore.program._liveness import Liveness
from latchlore.program._memory import Space
from latchlore.program._polls import count_polls
from latchlore.program._state import Key, State
from latchlore.program._symbolic import ForkError, NeedsReadError, Step, StopError, decode_function, step_functions
from latchlore.program._values import Sym, TooWideError, Value

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from latchlore.program._polls import Known
    from latchlore.program._replay import Measure

LOG_ROOM = 512
STRETCH = 1 << 20
MAX_VISITS = 300
MANY_STEPS = 64
MAX_VARIANTS = 24
MAX_CHOICES = 32  # between two turns of a loop


@dataclass(frozen=True, slots=True)
class Outcome:
    """One symbolic instruction: registers behind it, the cycles it took, and its writes."""

    registers: list[Value]
    cycles: Cycles
    writes: list[tuple[int, Value, Cycles]]


class Explorer:
    """One exploration.  `explore` is its public face."""

    def __init__(
        self,
        cpu: Cpu,
        images: tuple[Image, ...],
        devices: AddressSet,
        ports: AddressSet | None,
        held: Mapping[int, int],
        memory: Mapping[int, int],
        bounds: Bounds,
    ) -> None:
        self.cpu, self.bounds, self.held = cpu, bounds, held
        self.space = Space(cpu, images, devices, memory, ports)
        self.core = core_of(cpu.name)
        self.functions = step_functions(cpu.name)
        self.decode = decode_function(cpu)
        self.liveness = Liveness(cpu, self.space.cells)
        self.names = cpu.names
        self.stack_index = self.names.index(cpu.stack)
        self.base = cpu.entry_stack
        self.volatile = [self.names.index(name) for name in sorted(cpu.volatile)]
        self.bits: list[InputBit] = []
        self.numbers: dict[InputBit, int] = {}
        self.bytes: dict[tuple[InputKind, int, int, int], Value] = {}
        self.nodes: list[Growing] = []
        self.known: dict[Key, int] = {}
        self.loops: dict[int, Measure] = {}  # waits that give up, by the place of their read
        self.turns: dict[tuple[object, ...], list[Known]] = {}  # what is known of waits, by how they begin
        self.variants: dict[Key, int] = {}  # how many states differ in unknown values only
        self.tries: dict[int, int] = {}  # reads whose turns were not shown to be alike
        self.work: list[int] = []
        self.urgent: list[int] = []  # arms of choices: siblings come to their next read before any goes on from there
        self.regs = np.zeros(len(self.names), dtype=np.int64)
        self.book = np.zeros(core.LOG_ROWS + 5 * LOG_ROOM, dtype=np.int64)
        self.watch = np.zeros(0, dtype=np.int64)
        self.seen = np.zeros((len(self.names) - 1, 256), dtype=np.uint8)
        self.opcodes: dict[int, tuple[tuple[int, int, Value, int], Cycles]] = {}  # with the cycles of their fetching
        self.state: State  # the point being worked on; its pages lie in `space`
        self.site = -1  # the place of the read behind which the node being expanded begins
        self.instructions = 0

    # -- unknown bits ------------------------------------------------------------------------------------------

    def number(self, bit: InputBit) -> int:
        """The variable that stands for an unknown bit."""
        if bit not in self.numbers:
            self.numbers[bit] = len(self.bits)
            self.bits.append(bit)
        return self.numbers[bit]

    def numbered_byte(self, kind: InputKind, address: int, turn: int = HELD, held: int = 0) -> Value:
        """A byte of unknown bits; those in the mask `held` are the same on every read."""
        key = (kind, address, turn, held)
        if key not in self.bytes:
            bits = (InputBit(kind, address, k, HELD if held >> k & 1 else turn) for k in range(8))
            value: Value = 0
            for i, bit in enumerate(bits):
                value = values.variable(self.number(bit)) << i | value
            self.bytes[key] = value
        return self.bytes[key]

    def fresh(self, label: str, address: int, width: int) -> list[int]:
        """Variables for something unknown that may be met again and again: none that is still alive."""
        alive = self.variables(self.state)
        alive.update(v for one in self.state.constraints for v in one.vars)
        used = {self.bits[v].turn for v in alive if self.bits[v].name == label}
        turn = next(k for k in range(len(used) + 1) if k not in used)
        return [self.number(InputBit(InputKind.CELL, address, k, turn, label)) for k in range(width)]

    def cell(self, address: int) -> Value:
        """The content of a cell marked unknown."""
        if address in self.state.cells:
            return self.state.cells[address]
        return self.entry_cell(address, self.state.forced)

    def is_from_entry(self, address: int) -> bool:
        """Whether nothing has written the unknown cell since the entry."""
        return address not in self.state.cells

    def entry_cell(self, address: int, forced: dict[int, int]) -> Value:
        """What a cell held at the entry."""
        value = self.numbered_byte(InputKind.CELL, address)
        return values.substitute(value, forced) if forced else value

    def put(self, address: int, value: Value) -> None:
        """Set a cell of the state being worked on."""
        memory, size = self.space.memory, self.space.size
        memory[2 * size + address] = 1
        kind = memory[size + address]
        if isinstance(value, int):
            memory[address], memory[size + address] = value, kind & ~core.UNKNOWN
            self.state.cells.pop(address, None)
        else:
            memory[address], memory[size + address] = 0, kind | core.UNKNOWN
            self.state.cells[address] = value

    # -- nodes -------------------------------------------------------------------------------------------------

    def add_node(
        self, state: State | None, read: tuple[int, ...] = (), *, parent: int = -1, urgent: bool = False
    ) -> int:
        """A node that waits to be expanded; the urgent ones first."""
        site = state.pc if read and state is not None else self.nodes[parent].site if parent >= 0 else -1
        self.nodes.append(Growing(state, read=read, parent=parent, site=site))
        if state is not None:
            (self.urgent if urgent else self.work).append(len(self.nodes) - 1)
        return len(self.nodes) - 1

    def link(self, number: int) -> int:
        """Come to a node that is there already."""
        node = self.nodes[number]
        if node.abandoned:
            node.abandoned = False
            if node.expanded:
                for edge in node.edges:
                    self.link(edge.target)
            else:
                self.work.append(number)
        return number

    def descendants(self, start: int) -> list[int]:
        """Nodes first reached by way of `start`, itself left out."""
        under = {start}
        for number in range(start + 1, len(self.nodes)):
            if self.nodes[number].parent in under:
                under.add(number)
        return sorted(under - {start})

    def load(self, state: State) -> None:
        """Work on this state."""
        self.state = State(
            state.registers,
            state.pages,
            dict(state.cells),
            state.constraints,
            dict(state.forced),
            state.answers,
            state.pending,
        )
        self.space.load(state.pages)

    def tidy(self) -> None:
        """Forget what can no longer matter: dead registers, bytes below the stack pointer, decided bits."""
        state = self.state
        registers = list(state.registers)
        for k in self.volatile:
            registers[k] = 0
        pointer = registers[self.stack_index]
        if isinstance(pointer, int):
            live = self.liveness.live(state.pc, pointer, self.base)
            for k in range(len(registers) - 1):
                if not live >> k & 1 and k != self.stack_index:
                    registers[k] = 0
            self.clear_below(pointer)
        state.registers = tuple(registers)
        self.sync()
        mine = self.variables(state)
        state.constraints = values.project(state.constraints, mine)
        state.forced = {v: level for v, level in state.forced.items() if self.lasts(v)}

    def blur(self, ways: Sequence[Sym] = ()) -> None:
        """Forget what old answers were, where too many states differ in nothing else; `ways` are still needed."""
        state = self.state
        old = {v for v in self.variables(state) if self.bits[v].turn != HELD}
        if not old:
            return
        outline = state.outline()
        self.variants[outline] = self.variants.get(outline, 0) + 1
        if self.variants[outline] <= MAX_VARIANTS:
            return
        kept = {v for one in (*state.answers, *ways) if isinstance(one, Sym) for v in one.vars}
        for address, value in sorted(state.cells.items()):
            self.put(address, self.blurred(value, kept, f"{address:04X}", address, 8))
        registers: list[Value] = []
        for name, held in zip(self.names, state.registers, strict=True):
            width = self.cpu.registers.get(name, 1)
            registers.append(held if isinstance(held, int) else self.blurred(held, kept, name, 0, width))
        state.registers = tuple(registers)
        self.sync()
        mine = self.variables(state) | kept
        state.constraints = values.project(state.constraints, mine)

    def blurred(self, value: Sym, kept: set[int], place: str, address: int, width: int) -> Sym:
        """Anything, in the place of a value made of old answers."""
        label = f"{place} as left at {self.state.pc:04X}"
        told = all(self.bits[v].turn == HELD or self.bits[v].name == label for v in value.vars)
        if told or not kept.isdisjoint(value.vars):
            return value
        return values.byte_of(self.fresh(label, address, width))

    def sync(self) -> None:
        """Take the space's pages over into the state; forget unknown contents that were overwritten."""
        kinds = self.space.kinds
        self.state.pages = self.space.save()
        self.state.cells = {a: v for a, v in sorted(self.state.cells.items()) if kinds[a] & core.UNKNOWN}

    def clear_below(self, pointer: int) -> None:
        """Bytes below the stack pointer are as unknown as at the entry."""
        low, high = self.cpu.below(pointer)
        start = self.space.start
        if self.space.is_written(low, high) or self.space.loaded.intersection((low // 256, (high - 1) // 256)):
            self.space.cells[low:high] = start[0, low:high]
            self.space.kinds[low:high] = start[1, low:high]
            for address in [a for a in self.state.cells if low <= a < high]:
                del self.state.cells[address]

    def lasts(self, variable: int) -> bool:
        """Whether a decided bit can be met again."""
        bit = self.bits[variable]
        if bit.turn != HELD or bit.kind is InputKind.ARGUMENT:
            return False
        if bit.kind is not InputKind.CELL:
            return True
        return bool(self.space.kinds[bit.address] & core.UNKNOWN) and bit.address not in self.state.cells

    def variables(self, state: State) -> set[int]:
        """The variables that the state depends on, or that can be met again."""
        held = [*state.registers, *state.cells.values(), *state.answers]
        mine = {v for value in held if isinstance(value, Sym) for v in value.vars}
        for one in state.constraints:
            mine.update(v for v in one.vars if self.lasts(v))
        return mine

    def freeze(self) -> State:
        """The state being worked on, as one to be kept."""
        state = self.state
        return State(
            state.registers,
            state.pages,
            dict(state.cells),
            state.constraints,
            dict(state.forced),
            state.answers,
            state.pending,
        )

    def constrain(self, state: State, condition: Value) -> State | None:
        """The state where a condition holds; None where it cannot."""
        found = values.constrain(state.constraints, condition)
        if found is None:
            return None
        constraints, forced = found
        registers, cells, answers, kept = state.registers, state.cells, state.answers, state.forced
        if forced:
            registers = tuple(v if isinstance(v, int) else values.substitute(v, forced) for v in registers)
            answers = tuple(values.substitute(value, forced) for value in answers)
            kept = {**kept, **{v: level for v, level in forced.items() if self.bits[v].turn == HELD}}
            pages, cells = dict(state.pages), {}
            for address, value in state.cells.items():
                known = values.substitute(value, forced)
                if isinstance(known, Sym):
                    cells[address] = known
                else:
                    _set_cell(pages, address, known, self.space)
            return State(registers, pages, cells, constraints, kept, answers, state.pending)
        return State(registers, state.pages, cells, constraints, kept, answers, state.pending)

    # -- following ---------------------------------------------------------------------------------------------

    def run(self, progress: Progress) -> None:
        """Expand until nothing waits."""
        while self.urgent or self.work:
            at = (self.urgent or self.work).pop()
            node = self.nodes[at]
            if node.expanded or node.abandoned or node.state is None:
                continue
            if len(self.nodes) > self.bounds.nodes:
                self.leaf(node, LeafKind.BOUND, wording.too_many_nodes(self.bounds.nodes), node.state.pc, (0, 0))
                node.expanded = True
                continue
            if len(self.nodes) % 256 == 0:
                progress(len(self.nodes) - len(self.work), 0, wording.PROGRESS)
            node.expanded = True
            self.expand(at)

    def expand(self, at: int) -> None:
        """Follow a node's path to the next place where it reads a device, forks, or ends."""
        node = self.nodes[at]
        assert node.state is not None
        self.load(node.state)
        self.site = node.site
        watch = _Repeats()
        while True:
            try:
                if not (self.state.answers or self.is_blocked() or self.stretch(node)):
                    return
                if watch.is_back(self):
                    self.leaf(node, LeafKind.ENDLESS, wording.ENDLESS, self.state.pc, self.state.pending)
                    return
                if watch.steps > self.bounds.steps:
                    reason = wording.too_many_steps(self.bounds.steps)
                    self.leaf(node, LeafKind.BOUND, reason, self.state.pc, self.state.pending)
                    return
                self.single(node)
            except NeedsReadError as need:
                self.meet_read(node, at, need)
                return
            except ForkError as fork:
                if not fold(self, fork.ways):
                    self.meet_fork(node, at, fork.ways)
                    return
            except TooWideError as wide:
                self.meet_fork(node, at, self.split_widest(wide))
                return
            except StopError as stop:
                self.leaf(node, stop.kind, stop.reason, self.state.pc, self.state.pending)
                return

    def split_widest(self, wide: TooWideError) -> list[Sym]:
        """Two ways by one of the bits of a value that depends on too many: the one met first."""
        one = values.variable(wide.variables[0])
        other = one ^ 1
        assert isinstance(other, Sym)
        return [one, other]

    def leaf(self, node: Growing, kind: LeafKind, reason: str, address: int, cycles: Cycles) -> None:
        """End a node."""
        node.leaf = Leaf(kind, reason, address, CycleRange(max(cycles[0], 0), max(cycles[1], 0)))

    def stretch(self, node: Growing) -> bool:
        """Run at full speed to an instruction that needs a closer look.  False: the path has ended."""
        taken = 0
        limit = STRETCH
        snapshot: tuple[list[int], bytes] | None = None
        visits = 0
        while True:
            room = max(self.bounds.instructions - taken, 0)
            status, steps, wrote = self.run_core(min(limit, room), -1 if snapshot is None else snapshot[0][-1])
            taken += steps
            self.instructions += steps
            if wrote:
                self.take_log(node)
                snapshot, limit, visits = None, STRETCH, 0
                if len(node.events) > self.bounds.events:
                    self.leaf(node, LeafKind.BOUND, wording.too_many_events(self.bounds.events), self.state.pc, (0, 0))
                    return False
            if status != core.DONE:
                return True
            if wrote:
                continue
            if taken >= self.bounds.instructions:
                reason = wording.too_many_instructions(self.bounds.instructions)
                self.leaf(node, LeafKind.BOUND, reason, self.state.pc, self.state.pending)
                return False
            if snapshot is None:
                snapshot, visits = (self.regs.tolist(), self.space.cells[: self.space.size].tobytes()), 0
                continue
            visits += 1
            if self.regs.tolist() == snapshot[0] and self.space.cells[: self.space.size].tobytes() == snapshot[1]:
                self.leaf(node, LeafKind.ENDLESS, wording.ENDLESS, self.state.pc, self.state.pending)
                return False
            if visits >= MAX_VISITS:  # a loop that is getting somewhere: look again later
                snapshot, limit = None, max(STRETCH, taken)

    def run_core(self, limit: int, wanted: int) -> tuple[int, int, bool]:
        """One call of the core: (stop, instructions done, whether anything was logged)."""
        state, book = self.state, self.book
        registers = state.registers
        unknown = [k for k, value in enumerate(registers) if not isinstance(value, int)]
        plain: list[Any] = list(registers)
        for k in unknown:
            plain[k] = 0
        self.regs[:] = plain
        taint = core.STOP_AT_HALT | core.STOP_AT_REFRESH | sum(1 << k for k in unknown)
        book[: core.ANSWERS] = 0
        book[core.LEFT], book[core.WANTED], book[core.SITE], book[core.TAINT] = limit, wanted, -1, taint
        status = int(self.core(self.regs, self.space.cells, book, self.watch, self.seen))
        taint = int(book[core.TAINT])
        known: list[Any] = self.regs.tolist()
        for k in unknown:
            if taint >> k & 1:
                known[k] = registers[k]
        state.registers = tuple(known)
        wrote = book[core.NUM_LOGGED] > 0
        if not wrote:
            passed = int(book[core.CYCLES])
            state.pending = (state.pending[0] + passed, state.pending[1] + passed)
        return status, limit - int(book[core.LEFT]), bool(wrote)

    def is_blocked(self) -> bool:
        """Whether the next instruction is known to look at an unknown register, so that the core need not be asked."""
        registers = self.state.registers
        look = self.liveness.looks.get(self.state.pc)
        if look is None:
            return False
        return any(look.reads >> k & 1 and not isinstance(value, int) for k, value in enumerate(registers))

    def take_log(self, node: Growing) -> None:
        """Turn the core's log into events."""
        book = self.book
        last = 0
        pending = self.state.pending
        count = int(book[core.NUM_LOGGED])
        rows = book[core.LOG_ROWS : core.LOG_ROWS + 5 * count].reshape(-1, 5).tolist()
        for _, address, value, cycle, pc in rows:
            passed = cycle - last
            last = cycle
            cycles = CycleRange(max(pending[0] + passed, 0), max(pending[1] + passed, 0))
            kind, place = _place(address if address < SPACE else SPACE | (address & self.bounds.port_mask))
            node.events.append(Write(kind, place, ByteTable.constant(value), cycles, pc))
            pending = (0, 0)
        rest = int(book[core.CYCLES]) - last
        self.state.pending = (pending[0] + rest, pending[1] + rest)

    def step(self) -> Outcome:
        """The instruction at PC over unknown values.  Raises where it cannot go on; commits nothing."""
        state = self.state
        step = Step(
            self.cpu, self.space.memory, self, state.constraints, state.answers, self.bounds.ways, self.bounds.port_mask
        )
        code, after, displacement, fetches = self.decoded(step, state.pc)
        row = self.cpu.rows.get(code)
        if row is None:
            raise StopError(*self.unlisted(code))
        if row.flow == "halt":
            raise StopError(LeafKind.HALTED, wording.HALT)
        pointer = state.registers[self.stack_index]
        returns = row.flow.startswith("return") and isinstance(pointer, int) and self.is_callers(pointer - row.pushes)
        if returns and row.flow != "return if":
            raise StopError(LeafKind.RETURNED, wording.returned(row.name))
        before = [*state.registers[:-1], after]
        if row.flow == "refresh":
            for k in self.volatile:
                before[k] = self.passing(k)
        registers = self.functions[code](step, before, displacement, fetches)
        if returns and isinstance(registers[-1], Sym):
            raise StopError(LeafKind.RETURNED, wording.returned(row.name))
        target = registers[-1]
        if isinstance(target, Sym):
            found = values.possible(state.constraints, target)
            if len(found) > self.bounds.targets:
                raise StopError(LeafKind.UNKNOWN_JUMP, wording.unknown_jump(len(found)))
            registers[-1] = step.split(target)[0]
        return Outcome(registers, step.cycles, step.writes)

    def decoded(self, step: Step, pc: int) -> tuple[int, int, Value, int]:
        """The opcode's number, PC behind it, displacement and fetches; from read-only memory kept for the next time."""
        known = self.opcodes.get(pc)
        if known is not None:
            step.cycles = known[1]
            return known[0]
        code, after, displacement, fetches = self.decode(step, pc)
        if isinstance(code, Sym):
            code = step.split(code)[0]
        found = (code, after, displacement, fetches)
        cells = range(pc, pc + ((after - pc) & 0xFFFF))
        if all(self.space.kinds[cell & 0xFFFF] == core.FIXED for cell in cells):
            self.opcodes[pc] = (found, step.cycles)
        return found

    def is_callers(self, pointer: int) -> bool:
        """Whether the bytes on top of the stack are the caller's, from before the entry."""
        cells = self.cpu.return_cells(pointer)
        if pointer < self.base:
            return False
        return all(self.space.kinds[a] & core.UNKNOWN and a not in self.state.cells for a in cells)

    def passing(self, register: int) -> Value:
        """A register that counts by itself, at the moment it is looked at: anything."""
        label = f"{self.names[register]} at {self.state.pc:04X}"
        width = self.cpu.registers[self.names[register]]
        return values.byte_of(self.fresh(label, 0, width))

    def unlisted(self, code: int) -> tuple[LeafKind, str]:
        """What to say of an opcode without a row."""
        if code in self.cpu.stopping:
            return LeafKind.HALTED, wording.stops(self.cpu.spell(code))
        return LeafKind.UNDOCUMENTED, wording.undocumented(self.cpu.spell(code))

    def commit(self, outcome: Outcome) -> list[tuple[int, Value, Cycles]]:
        """Take an instruction's results over; returns its writes to devices."""
        state, space = self.state, self.space
        told: list[tuple[int, Value, Cycles]] = []
        for address, value, cycles in outcome.writes:
            kind = int(space.kinds[address])
            if kind & core.DEVICE:
                told.append((address, value, cycles))
            elif not kind & core.FIXED:
                self.put(address, value)
        state.registers = tuple(outcome.registers)
        state.answers = ()
        return told

    def single(self, node: Growing) -> None:
        """Do the instruction at PC over unknown values."""
        pc = self.state.pc
        outcome = self.step()
        told = self.commit(outcome)
        self.instructions += 1
        pending = self.state.pending
        last = (0, 0)
        for address, value, (low, high) in told:
            cycles = CycleRange(max(pending[0] + low - last[0], 0), max(pending[1] + high - last[1], 0))
            kind, place = _place(address)
            node.events.append(Write(kind, place, self.table(value), cycles, pc))
            pending, last = (0, 0), (low, high)
        self.state.pending = (pending[0] + outcome.cycles[0] - last[0], pending[1] + outcome.cycles[1] - last[1])

    def table(self, value: Value) -> ByteTable:
        """A byte as a table; cases that cannot be hold one that can."""
        if isinstance(value, int):
            return ByteTable.constant(value)
        one, _ = values.joined(self.state.constraints, value.vars)
        if one is not None:
            try:
                variables = values.union(value, one)
            except TooWideError:
                variables = value.vars
                one = None
            if one is not None:
                tab, mask = values.over(value, variables), values.over(one, variables) != 0
                outside = np.isin(np.arange(len(tab)), np.flatnonzero(mask), invert=True)
                shape = (2,) * len(variables)
                own = tuple(axis for axis, v in enumerate(reversed(variables)) if v not in value.vars)
                can = mask.reshape(shape).any(axis=own).ravel() if own else mask
                del outside
                allowed = value.tab[can]
                value = Sym(value.vars, np.where(can, value.tab, allowed[0]).astype(np.int32))
        return ByteTable(tuple(self.bits[v] for v in value.vars), tuple(value.tab.tolist()))

    # -- ends of a node ----------------------------------------------------------------------------------------

    def meet_read(self, node: Growing, at: int, need: NeedsReadError) -> None:
        """End a node with a device read; the next one begins with its answer."""
        self.tidy()
        self.blur()
        kind, place = _place(need.address)
        turn = self.free_turn(kind, place)
        low, high = need.offset
        pending = self.state.pending
        cycles = CycleRange(max(pending[0] + low, 0), max(pending[1] + high, 0))
        node.events.append(Read(kind, place, turn, cycles, self.state.pc, discarded=not need.used))
        answer: Value = 0
        read: tuple[int, ...] = ()
        if need.used:
            mask = self.held.get(need.address, 0)
            answer = values.substitute(self.numbered_byte(kind, place, turn, mask), self.state.forced)
            bits = (InputBit(kind, place, k, HELD if mask >> k & 1 else turn) for k in range(8))
            read = tuple(self.numbers[bit] for bit in bits)
        self.state.answers = (*self.state.answers, answer)
        self.state.pending = (-high, -low)
        key = self.state.key()
        if key not in self.known:
            self.known[key] = self.add_node(self.freeze(), read, parent=at)
            self.count_turns(self.known[key])
        target = self.link(self.known[key])
        node.edges = [Edge(None, target, (0, 0))]
        if self.nodes[target].leaf is None:
            count_polls(self, at, target)

    def count_turns(self, number: int) -> None:
        """Give up on a loop of reads that was unrolled for too long."""
        node = self.nodes[number]
        pc = self.state.pc
        here = node.parent
        for _ in range(MAX_CHOICES):
            before = self.nodes[here]
            if here < 0 or any(isinstance(event, Write) for event in before.events):
                return
            if before.read and before.state is not None and before.state.pc == pc:
                node.turns = before.turns + 1
                break
            here = before.parent
        if node.turns > self.bounds.turns:
            self.leaf(node, LeafKind.BOUND, wording.too_many_turns(pc, self.bounds.turns), pc, (0, 0))
            node.expanded = True

    def free_turn(self, kind: InputKind, place: int) -> int:
        """The lowest number for a read of this register that no living value uses."""
        used = {
            self.bits[v].turn
            for v in self.variables(self.state)
            if self.bits[v].kind is kind and self.bits[v].address == place
        }
        return next(k for k in range(len(used) + 1) if k not in used)

    def meet_fork(self, node: Growing, at: int, ways: list[Sym]) -> None:
        """End a node with a choice."""
        self.tidy()
        self.blur(ways)
        pending = self.state.pending
        self.state.pending = (0, 0)
        key = ("fork", *self.state.key())
        if key not in self.known:
            self.known[key] = self.add_fork(self.freeze(), ways, at)
        node.edges = [Edge(None, self.link(self.known[key]), pending)]

    def add_fork(self, state: State, ways: list[Sym], parent: int) -> int:
        """A node that is nothing but a choice; its arms wait to be expanded."""
        number = self.add_node(None, parent=parent)
        arms = []
        for way in ways:
            branch = self.constrain(state, way)
            if branch is not None:
                arms.append((way, branch))
        edges = [
            Edge(way, self.add_node(branch, parent=number, urgent=True), (0, 0)) for way, branch in reversed(arms)
        ][::-1]
        if len(edges) == 1:
            edges[0].condition = None
        self.nodes[number].edges = edges
        self.nodes[number].expanded = True
        return number


class _Repeats:
    """Notices that a path over unknown values comes back to a state without a touch or a choice."""

    def __init__(self) -> None:
        self.steps = 0
        self.again = MANY_STEPS
        self.key: Key | None = None
        self.pc = -1

    def is_back(self, explorer: Explorer) -> bool:
        """Whether the state is the one noted before; notes one now and then."""
        self.steps += 1
        if self.steps == self.again:
            self.again *= 2
            self.pc = explorer.state.pc
            explorer.sync()
            self.key = explorer.state.key()
            return False
        if self.key is None or explorer.state.pc != self.pc:
            return False
        explorer.sync()
        return explorer.state.key() == self.key


def _place(address: int) -> tuple[InputKind, int]:
    """Memory or port, and the address; in the core's log a port has all sixteen lines."""
    return (InputKind.MEMORY, address) if address < SPACE else (InputKind.PORT, address - SPACE)


def _set_cell(pages: dict[int, tuple[bytes, bytes]], address: int, value: int, space: Space) -> None:
    number, offset = divmod(address, 256)
    contents, kinds = (bytearray(part) for part in pages.get(number) or space.start_page(number))
    contents[offset] = value
    kinds[offset] &= ~core.UNKNOWN & 0xFF
    pages[number] = (bytes(contents), bytes(kinds))


@contextlib.contextmanager
def _collector_paused() -> Iterator[None]:
    """Many small values that stay, none in circles: searching them for circles again and again only takes time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def explore(
    images: Sequence[Image],
    entry: int,
    devices: AddressSet,
    *,
    cpu: str = "6502",
    ports: AddressSet | None = None,
    held: Mapping[int, int] | None = None,
    arguments: Mapping[str, int] | None = None,
    memory: Mapping[int, int] | None = None,
    assumptions: Sequence[str] = (),
    bounds: Bounds | None = None,
    progress: Progress = no_progress,
) -> ByteTree:
    """Follow every path from an entry to its ends.

    `devices`: addresses of device registers; all else outside of the images is RAM of unknown content.  `ports`: the
    device ports of a processor that has ports, all where None.  `held`: device address → mask of bits that are the
    same on every read.  `arguments`: registers and flags of known value at the entry; the others are unknown.
    `memory`: RAM bytes known at the entry.  `assumptions` are carried along as they are.  Refuses an entry outside
    of the images.
    """
    from latchlore.program._entry import entry_state, sentences

    processor = get_cpu(cpu)
    limits = bounds or Bounds()
    loaded = tuple(images)
    explorer = Explorer(processor, loaded, devices, ports, held or {}, memory or {}, limits)
    state = entry_state(explorer, loaded, entry, arguments or {})
    explorer.add_node(state)
    with _collector_paused():
        explorer.run(progress)
        assumed = (*sentences(processor, loaded, devices, held or {}, arguments or {}, memory or {}), *assumptions)
        return finish(explorer.nodes, explorer.bits, entry, assumed, limits.sentences())
