"""A plain listing in the trade mnemonics of the chip's maker."""

from __future__ import annotations

from dataclasses import dataclass

from latchlore.base import BadInput
from latchlore.program._cpu import get_cpu
from latchlore.program._image import Image


@dataclass(frozen=True, slots=True)
class Line:
    """One instruction: address, bytes, and its text; `mode` names its addressing, empty where it has none.

    `is_documented` False: the opcode is not in the maker's table (known by length), or cut off by the image's end.
    """

    address: int
    data: bytes
    text: str
    mode: str = ""
    is_documented: bool = True


def disassemble(image: Image, first: int, last: int, *, cpu: str = "6502") -> tuple[Line, ...]:
    """The instructions from `first` on, as long as they begin at or before `last`.

    Refuses a range that reaches out of the image.
    """
    if not (image.load <= first <= last <= image.last):
        raise BadInput(
            image.origin(first),
            f"a listing lies within the image ({image.load:04X} to {image.last:04X}), not {first:04X} to {last:04X}",
        )
    lines = []
    at = first
    while at <= last:
        lines.append(_line(image, at, cpu))
        at += len(lines[-1].data)
    return tuple(lines)


def _line(image: Image, at: int, cpu: str) -> Line:
    processor = get_cpu(cpu)

    def byte(place: int) -> int:
        return image.data[place - image.load] if place in image else 0

    code = processor.code_at(byte, at)
    row = processor.rows.get(code)
    length = processor.length(byte, at)
    data = image.data[at - image.load : at - image.load + length]
    if row is None:
        return Line(at, data, f"undocumented {processor.spell(code)}", "", False)
    if len(data) < length:
        return Line(at, data, f"{row.name} cut off by the end of the image", row.mode, False)
    return Line(at, data, f"{row.name} {processor.operand(byte, at)}".rstrip(), row.mode)
