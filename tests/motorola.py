"""The flags of Motorola's 6800 and 6809, typed from the Boolean formulae of their manuals.

Sources: *M6800 Programming Reference Manual*, M68PRM(D), 1976, appendix A, and *MC6809-MC6809E Microprocessor
Programming Manual*, M6809PM/AD, 1981, appendix A, both *from memory*: the formulae are those of the bits of the
operands and the result, as they stand there, and not those of the tables under test.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

Bits: TypeAlias = "npt.NDArray[np.int64]"
Flags: TypeAlias = dict[str, Bits]


def b(value: Bits, number: int) -> Bits:
    """A bit."""
    return (value >> number) & 1


def sign(r: Bits, top: int = 7) -> Flags:
    """N = R7; Z = no bit of R."""
    return {"N": b(r, top), "Z": (r == 0).astype(np.int64)}


def add(x: Bits, m: Bits, carry: int) -> tuple[Bits, Flags]:
    """ADD, ADC, ABA: H, N, Z, V, C."""
    r = (x + m + carry) & 0xFF
    x7, m7, r7 = b(x, 7), b(m, 7), b(r, 7)
    x3, m3, r3 = b(x, 3), b(m, 3), b(r, 3)
    return r, sign(r) | {
        "H": x3 & m3 | m3 & (1 - r3) | (1 - r3) & x3,
        "V": x7 & m7 & (1 - r7) | (1 - x7) & (1 - m7) & r7,
        "C": x7 & m7 | m7 & (1 - r7) | (1 - r7) & x7,
    }


def subtract(x: Bits, m: Bits, borrow: int) -> tuple[Bits, Flags]:
    """SUB, SBC, CMP, SBA, CBA: N, Z, V, C."""
    r = (x - m - borrow) & 0xFF
    x7, m7, r7 = b(x, 7), b(m, 7), b(r, 7)
    return r, sign(r) | {
        "V": x7 & (1 - m7) & (1 - r7) | (1 - x7) & m7 & r7,
        "C": (1 - x7) & m7 | m7 & r7 | r7 & (1 - x7),
    }


def logic(r: Bits) -> tuple[Bits, Flags]:
    """AND, OR, EOR, BIT, loads and stores: N, Z; V = 0."""
    return r, sign(r) | {"V": np.zeros_like(r)}


DECIMAL = (
    # DAA: carry before, high digits, half carry, low digits, what is added, carry after
    (0, range(10), 0, range(10), 0x00, 0),
    (0, range(9), 0, range(10, 16), 0x06, 0),
    (0, range(10), 1, range(4), 0x06, 0),
    (0, range(10, 16), 0, range(10), 0x60, 1),
    (0, range(9, 16), 0, range(10, 16), 0x66, 1),
    (0, range(10, 16), 1, range(4), 0x66, 1),
    (1, range(3), 0, range(10), 0x60, 1),
    (1, range(3), 0, range(10, 16), 0x66, 1),
    (1, range(4), 1, range(4), 0x66, 1),
)


def one_operand(name: str, m: Bits, carry: int) -> tuple[Bits, Flags]:
    """The operations on one accumulator or cell."""
    zero = np.zeros_like(m)
    if name == "NEG":
        r = (0 - m) & 0xFF
        any_bit = (r != 0).astype(np.int64)
        return r, sign(r) | {"V": (r == 0x80).astype(np.int64), "C": any_bit}
    if name == "COM":
        r = 0xFF - m
        return r, sign(r) | {"V": zero, "C": zero + 1}
    if name == "DEC":
        r = (m - 1) & 0xFF
        return r, sign(r) | {"V": (r == 0x7F).astype(np.int64)}
    if name == "INC":
        r = (m + 1) & 0xFF
        return r, sign(r) | {"V": (r == 0x80).astype(np.int64)}
    if name == "TST":
        return m, sign(m) | {"V": zero}
    if name == "CLR":
        return zero, {"N": zero, "Z": zero + 1, "V": zero, "C": zero}
    shifted = {
        "LSR": (m >> 1, b(m, 0)),
        "ROR": (m >> 1 | carry << 7, b(m, 0)),
        "ASR": (m >> 1 | m & 0x80, b(m, 0)),
        "ASL": (m << 1 & 0xFF, b(m, 7)),
        "ROL": (m << 1 & 0xFF | carry, b(m, 7)),
    }
    r, out = shifted[name]
    return r, sign(r) | {"C": out}
