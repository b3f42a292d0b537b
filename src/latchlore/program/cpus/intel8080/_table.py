"""The documented 8080: what every opcode does, access by access; the 8085 differs in times, masks and one flag.

Sources, none at hand as this was typed, so *from memory*: Intel, *8080 Microcomputer Systems User's Manual*,
September 1975 (operations, states); *8080/8085 Assembly Language Programming Manual*, 1977 (flags, the difference in
the auxiliary carry of AND); *MCS-80/85 Family User's Manual*, October 1979 (states of the 8085).  The tests walk the
table against a machine of the z80 library and against a second list of states.

The texts are in the small language of `latchlore.program._language`.  Flags are ``S Z AC P CY``; ``IE`` is the
interrupt enable.  A port has eight address lines here; that its
number stands on the upper half of the address bus too is not followed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.program._cpu import make_row

if TYPE_CHECKING:
    from latchlore.program._cpu import Row

REGISTERS: dict[str, int] = {**dict.fromkeys(("A", "B", "C", "D", "E", "H", "L"), 8), "SP": 16, "IE": 1}
FLAGS = ("S", "Z", "AC", "P", "CY")
COSTS = {"opcode": 4, "fetch": 3, "rd": 3, "wr": 3, "inp": 3, "out": 3, "dummy": 3}
DECODE = "op = opcode()"
ENTRY_STACK = 0xEF00  # inside of what is RAM in most machines; an entry that sets its own does not care


class Maker(NamedTuple):
    """What differs between the two parts: states beyond those of the accesses, the carry of AND, what is skipped.

    `move`: MOV between registers, INR and DCR of one; `long`: opcodes whose fetch is longer (INX, DCX, PUSH, CALL,
    conditional RET, RST, PCHL, SPHL); `exchange`: XTHL; `halt`: HLT; `and_carry`: the auxiliary carry of ANA;
    `skips`: a jump or call that is not taken leaves the high byte of its address unread.  `fixed`: the bits of the
    flag byte that are always 1.
    """

    move: int
    long: int
    exchange: int
    halt: int
    and_carry: str
    skips: bool
    fixed: int


I8080 = Maker(move=1, long=1, exchange=2, halt=3, and_carry="bit(A | m, 3)", skips=False, fixed=2)
EIGHT = ("B", "C", "D", "E", "H", "L", "M", "A")
_HL = "(H << 8) | L"
_SIGNS = "S = bit(r, 7)\nZ = zero(r)\nP = parity(r)"
_PACK = "(S << 7) | (Z << 6) | (AC << 4) | (P << 2) | CY"
_PAIRS = {"B": "v = (B << 8) | C", "D": "v = (D << 8) | E", "H": f"v = {_HL}", "SP": "v = SP"}
_SET_PAIR = {
    "B": "B = v >> 8\nC = v & 0xFF",
    "D": "D = v >> 8\nE = v & 0xFF",
    "H": "H = v >> 8\nL = v & 0xFF",
    "SP": "SP = v",
    "PSW": "A = v >> 8\nS = bit(v, 7)\nZ = bit(v, 6)\nAC = bit(v, 4)\nP = bit(v, 2)\nCY = v & 1",
}
_GET = {one: f"m = {one}" for one in EIGHT} | {"M": f"ea = {_HL}\nm = rd(ea)"}
_PUT = {one: f"{one} = r" for one in EIGHT} | {"M": f"ea = {_HL}\nwr(ea, r)"}
_BYTE = "m = fetch()"
_WORD = "lo = fetch()\nhi = fetch()\nv = (hi << 8) | lo"
_TOP = "lo = rd(SP)\nhi = rd((SP + 1) & 0xFFFF)\nv = (hi << 8) | lo"
_PUSH = "wr((SP - 1) & 0xFFFF, v >> 8)\nwr((SP - 2) & 0xFFFF, v & 0xFF)\nSP = (SP - 2) & 0xFFFF"
_SECOND = "v = lo\nif t:\n    hi = fetch()\n    v = (hi << 8) | lo\nelse:\n    PC = (PC + 1) & 0xFFFF"
_JUMP = "if t:\n    PC = v"
_CALL = (
    "if t:\n    wr((SP - 1) & 0xFFFF, PC >> 8)\n    wr((SP - 2) & 0xFFFF, PC & 0xFF)\n"
    "    SP = (SP - 2) & 0xFFFF\n    PC = v"
)
_RETURN = "if t:\n    lo = rd(SP)\n    hi = rd((SP + 1) & 0xFFFF)\n    SP = (SP + 2) & 0xFFFF\n    PC = (hi << 8) | lo"
_ADD = f"r = s & 0xFF\nAC = bit(A ^ m ^ s, 4)\nCY = bit(s, 8)\n{_SIGNS}"
_SUB = f"r = s & 0xFF\nAC = bit(A ^ m ^ s, 4) ^ 1\nCY = bit(s, 8)\n{_SIGNS}"
_LOGIC = f"AC = 0\nCY = 0\n{_SIGNS}\nA = r"
_CONDITIONS = (
    ("NZ", "t = Z ^ 1"),
    ("Z", "t = Z"),
    ("NC", "t = CY ^ 1"),
    ("C", "t = CY"),
    ("PO", "t = P ^ 1"),
    ("PE", "t = P"),
    ("P", "t = S ^ 1"),
    ("M", "t = S"),
)
_SIMPLE: tuple[tuple[int, str, str], ...] = (
    (0x00, "NOP", ""),
    (0x07, "RLC", "CY = bit(A, 7)\nA = ((A << 1) | (A >> 7)) & 0xFF"),
    (0x0F, "RRC", "CY = A & 1\nA = ((A >> 1) | (A << 7)) & 0xFF"),
    (0x17, "RAL", "r = ((A << 1) | CY) & 0xFF\nCY = bit(A, 7)\nA = r"),
    (0x1F, "RAR", "r = (A >> 1) | (CY << 7)\nCY = A & 1\nA = r"),
    (
        0x27,
        "DAA",
        "g = CY | gt(A, 0x99)\nm = 6 * (AC | gt(A & 0x0F, 9)) + 0x60 * g\ns = A + m\nr = s & 0xFF\n"
        f"AC = bit(A ^ m ^ s, 4)\nCY = g\n{_SIGNS}\nA = r",
    ),
    (0x2F, "CMA", "A = A ^ 0xFF"),
    (0x37, "STC", "CY = 1"),
    (0x3F, "CMC", "CY = CY ^ 1"),
    (0xEB, "XCHG", "r = D\nD = H\nH = r\nr = E\nE = L\nL = r"),
    (0xF3, "DI", "IE = 0"),
    (0xFB, "EI", "IE = 1"),
)


def _arithmetic(maker: Maker) -> tuple[tuple[str, str, str], ...]:
    """Name with a register, name with an immediate byte, text; the operand is in m."""
    return (
        ("ADD", "ADI", f"s = A + m\n{_ADD}\nA = r"),
        ("ADC", "ACI", f"s = A + m + CY\n{_ADD}\nA = r"),
        ("SUB", "SUI", f"s = A - m\n{_SUB}\nA = r"),
        ("SBB", "SBI", f"s = A - m - CY\n{_SUB}\nA = r"),
        ("ANA", "ANI", f"r = A & m\nAC = {maker.and_carry}\nCY = 0\n{_SIGNS}\nA = r"),
        ("XRA", "XRI", f"r = A ^ m\n{_LOGIC}"),
        ("ORA", "ORI", f"r = A | m\n{_LOGIC}"),
        ("CMP", "CPI", f"s = A - m\n{_SUB}"),
    )


def _ticks(count: int, text: str = "") -> str:
    return "\n".join(part for part in (f"tick({count})" if count else "", text) if part)


class _Rows:
    """Collects rows."""

    def __init__(self, names: frozenset[str], maker: Maker) -> None:
        self.names, self.maker = names, maker
        self.found: dict[int, Row] = {}

    def add(
        self, code: int, name: str, operand: str, *stages: str, flow: str = "next", target: str = "", pushes: int = 0
    ) -> None:
        """A row of find, work and store."""
        length = 1 + ("{n1}" in operand) + 2 * ("{w1}" in operand)
        three = (*stages, "", "", "")[:3]
        mode = {1: "register", 2: "immediate", 3: "direct"}[length]
        if "M" in operand.split(",") or name in ("STAX", "LDAX", "XTHL"):
            mode = "register indirect"
        self.found[code] = make_row(
            code, name, mode, length, three, flow, self.names, operand=operand, target=target, pushes=pushes
        )

    def bytes(self) -> None:
        """Moves and arithmetic of bytes."""
        maker, arithmetic = self.maker, _arithmetic(self.maker)
        for k, to in enumerate(EIGHT):
            extra = 0 if to == "M" else maker.move
            up = f"r = (m + 1) & 0xFF\nAC = zero(r & 0x0F)\n{_SIGNS}"
            down = f"r = (m - 1) & 0xFF\nAC = zero((r & 0x0F) ^ 0x0F) ^ 1\n{_SIGNS}"
            self.add(0x04 | k << 3, "INR", to, _GET[to], _ticks(extra, up), _PUT[to])
            self.add(0x05 | k << 3, "DCR", to, _GET[to], _ticks(extra, down), _PUT[to])
            self.add(0x06 | k << 3, "MVI", f"{to},{{n1}}", _BYTE, "r = m", _PUT[to])
            for j, source in enumerate(EIGHT):
                if to != "M" or source != "M":
                    extra = maker.move if "M" not in (to, source) else 0
                    self.add(0x40 | k << 3 | j, "MOV", f"{to},{source}", _GET[source], _ticks(extra, "r = m"), _PUT[to])
            for j, (name, _, text) in enumerate(arithmetic):
                self.add(0x80 | j << 3 | k, name, to, _GET[to], text)
        for j, (_, name, text) in enumerate(arithmetic):
            self.add(0xC6 | j << 3, name, "{n1}", _BYTE, text)
        for code, name, text in _SIMPLE:
            self.add(code, name, "", "", text)
        for k, pair in enumerate(("B", "D")):
            self.add(0x02 | k << 4, "STAX", pair, _PAIRS[pair], "", "wr(v, A)")
            self.add(0x0A | k << 4, "LDAX", pair, _PAIRS[pair], "r = rd(v)", "A = r")
        self.add(0x32, "STA", "{w1}", _WORD, "", "wr(v, A)")
        self.add(0x3A, "LDA", "{w1}", _WORD, "r = rd(v)", "A = r")
        self.add(0xD3, "OUT", "{n1}", _BYTE, "out(m, A)")
        self.add(0xDB, "IN", "{n1}", _BYTE, "r = inp(m)", "A = r")

    def words(self) -> None:
        """Opcodes on pairs of registers."""
        longer = self.maker.long
        for k, pair in enumerate(("B", "D", "H", "SP")):
            get, put = _PAIRS[pair], _SET_PAIR[pair]
            add = f"tick(6)\ns = ({_HL}) + v\nCY = bit(s, 16)\nv = s & 0xFFFF"
            self.add(0x01 | k << 4, "LXI", f"{pair},{{w1}}", _WORD, "", put)
            self.add(0x03 | k << 4, "INX", pair, get, _ticks(longer, "v = (v + 1) & 0xFFFF"), put)
            self.add(0x0B | k << 4, "DCX", pair, get, _ticks(longer, "v = (v - 1) & 0xFFFF"), put)
            self.add(0x09 | k << 4, "DAD", pair, get, add, _SET_PAIR["H"])
        for k, pair in enumerate(("B", "D", "H", "PSW")):
            get = _PAIRS.get(pair, f"v = (A << 8) | {self.maker.fixed} | {_PACK}")
            self.add(0xC5 | k << 4, "PUSH", pair, get, _ticks(longer), _PUSH, pushes=2)
            self.add(0xC1 | k << 4, "POP", pair, _TOP, "SP = (SP + 2) & 0xFFFF", _SET_PAIR[pair], pushes=-2)
        load = "lo = rd(v)\nhi = rd((v + 1) & 0xFFFF)\nv = (hi << 8) | lo"
        self.add(0x22, "SHLD", "{w1}", _WORD, "wr(v, L)\nwr((v + 1) & 0xFFFF, H)")
        self.add(0x2A, "LHLD", "{w1}", _WORD, load, _SET_PAIR["H"])
        swap = _ticks(self.maker.exchange, "wr((SP + 1) & 0xFFFF, H)\nwr(SP, L)")
        self.add(0xE3, "XTHL", "", _TOP, swap, _SET_PAIR["H"])
        self.add(0xF9, "SPHL", "", _PAIRS["H"], _ticks(longer), "SP = v")
        self.add(0xE9, "PCHL", "", _PAIRS["H"], _ticks(longer, "t = 1"), _JUMP, flow="jump indirect")

    def flow(self) -> None:
        """Jumps, calls, returns."""
        longer = self.maker.long
        self.add(0xC3, "JMP", "{w1}", _WORD, "t = 1", _JUMP, flow="jump", target="w1")
        self.add(0xCD, "CALL", "{w1}", _ticks(longer, _WORD), "t = 1", _CALL, flow="call", target="w1")
        self.add(0xC9, "RET", "", "", "t = 1", _RETURN, flow="return")
        for k, (name, test) in enumerate(_CONDITIONS):
            jump, call = (_WORD, _ticks(longer, _WORD))
            work = test
            if self.maker.skips:
                jump, call = "lo = fetch()", _ticks(longer, "lo = fetch()")
                work = f"{test}\n{_SECOND}"
            self.add(0xC2 | k << 3, f"J{name}", "{w1}", jump, work, _JUMP, flow="branch", target="w1")
            self.add(0xC4 | k << 3, f"C{name}", "{w1}", call, work, _CALL, flow="call if", target="w1")
            self.add(0xC0 | k << 3, f"R{name}", "", _ticks(longer), test, _RETURN, flow="return if")
            at = 8 * k
            self.add(
                0xC7 | k << 3,
                "RST",
                str(k),
                f"v = {at}",
                _ticks(longer, "t = 1"),
                _CALL,
                flow="restart",
                target=str(at),
            )
        self.add(0x76, "HLT", "", "", _ticks(self.maker.halt), flow="halt")


def rows(names: frozenset[str], maker: Maker = I8080) -> dict[int, Row]:
    """Every documented opcode that both parts have; `names`: registers and flags."""
    made = _Rows(names, maker)
    made.bytes()
    made.words()
    made.flow()
    return dict(sorted(made.found.items()))


# What the 8080 does with the opcodes that the manual leaves blank is that of a documented neighbour (*from memory*):
# no operation, a jump, a return, calls.
UNDOCUMENTED = {**dict.fromkeys(range(0x08, 0x40, 8), 1), 0x10: 1, 0xCB: 3, 0xD9: 1, 0xDD: 3, 0xED: 3, 0xFD: 3}


def write_number(value: int, digits: int) -> str:
    """A number as the maker's assembler takes it: it begins with a digit and ends with an H."""
    text = f"{value:0{digits}X}H"
    return text if text[0].isdigit() else f"0{text}"
