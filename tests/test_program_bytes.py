"""Which bytes a register can get, from what, and whether a code may be sent; what drivers ask of a status register."""

from __future__ import annotations

import itertools
import random
from functools import partial
from typing import TYPE_CHECKING

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
    InputBit,
    InputKind,
    Leaf,
    LeafKind,
    Node,
    Write,
)
from latchlore.program import Image, Sending, explore, may_send, run, status_tests, tidy, what_reaches
from tests.program_witness import Replay
from tests.test_program_random import DATA, DEVICES, ORIGIN, make_program

if TYPE_CHECKING:
    from collections.abc import Iterator

REGISTERS = AddressSet.of_range(0xC800, 0xC803)
ONE = CycleRange.exactly(4)
END = Leaf(LeafKind.RETURNED, "RTS to the caller", 0xE00F, ONE)


def to_data(kind: InputKind, address: int) -> bool:
    """The data register of the small routines."""
    return kind is InputKind.MEMORY and address == 0xC800


def explored(code: str, **options: object) -> ByteTree:
    """The tree of a routine at E000 with registers C800 to C803."""
    image = Image.from_bytes(bytes.fromhex(code), 0xE000, "rom.bin")
    return tidy(explore([image], 0xE000, REGISTERS, **options))  # type: ignore[arg-type]  # passed through


def asked(tree: ByteTree, *code: int) -> Sending:
    """Whether a code may go to the data register."""
    return may_send(tree, [frozenset({byte}) for byte in code], to_data)


# AND #7F; CMP #0D; BEQ E00F; CMP #20; BCC E013; STA C800; RTS; E00F: STA C800 (LDA #0A; STA C800); E013: RTS
PRINT = "297F C90D F008 C920 9009 8D00C8 60 EA 8D00C8 60 EAEA60"


def test_may_send_with_a_path() -> None:
    """A letter may be sent, with an argument that a concrete run confirms; a control code never, with its bounds."""
    tree = explored(PRINT)
    answer = asked(tree, 0x41)
    assert answer.happens is True
    assert answer.witness is not None
    (example,) = answer.witness.example()
    assert (example.name, example.mask) == ("A", 0x7F)
    image = Image.from_bytes(bytes.fromhex(PRINT), 0xE000, "rom.bin")
    result = run([image], 0xE000, REGISTERS, registers={"A": example.value})
    assert [access.value for access in result.accesses] == [0x41]
    never = asked(tree, 0x1B)
    assert never.happens is False
    assert never.grounds[:2] == (
        "no walk through the tree writes it",
        f"every path from E000 was followed to an end of the program's own ({len(tree.nodes)} nodes)",
    )
    assert set(tree.assumptions) | set(tree.bounds) <= set(never.grounds)


def test_may_send_conditions_must_hold_together() -> None:
    """A walk whose conditions cannot hold together sends nothing: 41 needs the strap at 0, 42 needs it at 1."""
    strap = InputBit(InputKind.MEMORY, 0xC801, 0, HELD)
    low, high = Condition.of_bit(strap, 0), Condition.of_bit(strap, 1)

    def write(value: int) -> Write:
        return Write(InputKind.MEMORY, 0xC800, ByteTable.constant(value), ONE)

    tree = ByteTree(
        (
            Node((), Choice((Arm(low, 1), Arm(high, 2)))),
            Node((write(0x41),), Choice((Arm(low, 3), Arm(high, 4)))),
            Node((write(0x44),), Choice((Arm(low, 3), Arm(high, 4)))),
            Node((write(0x43),), END),
            Node((write(0x42),), END),
        ),
        0xE000,
    )
    assert tree.can_emit([frozenset({0x41}), frozenset({0x42})], to_data)
    answer = asked(tree, 0x41, 0x42)
    assert (answer.happens, answer.grounds[0]) == (False, "no walk whose conditions can hold together writes it")
    assert asked(tree, 0x41, 0x43).happens is True


def test_may_send_cannot_be_told() -> None:
    """Where a path was not followed there is no "never", and the reason is said."""
    answer = asked(explored("A941 8D00C8 4C00F0"), 0x1B)
    assert (answer.happens, answer.witness) == (None, None)
    assert answer.grounds == ("not followed: the content of F000 is not known at F000",)


