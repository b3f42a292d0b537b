"""One instruction looked at without a run: where it goes on, what it touches, and what the registers hold behind it.

The same tables as for the engines are used (`_symbolic.step_function`), over values of which some are not known.
A first look takes whatever is not known for anything at all; a second one follows the unknown bits where there are
few, so that an indexed touch has its range and a register exclusive-or itself is 0.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import FunctionType
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

import numpy as np

from latchlore.program import _values as values
from latchlore.program._image import SPACE
from latchlore.program._symbolic import decode_function, step_function
from latchlore.program._values import Sym, TooWideError

if TYPE_CHECKING:
    from collections.abc import Callable

    from latchlore.program._cpu import Cpu, Row

MAX_REACH = 4096
"""An access that can reach more addresses than this is one that cannot be told."""

MAX_TARGETS = 256
NARROW = 8  # only unknown registers of at most so many bits are followed bit by bit

Registers: TypeAlias = tuple[int | None, ...]
"""Registers and flags in the order of `Cpu.names`, PC left out; None: not known."""

Memory: TypeAlias = "Callable[[int], int | None]"
"""The byte at an address; None where it is not known."""


@dataclass(frozen=True, slots=True, order=True)
class Access:
    """One access: `kind` is ``rd``, ``wr``, ``dummy`` (a read whose value is thrown away), ``inp`` or ``out``.

    `addresses`: all that it can reach, rising; None where that cannot be told.
    """

    kind: str
    addresses: tuple[int, ...] | None

    @property
    def is_port(self) -> bool:
        """Whether it is one of the port space."""
        return self.kind in ("inp", "out")

    @property
    def is_write(self) -> bool:
        """Whether it gives a byte away."""
        return self.kind in ("wr", "out")


@dataclass(frozen=True, slots=True)
class Way:
    """One way through an instruction.  `targets`: where it goes on, rising; None where that cannot be told."""

    targets: tuple[int, ...] | None
    registers: Registers
    accesses: tuple[Access, ...]


class OffImageError(Exception):
    """A byte of the instruction is not known."""

    def __init__(self, address: int) -> None:
        super().__init__(f"{address:04X}")
        self.address = address


class _Anything:
    """A value of which nothing is known; whatever is computed from it is no better known."""

    def _same(self, _: object = None) -> _Anything:
        return self

    __add__ = __radd__ = __sub__ = __rsub__ = __mul__ = __rmul__ = __and__ = __rand__ = __or__ = __ror__ = _same
    __xor__ = __rxor__ = __lshift__ = __rlshift__ = __rshift__ = __rrshift__ = __invert__ = __neg__ = _same


ANYTHING = _Anything()


def _lifted(function: Callable[..., Any]) -> Callable[..., Any]:
    def lifted(*arguments: Any) -> Any:
        return ANYTHING if ANYTHING in arguments else function(*arguments)

    return lifted


_PURE = {name: _lifted(getattr(values, name)) for name in ("bit", "zero", "gt", "parity")}


def _bound(function: Any) -> Callable[..., Any]:
    """A table function with pure functions that know `ANYTHING`."""
    bound = FunctionType(function.__code__, {**function.__globals__, **_PURE}, function.__name__, function.__defaults__)
    done: Callable[..., Any] = bound
    return done


class _Peek:
    """Takes the place of the engines' step: notes accesses, and tries each way where a condition is not known."""

    def __init__(self, looker: Looker, chosen: list[bool], fresh: int | None) -> None:
        self.memory, self.fixed, self.port_mask = looker.memory, looker.fixed, looker.port_mask
        self.chosen, self.fresh = chosen, fresh
        self.asked = 0
        self.accesses: list[Access] = []

    def unknown(self) -> Any:
        if self.fresh is None:
            return ANYTHING
        numbers = list(range(self.fresh, self.fresh + 8))
        self.fresh += 8
        return values.byte_of(numbers)

    def tick(self, cycles: Any) -> None:
        """Cycles do not matter here."""

    def test(self, condition: Any) -> bool:
        if isinstance(condition, int):
            return condition != 0
        if isinstance(condition, Sym):
            levels = set((condition.tab != 0).tolist())
            if len(levels) == 1:
                return bool(levels.pop())
        if self.asked == len(self.chosen):
            self.chosen.append(True)
        self.asked += 1
        return self.chosen[self.asked - 1]

    def fetch(self, pc: int) -> tuple[int, int]:
        byte = self.memory(pc)
        if byte is None:
            raise OffImageError(pc)
        return byte, (pc + 1) & 0xFFFF

    opcode = fetch

    def note(self, kind: str, address: Any) -> None:
        if isinstance(address, int) and address >= SPACE:  # pins of the chip's own, as ports past the last one
            kind, address = {"rd": "inp", "wr": "out"}.get(kind, kind), address - SPACE
        self.accesses.append(Access(kind, _reach(address, MAX_REACH)))

    def rd(self, address: Any) -> Any:
        self.note("rd", address)
        byte = self.fixed(address) if isinstance(address, int) else None
        return self.unknown() if byte is None else byte

    def dummy(self, address: Any) -> None:
        self.note("dummy", address)

    def penalty(self, condition: Any, address: Any) -> None:
        if not isinstance(condition, int) or condition:
            self.note("dummy", address)

    def wr(self, address: Any, value: Any) -> None:  # noqa: ARG002 - the engines' signature
        self.note("wr", address)

    def inp(self, port: Any) -> Any:
        self.note("inp", port & self.port_mask)
        return self.unknown()

    def out(self, port: Any, value: Any) -> None:  # noqa: ARG002 - the engines' signature
        self.note("out", port & self.port_mask)


