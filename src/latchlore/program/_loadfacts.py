"""What gives a program's place and processor away: calls, jumps, returns and vectors.

Sources, none of them at hand as this table was typed, so *from memory*, and each walked against a second one in the
tests (a disassembly library for 6502, 65C02, 6800 and 6809; a Z80 library for Z80 and the 8080's part of it):

- 6502: MOS Technology, *MCS6500 Microcomputer Family Programming Manual*, January 1976, appendix A.
- 65C02: the CMOS part's data sheet, without the bit instructions that not every maker has.
- Z80: Zilog, *Z80 CPU User Manual* UM0080.
- 8080 and 8085: Intel, *8080/8085 Assembly Language Programming Manual*, 1977.
- 6800: Motorola, *M6800 Programming Reference Manual*, 1976.  6809: *MC6809 Programming Manual*, 1981.

Lengths of instructions are those of the processors' own tables.
"""

from __future__ import annotations

from typing import NamedTuple


class Landmarks(NamedTuple):
    """One processor's landmarks; opcodes as byte strings.

    `calls` and `jumps`: followed by an absolute address.  `ends`: one-byte instructions after which the next byte is
    reached from elsewhere only.  `always`: the jumps among `jumps` that are always taken.  `short`: two-byte branches
    that are always taken.  `branches`: two-byte relative branches.  `vectors`: address → name, each holding the
    address of code.  `start`: where the processor starts, where that is an address and not a vector.
    `starts`: opcodes that usually begin a program after reset (*common practice*).
    """

    calls: bytes
    jumps: bytes
    always: bytes
    ends: bytes
    short: bytes
    branches: bytes
    is_big_endian: bool
    vectors: dict[int, str]
    start: int | None
    starts: bytes


_TOP_6502 = {0xFFFA: "NMI", 0xFFFC: "reset", 0xFFFE: "IRQ"}
_TOP_6800 = {0xFFF8: "IRQ", 0xFFFA: "SWI", 0xFFFC: "NMI", 0xFFFE: "reset"}
_TOP_6809 = {0xFFF2: "SWI3", 0xFFF4: "SWI2", 0xFFF6: "FIRQ", **_TOP_6800}

_CALLS_8080 = bytes.fromhex("CD C4 CC D4 DC E4 EC F4 FC")
_JUMPS_8080 = bytes.fromhex("C3 C2 CA D2 DA E2 EA F2 FA")

LANDMARKS: dict[str, Landmarks] = {
    "6502": Landmarks(
        b"\x20", b"\x4c", b"\x4c", b"\x60\x40", b"", bytes.fromhex("10 30 50 70 90 B0 D0 F0"),
        False, _TOP_6502, None, bytes.fromhex("78 D8 A2 A9 4C A0 20"),
    ),
    "65C02": Landmarks(
        b"\x20", b"\x4c", b"\x4c", b"\x60\x40", b"\x80", bytes.fromhex("10 30 50 70 80 90 B0 D0 F0"),
        False, _TOP_6502, None, bytes.fromhex("78 D8 A2 A9 4C A0 20"),
    ),
    "Z80": Landmarks(
        _CALLS_8080, _JUMPS_8080, b"\xc3", b"\xc9\xe9", b"\x18", bytes.fromhex("10 18 20 28 30 38"),
        False, {}, 0x0000, bytes.fromhex("F3 C3 31 18 ED AF 3E 21 00"),
    ),
    "8080": Landmarks(
        _CALLS_8080, _JUMPS_8080, b"\xc3", b"\xc9\xe9", b"", b"",
        False, {}, 0x0000, bytes.fromhex("F3 C3 31 AF 3E 21 00"),
    ),
    "8085": Landmarks(
        _CALLS_8080, _JUMPS_8080, b"\xc3", b"\xc9\xe9", b"", b"",
        False, {}, 0x0000, bytes.fromhex("F3 C3 31 AF 3E 21 00"),
    ),
    "6800": Landmarks(
        b"\xbd", b"\x7e", b"\x7e", b"\x39\x3b", b"\x20",
        bytes.fromhex("20 22 23 24 25 26 27 28 29 2A 2B 2C 2D 2E 2F 8D"),
        True, _TOP_6800, None, bytes.fromhex("8E 0F 7F 86 CE 7E"),
    ),
    "6809": Landmarks(
        b"\xbd", b"\x7e", b"\x7e", b"\x39\x3b", b"\x20",
        bytes.fromhex("20 21 22 23 24 25 26 27 28 29 2A 2B 2C 2D 2E 2F 8D"),
        True, _TOP_6809, None, bytes.fromhex("10 1A 8E 4F 86 CC 7E"),
    ),
}  # fmt: skip

# A processor with the landmarks of another.
LIKE = {"R65C02": "65C02"}
