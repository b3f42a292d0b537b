"""Writes the source of a processor's compiled core from its table.

The core is a file of its own because the compiler's cache looks at one file only; `scripts/generate_cores` writes it
and a test checks that the file follows the table.  What it holds is the fast side (see `_core.py`): a text is cut
behind its last access that can stop; the part in front of the cut only finds and reads, the part behind it changes
registers and cells.  Each part is written once however many opcodes share it.
"""

from __future__ import annotations

import ast
import hashlib
import pathlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.program import _core
from latchlore.program._language import Rewrite, footprint, parse_text
from latchlore.program._micro import micro_of

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu, Row

HEAD = '''"""The compiled core of the {name}.  Written by scripts/generate_cores from its table: do not edit.

`run` follows the contract of `_core.py`; the numbers of stops and control cells are defined there.
"""
# ruff: noqa
# fmt: off
# mypy: ignore-errors
# The compiler's cache looks at this file only, so it names what it is compiled with: {shared}

import numpy as np
from numba import njit
from numpy import int64

from latchlore.program._core import careful, slow_write

{tables}


@njit(cache=True, nogil=True)
def run(regs, cells, book, watch, seen):
'''

_START = """    kinds = cells[{space}:{twice}]
    written = cells[{twice}:]
    f1_ = 0
    f2_ = 0
    halt = 0
    unknown = int64(book[16])
    left = int64(book[0])
    if book[5]:
        halt = left - 1
    cycles = int64(book[2])
    status = 0
    book[17] = (r_pc == book[1]) & 1
    if book[1] >= 0:
        kinds[book[1]] |= 32
    if book[9] >= 0:
        kinds[book[9]] |= 32
    while left > halt:
        start = r_pc
        began = cycles"""

_CHECK = """        if odd_ & {traps}:
{spill}
            book[2] = began
            book[16] = unknown
            status = careful(regs, cells, book, watch, seen, STEPS, ENTRIES, LOOKED_AT, SET, {op_slot})
{fill}
            cycles = int64(book[2])
            unknown = int64(book[16])
            if status:
                break
            left -= 1
            if book[5]:
                break
            continue"""

_END = """        if unknown:
            unknown &= ~SET[op]
        left -= 1
    if book[1] >= 0:
        kinds[book[1]] &= 223
    if book[9] >= 0:
        kinds[book[9]] &= 223
    book[16] = unknown
    book[0] = left
    book[2] = cycles"""

STOPPING = frozenset({"fetch", "opcode", "rd", "inp", "dummy", "penalty"})
FETCHING = frozenset({"fetch", "opcode"})
STORE = "wr(ea, r)"
FIRST, SECOND = "f1_", "f2_"  # the first bytes behind the opcode
MASK = _core.TRAPS
# Bits of INFO: the parts of an opcode
WORK, PUT, STORES, NUM_FETCHED, READS, GROUPS = 9, 18, 24, 25, 27, 31
LEVEL = 64


def _calls(node: ast.AST) -> set[str]:
    return {n.func.id for n in ast.walk(node) if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)}


def _names(node: ast.AST, context: type[ast.expr_context]) -> set[str]:
    return {n.id for n in ast.walk(node) if isinstance(n, ast.Name) and isinstance(n.ctx, context)}


def _targets(node: ast.AST) -> set[str]:
    return _names(node, ast.Store)


def _text(statements: list[ast.stmt]) -> str:
    return "\n".join(ast.unparse(statement) for statement in statements)


