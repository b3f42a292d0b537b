"""Turns the texts of a table into the steps that the careful side of the core interprets.

A step is five numbers: (kind, target, first, second, extra).  Target, first and second are slots of the work area:
registers, flags and PC in the order of `Cpu.names`, then the temporaries; `extra` is a number, for accesses their
cycles.  The kinds are numbered here and taken one by one in `_core.careful`.  A stage is there once, however many
rows share it: a row jumps from stage to stage.  A JUMP with target 1 comes back at the next END.
"""

from __future__ import annotations

import ast
from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.program._language import parse_text

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu

STEP = 5
END, LITERAL, ADD, SUB, MUL, AND, OR, XOR, LEFT, RIGHT, BIT, EQUAL, GREATER, PARITY = range(14)
JUMP, JUMP_IF_ZERO, TICK, WRITE, FETCH, READ, DUMMY = range(14, 21)
NUMBER = 32  # added to a kind: its second operand is `extra` itself
PORTS = 0x10000  # ports lie behind the cells

_BINARY: dict[type[ast.operator], int] = {
    ast.Add: ADD,
    ast.Sub: SUB,
    ast.Mult: MUL,
    ast.BitAnd: AND,
    ast.BitOr: OR,
    ast.BitXor: XOR,
    ast.LShift: LEFT,
    ast.RShift: RIGHT,
}
_CALLS = {"bit": BIT, "gt": GREATER, "parity": PARITY, "tick": TICK}
_ACCESSES = {"fetch": FETCH, "opcode": FETCH, "rd": READ, "inp": READ, "dummy": DUMMY, "wr": WRITE, "out": WRITE}


@dataclass(frozen=True, slots=True)
class Micro:
    """All steps of a processor: `entries[k]` is where opcode k begins, -1 where there is none; decoding begins at 0.

    `opcode_slot`: where decoding leaves the opcode's number.  `num_slots`: size of the work area used.
    """

    steps: tuple[int, ...]
    entries: tuple[int, ...]
    opcode_slot: int
    num_slots: int