def test_code_over_several_choices() -> None:
    """A code of two bytes with the second one by a status bit: the path says which level."""
    # LDA #1B; STA C800; LDA C801; BMI E010; LDA #45; STA C800; RTS; E010: LDA #46; STA C800; RTS
    tree = explored("A91B 8D00C8 AD01C8 3006 A945 8D00C8 60 A946 8D00C8 60")
    answer = asked(tree, 0x1B, 0x46)
    assert answer.witness is not None
    (condition,) = answer.witness.conditions
    assert str(condition) == "C801 bit 7 (read 1) = 1"
    assert [step.program_address for step in answer.witness.steps if isinstance(step, Write)] == [0xE002, 0xE012]
    assert asked(tree, 0x45, 0x46).happens is False


@pytest.mark.parametrize("seed", range(0, 120, 6))
def test_random_programs(seed: int) -> None:
    """Whatever pair of bytes a concrete run sends may be sent; a pair that may never be is never seen."""
    code, start = make_program(seed)
    image = Image.from_bytes(code, ORIGIN, f"random {seed}")
    tree = tidy(explore([image], ORIGIN + start, DEVICES))
    seen: set[tuple[int, int]] = set()
    for k in range(6):
        dice = random.Random(seed * 31 + k)
        registers = {name: dice.randrange(256) for name in ("A", "X", "Y")}
        read = partial(_answer, dice)
        result = run([image], ORIGIN + start, DEVICES, registers=registers, read=read, instructions=3000)
        sent = [one.value for one in result.accesses if one.direction == "write" and one.address == DATA]
        seen |= set(itertools.pairwise(sent))
    for pair in sorted(seen)[:40]:
        answer = may_send(tree, [frozenset({byte}) for byte in pair], lambda _, address: address == DATA)
        assert answer.happens is True, pair
    possible = sorted(tree.possible_bytes(lambda _, address: address == DATA))
    for first in possible[:6]:
        for second in possible[:6]:
            answer = may_send(tree, [frozenset({first}), frozenset({second})], lambda _, address: address == DATA)
            assert not (answer.happens is False and (first, second) in seen)


def _answer(dice: random.Random, _address: int, _cycle: int) -> int:
    return dice.choice((0, 0xFF, dice.randrange(256)))


@pytest.mark.parametrize("seed", range(0, 60, 3))
def test_a_path_is_what_a_run_does(seed: int) -> None:
    """Told what a path's conditions ask for, a concrete run of a random program sends the code."""
    code, start = make_program(seed)
    image = Image.from_bytes(code, ORIGIN, f"random {seed}")
    tree = tidy(explore([image], ORIGIN + start, DEVICES))
    possible = sorted(tree.possible_bytes(lambda _, address: address == DATA))
    dice = random.Random(seed)
    codes = [[value] for value in dice.sample(possible, min(5, len(possible)))]
    codes += [[dice.choice(possible), dice.choice(possible)] for _ in range(5) if possible]
    for wanted in codes:
        answer = may_send(tree, [frozenset({byte}) for byte in wanted], lambda _, address: address == DATA)
        if answer.witness is None:
            continue
        replay = Replay(tree, answer.witness)
        answers = iter(replay.answers())
        result = run(
            [image],
            ORIGIN + start,
            DEVICES,
            registers=replay.registers(),
            memory=replay.memory(),
            read=partial(_next_of, answers),
            instructions=20_000,
        )
        sent = [one.value for one in result.accesses if one.direction == "write" and one.address == DATA]
        assert any(sent[k : k + len(wanted)] == wanted for k in range(len(sent))), wanted


def _next_of(answers: Iterator[int], _address: int, _cycle: int) -> int:
    return next(answers, 0)


def test_what_reaches() -> None:
    """Bits 6 to 0 of A reach the port as they are, bit 7 never does; X decides and is not copied; Y never matters."""
    # AND #7F; CPX #0; BEQ E009; STA C800; RTS
    reach = what_reaches(explored("297F E000 F003 8D00C8 60"), to_data, ("A", "X", "Y"))
    by_name = {one.name: one for one in reach.found}
    assert by_name["A"].copies == tuple((k, k) for k in range(7))
    assert by_name["A"].decides == ()
    assert by_name["A"].verdict == "reaches it"
    assert by_name["X"].copies == ()
    assert by_name["X"].decides == tuple(range(8))
    assert by_name["X"].verdict == "decides what is written, and is not copied"
    assert (reach.never, reach.untold) == (("Y",), ())


