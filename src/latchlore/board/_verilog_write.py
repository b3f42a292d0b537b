"""A board as structural Verilog that the reader takes back: instances, wires, supplies, pull-ups.

What Verilog has no words for (kinds of access, connector pins, doubts, other cards) stands in attributes of the module
as statements of a net file.  What a net file says about connectors as things to be joined is not carried.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from latchlore.base import Unsupported
from latchlore.board._board import Direction, PinAt
from latchlore.board.verilogfacts import KEYWORDS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.board._board import Board, Card, Cycle, Part

_PLAIN = re.compile(r"^[a-z_][a-z0-9_]*$")
_SUPPLIES = {"gnd": "supply0", "vcc": "supply1"}


def write_verilog(board: Board, *, stubs: bool = True) -> str:
    """The board as one module `board`, connectors and parts as instances whose ports are p1, p2 ...

    `stubs`: with an empty module for every type, so that a compiler takes the file alone; without them the types'
    models must be given (connectors, straps and parts of legs keep theirs).  The same board gives the same text.
    Refuses a gate without a package that has an open pin (`Unsupported`).
    """
    lines = [f"// {board.title}".rstrip()] if board.title else []
    notes = [f"  said_{k:03d} = {_quoted(words)}" for k, words in enumerate(_said(board), 1)]
    if notes:
        lines += ["(*", ",\n".join(notes), "*)"]
    lines.append("module board;")
    lines += [f"  {_SUPPLIES.get(net.name, 'wire')} {identifier(net.name)};" for net in board.nets]
    boxes: dict[str, int] = {}
    for words in _instances(board, boxes):
        lines.append(f"  {words}")
    for number, pull in enumerate(board.pulls, 1):
        # Simulators take no attribute here, so the value stands in the name.
        name = identifier(f"pull-{number}={'_'.join(pull.words.split())}") if pull.words else ""
        lines.append(f"  {'pullup' if pull.level else 'pulldown'} {name}({identifier(pull.net)});")
    lines.append("endmodule")
    for kind, size in boxes.items():
        if stubs or not kind.startswith("t7"):
            ports = ", ".join(f"inout p{k}" for k in range(1, size + 1))
            lines.append(f"module {kind}({ports}); endmodule")
    return "\n".join([*lines, ""])


def identifier(name: str) -> str:
    """A name as Verilog takes it; anything but a plain lower-case word is escaped, with its closing space."""
    return name if _PLAIN.match(name) and name not in KEYWORDS else f"\\{name} "


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _instances(board: Board, boxes: dict[str, int]) -> Iterator[str]:
    for plug in board.connectors:
        kind = f"plug_{plug.size}"
        boxes[kind] = plug.size
        notes = {"host": "1" if plug.is_host else "", "place": plug.words}
        yield _instance(board, kind, plug.name, plug.size, notes)
    for strap in board.straps:
        kind = f"strap_{strap.size}"
        boxes[kind] = strap.size
        yield _instance(board, kind, strap.name, strap.size, {"position": _position(strap.joined, strap.size)})
    for part in board.parts:
        kind = _kind(part)
        if kind == "":
            yield _primitive(board, part)
            continue
        boxes[kind] = len(part.type.pins)
        marking = part.marking if part.type.name != part.marking and not part.type.name.startswith("unknown") else ""
        yield _instance(board, kind, part.name, len(part.type.pins), {"marking": marking, "place": part.words})


def _position(joined: tuple[int, ...] | None, size: int) -> str:
    if joined is None:
        return "unknown"
    if not joined:
        return "open"
    return "joined" if size == 2 else f"{joined[0]}-{joined[1]}"


def _kind(part: Part) -> str:
    """The module of a part; empty for a gate without a package."""
    name = part.type.name
    if name.startswith("gate-"):
        return ""
    if name.startswith("unknown"):
        return f"unknown_{len(part.type.pins)}"
    return f"t{name}" if name[0].isdigit() else name


def _instance(board: Board, kind: str, name: str, size: int, notes: dict[str, str]) -> str:
    said = ", ".join(f"{key} = {_quoted(words)}" for key, words in notes.items() if words)
    joints = []
    for number in range(1, size + 1):
        at = PinAt(name, number)
        net = board.net_of(at)
        if net is not None:
            joints.append(f".p{number}({identifier(net)})")
        elif at in board.open_pins:
            joints.append(f".p{number}()")
    return f"{f'(* {said} *) ' if said else ''}{kind} {identifier(name)}({', '.join(joints)});"


def _primitive(board: Board, part: Part) -> str:
    nets = [board.net_of(PinAt(part.name, pin.number)) for pin in part.type.pins]
    if None in nets:
        raise Unsupported(part.origin, f"{part.name!r} is a gate without a package and has an open pin")
    kind = part.type.name.split("-")[1]
    return f"{kind} {identifier(part.name)}({', '.join(identifier(net) for net in nets if net is not None)});"


def _said(board: Board) -> Iterator[str]:
    """What Verilog has no words for, as statements of a net file."""
    if board.title:
        yield f"board {board.title}"
    for cycle in board.cycles:
        yield _cycle(cycle)
    for card in board.cards:
        yield _card(card)
    for part in board.parts:
        if part.type.name.startswith("unknown") and part.type.blocks:
            (block,) = part.type.blocks
            inputs, outputs = (" ".join(str(pin) for pin in pins) for pins in (block.inputs, block.outputs))
            yield f"logic {part.name} in {inputs} out {outputs}"
    for plug in board.connectors:
        for pin in plug.pins:
            fixed = pin.direction in (Direction.GROUND, Direction.POWER)
            words = pin.signal if fixed else f"{pin.signal} {pin.direction}"
            active = {None: "", 0: " low", 1: " high"}[pin.active]
            yield f"pin {plug.name}.{pin.number} {words}{active}"
    for doubt in board.doubts:
        yield f"doubt {doubt.place} {doubt.words}"


def _cycle(cycle: Cycle) -> str:
    levels = []
    for signal, rest, active in cycle.controls:
        word = ("low", "high")[active] if rest == active else ("down", "up")[active]
        levels.append(f"{signal} {word}")
    at = f" at {cycle.base:x}" if cycle.width != cycle.lines else ""
    return f"cycle {cycle.space} {cycle.direction} {cycle.lines}{at} {' '.join(levels)}"


def _card(card: Card) -> str:
    width = card.addresses.width
    way = "both" if len(card.directions) == 2 else card.directions[0]
    patterns = []
    for care, value in card.addresses.cubes:
        text = "".join(str(value >> k & 1) if care >> k & 1 else "x" for k in reversed(range(width)))
        patterns.append(text if "x" in text else f"{value:x}")
    return f"card {card.name} {card.space} {way} {' '.join(patterns)}"
