"""Exploration of small routines whose every path is known by hand."""

from __future__ import annotations

import pytest

from latchlore.base import (
    HELD,
    AddressSet,
    BadInput,
    ByteTree,
    Choice,
    Condition,
    CycleRange,
    InputBit,
    InputKind,
    LeafKind,
    Read,
    UnknownName,
    Wait,
    Write,
)
from latchlore.program import Bounds, Image, explore

DEVICES = AddressSet.of_range(0xC800, 0xC803)
ORIGIN = 0x0300


def follow(code: str, origin: int = ORIGIN, **options: object) -> ByteTree:
    """Explore a routine given in hexadecimal."""
    image = Image.from_bytes(bytes.fromhex(code), origin, "routine.bin")
    return explore([image], origin, DEVICES, **options)  # type: ignore[arg-type]  # passed through as they are


def only_leaf(tree: ByteTree) -> LeafKind:
    """The kind of the single leaf."""
    (leaf,) = tree.leaves
    return leaf.kind


@pytest.mark.parametrize(
    ("count", "origin", "cycles"), [(5, 0x0300, 32), (1, 0x0300, 12), (20, 0x0300, 107), (5, 0x02F7, 36)]
)
def test_strobe_width_from_code(count: int, origin: int, cycles: int) -> None:
    """Bench case "strobe width from code": cycles from write to write; the fourth loop's branch crosses a page."""
    tree = follow(f"A9008D02C8A2{count:02X}CAD0FDA9018D02C860", origin)
    (node,) = tree.nodes
    first, second = node.events
    assert isinstance(first, Write)
    assert isinstance(second, Write)
    assert (first.value.values, second.value.values) == ((0,), (1,))
    assert second.cycles == CycleRange.exactly(cycles)


def test_polarity_of_a_polling_loop() -> None:
    """Bench case "polarity agreement", the code's part: AD 01 C8 10 FB goes on when bit 7 is 1."""
    tree = follow("AD01C810FB60")
    (wait,) = tree.nodes[0].events
    assert isinstance(wait, Wait)
    assert (wait.address, wait.mask, wait.until, wait.polls) == (0xC801, 0x80, (0x80,), None)
    assert wait.period == CycleRange.exactly(7)  # LDA absolute 4, BPL taken 3


@pytest.mark.parametrize(
    ("code", "good"),
    [
        ("AD01C829F0C930D0F760", {v for v in range(256) if v & 0xF0 == 0x30}),
        ("AD01C8C93FD0F960", {0x3F}),
        ("2C01C830FB60", set(range(128))),
    ],
)
def test_two_status_tests(code: str, good: set[int]) -> None:
    """Bench case "two status tests": which values each driver takes for ready; 3F alone satisfies all three."""
    (wait,) = follow(code).nodes[0].events
    assert isinstance(wait, Wait)
    assert {v for v in range(256) if v & wait.mask in wait.until} == good


def test_time_out() -> None:
    """A wait that gives up after 65,536 reads: the number, the period, and both ways on with exact cycles."""
    tree = follow("A200A000AD01C8100CCAD0F888D0F5A9EE8D00C860A9018D00C860")
    (wait,) = tree.nodes[0].events
    assert isinstance(wait, Wait)
    assert (wait.mask, wait.until, wait.polls) == (0x80, (0x00,), 65536)
    # LDA 4, BPL not taken 2, DEX 2, BNE taken 3; every 256th time BNE not taken 2, DEY 2, BNE taken 3
    assert wait.period == CycleRange(11, 15)
    after = tree.nodes[0].after
    assert isinstance(after, Choice)
    found = {}
    for arm in after.arms:
        write = tree.nodes[arm.node].events[0]
        assert isinstance(write, Write)
        found[str(arm.condition)] = (write.value.values, write.cycles)
    assert found == {
        "C801 bit 7 (read 1) = 0": ((0x01,), CycleRange.exactly(9)),  # LDA's last 1, BPL 3, LDA 2, STA's first 3
        "C801 bit 7 (read 1) = 1": ((0xEE,), CycleRange.exactly(16)),  # 1, BPL 2, DEX 2, BNE 2, DEY 2, BNE 2, 2, 3
    }


