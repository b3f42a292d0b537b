"""Polling loops that count their reads: shown alike for all waiting answers, or not shortened.

Every loop is explored and then run with answers chosen to catch a turn that looks at other bits; each run has to be a
walk through the graph (`program_walk.py`), or the graph has to say that it was not followed to its ends.
"""

from __future__ import annotations

import operator
import random
from functools import partial
from typing import TYPE_CHECKING, TypeAlias

import pytest

from latchlore.base import AddressSet, ByteTree, CycleRange, LeafKind, Wait, Write
from latchlore.program import Bounds, Image, explore, run
from latchlore.program._shades import Shade, low
from tests.program_walk import Walker

if TYPE_CHECKING:
    from collections.abc import Callable

DEVICES = AddressSet.of_range(0xC800, 0xC803)
ORIGIN = 0x0300
NUM_RUNS = 12


def image_of(code: str, *, writable: bool = False) -> Image:
    """A routine given in hexadecimal."""
    return Image.from_bytes(bytes.fromhex(code), ORIGIN, "routine.bin", writable=writable)


def follow(code: str, *, writable: bool = False, bounds: Bounds | None = None) -> ByteTree:
    """Explore it."""
    return explore([image_of(code, writable=writable)], ORIGIN, DEVICES, bounds=bounds)


Answer: TypeAlias = "Callable[[random.Random, int], int]"


def misfits(tree: ByteTree, code: str, answer: Answer, *, writable: bool = False) -> list[str]:
    """What does not fit in some runs with random answers: `answer` is told the dice and the address."""
    found = []
    for seed in range(NUM_RUNS):
        dice = random.Random(seed)
        registers = {name: dice.randrange(256) for name in ("A", "X", "Y")}
        done = run(
            [image_of(code, writable=writable)],
            ORIGIN,
            DEVICES,
            registers=registers,
            read=partial(_answered, answer, dice),
            instructions=1_000_000,
        )
        found.append(Walker(tree, registers).walk(done))
    return [words for words in found if words]


def _answered(answer: Answer, dice: random.Random, address: int, _: int) -> int:
    return answer(dice, address)


def waits(tree: ByteTree) -> list[Wait]:
    """The polling loops of a graph."""
    return [event for event in tree.iter_events() if isinstance(event, Wait)]


def stubborn(good: int) -> Callable[[random.Random, int], int]:
    """Mostly answers with the bits of a mask set, which keeps the loops waiting."""
    return lambda dice, _: dice.randrange(256) | (good if dice.random() < 0.98 else 0)


# loop: LDA C801; BPL done; {body}; DEX; BNE loop; {after}; done: RTS
def counted(body: str, after: str = "", count: int = 0) -> str:
    """A loop that waits while bit 7 is 1, for so many turns (0: 256), X counting."""
    size = len(bytes.fromhex(body))
    tail = len(bytes.fromhex(after))
    back = 256 - (3 + 2 + size + 1 + 2)
    return f"A2{count:02X}AD01C810{size + 3 + tail:02X}{body}CAD0{back:02X}{after}60"


ALIKE = [
    ("plain", counted(""), 256),
    ("status kept and dropped", counted("8510"), 256),
    ("status kept, sent by the one who gives up", counted("8510", "A5108D00C8"), 256),
    ("bits gathered in a cell", "A9008510" + counted("05108510", "A5108D00C8"), 256),
    ("status kept on the stack for a while", counted("4868"), 256),
    ("status shifted into the carry, then dropped", counted("4A18"), 256),
    ("a subroutine in the loop", "4C0A03" + "EA" * 4 + "6060EA" + counted("200703"), 256),
    ("a delay in the loop", counted("A00588D0FD"), 256),
    ("a table read by the counter", counted("BD00038511", "A5118D00C8", 16), 16),
]


@pytest.mark.parametrize(("code", "polls"), [row[1:] for row in ALIKE], ids=[row[0] for row in ALIKE])
def test_alike(code: str, polls: int) -> None:
    """The body may do what it likes with the status, as long as nothing is decided by it."""
    tree = follow(code)
    assert [wait.polls for wait in waits(tree)] == [polls]
    assert tree.is_exhausted
    assert misfits(tree, code, stubborn(0x80)) == []
    assert misfits(tree, code, lambda dice, _: 0x80 | dice.randrange(128)) == []


