"""The driver finder and the code map under it."""

from __future__ import annotations

import random
from functools import partial

import pytest

from latchlore.base import AddressSet, BadInput, InputKind
from latchlore.program import CodeMap, Image, NamedRegister, find_drivers, map_code, run
from tests import program_cpu_writer, program_z80_writer
from tests.test_program_random import DEVICES, ORIGIN, make_program

CARD = AddressSet.parse("1100 1xxx xxxx xx00")
DATA = NamedRegister("DATA", InputKind.MEMORY, CARD, "write")
STATUS = NamedRegister("BUSY", InputKind.MEMORY, AddressSet.parse("1100 1xxx xxxx xx01"), "read")
STROBE = NamedRegister("STROBE", InputKind.MEMORY, AddressSet.parse("1100 1xxx xxxx xx10"), "write")
CARD_REGISTERS = (DATA, STATUS, STROBE)
PORT = NamedRegister("PRINTER", InputKind.PORT, AddressSet.of((0x91,), 8), "both")


def mapped(code: str, cpu: str = "6502", load: int = 0xE000, **entries: int) -> CodeMap:
    """The code map of a few bytes; entries by name, the first byte where none is named."""
    image = Image.from_bytes(bytes.fromhex(code), load, "rom.bin")
    return map_code([image], {at: name for name, at in entries.items()} or {load: ""}, cpu=cpu)


def found(code: CodeMap, *registers: NamedRegister) -> dict[str, list[tuple[int, str, tuple[int, ...], bool]]]:
    """Register → (program address, kind, addresses, sure) of every touch."""
    drivers = find_drivers(code, registers)
    return {
        one.register.name: [(t.instruction.address, t.kind, t.addresses, t.sure) for t in one.touches]
        for one in drivers.found
    }


def test_mirrors_and_calls() -> None:
    """A called routine touches the registers at whatever mirror; both entries lead there."""
    # E000: LDA #41; JSR E009; JMP E000 | E009: BIT CFF1; BPL E009; STA D7FC (no card); STA C804; RTS
    code = mapped("A941 2009E0 4C00E0 EA 2CF1CF 10FB 8DFCD7 8D04C8 60", start=0xE000, again=0xE002)
    drivers = find_drivers(code, CARD_REGISTERS)
    assert found(code, *CARD_REGISTERS) == {
        "DATA": [(0xE011, "wr", (0xC804,), True)],
        "BUSY": [(0xE009, "rd", (0xCFF1,), True)],
    }
    assert drivers.untouched == (STROBE,)
    assert [one.routines for one in drivers.found] == [(0xE009,), (0xE009,)]
    assert [one.reached_from for one in drivers.found] == [(0xE000, 0xE002)] * 2
    assert code.called_from == {0xE009: (0xE002,)}
    assert code.jumped_from == {0xE000: (0xE005,), 0xE009: (0xE00C,)}


def test_indexed_touch() -> None:
    """An index that is known touches; one that is not may touch, with the range it can reach.

    The dummy read of an indexed store goes to the address before the carry into its high byte: MCS6500 Microcomputer
    Family Programming Manual (1976), appendix A.5.3.
    """
    # LDX #60; STA C020,X (C080) | LDX 02; STA C0F0,X
    slot = NamedRegister("SLOT", InputKind.MEMORY, AddressSet.parse("1100 0000 1000 xxxx"), "both")
    assert found(mapped("A260 9D20C0 60"), slot)["SLOT"] == [
        (0xE002, "dummy", (0xC080,), True),
        (0xE002, "wr", (0xC080,), True),
    ]
    high = NamedRegister("HIGH", InputKind.MEMORY, AddressSet.parse("1100 0001 xxxx xxxx"), "both")
    low = NamedRegister("LOW", InputKind.MEMORY, AddressSet.parse("1100 0000 xxxx xxxx"), "both")
    touches = found(mapped("A602 9DF0C0 60"), high, low)
    assert touches["HIGH"] == [(0xE002, "wr", tuple(range(0xC100, 0xC1F0)), False)]
    assert touches["LOW"] == [
        (0xE002, "dummy", tuple(range(0xC000, 0xC100)), True),
        (0xE002, "wr", tuple(range(0xC0F0, 0xC100)), False),
    ]


def test_known_over_a_call() -> None:
    """A slot number in X stays known over a call of a routine that never sets X, and is lost over one that does."""
    slot = NamedRegister("SLOT", InputKind.MEMORY, AddressSet.of((0xC080,)), "both")
    # LDX #60; JSR E009; STA C020,X; RTS | E009: LDA C801; RTS    and with INX in the routine
    (_, write) = found(mapped("A260 2009E0 9D20C0 60 AD01C8 60"), slot)["SLOT"]
    assert write == (0xE005, "wr", (0xC080,), True)
    lost = found(mapped("A260 2009E0 9D20C0 60 E8 60"), slot)["SLOT"]
    assert lost == [(0xE005, "dummy", (0xC080,), False), (0xE005, "wr", (0xC080,), False)]


