"""Modules of structural Verilog to the statements of a net file, each at the line where it stands.

Read are instances (ports by name or by place), wires, vectors, assigns of plain nets, gate primitives, pull-ups, and
modules inside modules, which are taken apart.  A module whose name is a type of the catalogue is a part: its ports are
``p1``, ``p2`` ... or the pins' names, and what stands inside it is not read.  See docs/verilog.md for the rest.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from latchlore.board._catalogue import find_type
from latchlore.board._parts import plain_name
from latchlore.board._verilog_tokens import Bad
from latchlore.board._verilog_tree import GATES, PULLS, Joint, Module, Piece, parse_modules

if TYPE_CHECKING:
    from latchlore.board._verilog_tree import Expression, Instance

MAX_DEPTH = 16
"""Most modules inside one another."""

_BOX = re.compile(r"^(plug|strap|unknown)_(\d{1,3})$")
_MODEL = re.compile(r"^t(?=\d)")  # a module's name begins with a letter
_LEGS = ("resistor", "capacitor", "diode", "led", "crystal", "inductor", "fuse", "transistor", "trimmer")
_PIN = re.compile(r"^p(\d{1,3})$")
_DIRECTIONS = {"input": "in", "output": "out", "inout": "both"}
_RAILS = {"0": "gnd", "1": "vcc"}
SAID = "said"
"""Attributes of the root module whose name begins so hold statements of a net file, in the order of their names."""


class Statement(NamedTuple):
    """One statement of a net file with the line it comes from."""

    line: int
    words: tuple[str, ...]


def read_verilog(text: str) -> tuple[list[Statement], list[Bad]]:
    """The statements that a text makes, and every mistake in it, both in the order of their lines."""
    modules, wrong = parse_modules(text)
    reader = _Flat(modules, wrong)
    if modules:
        reader.read()
    elif not wrong:
        reader.note(Bad(1, "the file holds no module"))
    return reader.statements, sorted(reader.wrong, key=lambda bad: (bad.line, bad.words))


def is_part(name: str) -> bool:
    """Whether a module of that name is a part, not a module to look into."""
    return _BOX.match(name) is not None or name in _LEGS or find_type(name) is not None


@dataclass(slots=True)
class _Scope:
    """One module being taken apart: `path` begins the names inside it, `bound` gives its ports' nets."""

    module: Module
    path: str
    bound: dict[str, list[str]]
    seen: dict[str, str] = field(default_factory=dict)  # lower case → as written


