"""The two engines at a point: stretches at full speed, and single instructions over unknown values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from latchlore.base import LeafKind
from latchlore.program import _core as core
from latchlore.program import _values as values
from latchlore.program import wording
from latchlore.program._cores import core_of
from latchlore.program._symbolic import HaltError, Step, StopError, decode_function, step_functions
from latchlore.program._values import Sym, Value
from latchlore.program._walkpoint import Point

if TYPE_CHECKING:
    from collections.abc import Mapping

    from latchlore.base import AddressSet
    from latchlore.program._bounds import Bounds
    from latchlore.program._cpu import Cpu
    from latchlore.program._graph import Cycles
    from latchlore.program._image import Image

LOG_ROOM = 512


@dataclass(frozen=True, slots=True)
class Outcome:
    """One symbolic instruction: registers behind it, the cycles it took, and its writes."""

    registers: list[Value]
    cycles: Cycles
    writes: list[tuple[int, Value, Cycles]]


class Stepper(Point):
    """Moves the point on."""

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
        super().__init__(cpu, images, devices, ports, held, memory, bounds)
        self.core = core_of(cpu.name)
        self.functions = step_functions(cpu.name)
        self.decode = decode_function(cpu)
        self.regs = np.zeros(len(self.names), dtype=np.int64)
        self.book = np.zeros(core.LOG_ROWS + 5 * LOG_ROOM, dtype=np.int64)
        self.watch = np.zeros(0, dtype=np.int64)
        self.seen = np.zeros((len(self.names) - 1, 256), dtype=np.uint8)
        self.opcodes: dict[int, tuple[tuple[int, int, Value, int], Cycles]] = {}  # with the cycles of their fetching

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
            raise HaltError(after, step.cycles, is_plain=row.print.may_write <= {self.cpu.stack, *self.cpu.volatile})
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
