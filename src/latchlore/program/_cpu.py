"""A processor as both engines see it: registers, and a row for every opcode with its text in stages.

Processors are found by themselves in the folders of `latchlore.program.cpus`.
"""

from __future__ import annotations

import importlib
import pkgutil
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType
from typing import TypeAlias

from latchlore.base import UnknownName
from latchlore.program._language import Footprint, footprint, parse_text

DEAD_STACK = 32  # so many bytes below a 16-bit stack pointer are taken for leavings

ByteAt: TypeAlias = Callable[[int], int]
"""The byte at an address from 0 to FFFF."""

FLOWS = frozenset(
    (
        *("next", "branch", "jump", "jump indirect", "call", "call if", "return", "return if", "return interrupt"),
        *("restart", "repeat", "halt", "interrupt", "refresh"),
    )
)


@dataclass(frozen=True, slots=True)
class Row:
    """One opcode: its `stages` find the operand, reach it, work, and store the result; a stage may be empty.

    `length` counts all bytes of the instruction.  `flow`: how it changes the flow of the program, one of `FLOWS`;
    ``return interrupt`` also takes flags back, ``refresh`` looks at a volatile register.  `stores`: whether it writes
    memory.  `operand`: what stands behind the mnemonic in a listing; ``{n1}`` is the byte at offset 1, ``{w1}`` the
    word there, ``{d2}`` a signed byte, ``{e1}`` and ``{l1}`` the target of a relative byte or word.  `target`: the
    key of the address that the row jumps or calls to, such as ``e1`` or ``w1``, a number, or empty where it is not
    in the instruction.  `pushes`: bytes that it pushes (below 0: takes) where it does no more with the stack; of a
    return, the bytes that it takes before the address.
    """

    code: int
    name: str
    mode: str
    length: int
    stages: tuple[str, ...]
    flow: str
    stores: bool
    print: Footprint
    operand: str = ""
    target: str = ""
    pushes: int = 0

    @property
    def text(self) -> str:
        """The whole semantics."""
        return "\n".join(part for part in self.stages if part)


def first_byte(byte: ByteAt, at: int) -> int:
    """The opcode's number of a processor without prefixes."""
    return byte(at)


