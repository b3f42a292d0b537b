"""The documented Z80: what every opcode does, access by access.

Sources: Zilog, *Z80 CPU User Manual*, UM008011-0816, August 2016 (operations, T-states, the flags that it defines);
flag bits 5 and 3, the flags of the block input and output opcodes, and the order of T-states inside of an instruction
*from memory*.  The whole table is walked against single-step vectors of every opcode in the tests, which leave bits 5
and 3 out.

The texts are in the small language of `latchlore.program._language`.  Flags: ``SF ZF YF HF XF PF NF CF`` (bits 7 to 0);
``AF2 BC2 DE2 HL2`` are the second set.  An opcode behind a prefix has a number of its own: CB 100h and up, ED 200h,
DD 300h, FD 400h, DD CB d 500h, FD CB d 600h.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.program._cpu import make_row

if TYPE_CHECKING:
    from latchlore.program._cpu import ByteAt, Row

REGISTERS: dict[str, int] = {
    **dict.fromkeys(("A", "B", "C", "D", "E", "H", "L"), 8),
    **dict.fromkeys(("IX", "IY", "SP"), 16),
    **dict.fromkeys(("I", "R"), 8),
    **dict.fromkeys(("AF2", "BC2", "DE2", "HL2"), 16),
    **{"IFF1": 1, "IFF2": 1, "IM": 2},
}
FLAGS = ("SF", "ZF", "YF", "HF", "XF", "PF", "NF", "CF")
COSTS = {"opcode": 4, "fetch": 3, "rd": 3, "wr": 3, "inp": 4, "out": 4, "dummy": 3}
ENTRY_STACK = 0xEF00  # inside of what is RAM in most machines; an entry that sets its own does not care

DECODE = """op = opcode()
m1 = 1
if zero(op ^ 0xCB):
    n = opcode()
    op = 0x100 + n
    m1 = 2
if zero(op ^ 0xED):
    n = opcode()
    op = 0x200 + n
    m1 = 2
if zero(op ^ 0xDD):
    n = opcode()
    op = 0x300 + n
    m1 = 2
    if zero(op ^ 0x3CB):
        d = fetch()
        n = fetch()
        tick(2)
        op = 0x500 + n
