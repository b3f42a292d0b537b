"""What holds for every processor found: both engines agree, texts keep the language's rules, lengths stand twice."""

from __future__ import annotations

import ast
import random
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pytest

from latchlore.base import AddressSet
from latchlore.program import _core as core
from latchlore.program import _values as values
from latchlore.program._cpu import cpu_folders, get_cpu
from latchlore.program._language import ACCESSES, parse_text
from latchlore.program._loadcode import instruction_length
from latchlore.program._loadfacts import LANDMARKS
from latchlore.program._machine import Machine
from latchlore.program._memory import Space
from latchlore.program._symbolic import ForkError, Step, decode_function, step_function, step_functions
from latchlore.program._values import Sym, TooWideError, Value

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu
    from latchlore.program._symbolic import StepFunction

NOWHERE = AddressSet.of(())
START = 0x2000
NUM_VARS = 6


class Cells:
    """Unknown cells of a case."""

    def __init__(self, known: dict[int, Value]) -> None:
        self.known = known

    def cell(self, address: int) -> Value:
        """The content of an unknown cell."""
        return self.known[address]

    def is_from_entry(self, address: int) -> bool:
        """Whether nothing has written the cell."""
        return address not in self.known


@cache
def examples(name: str) -> dict[int, bytes]:
    """Bytes that each documented row's number stands for, found by trying: as many bytes as make a difference."""
    cpu = get_cpu(name)
    found: dict[int, bytes] = {}
    tails = [bytes(5), b"\xff" * 5, b"\x84\x9f\x11\x2b\x5a", b"\x11\x00\x8b\x84\x9f"]

    def code(data: bytes) -> int:
        return cpu.code_at(lambda at: data[at], 0)

    def search(data: bytes) -> None:
        numbers = {code(data + tail) for tail in tails}
        if len(numbers) == 1 or len(data) == 4:
            (number, *_) = sorted(numbers)
            if number in cpu.rows:
                found.setdefault(number, data)
            return
        for byte in range(256):
            search(data + bytes([byte]))

    for byte in range(256):
        search(bytes([byte]))
    assert found.keys() == cpu.rows.keys()
    return found


def random_value(dice: random.Random, width: int) -> Value:
    """A number, or a table over some variables."""
    if dice.random() < 0.5:
        return dice.randrange(1 << width)
    count = min(width, dice.randrange(1, 4))
    chosen = tuple(sorted(dice.sample(range(NUM_VARS), count)))
    return values.make(chosen, np.array([dice.randrange(1 << width) for _ in range(1 << count)], dtype=np.int32))


def under(value: Value, levels: dict[int, int]) -> int:
    """A value under an assignment."""
    known = values.substitute(value, levels)
    assert isinstance(known, int)
    return known


def make_case(cpu: Cpu, data: bytes, dice: random.Random) -> tuple[list[Value], dict[int, Value], bytes]:
    """Registers, unknown cells and memory for one instruction; pointers mostly lead to where unknown cells are."""
    memory = bytearray(dice.randbytes(0x10000))
    memory[START : START + len(data)] = data
    for k in range(len(data), len(data) + 3):
        memory[START + k] = dice.choice((dice.randrange(256), 0x00, 0x01, 0x40, 0x41, 0x80))
    registers: list[Value] = [random_value(dice, cpu.registers.get(one, 1)) for one in cpu.names[:-1]]
    for k, one in enumerate(cpu.names[:-1]):
        width = cpu.registers.get(one, 1)
        if one == cpu.stack:
            registers[k] = dice.randrange(256) if width == 8 else dice.choice((0x0180, 0x4100, dice.randrange(1 << 16)))
        elif width == 16 and dice.random() < 0.7:
            registers[k] = dice.choice((0x0010, 0x4000, 0x40F8, 0x4100)) + dice.randrange(16)
    unknown: dict[int, Value] = {}
    for address in (*range(0x200), *range(0x4000, 0x4200)):
        if dice.random() < 0.1:
            unknown[address] = random_value(dice, 8)
    return [*registers, START], {a: v for a, v in unknown.items() if isinstance(v, Sym)}, bytes(memory)


def new_space(cpu: Cpu, memory: bytes) -> Space:
    """RAM with this content; ports are cells like all others."""
    space = Space(cpu, (), NOWHERE, {}, NOWHERE if cpu.space > 0x10000 else None, fill=0)
    space.cells[:0x10000] = np.frombuffer(memory, dtype=np.uint8)
    return space


Way = tuple[values.Constraints, list[Value], Step]


def every_way(
    cpu: Cpu,
    functions: dict[int, StepFunction],
    space: Space,
    known: dict[int, Value],
    registers: list[Value],
    constraints: values.Constraints,
    depth: int = 0,
) -> list[Way]:
    """Every way through one instruction."""
    step = Step(cpu, space.memory, Cells(known), constraints, (), 256)
    try:
        code, after, displacement, fetches = decode_function(cpu)(step, START)
        assert isinstance(code, int)
        return [(constraints, functions[code](step, [*registers[:-1], after], displacement, fetches), step)]
    except ForkError as fork:
        ways = fork.ways
    except TooWideError as wide:
        one = values.variable(wide.variables[0])
        other = one ^ 1
        assert isinstance(other, Sym)
        ways = [one, other]
    found: list[Way] = []
    assert depth < 14
    for way in ways:
        more = values.constrain(constraints, way)
        if more is None:
            continue
        kept, forced = more
        decided = tuple(values.variable(v) if level else values.variable(v) ^ 1 for v, level in sorted(forced.items()))
        inner = {a: values.substitute(v, forced) for a, v in known.items()}
        changed = [values.substitute(value, forced) for value in registers]
        for held, result, done in every_way(cpu, functions, space, inner, changed, kept, depth + 1):
            found.append(((*held, *(one for one in decided if isinstance(one, Sym))), result, done))
    return found


