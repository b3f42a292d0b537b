"""What an exploration follows, on both processors: indexed touches, pointers, tables, texts, delays and dispatch."""

from __future__ import annotations

from dataclasses import replace

import pytest

from latchlore.base import AddressSet, ByteTree, CycleRange, InputBit, InputKind, LeafKind, Wait, Write
from latchlore.program import Bounds, Image, explore

DEVICES = AddressSet.of_range(0xC080, 0xC0FF)
NOWHERE = AddressSet.of(())
ORIGIN = 0x0300


def follow(code: str, *, writable: bool = False, **options: object) -> ByteTree:
    """Explore a 6502 routine in hexadecimal; the card's registers lie at C080 + slot x 16."""
    image = Image.from_bytes(bytes.fromhex(code), ORIGIN, "routine.bin", writable=writable)
    return explore([image], ORIGIN, DEVICES, **options)  # type: ignore[arg-type]  # passed through as they are


def follow_z80(code: str, *, writable: bool = False, **options: object) -> ByteTree:
    """Explore a Z80 routine in hexadecimal, from 8000 on."""
    image = Image.from_bytes(bytes.fromhex(code), 0x8000, "routine.bin", writable=writable)
    return explore([image], 0x8000, NOWHERE, cpu="Z80", **options)  # type: ignore[arg-type]  # passed through


def writes(tree: ByteTree) -> list[Write]:
    """The writes in node order."""
    return [event for event in tree.iter_events() if isinstance(event, Write)]


def sent(tree: ByteTree) -> set[bytes]:
    """What the walks write, all registers together; every register is read once, so its bits keep their levels."""
    found = set()
    for path in tree.iter_paths(lambda kind, address: True):
        levels: dict[InputBit, set[int]] = {}
        for condition in path.conditions:
            for bit, level in replace(path, conditions=(condition,)).held_bits().items():
                levels.setdefault(bit, set()).add(level)
        if all(len(seen) == 1 for seen in levels.values()):
            found.add(path.written)
    return found


def test_slot_unknown() -> None:
    """A card's register by an unknown slot: one way for each slot that the code lets through."""
    # LDA F8; AND #07; ASL x4; TAX; LDA #41; STA C081,X; RTS
    tree = follow("A5F829070A0A0A0AAAA9419D81C060")
    assert {write.address for write in writes(tree)} == {0xC081 + 16 * slot for slot in range(8)}
    assert tree.is_exhausted
    told = follow("A5F829070A0A0A0AAAA9419D81C060", memory={0xF8: 3})
    assert [write.address for write in writes(told)] == [0xC0B1]


def test_slot_unknown_z80() -> None:
    """The same with OUT (C),r: the port by an unknown register."""
    # LD A,(C000); AND 7; RLCA x4; OR 01; LD C,A; LD D,41; OUT (C),D; RET
    tree = follow_z80("3A00C0E607070707 07F6014F1641ED51C9".replace(" ", ""))
    assert {write.address for write in writes(tree)} == {0x01 + 16 * slot for slot in range(8)}
    assert tree.is_exhausted


def test_slot_beyond_the_bound() -> None:
    """More places than the bound allows are said, not guessed."""
    tree = follow("A5F829070A0A0A0AAAA9419D81C060", bounds=Bounds(ways=4))
    (leaf,) = tree.leaves
    assert (leaf.kind, leaf.reason) == (LeafKind.UNKNOWN_JUMP, "an address has 8 possible values by 3 bits")
    assert not tree.is_exhausted


def test_pointer_in_page_zero() -> None:
    """A text by a pointer that is set from a table of two addresses, chosen by a status bit."""
    # LDA C081; AND #01; TAX; LDA lo,X; STA 10; LDA hi,X; STA 11; LDY #00; l: LDA (10),Y; BEQ d; STA C080; INY; BNE l
    # d: RTS; lo; hi; texts
    head = "AD81C02901AABD{lo}8510BD{hi}8511A000B110F0068D80C0C8D0F660"
    lo = ORIGIN + len(bytes.fromhex(head.format(lo="0000", hi="0000")))
    texts = [b"AB\0", b"C\0"]
    places = [lo + 4, lo + 4 + 3]
    low = bytes([place & 0xFF for place in places]).hex()
    high = bytes([place >> 8 for place in places]).hex()
    word = [(lo + k).to_bytes(2, "little").hex() for k in (0, 2)]
    tree = follow(head.format(lo=word[0], hi=word[1]) + low + high + b"".join(texts).hex())
    assert sent(tree) == {b"AB", b"C"}


