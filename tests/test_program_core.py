"""The two sides of the compiled cores: fast and careful, for every processor found."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import numpy as np
import pytest

from latchlore.base import AddressSet, BadInput, InputKind, LeafKind
from latchlore.program import Image, explore, run
from latchlore.program import _core as core
from latchlore.program._cores import plain_core
from latchlore.program._cpu import cpu_folders, get_cpu
from latchlore.program._generate import core_source, parts_of
from latchlore.program._machine import Machine
from latchlore.program._memory import Space
from tests.test_program_cpu_engines import examples

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu

NOWHERE = AddressSet.of(())
START = 0x2000
TIMES = 6


def space_of(cpu: Cpu, fill: int) -> Space:
    """RAM everywhere, all of it with these attributes; ports are cells like all others."""
    return Space(cpu, (), NOWHERE, {}, NOWHERE if cpu.space > 0x10000 else None, fill=fill)


def one_step(machine: Machine, memory: bytes, registers: dict[str, int]) -> tuple[object, ...]:
    """What one instruction leaves behind."""
    cells = machine.space.cells
    cells[: len(memory)] = np.frombuffer(memory, dtype=np.uint8)
    machine.registers, machine.cycles = registers, 0
    status, done, _ = machine.call(1, [])
    return status, done, machine.cycles, machine.registers, cells[: len(memory)].tobytes()


def different(cpu: Cpu, fast: Machine, careful: Machine, data: bytes, dice: random.Random) -> bool:
    """Whether the two sides differ on one instruction from a random state."""
    memory = bytearray(dice.randbytes(0x10000))
    memory[START : START + len(data)] = data
    registers = {name: dice.randrange(1 << cpu.registers.get(name, 1)) for name in cpu.names[:-1]}
    registers["PC"] = START
    return one_step(fast, bytes(memory), registers) != one_step(careful, bytes(memory), registers)


@pytest.mark.parametrize("name", cpu_folders())
def test_sides_agree(name: str) -> None:
    """Registers, memory and cycles of every row are the same on the fast side and the careful one."""
    cpu = get_cpu(name)
    fast, careful = Machine(cpu, space_of(cpu, 0)), Machine(cpu, space_of(cpu, core.COUNTED))
    dice = random.Random(name)
    wrong = set()
    for code, data in examples(name).items():
        for _ in range(TIMES):
            if different(cpu, fast, careful, data, dice):
                wrong.add(cpu.spell(code))
    assert wrong == set()
    assert sum(parts_of(row, cpu) is not None for row in cpu.rows.values()) > 100


@pytest.mark.parametrize(
    ("find", "put"),
    [("r = r_a & m", "r = r_a | m"), ("v1", "v0"), ("r_y & 65535", "r_y + 1 & 65535"), ("+= 2", "+= 3")],
)
def test_sides_agree_wrong(find: str, put: str) -> None:
    """An error planted in the fast side alone is caught."""
    cpu = get_cpu("6502")
    source = core_source(cpu)
    at = source.index("while left")
    fast, careful = Machine(cpu, space_of(cpu, 0)), Machine(cpu, space_of(cpu, core.COUNTED))
    planted = source[at:].replace(find, put)
    assert planted != source[at:]
    fast.core = plain_core(source[:at] + planted)
    careful.core = plain_core(source)
    dice = random.Random(5)
    codes = [code for code in cpu.rows if cpu.rows[code].name in ("AND", "JSR", "LDA")]
    assert any(different(cpu, fast, careful, bytes([code]), dice) for _ in range(8) for code in codes)


@pytest.mark.parametrize("plain", [False, True])
def test_unfinished_instruction_is_undone(plain: bool) -> None:
    """A BRK whose vector is not known leaves registers, cells and log as they were, though it has pushed."""
    cpu = get_cpu("6502")
    space = Space(
        cpu, (Image.from_bytes(b"\x00\xea", 0x2000, "brk"),), NOWHERE, {0x1DF: 0x55, 0x1DE: 0x66, 0x1DD: 0x77}
    )
    space.kinds[0x1DF] |= core.LOG
    before = space.cells.copy()
    machine = Machine(cpu, space, plain=plain)
    machine.registers = {"PC": 0x2000, "S": 0xDF}
    status, done, rows = machine.call(5, [])
    assert (status, done, rows) == (core.UNKNOWN_CELL, 0, [])
    assert (machine.book[core.ADDRESS], machine.pc, machine.cycles, machine.registers["S"]) == (0xFFFE, 0x2000, 0, 0xDF)
    assert (space.cells == before).all()


@pytest.mark.parametrize("plain", [False, True])
def test_stop_at_an_address(plain: bool) -> None:
    """A run goes from an address until it comes back to it, and no mark stays behind."""
    cpu = get_cpu("6502")
    image = Image.from_bytes(bytes.fromhex("E8C84C0020"), 0x2000, "loop", writable=True)  # INX; INY; JMP 2000
    space = Space(cpu, (image,), NOWHERE, {}, fill=0)
    machine = Machine(cpu, space, plain=plain)
    machine.registers = {"PC": 0x2000, "S": 0xDF}
    for turn in range(1, 4):
        book = machine.book
        book[: core.LOG_ROWS] = 0
        book[core.LEFT], book[core.WANTED], book[core.SITE] = 100, 0x2000, -1
        assert machine.core(machine.regs, space.cells, book, machine.watch, machine.seen) == core.DONE
        assert (100 - book[core.LEFT], book[core.CYCLES], machine.pc) == (3, 7, 0x2000)
        assert (machine.registers["X"], machine.registers["Y"]) == (turn, turn)
    assert not space.kinds.any()


@pytest.mark.parametrize("plain", [False, True])
def test_visits_are_noted(plain: bool) -> None:
    """Visits of a place: how many, their period, and the values of registers and watched cells at each."""
    cpu = get_cpu("6502")
    image = Image.from_bytes(bytes.fromhex("E8C6204C0020"), 0x2000, "loop", writable=True)  # INX; DEC 20; JMP 2000
    space = Space(cpu, (image,), NOWHERE, {0x20: 9}, fill=0)
    machine = Machine(cpu, space, plain=plain)
    machine.registers = {"PC": 0x2000, "S": 0xDF, "X": 250}
    machine.watch = np.array([0x20], dtype=np.int64)
    machine.seen = np.zeros((len(cpu.names), 256), dtype=np.uint8)
    book = machine.book
    book[: core.LOG_ROWS] = 0
    book[core.LEFT], book[core.WANTED], book[core.SITE], book[core.STOP_VISIT] = 1000, -1, 0x2000, 5
    book[core.LEAST_PERIOD] = 1 << 60
    status = machine.core(machine.regs, space.cells, book, machine.watch, machine.seen)
    assert (status, book[core.VISITS], book[core.CYCLES]) == (core.VISIT_REACHED, 5, 50)
    assert (book[core.LEAST_PERIOD], book[core.MOST_PERIOD]) == (10, 10)  # 2 + 5 + 3 cycles
    assert np.flatnonzero(machine.seen[1]).tolist() == [250, 251, 252, 253, 254]
    assert np.flatnonzero(machine.seen[-1]).tolist() == [5, 6, 7, 8, 9]
    assert not space.kinds.any()


def test_taint_stops_in_front_of_use() -> None:
    """An unknown register stops the core where it is used, is cleared where it is set, and an unknown cell likewise."""
    cpu = get_cpu("6502")
    image = Image.from_bytes(bytes.fromhex("A201868A9840"), 0x2000, "taint", writable=True)
    space = Space(cpu, (image,), NOWHERE, {}, fill=core.UNKNOWN)
    machine = Machine(cpu, space)
    machine.registers = {"PC": 0x2000, "S": 0xDF}
    machine.careful = 0b110  # X and Y are not known
    status, done, _ = machine.call(10, [])
    assert (status, done, machine.pc) == (core.UNKNOWN_REGISTER, 2, 0x2004)  # LDX, STX go; TYA stops
    assert machine.book[core.TAINT] == 0b100
    assert (space.cells[0x8A], space.kinds[0x8A]) == (1, 0)


def ended(code: str, cpu: str = "6502", origin: int = 0x2000, **stated: int) -> tuple[LeafKind, str, int]:
    """How a run of a few bytes ends: kind, words, address."""
    done = run([Image.from_bytes(bytes.fromhex(code), origin, "x")], origin, NOWHERE, cpu=cpu, registers=stated)
    return done.end, done.reason, done.address


def test_named_ends() -> None:
    """Code that runs into nothing, an operand that is not there, code that was written, stacks that run over."""
    nothing = (LeafKind.UNKNOWN_CODE, "runs into 2001, which no image holds and nothing has written", 0x2001)
    assert ended("EA") == nothing  # NOP
    assert ended("00", "Z80") == nothing  # NOP
    assert ended("4C00") == (nothing[0], "runs into 2002, which no image holds and nothing has written", 0x2000)  # JMP
    # LDA #60; STA 40; JSR 40; RTS: an RTS that the program writes, and runs
    assert ended("A9608540 204000 60") == (LeafKind.RETURNED, "RTS to the caller", 0x2007)
    over = "the stack runs over at the instruction at 2000"
    assert ended("48 4C0020") == (LeafKind.BOUND, over, 0x2001)  # PHA; JMP 2000
    assert ended("20 0020") == (LeafKind.BOUND, over, 0x2000)  # JSR to itself
    assert ended("C5 C3 00 20", "Z80") == (LeafKind.BOUND, over, 0x2001)  # PUSH BC; JP 2000: down to the image's top
    assert ended("C5 C9", "Z80", SP=0x0001)[:2] == (LeafKind.BOUND, over)  # PUSH BC at FFFF and 0000


def test_named_ends_wrong() -> None:
    """A store to the guarded cell that is no push is none; nor is an image that does not fit an end: it is refused."""
    assert ended("A9018D0001 60") == (LeafKind.RETURNED, "RTS to the caller", 0x2005)  # LDA #1; STA 0100; RTS
    with pytest.raises(BadInput, match=r"^x: 2 bytes from FFFF on reach past FFFF; at most 1 fit there$"):
        ended("EAEA", origin=0xFFFF)
    with pytest.raises(BadInput, match=r"^x: an entry lies within the images \(2000 to 2000\), not at 3000$"):
        run([Image.from_bytes(b"\xea", 0x2000, "x")], 0x3000, NOWHERE)


def test_stated_bytes_below_the_stack() -> None:
    """A byte of known content close below the stack pointer keeps what the program writes there.

    LD A,55; LD (3FF8),A; LD SP,4000; PUSH HL; POP HL; IN A,(20); OR A; JR Z,+1; INC A; LD A,(3FF8); OUT (10),A; HALT,
    with 01 at 3FF8 at the entry.
    """
    image = Image.from_bytes(bytes.fromhex("3E5532F83F310040E5E1DB20B728013C3AF83FD31076"), 0x100, "x")
    tree = explore([image], 0x100, NOWHERE, cpu="Z80", memory={0x3FF8: 0x01})
    assert tree.possible_bytes(lambda kind, address: kind is InputKind.PORT and address & 0xFF == 0x10) == {0x55}
    words = "the 32 bytes below the stack pointer are lost: those unknown at the entry count as unknown again"
    assert words in tree.assumptions


def test_stated_bytes_below_the_stack_wrong() -> None:
    """A byte of unknown content there may be anything again, never a certain value that it does not hold."""
    image = Image.from_bytes(bytes.fromhex("3E5532F83F310040E5E1DB20B728013C3AF83FD31076"), 0x100, "x")
    tree = explore([image], 0x100, NOWHERE, cpu="Z80")
    found = tree.possible_bytes(lambda kind, address: kind is InputKind.PORT and address & 0xFF == 0x10)
    assert 0x55 in found
