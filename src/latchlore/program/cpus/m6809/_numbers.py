"""The numbers of the 6809's opcodes.

An opcode has its own byte as its number, behind 10h 100h more, behind 11h 200h more.  Where the next byte says what
is done, the number tells that byte's kind: indexed opcodes from 300h on (nine kinds: four index registers, the same
with an accumulator as offset, PC or no register), TFR 700h and EXG 800h, PSHS 900h, PULS A00h, PSHU B00h, PULU C00h,
each with the byte itself; D00h with the opcode where an index byte is none of the documented ones.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.program._cpu import ByteAt

FIRST_INDEXED, TRANSFER, EXCHANGE, BLANK_INDEX = 0x300, 0x700, 0x800, 0xD00
STACKED = (0x900, 0xA00, 0xB00, 0xC00)
NUM_KINDS, SLOTS = 9, 96
FIRST_RARE = FIRST_INDEXED + 4 * SLOTS  # offsets in accumulators, PC
LAST = 0xDFF
PREFIXES = {0x100: "10", 0x200: "11", TRANSFER: "1F", EXCHANGE: "1E", BLANK_INDEX: "(blank index byte)"}
# low digits of an index byte from 80h on that are documented: without and with indirection; those with an accumulator;
# those without an index register
DIRECT_DIGITS, INDIRECT_DIGITS, ACCUMULATOR_DIGITS, PC_DIGITS = 0x3B7F, 0xBB7A, 0x0860, 0xB000

DECODE = f"""op = fetch()
if zero(op ^ 0x10):
    n = fetch()
    op = 0x100 + n
if zero(op ^ 0x11):
    n = fetch()
    op = 0x200 + n
if zero((op & 0xB0) ^ 0xA0) | zero((op & 0xFF0) ^ 0x60) | zero((op & 0xFFC) ^ 0x30):
    d = fetch()
    c = (d >> 5) & 3
    g = 1
    if d & 0x80:
        n = d & 15
        g = bit({DIRECT_DIGITS} + {INDIRECT_DIGITS - DIRECT_DIGITS} * bit(d, 4), n)
        if bit({PC_DIGITS}, n):
            g = g & (zero(n ^ 15) ^ 1 | zero(c))
            c = 8
        c = c + 4 * bit({ACCUMULATOR_DIGITS}, n)
    if g:
        n = ((op >> 6) & 3) * 16 + (op & 15)
        if op & 0x100:
            n = 64 + (op & 15) - ((op >> 3) & 8)
        if op & 0x200:
            n = 80 + (op & 15)
        op = {FIRST_INDEXED} + {SLOTS} * c + n
    else:
        op = {BLANK_INDEX} + (op & 0xFF)
if zero((op & 0xFFE) ^ 0x1E):
    d = fetch()
    op = {EXCHANGE} - ((op & 1) << 8) + d
if zero((op & 0xFFC) ^ 0x34):
    d = fetch()
    op = {STACKED[0]} + ((op & 3) << 8) + d"""

REGISTER_CODES = {0: "D", 1: "X", 2: "Y", 3: "U", 4: "S", 5: "PC", 8: "A", 9: "B", 10: "CC", 11: "DP"}


def transfers() -> Iterator[tuple[int, str, str]]:
    """Second bytes of TFR and EXG between registers of one size: the byte, from, to."""
    for first, source in REGISTER_CODES.items():
        for second, target in REGISTER_CODES.items():
            if first >> 3 == second >> 3:
                yield first << 4 | second, source, target


def is_indexed(opcode: int) -> bool:
    """Whether an index byte follows; `opcode` up to 2FFh."""
    return opcode & 0xB0 == 0xA0 or opcode & 0xFF0 == 0x60 or opcode & 0xFFC == 0x30


def slot(opcode: int) -> int:
    """The place of an indexed opcode among those of one kind."""
    if opcode & 0x200:
        return 80 + (opcode & 15)
    if opcode & 0x100:
        return 64 + (opcode & 15) - (opcode >> 3 & 8)
    return (opcode >> 6 & 3) * 16 + (opcode & 15)


def indexed_number(opcode: int, kind: int) -> int:
    """The number of an opcode with a kind of index byte."""
    return FIRST_INDEXED + SLOTS * kind + slot(opcode)


def is_paged(number: int) -> bool:
    """Whether an indexed opcode has a prefix."""
    return FIRST_INDEXED <= number < TRANSFER and (number - FIRST_INDEXED) % SLOTS >= 64


def kind_of(index: int) -> int | None:
    """The kind of an index byte; None where it is not documented."""
    register = index >> 5 & 3
    if index < 0x80:
        return register
    digit = index & 15
    if not (INDIRECT_DIGITS if index & 0x10 else DIRECT_DIGITS) >> digit & 1:
        return None
    if PC_DIGITS >> digit & 1:
        return None if digit == 15 and register else 8
    return register + 4 * (ACCUMULATOR_DIGITS >> digit & 1)


def _opcode(byte: ByteAt, at: int) -> tuple[int, int]:
    """The opcode with its page, and the address behind it."""
    first = byte(at)
    if first in (0x10, 0x11):
        return (first - 0x0F) * 0x100 + byte((at + 1) & 0xFFFF), (at + 2) & 0xFFFF
    return first, (at + 1) & 0xFFFF


def code_at(byte: ByteAt, at: int) -> int:
    """The number of the opcode at an address."""
    opcode, after = _opcode(byte, at)
    second = byte(after)
    if is_indexed(opcode):
        kind = kind_of(second)
        return BLANK_INDEX | opcode & 0xFF if kind is None else indexed_number(opcode, kind)
    if opcode in (0x1E, 0x1F):
        return EXCHANGE - ((opcode & 1) << 8) + second
    if opcode & 0xFFC == 0x34:
        return STACKED[opcode & 3] | second
    return opcode


def more_bytes(index: int) -> int:
    """Bytes behind an index byte."""
    if index < 0x80:
        return 0
    return {8: 1, 9: 2, 12: 1, 13: 2, 15: 2}.get(index & 15, 0)
