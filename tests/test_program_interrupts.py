"""Programs that wait for what an interrupt routine does."""

from __future__ import annotations

import pytest

from latchlore.base import AddressSet, BadInput, ByteTree, InputKind, LeafKind
from latchlore.program import Image, explore

DEVICES = AddressSet.of_range(0xC800, 0xC803)
NOWHERE = AddressSet.of(())
ORIGIN, ROUTINE = 0x0300, 0x0340


def on_data(kind: InputKind, address: int) -> bool:
    """Whether an address is the data register."""
    return address in (0xC800, 0x91)


def follow(code: str, routine: str, *, writable: bool = False, stated: bool = True) -> ByteTree:
    """Explore a 6502 program with the interrupt routine at 0340."""
    data = bytes.fromhex(code).ljust(ROUTINE - ORIGIN, b"\xea") + bytes.fromhex(routine)
    image = Image.from_bytes(data, ORIGIN, "program.bin", writable=writable)
    return explore([image], ORIGIN, DEVICES, interrupts=[ROUTINE] if stated else [])


# LDA #0; STA 10; LDA #41; STA C800; w: LDA 10; BEQ w; LDA #42; STA C800; RTS
WAITS = "A9008510A9418D00C8A510F0FCA9428D00C860"
# PHA; LDA #1; STA 10; PLA; RTI
SETS = "48A90185106840"


def test_wait_for_a_flag() -> None:
    """The wait goes on once the routine has set the flag; without a routine it is endless, and both are said."""
    with_routine = follow(WAITS, SETS)
    assert with_routine.can_emit([frozenset({0x41}), frozenset({0x42})], on_data)
    assert with_routine.is_exhausted
    assert {leaf.kind for leaf in with_routine.leaves} == {LeafKind.RETURNED}
    assert (
        "nothing but this program and its interrupt routines at 0340 changes RAM; they may run at any time, and cycles "
        "leave them out" in with_routine.assumptions
    )
    alone = follow(WAITS, SETS, stated=False)
    assert not alone.can_emit([frozenset({0x42})], on_data)
    assert {leaf.kind for leaf in alone.leaves} == {LeafKind.ENDLESS}
    assert "nothing but this program changes RAM: no interrupt, no second processor" in alone.assumptions


def test_value_of_a_shared_cell() -> None:
    """What the program has written itself may have been changed before it looks; other cells keep their values."""
    # LDA #05; STA 10; STA 11; LDA 10; STA C800; LDA 11; STA C800; RTS; the routine counts 10 up
    tree = follow("A90585108511A5108D00C8A5118D00C860", "E61040")
    first, second = tree.nodes[0].events
    assert first.value.possible == frozenset(range(256))  # type: ignore[union-attr]  # a write
    assert second.value.possible == {5}  # type: ignore[union-attr]  # a write
    assert tree.is_exhausted


def test_flag_is_looked_at_twice() -> None:
    """Two looks at a shared cell may find different values."""
    # LDA 10; BNE a; LDA 10; BEQ a; LDA #42; STA C800; a: RTS
    tree = follow("A510D009A510F005A9428D00C860", SETS)
    assert tree.can_emit([frozenset({0x42})], on_data)


def test_routine_that_sends() -> None:
    """What the routine writes itself may come between; so nothing is called impossible."""
    # the routine: PHA; LDA #55; STA C800; LDA #1; STA 10; PLA; RTI
    tree = follow(WAITS, "48A9558D00C8A90185106840")
    assert tree.can_emit([frozenset({0x55})], on_data)
    assert tree.can_emit([frozenset({0x42})], on_data)
    assert not tree.is_exhausted
    (leaf,) = [leaf for leaf in tree.leaves if not leaf.is_done]
    assert leaf.reason == (
        "the interrupt routine at 0340 touches devices itself: its order with the program is not followed"
    )


def test_routine_that_loses_a_register() -> None:
    """A routine that does not give A back changes what the program does: said, not passed over."""
    tree = follow(WAITS, "A901851040")
    (leaf,) = [leaf for leaf in tree.leaves if not leaf.is_done]
    assert leaf.reason == "the interrupt routine at 0340 does not give A back to the program"


def test_routine_whose_data_the_program_changes() -> None:
    """A loaded cell that the program writes is not taken for what was loaded when the routine runs."""
    # program in RAM: LDA #07; STA 0380; w: LDA 10; BEQ w; STA C800; RTS; the routine: PHA; LDA 0380; STA 10; PLA; RTI
    code = "A9078D8003A510F0FC8D00C860"
    data = bytes.fromhex(code).ljust(0x40, b"\xea") + bytes.fromhex("48AD800385106840")
    image = Image.from_bytes(data.ljust(0x81, b"\0"), ORIGIN, "program.bin", writable=True)
    tree = explore([image], ORIGIN, DEVICES, memory={0x10: 0}, interrupts=[ROUTINE])
    assert tree.can_emit([frozenset({7})], on_data)
    assert tree.is_exhausted


def test_halt_z80() -> None:
    """HALT goes on behind itself once an interrupt may come; the time in it has no upper end."""
    # LD A,41; OUT (91),A; HALT; LD A,(C000); OR A; JR Z,-6 (the HALT); LD A,42; OUT (91),A; RET
    code = "3E41D391763A00C0B728F93E42D391C9"
    # PUSH AF; LD A,1; LD (C000),A; POP AF; EI; RETI
    routine = "F53E013200C0F1FBED4D"
    data = bytes.fromhex(code).ljust(0x40, b"\0") + bytes.fromhex(routine)
    image = Image.from_bytes(data, 0x8000, "program.bin")
    tree = explore([image], 0x8000, NOWHERE, cpu="Z80", interrupts=[0x8040])
    assert tree.is_exhausted
    assert tree.can_emit([frozenset({0x41}), frozenset({0x42})], on_data)
    late = [event for node in tree.nodes for event in node.events if event.cycles.most is None]
    assert late
    alone = explore([image], 0x8000, NOWHERE, cpu="Z80")
    assert {leaf.kind for leaf in alone.leaves} == {LeafKind.HALTED}


def test_two_routines() -> None:
    """What one routine writes the other one reads, and the program waits for the second."""
    # w: LDA 11; BEQ w; LDA #42; STA C800; RTS; first (0340): INC 10, RTI; second (0350): PHA; LDA 10; STA 11; PLA; RTI
    data = bytes.fromhex("A9008510A9008511A511F0FCA9428D00C860").ljust(0x40, b"\xea")
    data += bytes.fromhex("E61040").ljust(16, b"\xea") + bytes.fromhex("48A51085116840")
    image = Image.from_bytes(data, ORIGIN, "program.bin")
    tree = explore([image], ORIGIN, DEVICES, interrupts=[0x0340, 0x0350])
    assert tree.can_emit([frozenset({0x42})], on_data)
    assert tree.is_exhausted


def test_routine_into_nothing() -> None:
    """A routine that cannot be followed leaves nothing impossible."""
    tree = follow(WAITS, "4C0090")
    assert not tree.is_exhausted
    assert {leaf.kind for leaf in tree.leaves if not leaf.is_done} == {LeafKind.UNKNOWN_CODE}


def test_interrupts_wrong() -> None:
    """An interrupt routine lies within the images."""
    image = Image.from_bytes(b"\x60", ORIGIN, "one.bin")
    with pytest.raises(BadInput, match=r"^one\.bin: an entry lies within the images \(0300 to 0300\), not at 0400$"):
        explore([image], ORIGIN, DEVICES, interrupts=[0x0400])
