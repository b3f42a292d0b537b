"""The small language in which processor tables are written, and its two translations.

A text is a few lines in the syntax of Python, restricted to:

- ``name = expression`` over whole numbers with ``+ - * & | ^ ~ << >>``; names in capitals are registers and flags,
  the others are temporaries of one instruction;
- the functions ``bit(x, n)`` (bit n of x), ``zero(x)`` (1 if x is 0, else 0), ``gt(a, b)`` (1 if a > b, else 0),
  ``parity(x)`` (1 if the byte x has an even number of ones);
- the accesses, each a statement of its own or the whole right side of one: ``fetch()`` (the byte at PC, which moves
  on), ``opcode()`` (the same where opcodes are fetched more slowly), ``rd(a)``, ``wr(a, v)``,
  ``dummy(a)`` (a read whose value is thrown away), ``inp(p)`` and ``out(p, v)`` (the port space), ``tick(n)`` (cycles
  without an access);
- ``penalty(c, a)``: a dummy read of a, only if c; ``if`` and ``else``.

Registers other than PC and those named in an address are assigned only behind the last access of a text, so that an
instruction can be given up in the middle and begun again; a test checks that of every row.
"""

from __future__ import annotations

import ast
from dataclasses import dataclass

ACCESSES = frozenset({"fetch", "opcode", "rd", "wr", "dummy", "inp", "out", "penalty"})
PURE = frozenset({"bit", "zero", "gt", "parity"})


@dataclass(frozen=True, slots=True)
class Footprint:
    """Which registers and flags a text looks at before it sets them, sets in every case, and may set."""

    reads: frozenset[str]
    writes: frozenset[str]
    may_write: frozenset[str]

    def then(self, later: Footprint) -> Footprint:
        """That of two texts, one behind the other."""
        reads = self.reads | (later.reads - self.writes)
        return Footprint(reads, self.writes | later.writes, self.may_write | later.may_write)


def parse_text(text: str) -> list[ast.stmt]:
    """The statements of a text.  Refuses what is not in the language."""
    statements = ast.parse(text).body
    for statement in statements:
        _check(statement)
    return statements


def _check(statement: ast.stmt) -> None:
    match statement:
        case ast.Assign(targets=[ast.Name()], value=value):
            _check_value(value, top=True)
        case ast.Expr(value=ast.Call() as call):
            _check_value(call, top=True)
        case ast.If(test=test, body=body, orelse=orelse):
            _check_value(test, top=False)
            for inner in (*body, *orelse):
                _check(inner)
        case _:
            raise ValueError(f"not a statement of the table language: {ast.unparse(statement)!r}")


def _check_value(value: ast.expr, *, top: bool) -> None:
    match value:
        case ast.Name() | ast.Constant(value=int()):
            return
        case ast.BinOp(
            left=left,
            op=ast.Add()
            | ast.Sub()
            | ast.Mult()
            | ast.BitAnd()
            | ast.BitOr()
            | ast.BitXor()
            | ast.LShift()
            | ast.RShift(),
            right=right,
        ):
            _check_value(left, top=False)
            _check_value(right, top=False)
        case ast.UnaryOp(op=ast.Invert() | ast.USub(), operand=operand):
            _check_value(operand, top=False)
        case ast.Call(func=ast.Name(id=name), args=arguments) if name in PURE or (top and name in ACCESSES | {"tick"}):
            for argument in arguments:
                _check_value(argument, top=False)
        case _:
            raise ValueError(f"not an expression of the table language: {ast.unparse(value)!r}")


def footprint(statements: list[ast.stmt], names: frozenset[str]) -> Footprint:
    """What a text does to the registers and flags `names`."""
    reads: set[str] = set()
    may: set[str] = set()
    writes = _walk(statements, names, frozenset(), reads, may)
    return Footprint(frozenset(reads), writes, frozenset(may))


def _walk(
    statements: list[ast.stmt], names: frozenset[str], known: frozenset[str], reads: set[str], may: set[str]
) -> frozenset[str]:
    for statement in statements:
        looked = statement.test if isinstance(statement, ast.If) else statement
        loads = {n.id for n in ast.walk(looked) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Load)}
        reads |= (loads & names) - known
        if isinstance(statement, ast.If):
            first = _walk(statement.body, names, known, reads, may)
            second = _walk(statement.orelse, names, known, reads, may)
            known = known | (first & second)
        elif isinstance(statement, ast.Assign) and isinstance(statement.targets[0], ast.Name):
            target = statement.targets[0].id
            if target in names:
                may.add(target)
                known = known | {target}
    return known


class Rewrite(ast.NodeTransformer):
    """Put a text's names and pure functions into the form of one engine."""

    def __init__(self, rename: dict[str, str], *, inline: bool) -> None:
        self.rename, self.inline = rename, inline

    def visit_Name(self, node: ast.Name) -> ast.Name:  # the visitor's own naming
        """Rename a register or temporary."""
        return ast.Name(self.rename.get(node.id, node.id), node.ctx)

    def visit_Call(self, node: ast.Call) -> ast.expr:  # the visitor's own naming
        """Write a pure function out."""
        arguments = [self.visit(argument) for argument in node.args]
        assert isinstance(node.func, ast.Name)
        name = node.func.id
        if not self.inline or name not in PURE:
            return ast.Call(ast.Name(name, ast.Load()), arguments, [])
        texts = [ast.unparse(argument) for argument in arguments]
        forms = {
            "bit": "(({0}) >> ({1})) & 1",
            "zero": "(({0}) == 0) & 1",
            "gt": "(({0}) > ({1})) & 1",
            "parity": "0x9669 >> ((({0}) ^ (({0}) >> 4)) & 15) & 1",
        }
        return ast.parse(f"({forms[name].format(*texts)})", mode="eval").body