def test_wrong_direction_is_said() -> None:
    """An increment reads the strobe, which only takes writes: nothing answers."""
    drivers = find_drivers(mapped("EE02C8 60"), CARD_REGISTERS)
    (strobe,) = drivers.found
    assert [(touch.kind, touch.is_answered) for touch in strobe.touches] == [("rd", False), ("wr", True)]


def test_ports() -> None:
    """Ports by number, by C, and by B in the upper half, which the port does not look at; LDIR cannot be told."""
    # OUT (91h),A; LD C,91h; OUT (C),B; IN A,(C); LD BC,1291h; OUT (C),A; LDIR; RET
    code = mapped("D391 0E91 ED41 ED78 019112 ED79 EDB0 C9", "Z80", 0x8000)
    drivers = find_drivers(code, [PORT])
    (port,) = drivers.found
    assert [(t.instruction.address, t.kind, t.addresses, t.sure) for t in port.touches] == [
        (0x8000, "out", (0x91,), True),
        (0x8004, "out", (0x91,), True),
        (0x8006, "inp", (0x91,), True),
        (0x800B, "out", (0x91,), True),
    ]
    assert [(one.text, kind) for one, kind in drivers.anywhere] == [("LDIR", "rd"), ("LDIR", "wr")]


@pytest.mark.parametrize(
    ("cpu", "code", "touches"),
    [
        # LDX #C800; LDA #41; STA ,X; LDA 1,X; BPL; STA C802; BSR itself
        ("6809", "8EC800 8641 A784 A601 2AFC B7C802 8DFE", [("wr", 0xC800), ("rd", 0xC801), ("wr", 0xC802)]),
        ("6800", "CEC800 8641 A700 A601 2AFC B7C802 39", [("wr", 0xC800), ("rd", 0xC801), ("wr", 0xC802)]),
        ("65C02", "9C00C8 2C01C8 80F8", [("wr", 0xC800), ("rd", 0xC801)]),
        ("8080", "2100C8 3641 23 7E E680 3200C8 C9", [("wr", 0xC800), ("rd", 0xC801), ("wr", 0xC800)]),
        ("8085", "20 D391 C9", [("inp", 0x100), ("out", 0x91)]),
    ],
)
def test_every_processor(cpu: str, code: str, touches: list[tuple[str, int]]) -> None:
    """Registers reached by the usual ways of each processor; the 8085's own pins are a port past the last one."""
    drivers = find_drivers(mapped(code, cpu), [])
    found_there = [
        (touch.instruction.address, touch.kind, touch.addresses[0]) for one in drivers.found for touch in one.touches
    ]
    assert [one[1:] for one in sorted(found_there)] == touches


def test_inline_text() -> None:
    """What a routine reads from behind its own call is not followed as code."""
    # JSR E008; "HI" 00 ... | E008: PLA; STA 10; PLA; STA 11; LDY #0; LDA (10),Y; ... JMP (0010)
    code = mapped("2008E0 484900 4141 68 8510 68 8511 A000 B110 8D00C8 6C1000")
    assert code.takes_inline == {0xE008}
    assert 0xE003 not in code.instructions
    assert [(spot.address, spot.reason) for spot in code.not_followed] == [
        (0xE000, "E008 reads the bytes behind its call: what follows is not followed as code"),
        (0xE015, "jumps to an address that is computed: not followed"),
    ]
    # EX (SP),HL; LD A,(HL); INC HL; EX (SP),HL; RET
    code = mapped("CD0580 4100 E37E23E3 C9", "Z80", 0x8000)
    assert code.takes_inline == {0x8005}
    # PLA; PLA; RTS drops the caller and takes nothing: the call in front of it comes back by another way
    code = mapped("2004E0 60 AD01C8 1003 68 68 60 60")
    assert code.takes_inline == frozenset()
    assert 0xE003 in code.instructions


def test_dropped_caller() -> None:
    """A routine that drops its caller's address comes back behind the call of its caller."""
    # E000: JSR E004; RTS | E004: JSR E008; BRK | E008: PLA; PLA; RTS
    code = mapped("2004E0 60 2008E0 00 68 68 60")
    assert sorted(code.instructions) == [0xE000, 0xE003, 0xE004, 0xE008, 0xE009, 0xE00A]
    assert code.not_followed == ()


def test_conditions_that_are_known() -> None:
    """A branch that is always taken leads one way only: LDA #1; BNE; the byte behind it is no code."""
    code = mapped("A901 D001 FF 60")
    assert sorted(code.instructions) == [0xE000, 0xE002, 0xE005]