class _Lines:
    """Translates statements of the table language into lines of the core."""

    def __init__(self, cpu: Cpu, kept: set[str]) -> None:
        self.costs = cpu.costs
        self.names = frozenset(cpu.names)
        self.registers = frozenset(cpu.names[:-1])
        self.kept = kept | self.names
        self.rewrite = Rewrite({name: f"r_{name.lower()}" for name in cpu.names}, inline=True)
        self.passed = 0  # cycles not yet added
        self.number = 0
        self.fixed: set[str] = set()

    def text(self, statements: list[ast.stmt], depth: int) -> list[str]:
        """Lines of a whole text.  A temporary that does not leave the text gets a name of its own at each assignment.

        The compiler takes names with one assignment as they are, and works long on the others.
        """
        self.fixed = {name for s in statements if isinstance(s, ast.If) for name in _targets(s)} - self.kept
        self.number += 1
        for name in self.fixed:
            self.rewrite.rename[name] = f"{name}_{self.number}"
        return self.block(statements, depth)

    def own(self, name: str) -> str:
        """A name that nothing else has."""
        self.number += 1
        return f"{name}_{self.number}"

    def target(self, node: ast.expr) -> str:
        """The name to assign to."""
        assert isinstance(node, ast.Name)
        if node.id not in self.kept | self.fixed:
            self.rewrite.rename[node.id] = self.own(node.id)
        return self.rewrite.rename.get(node.id, node.id)

    def block(self, statements: list[ast.stmt], depth: int) -> list[str]:
        """Lines of some statements; cycles are added up and written once."""
        pad = "    " * depth
        lines: list[str] = []
        kept, self.passed = self.passed, 0
        for statement in statements:
            lines += self.statement(statement, pad)
        lines += self.flush(pad)
        self.passed = kept
        return lines or [f"{pad}pass"]

    def flush(self, pad: str) -> list[str]:
        """Write the cycles down."""
        lines = [f"{pad}cycles += {self.passed}"] if self.passed else []
        self.passed = 0
        return lines

    def value(self, expression: ast.expr) -> str:
        return ast.unparse(self.rewrite.visit(expression))

    def statement(self, statement: ast.stmt, pad: str) -> list[str]:
        match statement:
            case ast.If(test=test, body=body, orelse=orelse):
                lines = [*self.flush(pad), f"{pad}if {self.value(test)}:", *self.branch(body, pad)]
                if orelse:
                    lines += [f"{pad}else:", *self.branch(orelse, pad)]
                return lines
            case ast.Assign(
                targets=[target],
                value=ast.Call(func=ast.Name(id=("fetch" | "opcode" | "rd" | "inp") as kind), args=args),
            ):
                return self.read(target, kind, args, pad)
            case ast.Assign(targets=[target], value=value):
                text = self.value(value)
                return [f"{pad}{self.target(target)} = {text}"]
            case ast.Expr(value=ast.Call(func=ast.Name(id=kind), args=args)):
                return self.access(kind, args, pad)
        raise AssertionError(ast.unparse(statement))

    def branch(self, body: list[ast.stmt], pad: str) -> list[str]:
        """One side of an `if`: what it changes behind its reads is left alone where one of them was unusual."""
        depth = len(pad) // 4 + 1
        cut = cut_of(body)
        if cut and any(_targets(s) & self.registers or _calls(s) & {"wr", "out"} for s in body[cut:]):
            return [
                *self.block(body[:cut], depth),
                f"{pad}    if odd_ & {MASK} == 0:",
                *self.block(body[cut:], depth + 1),
            ]
        return self.block(body, depth)

    def read(self, target: ast.expr | None, kind: str, args: list[ast.expr], pad: str) -> list[str]:
        self.passed += self.costs[kind]
        lines = []
        if kind in FETCHING:
            where = "r_pc"
        else:
            where = self.own("at")
            lines.append(f"{pad}{where} = {self.place(kind, args)}")
        lines.append(f"{pad}odd_ |= kinds[{where}]")
        if target is not None:
            lines.append(f"{pad}{self.target(target)} = cells[{where}] & 255")
        return [*lines, *([f"{pad}r_pc = (r_pc + 1) & 0xFFFF"] if kind in FETCHING else [])]

    def place(self, kind: str, args: list[ast.expr]) -> str:
        """The number of the cell or port."""
        text = self.value(args[0])
        return f"({text}) + 65536" if kind in ("inp", "out") else text

    def access(self, kind: str, args: list[ast.expr], pad: str) -> list[str]:
        match kind:
            case "tick":
                if isinstance(args[0], ast.Constant) and isinstance(args[0].value, int):
                    self.passed += args[0].value
                    return []
                return [f"{pad}cycles += {self.value(args[0])}"]
            case "fetch" | "opcode":
                return self.read(None, kind, args, pad)
            case "penalty":
                test = f"{pad}if {self.value(args[0])}:"
                kept, self.passed = self.passed, 0
                lines = [*self.access("dummy", args[1:], pad + "    "), *self.flush(pad + "    ")]
                self.passed = kept
                return [test, *lines]
            case "clash":
                return [f"{pad}if {self.value(args[0])} == {self.value(args[1])}:", f"{pad}    odd_ = 32"]
            case "dummy":
                self.passed += self.costs[kind]
                return [f"{pad}odd_ |= kinds[{self.value(args[0])}] & 254"]
        lines = self.flush(pad)
        self.passed += self.costs[kind]
        at, value = self.own("at"), self.own("w")
        return [
            *lines,
            f"{pad}{at} = {self.place(kind, args)}",
            f"{pad}{value} = {self.value(args[1])}",
            f"{pad}if kinds[{at}]:",
            f"{pad}    if slow_write({at}, {value}, start, cycles, cells, book):",
            f"{pad}        halt = left",
            f"{pad}else:",
            f"{pad}    cells[{at}] = {value}",
            f"{pad}    written[{at}] = 1",
        ]


