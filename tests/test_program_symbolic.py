"""The symbolic engine against the concrete one, opcode by opcode, under random assignments of unknown bits."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import numpy as np
import pytest

from latchlore.base import AddressSet
from latchlore.program import _core as core
from latchlore.program import _values as values
from latchlore.program._cpu import get_cpu
from latchlore.program._machine import Machine
from latchlore.program._memory import Space
from latchlore.program._symbolic import ForkError, Step, step_function, step_functions
from latchlore.program._values import Sym, TooWideError, Value

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu

DEVICE = 0x4010


class Cells:
    """Unknown cells of a test."""

    def __init__(self) -> None:
        self.known: dict[int, Value] = {}

    def cell(self, address: int) -> Value:
        """The content of an unknown cell."""
        return self.known[address]

    def is_from_entry(self, address: int) -> bool:
        """Whether nothing has written the cell."""
        return address not in self.known


def random_value(dice: random.Random, width: int, variables: int) -> Value:
    """A number, or a table over some variables."""
    if dice.random() < 0.5:
        return dice.randrange(1 << width)
    count = min(width, dice.randrange(1, 4))
    chosen = tuple(sorted(dice.sample(range(variables), count)))
    return values.make(chosen, np.array([dice.randrange(1 << width) for _ in range(1 << count)], dtype=np.int32))


def under(value: Value, levels: dict[int, int]) -> int:
    """A value under an assignment."""
    known = values.substitute(value, levels)
    assert isinstance(known, int)
    return known


def case(cpu: Cpu, code: int, dice: random.Random) -> tuple[list[Value], dict[int, Value], bytes]:
    """Registers, unknown cells and memory for one instruction at 2000h."""
    memory = bytearray(dice.randbytes(0x10000))
    memory[0x2000:0x2003] = bytes((code, dice.randrange(256), dice.choice((0x00, 0x01, 0x40, 0x41, 0x80))))
    registers: list[Value] = [random_value(dice, cpu.registers.get(name, 1), 6) for name in cpu.names[:-1]]
    stack = cpu.names.index(cpu.stack)
    registers[stack] = dice.randrange(256)
    unknown: dict[int, Value] = {}
    for address in (*range(0x100), *range(0x100, 0x200), *range(0x4000, 0x4200)):
        if dice.random() < 0.1:
            unknown[address] = random_value(dice, 8, 6)
    return [*registers, 0x2000], {a: v for a, v in unknown.items() if isinstance(v, Sym)}, bytes(memory)


def symbolic(
    cpu: Cpu, space: Space, cells: Cells, registers: list[Value], constraints: values.Constraints, depth: int = 0
) -> list[tuple[values.Constraints, list[Value], Step]]:
    """Every way through one instruction."""
    step = Step(cpu, space.memory, cells, constraints, (), 256)
    try:
        code, after = step.fetch(0x2000)
        assert isinstance(code, int)
        return [(constraints, FUNCTIONS[cpu.name][code](step, [*registers[:-1], after]), step)]
    except ForkError as fork:
        ways = fork.ways
    except TooWideError as wide:
        one = values.variable(wide.variables[0])
        other = one ^ 1
        assert isinstance(other, Sym)
        ways = [one, other]
    found = []
    assert depth < 12
    for way in ways:
        more = values.constrain(constraints, way)
        if more is None:
            continue
        kept, forced = more
        known = tuple(values.variable(v) if level else values.variable(v) ^ 1 for v, level in sorted(forced.items()))
        inner = Cells()
        inner.known = {a: values.substitute(v, forced) for a, v in cells.known.items()}
        changed = [values.substitute(value, forced) for value in registers]
        found += [
            ((*c, *(k for k in known if isinstance(k, Sym))), r, s)
            for c, r, s in symbolic(cpu, space, inner, changed, kept, depth + 1)
        ]
    return found


FUNCTIONS = {"6502": dict(step_functions("6502"))}


def differences(cpu: Cpu, code: int, dice: random.Random) -> list[str]:
    """Compare the two engines on one random case, under several assignments."""
    registers, unknown, memory = case(cpu, code, dice)
    space = Space(cpu, (), AddressSet.of(()), {}, fill=0)
    space.cells[:0x10000] = np.frombuffer(memory, dtype=np.uint8)
    for address in unknown:
        space.kinds[address] |= core.UNKNOWN
        space.cells[address] = 0
    cells = Cells()
    cells.known = dict(unknown)
    ways = symbolic(cpu, space, cells, registers, ())
    found = []
    for _ in range(6):
        levels = {v: dice.randrange(2) for v in range(6)}
        mine = [w for w in ways if all(under(c, levels) for c in w[0])]
        if len(mine) != 1:
            return [f"{len(mine)} ways of {len(ways)} fit"]
        _, after, step = mine[0]
        concrete = Space(cpu, (), AddressSet.of(()), {}, fill=0)
        concrete.cells[:0x10000] = np.frombuffer(memory, dtype=np.uint8)
        for address, value in unknown.items():
            concrete.cells[address] = under(value, levels)
        machine = Machine(cpu, concrete)
        names = cpu.names
        machine.registers = {name: under(value, levels) for name, value in zip(names, registers, strict=True)}
        machine.call(1, [])
        got = {name: under(value, levels) for name, value in zip(names, after, strict=True)}
        if got != machine.registers:
            found.append(f"{code:02X}: {got} instead of {machine.registers}")
        if not step.cycles[0] <= machine.cycles <= step.cycles[1]:
            found.append(f"{code:02X}: {step.cycles} cycles instead of {machine.cycles}")
        expected = {a: under(v, levels) for a, v in step.pending.items()}
        if any(int(concrete.cells[a]) != v for a, v in expected.items()):
            found.append(f"{code:02X}: memory")
        changed = set(np.flatnonzero(concrete.written).tolist())
        if not changed <= expected.keys():
            found.append(f"{code:02X}: writes {changed} instead of {expected.keys()}")
    return found


@pytest.mark.parametrize("column", range(16))
def test_symbolic_equals_concrete(column: int) -> None:
    """Registers, flags, memory and cycles of every opcode under random assignments."""
    cpu = get_cpu("6502")
    dice = random.Random(column)
    for code in cpu.rows:
        if code & 15 == column:
            for _ in range(4):
                assert differences(cpu, code, dice) == []


def test_symbolic_equals_concrete_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    """An error planted in one engine's copy of a row is caught."""
    from dataclasses import replace

    cpu = get_cpu("6502")
    row = cpu.rows[0x29]
    wrong = replace(row, stages=tuple(stage.replace("A & m", "A | m") for stage in row.stages))
    monkeypatch.setitem(FUNCTIONS["6502"], 0x29, step_function(cpu, wrong))
    dice = random.Random(3)
    assert any(differences(cpu, 0x29, dice) for _ in range(6))
