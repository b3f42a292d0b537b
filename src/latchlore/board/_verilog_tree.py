"""Structural Verilog to modules: ports, wires, instances, joined nets (IEEE 1364-2001, clauses 3, 6, 7 and 12)."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from latchlore.board._verilog_tokens import Bad, Token, read_tokens

GATES = ("and", "nand", "or", "nor", "xor", "xnor", "buf", "not", "bufif0", "bufif1", "notif0", "notif1")
PULLS = ("pullup", "pulldown")
_WIRES = ("wire", "tri", "wand", "wor", "triand", "trior", "tri0", "tri1", "supply0", "supply1")
_PORTS = ("input", "output", "inout")
_BEHAVIOUR = frozenset(
    (
        "always",
        "initial",
        "reg",
        "integer",
        "real",
        "time",
        "event",
        "function",
        "task",
        "parameter",
        "localparam",
        "defparam",
        "generate",
        "genvar",
        "specify",
        "primitive",
        "if",
        "case",
        "for",
        "while",
        "begin",
        "force",
        "release",
        "deassign",
    )
)


class Piece(NamedTuple):
    """A part of an expression: a constant's levels (highest first), or a name with a range, or a name as a whole."""

    line: int
    name: str = ""
    high: int | None = None
    low: int | None = None
    levels: str = ""


Expression = tuple[Piece, ...]  # highest bit first


class Wire(NamedTuple):
    """A declared wire or port; `high` and `low` are None for a single one."""

    kind: str
    high: int | None
    low: int | None
    line: int


class Joint(NamedTuple):
    """One connection of an instance: port by name, or None where it stands by its place; None for an empty one."""

    port: str | None
    value: Expression | None
    line: int


@dataclass(slots=True)
class Instance:
    """An instance of a module or gate."""

    kind: str
    name: str
    line: int
    notes: dict[str, str]
    joints: list[Joint]


@dataclass(slots=True)
class Module:
    """One module as written.  `is_model`: it holds statements that are no structure, which are not read."""

    name: str
    line: int
    notes: dict[str, tuple[str, int]]
    ports: list[str] = field(default_factory=list)
    wires: dict[str, Wire] = field(default_factory=dict)
    instances: list[Instance] = field(default_factory=list)
    assigns: list[tuple[Expression, Expression, int]] = field(default_factory=list)
    wrong: list[Bad] = field(default_factory=list)


def parse_modules(text: str) -> tuple[list[Module], list[Bad]]:
    """All modules of a text in order.

    Mistakes inside a module stand in it, so that the model of a known part need not be structural.
    """
    tokens, wrong = read_tokens(text)
    parser = _Parser(tokens)
    modules = parser.modules()
    return modules, wrong + parser.wrong