def test_jump_through_a_table_in_rom() -> None:
    """JMP (E004) through a word of the ROM is followed; undocumented code, and code outside, end with their reasons."""
    code = mapped("6C03E0 06E0 EA 02")
    assert sorted(code.instructions) == [0xE000, 0xE006]
    assert [spot.reason for spot in code.not_followed] == ["undocumented 02"]
    code = mapped("4C00F0")
    assert [spot.reason for spot in code.not_followed] == ["goes on at F000, outside of the images"]
    code = mapped("AD01")
    assert [spot.reason for spot in code.not_followed] == ["runs into E002, where no image has a byte"]


def test_pushed_return() -> None:
    """A return to an address that the routine pushed itself is a jump that is not followed."""
    code = mapped("A9E0 48 A910 48 60")
    assert [spot.reason for spot in code.not_followed] == [
        "returns to an address that it has pushed itself: not followed"
    ]


def test_without_devices() -> None:
    """Where nothing is stated, every address outside of the images is listed, and no address of the stack."""
    drivers = find_drivers(mapped("48 AD01C8 8502 60"), [])
    assert [str(one.register) for one in drivers.found] == ["unnamed, 0002", "unnamed, C801"]


def _answer(dice: random.Random, _address: int, _cycle: int) -> int:
    return dice.randrange(256)


def _unnamed(image: Image, entry: int, cpu: str, touched: set[tuple[int, int]], *registers: NamedRegister) -> set[int]:
    """Places of the program with a touch that the finder neither names nor lists as one that cannot be told.

    `touched`: (program address, device address) as a run shows them.
    """
    drivers = find_drivers(map_code([image], {entry: ""}, cpu=cpu), registers)
    named = {
        (touch.instruction.address, address)
        for driver in drivers.found
        for touch in driver.touches
        for address in touch.addresses
    }
    anywhere = {one.address for one, _ in drivers.anywhere}
    return {place for place, address in touched - named} - anywhere


@pytest.mark.parametrize("seed", range(0, 60, 4))
def test_random_programs(seed: int) -> None:
    """Whatever device address a concrete run touches at a place of the program, the finder names there."""
    code, start = make_program(seed)
    image = Image.from_bytes(code, ORIGIN, f"random {seed}")
    everything = NamedRegister("ALL", InputKind.MEMORY, DEVICES, "both")
    for k in range(3):
        dice = random.Random(seed * 10 + k)
        result = run([image], ORIGIN + start, DEVICES, read=partial(_answer, dice), instructions=3000)
        touched = {(access.program_address, access.address) for access in result.accesses}
        assert _unnamed(image, ORIGIN + start, "6502", touched, everything) == set()


@pytest.mark.parametrize("cpu", sorted(program_cpu_writer.CODERS))
def test_random_programs_of_other_processors(cpu: str) -> None:
    """The same for the processors that share a writer of random programs."""
    for seed in range(0, 12):
        code, start = program_cpu_writer.make_program(cpu, random.Random(seed))
        image = Image.from_bytes(code, program_cpu_writer.ORIGIN, f"random {seed}")
        devices = program_cpu_writer.DEVICES
        everything = NamedRegister("ALL", InputKind.MEMORY, devices, "both")
        dice = random.Random(seed)
        result = run([image], start, devices, cpu=cpu, read=partial(_answer, dice), instructions=3000)
        touched = {(one.program_address, one.address) for one in result.accesses if not one.is_port}
        assert _unnamed(image, start, cpu, touched, everything) == set(), seed


@pytest.mark.parametrize("seed", range(0, 40, 5))
def test_random_programs_of_the_z80(seed: int) -> None:
    """Ports of a concrete run, by the eight lines that they look at, are named; what cannot be told is listed."""
    code, start = program_z80_writer.make_program(seed)
    origin = program_z80_writer.ORIGIN
    image = Image.from_bytes(code, origin, f"random {seed}")
    dice = random.Random(seed)
    nowhere = AddressSet.of(())
    result = run([image], origin + start, nowhere, cpu="Z80", read=partial(_answer, dice), instructions=3000)
    touched = {(one.program_address, one.address & 0xFF) for one in result.accesses if one.is_port}
    assert _unnamed(image, origin + start, "Z80", touched) == set()


def test_finder_wrong() -> None:
    """An entry outside of the images is refused."""
    image = Image.from_bytes(b"\x60", 0xE000, "rom.bin")
    with pytest.raises(BadInput, match=r"^rom\.bin: an entry lies within the images \(E000 to E000\), not at F000$"):
        map_code([image], {0xF000: "far"}, cpu="6502")
