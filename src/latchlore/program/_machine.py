"""Runs a program as it is, with devices that answer, and notes every access wanted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from latchlore.base import AddressSet, LeafKind
from latchlore.program import _core as core
from latchlore.program import wording
from latchlore.program._cores import core_of, twin_of
from latchlore.program._cpu import get_cpu
from latchlore.program._entry import check_entry, check_registers
from latchlore.program._image import SPACE, Image
from latchlore.program._memory import Space

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from latchlore.program._cpu import Cpu

ROOM = 4096


@dataclass(frozen=True, slots=True)
class Access:
    """One access of the bus.  `cycle` counts from the start of the run; `discarded`: a read of no use."""

    direction: Literal["read", "write"]
    address: int
    value: int
    cycle: int
    program_address: int
    is_port: bool = False
    discarded: bool = False


@dataclass(frozen=True, slots=True)
class Run:
    """What a run did: registers and memory at its end, cycles, accesses in order, and why it ended at `address`."""

    registers: Mapping[str, int]
    memory: bytes
    cycles: int
    instructions: int
    accesses: tuple[Access, ...]
    end: LeafKind
    reason: str
    address: int


class Machine:
    """One machine that can be run on and on; `run` is the public face."""

    def __init__(self, cpu: Cpu, space: Space, *, plain: bool = False) -> None:
        self.cpu, self.space = cpu, space
        self.core = twin_of(cpu.name) if plain else core_of(cpu.name)
        self.cycles = 0
        self.careful = 0  # `_core.STOP_AT_HALT`, where it shall
        self.regs = np.zeros(len(cpu.names), dtype=np.int64)
        self.book = np.zeros(core.LOG_ROWS + 5 * ROOM, dtype=np.int64)
        self.watch = np.zeros(0, dtype=np.int64)
        self.seen = np.zeros((len(cpu.names) - 1, 256), dtype=np.uint8)

    @property
    def registers(self) -> dict[str, int]:
        """Registers, flags and PC by name."""
        return dict(zip(self.cpu.names, self.regs.tolist(), strict=True))

    @registers.setter
    def registers(self, known: Mapping[str, int]) -> None:
        """Set some of them."""
        for name, value in known.items():
            self.regs[self.cpu.names.index(name)] = value

    @property
    def pc(self) -> int:
        """Where it is."""
        return int(self.regs[-1])

    def call(self, instructions: int, answers: list[int]) -> tuple[int, int, list[list[int]]]:
        """One call of the core: (stop, instructions done, log rows).  Stops behind a write to a device."""
        book = self.book
        book[: core.LOG_ROWS] = 0
        book[core.LEFT], book[core.WANTED], book[core.SITE] = instructions, -1, -1
        book[core.CYCLES], book[core.STOP_ON_WRITE], book[core.TAINT] = self.cycles, 1, self.careful
        if answers:
            book[core.NUM_ANSWERS] = len(answers)
            book[core.ANSWERS : core.ANSWERS + len(answers)] = answers
        status = int(self.core(self.regs, self.space.cells, book, self.watch, self.seen))
        left, self.cycles, count = int(book[core.LEFT]), int(book[core.CYCLES]), int(book[core.NUM_LOGGED])
        rows: list[list[int]] = []
        if count:
            rows = book[core.LOG_ROWS : core.LOG_ROWS + 5 * count].reshape(-1, 5).tolist()
        return status, instructions - left, rows


def run(
    images: Sequence[Image],
    entry: int,
    devices: AddressSet,
    *,
    cpu: str = "6502",
    ports: AddressSet | None = None,
    registers: Mapping[str, int] | None = None,
    memory: Mapping[int, int] | None = None,
    read: Callable[[int, int], int] | None = None,
    write: Callable[[int, int, int], None] | None = None,
    instructions: int = 10_000_000,
    log: AddressSet | None = None,
    plain: bool = False,
    exact: bool = False,
) -> Run:
    """Run from an entry until the routine returns, stops, or has done so many instructions.

    `read` answers a read of a device (address, cycle) with a byte; without it such a read ends the run.  Its cycle is
    that at which the instruction began, or with `exact` that of the read on the bus (slower).  `write` is told of
    writes to devices (address, value, cycle).  Ports are addresses from 10000h on.  Accesses of devices and of the
    addresses in `log` are returned in bus order.  RAM and registers that are not stated are 0; a run ends where it
    executes RAM that is neither stated nor written, and where its stack runs over: where a push comes to the lowest
    byte that the stack pointer reaches, or to the top of a read-only image.  `plain`: without the compiled core, for
    comparison.
    """
    processor = get_cpu(cpu)
    loaded = tuple(images)
    check_entry(loaded, entry)
    space = Space(processor, loaded, devices, memory or {}, ports, fill=core.EMPTY)
    space.kinds[space.kinds & core.DEVICE != 0] |= core.LOG
    for number in log.iter_addresses() if log is not None else ():
        space.kinds[number] |= core.LOG
    machine = Machine(processor, space, plain=plain)
    machine.registers = {**processor.at_entry, **check_registers(processor, registers or {}), "PC": entry}
    machine.careful = core.STOP_AT_HALT
    base = machine.registers[processor.stack]
    for address in processor.return_cells(base):
        space.kinds[address] |= core.UNKNOWN
    for address in (processor.stack_page, *(image.last for image in loaded if not image.writable)):
        space.kinds[address] |= core.GUARD
    return _follow(machine, base, read, write, instructions, exact=exact)


def _follow(
    machine: Machine,
    base: int,
    read: Callable[[int, int], int] | None,
    write: Callable[[int, int, int], None] | None,
    instructions: int,
    *,
    exact: bool = False,
) -> Run:
    accesses: list[Access] = []
    answers: list[int] = []
    done = 0
    while True:
        left = instructions - done
        status, steps, rows = machine.call(1 if answers else left, answers)
        done += steps
        guarded = -1
        if steps:
            answers = []
        for what, address, value, cycle, pc in rows:
            kinds = int(machine.space.kinds[address])
            if not kinds & (core.DEVICE | core.LOG):
                guarded = pc
                continue
            place = address - SPACE if address >= SPACE else address
            direction: Literal["read", "write"] = "write" if what == core.WRITE else "read"
            accesses.append(Access(direction, place, value, cycle, pc, address >= SPACE, what == core.DUMMY))
            if what == core.WRITE and write is not None and kinds & core.DEVICE:
                write(address, value, cycle)
        if status == core.NEEDS_ANSWER and read is not None:
            address = int(machine.book[core.ADDRESS])
            cycle = _cycle_of_read(machine, answers) if exact else machine.cycles
            answers.append(read(address, cycle) & 0xFF)
            continue
        runs_over = guarded >= 0 and _pushes(machine, guarded)
        if status != core.DONE or done >= instructions or runs_over:
            kind, reason = _end(machine, status, base)
            if runs_over:
                kind, reason = LeafKind.BOUND, wording.stack_over(guarded)
            contents = machine.space.cells[:SPACE].tobytes()
            return Run(machine.registers, contents, machine.cycles, done, tuple(accesses), kind, reason, machine.pc)


def _cycle_of_read(machine: Machine, answers: list[int]) -> int:
    """When the next read of a device comes, in an instruction whose first reads are answered: a trial of it tells."""
    registers, cells, cycles = machine.regs.copy(), machine.space.cells.copy(), machine.cycles
    tried = list(answers)
    rows: list[list[int]] = []
    status = core.NEEDS_ANSWER
    while status == core.NEEDS_ANSWER and len(tried) < core.MAX_ANSWERS:
        tried.append(0)
        status, _, rows = machine.call(1, tried)
    machine.regs[:], machine.space.cells[:], machine.cycles = registers, cells, cycles
    reads = [row for row in rows if row[0] != core.WRITE and machine.space.kinds[row[1]] & core.DEVICE]
    return int(reads[len(answers)][3]) if len(reads) > len(answers) else cycles


def _pushes(machine: Machine, at: int) -> bool:
    """Whether the instruction at an address is one that pushes."""
    row = machine.cpu.rows.get(machine.cpu.code_at(lambda place: int(machine.space.cells[place]), at))
    return row is not None and (row.pushes > 0 or row.flow in ("call", "call if", "restart", "interrupt"))


def _end(machine: Machine, status: int, base: int) -> tuple[LeafKind, str]:
    cpu, space = machine.cpu, machine.space
    if status == core.DONE:
        return LeafKind.BOUND, wording.RUN_BOUND
    code = cpu.code_at(lambda place: int(space.cells[place]), machine.pc)
    row = cpu.rows.get(code)
    if row is not None and row.flow == "halt":
        return LeafKind.HALTED, wording.HALT
    if status == core.NEEDS_ANSWER:
        return LeafKind.BOUND, wording.no_answer(int(machine.book[core.ADDRESS]))
    if status == core.EMPTY_CELL:
        return LeafKind.UNKNOWN_CODE, wording.empty_cell(int(machine.book[core.ADDRESS]))
    if status == core.NO_SUCH_OPCODE:
        if code in cpu.stopping:
            return LeafKind.HALTED, wording.stops(cpu.spell(code))
        return LeafKind.UNDOCUMENTED, wording.undocumented(cpu.spell(code))
    top = machine.registers[cpu.stack] - (0 if row is None else row.pushes)
    if row is not None and row.flow.startswith("return") and cpu.is_at_base(top, base):
        return LeafKind.RETURNED, wording.returned(row.name)
    return LeafKind.UNKNOWN_CODE, wording.unknown_cell(int(machine.book[core.ADDRESS]))
