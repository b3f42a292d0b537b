"""Trees in their shortest form, in rows and words, and as pictures."""

from __future__ import annotations

import random
import re
import xml.etree.ElementTree as ET
from functools import partial

import pytest

from latchlore.base import (
    HELD,
    AddressSet,
    Arm,
    ByteTable,
    ByteTree,
    Choice,
    Condition,
    CycleRange,
    Event,
    InputBit,
    InputKind,
    Leaf,
    LeafKind,
    Link,
    Node,
    Read,
    SignalRole,
    Wait,
    Write,
)
from latchlore.dossier import draw_tree, stand_alone
from latchlore.program import (
    Image,
    NamedRegister,
    Names,
    RowKind,
    condition_words,
    explore,
    outline,
    run,
    tidy,
)
from latchlore.program._outline import Repeat, fold_repeats
from latchlore.program._treewords import table_words, values_words
from tests.program_walk import Walker
from tests.test_program_random import DEVICES, ORIGIN, make_program

STATUS = AddressSet.of((0xC801,))
NAMES = Names(
    (NamedRegister("DATA", InputKind.MEMORY, AddressSet.of((0xC800,)), "write"),),
    (SignalRole("BUSY", InputKind.MEMORY, STATUS, "read", 7),),
)
ONE = CycleRange.exactly(4)
END = Leaf(LeafKind.RETURNED, "RTS to the caller", 0xE00F, ONE)


def explored(code: str, **options: object) -> ByteTree:
    """The tree of a routine at E000 with registers C800 to C803."""
    image = Image.from_bytes(bytes.fromhex(code), 0xE000, "rom.bin")
    devices = AddressSet.of_range(0xC800, 0xC803)
    return explore([image], 0xE000, devices, **options)  # type: ignore[arg-type]  # passed through


def rows(tree: ByteTree) -> list[str]:
    """The rows as they are printed, without cycles."""
    return [f"{'  ' * row.depth}{'if ' if row.kind is RowKind.ARM else ''}{row.words}" for row in outline(tree, NAMES)]


def bit(number: int, name: str = "", turn: int = HELD) -> InputBit:
    """A bit of the status register, or of a register of the processor."""
    kind = InputKind.ARGUMENT if name else InputKind.MEMORY
    return InputBit(kind, 0 if name else 0xC801, number, turn, name)


def write(value: int, cycles: CycleRange = ONE) -> Write:
    """A write to the data register."""
    return Write(InputKind.MEMORY, 0xC800, ByteTable.constant(value), cycles, 0xE000)


def test_conditions_follow_the_path() -> None:
    """A second test of what is known already is dropped; one of which half is known says the other half only."""
    # LDA C801; TAX; AND #81; BEQ E018; TXA; AND #80; BEQ E013; LDA #2; STA C800; RTS; NOP
    # E013: LDA #1; STA C800; NOP; RTS
    tree = tidy(explored("AD01C8 AA 2981 F012 8A 2980 F007 A902 8D00C8 60 EA A901 8D00C8 EA 60"))
    assert rows(tree) == [
        "node 0",
        "read C801",
        "if BUSY (C801 bit 7) = 0 and C801 bit 0 = 0",
        "  returns: RTS to the caller",
        "if C801 bits 7, 0 are not 00",
        "if BUSY (C801 bit 7) = 0",
        "  write C800 ← 01 (DATA)",
        "  returns: RTS to the caller",
        "if BUSY (C801 bit 7) = 1",
        "  write C800 ← 02 (DATA)",
        "  returns: RTS to the caller",
    ]


def test_dead_arms_go() -> None:
    """An arm that no path can take is dropped, and with it what only it led to."""
    low, high = Condition.of_bit(bit(0), 0), Condition.of_bit(bit(0), 1)
    tree = ByteTree(
        (
            Node((), Choice((Arm(low, 1), Arm(high, 2)))),
            Node((write(1),), Choice((Arm(low, 3), Arm(high, 4)))),
            Node((write(2),), END),
            Node((write(3),), END),
            Node((write(4),), END),
        ),
        0xE000,
    )
    shorter = tidy(tree)
    assert shorter.possible_bytes(lambda *_: True) == {1, 2, 3}
    assert len(shorter.nodes) == 3


