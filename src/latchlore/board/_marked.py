"""Parts of which the net file gives the words printed on them: their types, settled by words first, then by nets."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from latchlore.board._board import Doubt
from latchlore.board._markings import read_marking, settle_marking
from latchlore.board._parts import PartType, Pin, Role

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from latchlore.board._board import Board, Part
    from latchlore.board._markings import Marking


class MarkedMistake(Exception):
    """One mistake of one statement; collected by the reader, never shown as it is."""


def first_type(name: str, words: Sequence[str]) -> PartType:
    """The type that the words alone settle, or a chip of that many pins.  Refuses words without a type."""
    types = read_marking(words).types
    if not types:
        raise MarkedMistake(
            f"part {name!r}: no word of {' '.join(words)!r} is a type that the catalogue knows;"
            f" write its number of pins as in: part {name} unknown 16"
        )
    sizes = {len(kind.pins) for kind in types}
    if len(sizes) > 1:
        listed = ", ".join(f"{kind.name} ({len(kind.pins)} pins)" for kind in types)
        raise MarkedMistake(f"part {name!r}: {' '.join(words)!r} may be {listed}; write the type alone")
    return types[0] if len(types) == 1 else _open_type(types)


def _open_type(types: Sequence[PartType]) -> PartType:
    """A chip that is one of several types: what they agree in is known."""
    pins = []
    for k, pin in enumerate(types[0].pins):
        same = all(kind.pins[k].role is pin.role for kind in types)
        pins.append(Pin(pin.number, str(pin.number), pin.role if same and _is_fixed(pin) else Role.UNKNOWN))
    names = " or ".join(kind.name for kind in types)
    return PartType(f"unknown {len(pins)}", f"not known: {names}", tuple(pins), (), "not known")


def _is_fixed(pin: Pin) -> bool:
    return pin.role in (Role.POWER, Role.GROUND, Role.NONE)


def settle_parts(board: Board, marked: Mapping[str, Sequence[str]], years: tuple[int, int] | None) -> Board:
    """The board with the types of its marked parts; what is not settled stays a chip of so many pins, with a doubt."""
    if not marked:
        return board
    parts, doubts = list(board.parts), list(board.doubts)
    found: list[tuple[str, Marking]] = []
    for k, part in enumerate(parts):
        if part.name not in marked:
            continue
        marking = settle_marking(read_marking(marked[part.name], years), board, part.name)
        found.append((part.name, marking))
        if marking.settled is not None:
            word = marking.readings[0].by[0].word
            parts[k] = dataclasses.replace(part, type=marking.settled, marking=word.lower())
        elif marking.types:
            parts[k] = dataclasses.replace(part, type=_open_type(marking.types))
            doubts.append(Doubt(part.name, describe_open(part, marking), part.origin))
    return dataclasses.replace(board, parts=tuple(parts), doubts=tuple(doubts), markings=tuple(found), _net_at={})


def describe_open(part: Part, marking: Marking) -> str:
    """Which types are left, and the pins that would tell."""
    names = " or ".join(kind.name for kind in marking.types)
    pins = marking.telling_pins
    if not pins:
        return f"{part.name} is a {names}; the nets cannot tell them apart"
    which = ", ".join(str(pin) for pin in pins[:6])
    return f"{part.name} is a {names}; what drives pin{'s' if len(pins) > 1 else ''} {which} tells"
