"""Rows of a command table that fit the same bytes."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from latchlore.device._collisions import describe_partings, find_partings
from latchlore.device._patterns import DIGIT_BYTES, Counted, Digits, OneByte, Part, Pattern, Until

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from latchlore.base import KeyPath
    from latchlore.device._device import Command, Device

FieldPlace: TypeAlias = tuple[int, tuple[int, ...], int]  # (slot, bits, weight); no bits: a whole number in digits
CountStep: TypeAlias = int | str | tuple[FieldPlace, ...]


def find_overlaps(device: Device) -> list[tuple[KeyPath, str]]:
    """Every pair of rows that are valid at once and of which one fits where the other does, as (key path, words)."""
    found: list[tuple[KeyPath, str]] = []
    for command in device.commands:
        slots = {slot for name in command.sets_from.values() for slot, _, _ in field_places(command.pattern)[name]}
        if len(slots) > 1:
            found.append((("command", command.index, "sets_from"), "these modes are set from more than one byte"))
    for first, second in _pairs(device.commands):
        example = overlap(first.pattern, second.pattern)
        if example is not None:
            words = (
                f"pattern {second.pattern.text!r} overlaps {first.pattern.text!r} in line "
                f"{first.citation.origin.number}: both fit {example}"
            )
            partings = find_partings((first, second), device.commands, _collide)
            found.append((("command", second.index, "pattern"), words + describe_partings(partings)))
    return found


def _collide(row: Command, pattern: Pattern, other: Command) -> bool:
    return _at_once(row, other) and overlap(pattern, other.pattern) is not None


def _pairs(commands: tuple[Command, ...]) -> Iterator[tuple[Command, Command]]:
    """Pairs that can be valid at once, of which neither gives way to the other."""
    for j, second in enumerate(commands):
        for first in commands[:j]:
            if _at_once(first, second):
                yield first, second


def _at_once(first: Command, second: Command) -> bool:
    together = _together(first.when, second.when) and _together(first.when_switch, second.when_switch)
    return together and first.otherwise == second.otherwise


def _together(first: Mapping[str, str], second: Mapping[str, str]) -> bool:
    return all(second.get(name, value) == value for name, value in first.items())


def overlap(first: Pattern, second: Pattern) -> str | None:
    """Bytes that both fit, as text; None where no bytes do."""
    shown: list[str] = []
    for k in range(min(len(first.parts), len(second.parts))):
        one, other = first.parts[k], second.parts[k]
        if isinstance(one, OneByte) and isinstance(other, OneByte):
            both = one.values & other.values
            if not both:
                return None
            shown.append(f"{min(both):02X}")
        elif isinstance(one, Digits | OneByte) and isinstance(other, Digits | OneByte):
            values = (part.values for part in (one, other) if isinstance(part, OneByte))
            if not DIGIT_BYTES & next(values, DIGIT_BYTES):
                return None
            shown.append("30")
            if not (isinstance(one, Digits) and isinstance(other, Digits)):
                return " ".join(shown)
        elif same_length(first, one, second, other):
            shown.append("data")
        else:
            return " ".join([*shown, "data"])
    return " ".join(shown)


def same_length(first: Pattern, one: Part, second: Pattern, other: Part) -> bool:
    """Whether two parts of data always end at the same byte."""
    if isinstance(one, Counted) and isinstance(other, Counted):
        return resolve_count(first, one) == resolve_count(second, other)
    return isinstance(one, Until) and isinstance(other, Until) and one.stops == other.stops


def field_places(pattern: Pattern) -> dict[str, tuple[FieldPlace, ...]]:
    """Where each parameter's bits are: the slot (bytes and numbers outside the data, counted from 0), bits, weight."""
    places: dict[str, list[FieldPlace]] = {}
    slot = 0
    for part in pattern.parts:
        if isinstance(part, OneByte):
            for field in part.fields:
                places.setdefault(field.name, []).append((slot, field.bits, field.weight))
        elif isinstance(part, Digits):
            places[part.name] = [(slot, (), 0)]
        slot += isinstance(part, OneByte | Digits)
    return {name: tuple(where) for name, where in places.items()}


def resolve_count(pattern: Pattern, part: Counted) -> tuple[CountStep, ...]:
    """A count with places instead of names, so that two patterns' counts can be compared."""
    places = field_places(pattern)
    return tuple(places[s] if isinstance(s, str) and s in places else s for s in part.count.steps)
