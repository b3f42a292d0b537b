"""Random small driver programs of several processors: a concrete run is a walk through the explored graph."""

from __future__ import annotations

import random

import pytest

from latchlore.program import Image, explore, run
from tests.program_cpu_writer import CODERS, DEVICES, ORIGIN, make_program
from tests.program_walk import Walker

NUM_PROGRAMS = 25


def compare(name: str, seed: int, runs: int = 3) -> str:
    """Explore one program and walk several runs of it."""
    code, start = make_program(name, random.Random(seed))
    image = Image.from_bytes(code, ORIGIN, f"random {seed}")
    tree = explore([image], start, DEVICES, cpu=name)
    assert tree.is_exhausted, {leaf.reason for leaf in tree.leaves if not leaf.is_done}
    for k in range(runs):
        dice = random.Random(seed * 1000 + k)
        values = [0x00, 0xFF, 0x80, 0x7F] if k == 0 else []

        def answer(address: int, cycle: int, dice: random.Random = dice, values: list[int] = values) -> int:
            return dice.choice(values) if values and dice.random() < 0.95 else dice.randrange(256)

        registers = {"A": dice.randrange(256)}
        result = run([image], start, DEVICES, cpu=name, registers=registers, read=answer, instructions=4000)
        words = Walker(tree, registers).walk(result)
        if words:
            return f"program {seed}, run {k}: {words}"
    return ""


@pytest.mark.parametrize("name", sorted(CODERS))
def test_random_programs(name: str) -> None:
    """Writes with their values, reads, polls, choices, ends and cycles of concrete runs all stand in the graph."""
    assert [words for seed in range(NUM_PROGRAMS) if (words := compare(name, seed))] == []


def test_random_programs_wrong() -> None:
    """A walk through the graph of another program does not fit: the check can fail."""
    code, start = make_program("6809", random.Random(1))
    other, _ = make_program("6809", random.Random(2))
    image = Image.from_bytes(code, ORIGIN, "one")
    tree = explore([Image.from_bytes(other + bytes(len(code)), ORIGIN, "other")], start, DEVICES, cpu="6809")
    result = run([image], start, DEVICES, cpu="6809", read=lambda address, cycle: 0, instructions=4000)
    assert Walker(tree, {}).walk(result) != ""