def test_pointer_in_a_register_pair() -> None:
    """The same with HL and a table of words."""
    # IN A,(90); AND 1; ADD A,A; LD E,A; LD D,0; LD HL,t; ADD HL,DE; LD E,(HL); INC HL; LD D,(HL); EX DE,HL
    # l: LD A,(HL); OR A; RET Z; OUT (91),A; INC HL; JR l; t: two words; texts
    head = "DB90E601875F1600211D80195E2356EB7EB7C8D3912318F8"
    start = 0x8000 + len(bytes.fromhex(head))
    head = head.replace("211D80", "21" + start.to_bytes(2, "little").hex())
    table = (start + 4).to_bytes(2, "little").hex() + (start + 7).to_bytes(2, "little").hex()
    tree = follow_z80(head + table + b"AB\0C\0".hex())
    assert sent(tree) == {b"AB", b"C"}
    assert tree.is_exhausted


def test_jump_table_z80() -> None:
    """JP (HL) through a table by two status bits reaches its four targets."""
    # IN A,(90); AND 3; ADD A,A; LD L,A; LD H,81; LD E,(HL); INC L; LD D,(HL); EX DE,HL; JP (HL)
    head = "DB90E603876F26815E2C56EBE9"
    code = bytearray(bytes.fromhex(head).ljust(0x100, b"\x00"))
    for k in range(4):
        code += (0x8110 + 5 * k).to_bytes(2, "little")
    code = code.ljust(0x110, b"\x00")
    for k in range(4):
        code += bytes([0x3E, 0x40 + k, 0xD3, 0x91, 0xC9])
    tree = follow_z80(code.hex())
    assert tree.possible_bytes(lambda kind, address: address == 0x91) == {0x40, 0x41, 0x42, 0x43}
    assert tree.is_exhausted


@pytest.mark.parametrize("bits", [1, 3])
def test_dispatch_by_return(bits: int) -> None:
    """An address pushed and returned to, chosen by status bits."""
    # LDA C081; AND #mask; TAX; LDA hi,X; PHA; LDA lo,X; PHA; RTS; hi; lo; then LDA #n; STA C080; RTS each
    count = 1 << bits
    head = "AD81C029{mask}AABD{hi}48BD{lo}4860"
    size = len(bytes.fromhex(head.format(mask="00", hi="0000", lo="0000")))
    high, low = ORIGIN + size, ORIGIN + size + count
    bodies = [low + count + 6 * k for k in range(count)]
    code = head.format(mask=f"{count - 1:02x}", hi=high.to_bytes(2, "little").hex(), lo=low.to_bytes(2, "little").hex())
    code += bytes([(body - 1) >> 8 for body in bodies]).hex() + bytes([(body - 1) & 0xFF for body in bodies]).hex()
    code += "".join(f"A9{0x40 + k:02X}8D80C060" for k in range(count))
    tree = follow(code)
    assert sent(tree) == {bytes([0x40 + k]) for k in range(count)}
    assert tree.is_exhausted


def test_dispatch_by_return_z80() -> None:
    """PUSH HL; RET with HL by a status bit."""
    # IN A,(90); AND 1; RLCA; RLCA; RLCA; ADD A,10; LD L,A; LD H,80; PUSH HL; RET; at 8010 and 8018: LD A,n; OUT; RET
    head = bytes.fromhex("DB90E601070707C6106F2680E5C9").ljust(0x10, b"\x00")
    code = head + bytes.fromhex("3E41D391C9000000" + "3E42D391C9")
    tree = follow_z80(code.hex())
    assert sent(tree) == {b"A", b"B"}
    assert tree.is_exhausted


def test_inline_text_z80() -> None:
    """Text behind a call, taken through EX (SP),HL, and control goes on behind it."""
    # CALL p; 'A' 'B' 0; LD A,0D; OUT (91),A; RET; p: EX (SP),HL; l: LD A,(HL); INC HL; OR A; JR Z,d; OUT (91),A; JR l
    # d: EX (SP),HL; RET
    tree = follow_z80("CD0B80414200" + "3E0DD391C9" + "E37E23B72804D39118F7E3C9")
    assert sent(tree) == {b"AB\r"}
    assert {leaf.kind for leaf in tree.leaves} == {LeafKind.RETURNED}


