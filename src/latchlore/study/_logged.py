"""Codes that are looked for, found in what was logged: the wire's word on whether something was ever sent."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import ByteSequence, Emission, Subject, SubjectKind, Testimony, Witness
from latchlore.study import _hearwords as wording

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from latchlore.base import Origin

    Pattern = tuple[frozenset[int], ...]

SURE = 0.95
"""A byte of a merged sequence below this confidence does not tell that a code was sent."""


def logged_emissions(said: Iterable[Testimony], asked: Sequence[tuple[str, Pattern, Origin]]) -> tuple[Testimony, ...]:
    """One testimony for each code (name, byte sets, place that asks) that stands in a sequence of the wire.

    A code that does not stand there tells nothing: the log holds what was sent on one day.
    """
    sequences = [one for one in said if one.witness is Witness.WIRE and isinstance(one.value, ByteSequence)]
    return tuple(found for one in sequences for found in _found(one, asked))


def _found(one: Testimony, asked: Sequence[tuple[str, Pattern, Origin]]) -> Iterator[Testimony]:
    assert isinstance(one.value, ByteSequence)
    items = one.value.items
    for name, pattern, origin in asked:
        for start in range(len(items) - len(pattern) + 1):
            here = items[start : start + len(pattern)]
            whole = all(item.missing_before <= 1 - SURE for item in here[1:])
            if whole and all(
                i.value in values and i.confidence >= SURE for i, values in zip(here, pattern, strict=True)
            ):
                bounds = (wording.logged_at(one.subject.key[0], start),)
                yield Testimony(
                    Subject(SubjectKind.EMISSION, (name,)),
                    Emission(True, bounds),
                    Witness.WIRE,
                    (*one.origins, origin),
                    wording.LOGGED,
                    one.strength,
                    "",
                    one.falls_with,
                )
                break
