"""One instruction over values that may depend on unknown bits; the second engine made from the table.

`step_function` turns a row's text into a Python function over `_values`.  It works on a `Step`, which collects the
accesses and commits them only when the instruction has come to its end; where it cannot go on it raises.
"""

from __future__ import annotations

import ast
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any, Protocol, TypeAlias

import numpy as np

from latchlore.base import LeafKind
from latchlore.program import _core as core
from latchlore.program import _values as values
from latchlore.program import wording
from latchlore.program._language import Rewrite, parse_text
from latchlore.program._values import Constraints, Sym, Value

if TYPE_CHECKING:
    from collections.abc import Callable

    from latchlore.program._cpu import Cpu, Row


MAX_GATHERED = 4096  # cells that one read may mean


class NeedsReadError(Exception):
    """The instruction reads a device register; go on with an answer."""

    def __init__(self, address: int, offset: tuple[int, int], *, used: bool) -> None:
        super().__init__(f"{address:04X}")
        self.address, self.offset, self.used = address, offset, used


class ForkError(Exception):
    """The instruction depends on an unknown condition: each of `ways` is one way on."""

    def __init__(self, ways: list[Sym]) -> None:
        super().__init__(f"{len(ways)} ways")
        self.ways = ways


class StopError(Exception):
    """The path ends here."""

    def __init__(self, kind: LeafKind, reason: str) -> None:
        super().__init__(reason)
        self.kind, self.reason = kind, reason


class HaltError(StopError):
    """The processor waits for an interrupt; `after`, `cycles`: PC and cycles behind the instruction.

    `is_plain`: an interrupt's return leaves all registers as they were before the instruction.
    """

    def __init__(self, after: int, cycles: tuple[int, int], *, is_plain: bool) -> None:
        super().__init__(LeafKind.HALTED, wording.HALT)
        self.after, self.cycles, self.is_plain = after, cycles, is_plain


class Unknowns(Protocol):
    """Who knows the unknown cells."""

    def cell(self, address: int) -> Value:
        """The value of a cell marked as unknown."""
        ...

    def is_from_entry(self, address: int) -> bool:
        """Whether nothing has written the cell since the entry."""
        ...


