"""The documented NMOS 6502: what every opcode does, access by access.

Sources: MOS Technology, *MCS6500 Microcomputer Family Programming Manual*, publication 6500-50A, second edition,
January 1976 (operations, flags, appendix A: opcodes and cycle by cycle operation); decimal mode of the NMOS part
outside of what that manual promises *from memory*.  The whole table is walked against single-step vectors of every
opcode in the tests.

Each access of the bus is one cycle, so cycles are not listed: they are counted.  The texts are in the small language
that `latchlore.program._language` defines.  Registers are ``A X Y S``, flags ``N V D I Z C`` (each 0 or 1), and ``PC``.

The order of a row's parts: mode (finds the operand), operation, access (how the operand is reached).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.program._cpu import make_row

if TYPE_CHECKING:
    from latchlore.program._cpu import Row

REGISTERS = ("A", "X", "Y", "S")
FLAGS = ("N", "V", "D", "I", "Z", "C")

ENTRY_STACK = 0xDF  # a stack pointer with room on both sides; code that sets its own does not care

OPERANDS: dict[str, str] = {
    # mode: how the bytes behind the opcode are fetched
    **dict.fromkeys(("implied", "accumulator"), "dummy(PC)"),
    **dict.fromkeys(
        ("immediate", "zero page", "zero page,X", "zero page,Y", "(indirect,X)", "(indirect),Y", "relative", "break"),
        "b = fetch()",
    ),
    **dict.fromkeys(("absolute", "absolute,X", "absolute,Y", "indirect"), "b = fetch()\nhi = fetch()"),
    "call": "",  # the operation fetches its own operand: the push comes between the two bytes
}
MODES: dict[str, str] = {
    # mode: how the operand's address `ea`, or the operand `m` itself, is found; a pointer in page zero stays there
    "implied": "",
    "accumulator": "m = A",
    "immediate": "m = b",
    "zero page": "ea = b",
    "zero page,X": "dummy(b)\nea = (b + X) & 0xFF",
    "zero page,Y": "dummy(b)\nea = (b + Y) & 0xFF",
    "absolute": "ea = (hi << 8) | b",
    "absolute,X": "ea = ((hi << 8) + b + X) & 0xFFFF\nun = (hi << 8) | ((b + X) & 0xFF)\ncross = gt(b + X, 0xFF)",
    "absolute,Y": "ea = ((hi << 8) + b + Y) & 0xFFFF\nun = (hi << 8) | ((b + Y) & 0xFF)\ncross = gt(b + Y, 0xFF)",
    "(indirect,X)": "dummy(b)\nlo = rd((b + X) & 0xFF)\nhi = rd((b + X + 1) & 0xFF)\nea = (hi << 8) | lo",
    "(indirect),Y": "lo = rd(b)\nhi = rd((b + 1) & 0xFF)\nea = ((hi << 8) + lo + Y) & 0xFFFF\n"
    "un = (hi << 8) | ((lo + Y) & 0xFF)\ncross = gt(lo + Y, 0xFF)",
    "indirect": "lo = rd((hi << 8) | b)\nhi = rd((hi << 8) | ((b + 1) & 0xFF))\nea = (hi << 8) | lo",
    "relative": "",
    "call": "",
    "break": "",
}
INDEXED = frozenset({"absolute,X", "absolute,Y", "(indirect),Y"})
LENGTHS: dict[str, int] = {
    "implied": 1,
    "accumulator": 1,
    "immediate": 2,
    "zero page": 2,
    "zero page,X": 2,
    "zero page,Y": 2,
    "absolute": 3,
    "absolute,X": 3,
    "absolute,Y": 3,
    "(indirect,X)": 2,
    "(indirect),Y": 2,
    "indirect": 3,
    "relative": 2,
    "call": 3,
    "break": 2,
}

# access: text before the operation, text after it; for indexed modes and for the others
ACCESS: dict[str, tuple[str, str]] = {
    "none": ("", ""),
    "read": ("m = rd(ea)", ""),
    "write": ("", "wr(ea, r)"),
    "modify": ("m = rd(ea)\nwr(ea, m)", "wr(ea, r)"),  # the NMOS part writes the old value back first
    "accumulator": ("", "A = r"),
    "branch": (
        "",
        "if t:\n    dummy(PC)\n    target = (PC + b - ((b & 0x80) << 1)) & 0xFFFF\n"
        "    if (target ^ PC) & 0xFF00:\n        dummy((PC & 0xFF00) | (target & 0xFF))\n    PC = target",
    ),
}
INDEXED_ACCESS: dict[str, tuple[str, str]] = {
    "read": ("penalty(cross, un)\nm = rd(ea)", ""),
    "write": ("dummy(un)", "wr(ea, r)"),
    "modify": ("dummy(un)\nm = rd(ea)\nwr(ea, m)", "wr(ea, r)"),
}

# The flags N and Z follow the result `r` of these operations.
SIGN_AND_ZERO = "N = bit(r, 7)\nZ = zero(r)"
WITH_SIGN_AND_ZERO = frozenset(
    (
        *("AND", "ASL", "CMP", "CPX", "CPY", "DEC", "DEX", "DEY", "EOR", "INC", "INX", "INY", "LDA", "LDX", "LDY"),
        *("LSR", "ORA", "PLA", "ROL", "ROR", "TAX", "TAY", "TSX", "TXA", "TYA"),
    )
)
_PACK = "(N << 7) | (V << 6) | 0x30 | (D << 3) | (I << 2) | (Z << 1) | C"
_UNPACK = "N = bit(f, 7)\nV = bit(f, 6)\nD = bit(f, 3)\nI = bit(f, 2)\nZ = bit(f, 1)\nC = f & 1"

OPERATIONS: dict[str, str] = {
    "ADC": (
        "s = A + m + C\nZ = zero(s & 0xFF)\n"
        "if D:\n"
        "    lo = (A & 0x0F) + (m & 0x0F) + C\n    g = gt(lo, 9)\n    lo = ((lo + 6 * g) & 0x0F) | (g << 4)\n"
        "    s = (A & 0xF0) + (m & 0xF0) + lo\n    N = bit(s, 7)\n    V = bit((A ^ s) & ~(A ^ m), 7)\n"
        "    s = s + 0x60 * gt(s, 0x9F)\n"
        "else:\n"
        "    N = bit(s, 7)\n    V = bit((A ^ s) & ~(A ^ m), 7)\n"
        "C = gt(s, 0xFF)\nA = s & 0xFF"
    ),
    "AND": "r = A & m\nA = r",
    "ASL": "C = bit(m, 7)\nr = (m << 1) & 0xFF",
    "BCC": "t = C ^ 1",
    "BCS": "t = C",
    "BEQ": "t = Z",
    "BIT": "N = bit(m, 7)\nV = bit(m, 6)\nZ = zero(A & m)",
    "BMI": "t = N",
    "BNE": "t = Z ^ 1",
    "BPL": "t = N ^ 1",
    "BRK": (
        "wr(0x100 | S, PC >> 8)\nwr(0x100 | ((S - 1) & 0xFF), PC & 0xFF)\n"
        f"wr(0x100 | ((S - 2) & 0xFF), {_PACK})\n"
        "lo = rd(0xFFFE)\nhi = rd(0xFFFF)\nS = (S - 3) & 0xFF\nI = 1\nPC = (hi << 8) | lo"
    ),
    "BVC": "t = V ^ 1",
    "BVS": "t = V",
    "CLC": "C = 0",
    "CLD": "D = 0",
    "CLI": "I = 0",
    "CLV": "V = 0",
    "CMP": "r = (A - m) & 0xFF\nC = gt(A + 1, m)",
    "CPX": "r = (X - m) & 0xFF\nC = gt(X + 1, m)",
    "CPY": "r = (Y - m) & 0xFF\nC = gt(Y + 1, m)",
    "DEC": "r = (m - 1) & 0xFF",
    "DEX": "r = (X - 1) & 0xFF\nX = r",
    "DEY": "r = (Y - 1) & 0xFF\nY = r",
    "EOR": "r = A ^ m\nA = r",
    "INC": "r = (m + 1) & 0xFF",
    "INX": "r = (X + 1) & 0xFF\nX = r",
    "INY": "r = (Y + 1) & 0xFF\nY = r",
    "JMP": "PC = ea",
    "JSR": (
        "lo = fetch()\ndummy(0x100 | S)\n"
        "wr(0x100 | S, PC >> 8)\nwr(0x100 | ((S - 1) & 0xFF), PC & 0xFF)\n"
        "hi = fetch()\nS = (S - 2) & 0xFF\nPC = (hi << 8) | lo"
    ),
    "LDA": "r = m\nA = r",
    "LDX": "r = m\nX = r",
    "LDY": "r = m\nY = r",
    "LSR": "C = m & 1\nr = m >> 1",
    "NOP": "",
    "ORA": "r = A | m\nA = r",
    "PHA": "wr(0x100 | S, A)\nS = (S - 1) & 0xFF",
    "PHP": f"wr(0x100 | S, {_PACK})\nS = (S - 1) & 0xFF",
    "PLA": "dummy(0x100 | S)\nr = rd(0x100 | ((S + 1) & 0xFF))\nS = (S + 1) & 0xFF\nA = r",
    "PLP": "dummy(0x100 | S)\nf = rd(0x100 | ((S + 1) & 0xFF))\nS = (S + 1) & 0xFF\n" + _UNPACK,
    "ROL": "r = ((m << 1) | C) & 0xFF\nC = bit(m, 7)",
    "ROR": "r = (m >> 1) | (C << 7)\nC = m & 1",
    "RTI": (
        "dummy(0x100 | S)\nf = rd(0x100 | ((S + 1) & 0xFF))\nlo = rd(0x100 | ((S + 2) & 0xFF))\n"
        "hi = rd(0x100 | ((S + 3) & 0xFF))\nS = (S + 3) & 0xFF\nPC = (hi << 8) | lo\n" + _UNPACK
    ),
    "RTS": (
        "dummy(0x100 | S)\nlo = rd(0x100 | ((S + 1) & 0xFF))\nhi = rd(0x100 | ((S + 2) & 0xFF))\n"
        "b = (hi << 8) | lo\ndummy(b)\nS = (S + 2) & 0xFF\nPC = (b + 1) & 0xFFFF"
    ),
    "SBC": (
        "s = A - m - 1 + C\nN = bit(s, 7)\nV = bit((A ^ m) & (A ^ s), 7)\nZ = zero(s & 0xFF)\n"
        "if D:\n"
        "    lo = (A & 0x0F) - (m & 0x0F) + C - 1\n    g = gt(0, lo)\n    lo = ((lo - 6 * g) & 0x0F) - (g << 4)\n"
        "    C = gt(s, -1)\n    s = (A & 0xF0) - (m & 0xF0) + lo\n    s = s - 0x60 * gt(0, s)\n"
        "else:\n"
        "    C = gt(s, -1)\n"
        "A = s & 0xFF"
    ),
    "SEC": "C = 1",
    "SED": "D = 1",
    "SEI": "I = 1",
    "STA": "r = A",
    "STX": "r = X",
    "STY": "r = Y",
    "TAX": "r = A\nX = r",
    "TAY": "r = A\nY = r",
    "TSX": "r = S\nX = r",
    "TXA": "r = X\nA = r",
    "TXS": "S = X",
    "TYA": "r = Y\nA = r",
}

# How each operation reaches its operand; those not listed reach none.
ACCESS_OF: dict[str, str] = {
    **dict.fromkeys(("ADC", "AND", "BIT", "CMP", "CPX", "CPY", "EOR", "LDA", "LDX", "LDY", "ORA", "SBC"), "read"),
    **dict.fromkeys(("STA", "STX", "STY"), "write"),
    **dict.fromkeys(("ASL", "DEC", "INC", "LSR", "ROL", "ROR"), "modify"),
    **dict.fromkeys(("BCC", "BCS", "BEQ", "BMI", "BNE", "BPL", "BVC", "BVS"), "branch"),
}

# operation: opcode of each mode (manual, appendix B)
_BY_MODE = ("immediate", "zero page", "zero page,X", "absolute", "absolute,X", "absolute,Y", "(indirect,X)")
_EIGHT = (*_BY_MODE, "(indirect),Y")
OPCODES: dict[str, dict[str, int]] = {
    "ADC": dict(zip(_EIGHT, (0x69, 0x65, 0x75, 0x6D, 0x7D, 0x79, 0x61, 0x71), strict=True)),
    "AND": dict(zip(_EIGHT, (0x29, 0x25, 0x35, 0x2D, 0x3D, 0x39, 0x21, 0x31), strict=True)),
    "ASL": {"accumulator": 0x0A, "zero page": 0x06, "zero page,X": 0x16, "absolute": 0x0E, "absolute,X": 0x1E},
    "BCC": {"relative": 0x90},
    "BCS": {"relative": 0xB0},
    "BEQ": {"relative": 0xF0},
    "BIT": {"zero page": 0x24, "absolute": 0x2C},
    "BMI": {"relative": 0x30},
    "BNE": {"relative": 0xD0},
    "BPL": {"relative": 0x10},
    "BRK": {"break": 0x00},
    "BVC": {"relative": 0x50},
    "BVS": {"relative": 0x70},
    "CLC": {"implied": 0x18},
    "CLD": {"implied": 0xD8},
    "CLI": {"implied": 0x58},
    "CLV": {"implied": 0xB8},
    "CMP": dict(zip(_EIGHT, (0xC9, 0xC5, 0xD5, 0xCD, 0xDD, 0xD9, 0xC1, 0xD1), strict=True)),
    "CPX": {"immediate": 0xE0, "zero page": 0xE4, "absolute": 0xEC},
    "CPY": {"immediate": 0xC0, "zero page": 0xC4, "absolute": 0xCC},
    "DEC": {"zero page": 0xC6, "zero page,X": 0xD6, "absolute": 0xCE, "absolute,X": 0xDE},
    "DEX": {"implied": 0xCA},
    "DEY": {"implied": 0x88},
    "EOR": dict(zip(_EIGHT, (0x49, 0x45, 0x55, 0x4D, 0x5D, 0x59, 0x41, 0x51), strict=True)),
    "INC": {"zero page": 0xE6, "zero page,X": 0xF6, "absolute": 0xEE, "absolute,X": 0xFE},
    "INX": {"implied": 0xE8},
    "INY": {"implied": 0xC8},
    "JMP": {"absolute": 0x4C, "indirect": 0x6C},
    "JSR": {"call": 0x20},
    "LDA": dict(zip(_EIGHT, (0xA9, 0xA5, 0xB5, 0xAD, 0xBD, 0xB9, 0xA1, 0xB1), strict=True)),
    "LDX": {"immediate": 0xA2, "zero page": 0xA6, "zero page,Y": 0xB6, "absolute": 0xAE, "absolute,Y": 0xBE},
    "LDY": {"immediate": 0xA0, "zero page": 0xA4, "zero page,X": 0xB4, "absolute": 0xAC, "absolute,X": 0xBC},
    "LSR": {"accumulator": 0x4A, "zero page": 0x46, "zero page,X": 0x56, "absolute": 0x4E, "absolute,X": 0x5E},
    "NOP": {"implied": 0xEA},
    "ORA": dict(zip(_EIGHT, (0x09, 0x05, 0x15, 0x0D, 0x1D, 0x19, 0x01, 0x11), strict=True)),
    "PHA": {"implied": 0x48},
    "PHP": {"implied": 0x08},
    "PLA": {"implied": 0x68},
    "PLP": {"implied": 0x28},
    "ROL": {"accumulator": 0x2A, "zero page": 0x26, "zero page,X": 0x36, "absolute": 0x2E, "absolute,X": 0x3E},
    "ROR": {"accumulator": 0x6A, "zero page": 0x66, "zero page,X": 0x76, "absolute": 0x6E, "absolute,X": 0x7E},
    "RTI": {"implied": 0x40},
    "RTS": {"implied": 0x60},
    "SBC": dict(zip(_EIGHT, (0xE9, 0xE5, 0xF5, 0xED, 0xFD, 0xF9, 0xE1, 0xF1), strict=True)),
    "SEC": {"implied": 0x38},
    "SED": {"implied": 0xF8},
    "SEI": {"implied": 0x78},
    "STA": dict(zip(_EIGHT[1:], (0x85, 0x95, 0x8D, 0x9D, 0x99, 0x81, 0x91), strict=True)),
    "STX": {"zero page": 0x86, "zero page,Y": 0x96, "absolute": 0x8E},
    "STY": {"zero page": 0x84, "zero page,X": 0x94, "absolute": 0x8C},
    "TAX": {"implied": 0xAA},
    "TAY": {"implied": 0xA8},
    "TSX": {"implied": 0xBA},
    "TXA": {"implied": 0x8A},
    "TXS": {"implied": 0x9A},
    "TYA": {"implied": 0x98},
}

# Lengths of the opcodes that the manual leaves blank: by column of the opcode table (its low five bits), *from
# memory*.  They follow the addressing of their documented neighbours in the column.  Bit patterns that stop the
# processor are marked 0.
_UNDOCUMENTED_STOP = frozenset((0x02, 0x12, 0x22, 0x32, 0x42, 0x52, 0x62, 0x72, 0x92, 0xB2, 0xD2, 0xF2))
_UNDOCUMENTED_COLUMN = {
    0x00: 2, 0x02: 2, 0x03: 2, 0x04: 2, 0x07: 2, 0x09: 2, 0x0B: 2, 0x0C: 3, 0x0F: 3,
    0x13: 2, 0x14: 2, 0x17: 2, 0x1A: 1, 0x1B: 3, 0x1C: 3, 0x1E: 3, 0x1F: 3,
}  # fmt: skip


def undocumented_lengths() -> dict[int, int]:
    """Length of every opcode that the manual leaves blank; 1 for those that stop the processor."""
    documented = {code for modes in OPCODES.values() for code in modes.values()}
    blank = [code for code in range(256) if code not in documented]
    return {code: 1 if code in _UNDOCUMENTED_STOP else _UNDOCUMENTED_COLUMN[code & 0x1F] for code in blank}


def stopping_opcodes() -> frozenset[int]:
    """The undocumented opcodes that stop the processor."""
    return _UNDOCUMENTED_STOP


STEMS: dict[str, str] = {
    # how the maker's assembler writes the operand (see `Row.operand`)
    "implied": "",
    "accumulator": "A",
    "immediate": "#{n1}",
    "zero page": "{n1}",
    "zero page,X": "{n1},X",
    "zero page,Y": "{n1},Y",
    "absolute": "{w1}",
    "absolute,X": "{w1},X",
    "absolute,Y": "{w1},Y",
    "(indirect,X)": "({n1},X)",
    "(indirect),Y": "({n1}),Y",
    "indirect": "({w1})",
    "relative": "{e1}",
    "call": "{w1}",
    "break": "",
}
FLOW = {"JMP": "jump", "JSR": "call", "RTS": "return", "RTI": "return interrupt", "BRK": "interrupt"}
PUSHES = {"PHA": 1, "PHP": 1, "PLA": -1, "PLP": -1}
TARGETS = {"branch": "e1", "jump": "w1", "call": "w1"}


def _flow(name: str, mode: str) -> str:
    if mode == "relative":
        return "branch"
    return "jump indirect" if mode == "indirect" else FLOW.get(name, "next")


def rows(names: frozenset[str]) -> dict[int, Row]:
    """Every documented opcode; `names`: registers and flags."""
    found: dict[int, Row] = {}
    for name, modes in OPCODES.items():
        for mode, code in modes.items():
            access = ACCESS_OF.get(name, "none")
            if mode == "accumulator":
                access = "accumulator"
            elif mode == "immediate":
                access = "none"
            frames = INDEXED_ACCESS if mode in INDEXED and access != "none" else ACCESS
            before, after = frames[access]
            flags = SIGN_AND_ZERO if name in WITH_SIGN_AND_ZERO else ""
            last = "\n".join(part for part in (flags, after) if part)
            stages = (OPERANDS[mode], MODES[mode], before, OPERATIONS[name], last)
            flow = _flow(name, mode)
            found[code] = make_row(
                code,
                name,
                mode,
                LENGTHS[mode],
                stages,
                flow,
                names,
                operand=STEMS[mode],
                target=TARGETS.get(flow, ""),
                pushes=PUSHES.get(name, 0),
            )
    return dict(sorted(found.items()))