def test_time_out_keeps_other_bytes() -> None:
    """Unknown bytes that the routine keeps while it waits are still there on both ways."""
    # LDA C802; STA 10; LDX #40; loop: LDA C801; BMI done; DEX; BNE loop; done: LDA 10; STA C800; RTS
    tree = follow("AD02C88510A228AD01C83003CAD0F8A5108D00C860")
    writes = [e for e in tree.iter_events() if isinstance(e, Write)]
    assert writes
    assert all(e.value.possible == frozenset(range(256)) for e in writes)
    assert tree.is_exhausted


def test_case_fold_is_one_write() -> None:
    """A branch that only picks a value becomes a table, its cycles a range."""
    # LDA F0; CMP #'a'; BCC s; CMP #'z'+1; BCS s; AND #DF; s: STA C800; RTS
    tree = follow("A5F0C9619006C97BB00229DF8D00C860")
    (node,) = tree.nodes
    (write,) = node.events
    assert isinstance(write, Write)
    assert len(write.value.bits) == 8
    folded = [v - 0x20 if 0x61 <= v <= 0x7A else v for v in range(256)]
    assert list(write.value.values) == folded
    # at least LDA 3, CMP 2, BCC taken 3, STA's first 3; at most LDA 3, CMP 2, BCC 2, CMP 2, BCS 2, AND 2, STA 3
    assert write.cycles == CycleRange(11, 16)


def test_straps_are_held() -> None:
    """A strap's bit decides once: two reads of it cannot disagree."""
    # LDA C801; AND #1; BNE a; LDA #1; STA C800; a: LDA C801; AND #1; BNE b; LDA #2; STA C800; b: RTS
    code = "AD01C82901D005A9018D00C8AD01C82901D005A9028D00C860"
    held = follow(code, held={0xC801: 0x01})
    assert held.possible_bytes(lambda kind, address: address == 0xC800) == {1, 2}
    assert {path.written for path in held.iter_paths(lambda kind, address: address == 0xC800)} == {b"", b"\x01\x02"}
    bit = InputBit(InputKind.MEMORY, 0xC801, 0, HELD)
    one = held.explain(b"\x01\x02", lambda kind, address: address == 0xC800)[0]
    assert one.held_bits()[bit] == 0
    free = follow(code)
    paths = {path.written for path in free.iter_paths(lambda kind, address: address == 0xC800)}
    assert paths == {b"", b"\x01", b"\x02", b"\x01\x02"}


def test_rejoining_paths_stay_linear() -> None:
    """Sixteen bits tested one after another with a write each: the graph grows by the bit, not by its power."""
    # per bit: LDA C801; BPL +3; STX C800
    step = "AD01C810038E00C8"
    sizes = [len(follow("A205" + step * n + "60").nodes) for n in (4, 8, 16)]
    assert sizes[2] - sizes[1] == 2 * (sizes[1] - sizes[0])
    assert sizes[2] <= 16 * 3 + 2


def test_endless_main_loop() -> None:
    """A loop that never ends but touches a device is followed completely: it links back."""
    tree = follow("AD01C810FBA9418D00C84C0003")
    assert tree.is_exhausted
    assert tree.leaves == ()
    assert tree.can_emit([frozenset({0x41})] * 3, lambda kind, address: address == 0xC800)
    assert not tree.can_emit([frozenset({0x42})], lambda kind, address: address == 0xC800)


def test_dummy_reads() -> None:
    """The read that the processor throws away is an event of its own: STA C800,X with X = 1."""
    tree = follow("A201A9559D00C860")
    read, write = tree.nodes[0].events
    assert isinstance(read, Read)
    assert (read.address, read.discarded) == (0xC801, True)
    assert isinstance(write, Write)
    assert write.address == 0xC801