@dataclass(slots=True)
class Step:
    """One instruction in the making.

    `cells`: the bytes of the core's `cells`.  `writes`: (address, value, least and most cycle) in order.  `cycles`:
    least and most so far.
    """

    cpu: Cpu
    cells: bytearray
    unknowns: Unknowns
    constraints: Constraints
    answers: tuple[Value, ...]
    max_ways: int
    port_mask: int = 0xFFFF
    used: int = 0
    cycles: tuple[int, int] = (0, 0)
    writes: list[tuple[int, Value, tuple[int, int]]] = field(default_factory=list)
    pending: dict[int, Value] = field(default_factory=dict)

    def _cost(self, kind: str) -> None:
        cost = self.cpu.costs[kind]
        self.cycles = (self.cycles[0] + cost, self.cycles[1] + cost)

    def kind(self, address: int) -> int:
        """The attributes of a cell."""
        return self.cells[self.cpu.space + address]

    def tick(self, cycles: int) -> None:
        """Let cycles pass."""
        self.cycles = (self.cycles[0] + cycles, self.cycles[1] + cycles)

    def test(self, condition: Value) -> bool:
        """Whether a condition is not 0; forks where that is not known."""
        if isinstance(condition, int):
            return condition != 0
        truth = values.make(condition.vars, (condition.tab != 0).astype(np.int32))
        found = values.possible(self.constraints, truth)
        if len(found) == 1:
            return found[0] != 0
        assert isinstance(truth, Sym)
        no = truth ^ 1
        assert isinstance(no, Sym)
        raise ForkError([truth, no])

    def split(self, value: Sym) -> list[int]:
        """The one number a value can be; forks where there are several."""
        found = values.possible(self.constraints, value)
        if len(found) > 1:
            if len(found) > self.max_ways:
                self.too_many(value, len(found))
            ways = [values.make(value.vars, (value.tab == one).astype(np.int32)) for one in found]
            raise ForkError([way for way in ways if isinstance(way, Sym)])
        return found

    def too_many(self, value: Sym, count: int) -> None:
        """Give up on an address that can be almost anything."""
        raise StopError(LeafKind.UNKNOWN_JUMP, f"an address has {count} possible values by {len(value.vars)} bits")

    def places(self, address: Sym) -> list[int]:
        """The cells that may be meant; refuses too many."""
        found = values.possible(self.constraints, address)
        if len(found) > MAX_GATHERED:
            self.too_many(address, len(found))
        return found

    def device(self, address: int, *, used: bool) -> Value:
        """The answer of a device register."""
        if self.used == len(self.answers):
            raise NeedsReadError(address, self.cycles, used=used)
        self.used += 1
        return self.answers[self.used - 1]

    def load(self, address: int) -> Value:
        """The content of a cell that is no device."""
        if address in self.pending:
            return self.pending[address]
        return self.unknowns.cell(address) if self.kind(address) & core.UNKNOWN else self.cells[address]

    def opcode(self, pc: int) -> tuple[Value, int]:
        """The opcode at PC, and PC behind it."""
        return self.fetch(pc, "opcode")

    def fetch(self, pc: int, cost: str = "fetch") -> tuple[Value, int]:
        """The byte at PC, and PC behind it."""
        kind = self.cells[self.cpu.space + pc]
        if kind & core.DEVICE:
            raise StopError(LeafKind.UNKNOWN_CODE, f"runs into device registers at {pc:04X}")
        if kind & core.UNKNOWN and self.unknowns.is_from_entry(pc):
            raise StopError(LeafKind.UNKNOWN_CODE, f"the content of {pc:04X} is not known")
        value = self.load(pc) if kind & core.UNKNOWN or self.pending else self.cells[pc]
        self._cost(cost)
        return value, (pc + 1) & 0xFFFF

    def rd(self, address: Value, space: int = 0, kind: str = "rd") -> Value:
        """Read a cell."""
        if isinstance(address, Sym):
            found = self.places(address)
            if len(found) > 1 and (space or any(self.kind(a) & core.DEVICE for a in found)):
                found = self.split(address)
            if len(found) > 1:
                value = self.gather(address, found)
                self._cost(kind)
                return value
            address = found[0]
        address += space
        value = self.device(address, used=True) if self.kind(address) & core.DEVICE else self.load(address)
        self._cost(kind)
        return value

    def gather(self, address: Sym, found: list[int]) -> Value:
        """The content of the cell at an unknown address."""
        contents = {one: self.load(one) for one in found}
        known = np.zeros(1 << 16, dtype=np.int32)
        for one, value in contents.items():
            known[one] = value if isinstance(value, int) else 0
        fits = np.isin(address.tab, found)
        tab = known[np.where(fits, address.tab, found[0]) & 0xFFFF]
        result = values.make(address.vars, tab)
        for one, value in contents.items():
            if isinstance(value, Sym):
                here = values.make(address.vars, (address.tab == one).astype(np.int32))
                result = values.choose(here, value, result) if isinstance(here, Sym) else value
        return result

    def inp(self, port: Value) -> Value:
        """Read a port."""
        return self.rd(port & self.port_mask, 0x10000, "inp")

    def dummy(self, address: Value) -> None:
        """A read whose value is thrown away."""
        if isinstance(address, Sym):
            found = self.places(address)
            if any(self.kind(a) & core.DEVICE for a in found):
                found = self.split(address)
            address = found[0]
        if self.kind(address) & core.DEVICE:
            self.device(address, used=False)
        self._cost("dummy")

    def penalty(self, condition: Value, address: Value) -> None:
        """A dummy read in some cases: costs a cycle more or less where the case is not known."""
        if isinstance(condition, Sym):
            found = values.possible(self.constraints, condition)
            if len(found) > 1:
                reached = [address] if isinstance(address, int) else self.places(address)
                if any(self.kind(a) & core.DEVICE for a in reached):
                    self.test(condition)
                self.cycles = (self.cycles[0], self.cycles[1] + self.cpu.costs["dummy"])
                return
            condition = found[0]
        if condition:
            self.dummy(address)

    def wr(self, address: Value, value: Value, space: int = 0, kind: str = "wr") -> None:
        """Write a cell."""
        if isinstance(address, Sym):
            found = self.places(address)
            if len(found) > 1 and (space or any(self.kind(a) & core.DEVICE for a in found)):
                found = self.split(address)
            if len(found) > 1:
                self.scatter(address, value, found)
                self._cost(kind)
                return
            address = found[0]
        self.store(address + space, value)
        self._cost(kind)

    def scatter(self, address: Sym, value: Value, found: list[int]) -> None:
        """Write the cell at an unknown address: each cell that may be meant keeps its content or takes the value."""
        if len(found) > self.max_ways:
            self.too_many(address, len(found))
        try:
            for one in found:
                here = values.make(address.vars, (address.tab == one).astype(np.int32))
                assert isinstance(here, Sym)
                self.store(one, values.choose(here, value, self.load(one)))
        except values.TooWideError:
            self.split(address)

    def store(self, address: int, value: Value) -> None:
        """Note a write."""
        self.writes.append((address, value, self.cycles))
        if not self.kind(address) & (core.DEVICE | core.FIXED):
            self.pending[address] = value

    def out(self, port: Value, value: Value) -> None:
        """Write a port."""
        self.wr(port & self.port_mask, value, 0x10000, "out")


