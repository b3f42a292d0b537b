"""Writes the source of a processor's compiled core from its table.

The core is a file of its own because the compiler's cache looks at one file only; `scripts/generate_cores` writes it
and a test checks that the file follows the table.
"""

from __future__ import annotations

import ast
from typing import TYPE_CHECKING

from latchlore.program._language import Rewrite, parse_text

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu, Row

HEAD = '''"""The compiled core of the {name}.  Written by scripts/generate_cores from its table: do not edit.

`run` follows the contract of `_core.py`; the numbers of stops and control cells are defined there.
"""
# ruff: noqa
# fmt: off
# mypy: ignore-errors

import numpy as np
from numba import njit
from numpy import int64

from latchlore.program._core import slow_read, slow_write

{tables}


@njit(cache=True, nogil=True)
def run(regs, cells, book, watch, seen):
'''

_LOOP = """    at_ = int64(0)
    w_ = int64(0)
    unknown = int64(book[16])
    left = int64(book[0])
    wanted = int64(book[1])
    cycles = int64(book[2])
    site = int64(book[9])
    start = r_pc
    began = cycles
    status = int64(0)
    while left > 0:
        start = r_pc
        began = cycles
        if r_pc == site:
            if book[10] == book[11]:
                status = int64(5)
                break
            if book[10] > 0:
                book[12] = min(book[12], cycles - book[14])
                book[13] = max(book[13], cycles - book[14])
            book[14] = cycles
            book[10] += 1
{notes}
"""

_COMMIT = """        if unknown:
            unknown &= ~SET[op]
        left -= 1
        if book[5]:
            break
        if r_pc == wanted:
            break
    if status:
        r_pc = start
        cycles = began
        while book[3] > 0 and book[46 + 5 * book[3]] >= began:
            book[3] -= 1"""

_END = """    book[16] = unknown
    book[0] = left
    book[2] = cycles
    return status"""