def test_double_write() -> None:
    """INC on a register reads once and writes twice, the old value first."""
    tree = follow("EE00C860")
    read, first, second = tree.nodes[0].events
    assert isinstance(read, Read)
    assert isinstance(first, Write)
    assert isinstance(second, Write)
    assert first.value.values == tuple(range(256))
    assert second.value.values == tuple((v + 1) & 255 for v in range(256))
    assert (first.cycles, second.cycles) == (CycleRange.exactly(1), CycleRange.exactly(1))


def test_return_behind_a_moved_stack() -> None:
    """After LDX #FF / TXS a subroutine's return is no return to the caller, and what it needs stays alive."""
    # LDX #FF; TXS; LDY #0; l: LDA t,Y; JSR send; INY; CPY #3; BNE l; end: JMP end
    # send: BIT C801; BVC send; STA C800; RTS; t: three bytes
    code = "A2FF9AA000B91D03201403C8C003D0F54C1003" + "EA" + "2C01C850FB8D00C860" + "112233"
    tree = follow(code)
    belongs = lambda kind, address: address == 0xC800  # noqa: E731  # three uses, one line
    assert [path.written for path in tree.iter_paths(belongs)] == [b"\x11\x22\x33"]
    assert only_leaf(tree) is LeafKind.ENDLESS


def test_delay_is_exact() -> None:
    """A nested delay of 16.7 million turns costs its exact cycles."""
    # LDA #0; STA C800; LDX #0; STX 10; STX 11; a: DEX; BNE a; DEC 10; BNE a; DEC 11; BNE a; STA C800; RTS
    tree = follow("A9008D00C8A20086108611CAD0FDC610D0F9C611D0F58D00C860")
    _, write = tree.nodes[0].events
    turns = 256 * 256
    inner = turns * 256 * 5 - turns  # DEX 2, BNE taken 3; the last of each 256 one less
    middle = turns * (5 + 3) - 256  # DEC 5, BNE taken 3
    outer = 256 * (5 + 3) - 1
    assert write.cycles == CycleRange.exactly(1 + 2 + 3 + 3 + inner + middle + outer + 3)


@pytest.mark.parametrize(
    ("code", "kind", "words"),
    [
        ("02", LeafKind.HALTED, "opcode 02 stops the processor"),
        ("04", LeafKind.UNDOCUMENTED, "opcode 04 is undocumented"),
        ("EA", LeafKind.UNKNOWN_CODE, "the content of 0301 is not known"),
        ("4C00C8", LeafKind.UNKNOWN_CODE, "runs into device registers at C800"),
        (
            "6C1000",
            LeafKind.UNKNOWN_JUMP,
            "the target of the jump depends on unknown bits and has 65536 possible values",
        ),
        ("4C0003", LeafKind.ENDLESS, "comes back to the same state without touching a device"),
        ("A5F0D0FC60", LeafKind.ENDLESS, "comes back to the same state without touching a device"),
        ("60", LeafKind.RETURNED, "RTS to the caller"),
    ],
)
def test_ends(code: str, kind: LeafKind, words: str) -> None:
    """Every way a path can end is a leaf with its reason."""
    found = [(leaf.kind, leaf.reason) for leaf in follow(code).leaves]
    assert (kind, words) in found


def test_jump_table() -> None:
    """A jump through a table indexed by two status bits reaches its four targets."""
    # LDA C801; AND #3; ASL; TAX; LDA t,X; STA 10; LDA t+1,X; STA 11; JMP (10); t: four words; each: LDA #n; STA; RTS
    head = "AD01C829030AAABD14038510BD150385116C1000"
    table = "".join(f"{(0x031C + 6 * n) & 255:02X}{(0x031C + 6 * n) >> 8:02X}" for n in range(4))
    bodies = "".join(f"A9{0x40 + n:02X}8D00C860" for n in range(4))
    assert len(bytes.fromhex(head)) == 0x14
    tree = follow(head + table + bodies)
    assert tree.possible_bytes(lambda kind, address: address == 0xC800) == {0x40, 0x41, 0x42, 0x43}
    assert tree.is_exhausted


