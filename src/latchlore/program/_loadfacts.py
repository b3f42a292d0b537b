"""What gives a program's place and processor away: lengths of instructions, calls, jumps, returns and vectors.

Sources, none of them at hand as this table was typed, so *from memory*, and each walked against a second one in the
tests (a disassembly library for 6502, 65C02, 6800 and 6809; a Z80 library for Z80 and the 8080's part of it):

- 6502: MOS Technology, *MCS6500 Microcomputer Family Programming Manual*, January 1976, appendix A.
- 65C02: the CMOS part's data sheet, without the bit instructions that not every maker has.
- Z80: Zilog, *Z80 CPU User Manual* UM0080.
- 8080 and 8085: Intel, *8080/8085 Assembly Language Programming Manual*, 1977.
- 6800: Motorola, *M6800 Programming Reference Manual*, 1976.  6809: *MC6809 Programming Manual*, 1981.

A row of `LENGTHS` is 16 rows of 16 digits, opcode 00h first: bytes of the instruction, 0 where the opcode is not
documented, ``p`` a prefix, ``i`` two bytes or more with a 6809 index byte.
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
    lengths: str


# fmt: off
_LENGTHS_6502 = (
    "2200022012100330" "2200022013000330" "3200222012103330" "2200022013000330"
    "1200022012103330" "2200022013000330" "1200022012103330" "2200022013000330"
    "0200222010103330" "2200222013100300" "2220222012103330" "2200222013103330"
    "2200222012103330" "2200022013000330" "2200222012103330" "2200022013000330"
)
_LENGTHS_65C02 = (
    "2200222012103330" "2220222013103330" "3200222012103330" "2220222013103330"
    "1200022012103330" "2220022013100330" "1200222012103330" "2220222013103330"
    "2200222012103330" "2220222013103330" "2220222012103330" "2220222013103330"
    "2200222012103330" "2220022013100330" "2200222012103330" "2220022013100330"
)
_LENGTHS_8080 = (
    "1311112101111121" "0311112101111121" "0331112101311121" "0331112101311121"
    "1111111111111111" "1111111111111111" "1111111111111111" "1111111111111111"
    "1111111111111111" "1111111111111111" "1111111111111111" "1111111111111111"
    "1133312111303321" "1132312110323021" "1131312111313021" "1131312111313021"
)
_LENGTHS_8085 = (
    "1311112101111121" "0311112101111121" "1331112101311121" "1331112101311121"
    "1111111111111111" "1111111111111111" "1111111111111111" "1111111111111111"
    "1111111111111111" "1111111111111111" "1111111111111111" "1111111111111111"
    "1133312111303321" "1132312110323021" "1131312111313021" "1131312111313021"
)
_LENGTHS_Z80 = (
    "1311112111111121" "2311112121111121" "2331112121311121" "2331112121311121"
    "1111111111111111" "1111111111111111" "1111111111111111" "1111111111111111"
    "1111111111111111" "1111111111111111" "1111111111111111" "1111111111111111"
    "11333121113p3321" "1132312111323p21" "1131312111313p21" "1131312111313p21"
)
_LENGTHS_6800 = (
    "0100001111111111" "1100001101010000" "2022222222222222" "1111111101010011"
    "1001101111101101" "1001101111101101" "2002202222202222" "3003303333303333"
    "2220222022223230" "2220222222222022" "2220222222222222" "3330333333333333"
    "2220222022220030" "2220222222220022" "2220222222220022" "3330333333330033"
)
_LENGTHS_6809 = (
    "2002202222202222" "pp11003301202122" "2222222222222222" "iiii222201112101"
    "1001101111101101" "1001101111101101" "i00ii0iiiii0iiii" "3003303333303333"
    "2223222022223230" "2222222222222222" "iiiiiiiiiiiiiiii" "3333333333333333"
    "2223222022223030" "2222222222222222" "iiiiiiiiiiiiiiii" "3333333333333333"
)
# fmt: on

_TOP_6502 = {0xFFFA: "NMI", 0xFFFC: "reset", 0xFFFE: "IRQ"}
_TOP_6800 = {0xFFF8: "IRQ", 0xFFFA: "SWI", 0xFFFC: "NMI", 0xFFFE: "reset"}
_TOP_6809 = {0xFFF2: "SWI3", 0xFFF4: "SWI2", 0xFFF6: "FIRQ", **_TOP_6800}

_CALLS_8080 = bytes.fromhex("CD C4 CC D4 DC E4 EC F4 FC")
_JUMPS_8080 = bytes.fromhex("C3 C2 CA D2 DA E2 EA F2 FA")

LANDMARKS: dict[str, Landmarks] = {
    "6502": Landmarks(
        b"\x20", b"\x4c", b"\x4c", b"\x60\x40", b"", bytes.fromhex("10 30 50 70 90 B0 D0 F0"),
        False, _TOP_6502, None, bytes.fromhex("78 D8 A2 A9 4C A0 20"), _LENGTHS_6502,
    ),
    "65C02": Landmarks(
        b"\x20", b"\x4c", b"\x4c", b"\x60\x40", b"\x80", bytes.fromhex("10 30 50 70 80 90 B0 D0 F0"),
        False, _TOP_6502, None, bytes.fromhex("78 D8 A2 A9 4C A0 20"), _LENGTHS_65C02,
    ),
    "Z80": Landmarks(
        _CALLS_8080, _JUMPS_8080, b"\xc3", b"\xc9\xe9", b"\x18", bytes.fromhex("10 18 20 28 30 38"),
        False, {}, 0x0000, bytes.fromhex("F3 C3 31 18 ED AF 3E 21 00"), _LENGTHS_Z80,
    ),
    "8080": Landmarks(
        _CALLS_8080, _JUMPS_8080, b"\xc3", b"\xc9\xe9", b"", b"",
        False, {}, 0x0000, bytes.fromhex("F3 C3 31 AF 3E 21 00"), _LENGTHS_8080,
    ),
    "8085": Landmarks(
        _CALLS_8080, _JUMPS_8080, b"\xc3", b"\xc9\xe9", b"", b"",
        False, {}, 0x0000, bytes.fromhex("F3 C3 31 AF 3E 21 00"), _LENGTHS_8085,
    ),
    "6800": Landmarks(
        b"\xbd", b"\x7e", b"\x7e", b"\x39\x3b", b"\x20",
        bytes.fromhex("20 22 23 24 25 26 27 28 29 2A 2B 2C 2D 2E 2F 8D"),
        True, _TOP_6800, None, bytes.fromhex("8E 0F 7F 86 CE 7E"), _LENGTHS_6800,
    ),
    "6809": Landmarks(
        b"\xbd", b"\x7e", b"\x7e", b"\x39\x3b", b"\x20",
        bytes.fromhex("20 21 22 23 24 25 26 27 28 29 2A 2B 2C 2D 2E 2F 8D"),
        True, _TOP_6809, None, bytes.fromhex("10 1A 8E 4F 86 CC 7E"), _LENGTHS_6809,
    ),
}  # fmt: skip

# A processor with the landmarks of another.
LIKE = {"R65C02": "65C02"}

# ED-prefixed Z80 instructions of four bytes; all others have two.
LONG_ED = bytes.fromhex("43 4B 53 5B 63 6B 73 7B")
# Second bytes of Z80 instructions that address (HL), which DD and FD turn into (IX+d): one byte more.
INDEXED_Z80 = bytes.fromhex("34 35 36 46 4E 56 5E 66 6E 70 71 72 73 74 75 77 7E 86 8E 96 9E A6 AE B6 BE")
# Documented 6809 opcodes behind prefix 10h and 11h → bytes of the whole instruction, `i` with an index byte.
PAGE_10_6809: dict[int, str] = {
    **dict.fromkeys(range(33, 48), "4"),
    0x3F: "2",
    **dict.fromkeys((131, 140, 142, 206), "4"),
    **dict.fromkeys((147, 156, 158, 159, 222, 223), "3"),
    **dict.fromkeys((163, 172, 174, 175, 238, 239), "i"),
    **dict.fromkeys((179, 188, 190, 191, 254, 255), "4"),
}
PAGE_11_6809: dict[int, str] = {
    0x3F: "2", 0x83: "4", 0x8C: "4", 0x93: "3", 0x9C: "3", 0xA3: "i", 0xAC: "i", 0xB3: "4", 0xBC: "4",
}  # fmt: skip