def cut_of(statements: list[ast.stmt]) -> int:
    """How many statements there are up to the last access that can stop."""
    return max((k + 1 for k, s in enumerate(statements) if _calls(s) & STOPPING), default=0)


@dataclass(frozen=True, slots=True)
class Parts:
    """A row for the fast side.

    `fetched`: bytes behind the opcode that are fetched first (0 to 2); `before`: the text in front of the cut without
    them; `reads`: which of the common reads it ends with, 0 for none; `work`, `put`: the text behind the cut, the
    latter from the stages behind the operation, without `groups`, the common texts that follow, and without the common
    store, if it `stores`.
    """

    fetched: int
    before: str
    reads: int
    work: str
    put: str
    groups: tuple[int, ...]
    stores: bool


def parts_of(row: Row, cpu: Cpu) -> Parts | None:
    """The parts of a row; None for a row that is left to the careful side.

    A write in front of the cut is put off behind it; reads between look out for the cell written.
    """
    if row.flow in ("halt", "interrupt") or row.code in cpu.rare:
        return None
    statements = parse_text(row.text)
    found = len(parse_text("\n".join(part for part in row.stages[: cpu.num_finding] if part)))
    registers = set(cpu.names[:-1])
    if any(_targets(s) & registers or _calls(s) & {"wr", "out"} for s in statements[:found]):
        found = 0
    cut = max(cut_of(statements), found)
    first, last = statements[:cut], statements[cut:]
    if any(_calls(s) & {"wr", "out"} for s in first):
        first, late = _put_off(first)
        last = late + last
    fetched = 0
    for k, name in enumerate((FIRST, SECOND)):
        match first[k] if k < len(first) else None:
            case ast.Assign(targets=targets, value=ast.Call(func=ast.Name(id="fetch"))):
                first[k] = ast.Assign(targets, ast.Name(name, ast.Load()), lineno=0)
                fetched += 1
            case _:
                break
    reads = next((k for k, text in enumerate(cpu.reads, 1) if first and ast.unparse(first[-1]) == _normal(text)), 0)
    work = len(parse_text("\n".join(part for part in row.stages[: cpu.num_finding + 1] if part))) - cut
    last.insert(max(work, 0) + len(last) - (len(statements) - cut), _PUT)
    groups = []
    for k, text in enumerate(cpu.shared):
        rest = _without(last, parse_text(text))
        if rest is not None:
            groups.append(k)
            last = rest
    stores = ast.unparse(last[-1]) == STORE
    last = last[:-1] if stores else last
    at = last.index(_PUT)
    before = _text(first[:-1] if reads else first)
    return Parts(fetched, before, reads, _text(last[:at]), _text(last[at + 1 :]), tuple(groups), stores)


def _normal(text: str) -> str:
    return _text(ast.parse(text).body)


_PUT = ast.Pass()  # marks the end of the operation


def _without(statements: list[ast.stmt], group: list[ast.stmt]) -> list[ast.stmt] | None:
    """Some statements without a group of them that can as well be done at their end; None where there is none."""
    texts, wanted = [ast.unparse(s) for s in statements], [ast.unparse(s) for s in group]
    for k in range(len(texts) - len(wanted) + 1):
        if texts[k : k + len(wanted)] != wanted:
            continue
        targets = {name for s in group for name in _targets(s)}
        inputs = {name for s in group for name in _names(s, ast.Load)}
        later = statements[k + len(wanted) :]
        if not any(_targets(s) & (targets | inputs) or _names(s, ast.Load) & targets for s in later):
            return [*statements[:k], *later]
    return None


