"""The documented 6809: what every opcode does, access by access.

Sources, none at hand as this was typed, so *from memory*: Motorola, *MC6809-MC6809E Microprocessor Programming
Manual*, M6809PM/AD, 1981 (operations, flags, cycles, index bytes); MC6809 data sheet (order on the stack, cycle by
cycle operation).  The tests walk the table against an emulator, a disassembly library and the manuals' formulae.

Every cycle of the bus counts one; cycles in which the processor puts FFFF on the bus touch nothing here.  CLR reads
its operand before it writes, TST reads alone.  What the manual leaves undefined (H behind all but additions, V behind
DAA) stays as it is, V behind DAA is 0.  Flags are ``E F H I N Z V C``.

An opcode whose second byte says what it does has a number for each kind of such a byte (see `_numbers.py`), so that
each row names the registers that it uses and no others.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from latchlore.program._cpu import make_row
from latchlore.program._language import Footprint, footprint, parse_text
from latchlore.program.cpus.m6809 import _numbers as numbers

if TYPE_CHECKING:
    from latchlore.program._cpu import Row

REGISTERS: dict[str, int] = {**dict.fromkeys("AB", 8), **dict.fromkeys("XYUS", 16), "DP": 8}
FLAGS = ("E", "F", "H", "I", "N", "Z", "V", "C")
ENTRY_STACK = 0xEF00  # inside of what is RAM in many machines; an entry that sets its own does not care

_INDIRECT = (
    "\nif zero((d & 0x90) ^ 0x90):\n"
    "    hi = rd(ea)\n    lo = rd((ea + 1) & 0xFFFF)\n    tick(1)\n    ea = (hi << 8) | lo"
)
_PLAIN = (
    "tick(1)\nj = R\n"
    "if d & 0x80:\n"
    "    if d & 8:\n"
    "        hi = fetch()\n"
    "        if d & 1:\n"
    "            lo = fetch()\n            tick(2)\n            ea = (R + ((hi << 8) | lo)) & 0xFFFF\n"
    "        else:\n"
    "            ea = (R + hi - ((hi & 0x80) << 1)) & 0xFFFF\n"
    "    else:\n"
    "        ea = R\n"
    "        if zero(d & 4):\n"
    "            k = (d & 1) + 1\n            tick(k + 1)\n"
    "            if d & 2:\n                j = (R - k) & 0xFFFF\n                ea = j\n"
    "            else:\n                j = (R + k) & 0xFFFF\n"
    "else:\n"
    "    tick(1)\n    ea = (R + (d & 15) - (d & 16)) & 0xFFFF" + _INDIRECT
)
_BY_ACCUMULATOR = (
    "tick(1)\n"
    "if d & 8:\n"
    "    tick(4)\n    ea = (R + ((A << 8) | B)) & 0xFFFF\n"
    "else:\n"
    "    tick(1)\n"
    "    if d & 2:\n        ea = (R + A - ((A & 0x80) << 1)) & 0xFFFF\n"
    "    else:\n        ea = (R + B - ((B & 0x80) << 1)) & 0xFFFF" + _INDIRECT
)
_BY_PC = (
    "tick(1)\nhi = fetch()\n"
    "if d & 2:\n"
    "    lo = fetch()\n    ea = (hi << 8) | lo\n"
    "else:\n"
    "    if d & 1:\n        lo = fetch()\n        tick(3)\n        ea = (PC + ((hi << 8) | lo)) & 0xFFFF\n"
    "    else:\n        ea = (PC + hi - ((hi & 0x80) << 1)) & 0xFFFF" + _INDIRECT
)
INDEX: tuple[tuple[str, str], ...] = (
    # kind of index byte: how the address is found, what becomes of the index register
    *((_PLAIN.replace("R", one), f"{one} = j") for one in "XYUS"),
    *((_BY_ACCUMULATOR.replace("R", one), "") for one in "XYUS"),
    (_BY_PC, ""),
)
FIND: dict[str, str] = {
    # mode: how the operand, or its address, is found
    "inherent": "",
    "immediate": "m = fetch()",
    "immediate 16": "hi = fetch()\nlo = fetch()\nv = (hi << 8) | lo",
    "direct": "lo = fetch()\ntick(1)\nea = (DP << 8) | lo",
    "extended": "hi = fetch()\nlo = fetch()\ntick(1)\nea = (hi << 8) | lo",
    "relative": "lo = fetch()\ntick(1)\nt = lo - ((lo & 0x80) << 1)",
    "relative 16": "hi = fetch()\nlo = fetch()\nt = (hi << 8) | lo",
    "registers": "",
}
LENGTHS = {
    **dict.fromkeys(("immediate", "direct", "relative", "indexed", "registers"), 2),
    **dict.fromkeys(("immediate 16", "extended", "relative 16"), 3),
    "inherent": 1,
}
_READ = "m = rd(ea)"
_READ_WORD = "hi = rd(ea)\nlo = rd((ea + 1) & 0xFFFF)\nv = (hi << 8) | lo"
_WRITE_WORD = "wr(ea, v >> 8)\nwr((ea + 1) & 0xFFFF, v & 0xFF)"
_SIGN = "N = bit(r, 7)\nZ = zero(r)"
_LOGIC = f"{_SIGN}\nV = 0"
SHARED = (_SIGN, "N = bit(v, 15)\nZ = zero(v)", "X = j", "Y = j", "U = j", "S = j")
_SUM = f"r = s & 0xFF\n{_SIGN}\nV = bit((a ^ s) & (m ^ s), 7)\nC = bit(s, 8)"
_DIFFERENCE = f"r = s & 0xFF\n{_SIGN}\nV = bit((a ^ m) & (a ^ s), 7)\nC = bit(s, 8)"
_WORD_SIGN = "N = bit(v, 15)\nZ = zero(v)\nV = 0"
_WORD_DIFFERENCE = (
    "s = w - v\nV = bit((w ^ v) & (w ^ s), 15)\nC = bit(s, 16)\nv = s & 0xFFFF\nN = bit(v, 15)\nZ = zero(v)"
)
_WORD_SUM = "s = w + v\nV = bit((w ^ s) & (v ^ s), 15)\nC = bit(s, 16)\nv = s & 0xFFFF\nN = bit(v, 15)\nZ = zero(v)"
GET = {
    "D": "v = (A << 8) | B",
    **{one: f"v = {one}" for one in ("X", "Y", "U", "S", "PC", "A", "B", "DP")},
    "CC": "v = (E << 7) | (F << 6) | (H << 5) | (I << 4) | (N << 3) | (Z << 2) | (V << 1) | C",
}
PUT = {
    "D": "A = v >> 8\nB = v & 0xFF",
    **{one: f"{one} = v" for one in ("X", "Y", "U", "S", "PC", "A", "B", "DP")},
    "CC": "\n".join(f"{flag} = bit(v, {7 - k})" for k, flag in enumerate(FLAGS)),
}

# accumulator operations: low four bits of the opcode, name, text on a and m, whether r goes back
ACCUMULATOR: tuple[tuple[int, str, str, bool], ...] = (
    (0x0, "SUB", f"s = a - m\n{_DIFFERENCE}", True),
    (0x1, "CMP", f"s = a - m\n{_DIFFERENCE}", False),
    (0x2, "SBC", f"s = a - m - C\n{_DIFFERENCE}", True),
    (0x4, "AND", f"r = a & m\n{_LOGIC}", True),
    (0x5, "BIT", f"r = a & m\n{_LOGIC}", False),
    (0x6, "LD", f"r = m\n{_LOGIC}", True),
    (0x8, "EOR", f"r = a ^ m\n{_LOGIC}", True),
    (0x9, "ADC", f"s = a + m + C\nH = bit(a ^ m ^ s, 4)\n{_SUM}", True),
    (0xA, "OR", f"r = a | m\n{_LOGIC}", True),
    (0xB, "ADD", f"s = a + m\nH = bit(a ^ m ^ s, 4)\n{_SUM}", True),
)
# operations on an accumulator or a cell: low four bits of the opcode, name, text on m
MODIFY: tuple[tuple[int, str, str], ...] = (
    (0x0, "NEG", f"s = 0 - m\nr = s & 0xFF\n{_SIGN}\nV = zero(r ^ 0x80)\nC = bit(s, 8)"),
    (0x3, "COM", f"r = m ^ 0xFF\n{_LOGIC}\nC = 1"),
    (0x4, "LSR", f"r = m >> 1\nC = m & 1\n{_SIGN}"),
    (0x6, "ROR", f"r = (m >> 1) | (C << 7)\nC = m & 1\n{_SIGN}"),
    (0x7, "ASR", f"r = (m >> 1) | (m & 0x80)\nC = m & 1\n{_SIGN}"),
    (0x8, "ASL", f"r = (m << 1) & 0xFF\nC = bit(m, 7)\n{_SIGN}\nV = bit(r, 7) ^ C"),
    (0x9, "ROL", f"r = ((m << 1) | C) & 0xFF\nC = bit(m, 7)\n{_SIGN}\nV = bit(r, 7) ^ C"),
    (0xA, "DEC", f"r = (m - 1) & 0xFF\n{_SIGN}\nV = zero(m ^ 0x80)"),
    (0xC, "INC", f"r = (m + 1) & 0xFF\n{_SIGN}\nV = zero(m ^ 0x7F)"),
    (0xD, "TST", f"r = m\n{_LOGIC}"),
    (0xF, "CLR", "r = 0\nN = 0\nZ = 1\nV = 0\nC = 0"),
)
# operations on words: opcode with an immediate or (loads and stores) the column, register, kind
WORDS: tuple[tuple[int, str, str], ...] = (
    (0x083, "SUB", "D"),
    (0x08C, "CMP", "X"),
    (0x08E, "LD", "X"),
    (0x0C3, "ADD", "D"),
    (0x0CC, "LD", "D"),
    (0x0CE, "LD", "U"),
    (0x183, "CMP", "D"),
    (0x18C, "CMP", "Y"),
    (0x18E, "LD", "Y"),
    (0x1CE, "LD", "S"),
    (0x283, "CMP", "U"),
    (0x28C, "CMP", "S"),
)
STORES: tuple[tuple[int, str], ...] = ((0x08F, "X"), (0x0CD, "D"), (0x0CF, "U"), (0x18F, "Y"), (0x1CF, "S"))
BRANCHES: tuple[tuple[str, str], ...] = (
    # 20h and up; behind a prefix with a word
    ("RA", "1"),
    ("RN", "0"),
    ("HI", "(C | Z) ^ 1"),
    ("LS", "C | Z"),
    ("CC", "C ^ 1"),
    ("CS", "C"),
    ("NE", "Z ^ 1"),
    ("EQ", "Z"),
    ("VC", "V ^ 1"),
    ("VS", "V"),
    ("PL", "N ^ 1"),
    ("MI", "N"),
    ("GE", "N ^ V ^ 1"),
    ("LT", "N ^ V"),
    ("GT", "(Z | (N ^ V)) ^ 1"),
    ("LE", "Z | (N ^ V)"),
)
DECIMAL = f"g = C | gt(A, 0x99)\ns = A + 6 * (H | gt(A & 0x0F, 9)) + 0x60 * g\nr = s & 0xFF\n{_LOGIC}\nC = g\nA = r"
# inherent opcodes: opcode, name, text, cycles beyond one
INHERENT: tuple[tuple[int, str, str, int], ...] = (
    (0x12, "NOP", "", 1),
    (0x19, "DAA", DECIMAL, 1),
    (0x1D, "SEX", "A = 0xFF * bit(B, 7)\nN = bit(B, 7)\nZ = zero(B)", 1),
    (0x3A, "ABX", "X = (X + B) & 0xFFFF", 2),
    (0x3D, "MUL", "v = A * B\nA = v >> 8\nB = v & 0xFF\nZ = zero(v)\nC = bit(v, 7)", 10),
)
_CALL = "wr((S - 1) & 0xFFFF, PC & 0xFF)\nwr((S - 2) & 0xFFFF, PC >> 8)\nS = (S - 2) & 0xFFFF"
_BRANCH = "PC = (PC + t) & 0xFFFF"
# what the bits of the byte behind PSHS and the others stand for, bit 0 first; the other stack pointer is q
PUSHED: tuple[tuple[str, int], ...] = (
    ("CC", 1), ("A", 1), ("B", 1), ("DP", 1), ("X", 2), ("Y", 2), ("q", 2), ("PC", 2),
)  # fmt: skip


def _push_text() -> str:
    lines = []
    for k, (name, size) in reversed(list(enumerate(PUSHED))):
        lines.append(f"if d & {1 << k}:")
        if size == 2:
            lines += [
                f"    wr((p - 1) & 0xFFFF, {name} & 0xFF)",
                f"    wr((p - 2) & 0xFFFF, {name} >> 8)",
                "    p = p - 2",
            ]
        else:
            lines += [f"    {GET[name]}", "    wr((p - 1) & 0xFFFF, v)", "    p = p - 1"]
    return "\n".join(lines)


def _pull_text() -> str:
    lines = []
    for k, (name, size) in enumerate(PUSHED):
        lines.append(f"if d & {1 << k}:")
        if size == 2:
            lines += [
                "    hi = rd(p & 0xFFFF)",
                "    lo = rd((p + 1) & 0xFFFF)",
                f"    {_temporary(name)} = (hi << 8) | lo",
            ]
        else:
            lines.append(f"    {_temporary(name)} = rd(p & 0xFFFF)")
        lines.append(f"    p = p + {size}")
    return "\n".join(lines)


def _temporary(name: str) -> str:
    return f"t_{name.lower()}"


def _pulled(stack: str) -> str:
    other = "S" if stack == "U" else "U"
    lines = [f"{stack} = p & 0xFFFF"]
    for k, (name, _) in enumerate(PUSHED):
        target = other if name == "q" else name
        put = PUT[target].replace("v", _temporary(name)).split("\n")
        lines += [f"if d & {1 << k}:", *(f"    {line}" for line in put)]
    return "\n".join(lines)


class _Rows:
    """Collects rows."""

    def __init__(self, names: frozenset[str]) -> None:
        self.names = names
        self.found: dict[int, Row] = {}

    def add(
        self,
        code: int,
        name: str,
        mode: str,
        *stages: str,
        flow: str = "next",
        target: str = "",
        pushes: int = 0,
        find: str | None = None,
    ) -> None:
        """A row: behind the finding come reach, index, take, work and store.

        Take and work are one stage.  `index` sets the index register: in front of the taking where the row looks at
        that register, not at all where it sets it, else behind all else.
        """
        page = 0x100 <= code < numbers.FIRST_INDEXED or numbers.is_paged(code)
        reach, index, take, work, store = (*stages, *[""] * 5)[:5]
        uses = footprint(parse_text(f"{take}\n{work}\n{store}"), frozenset(index[:1]))
        if uses.reads:
            take, index = f"{index}\n{take}", ""
        elif uses.writes:
            index = ""
        done = "\n".join(part for part in (take.strip(), work) if part)
        five = (FIND[mode] if find is None else find, reach, done, store, index)
        length = LENGTHS[mode] + page
        if target in ("e1", "l1", "w1") and page:
            target = f"{target[0]}2"
        self.found[code] = make_row(code, name, mode, length, five, flow, self.names, target=target, pushes=pushes)

    def indexed(self, opcode: int, name: str, reach: str, *stages: str, flow: str = "next") -> None:
        """A row for every kind of index byte; the index register is set behind the reading."""
        for kind, (find, after) in enumerate(INDEX):
            code = numbers.indexed_number(opcode, kind)
            self.add(code, name, "indexed", reach, after, *stages, flow=flow, find=find)

    def everywhere(self, columns: dict[str, int], name: str, reach: str, *stages: str, flow: str = "next") -> None:
        """Rows of an operation that reaches a cell, by mode → opcode."""
        for mode, opcode in columns.items():
            if mode == "indexed":
                self.indexed(opcode, name, reach, *stages, flow=flow)
            else:
                target = "w1" if mode == "extended" and flow in ("jump", "call") else ""
                self.add(opcode, name, mode, reach, "", *stages, flow=flow, target=target)

    def accumulators(self) -> None:
        """Operations of an accumulator and an operand."""
        for base, register in ((0x80, "A"), (0xC0, "B")):
            for low, name, text, goes_back in ACCUMULATOR:
                take = "" if name == "LD" else f"a = {register}"
                store = f"{register} = r" if goes_back else ""
                self.add(base | low, name + register, "immediate", "", "", take, text, store)
                self.everywhere(_columns(base | low), name + register, _READ, take, text, store)
            self.everywhere(_columns(base | 7), f"ST{register}", "", f"r = {register}", _LOGIC, "wr(ea, r)")

    def words(self) -> None:
        """Loads, stores and arithmetic of words."""
        for opcode, name, register in WORDS:
            take, text, store = "", _WORD_SIGN, PUT[register]
            if name != "LD":
                take = GET[register].replace("v =", "w =")
                text = f"tick(1)\n{_WORD_SUM if name == 'ADD' else _WORD_DIFFERENCE}"
                store = "" if name == "CMP" else store
            self.add(opcode, name + register, "immediate 16", "", "", take, text, store)
            self.everywhere(_columns(opcode), name + register, _READ_WORD, take, text, store)
        for opcode, register in STORES:
            self.everywhere(_columns(opcode), f"ST{register}", "", GET[register], _WORD_SIGN, _WRITE_WORD)
        for k, register in enumerate("XYSU"):
            text = f"tick(1)\n{register} = ea" + ("\nZ = zero(ea)" if register in "XY" else "")
            self.indexed(0x30 | k, f"LEA{register}", "", "", text)

    def modifies(self) -> None:
        """Operations on one accumulator or cell."""
        for low, name, text in MODIFY:
            for base, register in ((0x40, "A"), (0x50, "B")):
                store = "" if name == "TST" else f"{register} = r"
                self.add(base | low, name + register, "inherent", f"tick(1)\nm = {register}", "", "", text, store)
            store = "tick(2)" if name == "TST" else "tick(1)\nwr(ea, r)"
            columns = {"direct": low, "indexed": 0x60 | low, "extended": 0x70 | low}
            self.everywhere(columns, name, _READ, "", text, store)

    def inherent(self) -> None:
        """Opcodes without an operand, and those on the flags."""
        for code, name, text, more in INHERENT:
            self.add(code, name, "inherent", f"tick({more})", "", "", text)
        put = PUT["CC"].replace("v", "r")
        self.add(0x1A, "ORCC", "immediate", "tick(1)", "", GET["CC"], f"r = v | m\n{put}")
        self.add(0x1C, "ANDCC", "immediate", "tick(1)", "", GET["CC"], f"r = v & m\n{put}")
        self.add(0x13, "SYNC", "inherent", "tick(3)", flow="halt")
        push = f"p = S\nq = U\nd = 0xFF\n{_push_text()}"
        wait = f"r = v & m\n{put}\nE = 1"
        self.add(0x3C, "CWAI", "immediate", "tick(6)", "", GET["CC"], wait, f"{push}\nS = p & 0xFFFF", flow="halt")
        for code, vector, masks in ((0x3F, 0xFFFA, "I = 1\nF = 1\n"), (0x13F, 0xFFF4, ""), (0x23F, 0xFFF2, "")):
            name = "SWI" if code < 0x100 else f"SWI{2 + (code > 0x200)}"
            save = push.replace("(E << 7)", "0x80")
            leave = f"hi = rd({vector})\nlo = rd({vector + 1})\nS = p & 0xFFFF\nE = 1\n{masks}PC = (hi << 8) | lo"
            self.add(code, name, "inherent", "tick(4)", "", "", save, leave, flow="interrupt")

    def flow(self) -> None:
        """Branches, jumps, calls, returns."""
        for k, (name, test) in enumerate(BRANCHES):
            flow = {"RA": "jump", "RN": "next"}.get(name, "branch")
            short = f"if c:\n    {_BRANCH}"
            target = "" if name == "RN" else "e1"
            self.add(0x20 | k, f"B{name}", "relative", "", "", "", f"c = {test}", short, flow=flow, target=target)
            if name != "RA":
                long = f"tick(1)\nif c:\n    {_BRANCH}" + ("" if name == "RN" else "\n    tick(1)")
                target = target.replace("e", "l")
                self.add(
                    0x120 | k, f"LB{name}", "relative 16", "", "", "", f"c = {test}", long, flow=flow, target=target
                )
        self.add(0x16, "LBRA", "relative 16", "tick(2)", "", "", _BRANCH, flow="jump", target="l1")
        self.add(0x17, "LBSR", "relative 16", "tick(4)", "", "", f"{_CALL}\n{_BRANCH}", flow="call", target="l1")
        self.add(0x8D, "BSR", "relative", "tick(2)", "", "", f"{_CALL}\n{_BRANCH}", flow="call", target="e1")
        self.everywhere({"indexed": 0x6E}, "JMP", "", "", "PC = ea", flow="jump indirect")
        self.everywhere({"direct": 0x0E}, "JMP", "", "", "PC = ea", flow="jump indirect")
        self.everywhere({"extended": 0x7E}, "JMP", "", "", "PC = ea", flow="jump")
        columns = {"direct": 0x9D, "indexed": 0xAD, "extended": 0xBD}
        self.everywhere(columns, "JSR", "", "", f"tick(2)\n{_CALL}\nPC = ea", flow="call")
        back = "hi = rd(S)\nlo = rd((S + 1) & 0xFFFF)\nS = (S + 2) & 0xFFFF\nPC = (hi << 8) | lo"
        self.add(0x39, "RTS", "inherent", "tick(2)", "", "", back, flow="return")
        as_it_was = "\n".join(f"{_temporary(name)} = {name}" for name in ("A", "B", "DP", "X", "Y"))
        rti = f"{as_it_was}\nt_q = U\np = S + 1\nd = 0x80\nt_cc = rd(S)\nif t_cc & 0x80:\n    d = 0xFE\n{_pull_text()}"
        set_all = f"d = d | 1\n{_pulled('S')}"
        self.add(0x3B, "RTI", "inherent", "tick(2)", "", "", rti, set_all, flow="return interrupt")

    def registers(self) -> None:
        """Transfers, exchanges, pushes and pulls: a row for every second byte that is documented."""
        for second, source, target in numbers.transfers():
            jump = "jump indirect" if target == "PC" else "next"
            move = (GET[source], PUT[target])
            self.add(numbers.TRANSFER | second, "TFR", "registers", "tick(4)", "", move[0], "", move[1], flow=jump)
            jump = "jump indirect" if "PC" in (source, target) else "next"
            swap = f"{GET[target].replace('v =', 'w =')}\n{PUT[target]}\nv = w"
            self.add(
                numbers.EXCHANGE | second, "EXG", "registers", "tick(6)", "", move[0], swap, PUT[source], flow=jump
            )
        for k, (name, stack) in enumerate((("PSHS", "S"), ("PULS", "S"), ("PSHU", "U"), ("PULU", "U"))):
            other = "U" if stack == "S" else "S"
            take = f"p = {stack}\nq = {other}\ntick(3)"
            is_pull = name.startswith("PUL")
            work, store = (_pull_text(), _pulled(stack)) if is_pull else (_push_text(), f"{stack} = p & 0xFFFF")
            self.add(numbers.STACKED[k], name, "registers", "", "", take, work, store)
            for second in range(256):
                self.stacked(self.found[numbers.STACKED[k]], second, stack, other)

    def stacked(self, base: Row, second: int, stack: str, other: str) -> None:
        """One push or pull; the registers that its byte names, and no others, are looked at or set."""
        is_pull = base.name.startswith("PUL")
        named: set[str] = set()
        for k, (register, _) in enumerate(PUSHED):
            if second >> k & 1 and register != "PC":
                named |= set(FLAGS) if register == "CC" else {other if register == "q" else register}
        size = sum(size for k, (_, size) in enumerate(PUSHED) if second >> k & 1)
        flow, pushes = "next", size if stack == "S" else 0
        if is_pull:
            pushes = -pushes
            if second & 0x80:
                flow, pushes = ("return", pushes + 2) if stack == "S" else ("jump indirect", 0)
        reads = frozenset({stack} if is_pull else {stack, *named})
        writes = frozenset({stack, *named} if is_pull else {stack})
        code, print_ = base.code | second, Footprint(reads, writes, writes)
        self.found[code] = replace(base, code=code, flow=flow, pushes=pushes, print=print_)


def _columns(immediate: int) -> dict[str, int]:
    return {"direct": immediate + 0x10, "indexed": immediate + 0x20, "extended": immediate + 0x30}


def rows(names: frozenset[str]) -> dict[int, Row]:
    """Every documented opcode; `names`: registers and flags."""
    made = _Rows(names)
    made.accumulators()
    made.words()
    made.modifies()
    made.inherent()
    made.flow()
    made.registers()
    return dict(sorted(made.found.items()))


RARE_NAMES = frozenset(
    (
        *("MUL", "DAA", "RTI", "SEX", "SYNC", "CWAI", "ORCC", "ANDCC", "ABX", "BVC", "BVS", "LDS", "STS", "CMPS"),
        *("CMPU", "CMPY", "LEAS", "LEAU", "BRN", "LBRN", "TFR", "BGE", "BLT", "BGT", "BLE", "SBCA", "SBCB", "ADCB"),
        *("ASR", "EORB", "BITB", "RORB", "ROLB", "ASRB", "NEG", "NEGA", "NEGB", "COM", "ROR", "ROL", "ADCA", "ASRA"),
    )
)
"""Operations that drivers seldom hold; they run the careful way, which keeps the core small."""


def rare_rows(found: dict[int, Row]) -> frozenset[int]:
    """Rows that are run the careful way: what drivers seldom hold, and what reads and writes much."""
    return frozenset(
        code
        for code, row in found.items()
        if code >= numbers.EXCHANGE
        or numbers.FIRST_RARE <= code < numbers.TRANSFER
        or row.name in RARE_NAMES
        or (row.name[:2] == "LB" and row.name not in ("LBRA", "LBSR"))
        or re.match(r"[XYUS] = j", row.stages[2])  # the index register is an operand too
    )
