"""Gates that stand in no package: the primitives of a hardware description, as types a board can hold."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from latchlore.board import _functions as f
from latchlore.board._parts import Block, PartType, Pin, Role

if TYPE_CHECKING:
    from collections.abc import Callable

SOURCE = "IEEE 1364-2001, clause 7"
_MANY: dict[str, Callable[..., Any]] = {
    "and": f.and_gate,
    "nand": f.nand_gate,
    "or": f.or_gate,
    "nor": f.nor_gate,
    "xor": f.xor_gate,
    "xnor": f.xnor_gate,
}
_ONE: dict[str, Callable[..., Any]] = {"buf": f.buffer_gate, "not": f.not_gate}
_SWITCHED: dict[str, tuple[Callable[..., Any], Callable[..., Any]]] = {
    "bufif0": (f.buffer_gate, lambda _a, g: ~g),
    "bufif1": (f.buffer_gate, lambda _a, g: g),
    "notif0": (f.not_gate, lambda _a, g: ~g),
    "notif1": (f.not_gate, lambda _a, g: g),
}
_NAME = re.compile(r"^gate-(and|nand|or|nor|xor|xnor|buf|not|bufif0|bufif1|notif0|notif1)(?:-(\d{1,2}))?$")


def primitive_type(name: str) -> PartType | None:
    """The type of a name such as ``gate-nand-3`` or ``gate-bufif0``; None where it names none.

    Pin 1 is the output, then the inputs, a driver's enable last; several outputs of ``buf`` and ``not`` are not held.
    """
    found = _NAME.match(name)
    if found is None:
        return None
    kind, count = found[1], int(found[2] or 0)
    if kind in _MANY:
        if not 1 <= count <= 64:
            return None
        pins = ("Y", *(f"A{k}" for k in range(1, count + 1)))
        return _type(name, pins, Block(tuple(range(2, count + 2)), (1,), _MANY[kind]))
    if count:
        return None
    if kind in _ONE:
        return _type(name, ("Y", "A"), Block((2,), (1,), _ONE[kind]))
    function, enable = _SWITCHED[kind]
    return _type(name, ("Y", "A", "G"), Block((2, 3), (1,), function, Role.THREE_STATE, enable))


def _type(name: str, pins: tuple[str, ...], block: Block) -> PartType:
    shaped = tuple(Pin(k, pin, Role.INPUT if k > 1 else block.drive) for k, pin in enumerate(pins, 1))
    return PartType(name, f"{name.split('-')[1]} gate", shaped, (block,), SOURCE)
