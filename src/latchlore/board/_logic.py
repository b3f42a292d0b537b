"""Chips of which only inputs and outputs are known: programmable logic whose fuses nobody has read."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

from latchlore.board._parts import Block, PartType, Pin, Role

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from latchlore.board._board import Part


class LogicMistake(Exception):
    """One mistake of one statement; collected by the reader, never shown as it is."""


def read_logic(words: Sequence[str], parts: Mapping[str, Part]) -> Part:
    """The part of ``PART in PIN... out PIN...`` with its inputs and outputs set; pins by number.

    The chip must be unknown; its other pins stay unknown.  A pin is an input or an output, not both.
    """
    name = words[0].lower()
    part = parts.get(name)
    if part is None or not part.type.name.startswith("unknown"):
        raise LogicMistake(f"{words[0]!r} is no unknown chip of this board, such as: part {name} unknown 20")
    rest = [word.lower() for word in words[1:]]
    if rest[:1] != ["in"] or "out" not in rest or rest[-1] == "out" or rest.index("out") == 1:
        raise LogicMistake(f"the pins of {name!r} are given as: logic {name} in 1 2 3 out 18 19")
    at = rest.index("out")
    inputs, outputs = (_pins(part, group) for group in (rest[1:at], rest[at + 1 :]))
    both = set(inputs) & set(outputs)
    if both:
        raise LogicMistake(f"pin {min(both)} of {name!r} is given as input and as output")
    return dataclasses.replace(part, type=logic_type(part.type, inputs, outputs))


def _pins(part: Part, words: Sequence[str]) -> tuple[int, ...]:
    size = len(part.type.pins)
    found: list[int] = []
    for word in words:
        if not (word.isascii() and word.isdigit() and 1 <= int(word[:9]) <= size):
            raise LogicMistake(f"{part.name!r} has pins 1 to {size}, not {word!r}")
        if int(word) in found:
            raise LogicMistake(f"pin {word} of {part.name!r} is given twice")
        found.append(int(word))
    return tuple(found)


def _keep(_before: Any, _now: Any, state: Any) -> Any:
    return state


def logic_type(kind: PartType, inputs: tuple[int, ...], outputs: tuple[int, ...]) -> PartType:
    """A chip that drives `outputs` from `inputs` in a way that is not known; it may also hold something."""
    pins = tuple(
        Pin(
            pin.number,
            pin.name,
            Role.INPUT if pin.number in inputs else Role.OUTPUT if pin.number in outputs else pin.role,
        )
        for pin in kind.pins
    )
    block = Block(inputs, outputs, lambda _i, s: s, states=len(outputs), step=_keep, opaque=True)
    return PartType(kind.name, "logic that is not known", pins, (block,), kind.source)