FETCHES = ("fetch", "opcode")
Decoded = tuple[Value, int, Value, int]
"""Opcode number, PC behind it, the displacement between prefix and opcode (0 without), opcode fetches."""


class _Translate(Rewrite):
    """Puts a text into the form of the symbolic engine."""

    def visit_If(self, node: ast.If) -> ast.If:  # noqa: N802  # the visitor's own naming
        """Ask the step before branching."""
        test = ast.Call(ast.Attribute(ast.Name("step_", ast.Load()), "test", ast.Load()), [self.visit(node.test)], [])
        return ast.If(test, [self.visit(s) for s in node.body] or [ast.Pass()], [self.visit(s) for s in node.orelse])

    def visit_Assign(self, node: ast.Assign) -> ast.stmt:  # noqa: N802  # the visitor's own naming
        """Fetching moves PC on."""
        if isinstance(node.value, ast.Call) and isinstance(node.value.func, ast.Name) and node.value.func.id in FETCHES:
            target = ast.Tuple([*node.targets, ast.Name("PC", ast.Store())], ast.Store())
            return ast.Assign([target], _method(node.value.func.id, [ast.Name("PC", ast.Load())]))
        return ast.Assign(node.targets, self.visit(node.value))

    def visit_Call(self, node: ast.Call) -> ast.expr:  # noqa: N802  # the visitor's own naming
        """Accesses are methods of the step."""
        assert isinstance(node.func, ast.Name)
        arguments = [self.visit(argument) for argument in node.args]
        if node.func.id in ("bit", "zero", "gt", "parity"):
            return ast.Call(node.func, arguments, [])
        return _method(node.func.id, arguments)


def _method(name: str, arguments: list[ast.expr]) -> ast.Call:
    return ast.Call(ast.Attribute(ast.Name("step_", ast.Load()), name, ast.Load()), arguments, [])


StepFunction: TypeAlias = "Callable[..., list[Value]]"


def decode_function(cpu: Cpu) -> Callable[[Step, int], Decoded]:
    """The fetching of an opcode as a function: (step, PC) → what was fetched."""
    translate = _Translate({}, inline=False)
    body = [translate.visit(statement) for statement in parse_text(cpu.decode)]
    module = ast.parse("def do(step_, PC):\n    d = 0\n    m1 = 1\n    return op, PC, d, m1\n")
    function = module.body[0]
    assert isinstance(function, ast.FunctionDef)
    function.body[2:2] = body
    scope: dict[str, Any] = {name: getattr(values, name) for name in ("bit", "zero", "gt", "parity")}
    exec(compile(ast.fix_missing_locations(module), f"<{cpu.name} decode>", "exec"), scope)
    done: Callable[[Step, int], Decoded] = scope["do"]
    return done


def step_function(cpu: Cpu, row: Row) -> StepFunction:
    """The row as a function: (step, registers with PC behind the opcode, displacement, fetches) → registers."""
    names = ", ".join(cpu.names)
    translate = _Translate({}, inline=False)
    body = [translate.visit(statement) for statement in parse_text(row.text)]
    head = f"def do(step_, registers_, d=0, m1=1):\n    op = {row.code}\n    ({names},) = registers_\n"
    module = ast.parse(f"{head}    return [{names}]\n")
    function = module.body[0]
    assert isinstance(function, ast.FunctionDef)
    function.body[2:2] = body
    scope: dict[str, Any] = {name: getattr(values, name) for name in ("bit", "zero", "gt", "parity")}
    exec(compile(ast.fix_missing_locations(module), f"<{cpu.name} {row.name}>", "exec"), scope)
    done: StepFunction = scope["do"]
    return done


@cache
def step_functions(cpu_name: str) -> dict[int, StepFunction]:
    """Every row of a processor as a function, each translated when it is first called."""
    from latchlore.program._cpu import get_cpu

    cpu = get_cpu(cpu_name)
    return {code: _when_called(cpu, row) for code, row in cpu.rows.items()}


def _when_called(cpu: Cpu, row: Row) -> StepFunction:
    made: StepFunction | None = None

    def call(step: Step, registers: list[Value], displacement: int = 0, fetches: int = 1) -> list[Value]:
        nonlocal made
        if made is None:
            made = step_function(cpu, row)
        return made(step, registers, displacement, fetches)

    return call