def test_kept_status_can_be_any() -> None:
    """What the loop keeps of the answers is unknown behind it, though both of the furthest answers end alike."""
    # AND #06 keeps 0 of answer 80 and 6 of FF; EOR with itself shifted keeps 0 of both
    code = counted("290185100A45108510" + "2902" + "8510", "A5108D00C8")
    tree = follow(code)
    assert [wait.polls for wait in waits(tree)] == [256]
    sent = next(event for event in tree.iter_events() if isinstance(event, Write))
    assert {0, 2} <= sent.value.possible
    assert misfits(tree, code, lambda dice, _: 0x80 | dice.randrange(128)) == []


@pytest.mark.parametrize("code", ["2C01C83003CAD0F860", "2C01C87003CAD0F860"], ids=["bit 7", "bit 6"])
def test_bit_with_unknown_accumulator(code: str) -> None:
    """BIT also compares with A, which is not known; nothing looks at that flag."""
    tree = follow("A200" + code)
    (wait,) = waits(tree)
    assert wait.polls == 256
    assert tree.is_exhausted
    assert misfits(tree, "A200" + code, lambda dice, _: dice.randrange(64)) == []


def test_registers_are_kept() -> None:
    """A register that is not known, and that the loop leaves alone, is the same behind it."""
    code = "A2002C01C83003CAD0F88D00C860"
    tree = follow(code)
    (sent,) = {event.value for event in tree.iter_events() if isinstance(event, Write)}
    assert {bit.name for bit in sent.bits} == {"A"}
    assert misfits(tree, code, lambda dice, _: dice.randrange(128)) == []


def test_counting_for_ever() -> None:
    """A loop that counts while it waits, round and round, never gives up; any count may be left behind."""
    # loop: INC 10; BNE s; INC 11; s: LDA C801; BPL loop; LDA 10; STA C800; LDA 11; STA C800; RTS
    code = "A90085108511" + "E610D002E611AD01C810F5A5108D00C8A5118D00C860"
    tree = follow(code)
    (wait,) = waits(tree)
    assert (wait.polls, wait.until) == (None, (0x80,))
    # LDA 4, BPL taken 3, INC 5, BNE taken 3; or BNE not taken 2 and INC 5 more
    assert wait.period == CycleRange(15, 19)
    assert tree.is_exhausted
    assert misfits(tree, code, lambda dice, _: 0x80 if dice.random() < 0.001 else dice.randrange(128)) == []


# what to do in one late turn of many, or in each turn, with the status in A: a write of the status to C800
LATE = "E034D009C012D005{test}"
DECIDED = [
    ("two bits", "2906C902D0038D00C8"),
    ("one bit", "4A9003" + "8D00C8"),
    ("parity of two bits", "85104A4510" + "29014A9003" + "8D00C8"),
    ("a counter in RAM", "2906C902D002E611"),
    ("another register", "2906C902D003AD02C8"),
]


@pytest.mark.parametrize("body", [row[1] for row in DECIDED], ids=[row[0] for row in DECIDED])
def test_decided_in_every_turn(body: str) -> None:
    """A turn that decides by another bit: only answers that decide alike are counted together."""
    code = counted(body, "A5118D00C8", 4)
    tree = follow("A9008511" + code)
    assert tree.is_exhausted
    assert misfits(tree, "A9008511" + code, stubborn(0x80)) == []