def _put_off(statements: list[ast.stmt]) -> tuple[list[ast.stmt], list[ast.stmt]]:
    """Put the writes among some statements off: (statements without them, the writes)."""
    kept: list[ast.stmt] = []
    late: list[ast.stmt] = []
    for statement in statements:
        match statement:
            case ast.Expr(value=ast.Call(func=ast.Name(id="wr"), args=[address, value])):
                k = len(late)
                kept += parse_text(f"e{k} = {ast.unparse(address)}\nv{k} = {ast.unparse(value)}")
                late += parse_text(f"wr(e{k}, v{k})")
                continue
            case ast.Assign(value=ast.Call(func=ast.Name(id=("fetch" | "rd" | "inp") as kind), args=args)):
                where = "PC" if kind == "fetch" else ast.unparse(args[0])
                kept += [s for k in range(len(late)) for s in ast.parse(f"clash({where}, e{k})").body]
        kept.append(statement)
    return kept, late


def leads_of(cpu: Cpu) -> frozenset[int]:
    """The bytes behind which decoding fetches more."""
    program = compile(cpu.decode, "<decode>", "exec")
    found = set()
    for first in range(256):
        fetched: list[int] = []

        def fetch(first: int = first, fetched: list[int] = fetched) -> int:
            fetched.append(0 if fetched else first)
            return fetched[-1]

        exec(program, {"fetch": fetch, "opcode": fetch, "zero": lambda x: int(x == 0), "tick": bool})
        if len(fetched) > 1:
            found.add(first)
    return frozenset(found)


def _looked_at(row: Row, masks: dict[str, int]) -> int:
    """The registers an opcode looks at, as a mask, with the bits that make the core stop in front of it."""
    stops = {"halt": 1 << 61, "refresh": 1 << 62}
    return sum(masks[name] for name in row.print.reads) | stops.get(row.flow, 0)


def _array(values: list[int] | tuple[int, ...], kind: str) -> str:
    return f"np.array({list(values)}, dtype=np.{kind})"


def core_source(cpu: Cpu) -> str:
    """The source text of the processor's core."""
    names = cpu.names
    masks = {name: 1 << k for k, name in enumerate(names[:-1])}
    micro = micro_of(cpu)
    parts = {code: found for code, row in cpu.rows.items() if (found := parts_of(row, cpu)) is not None}
    befores = ["", *dict.fromkeys(part.before for part in parts.values() if part.before)]
    works = ["", *dict.fromkeys(part.work for part in parts.values() if part.work)]
    puts = ["", *dict.fromkeys(part.put for part in parts.values() if part.put)]
    codes = range(len(micro.entries))

    def info(part: Parts) -> int:
        groups = sum(1 << GROUPS + k for k in part.groups)
        flags = part.stores << STORES | part.fetched << NUM_FETCHED | part.reads << READS | groups
        places = works.index(part.work) << WORK | puts.index(part.put) << PUT
        return befores.index(part.before) + 1 | places | flags

    rows = [cpu.rows.get(code) for code in codes]
    leads = leads_of(cpu)
    tables = [
        f"STEPS = {_array(micro.steps, 'int32')}",
        f"ENTRIES = {_array(micro.entries, 'int32')}",
        f"INFO = {_array([info(parts[c]) if c in parts else -int(c in leads) for c in codes], 'int64')}",
        f"LOOKED_AT = {_array([_looked_at(r, masks) if r else 0 for r in rows], 'int64')}",
        f"SET = {_array([sum(masks[n] for n in r.print.writes) if r else 0 for r in rows], 'int64')}",
    ]
    shared = hashlib.sha256(pathlib.Path(_core.__file__).read_bytes()).hexdigest()[:16]
    texts = [cpu.decode, *befores, *works, *puts, *cpu.reads, *cpu.shared, STORE]
    used = {n.id for text in texts for n in ast.walk(ast.parse(text)) if isinstance(n, ast.Name)}
    local = [(k, f"r_{name.lower()}") for k, name in enumerate(names) if name in used or name == "PC"]
    temporaries = frozenset({name for text in texts for name in _targets(ast.parse(text))} - set(names))
    kept = {name for text in texts for name in footprint(ast.parse(text).body, temporaries | {FIRST, SECOND}).reads}
    source = [HEAD.format(name=cpu.name, tables="\n".join(tables), shared=shared).rstrip("\n")]
    source += [f"    {name} = int64(regs[{k}])" for k, name in local]
    source += [f"    {name} = 0" for name in sorted(kept - {FIRST, SECOND})]
    source.append(_START.format(space=cpu.space, twice=2 * cpu.space))
    source += _turn(cpu, _Lines(cpu, kept | {"op", FIRST, SECOND}), befores, works, puts)
    spill = [f"            regs[{k}] = {'start' if name == 'r_pc' else name}" for k, name in local]
    fill = [f"            {name} = int64(regs[{k}])" for k, name in local]
    check = _CHECK.format(traps=MASK, spill="\n".join(spill), fill="\n".join(fill), op_slot=micro.opcode_slot)
    source[source.index(_CHECK)] = check
    source.append(_END)
    source += [f"    regs[{k}] = {name}" for k, name in local]
    source.append("    return 0 if status == 6 else status")
    return "\n".join(source) + "\n"