class _Lines:
    """Translates statements of the table language into lines of the core."""

    def __init__(self, cpu: Cpu) -> None:
        self.costs = cpu.costs
        self.space = cpu.space
        self.rewrite = Rewrite({name: f"r_{name.lower()}" for name in cpu.names}, inline=True)

    def block(self, statements: list[ast.stmt], depth: int) -> list[str]:
        lines: list[str] = []
        for statement in statements:
            lines += self.statement(statement, "    " * depth)
        return lines

    def value(self, expression: ast.expr) -> str:
        return ast.unparse(self.rewrite.visit(expression))

    def statement(self, statement: ast.stmt, pad: str) -> list[str]:
        match statement:
            case ast.If(test=test, body=body, orelse=orelse):
                lines = [f"{pad}if {self.value(test)}:", *self.block(body, len(pad) // 4 + 1)]
                if orelse:
                    lines += [f"{pad}else:", *self.block(orelse, len(pad) // 4 + 1)]
                return lines
            case ast.Assign(
                targets=[target],
                value=ast.Call(func=ast.Name(id=("fetch" | "opcode" | "rd" | "inp") as kind), args=args),
            ):
                return self.read(self.value(target), kind, args, pad)
            case ast.Assign(targets=[target], value=value):
                return [f"{pad}{self.value(target)} = {self.value(value)}"]
            case ast.Expr(value=ast.Call(func=ast.Name(id=kind), args=args)):
                return self.access(kind, args, pad)
        raise AssertionError(ast.unparse(statement))

    def address(self, kind: str, args: list[ast.expr]) -> str:
        text = self.value(args[0])
        return f"({text}) + 65536" if kind in ("inp", "out") else text

    def read(self, target: str, kind: str, args: list[ast.expr], pad: str) -> list[str]:
        fetches = kind in ("fetch", "opcode")
        where = "r_pc" if fetches else "at_"
        lines = [] if fetches else [f"{pad}at_ = {self.address(kind, args)}"]
        lines += [
            f"{pad}if cells[{where} + {self.space}]:",
            f"{pad}    {target} = int64(slow_read({where}, 1, start, cycles, cells, book))",
            f"{pad}    if {target} < 0:",
            f"{pad}        status = -{target}",
            f"{pad}        break",
            f"{pad}else:",
            f"{pad}    {target} = int64(cells[{where}])",
            f"{pad}cycles += {self.costs[kind]}",
        ]
        if fetches:
            lines.append(f"{pad}r_pc = (r_pc + 1) & 0xFFFF")
        return lines

    def access(self, kind: str, args: list[ast.expr], pad: str) -> list[str]:
        if kind == "tick":
            return [f"{pad}cycles += {self.value(args[0])}"]
        if kind == "fetch":
            return self.read("w_", "fetch", args, pad)
        if kind == "penalty":
            return [f"{pad}if {self.value(args[0])}:", *self.access("dummy", args[1:], pad + "    ")]
        lines = [f"{pad}at_ = {self.address(kind, args)}"]
        if kind == "dummy":
            return [
                *lines,
                f"{pad}if cells[at_ + {self.space}]:",
                f"{pad}    w_ = int64(slow_read(at_, 0, start, cycles, cells, book))",
                f"{pad}    if w_ < 0:",
                f"{pad}        status = -w_",
                f"{pad}        break",
                f"{pad}cycles += {self.costs[kind]}",
            ]
        return [
            *lines,
            f"{pad}w_ = {self.value(args[1])}",
            f"{pad}if cells[at_ + {self.space}]:",
            f"{pad}    slow_write(at_, w_, start, cycles, cells, book)",
            f"{pad}else:",
            f"{pad}    cells[at_] = w_",
            f"{pad}cells[at_ + {2 * self.space}] = 1",
            f"{pad}cycles += {self.costs[kind]}",
        ]


def _temporaries(cpu: Cpu) -> list[str]:
    found: set[str] = set()
    for text in (cpu.decode, *(row.text for row in cpu.rows.values())):
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store) and node.id not in cpu.names:
                found.add(node.id)
    return sorted(found - {"op"})


def _looked_at(row: Row, masks: dict[str, int]) -> int:
    """The registers an opcode looks at, as a mask, with the bits that make the core stop in front of it."""
    stops = {"halt": 1 << 61, "refresh": 1 << 62}
    return sum(masks[name] for name in row.print.reads) | stops.get(row.flow, 0)


def core_source(cpu: Cpu) -> str:
    """The source text of the processor's core."""
    num_stages = max(len(row.stages) for row in cpu.rows.values())
    names = cpu.names
    masks = {name: 1 << k for k, name in enumerate(names[:-1])}
    codes = max(cpu.rows) + 1 if max(cpu.rows) > 255 else 256

    def table(values: dict[int, int], kind: str, missing: int) -> str:
        return f"np.array({[values.get(code, missing) for code in range(codes)]}, dtype=np.{kind})"

    tables: list[str] = []
    dispatches: list[list[str]] = []
    lines = _Lines(cpu)
    for k in range(num_stages):
        texts = list(dict.fromkeys(row.stages[k] for row in cpu.rows.values()))
        numbers = {code: texts.index(row.stages[k]) for code, row in cpu.rows.items()}
        tables.append(f"STAGE_{k} = {table(numbers, 'int16', -1)}")
        dispatches.append(_dispatch(texts, lines))
    tables.append(f"LOOKED_AT = {table({c: _looked_at(r, masks) for c, r in cpu.rows.items()}, 'int64', 0)}")
    tables.append(f"SET = {table({c: sum(masks[n] for n in r.print.writes) for c, r in cpu.rows.items()}, 'int64', 0)}")
    notes = [f"            seen[{k}, r_{name.lower()} & 255] = 1" for k, name in enumerate(names[:-1])]
    notes += [
        "            for k_ in range(watch.shape[0]):",
        f"                seen[{len(names) - 1} + k_, cells[watch[k_]]] = 1",
    ]
    source = [HEAD.format(name=cpu.name, tables="\n".join(tables)).rstrip("\n")]
    source += [f"    r_{name.lower()} = int64(regs[{k}])" for k, name in enumerate(names)]
    source += [f"    {name} = int64(0)" for name in _temporaries(cpu)]
    source.append(_LOOP.format(notes="\n".join(notes)).rstrip("\n"))
    source += lines.block(parse_text(cpu.decode), 2)
    source += ["        if unknown and unknown & LOOKED_AT[op]:", "            status = int64(3)", "            break"]
    source += [
        "        stage = STAGE_0[op]",
        "        if stage == -1:",
        "            status = int64(4)",
        "            break",
    ]
    for k, dispatch in enumerate(dispatches):
        if k:
            source.append(f"        stage = STAGE_{k}[op]")
        source += dispatch
    source.append(_COMMIT)
    source += [f"    regs[{k}] = r_{name.lower()}" for k, name in enumerate(names)]
    source.append(_END)
    return "\n".join(source) + "\n"


def _dispatch(texts: list[str], translate: _Lines) -> list[str]:
    lines: list[str] = []
    for k, text in enumerate(texts):
        if not text:
            continue
        lines.append(f"        {'elif' if lines else 'if'} stage == {k}:  # {text.splitlines()[0]}")
        lines += translate.block(parse_text(text), 3)
    return lines