def hexadecimal(value: int, digits: int) -> str:
    """A number as the assemblers of MOS Technology and Motorola take it."""
    return f"${value:0{digits}X}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cpu:
    """A processor.

    `folder`: its package.  `registers`: name → width in bits, in the order of the kernels' register array; flags
    follow, PC comes last.  `rows`: opcode → row.  `undocumented`: opcode → length, for every opcode without a row.
    `costs`: cycles of each kind of access.  `stack`: the stack pointer's name; `stack_page` where its page lies, 0
    where the pointer has 16 bits; `stack_gap`: 1 where it points at the next free byte, 0 where at the last one
    pushed; `is_high_first`: words lie in memory high byte first; `call_skew`: how far the address that a call pushes
    lies before the next instruction.  `entry_stack`: the pointer at an entry; `at_entry`: registers and flags that
    are taken as known there.  `stopping`: opcodes that stop the processor.  `decode`: how an opcode is fetched, in
    the table language; `code_at` gives its number (prefixes included) from memory; `prefixes`: what a listing calls
    the numbers from each hundred on.  `volatile`: registers that count by themselves; an exploration does not follow
    them and takes them as unknown where code looks at them.  `length_at`, `operand_at`: length and operand where the
    row alone does not tell them.  `write_number`: how the maker's assembler writes a number of so many digits.
    `space`: memory cells and ports.

    For the core's size and speed alone (see `_generate.py`): the first `num_finding` of a row's stages find and read
    the operand; `reads`: texts that end these stages in many rows; `shared`: texts that follow the operation in many
    rows; `rare`: opcodes that are run the careful way.
    """

    name: str
    folder: str
    registers: Mapping[str, int]
    flags: tuple[str, ...]
    rows: Mapping[int, Row]
    undocumented: Mapping[int, int]
    costs: Mapping[str, int]
    stack: str
    entry_stack: int
    at_entry: Mapping[str, int]
    stack_page: int = 0
    stack_gap: int = 0
    is_high_first: bool = False
    call_skew: int = 0
    stopping: frozenset[int] = frozenset()
    decode: str = "op = fetch()"
    volatile: frozenset[str] = frozenset()
    code_at: Callable[[ByteAt, int], int] = first_byte
    prefixes: Mapping[int, str] = field(default_factory=lambda: MappingProxyType({}))
    length_at: Callable[[ByteAt, int], int] | None = None
    operand_at: Callable[[ByteAt, int], str] | None = None
    write_number: Callable[[int, int], str] = hexadecimal
    space: int = 65536
    num_finding: int = 1
    reads: tuple[str, ...] = ("m = rd(ea)",)
    shared: tuple[str, ...] = ()
    rare: frozenset[int] = frozenset()

    def is_at_base(self, pointer: int, base: int) -> bool:
        """Whether nothing of the routine's own is left on the stack."""
        return pointer >= base

    def return_cells(self, pointer: int) -> tuple[int, int]:
        """Where a return finds its address, low byte first."""
        first, second = (self.stack_cell(pointer + self.stack_gap + k) for k in range(2))
        return (second, first) if self.is_high_first else (first, second)

    def stack_cell(self, pointer: int) -> int:
        """The address that a stack pointer points at."""
        return self.stack_page | (pointer & 0xFF) if self.stack_page else pointer & 0xFFFF

    def popped(self, pointer: int, count: int) -> int:
        """The stack pointer after so many bytes were taken."""
        return (pointer + count) & (0xFF if self.stack_page else 0xFFFF)

    def below(self, pointer: int) -> tuple[int, int]:
        """Cells that hold what was taken from the stack: the first, and the one behind the last."""
        end = pointer + self.stack_gap
        if self.stack_page:
            return self.stack_page, self.stack_page + end
        return max(end - DEAD_STACK, 0), end

    def length(self, byte: ByteAt, at: int) -> int:
        """Bytes of the instruction at an address, documented or not."""
        if self.length_at is not None:
            return self.length_at(byte, at)
        code = self.code_at(byte, at)
        return self.rows[code].length if code in self.rows else self.undocumented[code]

    def operand(self, byte: ByteAt, at: int) -> str:
        """The operand of the documented instruction at an address, as the maker's assembler takes it."""
        if self.operand_at is not None:
            return self.operand_at(byte, at)
        row = self.rows[self.code_at(byte, at)]
        return re.sub(r"\{(\w)(\d)\}", lambda found: self._field(byte, at, row.length, found), row.operand)

    def _field(self, byte: ByteAt, at: int, length: int, found: re.Match[str]) -> str:
        kind = found[1]
        if kind == "d":
            number = byte((at + int(found[2])) & 0xFFFF)
            sign, size = ("-", 256 - number) if number & 0x80 else ("+", number)
            return sign + self.write_number(size, 2)
        value = self.number_at(byte, at, length, found[1] + found[2])
        return self.write_number(value, 2 if kind == "n" else 4)

    def number_at(self, byte: ByteAt, at: int, length: int, key: str) -> int:
        """The byte, word or target that a key (see `Row`) names in the instruction at an address."""
        kind, offset = key[0], at + int(key[1:])
        if kind == "n":
            return byte(offset & 0xFFFF)
        if kind == "e":
            value = byte(offset & 0xFFFF)
            return (at + length + value - ((value & 0x80) << 1)) & 0xFFFF
        first, second = byte(offset & 0xFFFF), byte((offset + 1) & 0xFFFF)
        word = first << 8 | second if self.is_high_first else second << 8 | first
        return (at + length + word) & 0xFFFF if kind == "l" else word

    def target(self, row: Row, byte: ByteAt, at: int) -> int | None:
        """Where the row at an address jumps or calls to; None where the instruction does not say."""
        if not row.target:
            return None
        return int(row.target) if row.target.isdigit() else self.number_at(byte, at, row.length, row.target)

    def spell(self, code: int) -> str:
        """The opcode's bytes."""
        prefix = self.prefixes.get(code & ~0xFF, "")
        return f"{prefix} {code & 0xFF:02X}".strip()

    @property
    def names(self) -> tuple[str, ...]:
        """Registers, flags and PC in the order of the kernels' register array."""
        return (*self.registers, *self.flags, "PC")


@cache
def _footprint(text: str, names: frozenset[str]) -> Footprint:
    """The footprint of a stage, which many rows share."""
    return footprint(parse_text(text), names)


def make_row(
    code: int,
    name: str,
    mode: str,
    length: int,
    stages: tuple[str, ...],
    flow: str,
    names: frozenset[str],
    *,
    operand: str = "",
    target: str = "",
    pushes: int = 0,
) -> Row:
    """A row with its footprint worked out from its text; `names`: the processor's registers and flags."""
    stores = any("wr(" in part for part in stages)
    print_ = Footprint(frozenset(), frozenset(), frozenset())
    for part in stages:
        print_ = print_.then(_footprint(part, names))
    return Row(code, name, mode, length, stages, flow, stores, print_, operand, target, pushes)


@cache
def cpu_folders() -> Mapping[str, str]:
    """Name → package of every processor, in the order of the names."""
    from latchlore.program import cpus

    found = {}
    for module in pkgutil.iter_modules(cpus.__path__, f"{cpus.__name__}."):
        found[str(importlib.import_module(module.name).NAME)] = module.name
    return MappingProxyType(dict(sorted(found.items())))


def get_cpu(name: str) -> Cpu:
    """The processor of that name.  Refuses a name that is not known."""
    folders = cpu_folders()
    if name not in folders:
        raise UnknownName(f"processor {name!r} is not known", list(folders))
    cpu: Cpu = importlib.import_module(folders[name]).cpu()
    return cpu
