"""Reading instructions by their lengths only, and how well a run of them hangs together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import UnknownName
from latchlore.program import _loadfacts as facts
from latchlore.program import _loadwords as words

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
    """Bytes of the documented instruction at an offset; 0 where it is not documented or runs past the end."""
    mark = facts.LANDMARKS[cpu].lengths[data[at]]
    if mark == "p":
        length = _length_z80(data, at) if cpu == "Z80" else _length_6809(data, at)
    elif mark == "i":
        length = _with_index_byte(data, at + 1)
    else:
        length = int(mark)
    return length if at + length <= len(data) else 0


def _length_z80(data: bytes, at: int) -> int:
    prefix, second = data[at], data[at + 1] if at + 1 < len(data) else -1
    if second < 0:
        return 0
    if prefix == 0xCB:
        return 0 if 0x30 <= second < 0x38 else 2
    if prefix == 0xED:
        return _length_ed(second)
    if second == 0xCB:
        return 4
    if second in facts.INDEXED_Z80:
        return int(facts.LANDMARKS["Z80"].lengths[second]) + 2
    # what does not name HL, H or L behind the prefix is not documented
    if second in _NAMES_HL:
        return int(facts.LANDMARKS["Z80"].lengths[second]) + 1
    return 0


_NAMES_HL = bytes.fromhex("09 19 21 22 23 29 2A 2B 39 E1 E3 E5 E9 F9")
_ED_SINGLES = bytes.fromhex("44 45 46 47 4D 4F 56 57 5E 5F 67 6F A0 A1 A2 A3 A8 A9 AA AB B0 B1 B2 B3 B8 B9 BA BB")


def _length_ed(second: int) -> int:
    if second in facts.LONG_ED:
        return 4
    if second in _ED_SINGLES:
        return 2
    column = second & 0x0F
    if 0x40 <= second < 0x80 and column in (0, 1, 2, 8, 9, 10):
        return 0 if second in (0x70, 0x71) else 2
    return 0


def _length_6809(data: bytes, at: int) -> int:
    page = facts.PAGE_10_6809 if data[at] == 0x10 else facts.PAGE_11_6809
    mark = page.get(data[at + 1] if at + 1 < len(data) else -1, "0")
    return _with_index_byte(data, at + 2) + 1 if mark == "i" else int(mark)


def _with_index_byte(data: bytes, at: int) -> int:
    """Opcode, index byte and what the index byte asks for; 0 where it is not documented."""
    if at >= len(data):
        return 0
    index = data[at]
    if index < 0x80:
        return 2
    if index == 0x9F:
        return 4  # extended indirect
    kind, is_indirect = index & 0x0F, index & 0x10
    if kind in (7, 10, 14, 15) or (is_indirect and kind in (0, 2)):
        return 0
    return 2 + {8: 1, 9: 2, 12: 1, 13: 2}.get(kind, 0)


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