@pytest.mark.parametrize("body", [row[1] for row in DECIDED], ids=[row[0] for row in DECIDED])
def test_decided_in_one_late_turn(body: str) -> None:
    """One turn of 65,536 decides by another bit: never passed over, at worst said not to be followed."""
    # X and Y count down from 0; at X = 34, Y = 12 the turn looks at the status once more
    size = len(bytes.fromhex(body))
    late = f"E034D0{size + 4:02X}C012D0{size:02X}{body}"
    loop = len(bytes.fromhex(late))
    turn = f"AD01C810{loop + 6:02X}{late}CAD0{256 - (3 + 2 + loop + 3):02X}88D0{256 - (3 + 2 + loop + 3 + 3):02X}"
    tree = follow(f"A200A000{turn}60", bounds=Bounds(turns=300))
    assert not [wait for wait in waits(tree) if wait.polls == 65536]
    assert not tree.is_exhausted
    (reason,) = {leaf.reason for leaf in tree.leaves if leaf.kind is LeafKind.BOUND}
    assert reason == "the read at 0304 is repeated more than 300 times, and the turns are not shown to be alike"


@pytest.mark.parametrize("count", [3, 9])
def test_two_reads_a_turn(count: int) -> None:
    """Two registers read in each turn: followed turn by turn."""
    # loop: LDA C801; BPL done; LDA C802; BMI done; DEX; BNE loop; STX C800; done: RTS
    code = f"A2{count:02X}AD01C8100BAD02C83006CAD0F38E00C860"
    tree = follow(code)
    assert tree.is_exhausted
    assert misfits(tree, code, lambda dice, address: dice.randrange(128) | (0x80 if address == 0xC801 else 0)) == []
    assert misfits(tree, code, lambda dice, _: dice.randrange(256)) == []


def test_two_reads_of_one_register_a_turn() -> None:
    """The status read twice in each turn is no loop of single reads."""
    code = "A205AD01C8100BAD01C81006CAD0F38E00C860"
    tree = follow(code)
    assert tree.is_exhausted
    assert misfits(tree, code, stubborn(0x80)) == []


def test_wait_for_change_with_time_out() -> None:
    """The answer is compared with the one before: no answer keeps such a loop waiting by itself."""
    # LDA C801; STA 10; LDX #6; loop: LDA C801; CMP 10; BNE done; DEX; BNE loop; STX C800; done: RTS
    code = "AD01C88510A206AD01C8C510D006CAD0F68E00C860"
    tree = follow(code)
    assert tree.is_exhausted
    assert misfits(tree, code, lambda dice, _: 0x55 if dice.random() < 0.9 else dice.randrange(256)) == []


def test_status_moves_an_address() -> None:
    """A table looked up by the status costs a cycle more or less by the answer: not alike."""
    # loop: LDA C801; BPL done; TAY; LDA 0380,Y (crosses a page from 80 on); DEX; BNE loop
    code = "A206AD01C81007A8B98003CAD0F460"
    code = code.ljust(2 * 0x90, "0") + "00" * 256
    tree = follow(code)
    assert [wait.polls for wait in waits(tree) if wait.polls is not None] == []
    assert misfits(tree, code, stubborn(0x80)) == []


def test_self_modified_loop() -> None:
    """A loop in RAM that counts in its own operand, or makes its own operand of the status."""
    # 0300: LDX #00; loop 0302: LDA C801; BPL done; INC 030B; LDY #00 (operand at 030B); DEX; BNE loop; STY C800; RTS
    counts = "A200AD01C8100BEE0B03A000CAD0F38C00C860"
    tree = follow(counts, writable=True)
    assert tree.is_exhausted
    assert misfits(tree, counts, stubborn(0x80), writable=True) == []
    # the same with STA 030B: the status kept in the operand
    keeps = counts.replace("EE0B03", "8D0B03")
    tree = follow(keeps, writable=True)
    assert tree.is_exhausted
    assert misfits(tree, keeps, stubborn(0x80), writable=True) == []


def test_loop_inside_of_a_loop() -> None:
    """Two waits with time-out one after another, twice round: the counters left behind are not taken for one."""
    wait = "A200AD01C81003CAD0F8"
    code = "A9028512" + wait + "8613" + wait + "8A38E5138D00C8C612D0DF60"
    tree = follow(code)
    assert misfits(tree, code, stubborn(0x80)) == []


