"""Turns the texts of a table into the steps that the careful side of the core interprets.

A step is five numbers: (kind, target, first, second, extra).  Target, first and second are slots of the work area:
registers, flags and PC in the order of `Cpu.names`, then the temporaries; `extra` is a number, for accesses their
cycles.  The kinds are numbered here and taken one by one in `_core.careful`.
"""

from __future__ import annotations

import ast
from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.program._language import parse_text

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu

STEP = 5
END, MOVE, LITERAL, ADD, SUB, MUL, AND, OR, XOR, LEFT, RIGHT, NOT, ZERO, GREATER, PARITY = range(15)
ADD_N, SUB_N, MUL_N, AND_N, OR_N, XOR_N, LEFT_N, RIGHT_N, BIT_N, GREATER_N = range(15, 25)
JUMP, JUMP_IF_ZERO, FETCH, READ, DUMMY, WRITE, PORT_READ, PORT_WRITE, TICK = range(25, 34)

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
_WITH_NUMBER = ADD_N - ADD  # from a kind to the same with a number as its second operand


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

    def add(self, kind: int, target: int = 0, first: int = 0, second: int = 0, extra: int = 0) -> int:
        """Append a step; returns its place."""
        self.steps += (kind, target, first, second, extra)
        return len(self.steps) - STEP

    def text(self, statements: list[ast.stmt]) -> None:
        """Append a whole text."""
        self.block(statements)
        self.add(END)

    def block(self, statements: list[ast.stmt]) -> None:
        for statement in statements:
            self.free = len(self.slots)
            self.statement(statement)

    def statement(self, statement: ast.stmt) -> None:
        match statement:
            case ast.If(test=test, body=body, orelse=orelse):
                over = self.add(JUMP_IF_ZERO, 0, self.value(test))
                self.block(body)
                if orelse:
                    end = self.add(JUMP)
                    self.steps[over + STEP - 1] = len(self.steps)
                    self.block(orelse)
                    over = end
                self.steps[over + STEP - 1] = len(self.steps)
            case ast.Assign(targets=[ast.Name(id=name)], value=value):
                self.value(value, self.slots[name])
            case ast.Expr(value=ast.Call(func=ast.Name(id="penalty"), args=[condition, address])):
                over = self.add(JUMP_IF_ZERO, 0, self.value(condition))
                reached = self.value(address)
                self.add(DUMMY, self.slot(None), reached, 0, self.cpu.costs["dummy"])
                self.steps[over + STEP - 1] = len(self.steps)
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
            case ast.Name(id=name):
                target = self.slots[name]
                if wanted is not None:
                    self.add(MOVE, wanted, target)
                    target = wanted
            case ast.Constant(value=int(number)):
                target = self.slot(wanted)
                self.add(LITERAL, target, 0, 0, number)
            case ast.UnaryOp(op=ast.Invert(), operand=operand):
                first = self.value(operand)
                target = self.slot(wanted)
                self.add(NOT, target, first)
            case ast.UnaryOp(operand=ast.Constant(value=int(number))):
                target = self.slot(wanted)
                self.add(LITERAL, target, 0, 0, -number)
            case ast.UnaryOp(operand=operand):
                target = self.binary(SUB, ast.Constant(0), operand, wanted)
            case ast.BinOp(left=left, op=op, right=right):
                target = self.binary(_BINARY[type(op)], left, right, wanted)
            case ast.Call(func=ast.Name(id=name), args=arguments):
                target = self.call(name, arguments, wanted)
            case _:
                raise AssertionError(ast.unparse(node))
        return target

    def binary(self, kind: int, left: ast.expr, right: ast.expr, wanted: int | None) -> int:
        first = self.value(left)
        if isinstance(right, ast.Constant) and isinstance(right.value, int):
            target = self.slot(wanted)
            self.add(kind + _WITH_NUMBER, target, first, 0, right.value)
            return target
        second = self.value(right)
        target = self.slot(wanted)
        self.add(kind, target, first, second)
        return target

    def call(self, name: str, arguments: list[ast.expr], wanted: int | None) -> int:
        if name == "tick":
            first = self.value(arguments[0])
            return self.add(TICK, 0, first)
        cost = self.cpu.costs.get(name, 0)
        match name, arguments:
            case ("bit", [value, ast.Constant(value=int(number))]):
                kind, first, second, cost = BIT_N, self.value(value), 0, number
            case ("bit", [value, number]):
                shifted = ast.BinOp(ast.BinOp(value, ast.RShift(), number), ast.BitAnd(), ast.Constant(1))
                return self.value(shifted, wanted)
            case ("gt", [left, ast.Constant(value=int(number))]):
                kind, first, second, cost = GREATER_N, self.value(left), 0, number
            case _:
                kind = {"fetch": FETCH, "opcode": FETCH, "rd": READ, "wr": WRITE, "dummy": DUMMY, "inp": PORT_READ,
                        "out": PORT_WRITE, "zero": ZERO, "gt": GREATER, "parity": PARITY}[name]  # fmt: skip
                slots = [self.value(argument) for argument in arguments]
                first, second = (*slots, 0, 0)[:2]
        target = self.slot(wanted)
        self.add(kind, target, first, second, cost)
        return target


def micro_of(cpu: Cpu) -> Micro:
    """The steps of every row of a processor, and of its decoding."""
    builder = _Builder(cpu)
    builder.text(parse_text(cpu.decode))
    known: dict[str, int] = {}
    entries = [-1] * max(256, max(cpu.rows) + 1)
    for code, row in cpu.rows.items():
        if row.text not in known:
            known[row.text] = len(builder.steps)
            builder.text(parse_text(row.text))
        entries[code] = known[row.text]
    return Micro(tuple(builder.steps), tuple(entries), builder.slots["op"], builder.num_slots)
