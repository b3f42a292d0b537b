"""The documented 6800: what every opcode does, access by access.

Sources, none at hand as this was typed, so *from memory*: Motorola, *M6800 Programming Reference Manual*, M68PRM(D),
1976 (operations, Boolean formulae of the flags); MC6800 data sheet, table 8 (cycle by cycle operation).  The tests
walk the table against the manual's formulae typed a second time, a disassembly library and an assembler.

Every cycle of the bus counts one.  Cycles in which no valid memory address stands on the bus, or in which the next
opcode is read too early, touch nothing here.  CLR reads its operand before it writes, TST does not write, as in the
data sheet.  V is undefined behind DAA; it is taken as 0.  Flags are ``H I N Z V C``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.program._cpu import make_row

if TYPE_CHECKING:
    from latchlore.program._cpu import Row

REGISTERS: dict[str, int] = {"A": 8, "B": 8, "X": 16, "SP": 16}
FLAGS = ("H", "I", "N", "Z", "V", "C")
ENTRY_STACK = 0xEF00  # inside of what is RAM in many machines; an entry that sets its own does not care

FIND: dict[str, str] = {
    # mode: how the operand, or its address, is found
    "inherent": "",
    "immediate": "m = fetch()",
    "immediate 16": "hi = fetch()\nlo = fetch()\nv = (hi << 8) | lo",
    "direct": "ea = fetch()",
    "indexed": "ea = fetch()\ntick(2)\nea = (X + ea) & 0xFFFF",
    "extended": "hi = fetch()\nlo = fetch()\nea = (hi << 8) | lo",
    "relative": "b = fetch()\ntick(2)",
}
LENGTHS = {"inherent": 1, "immediate": 2, "immediate 16": 3, "direct": 2, "indexed": 2, "extended": 3, "relative": 2}
OPERANDS = {
    "inherent": "",
    "immediate": "#{n1}",
    "immediate 16": "#{w1}",
    "direct": "{n1}",
    "indexed": "{n1},X",
    "extended": "{w1}",
    "relative": "{e1}",
}
_READ = "m = rd(ea)"
_READ_WORD = "hi = rd(ea)\nlo = rd((ea + 1) & 0xFFFF)\nv = (hi << 8) | lo"
_WRITE_WORD = "wr(ea, v >> 8)\nwr((ea + 1) & 0xFFFF, v & 0xFF)"
_SIGN = "N = bit(r, 7)\nZ = zero(r)"
_LOGIC = f"{_SIGN}\nV = 0"
_SUM = f"r = s & 0xFF\n{_SIGN}\nV = bit((a ^ s) & (m ^ s), 7)\nC = bit(s, 8)"
_DIFFERENCE = f"r = s & 0xFF\n{_SIGN}\nV = bit((a ^ m) & (a ^ s), 7)\nC = bit(s, 8)"
_SHIFT = f"{_SIGN}\nV = bit(r, 7) ^ C"
SHARED = (_SIGN,)

# accumulator operations: low four bits of the opcode, name, text on a and m, whether r goes back
ACCUMULATOR: tuple[tuple[int, str, str, bool], ...] = (
    (0x0, "SUB", f"s = a - m\n{_DIFFERENCE}", True),
    (0x1, "CMP", f"s = a - m\n{_DIFFERENCE}", False),
    (0x2, "SBC", f"s = a - m - C\n{_DIFFERENCE}", True),
    (0x4, "AND", f"r = a & m\n{_LOGIC}", True),
    (0x5, "BIT", f"r = a & m\n{_LOGIC}", False),
    (0x6, "LDA", f"r = m\n{_LOGIC}", True),
    (0x8, "EOR", f"r = a ^ m\n{_LOGIC}", True),
    (0x9, "ADC", f"s = a + m + C\nH = bit(a ^ m ^ s, 4)\n{_SUM}", True),
    (0xA, "ORA", f"r = a | m\n{_LOGIC}", True),
    (0xB, "ADD", f"s = a + m\nH = bit(a ^ m ^ s, 4)\n{_SUM}", True),
)
# operations on an accumulator or a cell: low four bits of the opcode, name, text on m
MODIFY: tuple[tuple[int, str, str], ...] = (
    (0x0, "NEG", f"s = 0 - m\nr = s & 0xFF\n{_SIGN}\nV = zero(r ^ 0x80)\nC = bit(s, 8)"),
    (0x3, "COM", f"r = m ^ 0xFF\n{_LOGIC}\nC = 1"),
    (0x4, "LSR", f"r = m >> 1\nC = m & 1\n{_SHIFT}"),
    (0x6, "ROR", f"r = (m >> 1) | (C << 7)\nC = m & 1\n{_SHIFT}"),
    (0x7, "ASR", f"r = (m >> 1) | (m & 0x80)\nC = m & 1\n{_SHIFT}"),
    (0x8, "ASL", f"r = (m << 1) & 0xFF\nC = bit(m, 7)\n{_SHIFT}"),
    (0x9, "ROL", f"r = ((m << 1) | C) & 0xFF\nC = bit(m, 7)\n{_SHIFT}"),
    (0xA, "DEC", f"r = (m - 1) & 0xFF\n{_SIGN}\nV = zero(m ^ 0x80)"),
    (0xC, "INC", f"r = (m + 1) & 0xFF\n{_SIGN}\nV = zero(m ^ 0x7F)"),
    (0xD, "TST", f"r = m\n{_LOGIC}\nC = 0"),
    (0xF, "CLR", "r = 0\nN = 0\nZ = 1\nV = 0\nC = 0"),
)
# branches: low four bits of the opcode (20h and up), name, condition
BRANCHES: tuple[tuple[int, str, str], ...] = (
    (0x0, "BRA", "1"),
    (0x2, "BHI", "(C | Z) ^ 1"),
    (0x3, "BLS", "C | Z"),
    (0x4, "BCC", "C ^ 1"),
    (0x5, "BCS", "C"),
    (0x6, "BNE", "Z ^ 1"),
    (0x7, "BEQ", "Z"),
    (0x8, "BVC", "V ^ 1"),
    (0x9, "BVS", "V"),
    (0xA, "BPL", "N ^ 1"),
    (0xB, "BMI", "N"),
    (0xC, "BGE", "N ^ V ^ 1"),
    (0xD, "BLT", "N ^ V"),
    (0xE, "BGT", "(Z | (N ^ V)) ^ 1"),
    (0xF, "BLE", "Z | (N ^ V)"),
)
_PACK = "0xC0 | (H << 5) | (I << 4) | (N << 3) | (Z << 2) | (V << 1) | C"
_UNPACK = "H = bit(f, 5)\nI = bit(f, 4)\nN = bit(f, 3)\nZ = bit(f, 2)\nV = bit(f, 1)\nC = f & 1"
DECIMAL = f"g = C | gt(A, 0x99)\ns = A + 6 * (H | gt(A & 0x0F, 9)) + 0x60 * g\nr = s & 0xFF\n{_LOGIC}\nC = g\nA = r"
# inherent opcodes: opcode, name, text, cycles beyond two
INHERENT: tuple[tuple[int, str, str, int], ...] = (
    (0x01, "NOP", "", 0),
    (0x06, "TAP", f"f = A\n{_UNPACK}", 0),
    (0x07, "TPA", f"A = {_PACK}", 0),
    (0x08, "INX", "X = (X + 1) & 0xFFFF\nZ = zero(X)", 2),
    (0x09, "DEX", "X = (X - 1) & 0xFFFF\nZ = zero(X)", 2),
    (0x0A, "CLV", "V = 0", 0),
    (0x0B, "SEV", "V = 1", 0),
    (0x0C, "CLC", "C = 0", 0),
    (0x0D, "SEC", "C = 1", 0),
    (0x0E, "CLI", "I = 0", 0),
    (0x0F, "SEI", "I = 1", 0),
    (0x10, "SBA", f"a = A\nm = B\ns = a - m\n{_DIFFERENCE}\nA = r", 0),
    (0x11, "CBA", f"a = A\nm = B\ns = a - m\n{_DIFFERENCE}", 0),
    (0x16, "TAB", f"r = A\n{_LOGIC}\nB = r", 0),
    (0x17, "TBA", f"r = B\n{_LOGIC}\nA = r", 0),
    (0x19, "DAA", DECIMAL, 0),
    (0x1B, "ABA", f"a = A\nm = B\ns = a + m\nH = bit(a ^ m ^ s, 4)\n{_SUM}\nA = r", 0),
    (0x30, "TSX", "X = (SP + 1) & 0xFFFF", 2),
    (0x31, "INS", "SP = (SP + 1) & 0xFFFF", 2),
    (0x34, "DES", "SP = (SP - 1) & 0xFFFF", 2),
    (0x35, "TXS", "SP = (X - 1) & 0xFFFF", 2),
    (0x3E, "WAI", "", 7),
)
_CALL = "wr(SP, PC & 0xFF)\nwr((SP - 1) & 0xFFFF, PC >> 8)\nSP = (SP - 2) & 0xFFFF\n"
_SAVED = ("PC & 0xFF", "PC >> 8", "X & 0xFF", "X >> 8", "A", "B", _PACK)  # in the order in which they are pushed


def _ticks(count: int, text: str = "") -> str:
    return "\n".join(part for part in (f"tick({count})" if count else "", text) if part)


class _Rows:
    """Collects rows."""

    def __init__(self, names: frozenset[str]) -> None:
        self.names = names
        self.found: dict[int, Row] = {}

    def add(
        self, code: int, name: str, mode: str, *stages: str, flow: str = "next", target: str = "", pushes: int = 0
    ) -> None:
        """A row: behind the finding come reach, take, work and store; take and work are one stage."""
        reach, take, work, store = (*stages, "", "", "", "")[:4]
        four = (FIND[mode], reach, "\n".join(part for part in (take, work) if part), store)
        self.found[code] = make_row(
            code,
            name,
            mode,
            LENGTHS[mode],
            four,
            flow,
            self.names,
            operand=OPERANDS[mode],
            target=target,
            pushes=pushes,
        )

    def accumulators(self) -> None:
        """Operations of an accumulator and an operand."""
        modes = ((0x00, "immediate"), (0x10, "direct"), (0x20, "indexed"), (0x30, "extended"))
        for base, register in ((0x80, "A"), (0xC0, "B")):
            take = f"a = {register}"
            for low, name, text, goes_back in ACCUMULATOR:
                store = f"{register} = r" if goes_back else ""
                for step, mode in modes:
                    reach = "" if mode == "immediate" else _READ
                    self.add(
                        base | step | low, name + register, mode, reach, "" if name == "LDA" else take, text, store
                    )
            for step, mode in modes[1:]:
                self.add(base | step | 7, f"STA{register}", mode, "tick(1)", take, f"r = a\n{_LOGIC}", "wr(ea, r)")

    def words(self) -> None:
        """Loads, stores and the comparison of 16-bit registers."""
        flags = "N = bit(v, 15)\nZ = zero(v)\nV = 0"
        # N and V come from the high bytes alone, without a borrow from the low ones, as the manual's formulae have it
        compare = "s = (X >> 8) - (v >> 8)\nN = bit(s, 7)\nV = bit(((X ^ v) & (X ^ (s << 8))), 15)\nZ = zero(X ^ v)"
        modes = ((0x00, "immediate 16"), (0x10, "direct"), (0x20, "indexed"), (0x30, "extended"))
        for step, mode in modes:
            reach = "" if mode == "immediate 16" else _READ_WORD
            self.add(0x8C | step, "CPX", mode, reach, "", compare)
            self.add(0x8E | step, "LDS", mode, reach, "", flags, "SP = v")
            self.add(0xCE | step, "LDX", mode, reach, "", flags, "X = v")
        for step, mode in modes[1:]:
            self.add(0x8F | step, "STS", mode, "tick(1)", "v = SP", flags, _WRITE_WORD)
            self.add(0xCF | step, "STX", mode, "tick(1)", "v = X", flags, _WRITE_WORD)

    def modifies(self) -> None:
        """Operations on one accumulator or cell."""
        for low, name, text in MODIFY:
            for base, register in ((0x40, "A"), (0x50, "B")):
                store = "" if name == "TST" else f"{register} = r"
                self.add(base | low, name + register, "inherent", _ticks(1), f"m = {register}", text, store)
            for base, mode in ((0x60, "indexed"), (0x70, "extended")):
                store = "tick(1)" if name == "TST" else "wr(ea, r)"
                self.add(base | low, name, mode, f"{_READ}\ntick(1)", "", text, store)

    def inherent(self) -> None:
        """Opcodes without an operand."""
        for code, name, text, more in INHERENT:
            flow = "halt" if name == "WAI" else "next"
            self.add(code, name, "inherent", _ticks(1 + more), "", text, flow=flow)
        for k, register in enumerate("AB"):
            push = f"wr(SP, {register})\nSP = (SP - 1) & 0xFFFF"
            pull = "r = rd((SP + 1) & 0xFFFF)\nSP = (SP + 1) & 0xFFFF"
            self.add(0x36 | k, f"PSH{register}", "inherent", "tick(2)", "", push, pushes=1)
            self.add(0x32 | k, f"PUL{register}", "inherent", "tick(2)", "", pull, f"{register} = r", pushes=-1)
        save = "\n".join(f"wr((SP - {k}) & 0xFFFF, {value})" for k, value in enumerate(_SAVED))
        vector = "hi = rd(0xFFFA)\nlo = rd(0xFFFB)\nSP = (SP - 7) & 0xFFFF\nI = 1\nPC = (hi << 8) | lo"
        self.add(0x3F, "SWI", "inherent", "tick(2)", "", f"{save}\n{vector}", flow="interrupt")
        names = ("f", "b", "a", "hi", "lo", "r", "m")
        back = "\n".join(f"{name} = rd((SP + {k + 1}) & 0xFFFF)" for k, name in enumerate(names))
        after = f"SP = (SP + 7) & 0xFFFF\nB = b\nA = a\nX = (hi << 8) | lo\nPC = (r << 8) | m\n{_UNPACK}"
        self.add(0x3B, "RTI", "inherent", "tick(2)", "", f"{back}\n{after}", flow="return interrupt")

    def flow(self) -> None:
        """Branches, jumps, calls, returns."""
        jump = "if t:\n    PC = (PC + b - ((b & 0x80) << 1)) & 0xFFFF"
        for low, name, test in BRANCHES:
            flow = "jump" if name == "BRA" else "branch"
            self.add(0x20 | low, name, "relative", "", "", f"t = {test}", jump, flow=flow, target="e1")
        self.add(0x6E, "JMP", "indexed", "", "", "PC = ea", flow="jump indirect")
        self.add(0x7E, "JMP", "extended", "", "", "PC = ea", flow="jump", target="w1")
        self.add(0xAD, "JSR", "indexed", "", "", f"{_CALL}tick(2)\nPC = ea", flow="call")
        self.add(0xBD, "JSR", "extended", "tick(1)", "", f"{_CALL}tick(3)\nPC = ea", flow="call", target="w1")
        call = f"{_CALL}tick(2)\nPC = (PC + b - ((b & 0x80) << 1)) & 0xFFFF"
        self.add(0x8D, "BSR", "relative", "", "", call, flow="call", target="e1")
        back = "hi = rd((SP + 1) & 0xFFFF)\nlo = rd((SP + 2) & 0xFFFF)\nSP = (SP + 2) & 0xFFFF\nPC = (hi << 8) | lo"
        self.add(0x39, "RTS", "inherent", "tick(2)", "", back, flow="return")


def rows(names: frozenset[str]) -> dict[int, Row]:
    """Every documented opcode; `names`: registers and flags."""
    made = _Rows(names)
    made.accumulators()
    made.words()
    made.modifies()
    made.inherent()
    made.flow()
    return dict(sorted(made.found.items()))


# Lengths of the opcodes that the manual leaves blank: the length of their documented neighbours, by the high digit
# (*from memory*; what they do is not known here).
_BLANK_LENGTHS = (1, 1, 2, 1, 1, 1, 2, 3, 2, 2, 2, 3, 2, 2, 2, 3)


def undocumented_lengths(documented: frozenset[int]) -> dict[int, int]:
    """Length of every other opcode."""
    return {code: _BLANK_LENGTHS[code >> 4] for code in range(256) if code not in documented}
