"""The 6800's table against the manual's formulae, a second list of cycles, capstone and an assembler.

There is no packaged emulator of this part: flags are checked for every operand against formulae typed a second time
(see `motorola.py`), addressing and the stack by hand.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import capstone
import numpy as np
import pytest

from latchlore.base import LeafKind
from latchlore.program import Image, explore
from latchlore.program._cpu import get_cpu
from tests import motorola
from tests.cpu_checks import (
    CARD,
    check_driver,
    cycles_of,
    list_bytes,
    need_tool,
    new_machine,
    one_of_each,
    over_all,
    read_s_records,
    run_tool,
)

if TYPE_CHECKING:
    import pathlib
    from collections.abc import Callable

ENGINE = capstone.Cs(capstone.CS_ARCH_M680X, capstone.CS_MODE_M680X_6800)
PAIRS = np.arange(1 << 16)
REGISTER, OPERAND = PAIRS & 0xFF, PAIRS >> 8
# capstone 5 decodes these, which the manual leaves blank (*from memory*: undocumented, found by users)
MORE_OF_CAPSTONE = frozenset((0x12, 0x13, 0x14, 0x87, 0x8F, 0xC7, 0xCD, 0xCF))


def test_lengths_and_names() -> None:
    """Lengths and mnemonics of all 197 opcodes as capstone has them."""
    cpu = get_cpu("6800")
    assert (len(cpu.rows), len(cpu.undocumented)) == (197, 59)
    for code in range(256):
        found = list(ENGINE.disasm(bytes([code, 0x10, 0x20, 0]), 0x1000, 1))
        if code in cpu.rows:
            assert (found[0].mnemonic.upper(), found[0].size) == (cpu.rows[code].name, cpu.rows[code].length)
        elif found and found[0].mnemonic not in ("fcb", "nop", "db"):
            assert code in MORE_OF_CAPSTONE, (hex(code), found[0].mnemonic)


def test_listing_assembles_again(tmp_path: pathlib.Path) -> None:
    """Crasm makes the same bytes of a listing of every opcode."""
    need_tool("crasm", "crasm")
    data = b"".join(one_of_each("6800", {}))
    lines = list_bytes("6800", data, 0x2000)
    (tmp_path / "x.asm").write_text("\n".join([" CPU 6800", " * = $2000", *(f" {line}" for line in lines)]) + "\n")
    run_tool(tmp_path, "crasm", "-o", "x.s19", "x.asm")
    found = read_s_records((tmp_path / "x.s19").read_text())
    assert bytes(found[at] for at in range(0x2000, 0x2000 + len(data))) == data


def compare(mine: dict[str, motorola.Bits], register: str, result: motorola.Bits, flags: motorola.Flags) -> None:
    """The register and the flags."""
    assert np.array_equal(mine[register], result)
    for flag, level in flags.items():
        assert np.array_equal(mine[flag], level), flag


@pytest.mark.parametrize("register", ["A", "B"])
@pytest.mark.parametrize("carry", [0, 1])
def test_two_operands(register: str, carry: int) -> None:
    """Every pair of bytes through SUB, CMP, SBC, AND, BIT, LDA, EOR, ADC, ORA and ADD of both accumulators."""
    base = 0x80 if register == "A" else 0xC0
    x, m = REGISTER, OPERAND
    expected = {
        0x0: motorola.subtract(x, m, 0),
        0x1: (x, motorola.subtract(x, m, 0)[1]),
        0x2: motorola.subtract(x, m, carry),
        0x4: motorola.logic(x & m),
        0x5: (x, motorola.logic(x & m)[1]),
        0x6: motorola.logic(m),
        0x8: motorola.logic(x ^ m),
        0x9: motorola.add(x, m, carry),
        0xA: motorola.logic(x | m),
        0xB: motorola.add(x, m, 0),
    }
    for low, (result, flags) in expected.items():
        mine = over_all("6800", bytes([base | low]), register, C=carry, H=1, I=1)
        kept = (
            {"I": x * 0 + 1}
            | ({} if "H" in flags else {"H": x * 0 + 1})
            | ({} if "C" in flags else {"C": x * 0 + carry})
        )
        compare(mine, register, result, flags | kept)


@pytest.mark.parametrize(("register", "base"), [("A", 0x40), ("B", 0x50)])
@pytest.mark.parametrize("carry", [0, 1])
def test_one_operand(register: str, base: int, carry: int) -> None:
    """Every byte through the operations on one accumulator; V of the shifts is N xor C."""
    names = {0: "NEG", 3: "COM", 4: "LSR", 6: "ROR", 7: "ASR", 8: "ASL", 9: "ROL", 0xA: "DEC", 0xC: "INC", 0xF: "CLR"}
    for low, name in names.items():
        mine = over_all("6800", bytes([base | low]), register, C=carry, V=1, H=1, I=1)
        result, flags = motorola.one_operand(name, REGISTER, carry)
        if name in ("LSR", "ROR", "ASR", "ASL", "ROL"):
            flags["V"] = flags["N"] ^ flags["C"]
        compare(mine, register, result, {"H": REGISTER * 0 + 1, "C": REGISTER * 0 + carry} | flags)
    mine = over_all("6800", bytes([base | 0xD]), register, C=carry, V=1)
    compare(mine, register, *motorola.one_operand("TST", REGISTER, carry))
    assert not mine["C"].any()  # TST clears C on this part


def test_accumulators_together() -> None:
    """ABA, SBA, CBA, TAB, TBA: every byte in A, some in B."""
    for other in range(0, 256, 5):
        m = REGISTER * 0 + other
        for code, (register, (result, flags)) in {
            0x1B: ("A", motorola.add(REGISTER, m, 0)),
            0x10: ("A", motorola.subtract(REGISTER, m, 0)),
            0x11: ("A", (REGISTER, motorola.subtract(REGISTER, m, 0)[1])),
            0x16: ("B", motorola.logic(REGISTER)),
            0x17: ("A", motorola.logic(m)),
        }.items():
            compare(over_all("6800", bytes([code]), "A", B=other), register, result, flags)


@pytest.mark.parametrize("row", motorola.DECIMAL)
def test_decimal_adjust(row: tuple[int, range, int, range, int, int]) -> None:
    """DAA of every case of the manual's table."""
    carry, high, half, low, more, carry_after = row
    mine = over_all("6800", b"\x19", "A", H=half, C=carry)
    for value in (h << 4 | k for h in high for k in low):
        assert (mine["A"][value], mine["C"][value]) == ((value + more) & 0xFF, carry_after), hex(value)