def test_what_reaches_knows_the_path() -> None:
    """Folding to capitals: bits 4 to 0 and 6 go through; bit 5 depends on the whole letter."""
    # CMP #61; BCC E00A; CMP #7B; BCS E00A; AND #DF; E00A: STA C800; RTS
    reach = what_reaches(explored("C961 9006 C97B B002 29DF 8D00C8 60"), to_data, ("A",))
    (letter,) = reach.found
    through = {out: {source for source, to in letter.copies if to == out} for out in range(8)}
    assert {out: sources for out, sources in through.items() if out != 5} == {k: {k} for k in range(8) if k != 5}
    assert through[5] == set(range(8))


def test_what_reaches_cannot_be_told() -> None:
    """Where a path was not followed, no register is said never to reach the port."""
    reach = what_reaches(explored("8D00C8 4C00F0"), to_data, ("A", "X"))
    assert (reach.never, reach.untold) == ((), ("X",))


def test_may_send_wrong() -> None:
    """An empty code is refused."""
    with pytest.raises(ValueError, match=r"^a pattern has at least one byte$"):
        may_send(explored(PRINT), [], to_data)


# -- status tests: bench case "two status tests" ---------------------------------------------------------------------

ROUTINES = {
    # A: LDA C801; AND #F0; CMP #30; BNE A; LDA #41; STA C800; RTS
    # B: LDA C801; CMP #3F; BNE B; LDA #42; STA C800; RTS
    # C: BIT C801; BMI C; LDA #43; STA C800; RTS
    "6502": {
        "A": "AD01C8 29F0 C930 D0F7 A941 8D00C8 60",
        "B": "AD01C8 C93F D0F9 A942 8D00C8 60",
        "C": "2C01C8 30FB A943 8D00C8 60",
    },
    # A: LD A,(C801); AND F0; CP 30; JR NZ,A; LD A,41; LD (C800),A; RET    and so on; C by RLCA and JR C
    "Z80": {
        "A": "3A01C8 E6F0 FE30 20F7 3E41 3200C8 C9",
        "B": "3A01C8 FE3F 20F9 3E42 3200C8 C9",
        "C": "3A01C8 07 38FA 3E43 3200C8 C9",
    },
}


@pytest.mark.parametrize("cpu", ROUTINES)
def test_status_tests(cpu: str) -> None:
    """Only 3F satisfies all; 30 satisfies A and C, 00 C alone, FF none; bits 3 to 0 are tested by B alone."""
    trees = {name: explored(code, cpu=cpu) for name, code in ROUTINES[cpu].items()}
    answer = status_tests(trees, lambda _, address: address == 0xC801, to_data)
    assert answer.satisfy_all == {0x3F}
    assert [answer.satisfied(value) for value in (0x3F, 0x30, 0x00, 0xFF)] == [("A", "B", "C"), ("A", "C"), ("C",), ()]
    assert [bit.tested_by for bit in answer.bits] == [
        ("A", "B", "C"),
        ("A", "B"),
        ("A", "B"),
        ("A", "B"),
        ("B",),
        ("B",),
        ("B",),
        ("B",),
    ]
    assert [bit.words for bit in answer.bits[:4]] == [f"must read {level}" for level in (0, 0, 1, 1)]
    assert {bit.words for bit in answer.bits[4:]} == {
        "reads 1, probably undriven: only comparisons of the whole byte look at it"
    }


def test_status_tests_other_kinds() -> None:
    """A time-out does not satisfy; another input makes it "may"; a bit that nobody tests is said to be one."""
    # LDX #3; E002: LDA C801; BMI E00C; DEX; BNE E002; RTS; NOP; E00C: STA C800; RTS
    timed = explored("A203 AD01C8 3004 CA D0F8 60 8D00C8 60")
    # LDA C801; BPL E00C; LDA C802; BNE E00C; STA C800; RTS... E00C: RTS
    other = explored("AD01C8 1009 AD02C8 D004 8D00C8 60 60")
    answer = status_tests({"timed": timed, "other": other}, lambda _, address: address == 0xC801, to_data)
    timed_test, other_test = answer.tests
    assert timed_test.satisfied_by == frozenset(range(0x80, 0x100))
    assert other_test.satisfied_by == frozenset()
    assert other_test.may_do == frozenset(range(0x80, 0x100))
    assert answer.bits[-1].words == "nobody tests it"
    assert answer.bits[0].words == "no byte satisfies all"


def test_status_tests_wrong() -> None:
    """No driver is no question."""
    with pytest.raises(ValueError, match=r"^at least one driver is asked$"):
        status_tests({}, lambda *_: True, to_data)