class _Builder:
    """Collects steps; a name has one slot in all texts, a part of an expression any free one behind them."""

    def __init__(self, cpu: Cpu) -> None:
        self.cpu = cpu
        self.steps: list[int] = []
        self.slots = {name: k for k, name in enumerate(cpu.names)}
        for text in (cpu.decode, *(row.text for row in cpu.rows.values())):
            for node in ast.walk(ast.parse(text)):
                if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
                    self.slots.setdefault(node.id, len(self.slots))
        self.free = self.num_slots = len(self.slots)

    def add(self, kind: int, target: int, first: int = 0, second: int = 0, extra: int = 0) -> int:
        """Append a step; returns its place."""
        self.steps += (kind, target, first, second, extra)
        return len(self.steps) - STEP

    def jump(self, kind: int, first: int = 0) -> int:
        """Append a jump whose goal is still open; returns where its goal is to be put."""
        return self.add(kind, self.slot(None), first) + STEP - 1

    def text(self, statements: list[ast.stmt]) -> None:
        """Append a whole text."""
        self.block(statements)
        self.add(END, 0)

    def block(self, statements: list[ast.stmt]) -> None:
        for statement in statements:
            self.free = len(self.slots)
            self.statement(statement)

    def statement(self, statement: ast.stmt) -> None:
        match statement:
            case ast.If(test=test, body=body, orelse=orelse):
                over = self.jump(JUMP_IF_ZERO, self.value(test))
                self.block(body)
                if orelse:
                    end = self.jump(JUMP)
                    self.steps[over] = len(self.steps)
                    self.block(orelse)
                    over = end
                self.steps[over] = len(self.steps)
            case ast.Assign(targets=[ast.Name(id=name)], value=value):
                self.value(value, self.slots[name])
            case ast.Expr(value=ast.Call(func=ast.Name(id="penalty"), args=[condition, address])):
                over = self.jump(JUMP_IF_ZERO, self.value(condition))
                self.call("dummy", [address], None)
                self.steps[over] = len(self.steps)
            case ast.Expr(value=call):
                self.value(call)
            case _:
                raise AssertionError(ast.unparse(statement))

    def slot(self, wanted: int | None) -> int:
        if wanted is not None:
            return wanted
        self.free += 1
        self.num_slots = max(self.num_slots, self.free)
        return self.free - 1

    def value(self, node: ast.expr, wanted: int | None = None) -> int:
        """Steps that leave a value in the slot wanted, or in any; returns the slot."""
        match node:
            case ast.Name(id=name) if wanted is None:
                return self.slots[name]
            case ast.Name():
                return self.binary(OR, node, ast.Constant(0), wanted)
            case ast.Constant(value=int(number)):
                return self.add_to(wanted, LITERAL | NUMBER, 0, 0, number)
            case ast.UnaryOp(op=ast.Invert(), operand=operand):
                return self.binary(XOR, operand, ast.Constant(-1), wanted)
            case ast.UnaryOp(operand=ast.Constant(value=int(number))):
                return self.add_to(wanted, LITERAL | NUMBER, 0, 0, -number)
            case ast.UnaryOp(operand=operand):
                return self.binary(SUB, ast.Constant(0), operand, wanted)
            case ast.BinOp(left=left, op=op, right=right):
                return self.binary(_BINARY[type(op)], left, right, wanted)
            case ast.Call(func=ast.Name(id=name), args=arguments):
                return self.call(name, arguments, wanted)
        raise AssertionError(ast.unparse(node))

    def add_to(self, wanted: int | None, kind: int, first: int, second: int = 0, extra: int = 0) -> int:
        """Append a step with a result; returns its slot."""
        target = self.slot(wanted)
        self.add(kind, target, first, second, extra)
        return target

    def binary(self, kind: int, left: ast.expr, right: ast.expr, wanted: int | None) -> int:
        first = self.value(left)
        if isinstance(right, ast.Constant) and isinstance(right.value, int):
            return self.add_to(wanted, kind | NUMBER, first, 0, right.value)
        return self.add_to(wanted, kind, first, self.value(right))

    def call(self, name: str, arguments: list[ast.expr], wanted: int | None) -> int:
        match name, arguments:
            case "zero", [value]:
                return self.binary(EQUAL, value, ast.Constant(0), wanted)
            case (("bit" | "gt"), [left, right]):
                return self.binary(_CALLS[name], left, right, wanted)
            case (("parity" | "tick"), [value]):
                return self.add_to(wanted, _CALLS[name], self.value(value))
            case (("inp" | "out"), [port, *rest]):
                arguments = [ast.BinOp(port, ast.Add(), ast.Constant(PORTS)), *rest]
        slots = [self.value(argument) for argument in arguments]
        first, second = (*slots, 0, 0)[:2]
        return self.add_to(wanted, _ACCESSES[name], first, second, self.cpu.costs[name])


def micro_of(cpu: Cpu) -> Micro:
    """The steps of every row of a processor, and of its decoding."""
    builder = _Builder(cpu)
    builder.text(parse_text(cpu.decode))
    known: dict[tuple[str, ...], int] = {}
    entries = [-1] * max(256, max(cpu.rows) + 1)
    for code, row in cpu.rows.items():
        entries[code] = _place(builder, known, tuple(part for part in row.stages if part))
    return Micro(tuple(builder.steps), tuple(entries), builder.slots["op"], builder.num_slots)


def _place(builder: _Builder, known: dict[tuple[str, ...], int], texts: tuple[str, ...]) -> int:
    """Where the steps of some texts begin, one after the other."""
    if texts in known:
        return known[texts]
    parts = [_place(builder, known, (text,)) for text in texts] if len(texts) > 1 else []
    known[texts] = len(builder.steps)
    for part in parts:
        builder.add(JUMP, 1, 0, 0, part)
    builder.text(parse_text("" if parts else "\n".join(texts)))
    return known[texts]