def test_decimal_sums() -> None:
    """ADDA and DAA add two-digit decimal numbers."""
    machine = new_machine("6800", bytes(0x2000) + bytes.fromhex("8B 00 19"))
    for first, second in itertools.product(range(0, 100, 3), range(100)):
        machine.space.cells[0x2001] = int(str(second), 16)
        machine.registers = {"A": int(str(first), 16), "PC": 0x2000}
        machine.call(2, [])
        now = machine.registers
        assert (now["A"], now["C"]) == (int(str((first + second) % 100), 16), int(first + second > 99))


# Cycles by opcode, typed a second time from the manual's table (*from memory*); 0: the manual leaves it blank.
CYCLES = """
0 2 0 0 0 0 2 2 4 4 2 2 2 2 2 2  2 2 0 0 0 0 2 2 0 2 0 2 0 0 0 0
4 0 4 4 4 4 4 4 4 4 4 4 4 4 4 4  4 4 4 4 4 4 4 4 0 5 0 10 0 0 9 12
2 0 0 2 2 0 2 2 2 2 2 0 2 2 0 2  2 0 0 2 2 0 2 2 2 2 2 0 2 2 0 2
7 0 0 7 7 0 7 7 7 7 7 0 7 7 4 7  6 0 0 6 6 0 6 6 6 6 6 0 6 6 3 6
2 2 2 0 2 2 2 0 2 2 2 2 3 8 3 0  3 3 3 0 3 3 3 4 3 3 3 3 4 0 4 5
5 5 5 0 5 5 5 6 5 5 5 5 6 8 6 7  4 4 4 0 4 4 4 5 4 4 4 4 5 9 5 6
2 2 2 0 2 2 2 0 2 2 2 2 0 0 3 0  3 3 3 0 3 3 3 4 3 3 3 3 0 0 4 5
5 5 5 0 5 5 5 6 5 5 5 5 0 0 6 7  4 4 4 0 4 4 4 5 4 4 4 4 0 0 5 6
"""