def test_too_many_bits_together() -> None:
    """Two arms to one node that look at more bits than a table takes stay two, and nothing is lost."""
    wide = [tuple(bit(k, name) for k in range(9)) for name in ("BC", "DE")]
    never = [Condition(bits, 1) for bits in wide]
    rest = Condition((bit(0, "HL"),), 0b10)
    arms = (Arm(never[0], 1), Arm(never[1], 1), Arm(rest, 2))
    tree = ByteTree((Node((), Choice(arms)), Node((write(1),), END), Node((write(2),), END)), 0xE000)
    after = tidy(tree).nodes[0].after
    assert isinstance(after, Choice)
    assert [arm.condition for arm in after.arms] == [arm.condition for arm in arms]


def test_reading_anew_forgets() -> None:
    """What a register said before says nothing of the next reading of it."""
    first = Read(InputKind.MEMORY, 0xC801, 0, ONE)
    low, high = Condition.of_bit(bit(0, turn=0), 0), Condition.of_bit(bit(0, turn=0), 1)
    tree = ByteTree(
        (
            Node((first,), Choice((Arm(low, 1), Arm(high, 2)))),
            Node((first,), Choice((Arm(low, 2), Arm(high, 3)))),
            Node((write(2),), END),
            Node((write(3),), END),
        ),
        0xE000,
    )
    assert tidy(tree).possible_bytes(lambda *_: True) == {2, 3}
    waited = Wait(InputKind.MEMORY, 0xC801, 1, (0,), ONE, ONE, turn=0)  # behind it bit 0 is 0
    assert tidy(ByteTree((Node((waited,), tree.nodes[0].after), *tree.nodes[1:]), 0xE000)).nodes[0].events[0] == waited


def test_equal_subtrees_are_one() -> None:
    """Two arms that do the same become one way; loops that do the same too."""
    low, high = Condition.of_bit(bit(0), 0), Condition.of_bit(bit(0), 1)
    same = ByteTree((Node((), Choice((Arm(low, 1), Arm(high, 2)))), Node((write(1),), END), Node((write(1),), END)), 0)
    assert tidy(same).nodes == (Node((write(1),), END),)
    loops = ByteTree(
        (
            Node((), Choice((Arm(low, 1), Arm(high, 2)))),
            Node((write(1),), Link(1)),
            Node((write(1),), Link(3)),
            Node((write(1),), Link(2)),
        ),
        0,
    )
    assert len(tidy(loops).nodes) == 2


def _answer(dice: random.Random, _address: int, _cycle: int) -> int:
    return dice.choice((0, 0xFF, dice.randrange(256)))


@pytest.mark.parametrize("seed", range(0, 100, 5))
def test_runs_stay_walks(seed: int) -> None:
    """Whatever a concrete run does is a walk through the shortened tree too, with its cycles."""
    code, start = make_program(seed)
    image = Image.from_bytes(code, ORIGIN, f"random {seed}")
    tree = explore([image], ORIGIN + start, DEVICES)
    if not tree.is_exhausted:
        return
    shorter = tidy(tree)
    assert len(shorter.nodes) <= len(tree.nodes)
    for k in range(4):
        dice = random.Random(seed * 77 + k)
        registers = {name: dice.randrange(256) for name in ("A", "X", "Y")}
        result = run(
            [image],
            ORIGIN + start,
            DEVICES,
            registers=registers,
            read=partial(_answer, dice),
            instructions=4000,
        )
        assert Walker(shorter, registers).walk(result) == ""