def test_inline_text() -> None:
    """Text behind a call is sent by the routine called, which returns behind it."""
    # JSR p; 'A' 'B' 0; LDA #0D; STA C800; RTS
    # p: PLA; STA 10; PLA; STA 11; l: INC 10; BNE n; INC 11; n: LDY #0; LDA (10),Y; BEQ d; STA C800; JMP l
    # d: LDA 11; PHA; LDA 10; PHA; RTS
    code = "200C03" + "414200" + "A90D8D00C860"
    code += "6885106885 11E610D002E611A000B110F0068D00C84C1203A5114 8A5104860".replace(" ", "")
    tree = follow(code)
    assert [p.written for p in tree.iter_paths(lambda kind, address: address == 0xC800)] == [b"AB\r"]


def test_self_modified_operand() -> None:
    """A program in RAM that writes its own operand from a status byte sends that byte."""
    # LDA C801; STA 0307; LDA #00 (operand at 0307); STA C800; RTS
    image = Image.from_bytes(bytes.fromhex("AD01C88D0703A9008D00C860"), ORIGIN, "ram.bin", writable=True)
    tree = explore([image], ORIGIN, DEVICES)
    write = [e for e in tree.iter_events() if isinstance(e, Write)][-1]
    assert write.value.values == tuple(range(256))
    rom = follow("AD01C88D0703A9008D00C860")
    assert [e.value.values for e in rom.iter_events() if isinstance(e, Write)] == [(0,)]


def test_stated_arguments_and_memory() -> None:
    """Registers and cells stated at the entry are known; the others are unknown until looked at."""
    tree = follow("8D00C8A5108D00C860", arguments={"A": 0x41}, memory={0x10: 0x42})
    assert [e.value.values for e in tree.iter_events() if isinstance(e, Write)] == [(0x41,), (0x42,)]
    free = follow("8D00C8A5108D00C860")
    first, second = (e for e in free.iter_events() if isinstance(e, Write))
    assert {bit.name for bit in first.value.bits} == {"A"}
    assert {(bit.kind, bit.address) for bit in second.value.bits} == {(InputKind.CELL, 0x10)}


def test_bounds_are_leaves() -> None:
    """A bound that is reached is a leaf, and the tree says that it is not exhausted."""
    tree = follow("AD01C88510AD01C88511AD01C8C510F0034C0003C511F0F960", bounds=Bounds(nodes=4))
    assert not tree.is_exhausted
    assert LeafKind.BOUND in {leaf.kind for leaf in tree.leaves}
    assert any("at most 4 nodes" in words for words in tree.bounds)


def test_same_bytes_out() -> None:
    """The same program gives the same tree."""
    code = "A200A000AD01C8100CCAD0F888D0F5A9EE8D00C860A9018D00C860"
    assert follow(code) == follow(code)


def test_explore_wrong() -> None:
    """An entry outside of the images, unknown registers and processors are refused."""
    image = Image.from_bytes(b"\x60", ORIGIN, "one.bin")
    with pytest.raises(BadInput, match=r"^one\.bin: an entry lies within the images \(0300 to 0300\), not at 0301$"):
        explore([image], 0x301, DEVICES)
    with pytest.raises(UnknownName, match=r"^the 6502 has no register 'B'; known are 'A', 'X', 'Y', 'S', "):
        explore([image], ORIGIN, DEVICES, arguments={"B": 1})
    with pytest.raises(BadInput, match=r"^: register 'A' holds 0 to 255, not 256$"):
        explore([image], ORIGIN, DEVICES, arguments={"A": 256})
    with pytest.raises(UnknownName, match=r"^processor '6510' is not known; known are '6502'"):
        explore([image], ORIGIN, DEVICES, cpu="6510")


def test_condition_of_a_choice() -> None:
    """The arms of a choice exclude one another and cover every case."""
    tree = follow("AD01C829C0F0058D00C8D00060")
    choice = next(node.after for node in tree.nodes if isinstance(node.after, Choice))
    bits = choice.arms[0].condition.bits
    tables = [arm.condition.table for arm in choice.arms if arm.condition.bits == bits]
    assert len(tables) == len(choice.arms)
    assert sum(tables) == (1 << (1 << len(bits))) - 1
    assert isinstance(choice.arms[0].condition, Condition)