def test_cycles() -> None:
    """Cycles of every opcode; a branch takes as long whether taken or not."""
    listed = [int(number) for number in CYCLES.split()]
    cpu = get_cpu("6800")
    assert [code for code, number in enumerate(listed) if number] == sorted(cpu.rows)
    for code in cpu.rows:
        for flags in ({}, dict.fromkeys("NZVC", 1)):
            assert cycles_of("6800", [code, 0x12, 0x34], SP=0x1000, X=0x3000, **flags) == listed[code], hex(code)


@pytest.mark.parametrize(
    ("code", "before", "cells", "after", "stored"),
    [
        ("36", {"A": 0x12, "SP": 0x1000}, {}, {"SP": 0x0FFF}, {0x1000: 0x12}),
        ("33", {"SP": 0x0FFF}, {0x1000: 0x34}, {"B": 0x34, "SP": 0x1000}, {}),
        ("BD3456", {"SP": 0x1000}, {}, {"PC": 0x3456, "SP": 0x0FFE}, {0x1000: 0x03, 0x0FFF: 0x20}),
        ("AD10", {"SP": 0x1000, "X": 0x3000}, {}, {"PC": 0x3010, "SP": 0x0FFE}, {0x1000: 0x02, 0x0FFF: 0x20}),
        ("8D80", {"SP": 0x1000}, {}, {"PC": 0x1F82, "SP": 0x0FFE}, {0x1000: 0x02, 0x0FFF: 0x20}),
        ("39", {"SP": 0x0FFE}, {0x0FFF: 0x34, 0x1000: 0x56}, {"PC": 0x3456, "SP": 0x1000}, {}),
        ("30", {"SP": 0x0FFF}, {}, {"X": 0x1000}, {}),
        ("35", {"X": 0x1000}, {}, {"SP": 0x0FFF}, {}),
        ("EE10", {"X": 0x3000}, {0x3010: 0x80, 0x3011: 0x01}, {"X": 0x8001, "N": 1, "Z": 0}, {}),
        ("DF10", {"X": 0x1234}, {}, {"N": 0}, {0x10: 0x12, 0x11: 0x34}),
        ("BF1234", {"SP": 0x8765}, {}, {"N": 1}, {0x1234: 0x87, 0x1235: 0x65}),
        ("8C1234", {"X": 0x1234}, {}, {"Z": 1, "N": 0, "V": 0}, {}),
        ("8C1335", {"X": 0x1234}, {}, {"Z": 0, "N": 1, "V": 0}, {}),
        ("8C1235", {"X": 0x1234}, {}, {"Z": 0, "N": 0, "V": 0}, {}),  # no borrow from the low byte into N
        ("8C0100", {"X": 0x8000}, {}, {"Z": 0, "N": 0, "V": 1}, {}),
        ("8C7FFF", {"X": 0x8000, "C": 1}, {}, {"Z": 0, "N": 0, "V": 1, "C": 1}, {}),
        ("06", {"A": 0xD5}, {}, {"H": 0, "I": 1, "N": 0, "Z": 1, "V": 0, "C": 1}, {}),
        ("07", {"H": 1, "Z": 1, "V": 0}, {}, {"A": 0xE4}, {}),
        ("08", {"X": 0xFFFF}, {}, {"X": 0, "Z": 1}, {}),
        ("34", {"SP": 0}, {}, {"SP": 0xFFFF, "Z": 0}, {}),
        (
            "3F",
            {"SP": 0x1000, "X": 0x1234, "A": 0x56, "B": 0x78, "C": 1, "V": 0},
            {0xFFFA: 0x34, 0xFFFB: 0x56},
            {"PC": 0x3456, "SP": 0x0FF9, "I": 1},
            {0x1000: 1, 0xFFF: 0x20, 0xFFE: 0x34, 0xFFD: 0x12, 0xFFC: 0x56, 0xFFB: 0x78, 0xFFA: 0xC1},
        ),
        (
            "3B",
            {"SP": 0x0FF9},
            {0x1000: 1, 0xFFF: 0x20, 0xFFE: 0x34, 0xFFD: 0x12, 0xFFC: 0x56, 0xFFB: 0x78, 0xFFA: 0xC1},
            {"PC": 0x2001, "SP": 0x1000, "X": 0x1234, "A": 0x56, "B": 0x78, "C": 1, "I": 0},
            {},
        ),
        ("6AFF", {"X": 0x3000}, {0x30FF: 0x80}, {"V": 1, "N": 0}, {0x30FF: 0x7F}),
        ("A7FF", {"X": 0xFFFF, "A": 0x80}, {}, {"N": 1, "V": 0}, {0x00FE: 0x80}),
        ("7F1234", {"C": 1}, {0x1234: 0x55}, {"Z": 1, "C": 0}, {0x1234: 0}),
        ("6E10", {"X": 0x3000}, {}, {"PC": 0x3010}, {}),
    ],
)
def test_by_hand(
    code: str, before: dict[str, int], cells: dict[int, int], after: dict[str, int], stored: dict[int, int]
) -> None:
    """Addressing and the stack, by hand from the manual's descriptions."""
    machine = new_machine("6800")
    data = bytes.fromhex(code)
    machine.space.cells[0x2000 : 0x2000 + len(data)] = list(data)
    for address, value in cells.items():
        machine.space.cells[address] = value
    machine.registers = {"V": 1, **before, "PC": 0x2000}
    assert machine.call(1, [])[:2] == (0, 1)
    assert {name: machine.registers[name] for name in after} == after
    assert {at: int(machine.space.cells[at]) for at in stored} == stored
    written = set(np.flatnonzero(machine.space.written).tolist())
    assert written == set(stored)


