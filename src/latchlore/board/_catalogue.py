"""The catalogue of parts: look-up of a type by what is printed on it."""

from __future__ import annotations

import re
from functools import lru_cache

from latchlore.base import UnknownName
from latchlore.board._catalogue_decoders import DECODERS
from latchlore.board._catalogue_gates import GATES
from latchlore.board._catalogue_ports import PORTS
from latchlore.board._catalogue_stores import STORES
from latchlore.board._parts import PartType

_ROWS: dict[str, PartType] = {part.name: part for part in (*GATES, *DECODERS, *STORES, *PORTS)}

FAMILIES = ("", "L", "H", "S", "LS", "AS", "ALS", "F", "C", "HC", "HCT", "AC", "ACT")
"""Families of the 74 series whose types share pinout and function."""

_TYPE = re.compile(r"^([A-Z]{0,3})(74|54|64|84)(ALS|HCT|ACT|LS|AS|HC|AC|[LHSFC]|)(\d{2,4})([A-Z]{0,3}\d?)$")


_CHIP = re.compile(r"^[A-Z]{0,3}(65|68|82)([ABC]?)(\d\d)([A-Z]{0,3})\d{0,2}$")
"""A programmable chip: maker's letters, series, speed or process letter, number, package letters, speed."""

_MEMORY = re.compile(r"^[A-Z]{0,3}(27|61|62)(?:C|L|)(\d{2,3})([A-Z]{0,3})\d{0,3}$")
"""A memory: maker's letters, series, process letter, number, package letters, speed."""


def iter_types() -> tuple[PartType, ...]:
    """Every type of the catalogue, by number."""
    return tuple(sorted(_ROWS.values(), key=lambda part: (len(part.name), part.name)))


@lru_cache(maxsize=1024)
def split_type(text: str) -> tuple[str, str] | None:
    """Bare type and family of a text such as ``sn74ls138n`` → (``74138``, ``LS``); None where it has no such form.

    The bare type keeps the family where the pinout is the family's own (``74LS51``).
    """
    found = _TYPE.match(text.upper().replace("-", "").replace(" ", ""))
    if found is None:
        return None
    family, number = found[3], found[4]
    own = f"74{family}{number}"
    return (own if own in _ROWS else f"74{number}"), family


def find_type(text: str) -> PartType | None:
    """The row for a type as printed or typed, or None."""
    split = split_type(text)
    if split is not None and split[0] in _ROWS:
        return _ROWS[split[0]]
    chip = _CHIP.match(text.upper().replace("-", "").replace(" ", ""))
    if chip is not None and chip[1] + chip[3] in _ROWS:
        return _ROWS[chip[1] + chip[3]]
    memory = _MEMORY.match(text.upper().partition("-")[0].replace(" ", ""))
    if memory is not None and memory[1] + memory[2] in _ROWS:
        return _ROWS[memory[1] + memory[2]]
    return _ROWS.get(text.upper())


def get_type(text: str) -> PartType:
    """The row for a type as printed or typed."""
    found = find_type(text)
    if found is None:
        raise UnknownName(f"the catalogue has no type {text!r}")
    return found