def differences(cpu: Cpu, functions: dict[int, StepFunction], code: int, dice: random.Random) -> list[str]:
    """Compare the two engines on one random case, under several assignments."""
    registers, unknown, memory = make_case(cpu, examples(cpu.name)[code], dice)
    space = new_space(cpu, memory)
    for address in unknown:
        space.kinds[address] |= core.UNKNOWN
        space.cells[address] = 0
    ways = every_way(cpu, functions, space, unknown, registers, ())
    found = []
    for _ in range(4):
        levels = {v: dice.randrange(2) for v in range(NUM_VARS)}
        mine = [way for way in ways if all(under(one, levels) for one in way[0])]
        if len(mine) != 1:
            return [f"{code:02X}: {len(mine)} ways of {len(ways)} fit"]
        _, after, step = mine[0]
        concrete = new_space(cpu, memory)
        for address, value in unknown.items():
            concrete.cells[address] = under(value, levels)
        machine = Machine(cpu, concrete)
        machine.registers = {one: under(value, levels) for one, value in zip(cpu.names, registers, strict=True)}
        assert machine.call(1, [])[:2] == (core.DONE, 1)
        got = {one: under(value, levels) for one, value in zip(cpu.names, after, strict=True)}
        if got != machine.registers:
            found.append(f"{code:02X}: {got} instead of {machine.registers}")
        if not step.cycles[0] <= machine.cycles <= step.cycles[1]:
            found.append(f"{code:02X}: {step.cycles} cycles instead of {machine.cycles}")
        expected = {address: under(value, levels) for address, value in step.pending.items()}
        if any(int(concrete.cells[address]) != value for address, value in expected.items()):
            found.append(f"{code:02X}: memory")
        if not set(np.flatnonzero(concrete.written).tolist()) <= expected.keys():
            found.append(f"{code:02X}: more cells written than {expected.keys()}")
    return found


@pytest.mark.parametrize("part", range(2))
@pytest.mark.parametrize("name", cpu_folders())
def test_symbolic_equals_concrete(name: str, part: int) -> None:
    """Registers, flags, memory and cycles of every row of every processor under random assignments."""
    cpu = get_cpu(name)
    functions = step_functions(name)
    dice = random.Random(part)
    for code in sorted(cpu.rows)[part::2]:
        for _ in range(2 if len(cpu.rows) < 1000 else 1):
            assert differences(cpu, functions, code, dice) == []


@pytest.mark.parametrize("name", cpu_folders())
def test_symbolic_equals_concrete_wrong(name: str) -> None:
    """An error planted in one engine's copy of a row is caught, for every processor."""
    cpu = get_cpu(name)
    row = next(row for row in cpu.rows.values() if row.length == 2 and "A & m" in row.text.replace("a", "A"))
    stages = tuple(stage.replace("A & m", "A | m").replace("a & m", "a | m") for stage in row.stages)
    functions = {**step_functions(name), row.code: step_function(cpu, replace(row, stages=stages))}
    dice = random.Random(3)
    assert any(differences(cpu, functions, row.code, dice) for _ in range(6))


def _is_access(statement: ast.stmt) -> bool:
    value = getattr(statement, "value", None)
    if not isinstance(value, ast.Call) or not isinstance(value.func, ast.Name):
        return False
    return value.func.id in ACCESSES - {"wr", "out"}


@pytest.mark.parametrize("name", cpu_folders())
def test_registers_are_set_last(name: str) -> None:
    """No row sets a register (PC apart) before its last access that can stop, so it can be begun again."""
    cpu = get_cpu(name)
    for row in cpu.rows.values():
        statements = [n for s in parse_text(row.text) for n in ast.walk(s) if isinstance(n, ast.stmt)]
        last = max((k for k, statement in enumerate(statements) if _is_access(statement)), default=0)
        for statement in statements[:last]:
            if isinstance(statement, ast.Assign) and isinstance(statement.targets[0], ast.Name):
                assert statement.targets[0].id not in cpu.names[:-1], (row.name, row.mode)


@pytest.mark.parametrize("name", cpu_folders())
def test_every_byte_is_known(name: str) -> None:
    """Whatever the bytes are, there is a row or a length; temporaries are told from registers by their case."""
    cpu, dice = get_cpu(name), random.Random(4)
    assert not cpu.rows.keys() & cpu.undocumented.keys()
    for _ in range(4_000):
        data = dice.randbytes(8)
        code = cpu.code_at(lambda at, data=data: data[at], 0)  # type: ignore[misc]
        assert code in cpu.rows or code in cpu.undocumented
        assert 1 <= cpu.length(lambda at, data=data: data[at], 0) <= 5  # type: ignore[misc]
    assert all(one.isupper() or one.isdigit() for one in "".join(cpu.names))


@pytest.mark.parametrize("name", sorted(LANDMARKS))
def test_lengths_stand_twice(name: str) -> None:
    """The lengths by which processors are told apart, typed apart from the tables, equal theirs."""
    assert name in cpu_folders()
    cpu = get_cpu(name)
    for code, data in examples(name).items():
        padded = data + b"\x12\x34\x56\x78"
        assert instruction_length(name, padded, 0) == cpu.length(lambda at, data=padded: data[at], 0), hex(code)  # type: ignore[misc]