@pytest.mark.parametrize(("low", "test"), [(k, k) for k in range(16) if k != 1])
def test_branches(low: int, test: int) -> None:
    """Every branch under every state of N, Z, V and C, by the names of the conditions."""
    conditions: dict[int, Callable[[int, int, int, int], object]] = {
        0x0: lambda n, z, v, c: True,
        0x2: lambda n, z, v, c: not (c or z),
        0x3: lambda n, z, v, c: c or z,
        0x4: lambda n, z, v, c: not c,
        0x5: lambda n, z, v, c: c,
        0x6: lambda n, z, v, c: not z,
        0x7: lambda n, z, v, c: z,
        0x8: lambda n, z, v, c: not v,
        0x9: lambda n, z, v, c: v,
        0xA: lambda n, z, v, c: not n,
        0xB: lambda n, z, v, c: n,
        0xC: lambda n, z, v, c: n == v,
        0xD: lambda n, z, v, c: n != v,
        0xE: lambda n, z, v, c: not z and n == v,
        0xF: lambda n, z, v, c: z or n != v,
    }
    machine = new_machine("6800", bytes(0x2000) + bytes([0x20 | low, 0x80]))
    for n, z, v, c in itertools.product((0, 1), repeat=4):
        machine.registers = {"N": n, "Z": z, "V": v, "C": c, "PC": 0x2000}
        machine.call(1, [])
        assert machine.pc == (0x1F82 if conditions[test](n, z, v, c) else 0x2002)


def test_driver() -> None:
    """A driver of an invented card: PSHA; wait: TST; BMI; PULA; STAA; CLR (which reads first); LDAA #1; STAA; RTS."""
    code = bytes.fromhex("36 7DC801 2BFB 32 B7C800 C600 F7C803 8601 B7C803 39")
    tree = explore([Image.from_bytes(code, 0x0300, "driver")], 0x0300, CARD, cpu="6800")
    check_driver(tree, "A", period=10, low=7)  # TST extended 6, BMI 4; LDAA # 2, STAA extended 5


def test_clear_reads_first() -> None:
    """CLR of a register reads it before it writes: a read that may acknowledge something."""
    code = bytes.fromhex("7FC803 39")
    tree = explore([Image.from_bytes(code, 0x0300, "driver")], 0x0300, CARD, cpu="6800")
    events = [event for node in tree.nodes for event in node.events]
    assert [type(event).__name__ for event in events] == ["Read", "Write"]


def test_driver_wrong() -> None:
    """An opcode that the manual leaves blank ends the path by name."""
    (leaf,) = explore([Image.from_bytes(b"\x87", 0x0300, "driver")], 0x0300, CARD, cpu="6800").leaves
    assert (leaf.kind, leaf.reason) == (LeafKind.UNDOCUMENTED, "opcode 87 is undocumented")