def test_words() -> None:
    """Conditions over one byte by its values, bytes by where they come from."""
    seven = tuple(bit(k, "A") for k in range(7))
    letter = Condition(seven, 1 << 0x0D)
    assert condition_words(letter, NAMES) == "A masked with 7F is 0D"
    other = Condition(seven, ((1 << 128) - 1) ^ 1 << 0x0D)
    assert condition_words(other, NAMES) == "A masked with 7F is not 0D"
    assert condition_words(Condition((), 1), NAMES) == "always"
    both = Condition((bit(7, turn=0), bit(0, "X")), 0b1000)
    assert condition_words(both, NAMES) == "BUSY (C801 bit 7) = 1 and X bit 0 = 1"
    either = Condition((bit(7, turn=0), bit(0, "X")), 0b1110)
    assert condition_words(either, NAMES) == "(BUSY (C801 bit 7), X bit 0) are 10 or 01 or 11"
    assert values_words((0x20, 0x21, 0x22, 0x40), 0xFF) == "is 20 to 22 or 40"
    copy = ByteTable(seven, tuple(k | 0x80 for k in range(128)))
    assert table_words(copy, NAMES) == "A masked with 7F with 80 set"
    pair = ByteTable((bit(0, "A"),), (0x0D, 0x0A))
    assert table_words(pair, NAMES) == "0A if A bit 0 = 1, 0D if A bit 0 = 0"


def test_repeats_are_folded() -> None:
    """Five strobed bytes are one block with its bytes; the cycles in front of the first are kept apart."""
    first = CycleRange.exactly(20)
    events: list[Event] = []
    for k, byte in enumerate(b"HELLO"):
        events += [
            Wait(InputKind.MEMORY, 0xC801, 0x80, (0x80,), ONE, first if k == 0 else ONE),
            write(byte),
            Write(InputKind.MEMORY, 0xC802, ByteTable.constant(0), ONE),
        ]
    (repeat,) = fold_repeats(events)
    assert isinstance(repeat, Repeat)
    assert (repeat.times, repeat.varied, repeat.before, len(repeat.block)) == (5, b"HELLO", first, 3)
    changed = [*events[:6], *[write(7)] * 2, *events[6:]]
    assert not any(isinstance(one, Repeat) and one.times > 3 for one in fold_repeats(changed))


def test_rows_say_where_paths_meet_and_end() -> None:
    """A node that two ways lead to stands once; a loop is a way back; an open end is marked."""
    # LDA C801; BMI E00A; LDA #41; STA C800; E00A: LDA #42; STA C800; JMP E000
    tree = tidy(explored("AD01C8 3005 A941 8D00C8 A942 8D00C8 4C00E0"))
    assert rows(tree) == [
        "node 0",
        "read C801",
        "node 1",
        "if BUSY (C801 bit 7) = 1",
        "  write C800 ← 42 (DATA)",
        "  read C801",
        "  on at node 1",
        "if BUSY (C801 bit 7) = 0",
        "  write C800 ← 41 (DATA)",
        "  write C800 ← 42 (DATA)",
        "  read C801",
        "  on at node 1",
    ]
    # cycles of the MCS6500 manual, appendix B: BMI 3 taken and 2 not, LDA # 2, STA and LDA absolute 4, JMP 3
    cycles = [row.cycles.least for row in outline(tree, NAMES) if row.cycles is not None]
    assert cycles == [3, 3 + 2 + 4, 3 + 4, 2 + 2 + 4, 2 + 4, 3 + 4]
    ended = list(outline(tidy(explored("AD01C8 4C00F0")), NAMES))
    assert ended[-1].words.startswith("NOT FOLLOWED: runs into code that is not known: ")
    assert ended[-1].is_done is False


def test_picture() -> None:
    """The picture is one well-formed SVG file with the words of the rows, and says what it leaves out."""
    tree = tidy(explored("2C01C8 10FB A941 8D00C8 60"))
    shown = tuple(outline(tree, NAMES))
    whole = stand_alone(draw_tree("Tree <of> & a test", shown))
    root = ET.fromstring(whole)
    words = [element.text for element in root.iter("{http://www.w3.org/2000/svg}text")]
    assert "wait until BUSY (C801 bit 7) = 1" in words
    assert "Tree <of> & a test" in words
    assert "prefers-color-scheme: dark" in whole
    assert "@media print" in whole
    long = draw_tree("long", shown * 80, more=5)
    assert re.search(r"… and [\d,]+ more rows, left out of the picture", long)
    assert draw_tree("same", shown) == draw_tree("same", shown)
