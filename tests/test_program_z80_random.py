"""Random small Z80 driver programs: a run is a walk through the explored graph, and the same on another machine."""

from __future__ import annotations

import random

import pytest

from latchlore.base import AddressSet
from latchlore.program import Image, explore, run
from tests.program_walk import Walker
from tests.program_z80_writer import MAX_TOUCHES, ORIGIN, Touch, make_program, touches_elsewhere

NOWHERE = AddressSet.of(())
NUM_PROGRAMS = 60
STACK = 0xEF00


def roll(dice: random.Random, values: list[int]) -> int:
    """One answer."""
    return dice.choice(values) if values and dice.random() < 0.95 else dice.randrange(256)


def compare(seed: int, runs: int = 3) -> str:
    """Explore one program, walk several runs of it, and do them on the other machine too."""
    code, start = make_program(seed)
    image = Image.from_bytes(code, ORIGIN, f"random {seed}")
    tree = explore([image], ORIGIN + start, NOWHERE, cpu="Z80")
    assert tree.is_exhausted, {leaf.reason for leaf in tree.leaves if not leaf.is_done}
    for k in range(runs):
        dice, again = random.Random(seed * 1000 + k), random.Random(seed * 1000 + k)
        values = [0x00, 0xFF, 0x80, 0x7F] if k == 0 else []
        registers = {name: random.Random(k + seed).randrange(256) for name in ("A", "B", "C", "D", "E", "H", "L")}

        def answer(address: int, cycle: int, dice: random.Random = dice, values: list[int] = values) -> int:
            return roll(dice, values)

        done = run([image], ORIGIN + start, NOWHERE, cpu="Z80", registers=registers, read=answer, instructions=20_000)
        words = Walker(tree, registers).walk(done)
        if words:
            return f"program {seed}, run {k}: {words}"
        mine = [Touch(access.direction, access.address & 0xFF, access.value) for access in done.accesses]

        def reply(port: int, dice: random.Random = again, values: list[int] = values) -> int:
            return roll(dice, values)

        theirs = touches_elsewhere(code, ORIGIN + start, registers, reply, STACK)
        length = min(len(mine), len(theirs), MAX_TOUCHES)
        if mine[:length] != theirs[:length] or (done.end.value == "returns" and len(theirs) < len(mine[:MAX_TOUCHES])):
            return f"program {seed}, run {k}: the other machine touches {theirs[:length]}"
    return ""


@pytest.mark.parametrize("first", range(0, NUM_PROGRAMS, 20))
def test_random_programs(first: int) -> None:
    """Writes with their values, reads, polls, choices, ends and cycles of concrete runs all stand in the graph."""
    assert [words for seed in range(first, first + 20) if (words := compare(seed))] == []