if zero(op ^ 0xFD):
    n = opcode()
    op = 0x400 + n
    m1 = 2
    if zero(op ^ 0x4CB):
        d = fetch()
        n = fetch()
        tick(2)
        op = 0x600 + n"""

REFRESH = "R = (R & 0x80) | ((R + m1) & 0x7F)"
PACK = "(SF << 7) | (ZF << 6) | (YF << 5) | (HF << 4) | (XF << 3) | (PF << 2) | (NF << 1) | CF"
UNPACK = "\n".join(f"{flag} = bit(f, {7 - k})" for k, flag in enumerate(FLAGS))
SIGN = "SF = bit(r, 7)\nZF = zero(r)\nYF = bit(r, 5)\nXF = bit(r, 3)\n"


class Entry(NamedTuple):
    """One row: number, mnemonic, operands as the maker's assembler writes them, length, stages, flow.

    In the operands ``{n}`` stands for a byte, ``{nn}`` a word, ``{e}`` a relative target, ``{d}`` a displacement.
    """

    code: int
    name: str
    operands: str
    length: int
    stages: tuple[str, ...]
    flow: str


_ADD = "HF = bit(A ^ m ^ s, 4)\nPF = bit((A ^ s) & ~(A ^ m), 7)\nNF = 0\nCF = bit(s, 8)\n"
_SUB = "HF = bit(A ^ m ^ s, 4)\nPF = bit((A ^ m) & (A ^ s), 7)\nNF = 1\nCF = bit(s, 8)\n"
ARITHMETIC: tuple[tuple[str, str, str], ...] = (
    # name, operands before the source, text; the source is in m
    ("ADD", "A,", f"s = A + m\nr = s & 0xFF\n{_ADD}{SIGN}"),
    ("ADC", "A,", f"s = A + m + CF\nr = s & 0xFF\n{_ADD}{SIGN}"),
    ("SUB", "", f"s = A - m\nr = s & 0xFF\n{_SUB}{SIGN}"),
    ("SBC", "A,", f"s = A - m - CF\nr = s & 0xFF\n{_SUB}{SIGN}"),
    ("AND", "", f"r = A & m\nHF = 1\nPF = parity(r)\nNF = 0\nCF = 0\n{SIGN}"),
    ("XOR", "", f"r = A ^ m\nHF = 0\nPF = parity(r)\nNF = 0\nCF = 0\n{SIGN}"),
    ("OR", "", f"r = A | m\nHF = 0\nPF = parity(r)\nNF = 0\nCF = 0\n{SIGN}"),
    ("CP", "", f"s = A - m\nr = s & 0xFF\n{_SUB}SF = bit(r, 7)\nZF = zero(r)\nYF = bit(m, 5)\nXF = bit(m, 3)"),
)
INCREMENT = f"r = (m + 1) & 0xFF\nHF = zero(r & 0x0F)\nPF = zero(r ^ 0x80)\nNF = 0\n{SIGN}".rstrip()
DECREMENT = f"r = (m - 1) & 0xFF\nHF = zero((r & 0x0F) ^ 0x0F)\nPF = zero(r ^ 0x7F)\nNF = 1\n{SIGN}".rstrip()
_SHIFTED = f"HF = 0\nPF = parity(r)\nNF = 0\n{SIGN}".rstrip()
SHIFTS: tuple[tuple[str, str] | None, ...] = (
    ("RLC", f"r = ((m << 1) | (m >> 7)) & 0xFF\nCF = bit(m, 7)\n{_SHIFTED}"),
    ("RRC", f"r = ((m >> 1) | (m << 7)) & 0xFF\nCF = m & 1\n{_SHIFTED}"),
    ("RL", f"r = ((m << 1) | CF) & 0xFF\nCF = bit(m, 7)\n{_SHIFTED}"),
    ("RR", f"r = (m >> 1) | (CF << 7)\nCF = m & 1\n{_SHIFTED}"),
    ("SLA", f"r = (m << 1) & 0xFF\nCF = bit(m, 7)\n{_SHIFTED}"),
    ("SRA", f"r = (m >> 1) | (m & 0x80)\nCF = m & 1\n{_SHIFTED}"),
    None,  # the eighth shift is undocumented
    ("SRL", f"r = m >> 1\nCF = m & 1\n{_SHIFTED}"),
)
_ACCUMULATOR = "HF = 0\nNF = 0\nYF = bit(r, 5)\nXF = bit(r, 3)\nA = r"
SIMPLE: tuple[tuple[int, str, str, str], ...] = (
    (0x00, "NOP", "", ""),
    (0x07, "RLCA", "", f"r = ((A << 1) | (A >> 7)) & 0xFF\nCF = bit(A, 7)\n{_ACCUMULATOR}"),
    (0x0F, "RRCA", "", f"r = ((A >> 1) | (A << 7)) & 0xFF\nCF = A & 1\n{_ACCUMULATOR}"),
    (0x17, "RLA", "", f"r = ((A << 1) | CF) & 0xFF\nCF = bit(A, 7)\n{_ACCUMULATOR}"),
    (0x1F, "RRA", "", f"r = (A >> 1) | (CF << 7)\nCF = A & 1\n{_ACCUMULATOR}"),
    (
        0x27,
        "DAA",
        "",
        "g = CF | gt(A, 0x99)\ns = 6 * (HF | gt(A & 0x0F, 9)) + 0x60 * g\nr = (A + s - 2 * NF * s) & 0xFF\n"
        f"HF = bit(A ^ r, 4)\nCF = g\nPF = parity(r)\n{SIGN}A = r",
    ),
    (0x2F, "CPL", "", "r = A ^ 0xFF\nHF = 1\nNF = 1\nYF = bit(r, 5)\nXF = bit(r, 3)\nA = r"),
    (0x37, "SCF", "", "HF = 0\nNF = 0\nCF = 1\nYF = bit(A, 5)\nXF = bit(A, 3)"),
    (0x3F, "CCF", "", "HF = CF\nNF = 0\nCF = CF ^ 1\nYF = bit(A, 5)\nXF = bit(A, 3)"),
    (0x08, "EX", "AF,AF'", f"s = (A << 8) | {PACK}\nA = AF2 >> 8\nf = AF2 & 0xFF\nAF2 = s\n{UNPACK}"),
    (
        0xD9,
        "EXX",
        "",
        "s = (B << 8) | C\nB = BC2 >> 8\nC = BC2 & 0xFF\nBC2 = s\ns = (D << 8) | E\nD = DE2 >> 8\nE = DE2 & 0xFF\n"
        "DE2 = s\ns = (H << 8) | L\nH = HL2 >> 8\nL = HL2 & 0xFF\nHL2 = s",
    ),
    (0xEB, "EX", "DE,HL", "s = D\nD = H\nH = s\ns = E\nE = L\nL = s"),
    (0xF3, "DI", "", "IFF1 = 0\nIFF2 = 0"),
    (0xFB, "EI", "", "IFF1 = 1\nIFF2 = 1"),
)
EIGHT = ("B", "C", "D", "E", "H", "L", "(HL)", "A")
CONDITIONS = (
    ("NZ", "ZF ^ 1"),
    ("Z", "ZF"),
    ("NC", "CF ^ 1"),
    ("C", "CF"),
    ("PO", "PF ^ 1"),
    ("PE", "PF"),
    ("P", "SF ^ 1"),
    ("M", "SF"),
)
PAIRS = {
    "BC": "(B << 8) | C",
    "DE": "(D << 8) | E",
    "HL": "(H << 8) | L",
    "SP": "SP",
    "IX": "IX",
    "IY": "IY",
    "AF": f"(A << 8) | {PACK}",
}
SET_PAIR = {
    "BC": "B = v >> 8\nC = v & 0xFF",
    "DE": "D = v >> 8\nE = v & 0xFF",
    "HL": "H = v >> 8\nL = v & 0xFF",
    "SP": "SP = v",
    "IX": "IX = v",
    "IY": "IY = v",
    "AF": f"A = v >> 8\nf = v & 0xFF\n{UNPACK}",
}
_HL = "ea = (H << 8) | L"
_WORD = "lo = fetch()\nhi = fetch()\nv = (hi << 8) | lo"
_JUMP = "PC = (PC + e - ((e & 0x80) << 1)) & 0xFFFF"
_PUSH = "wr((SP - 1) & 0xFFFF, v >> 8)\nwr((SP - 2) & 0xFFFF, v & 0xFF)\nSP = (SP - 2) & 0xFFFF"
_POP = "lo = rd(SP)\nhi = rd((SP + 1) & 0xFFFF)\nv = (hi << 8) | lo"
RETURN = f"if yes:\n    {_POP}\n    SP = (SP + 2) & 0xFFFF\n    PC = v".replace("\nhi", "\n    hi").replace(
    "\nv =", "\n    v ="
)
_LOAD = "lo = rd(v)\nhi = rd((v + 1) & 0xFFFF)\nv = (hi << 8) | lo"


def _row(
    code: int, name: str, operands: str, length: int, *stages: str, flow: str = "next", refresh: str = REFRESH
) -> Entry:
    return Entry(code, name, operands, length, (*stages, *[""] * (3 - len(stages)), refresh), flow)  # find, work, put


def _kept(name: str) -> str:
    return "" if name == "CP" else "A = r"


def _main() -> list[Entry]:
    rows = [_row(code, name, operands, 1, "", text) for code, name, operands, text in SIMPLE]
    rows.append(_row(0x76, "HALT", "", 1, flow="halt"))
    for k, target in enumerate(EIGHT):
        memory = target == "(HL)"
        get = f"{_HL}\nm = rd(ea)" if memory else f"m = {target}"
        put = "wr(ea, r)" if memory else f"{target} = r"
        change = f"{get}\ntick(1)" if memory else get
        rows.append(_row(0x04 | k << 3, "INC", target, 1, change, INCREMENT, put))
        rows.append(_row(0x05 | k << 3, "DEC", target, 1, change, DECREMENT, put))
        rows.append(
            _row(0x06 | k << 3, "LD", f"{target},{{n}}", 2, "m = fetch()", f"{_HL}\nr = m" if memory else "r = m", put)
        )
        for j, source in enumerate(EIGHT):
            if target == source == "(HL)":
                continue
            take = f"{_HL}\nm = rd(ea)" if source == "(HL)" else f"m = {source}"
            work = f"{_HL}\nr = m" if memory else "r = m"
            rows.append(_row(0x40 | k << 3 | j, "LD", f"{target},{source}", 1, take, work, put))
        for j, (name, before, text) in enumerate(ARITHMETIC):
            rows.append(_row(0x80 | j << 3 | k, name, f"{before}{target}", 1, get, text, _kept(name)))
    for j, (name, before, text) in enumerate(ARITHMETIC):
        rows.append(_row(0xC6 | j << 3, name, f"{before}{{n}}", 2, "m = fetch()", text, _kept(name)))
    rows += _pairs("HL", 0, 1)
    for k, (pair, point) in enumerate((("BC", "(BC)"), ("DE", "(DE)"))):
        rows.append(_row(0x02 | k << 4, "LD", f"{point},A", 1, f"ea = {PAIRS[pair]}", "r = A", "wr(ea, r)"))
        rows.append(_row(0x0A | k << 4, "LD", f"A,{point}", 1, f"ea = {PAIRS[pair]}\nm = rd(ea)", "r = m", "A = r"))
    for k, pair in ((0, "BC"), (1, "DE"), (3, "SP")):
        rows += _sixteen(pair, k, 0, 1)
    for k, pair in ((0, "BC"), (1, "DE"), (3, "AF")):
        rows.append(_row(0xC5 | k << 4, "PUSH", pair, 1, f"v = {PAIRS[pair]}", f"tick(1)\n{_PUSH}"))
        rows.append(_row(0xC1 | k << 4, "POP", pair, 1, _POP, "SP = (SP + 2) & 0xFFFF", SET_PAIR[pair]))
    rows.append(_row(0x32, "LD", "({nn}),A", 3, f"{_WORD}\nea = v", "r = A", "wr(ea, r)"))
    rows.append(_row(0x3A, "LD", "A,({nn})", 3, f"{_WORD}\nea = v\nm = rd(ea)", "r = m", "A = r"))
    rows.append(_row(0xD3, "OUT", "({n}),A", 2, "n = fetch()", "out((A << 8) | n, A)"))
    rows.append(_row(0xDB, "IN", "A,({n})", 2, "n = fetch()", "r = inp((A << 8) | n)", "A = r"))
    return rows + _flow()


def _flow() -> list[Entry]:
    rows = [
        _row(
            0x10,
            "DJNZ",
            "{e}",
            2,
            "tick(1)\ne = fetch()",
            f"r = (B - 1) & 0xFF\nif r:\n    tick(5)\n    {_JUMP}",
            "B = r",
            flow="branch",
        ),
        _row(0x18, "JR", "{e}", 2, "e = fetch()", f"tick(5)\n{_JUMP}", flow="jump"),
        _row(0xC3, "JP", "{nn}", 3, _WORD, "PC = v", flow="jump"),
        _row(0xC9, "RET", "", 1, _POP, "SP = (SP + 2) & 0xFFFF\nPC = v", flow="return"),
        _row(0xCD, "CALL", "{nn}", 3, f"{_WORD}\ntick(1)", f"t = v\nv = PC\n{_PUSH}\nPC = t", flow="call"),
    ]
    for k, (name, test) in enumerate(CONDITIONS[:4]):
        rows.append(
            _row(
                0x20 | k << 3,
                "JR",
                f"{name},{{e}}",
                2,
                f"e = fetch()\nyes = {test}",
                f"if yes:\n    tick(5)\n    {_JUMP}",
                flow="branch",
            )
        )
    for k, (name, test) in enumerate(CONDITIONS):
        push = f"t = v\nv = PC\n{_PUSH}\nPC = t".replace("\n", "\n    ")
        rows.append(
            _row(
                0xC2 | k << 3, "JP", f"{name},{{nn}}", 3, f"{_WORD}\nyes = {test}", "if yes:\n    PC = v", flow="branch"
            )
        )
        rows.append(
            _row(
                0xC4 | k << 3,
                "CALL",
                f"{name},{{nn}}",
                3,
                f"{_WORD}\nyes = {test}",
                f"if yes:\n    tick(1)\n    {push}",
                flow="call if",
            )
        )
        rows.append(_row(0xC0 | k << 3, "RET", name, 1, f"tick(1)\nyes = {test}", RETURN, flow="return if"))
        rows.append(
            _row(
                0xC7 | k << 3, "RST", f"{8 * k:02X}h", 1, "tick(1)", f"v = PC\n{_PUSH}\nPC = op & 0x38", flow="restart"
            )
        )
    return rows


def _pairs(pair: str, base: int, extra: int) -> list[Entry]:
    """Opcodes on HL that a prefix moves to IX or IY; `extra`: bytes of the opcode itself."""
    value, put = PAIRS[pair], SET_PAIR[pair]
    swap = "lo = rd(SP)\nhi = rd((SP + 1) & 0xFFFF)\ntick(1)\n"
    swap += f"t = {value}\nwr((SP + 1) & 0xFFFF, t >> 8)\nwr(SP, t & 0xFF)\ntick(2)\nv = (hi << 8) | lo"
    return [
        *_sixteen(pair, 2, base, extra),
        *(
            _row(base | 0x09 | k << 4, "ADD", f"{pair},{other}", extra, *_add(pair, other))
            for k, other in enumerate(("BC", "DE", pair, "SP"))
        ),
        _row(
            base | 0x22,
            "LD",
            f"({{nn}}),{pair}",
            extra + 2,
            f"{_WORD}\nt = {value}",
            "wr(v, t & 0xFF)\nwr((v + 1) & 0xFFFF, t >> 8)",
        ),
        _row(base | 0x2A, "LD", f"{pair},({{nn}})", extra + 2, f"{_WORD}\n{_LOAD}", "", put),
        _row(base | 0xE1, "POP", pair, extra, _POP, "SP = (SP + 2) & 0xFFFF", put),
        _row(base | 0xE5, "PUSH", pair, extra, f"v = {value}", f"tick(1)\n{_PUSH}"),
        _row(base | 0xE3, "EX", f"(SP),{pair}", extra, swap, put),
        _row(base | 0xE9, "JP", f"({pair})", extra, f"v = {value}", "PC = v", flow="jump indirect"),
        _row(base | 0xF9, "LD", f"SP,{pair}", extra, f"v = {value}", "tick(2)", "SP = v"),
    ]


def _add(pair: str, other: str) -> tuple[str, ...]:
    text = f"tick(7)\nt = {PAIRS[pair]}\ns = t + v\nHF = bit(t ^ v ^ s, 12)\nCF = bit(s, 16)\nNF = 0\n"
    return f"v = {PAIRS[other]}", text + "YF = bit(s, 13)\nXF = bit(s, 11)\nv = s & 0xFFFF", SET_PAIR[pair]


def _sixteen(pair: str, k: int, base: int, extra: int) -> list[Entry]:
    value, put = f"v = {PAIRS[pair]}", SET_PAIR[pair]
    return [
        _row(base | 0x01 | k << 4, "LD", f"{pair},{{nn}}", extra + 2, _WORD, "", put),
        _row(base | 0x03 | k << 4, "INC", pair, extra, value, "tick(2)\nv = (v + 1) & 0xFFFF", put),
        _row(base | 0x0B | k << 4, "DEC", pair, extra, value, "tick(2)\nv = (v - 1) & 0xFFFF", put),
    ]


def _bits() -> list[Entry]:
    """Shifts and single bits, plain and indexed."""
    rows = []
    for k, target in enumerate(EIGHT):
        memory = target == "(HL)"
        get = f"{_HL}\nm = rd(ea)\ntick(1)" if memory else f"m = {target}"
        put = "wr(ea, r)" if memory else f"{target} = r"
        rows += _bit_rows(0x100 | k, target, 2, get, put)
    for base, index in ((0x500, "IX"), (0x600, "IY")):
        get = f"ea = ({index} + d - ((d & 0x80) << 1)) & 0xFFFF\nm = rd(ea)\ntick(1)"
        rows += _bit_rows(base | 6, f"({index}{{d}})", 4, get, "wr(ea, r)")
    return rows


def _bit_rows(base: int, target: str, length: int, get: str, put: str) -> list[Entry]:
    rows = []
    for j, shift in enumerate(SHIFTS):
        if shift is not None:
            rows.append(_row(base | j << 3, shift[0], target, length, get, shift[1], put))
    for number in range(8):
        text = "n = (op >> 3) & 7\nZF = bit(m, n) ^ 1\nPF = ZF\nSF = bit(m & (1 << n), 7)\nHF = 1\nNF = 0\n"
        text += "YF = bit(m, 5)\nXF = bit(m, 3)"
        rows.append(_row(base | 0x40 | number << 3, "BIT", f"{number},{target}", length, get, text))
        rows.append(
            _row(
                base | 0x80 | number << 3,
                "RES",
                f"{number},{target}",
                length,
                get,
                "n = (op >> 3) & 7\nr = m & ~(1 << n)",
                put,
            )
        )
        rows.append(
            _row(
                base | 0xC0 | number << 3,
                "SET",
                f"{number},{target}",
                length,
                get,
                "n = (op >> 3) & 7\nr = m | (1 << n)",
                put,
            )
        )
    return rows


def _indexed(base: int, index: str) -> list[Entry]:
    """Opcodes behind DD or FD."""
    rows = _pairs(index, base, 2)
    find = f"d = fetch()\ntick(5)\nea = ({index} + d - ((d & 0x80) << 1)) & 0xFFFF"
    place = f"({index}{{d}})"
    rows.append(_row(base | 0x34, "INC", place, 3, f"{find}\nm = rd(ea)\ntick(1)", INCREMENT, "wr(ea, r)"))
    rows.append(_row(base | 0x35, "DEC", place, 3, f"{find}\nm = rd(ea)\ntick(1)", DECREMENT, "wr(ea, r)"))
    both = f"d = fetch()\nr = fetch()\ntick(2)\nea = ({index} + d - ((d & 0x80) << 1)) & 0xFFFF"
    rows.append(_row(base | 0x36, "LD", f"{place},{{n}}", 4, both, "", "wr(ea, r)"))
    for k, register in enumerate(EIGHT):
        if register != "(HL)":
            rows.append(
                _row(
                    base | 0x46 | k << 3,
                    "LD",
                    f"{register},{place}",
                    3,
                    f"{find}\nm = rd(ea)",
                    "r = m",
                    f"{register} = r",
                )
            )
            rows.append(_row(base | 0x70 | k, "LD", f"{place},{register}", 3, find, f"r = {register}", "wr(ea, r)"))
    for j, (name, before, text) in enumerate(ARITHMETIC):
        rows.append(_row(base | 0x86 | j << 3, name, f"{before}{place}", 3, f"{find}\nm = rd(ea)", text, _kept(name)))
    return rows


def _extended() -> list[Entry]:
    """Opcodes behind ED."""
    rows = []
    for k, register in enumerate(EIGHT):
        if register != "(HL)":
            text = f"PF = parity(r)\nHF = 0\nNF = 0\n{SIGN}{register} = r"
            rows.append(_row(0x240 | k << 3, "IN", f"{register},(C)", 2, "r = inp((B << 8) | C)", text))
            rows.append(_row(0x241 | k << 3, "OUT", f"(C),{register}", 2, "", f"out((B << 8) | C, {register})"))
    for k, pair in enumerate(("BC", "DE", "HL", "SP")):
        start = "tick(7)\nt = (H << 8) | L\n"
        end = "NF = {0}\nHF = bit(t ^ v ^ s, 12)\nCF = bit(s, 16)\nSF = bit(s, 15)\nYF = bit(s, 13)\nXF = bit(s, 11)\n"
        end += "v = s & 0xFFFF\nZF = zero(v)"
        less = f"{start}s = t - v - CF\nPF = bit((t ^ v) & (t ^ s), 15)\n" + end.format(1)
        more = f"{start}s = t + v + CF\nPF = bit((t ^ s) & ~(t ^ v), 15)\n" + end.format(0)
        value = f"v = {PAIRS[pair]}"
        rows.append(_row(0x242 | k << 4, "SBC", f"HL,{pair}", 2, value, less, SET_PAIR["HL"]))
        rows.append(_row(0x24A | k << 4, "ADC", f"HL,{pair}", 2, value, more, SET_PAIR["HL"]))
        rows.append(
            _row(
                0x243 | k << 4,
                "LD",
                f"({{nn}}),{pair}",
                4,
                f"{_WORD}\nt = {PAIRS[pair]}",
                "wr(v, t & 0xFF)\nwr((v + 1) & 0xFFFF, t >> 8)",
            )
        )
        rows.append(_row(0x24B | k << 4, "LD", f"{pair},({{nn}})", 4, f"{_WORD}\n{_LOAD}", "", SET_PAIR[pair]))
    rows.append(
        _row(
            0x244,
            "NEG",
            "",
            2,
            "",
            "m = A\ns = 0 - m\nr = s & 0xFF\nHF = bit(m ^ s, 4)\nPF = zero(m ^ 0x80)\nNF = 1\n"
            f"CF = bit(s, 8)\n{SIGN}A = r",
        )
    )
    leave = "SP = (SP + 2) & 0xFFFF\nPC = v\nIFF1 = IFF2"
    rows.append(_row(0x245, "RETN", "", 2, _POP, leave, flow="return"))
    rows.append(_row(0x24D, "RETI", "", 2, _POP, leave, flow="return"))
    for code, mode in ((0x246, 0), (0x256, 1), (0x25E, 2)):
        rows.append(_row(code, "IM", str(mode), 2, "", f"IM = {mode}"))
    rows.append(_row(0x247, "LD", "I,A", 2, "tick(1)", "I = A"))
    rows.append(_row(0x24F, "LD", "R,A", 2, "tick(1)", "R = A", refresh=""))
    status = f"PF = IFF2\nHF = 0\nNF = 0\n{SIGN}A = r"
    rows.append(_row(0x257, "LD", "A,I", 2, "tick(1)\nr = I", status))
    rows.append(_row(0x25F, "LD", "A,R", 2, "tick(1)\nr = (R & 0x80) | ((R + m1) & 0x7F)", status, flow="refresh"))
    digits = f"{_HL}\nm = rd(ea)\ntick(4)\n"
    after = f"PF = parity(r)\nHF = 0\nNF = 0\n{SIGN}A = r"
    rows.append(
        _row(
            0x267,
            "RRD",
            "",
            2,
            digits + "wr(ea, (m >> 4) | ((A & 0x0F) << 4))",
            f"r = (A & 0xF0) | (m & 0x0F)\n{after}",
        )
    )
    rows.append(
        _row(
            0x26F,
            "RLD",
            "",
            2,
            digits + "wr(ea, ((m << 4) & 0xF0) | (A & 0x0F))",
            f"r = (A & 0xF0) | (m >> 4)\n{after}",
        )
    )
    for k, (suffix, step) in enumerate((("I", 1), ("D", -1))):
        for repeat in (False, True):
            rows += _block(0x2A0 | k << 3 | repeat << 4, suffix + ("R" if repeat else ""), step, repeat=repeat)
    return rows


def _block(base: int, suffix: str, step: int, *, repeat: bool) -> list[Entry]:
    """The block opcodes; each turn of a repeating one is an instruction of its own."""
    again = "\n    tick(5)\n    PC = (PC - 2) & 0xFFFF"
    hl = f"v = (((H << 8) | L) + {step}) & 0xFFFF\n{SET_PAIR['HL']}\n"
    de = f"v = (((D << 8) | E) + {step}) & 0xFFFF\n{SET_PAIR['DE']}\n"
    bc = f"v = (((B << 8) | C) - 1) & 0xFFFF\n{SET_PAIR['BC']}\n"
    move = f"{hl}{de}{bc}w = A + m\nYF = bit(w, 1)\nXF = bit(w, 3)\nHF = 0\nNF = 0\nPF = zero(v) ^ 1"
    look = f"s = A - m\nr = s & 0xFF\n{hl}{bc}HF = bit(A ^ m ^ s, 4)\nw = r - HF\nYF = bit(w, 1)\nXF = bit(w, 3)\n"
    look += "SF = bit(r, 7)\nZF = zero(r)\nNF = 1\nPF = zero(v) ^ 1"
    told = "HF = gt(w, 0xFF)\nCF = HF\nPF = parity((w & 7) ^ b)\nNF = bit(m, 7)\nSF = bit(b, 7)\nZF = zero(b)\n"
    told += "YF = bit(b, 5)\nXF = bit(b, 3)\nB = b"
    take = f"b = (B - 1) & 0xFF\nw = m + ((C + {step}) & 0xFF)\n{hl}{told}"
    give = f"{hl}w = m + L\n{told}"
    name = {False: ("LD", "CP", "IN", "OUT"), True: ("LD", "CP", "IN", "OT")}[repeat]
    flow = "repeat" if repeat else "next"
    texts = (
        (0, f"{_HL}\nm = rd(ea)\nwr((D << 8) | E, m)\ntick(2)", move, f"if PF:{again}"),
        (1, f"{_HL}\nm = rd(ea)\ntick(5)", look, f"if PF & (ZF ^ 1):{again}"),
        (2, f"tick(1)\nm = inp((B << 8) | C)\n{_HL}\nwr(ea, m)", take, f"if b:{again}"),
        (3, f"tick(1)\n{_HL}\nm = rd(ea)\nb = (B - 1) & 0xFF\nout((b << 8) | C, m)", give, f"if b:{again}"),
    )
    return [
        _row(base | k, name[k] + suffix, "", 2, first, text, last if repeat else "", flow=flow)
        for k, first, text, last in texts
    ]


def entries() -> list[Entry]:
    """Every documented opcode."""
    found = [*_main(), *_bits(), *_extended(), *_indexed(0x300, "IX"), *_indexed(0x400, "IY")]
    return sorted(found)


_PUSHES = {"PUSH": 2, "POP": -2}


def rows(names: frozenset[str]) -> dict[int, Row]:
    """Every documented opcode; `names`: registers and flags."""
    return {entry.code: _finish(entry, names) for entry in entries()}


def _finish(entry: Entry, names: frozenset[str]) -> Row:
    last = entry.length - 1
    operand = entry.operands.replace("{d}", "{d2}")
    for kind, key in (("{nn}", f"w{last - 1}"), ("{n}", f"n{last}"), ("{e}", f"e{last}")):
        operand = operand.replace(kind, f"{{{key}}}")
    target = ""
    if entry.flow in ("branch", "jump", "call", "call if"):
        target = "e1" if "{e}" in entry.operands else "w1"
    elif entry.flow == "restart":
        target = str(entry.code & 0x38)
    return make_row(
        entry.code,
        entry.name,
        entry.operands,
        entry.length,
        entry.stages,
        entry.flow,
        names,
        operand=operand,
        target=target,
        pushes=_PUSHES.get(entry.name, 0),
    )


_PREFIXES = {0xCB: 0x100, 0xED: 0x200, 0xDD: 0x300, 0xFD: 0x400}


def code_at(byte: ByteAt, at: int) -> int:
    """The number of the opcode at an address."""
    first = byte(at)
    if first not in _PREFIXES:
        return first
    second = byte((at + 1) & 0xFFFF)
    if second == 0xCB and first in (0xDD, 0xFD):
        return {0xDD: 0x500, 0xFD: 0x600}[first] + byte((at + 3) & 0xFFFF)
    return _PREFIXES[first] + second


def write_number(value: int, digits: int) -> str:
    """A number as the maker's assembler takes it: it begins with a digit and ends with an H."""
    text = f"{value:0{digits}X}h"
    return text if text[0].isdigit() else f"0{text}"


