"""Random small driver programs: what a concrete run does is a walk through the explored graph, access by access."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

import pytest

from latchlore.base import AddressSet, LeafKind
from latchlore.program import Image, explore, run
from tests.program_walk import Walker

DEVICES = AddressSet.of_range(0xC800, 0xC807)
STATUS, OTHER, DATA, CONTROL = 0xC801, 0xC802, 0xC800, 0xC803
ORIGIN = 0x2000
NUM_PROGRAMS = 120


@dataclass
class Writer:
    """Writes random 6502 code, forwards branches patched afterwards."""

    dice: random.Random
    code: bytearray = field(default_factory=bytearray)
    cells: int = 0x10
    depth: int = 0
    subroutines: list[int] = field(default_factory=list)

    def emit(self, *data: int) -> None:
        """Append bytes."""
        self.code += bytes(data)

    def word(self, opcode: int, address: int) -> None:
        """An absolute instruction."""
        self.emit(opcode, address & 0xFF, address >> 8)

    def branch(self, opcode: int) -> int:
        """A branch to be patched; its place."""
        self.emit(opcode, 0)
        return len(self.code)

    def land(self, place: int) -> None:
        """Let a branch come here."""
        self.code[place - 1] = len(self.code) - place

    def back(self, opcode: int, place: int) -> None:
        """Branch back."""
        self.emit(opcode, (place - len(self.code) - 2) & 0xFF)

    def write(self) -> None:
        """A constant, to a register."""
        self.emit(0xA9, self.dice.randrange(256))
        self.word(0x8D, self.dice.choice((DATA, CONTROL)))

    def wait(self) -> None:
        """Poll one or several bits."""
        top = len(self.code)
        port = self.dice.choice((STATUS, OTHER))
        if self.dice.random() < 0.5:
            self.word(self.dice.choice((0xAD, 0x2C)), port)
            self.back(self.dice.choice((0x10, 0x30)), top)
        else:
            self.word(0xAD, port)
            self.emit(0x29, 1 << self.dice.randrange(8) | 1 << self.dice.randrange(8))
            self.back(self.dice.choice((0xD0, 0xF0)), top)

    def give_up(self) -> None:
        """Poll, but not for ever."""
        cell = self.cells
        self.cells += 1
        self.emit(0xA9, self.dice.randrange(1, 40), 0x85, cell)
        top = len(self.code)
        self.word(0xAD, STATUS)
        ready = self.branch(self.dice.choice((0x10, 0x30)))
        self.emit(0xC6, cell)
        self.back(0xD0, top)
        self.emit(0xA9, 0xEE)
        self.word(0x8D, DATA)
        self.land(ready)

    def choose(self) -> None:
        """Two ways by a status bit."""
        self.word(0xAD, self.dice.choice((STATUS, OTHER)))
        self.emit(0x29, 1 << self.dice.randrange(8))
        other = self.branch(self.dice.choice((0xD0, 0xF0)))
        self.block(2)
        self.land(other)

    def keep(self) -> None:
        """Store a status in RAM, send a function of it later."""
        cell = self.cells
        self.cells += 1
        self.word(0xAD, self.dice.choice((STATUS, OTHER)))
        self.emit(0x85, cell)
        self.block(1)
        self.emit(0xA5, cell)
        operation = self.dice.choice(((0x49, 0x5A), (0x29, 0x0F), (0x09, 0x80), (0x4A,), (0x2A,), (0x18, 0x69, 0x07)))
        self.emit(*operation)
        self.word(0x8D, DATA)

    def select(self) -> None:
        """Look a byte up by two status bits."""
        self.word(0xAD, OTHER)
        self.emit(0x29, 0x03, 0xAA)  # AND #3, TAX
        skip = len(self.code) + 3 + 3 + 3  # LDA table,X; STA; JMP over the table
        self.word(0xBD, ORIGIN + skip)
        self.word(0x8D, DATA)
        self.word(0x4C, ORIGIN + skip + 4)
        self.emit(*(self.dice.randrange(256) for _ in range(4)))

    def fold_case(self) -> None:
        """A branch that only picks a value."""
        self.word(0xAD, OTHER)
        self.emit(0xC9, self.dice.randrange(256), 0x90, 0x02, 0x29, 0xDF)
        self.word(0x8D, DATA)

    def shift_out(self) -> None:
        """Send a status byte bit by bit."""
        cell = self.cells
        self.cells += 1
        self.word(0xAD, OTHER)
        self.emit(0x85, cell, 0xA0, self.dice.randrange(2, 5))
        top = len(self.code)
        self.emit(0xA9, 0x00, 0x46, cell, 0x2A)  # LDA #0, LSR cell, ROL A
        self.word(0x8D, CONTROL)
        self.emit(0x88)
        self.back(0xD0, top)

    def shift_by_branch(self) -> None:
        """The same with a branch and a write in each arm."""
        self.word(0xAD, OTHER)
        self.emit(0x85, self.cells, 0xA0, self.dice.randrange(2, 5))
        top = len(self.code)
        self.emit(0x06, self.cells)
        other = self.branch(0x90)
        self.word(0x8E, DATA)
        self.land(other)
        self.word(0x8E, CONTROL)
        self.emit(0x88)
        self.back(0xD0, top)
        self.cells += 1

    def delay(self) -> None:
        """Count down."""
        self.emit(0xA2, self.dice.randrange(256))
        top = len(self.code)
        self.emit(0xCA)
        self.back(0xD0, top)

    def repeat(self) -> None:
        """A counted loop around other things."""
        cell = self.cells
        self.cells += 1
        self.emit(0xA9, self.dice.randrange(1, 4), 0x85, cell)
        top = len(self.code)
        self.block(1)
        self.emit(0xC6, cell)
        if top - len(self.code) - 2 < -128:
            return  # too far to branch back
        self.back(0xD0, top)

    def modify(self) -> None:
        """Read, modify and write a register."""
        self.word(self.dice.choice((0xEE, 0x0E, 0x4E)), CONTROL)

    def indexed(self) -> None:
        """A write to one of two registers by a status bit, with its dummy read."""
        self.word(0xAD, OTHER)
        self.emit(0x29, 0x01, 0xAA, 0xA9, self.dice.randrange(256))
        self.word(0x9D, 0xC804)

    def pushed(self) -> None:
        """Keep a status on the stack meanwhile."""
        self.word(0xAD, OTHER)
        self.emit(0x48)
        self.block(1)
        self.emit(0x68)
        self.word(0x8D, DATA)

    def argument(self) -> None:
        """A choice by a register at the entry, kept in page zero."""
        self.emit(0xA5, 0x02, 0xC9, self.dice.randrange(256))
        other = self.branch(self.dice.choice((0x90, 0xD0)))
        self.write()
        self.land(other)

    def call(self) -> None:
        """Call one of the subroutines."""
        if self.subroutines:
            self.word(0x20, self.dice.choice(self.subroutines))

    def block(self, size: int) -> None:
        """Some statements."""
        self.depth += 1
        simple = [self.write, self.wait, self.fold_case, self.select, self.delay, self.modify, self.indexed, self.call]
        nested = [self.choose, self.keep, self.repeat, self.give_up, self.shift_out, self.shift_by_branch]
        nested += [self.pushed, self.argument]
        for _ in range(size):
            self.dice.choice(simple if self.depth > 2 else simple + nested)()
        self.depth -= 1


def make_program(seed: int) -> tuple[bytes, int]:
    """Random code and the offset of its entry."""
    writer = Writer(random.Random(seed))
    for _ in range(2):
        place = ORIGIN + len(writer.code)
        writer.depth = 2
        writer.block(2)
        writer.depth = 0
        writer.emit(0x60)
        writer.subroutines.append(place)
    start = len(writer.code)
    writer.emit(0x85, 0x02)  # STA 02: the argument
    writer.block(5)
    if writer.dice.random() < 0.8:
        writer.emit(0x60)
    else:
        writer.word(0x4C, ORIGIN + start)
    return bytes(writer.code), start


def compare(seed: int, runs: int = 4, *, cut: list[int] | None = None) -> str:
    """Explore one program and walk several runs of it; programs whose graph is too large go into `cut`."""
    code, start = make_program(seed)
    image = Image.from_bytes(code, ORIGIN, f"random {seed}")
    tree = explore([image], ORIGIN + start, DEVICES)
    if cut is not None and not tree.is_exhausted:
        cut.append(seed)
    left = {(leaf.kind, leaf.reason) for leaf in tree.leaves if not leaf.is_done}
    assert tree.is_exhausted or (cut is not None and {kind for kind, _ in left} == {LeafKind.BOUND}), left
    for k in range(runs):
        dice = random.Random(seed * 1000 + k)
        stubborn = dice.random() < 0.3
        values = [0x00, 0xFF, 0x80, 0x7F] if stubborn else []

        def answer(address: int, cycle: int, dice: random.Random = dice, values: list[int] = values) -> int:
            return dice.choice(values) if values and dice.random() < 0.95 else dice.randrange(256)

        registers = {name: dice.randrange(256) for name in ("A", "X", "Y")}
        result = run([image], ORIGIN + start, DEVICES, registers=registers, read=answer, instructions=4000)
        words = Walker(tree, registers).walk(result)
        if words:
            return f"program {seed}, run {k}: {words}"
    return ""


@pytest.mark.parametrize("first", range(0, NUM_PROGRAMS, 20))
def test_random_programs(first: int) -> None:
    """Writes with their values, reads, polls, choices, ends and cycles of concrete runs all stand in the graph."""
    assert [words for seed in range(first, first + 20) if (words := compare(seed))] == []
