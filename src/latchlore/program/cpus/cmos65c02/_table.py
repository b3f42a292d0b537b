"""The CMOS 65C02: what every opcode does, access by access; with the single-bit opcodes of Rockwell's and later parts.

Sources, none at hand as this was typed, so *from memory*: the makers' data sheets of the CMOS part (Rockwell
R65C02, 1983; WDC W65C02S, 2018: operations, cycles, differences from the NMOS part).  Operations that the CMOS part
did not change are those of the NMOS table.  Decimal mode follows B. Clark's description of the CMOS part (6502.org,
*Decimal Mode*), *from memory*.  The tests walk the table against two outside programs and list where these are wrong.

Each access of the bus is one cycle.  What the CMOS part reads in its idle cycles: the last byte of the instruction
again where the NMOS part reads a wrong address, the operand a second time where the NMOS part writes it back first
(both as the W65C02S data sheet has it); an indexed store that stays in its page reads the operand's own address
(*from memory*).  The extra cycle of decimal arithmetic is counted, and taken to touch nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.program._cpu import make_row
from latchlore.program.cpus.mos6502 import _table as nmos

if TYPE_CHECKING:
    from latchlore.program._cpu import Row

REGISTERS = nmos.REGISTERS
FLAGS = nmos.FLAGS
ENTRY_STACK = nmos.ENTRY_STACK

_AGAIN = "(PC - 1) & 0xFFFF"  # the last byte of the instruction
_CROSSED = f"un = (ea + cross * ((({_AGAIN})) - ea)) & 0xFFFF"
OPERANDS: dict[str, str] = {
    **nmos.OPERANDS,
    "(indirect)": "b = fetch()",
    "(absolute,X)": "b = fetch()\nhi = fetch()",
    "zero page,relative": "b = fetch()",
}
MODES: dict[str, str] = {
    **nmos.MODES,
    "zero page,X": f"dummy({_AGAIN})\nea = (b + X) & 0xFF",
    "zero page,Y": f"dummy({_AGAIN})\nea = (b + Y) & 0xFF",
    "absolute,X": f"ea = ((hi << 8) + b + X) & 0xFFFF\ncross = gt(b + X, 0xFF)\n{_CROSSED}",
    "absolute,Y": f"ea = ((hi << 8) + b + Y) & 0xFFFF\ncross = gt(b + Y, 0xFF)\n{_CROSSED}",
    "(indirect,X)": (f"dummy({_AGAIN})\nlo = rd((b + X) & 0xFF)\nhi = rd((b + X + 1) & 0xFF)\nea = (hi << 8) | lo"),
    "(indirect),Y": (
        f"lo = rd(b)\nhi = rd((b + 1) & 0xFF)\nea = ((hi << 8) + lo + Y) & 0xFFFF\ncross = gt(lo + Y, 0xFF)\n{_CROSSED}"
    ),
    "(indirect)": "lo = rd(b)\nhi = rd((b + 1) & 0xFF)\nea = (hi << 8) | lo",
    "indirect": (f"ea = (hi << 8) | b\ndummy({_AGAIN})\nlo = rd(ea)\nhi = rd((ea + 1) & 0xFFFF)\nea = (hi << 8) | lo"),
    "(absolute,X)": (
        f"ea = ((hi << 8) + b + X) & 0xFFFF\ndummy({_AGAIN})\nlo = rd(ea)\nhi = rd((ea + 1) & 0xFFFF)\n"
        "ea = (hi << 8) | lo"
    ),
    "zero page,relative": "m = rd(b)\ndummy(b)\nb = fetch()",
}
INDEXED = nmos.INDEXED
LENGTHS: dict[str, int] = {**nmos.LENGTHS, "(indirect)": 2, "(absolute,X)": 3, "zero page,relative": 3}

ACCESS: dict[str, tuple[str, str]] = {
    # access: text before the operation, text after it
    **nmos.ACCESS,
    "modify": ("m = rd(ea)\ndummy(ea)", "wr(ea, r)"),
    "branch": (
        "",
        "if t:\n    dummy(PC)\n    target = (PC + b - ((b & 0x80) << 1)) & 0xFFFF\n"
        "    if (target ^ PC) & 0xFF00:\n        dummy(PC)\n    PC = target",
    ),
}
INDEXED_ACCESS: dict[str, tuple[str, str]] = {
    "read": ("penalty(cross, un)\nm = rd(ea)", ""),
    "write": ("dummy(un)", "wr(ea, r)"),
    "modify": ("penalty(cross, un)\nm = rd(ea)\ndummy(ea)", "wr(ea, r)"),
    "modify always": ("dummy(un)\nm = rd(ea)\ndummy(ea)", "wr(ea, r)"),  # a cycle that shifts do not need
}
WITH_SIGN_AND_ZERO = nmos.WITH_SIGN_AND_ZERO | {"ADC", "SBC", "PLX", "PLY"}

_CHANGED: dict[str, str] = {
    "ADC": (
        "s = A + m + C\n"
        "if D:\n"
        "    tick(1)\n"
        "    lo = (A & 0x0F) + (m & 0x0F) + C\n    g = gt(lo, 9)\n    lo = ((lo + 6 * g) & 0x0F) | (g << 4)\n"
        "    s = (A & 0xF0) + (m & 0xF0) + lo\n    V = bit((A ^ s) & ~(A ^ m), 7)\n"
        "    s = s + 0x60 * gt(s, 0x9F)\n"
        "else:\n"
        "    V = bit((A ^ s) & ~(A ^ m), 7)\n"
        "C = gt(s, 0xFF)\nr = s & 0xFF\nA = r"
    ),
    "SBC": (
        "s = A - m - 1 + C\nV = bit((A ^ m) & (A ^ s), 7)\n"
        "if D:\n"
        "    tick(1)\n"
        "    r = (s - 0x60 * gt(0, s) - 6 * gt(0, (A & 0x0F) - (m & 0x0F) - 1 + C)) & 0xFF\n"
        "else:\n"
        "    r = s & 0xFF\n"
        "C = gt(s, -1)\nA = r"
    ),
    "BIT #": "Z = zero(A & m)",  # with an immediate operand: N and V stay
    "BRA": "t = 1",
    "BRK": nmos.OPERATIONS["BRK"].replace("I = 1", "I = 1\nD = 0"),
    "PHX": "wr(0x100 | S, X)\nS = (S - 1) & 0xFF",
    "PHY": "wr(0x100 | S, Y)\nS = (S - 1) & 0xFF",
    "PLX": "dummy(0x100 | S)\nr = rd(0x100 | ((S + 1) & 0xFF))\nS = (S + 1) & 0xFF\nX = r",
    "PLY": "dummy(0x100 | S)\nr = rd(0x100 | ((S + 1) & 0xFF))\nS = (S + 1) & 0xFF\nY = r",
    "STZ": "r = 0",
    "TRB": "Z = zero(A & m)\nr = m & ~A",
    "TSB": "Z = zero(A & m)\nr = m | A",
}
OPERATIONS: dict[str, str] = {**nmos.OPERATIONS, **_CHANGED}
ACCESS_OF: dict[str, str] = {**nmos.ACCESS_OF, "BRA": "branch", "STZ": "write", "TRB": "modify", "TSB": "modify"}

_MORE: dict[str, dict[str, int]] = {
    "ADC": {"(indirect)": 0x72},
    "AND": {"(indirect)": 0x32},
    "BIT": {"immediate": 0x89, "zero page,X": 0x34, "absolute,X": 0x3C},
    "BRA": {"relative": 0x80},
    "CMP": {"(indirect)": 0xD2},
    "DEC": {"accumulator": 0x3A},
    "EOR": {"(indirect)": 0x52},
    "INC": {"accumulator": 0x1A},
    "JMP": {"(absolute,X)": 0x7C},
    "LDA": {"(indirect)": 0xB2},
    "ORA": {"(indirect)": 0x12},
    "PHX": {"implied": 0xDA},
    "PHY": {"implied": 0x5A},
    "PLX": {"implied": 0xFA},
    "PLY": {"implied": 0x7A},
    "SBC": {"(indirect)": 0xF2},
    "STA": {"(indirect)": 0x92},
    "STZ": {"zero page": 0x64, "zero page,X": 0x74, "absolute": 0x9C, "absolute,X": 0x9E},
    "TRB": {"zero page": 0x14, "absolute": 0x1C},
    "TSB": {"zero page": 0x04, "absolute": 0x0C},
}
OPCODES: dict[str, dict[str, int]] = {
    name: {**nmos.OPCODES.get(name, {}), **_MORE.get(name, {})} for name in sorted({*nmos.OPCODES, *_MORE})
}

# Lengths of the opcodes that the data sheets leave blank or call reserved no-operations (*from memory*): those of
# columns 3, 7, B and F have one byte.
_BLANK_LENGTHS = {
    **dict.fromkeys((0x02, 0x22, 0x42, 0x62, 0x82, 0xC2, 0xE2, 0x44, 0x54, 0xD4, 0xF4), 2),
    **dict.fromkeys((0x5C, 0xDC, 0xFC), 3),
}
STEMS: dict[str, str] = {
    **nmos.STEMS,
    "(indirect)": "({n1})",
    "(absolute,X)": "({w1},X)",
    "zero page,relative": "{n1},{e2}",
}
PUSHES = {**nmos.PUSHES, "PHX": 1, "PHY": 1, "PLX": -1, "PLY": -1}
TARGETS = {"relative": "e1", "absolute": "w1", "call": "w1", "zero page,relative": "e2"}


def undocumented_lengths(documented: frozenset[int]) -> dict[int, int]:
    """Length of every other opcode."""
    return {code: _BLANK_LENGTHS.get(code, 1) for code in range(256) if code not in documented}


def _flow(name: str, mode: str) -> str:
    if mode in ("relative", "zero page,relative"):
        return "jump" if name == "BRA" else "branch"
    return "jump indirect" if mode in ("indirect", "(absolute,X)") else nmos.FLOW.get(name, "next")


def _access(name: str, mode: str) -> tuple[str, str]:
    access = ACCESS_OF.get(name, "none")
    if mode == "accumulator":
        access = "accumulator"
    elif mode == "immediate":
        access = "none"
    elif mode == "absolute,X" and name in ("DEC", "INC"):
        access = "modify always"
    frames = INDEXED_ACCESS if mode in INDEXED and access != "none" else ACCESS
    return frames[access]


def rows(names: frozenset[str]) -> dict[int, Row]:
    """Every opcode that all makers' parts have; `names`: registers and flags."""
    found: dict[int, Row] = {}
    for name, modes in OPCODES.items():
        for mode, code in modes.items():
            before, after = _access(name, mode)
            flags = nmos.SIGN_AND_ZERO if name in WITH_SIGN_AND_ZERO else ""
            last = "\n".join(part for part in (flags, after) if part)
            work = OPERATIONS["BIT #"] if (name, mode) == ("BIT", "immediate") else OPERATIONS[name]
            flow = _flow(name, mode)
            target = TARGETS.get(mode, "") if flow in ("branch", "jump", "call") else ""
            found[code] = make_row(
                code,
                name,
                mode,
                LENGTHS[mode],
                (OPERANDS[mode], MODES[mode], before, work, last),
                flow,
                names,
                operand=STEMS[mode],
                target=target,
                pushes=PUSHES.get(name, 0),
            )
    return dict(sorted(found.items()))


def bit_rows(names: frozenset[str]) -> dict[int, Row]:
    """The opcodes on one bit of page zero: RMB, SMB, BBR, BBS."""
    found: dict[int, Row] = {}
    for number in range(8):
        for name, code, work in (
            (f"RMB{number}", 0x07 | number << 4, f"r = m & {0xFF ^ 1 << number}"),
            (f"SMB{number}", 0x87 | number << 4, f"r = m | {1 << number}"),
        ):
            mode = "zero page"
            stages = (OPERANDS[mode], MODES[mode], ACCESS["modify"][0], work, ACCESS["modify"][1])
            found[code] = make_row(code, name, mode, 2, stages, "next", names, operand=STEMS[mode])
        for name, code, work in (
            (f"BBR{number}", 0x0F | number << 4, f"t = bit(m, {number}) ^ 1"),
            (f"BBS{number}", 0x8F | number << 4, f"t = bit(m, {number})"),
        ):
            mode = "zero page,relative"
            stages = (OPERANDS[mode], MODES[mode], "", work, ACCESS["branch"][1])
            found[code] = make_row(code, name, mode, 3, stages, "branch", names, operand=STEMS[mode], target="e2")
    return dict(sorted(found.items()))