def _turn(cpu: Cpu, lines: _Lines, befores: list[str], works: list[str], puts: list[str]) -> list[str]:
    """One instruction."""
    decode = parse_text(cpu.decode)
    ifs = next((k for k, s in enumerate(decode) if isinstance(s, ast.If)), len(decode))
    source = ["        odd_ = 0", *lines.text(decode[:ifs], 2), "        info = INFO[op]"]
    if decode[ifs:]:
        source += ["        if info < 0:", *lines.text(decode[ifs:], 3), "            info = INFO[op]"]
    source += [
        "        if unknown and unknown & LOOKED_AT[op]:",
        "            odd_ = 32",
        f"        if info & {3 << NUM_FETCHED}:",
        *lines.text(parse_text(f"{FIRST} = fetch()"), 3),
        f"            if info & {2 << NUM_FETCHED}:",
        *lines.text(parse_text(f"{SECOND} = fetch()"), 4),
        "        if info <= 0:",
        "            odd_ = 32",
        *_dispatch(befores, lines, 0, WORK, 1),
        f"        reads = (info >> {READS}) & {(1 << GROUPS - READS) - 1}",
        *[
            line
            for k, text in enumerate(cpu.reads, 1)
            for line in (f"        {'elif' if k > 1 else 'if'} reads == {k}:", *lines.text(parse_text(text), 3))
        ],
        _CHECK,
        *_dispatch(works, lines, WORK, PUT),
        *_dispatch(puts, lines, PUT, STORES),
    ]
    for k, text in enumerate(cpu.shared):
        source += [f"        if info & {1 << GROUPS + k}:", *lines.text(parse_text(text), 3)]
    source += [f"        if info & {1 << STORES}:", *lines.text(parse_text(STORE), 3)]
    return source


def _dispatch(texts: list[str], translate: _Lines, low: int, high: int, first: int = 0) -> list[str]:
    """A choice by some bits of `info`, in two levels where there are many texts.

    A long chain of alternatives makes the compiler slow: what it does grows with the square of the chain's length.
    """
    numbered = [(k, text) for k, text in enumerate(texts, first) if text]
    lines: list[str] = []
    if not numbered:
        return lines
    lines.append(f"        stage_{low} = (info >> {low}) & {(1 << high - low) - 1}")
    if len(numbered) <= 2 * LEVEL:
        return [*lines, *_chain(numbered, translate, 2, f"stage_{low}")]
    lines.append(f"        level_{low} = stage_{low} >> {LEVEL.bit_length() - 1}")
    for k in range(0, numbered[-1][0] + 1, LEVEL):
        some = [(n, text) for n, text in numbered if k <= n < k + LEVEL]
        lines.append(f"        {'elif' if k else 'if'} level_{low} == {k // LEVEL}:")
        lines += _chain(some, translate, 3, f"stage_{low}")
    return lines


def _chain(numbered: list[tuple[int, str]], translate: _Lines, depth: int, stage: str) -> list[str]:
    lines: list[str] = []
    for k, (number, text) in enumerate(numbered):
        lines.append(f"{'    ' * depth}{'elif' if k else 'if'} {stage} == {number}:  # {text.splitlines()[0]}")
        lines += translate.text(ast.parse(text).body, depth + 1)
    return lines
