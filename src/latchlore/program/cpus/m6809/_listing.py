"""Lengths and operands of the 6809's instructions, read from their bytes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.program.cpus.m6809 import _numbers as numbers

if TYPE_CHECKING:
    from latchlore.program._cpu import ByteAt, Row

# Lengths of opcodes that the manual leaves blank: those of their documented neighbours, by the high digit (*from
# memory*; what they do is not known here).  Behind a prefix one byte more.
_BLANK_LENGTHS = (2, 1, 2, 2, 1, 1, 2, 3, 2, 2, 2, 3, 2, 2, 2, 3)


def undocumented_lengths(documented: frozenset[int]) -> dict[int, int]:
    """Length of every number without a row, index bytes' offsets apart."""
    found = {}
    for number in range(numbers.LAST + 1):
        if number in documented:
            continue
        if number < numbers.FIRST_INDEXED:
            found[number] = _BLANK_LENGTHS[number >> 4 & 15] + (number >= 0x100)
        else:
            found[number] = 2 + numbers.is_paged(number)
    return found


def _row(number: int) -> Row | None:
    from latchlore.program.cpus.m6809 import cpu

    return cpu().rows.get(number)


def length_at(byte: ByteAt, at: int) -> int:
    """Bytes of the instruction at an address."""
    from latchlore.program.cpus.m6809 import cpu

    number = numbers.code_at(byte, at)
    row = _row(number)
    length = cpu().undocumented[number] if row is None else row.length
    if numbers.FIRST_INDEXED <= number < numbers.TRANSFER:
        length += numbers.more_bytes(byte((at + length - 1) & 0xFFFF))
    return length


def operand_at(byte: ByteAt, at: int) -> str:
    """The operand of the documented instruction at an address, as the maker's assembler takes it.

    ``<`` marks an address in the page that DP names; ``>`` one of four digits that could be taken for such.
    """
    number = numbers.code_at(byte, at)
    row = _row(number)
    assert row is not None
    first, second = byte((at + row.length - 1) & 0xFFFF), byte((at + row.length - 2) & 0xFFFF)
    word = second << 8 | first
    after = at + row.length
    match row.mode:
        case "immediate":
            return f"#${first:02X}"
        case "immediate 16":
            return f"#${word:04X}"
        case "direct":
            return f"<${first:02X}"
        case "extended":
            return f"{'>' if word < 0x100 else ''}${word:04X}"
        case "relative":
            return f"${(after + first - ((first & 0x80) << 1)) & 0xFFFF:04X}"
        case "relative 16":
            return f"${(after + word) & 0xFFFF:04X}"
        case "indexed":
            return write_index(byte, at + row.length - 1)
        case "registers":
            return _registers(number)
    return ""


def _registers(number: int) -> str:
    second = number & 0xFF
    if number < numbers.STACKED[0]:
        return f"{numbers.REGISTER_CODES[second >> 4]},{numbers.REGISTER_CODES[second & 15]}"
    other = "U" if number < numbers.STACKED[2] else "S"
    return ",".join(name for k, name in enumerate(("CC", "A", "B", "DP", "X", "Y", other, "PC")) if second >> k & 1)


def write_index(byte: ByteAt, at: int) -> str:
    """The operand of the index byte at an address."""
    index = byte(at & 0xFFFF)
    register = "XYUS"[index >> 5 & 3]
    if index < 0x80:
        return f"{_signed((index & 15) - (index & 16))},{register}"
    first, second = byte((at + 1) & 0xFFFF), byte((at + 2) & 0xFFFF)
    short, word = first - ((first & 0x80) << 1), first << 8 | second
    texts = {
        0: f",{register}+",
        1: f",{register}++",
        2: f",-{register}",
        3: f",--{register}",
        4: f",{register}",
        5: f"B,{register}",
        6: f"A,{register}",
        8: f"{_signed(short)},{register}",
        9: f"${word:04X},{register}",
        11: f"D,{register}",
        12: f"${(at + 2 + short) & 0xFFFF:04X},PCR",
        13: f"${(at + 3 + word) & 0xFFFF:04X},PCR",
        15: f"${word:04X}",
    }
    text = texts[index & 15]
    return f"[{text}]" if index & 0x10 else text


def _signed(offset: int) -> str:
    return f"{'-' if offset < 0 else ''}${abs(offset):02X}"
