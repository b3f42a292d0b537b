"""A processor as both engines see it: registers, and a row for every opcode with its text in three stages."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from latchlore.base import UnknownName
from latchlore.program._language import Footprint, footprint, parse_text

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

DEAD_STACK = 32  # so many bytes below a 16-bit stack pointer are taken for leavings


@dataclass(frozen=True, slots=True)
class Row:
    """One opcode: its `stages` find the operand, reach it, work, and store the result; a stage may be empty.

    `length` counts all bytes of the instruction.  `flow`: how it changes the flow of the program, one of ``next``,
    ``branch``, ``jump``, ``jump indirect``, ``call``, ``call if``, ``return``, ``return if``, ``restart``, ``repeat``,
    ``halt``, ``interrupt``, ``refresh`` (looks at a volatile register).  `stores`: whether it writes memory.
    """

    code: int
    name: str
    mode: str
    length: int
    stages: tuple[str, ...]
    flow: str
    stores: bool
    print: Footprint

    @property
    def text(self) -> str:
        """The whole semantics."""
        return "\n".join(part for part in self.stages if part)


@dataclass(frozen=True, slots=True)
class Cpu:
    """A processor.

    `registers`: name → width in bits, in the order of the kernels' register array; flags follow, PC comes last.
    `rows`: opcode → row.  `undocumented`: opcode → length.  `costs`: cycles of each kind of access.
    `stack`: the stack pointer's name; `stack_page` where its page lies; `entry_stack` its value at an entry;
    `at_entry`: registers and flags that are taken as known there.  `volatile`: registers that count by themselves;
    an exploration does not follow them and takes them as unknown where code looks at them.  `space`: memory cells
    and ports.
    """

    name: str
    registers: Mapping[str, int]
    flags: tuple[str, ...]
    rows: Mapping[int, Row]
    undocumented: Mapping[int, int]
    costs: Mapping[str, int]
    stack: str
    stack_page: int
    entry_stack: int
    at_entry: Mapping[str, int]
    stems: Mapping[str, str]
    stopping: frozenset[int] = frozenset()
    decode: str = "op = fetch()"
    volatile: frozenset[str] = frozenset()
    prefixes: Mapping[int, int] = field(default_factory=lambda: MappingProxyType({}))
    space: int = 65536

    def is_at_base(self, pointer: int, base: int) -> bool:
        """Whether nothing of the routine's own is left on the stack."""
        return pointer >= base

    def return_cells(self, pointer: int) -> tuple[int, int]:
        """Where a return finds its address, low byte first."""
        if self.stack_page:
            return self.stack_page | ((pointer + 1) & 0xFF), self.stack_page | ((pointer + 2) & 0xFF)
        return pointer, (pointer + 1) & 0xFFFF

    def popped(self, pointer: int, count: int) -> int:
        """The stack pointer after so many bytes were taken."""
        return (pointer + count) & (0xFF if self.stack_page else 0xFFFF)

    def below(self, pointer: int) -> tuple[int, int]:
        """Cells that hold what was taken from the stack: the first, and the one behind the last."""
        if self.stack_page:
            return self.stack_page, self.stack_page + pointer + 1
        return max(pointer - DEAD_STACK, 0), pointer

    def code_at(self, byte: Callable[[int], int], at: int) -> int:
        """The number of the opcode at an address, prefixes included."""
        first = byte(at)
        if not self.prefixes or first not in self.prefixes:
            return first
        second = byte((at + 1) & 0xFFFF)
        if second == 0xCB and first in (0xDD, 0xFD):
            return {0xDD: 0x500, 0xFD: 0x600}[first] + byte((at + 3) & 0xFFFF)
        return self.prefixes[first] + second

    @property
    def names(self) -> tuple[str, ...]:
        """Registers, flags and PC in the order of the kernels' register array."""
        return (*self.registers, *self.flags, "PC")


def make_row(
    code: int, name: str, mode: str, length: int, stages: tuple[str, ...], flow: str, names: frozenset[str]
) -> Row:
    """A row with its footprint worked out from its text."""
    text = "\n".join(part for part in stages if part)
    stores = "wr(" in text
    return Row(code, name, mode, length, stages, flow, stores, footprint(parse_text(text), names))


_FLOW_6502 = {"JMP": "jump", "JSR": "call", "RTS": "return", "RTI": "return", "BRK": "interrupt"}


def _flow_6502(name: str, mode: str) -> str:
    if mode == "relative":
        return "branch"
    return "jump indirect" if mode == "indirect" else _FLOW_6502.get(name, "next")


@cache
def cpu_6502() -> Cpu:
    """The documented NMOS 6502."""
    from latchlore.program import _table_6502 as table

    names = frozenset((*table.REGISTERS, *table.FLAGS))
    rows: dict[int, Row] = {}
    for name, modes in table.OPCODES.items():
        for mode, code in modes.items():
            access = table.ACCESS_OF.get(name, "none")
            if mode == "accumulator":
                access = "accumulator"
            elif mode == "immediate":
                access = "none"
            frames = table.INDEXED_ACCESS if mode in table.INDEXED and access != "none" else table.ACCESS
            before, after = frames[access]
            flags = table.SIGN_AND_ZERO if name in table.WITH_SIGN_AND_ZERO else ""
            last = "\n".join(part for part in (flags, after) if part)
            stages = (table.OPERANDS[mode], table.MODES[mode], before, table.OPERATIONS[name], last)
            rows[code] = make_row(code, name, mode, table.LENGTHS[mode], stages, _flow_6502(name, mode), names)
    return Cpu(
        "6502",
        MappingProxyType(dict.fromkeys(table.REGISTERS, 8)),
        table.FLAGS,
        MappingProxyType(dict(sorted(rows.items()))),
        MappingProxyType(table.undocumented_lengths()),
        MappingProxyType(dict.fromkeys(("fetch", "rd", "wr", "dummy"), 1)),
        "S",
        0x100,
        table.ENTRY_STACK,
        MappingProxyType({"S": table.ENTRY_STACK, "D": 0, "I": 1}),
        MappingProxyType(table.STEMS),
        table.stopping_opcodes(),
    )


@cache
def cpu_z80() -> Cpu:
    """The documented Z80."""
    from latchlore.program import _table_z80 as table

    names = frozenset((*table.REGISTERS, *table.FLAGS))
    rows = {
        entry.code: make_row(entry.code, entry.name, entry.operands, entry.length, entry.stages, entry.flow, names)
        for entry in table.entries()
    }
    return Cpu(
        "Z80",
        MappingProxyType(table.REGISTERS),
        table.FLAGS,
        MappingProxyType(rows),
        MappingProxyType({}),
        MappingProxyType(table.COSTS),
        "SP",
        0,
        table.ENTRY_STACK,
        MappingProxyType({"SP": table.ENTRY_STACK, "R": 0}),
        MappingProxyType({}),
        frozenset(),
        table.DECODE,
        frozenset({"R"}),
        MappingProxyType({0xCB: 0x100, 0xED: 0x200, 0xDD: 0x300, 0xFD: 0x400}),
        0x20000,
    )


CPUS = {"6502": cpu_6502, "Z80": cpu_z80}


def get_cpu(name: str) -> Cpu:
    """The processor of that name.  Refuses a name that is not known."""
    if name not in CPUS:
        raise UnknownName(f"processor {name!r} is not known", sorted(CPUS))
    return CPUS[name]()