def test_self_modified_operand_z80() -> None:
    """A program in RAM that writes its own operand, and one that writes its own opcode."""
    # IN A,(90); LD (8006),A; LD A,00 (operand at 8006); OUT (91),A; RET
    (write,) = writes(follow_z80("DB903206803E00D391C9", writable=True))
    assert write.value.possible == frozenset(range(256))
    # LD A,C9; LD (8007),A; OUT (91),A; NOP (at 8007, becomes RET); OUT (92),A
    tree = follow_z80("3EC9320780D39100D392C9", writable=True)
    assert [write.address for write in writes(tree)] == [0x91]


def test_opcode_by_a_status_bit() -> None:
    """An opcode made of a status bit is followed both ways."""
    # IN A,(90); AND 1; ADD A,3C (INC A or DEC A); LD (8009),A; LD A,40; (at 8009) INC A / DEC A; OUT (91),A; RET
    tree = follow_z80("DB90E601C63C3209803E40".replace("3209803E40", "320B803E40") + "3CD391C9", writable=True)
    assert sent(tree) == {b"\x41", b"\x3f"}


def test_delay_z80() -> None:
    """Three counters inside one another, two million turns, in exact T-states."""
    # OUT (91),A; LD D,8; a: LD C,0; b: LD B,0; c: DJNZ c; DEC C; JR NZ,b; DEC D; JR NZ,a; OUT (91),A; RET
    tree = follow_z80("D39116080E00060010FE0D20F91520F4D391C9")
    first, second = writes(tree)
    inner = 7 + 255 * 13 + 8  # LD B,n 7; DJNZ taken 13, at last 8
    middle = 7 + 256 * (inner + 4) + 255 * 12 + 7  # LD C,n 7; DEC C 4; JR taken 12, at last 7
    outer = 7 + 8 * (middle + 4) + 7 * 12 + 7
    assert second.cycles == CycleRange.exactly(outer + 11)  # OUT (n),A 11 from write to write
    assert first.value.bits


def test_delay_by_a_stated_argument() -> None:
    """A delay of as many turns as a register says: exact where it is known, a range of ways where it is not."""
    # STA C080; l: DEX; BNE l; STA C080; RTS
    code = "8D80C0CAD0FD8D80C060"
    assert writes(follow(code, arguments={"X": 100}))[1].cycles == CycleRange.exactly(100 * 5 - 1 + 4)
    free = follow(code)
    assert free.is_exhausted
    ranges = [write.cycles for write in writes(free)[1:]]
    assert min(cycles.least for cycles in ranges) == 1 * 5 - 1 + 4
    assert max(cycles.most or 0 for cycles in ranges) == 256 * 5 - 1 + 4


def test_port_space_and_memory_are_apart() -> None:
    """Register 91 of the port space is not cell 0091."""
    tree = follow_z80("3E41320091D391C9")
    assert [(write.kind, write.address) for write in writes(tree)] == [(InputKind.PORT, 0x91)]


def test_wait_in_a_routine_by_index() -> None:
    """Polling a register by an index that is known to the caller only."""
    # LDX #20; l: LDA C081,X; BPL l; STA C080,X; RTS
    tree = follow("A220BD81C010FB9D80C060")
    (wait,) = [event for event in tree.iter_events() if isinstance(event, Wait)]
    assert (wait.address, wait.mask, wait.until) == (0xC0A1, 0x80, (0x80,))


@pytest.mark.parametrize(
    "code",
    [
        # LDX #05; LDA C081; LDA #8E; STA 030A; LDX #80 (at 030A, becomes STX C080); RTS
        "A205AD81C0A98E8D0A03A280C060",
        # the same by way of a pointer: (10) = 0313; LDX #05; LDY #00; LDA C081; LDA #8E; STA (10),Y
        "A9138510A9038511A205A000AD81C0A98E9110".ljust(0x13 * 2, "E") + "A280C060",
    ],
    ids=["absolute", "by pointer"],
)
def test_register_used_by_modified_code(code: str) -> None:
    """A register that only the modified code looks at is not forgotten before."""
    tree = follow(code, writable=True)
    assert [write.value.possible for write in writes(tree)] == [frozenset({5})]


def test_register_used_by_copied_code() -> None:
    """A register that only code copied into RAM looks at is not forgotten before the copy is there."""
    # LDX #05; LDA C081; LDA #8E; STA 10; LDA #80; STA 11; LDA #C0; STA 12; LDA #60; STA 13; JMP 0010 (STX C080; RTS)
    tree = follow("A205AD81C0A98E8510A9808511A9C08512A96085134C1000")
    assert [write.value.possible for write in writes(tree)] == [frozenset({5})]
    assert tree.is_exhausted