# Opcodes on H and L that DD and FD turn to the halves of IX and IY; those with (HL) are documented.
_HALVES = frozenset(
    code
    for code in (*range(0x24, 0x2F), *range(0x40, 0xC0))
    if code in (0x24, 0x25, 0x26, 0x2C, 0x2D, 0x2E)
    or (code >= 0x40 and (code & 7 in (4, 5) or (code < 0x80 and code >> 3 & 7 in (4, 5))))
)


def undocumented_lengths() -> dict[int, int]:
    """Length of every opcode that the manual leaves blank (*from memory*).

    A DD or FD in front of an opcode that does not name HL has no effect: it is one byte, and the opcode follows.
    """
    documented = {entry.code for entry in entries()}
    found: dict[int, int] = {}
    for code in range(0x100):
        found[0x100 | code] = found[0x200 | code] = 2
        found[0x500 | code] = found[0x600 | code] = 4
        found[0x300 | code] = found[0x400 | code] = (2 + (code in (0x26, 0x2E))) if code in _HALVES else 1
    return {code: length for code, length in sorted(found.items()) if code not in documented}


# For the core's speed alone (see `Cpu.reads`, `Cpu.shared` and `Cpu.rare`).
READS = ("m = rd(ea)", RETURN)
SHARED = (REFRESH, SIGN.strip(), "PF = parity(r)")
_OFTEN_BEHIND_ED = frozenset((0x2B0, 0x2B8))  # LDIR, LDDR


def rare() -> frozenset[int]:
    """Opcodes that the core need not run at full speed: ports, where a device answers anyway, and seldom ones."""
    found = set()
    for entry in entries():
        is_sum = entry.code >> 8 == 3 and entry.name == "ADD" and entry.operands.startswith("IX")
        is_port_or_swap = entry.name in ("IN", "OUT", "EX", "EXX", "DI", "EI", "DAA") and entry.code != 0xEB
        is_behind_ed = entry.code >> 8 == 2 and entry.code not in _OFTEN_BEHIND_ED
        is_seldom_asked = entry.operands[:2] in ("PO", "PE") or (
            entry.name in ("CALL", "RET") and entry.operands[:2] in ("P", "P,", "M", "M,")
        )
        if is_sum or is_port_or_swap or is_behind_ed or is_seldom_asked or entry.code >= 0x400:
            found.add(entry.code)
    return frozenset(found)