def test_one_wait_called_twice() -> None:
    """A waiting routine that gives up, called twice on end: each call is a loop of its own."""
    # JSR w; STX 13; JSR w; STX C800; LDA 13; STA C800; RTS; NOP
    # w: LDX #00; l: LDA C801; BMI d; DEX; BNE l; d: RTS
    head = "201203" + "8613" + "201203" + "8E00C8" + "A513" + "8D00C8" + "60" + "EA"
    code = head + "A200AD01C83003CAD0F860"
    tree = follow(code)
    assert {wait.polls for wait in waits(tree)} == {256}
    assert tree.is_exhausted
    assert misfits(tree, code, lambda dice, _: 0x80 if dice.random() < 0.004 else dice.randrange(128)) == []


def test_loop_around_a_reading_routine() -> None:
    """The read may stand in a routine of its own that each turn calls."""
    # LDX #00; l: JSR r; BMI d; DEX; BNE l; d: STX C800; RTS; r: LDA C801; RTS
    code = "A200200E033003CAD0F88E00C860" + "AD01C860"
    tree = follow(code)
    assert [wait.polls for wait in waits(tree)] == [256]
    assert misfits(tree, code, lambda dice, _: 0x80 if dice.random() < 0.004 else dice.randrange(128)) == []


def test_shades_cover_numbers() -> None:
    """Every operation on low values with some bits known covers the operation on all numbers that fit."""
    operations = [operator.and_, operator.or_, operator.xor, operator.add, operator.sub, operator.mul]
    dice = random.Random(1)
    for _ in range(2000):
        masks = [dice.randrange(256) for _ in range(2)]
        numbers = [dice.randrange(256) for _ in range(2)]
        shades = [low(8) & mask | number & ~mask & 0xFF for mask, number in zip(masks, numbers, strict=True)]
        plain = [
            dice.randrange(256) & mask | number & ~mask & 0xFF for mask, number in zip(masks, numbers, strict=True)
        ]
        one = dice.choice(operations)
        for left, right in ((0, 0), (0, 1), (1, 0)):
            result = one((plain[0], shades[0])[left == 0], (plain[1], shades[1])[right == 0])
            number = one(plain[0], plain[1])
            if isinstance(result, int):
                assert result == number
            else:
                assert isinstance(result, Shade)
                assert number & result.known == result.bits & result.known
        for shift in (0, 1, 7):
            for moved, number in ((shades[0] << shift, plain[0] << shift), (shades[0] >> shift, plain[0] >> shift)):
                known, bits = (moved.known, moved.bits) if isinstance(moved, Shade) else (-1, moved)
                assert number & known == bits & known


@pytest.mark.parametrize(
    ("code", "polls"),
    [
        # LD B,0; loop: IN A,(90); AND 2; JR Z,ok; DJNZ loop; RET; ok: OUT (91),A; RET
        ("0600DB90E602280310F8C9D391C9", 256),
        # LD B,0; LD C,90; loop: IN A,(C); RRA; JR NC,ok; DJNZ loop
        ("06000E90ED781F300310F9C9D391C9", 256),
        # LD DE,0; loop: IN A,(90); BIT 1,A; JR Z,ok; DEC DE; LD A,D; OR E; JR NZ,loop
        ("110000DB90CB4F28061B7AB320F5C9D391C9", 65536),
    ],
    ids=["IN A,(n)", "IN A,(C)", "sixteen bits"],
)
def test_alike_z80(code: str, polls: int) -> None:
    """The same on the Z80; the counter may stand in the upper half of the port's address."""
    image = Image.from_bytes(bytes.fromhex(code), 0x8000, "routine.bin")
    tree = explore([image], 0x8000, AddressSet.of(()), cpu="Z80")
    assert [wait.polls for wait in waits(tree)] == [polls]
    assert tree.is_exhausted
    for seed in range(NUM_RUNS):
        dice = random.Random(seed)
        done = run(
            [image],
            0x8000,
            AddressSet.of(()),
            cpu="Z80",
            registers={"A": 0x41},
            read=partial(_answered, lambda d, _: d.randrange(256) | (3 if d.random() < 0.999 else 0), dice),
            instructions=1_000_000,
        )
        assert Walker(tree, {"A": 0x41}).walk(done) == ""