class _Flat:
    def __init__(self, modules: list[Module], wrong: list[Bad]) -> None:
        self.wrong = list(wrong)
        self.modules: dict[str, Module] = {}
        for module in modules:
            had = self.modules.get(module.name)
            if had is not None:
                words = f"module {module.name!r} stands here and in line {had.line}"
                self.wrong.append(Bad(module.line, words))
            self.modules[module.name] = module
        self.statements: list[Statement] = []
        self.joined: dict[str, str] = {}
        self.joints: list[tuple[str, str, int]] = []  # net, pin, line
        self.pulls: list[tuple[str, str, int, str]] = []
        self.lines: dict[str, int] = {}
        self.outside: set[str] = set()
        self.shallow: set[str] = set()
        self.counts: dict[str, int] = {}

    def read(self) -> None:
        used = {i.kind for module in self.modules.values() if not is_part(module.name) for i in module.instances}
        roots = [m for m in self.modules.values() if m.name not in used and not is_part(m.name)]
        if len(roots) != 1:
            names = ", ".join(repr(m.name) for m in roots) or "none"
            line = roots[1].line if roots else 1
            self.wrong.append(Bad(line, f"one module must be the board, used by no other; there are {names}"))
            return
        root = roots[0]
        for key in sorted(key for key in root.notes if key.startswith(SAID)):
            words, line = root.notes[key]
            self.statements.append(Statement(line, tuple(words.split())))
        scope = _Scope(root, "", {})
        self.root_ports(scope)
        self.module(scope, 0)
        self.write_nets()

    # --- names ---

    def note(self, bad: Bad) -> None:
        self.wrong.append(bad)

    def root_of(self, net: str) -> str:
        while net in self.joined:
            net = self.joined[net]
        return net

    def join(self, first: str, other: str) -> None:
        a, b = self.root_of(first), self.root_of(other)
        if a == b:
            return
        if {a, b} == set(_RAILS.values()):
            self.note(Bad(max(self.lines.values(), default=1), f"{first!r} joins both supplies"))
            return
        a, b = sorted((a, b), key=self.name_order)
        self.joined[b] = a

    def name_order(self, net: str) -> tuple[int, int, str]:
        """Which of two joined nets gives its name: a supply, a port of the board, a wire of it, one further inside."""
        kind = 0 if net in _RAILS.values() else 1 if net in self.outside else 2 if net in self.shallow else 3
        return (kind, self.lines.get(net, 0), net)

    def net(self, scope: _Scope, name: str, index: int | None, line: int) -> str:
        """The flat name of one wire."""
        wire = scope.module.wires.get(name)
        text = f"{scope.path}{name}{'' if index is None else index}".lower()
        had = scope.seen.setdefault(text, name if index is None else f"{name}[{index}]")
        if had != (name if index is None else f"{name}[{index}]"):
            self.note(Bad(line, f"nets {had!r} and {name!r} are one in a net file, where letters are small"))
        self.lines.setdefault(text, wire.line if wire is not None else line)
        if not scope.path:
            self.shallow.add(text)
        if wire is not None and wire.kind in ("supply0", "supply1"):
            self.join(_RAILS[wire.kind[-1]], text)
        return text

    def bits(self, scope: _Scope, value: Expression) -> list[str]:
        """The nets of an expression, highest bit first."""
        found: list[str] = []
        for piece in value:
            found += self.piece(scope, piece)
        return found

    def piece(self, scope: _Scope, piece: Piece) -> list[str]:
        if piece.levels:
            return [_RAILS[level] for level in piece.levels]
        wire = scope.module.wires.get(piece.name)
        if wire is None or wire.high is None or wire.low is None:
            if piece.high is not None:
                raise Bad(piece.line, f"{piece.name!r} is no vector; it has no bit {piece.high}")
            return self.bound(scope, piece.name, None, [self.net(scope, piece.name, None, piece.line)])
        high = wire.high if piece.high is None else piece.high
        low = wire.low if piece.low is None else piece.low
        step = -1 if wire.high >= wire.low else 1
        inside = range(min(wire.high, wire.low), max(wire.high, wire.low) + 1)
        if high not in inside or low not in inside or (high - low) * step > 0:
            raise Bad(piece.line, f"{piece.name!r} has bits [{wire.high}:{wire.low}], not [{high}:{low}]")
        places = range(high, low + step, step)
        nets = [self.net(scope, piece.name, k, piece.line) for k in places]
        return self.bound(scope, piece.name, [abs(k - wire.high) for k in places], nets)

    def bound(self, scope: _Scope, name: str, places: list[int] | None, nets: list[str]) -> list[str]:
        """Join the wires of a port with what stands outside."""
        outside = scope.bound.get(name)
        if outside is not None:
            for net, place in zip(nets, places or [0], strict=True):
                if place < len(outside):
                    self.join(outside[place], net)
        return nets

    # --- modules ---

    def root_ports(self, scope: _Scope) -> None:
        module = scope.module
        if not module.ports:
            return
        pins: list[tuple[str, str, int]] = []
        for port in module.ports:
            wire = module.wires.get(port)
            if wire is None or wire.kind not in _DIRECTIONS:
                self.note(Bad(module.line, f"port {port!r} is declared neither input, output nor inout"))
                continue
            direction = _DIRECTIONS[wire.kind]
            pins += [(net, direction, wire.line) for net in self.piece(scope, Piece(wire.line, port))]
        self.outside = {net for net, _, _ in pins}
        self.statements.append(Statement(module.line, ("plug", "ports", str(len(pins)), *module.name.split())))
        for number, (net, direction, line) in enumerate(pins, 1):
            self.statements.append(Statement(line, ("pin", f"ports.{number}", net, direction)))
            self.joints.append((net, f"ports.{number}", line))

    def module(self, scope: _Scope, depth: int) -> None:
        self.wrong += scope.module.wrong
        if depth > MAX_DEPTH:
            self.note(Bad(scope.module.line, f"modules stand more than {MAX_DEPTH} deep in one another"))
            return
        for target, value, line in scope.module.assigns:
            try:
                a, b = self.bits(scope, target), self.bits(scope, value)
                if len(a) != len(b):
                    raise Bad(line, f"an assign joins {len(a)} wires with {len(b)}")
                for one, other in zip(a, b, strict=True):
                    self.join(one, other)
            except Bad as bad:
                self.note(bad)
        for instance in scope.module.instances:
            try:
                self.instance(scope, instance, depth)
            except Bad as bad:
                self.note(bad)

    def instance(self, scope: _Scope, instance: Instance, depth: int) -> None:
        if instance.kind in PULLS:
            for net in self.places(scope, instance.joints, instance.kind, instance.line):
                value = instance.name.partition("=")[2].replace("_", " ")
                self.pulls.append(("up" if instance.kind == "pullup" else "down", net, instance.line, value))
            return
        if instance.kind in GATES:
            self.gate(scope, instance)
            return
        inner = self.modules.get(instance.kind)
        if is_part(instance.kind):
            self.part(scope, instance, inner)
            return
        if inner is None:
            raise Bad(
                instance.line,
                f"{instance.name!r} is a {instance.kind!r}, which is neither a module of this file nor a type of the"
                " catalogue",
            )
        inside = _Scope(inner, f"{scope.path}{instance.name.lower()}-", {})
        for port, joint in self.named(instance, inner.ports, inner.name):
            if joint.value is None:
                continue
            wire = inner.wires.get(port)
            width = 1 if wire is None or wire.high is None or wire.low is None else abs(wire.high - wire.low) + 1
            nets = self.bits(scope, joint.value)
            if len(nets) != width:
                raise Bad(joint.line, f"port {port!r} of {inner.name!r} has {width} wires, not {len(nets)}")
            inside.bound[port] = nets
            self.piece(inside, Piece(joint.line, port))
        self.module(inside, depth + 1)

    def named(self, instance: Instance, ports: list[str], kind: str) -> list[tuple[str, Joint]]:
        """Connections by port name; those by place in the order of the ports."""
        found: list[tuple[str, Joint]] = []
        used: dict[str, int] = {}
        for place, joint in enumerate(instance.joints):
            if joint.port is None and place >= len(ports):
                raise Bad(joint.line, f"{kind!r} has {len(ports)} ports; {instance.name!r} connects {place + 1}")
            port = ports[place] if joint.port is None else joint.port
            if port not in ports:
                raise Bad(joint.line, f"{kind!r} has no port {port!r}; its ports are {', '.join(ports)}")
            if port in used:
                raise Bad(joint.line, f"port {port!r} of {instance.name!r} is connected here and in line {used[port]}")
            used[port] = joint.line
            found.append((port, joint))
        return found

    def places(self, scope: _Scope, joints: list[Joint], kind: str, line: int) -> list[str]:
        """Single nets by place."""
        found: list[str] = []
        for joint in joints:
            if joint.port is not None or joint.value is None:
                raise Bad(joint.line, f"a {kind} has its nets by place, all of them")
            nets = self.bits(scope, joint.value)
            if len(nets) != 1:
                raise Bad(joint.line, f"a {kind} takes single wires, not {len(nets)}")
            found += nets
        if not found:
            raise Bad(line, f"a {kind} needs its nets")
        return found

    def gate(self, scope: _Scope, instance: Instance) -> None:
        nets = self.places(scope, instance.joints, instance.kind, instance.line)
        kind = instance.kind
        if kind in ("buf", "not"):
            wanted, least = f"gate-{kind}", 2
        elif kind.endswith(("0", "1")):
            wanted, least = f"gate-{kind}", 3
        else:
            wanted, least = f"gate-{kind}-{len(nets) - 1}", len(nets) if len(nets) > 1 else 2
        if len(nets) != least:
            raise Bad(instance.line, f"a {kind} of this form has {least} nets, not {len(nets)}")
        name = instance.name
        if not name:
            self.counts[kind] = self.counts.get(kind, 0) + 1
            name = f"{kind}-{self.counts[kind]}"
        name = f"{scope.path}{name}".lower()
        self.statements.append(Statement(instance.line, ("part", name, wanted)))
        for number, net in enumerate(nets, 1):
            self.joints.append((net, f"{name}.{number}", instance.line))

    # --- parts ---

    def part(self, scope: _Scope, instance: Instance, inner: Module | None) -> None:
        name = f"{scope.path}{instance.name}".lower()
        notes, box = instance.notes, _BOX.match(instance.kind)
        place = notes.get("place", "").split()
        if box is not None and box[1] == "plug":
            host = ["host"] if notes.get("host") == "1" else []
            words = ["plug", name, box[2], *host, *place]
        elif box is not None and box[1] == "strap":
            words = ["strap", name, notes.get("position", "unknown"), *([box[2]] if box[2] == "3" else [])]
        elif box is not None:
            words = ["part", name, "unknown", box[2], *place]
        else:
            words = ["part", name, notes.get("marking", _MODEL.sub("", instance.kind)), *place]
        self.statements.append(Statement(instance.line, tuple(words)))
        size = int(box[2]) if box is not None else self.size(instance.kind)
        for number, joint in self.pins(instance, inner, size):
            pin = f"{name}.{number}"
            if joint.value is None:
                self.statements.append(Statement(joint.line, ("open", pin)))
                continue
            nets = self.bits(scope, joint.value)
            if len(nets) != 1:
                raise Bad(joint.line, f"pin {pin} takes one wire, not {len(nets)}")
            self.joints.append((nets[0], pin, joint.line))

    def size(self, kind: str) -> int:
        found = find_type(kind)
        return len(found.pins) if found is not None else 3

    def pins(self, instance: Instance, inner: Module | None, size: int) -> list[tuple[str, Joint]]:
        """Connections by pin: ``p7`` and the seventh place are pin 7, another name is the pin of that name."""
        ports = inner.ports if inner is not None and inner.ports else [f"p{k}" for k in range(1, size + 1)]
        found = []
        for place, joint in enumerate(instance.joints):
            if joint.port is None and place >= len(ports):
                raise Bad(
                    joint.line, f"{instance.kind!r} has {len(ports)} pins; {instance.name!r} connects {place + 1}"
                )
            port = ports[place] if joint.port is None else joint.port
            number = _PIN.match(port)
            found.append((str(int(number[1])) if number is not None else plain_name(port), joint))
        return found

    # --- nets ---

    def write_nets(self) -> None:
        named: set[str] = set()
        # In the order in which the wires are declared, so that writing and reading again gives the same text.
        flat = [(self.root_of(net), pin, line) for net, pin, line in self.joints]
        for root, pin, line in sorted(flat, key=lambda joint: self.lines.get(joint[0], joint[2])):
            words = ("more" if root in named else "net", root, pin)
            named.add(root)
            self.statements.append(Statement(line, words))
        for way, net, line, value in self.pulls:
            self.statements.append(Statement(line, ("pull", way, self.root_of(net), *value.split())))
