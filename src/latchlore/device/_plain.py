"""One row against the bytes at one place, straight from the pattern's parts: values, data, and a plain reader.

The compiled scanner and this file are made from the pattern independently, so that each can check the other.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from latchlore.device._patterns import DIGIT_BYTES, Counted, Digits, OneByte, Pattern, Until

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from latchlore.device._device import Command


@dataclass(frozen=True, slots=True)
class Match:
    """How far a pattern fits: `end` behind the last byte used.

    `is_complete`: the whole pattern fits.  `missing`: how many bytes more its data would need (at least; 0 where not
    data are cut short).  `values`: parameters; `data`: (first, end) of each part of data.
    """

    end: int
    is_complete: bool
    missing: int = 0
    values: Mapping[str, int] = field(default_factory=dict)
    data: Mapping[str, tuple[int, int]] = field(default_factory=dict)


def match_pattern(pattern: Pattern, data: bytes, start: int) -> Match | None:
    """Fit a pattern at `start`.  None where it does not fit; an incomplete match where the bytes end too early."""
    values: dict[str, int] = {}
    found: dict[str, tuple[int, int]] = {}
    position, size = start, len(data)
    for part in pattern.parts:
        if isinstance(part, Counted):
            end = position + max(0, part.count.value(values))
            found[part.name] = (position, min(end, size))
            if end > size:
                return Match(size, False, end - size, values, found)
            position = end
            continue
        if isinstance(part, Until):
            first = position
            while position < size and data[position] not in part.stops:
                position += 1
            found[part.name] = (first, position)
            if position == size:
                return Match(size, False, 1, values, found)
            position += 1
            continue
        if position == size:
            return Match(size, False, 1, values, found)
        if isinstance(part, Digits):
            first = position
            while position < size and data[position] in DIGIT_BYTES:
                position += 1
            if position == first:
                return None
            values[part.name] = int(data[first:position])
            if position == size:
                return Match(size, False, 1, values, found)
            continue
        if not _take_byte(part, data[position], values):
            return None
        position += 1
    return Match(position, True, 0, values, found)


def _take_byte(part: OneByte, byte: int, values: dict[str, int]) -> bool:
    if byte not in part.values:
        return False
    for one in part.fields:
        values[one.name] = values.get(one.name, 0) + one.value(byte)
    return True


def match_rows(rows: Sequence[Command], data: bytes, start: int) -> tuple[Command, Match] | None:
    """The row that fits completely at `start`, ordinary rows before those that give way; None where none does."""
    fits = [(row, match) for row in rows if (match := match_pattern(row.pattern, data, start)) is not None]
    complete = [(row, match) for row, match in fits if match.is_complete]
    return min(complete, key=lambda pair: pair[0].otherwise, default=None)