class _Parser:
    def __init__(self, tokens: list[Token]) -> None:
        self.tokens, self.at = tokens, 0
        self.wrong: list[Bad] = []
        self.end = Token("mark", "", tokens[-1].line if tokens else 1)

    # --- tokens ---

    def peek(self) -> Token:
        return self.tokens[self.at] if self.at < len(self.tokens) else self.end

    def next(self) -> Token:
        token = self.peek()
        self.at += 1
        return token

    def take(self, text: str) -> bool:
        """Step over a mark or word if it comes next."""
        token = self.peek()
        if token.text == text and token.kind in ("mark", "name"):
            self.at += 1
            return True
        return False

    def expect(self, text: str, after: str) -> None:
        token = self.peek()
        if not self.take(text):
            shown = repr(token.text) if token.text else "the end of the file"
            raise Bad(token.line, f"{text!r} is expected {after}, not {shown}")

    def name(self, what: str) -> Token:
        token = self.next()
        if token.kind != "name":
            shown = repr(token.text) if token.text else "the end of the file"
            raise Bad(token.line, f"{what} is expected, not {shown}")
        return token

    def is_end_of_statement(self) -> bool:
        token = self.peek()
        return token.kind != "text" and token.text in (";", "endmodule")

    def skip_past(self, *ends: str) -> None:
        while self.at < len(self.tokens):
            token = self.next()
            if token.text in ends and token.kind in ("mark", "name"):
                return

    # --- modules ---

    def modules(self) -> list[Module]:
        found: list[Module] = []
        while self.at < len(self.tokens):
            try:
                notes = self.notes()
                token = self.next()
                if token.text in ("module", "macromodule"):
                    found.append(self.module(notes))
                elif token.text:
                    raise Bad(token.line, f"'module' is expected here, not {token.text!r}")
            except Bad as bad:
                self.wrong.append(bad)
                self.skip_past("endmodule")
        return found

    def module(self, notes: dict[str, tuple[str, int]]) -> Module:
        token = self.name("the name of a module")
        module = Module(token.text, token.line, notes)
        try:
            if self.take("#"):
                self.skip_brackets()
            if self.take("("):
                self.port_list(module)
            self.expect(";", "after the ports of a module")
        except Bad as bad:
            module.wrong.append(bad)
            self.skip_past(";")
        while not self.take("endmodule"):
            if self.at >= len(self.tokens):
                module.wrong.append(Bad(module.line, f"module {module.name!r} has no 'endmodule'"))
                return module
            began = self.at
            try:
                self.item(module)
            except Bad as bad:
                module.wrong.append(bad)
                if bad.words.startswith("'endmodule'"):
                    return module
                # Go on behind the statement; at least one token further, or there would be no end.
                self.at = max(self.at - 1, began)
                while self.at < len(self.tokens) and not self.is_end_of_statement():
                    self.at += 1
                if not self.take(";") and self.at == began and self.peek().text != "endmodule":
                    self.at += 1
        return module

    def port_list(self, module: Module) -> None:
        kind, high, low = "", None, None
        while not self.take(")"):
            self.notes()
            token = self.name("a port")
            if token.text in _PORTS:
                kind = token.text
                while self.peek().text in (*_WIRES, "reg", "signed"):
                    self.next()
                high, low = self.range()
                token = self.name("a port")
            module.ports.append(token.text)
            if kind:
                module.wires[token.text] = Wire(kind, high, low, token.line)
            if not self.take(","):
                self.expect(")", "after the ports of a module")
                return

    def item(self, module: Module) -> None:
        notes = self.notes()
        token = self.name("a statement")
        if token.text in _PORTS or token.text in _WIRES:
            self.declaration(module, token)
        elif token.text == "assign":
            self.assign(module)
        elif token.text in _BEHAVIOUR:
            raise Bad(token.line, f"{token.text!r} describes behaviour; only parts and wires are read")
        else:
            self.instances(module, token, {key: value for key, (value, _) in notes.items()})

    def declaration(self, module: Module, first: Token) -> None:
        kind = first.text
        while self.peek().text in (*_WIRES, "reg", "signed", "scalared", "vectored"):
            self.next()
        high, low = self.range()
        while True:
            token = self.name(f"the name of a {kind}")
            had = module.wires.get(token.text)
            if had is not None and had.kind not in _PORTS and kind not in _PORTS:
                raise Bad(token.line, f"wire {token.text!r} is declared here and in line {had.line}")
            if had is None or kind in _PORTS or had.high is None:
                keep = had.kind if had is not None and had.kind in _PORTS else kind
                module.wires[token.text] = Wire(keep, high, low, token.line)
            if self.take("="):
                value = self.expression()
                module.assigns.append(((Piece(token.line, token.text),), value, token.line))
            if not self.take(","):
                self.expect(";", f"after the {kind}s")
                return

    def assign(self, module: Module) -> None:
        while True:
            line = self.peek().line
            target = self.expression()
            self.expect("=", "after the net that is assigned")
            value = self.expression()
            if self.peek().text not in (",", ";"):
                raise Bad(
                    self.peek().line,
                    f"an assign of plain nets is read, not one with {self.peek().text!r}; use a gate for logic",
                )
            module.assigns.append((target, value, line))
            if not self.take(","):
                self.expect(";", "after an assign")
                return

    def instances(self, module: Module, kind: Token, notes: dict[str, str]) -> None:
        if self.take("#"):
            self.skip_brackets()
        while True:
            unnamed = kind.text in (*GATES, *PULLS) and self.peek().text == "("
            name = Token("name", "", self.peek().line) if unnamed else self.name(f"the name of a {kind.text!r}")
            if self.peek().text == "[":
                raise Bad(name.line, f"{name.text!r}: arrays of instances are not read; write each one")
            self.expect("(", f"after {kind.text} {name.text}".rstrip())
            module.instances.append(Instance(kind.text, name.text, name.line, notes, self.joints()))
            if not self.take(","):
                self.expect(";", f"after {kind.text} {name.text}".rstrip())
                return

    def joints(self) -> list[Joint]:
        found: list[Joint] = []
        while not self.take(")"):
            line = self.peek().line
            if self.take("."):
                port = self.name("the name of a port")
                self.expect("(", f"after .{port.text}")
                value = None if self.peek().text == ")" else self.expression()
                self.expect(")", f"after .{port.text}(...")
                found.append(Joint(port.text, value, line))
            else:
                value = None if self.peek().text in (",", ")") else self.expression()
                found.append(Joint(None, value, line))
            if not self.take(","):
                self.expect(")", "after the connections")
                return found
        return found

    # --- pieces ---

    def notes(self) -> dict[str, tuple[str, int]]:
        """Attributes: ``(* name = "text", other *)`` (clause 2.8)."""
        found: dict[str, tuple[str, int]] = {}
        while self.take("(*"):
            while not self.take("*)"):
                token = self.name("the name of an attribute")
                value = self.next().text if self.take("=") else "1"
                found[token.text] = (value, token.line)
                if not self.take(","):
                    self.expect("*)", "after an attribute")
                    break
        return found

    def skip_brackets(self) -> None:
        if not self.take("("):
            self.next()
            return
        depth = 1
        while depth and self.at < len(self.tokens):
            token = self.next()
            depth += (token.text == "(") - (token.text == ")")

    def whole(self) -> int:
        token = self.next()
        if token.kind != "number" or not token.text.isdigit():
            raise Bad(token.line, f"a whole number is expected, not {token.text!r}")
        return int(token.text)

    def range(self) -> tuple[int | None, int | None]:
        if not self.take("["):
            return None, None
        high = self.whole()
        self.expect(":", "in a range")
        low = self.whole()
        self.expect("]", "after a range")
        return high, low

    def expression(self) -> Expression:
        if self.take("{"):
            found: list[Piece] = []
            while True:
                found += self.expression()
                if not self.take(","):
                    self.expect("}", "after a concatenation")
                    return tuple(found)
        token = self.next()
        if token.kind == "number":
            return (Piece(token.line, levels=_levels(token)),)
        if token.kind != "name":
            shown = repr(token.text) if token.text else "the end of the file"
            raise Bad(token.line, f"a net is expected, not {shown}")
        if not self.take("["):
            return (Piece(token.line, token.text),)
        high = low = self.whole()
        if self.take(":"):
            low = self.whole()
        self.expect("]", "after an index")
        return (Piece(token.line, token.text, high, low),)


def _levels(token: Token) -> str:
    """The levels of a constant, highest bit first."""
    text = token.text.replace("_", "").replace(" ", "").lower()
    size, mark, digits = text.partition("'")
    if not mark:
        raise Bad(token.line, f"a constant needs its size, as in 1'b0, not {token.text!r}")
    digits = digits.lstrip("s")
    bits = {"b": 1, "o": 3, "h": 4}.get(digits[0])
    if set(digits[1:]) & set("xz?"):
        raise Bad(token.line, f"a constant of a board is 0 or 1, not {token.text!r}")
    try:
        value = int(digits[1:], {"b": 2, "o": 8, "h": 16}[digits[0]] if bits else 10)
    except ValueError as error:
        raise Bad(token.line, f"{token.text!r} is no constant") from error
    width = int(size) if size else 32
    if not 1 <= width <= 256 or value >> width:
        raise Bad(token.line, f"constant {token.text!r} does not fit its size")
    return f"{value:0{width}b}"
