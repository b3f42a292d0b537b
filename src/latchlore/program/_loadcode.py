"""Reading instructions by their lengths only, and how well a run of them hangs together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import UnknownName
from latchlore.program import _loadfacts as facts
from latchlore.program import _loadwords as words
from latchlore.program._cpu import get_cpu

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.program._image import Image
    from latchlore.program._loadfacts import Landmarks


def get_landmarks(cpu: str) -> Landmarks:
    """The landmarks of a processor.  Refuses a name that is not known."""
    cpu = facts.LIKE.get(cpu, cpu)
    if cpu not in facts.LANDMARKS:
        raise UnknownName(f"processor {cpu!r} is not known", sorted(facts.LANDMARKS))
    return facts.LANDMARKS[cpu]


def find_vector(cpu: str, name: str, images: Sequence[Image]) -> int | str:
    """Where a vector leads, such as ``reset``; or, in words, why that cannot be told.

    A processor that starts at an address of its own has this one start and calls it reset.  Refuses an unknown
    processor, and a vector that it does not have (`UnknownName`).
    """
    marks = get_landmarks(cpu)
    named = {one.lower(): place for place, one in marks.vectors.items()}
    if marks.start is not None:
        named = {"reset": marks.start}
    if name.lower() not in named:
        raise UnknownName(f"the {cpu} has no vector {name!r}", sorted(named))
    place = named[name.lower()]
    if marks.start is not None:
        return place
    held = [next((one for one in images if at in one), None) for at in (place, place + 1)]
    known = [
        one.data[at - one.load]
        for one, at in zip(held, (place, place + 1), strict=True)
        if one is not None and not any(first <= at <= last for first, last in one.unknown)
    ]
    if len(known) < 2:
        return words.no_vector(name, place)
    return word_at(marks, bytes(known), 0)


def instruction_length(cpu: str, data: bytes, at: int) -> int:
    """Bytes of the documented instruction at an offset; 0 where it is not documented or runs past the end.

    The processor's own table tells (`latchlore.program.cpus`).
    """
    table = get_cpu(cpu)
    size = len(data)

    def byte(place: int) -> int:
        return data[place] if place < size else 0

    if table.code_at(byte, at) not in table.rows:
        return 0
    length = table.length(byte, at)
    return length if at + length <= size else 0


def run_holds(cpu: str, data: bytes, at: int, most: int = 12) -> bool:
    """Whether `most` instructions from an offset, or fewer up to a return or jump, are all documented."""
    marks = facts.LANDMARKS[cpu]
    for _ in range(most):
        if at >= len(data):
            return False
        length = instruction_length(cpu, data, at)
        if length == 0:
            return False
        if data[at] in marks.ends or data[at] in marks.always or data[at] in marks.short:
            return True
        at += length
    return True


def word_at(marks: Landmarks, data: bytes, at: int) -> int:
    """The address held by two bytes, in the processor's order."""
    return int.from_bytes(data[at : at + 2], "big" if marks.is_big_endian else "little")