def _reach(address: Any, most: int) -> tuple[int, ...] | None:
    if isinstance(address, int):
        return (address,)
    if not isinstance(address, Sym):
        return None
    found = np.unique(address.tab)
    return tuple(found.tolist()) if len(found) <= most else None


class _Seen(NamedTuple):
    """One way through an instruction, wherever it stands: registers that it may set, by their index."""

    targets: tuple[int, ...] | None
    changed: tuple[tuple[int, int | None], ...]
    accesses: tuple[Access, ...]


class Looker:
    """Looks at instructions of one processor in one memory; what it has seen once it knows.

    `memory`: bytes of instructions.  `fixed`: bytes that stay as they are for ever.  `port_mask`: the address lines
    that tell ports apart.
    """

    def __init__(self, cpu: Cpu, memory: Memory, fixed: Memory, port_mask: int = 0xFFFF) -> None:
        self.cpu, self.memory, self.fixed, self.port_mask = cpu, memory, fixed, port_mask
        self.decode = _bound(decode_function(cpu))
        self.functions: dict[int, Callable[..., Any]] = {}
        self.known: dict[tuple[object, ...], tuple[_Seen, ...]] = {}
        self.widths = [cpu.registers.get(name, 1) for name in cpu.names[:-1]]
        self.index = {name: k for k, name in enumerate(cpu.names[:-1])}
        self.volatile = frozenset(self.index[name] for name in cpu.volatile)
        self.cared = {
            code: tuple(sorted(self.index[name] for name in row.print.reads | row.print.may_write))
            for code, row in cpu.rows.items()
        }

    def byte(self, address: int) -> int:
        """The byte at an address.  Raises `OffImageError` where it is not known."""
        found = self.memory(address & 0xFFFF)
        if found is None:
            raise OffImageError(address & 0xFFFF)
        return found

    def row(self, at: int) -> Row | None:
        """The row of the instruction at an address; None where it is undocumented."""
        return self.cpu.rows.get(self.cpu.code_at(self.byte, at))

    def data(self, at: int) -> bytes:
        """The bytes of the instruction at an address."""
        return bytes(self.byte(at + k) for k in range(self.cpu.length(self.byte, at)))

    def at_entry(self) -> Registers:
        """What is known where a routine begins."""
        return tuple(None if name in self.cpu.volatile else self.cpu.at_entry.get(name) for name in self.index)

    def ways(self, at: int, registers: Registers) -> tuple[Way, ...]:
        """Every way through the documented instruction at an address.

        The stack pointer is one that was made up; what is computed from it is not known.
        """
        row = self.row(at)
        assert row is not None
        data = self.data(at)
        cared = tuple(registers[k] for k in self.cared[row.code])
        is_plain = row.flow == "next"
        key = (data, cared, -1 if is_plain else at)
        if key not in self.known:
            self.known[key] = self._look(row, at, registers)
        after = ((at + len(data)) & 0xFFFF,)
        stack, on_stack = self.index[self.cpu.stack], self.cpu.stack in row.print.reads
        found = []
        for seen in self.known[key]:
            behind = list(registers)
            for k, value in seen.changed:
                behind[k] = value if k not in self.volatile and (k == stack or not on_stack) else None
            found.append(Way(after if is_plain else seen.targets, tuple(behind), seen.accesses))
        return tuple(found)

    def _look(self, row: Row, at: int, registers: Registers) -> tuple[_Seen, ...]:
        rough = self._walk(row, at, [ANYTHING if one is None else one for one in registers], None)
        unknown = [self.widths[self.index[name]] for name in row.print.reads if registers[self.index[name]] is None]
        narrow = bool(unknown) and max(unknown) <= NARROW and sum(unknown) <= values.MAX_VARS
        unsure = len(rough) > 1 or any(
            seen.targets is None
            or any(access.addresses is None for access in seen.accesses)
            or any(value is None for _, value in seen.changed)
            for seen in rough
        )
        if narrow and unsure:
            try:
                return self._walk(row, at, self._symbols(row, registers), sum(self.widths))
            except TooWideError:
                pass
        return rough

    def _walk(self, row: Row, at: int, before: list[Any], fresh: int | None) -> tuple[_Seen, ...]:
        if row.code not in self.functions:
            self.functions[row.code] = _bound(step_function(self.cpu, row))
        changing = [self.index[name] for name in sorted(row.print.may_write)]
        found: list[_Seen] = []
        work: list[list[bool]] = [[]]
        while work:
            chosen = work.pop()
            start = len(chosen)
            peek = _Peek(self, chosen, fresh)
            _, pc, *rest = self.decode(peek, at)
            behind = self.functions[row.code](peek, [*before, pc], *rest)
            work += [[*chosen[:k], False] for k in range(start, len(chosen))]
            changed = tuple((k, _sure(behind[k])) for k in changing)
            found.append(_Seen(_reach(behind[-1], MAX_TARGETS), changed, tuple(peek.accesses)))
        return tuple(found)

    def _symbols(self, row: Row, registers: Registers) -> list[Any]:
        """Unknown registers that the row looks at bit by bit; the others are at most passed on."""
        found: list[Any] = []
        first = 0
        for name, known, width in zip(self.index, registers, self.widths, strict=True):
            if known is not None:
                found.append(known)
            elif name in row.print.reads:
                found.append(values.byte_of(list(range(first, first + width))))
            else:
                found.append(ANYTHING)
            first += width
        return found


def _sure(value: Any) -> int | None:
    return int(value) if isinstance(value, int | np.integer) else None
