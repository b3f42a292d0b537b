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
    code = image.data[at - image.load]
    row = processor.rows.get(code)
    length = row.length if row is not None else processor.undocumented[code]
    data = image.data[at - image.load : at - image.load + length]
    if row is None:
        return Line(at, data, f"undocumented {code:02X}", "", False)
    if len(data) < length:
        return Line(at, data, f"{row.name} cut off by the end of the image", row.mode, False)
    operand = int.from_bytes(data[1:], "little")
    if row.mode == "relative":
        operand = (at + 2 + operand - ((operand & 0x80) << 1)) & 0xFFFF
    stem = processor.stems[row.mode].format(operand)
    return Line(at, data, f"{row.name} {stem}".rstrip(), row.mode)
