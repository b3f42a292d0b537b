"""Random Z80 code, instruction by instruction, against the z80 library: registers, memory, T-states and ports.

Flag bits 5 and 3 are left out, and H and P/V of the repeating block input and output opcodes, where the library and the
single-step vectors disagree.
"""

from __future__ import annotations

import random

import pytest
import z80

from latchlore.base import AddressSet
from latchlore.program import _core as core
from latchlore.program._cpu import get_cpu
from latchlore.program._machine import Machine
from latchlore.program._memory import Space
from tests.test_program_cpu_engines import examples

FLAGS = ("SF", "ZF", "YF", "HF", "XF", "PF", "NF", "CF")
BYTES = ("a", "b", "c", "d", "e", "h", "l", "i")
WORDS = ("ix", "iy", "sp", "pc")
SECOND = ("AF2", "BC2", "DE2", "HL2")
REPEATING_IO = frozenset({0x2B2, 0x2B3, 0x2BA, 0x2BB})
STEPS = 3000


def random_memory(dice: random.Random) -> bytes:
    """64 KiB of documented opcodes with random operands."""
    cpu, codes = get_cpu("Z80"), examples("Z80")
    chosen = [code for code in codes if cpu.rows[code].flow != "halt"]
    found = bytearray()
    while len(found) < 0x10000:
        code = dice.choice(chosen)
        found += (codes[code] + dice.randbytes(4))[: cpu.rows[code].length]
    return bytes(found[:0x10000])


def step_library(other: z80.Z80Machine) -> int:
    """One whole instruction of the library; its T-states."""
    before = other.frame_tick
    other.ticks_to_stop = 1
    other.run()
    while other._Z80State__index_rp_kind[0]:  # in front of it stands a prefix
        other.ticks_to_stop = 1
        other.run()
    return int(other.frame_tick - before) % 100_000


def state_of_library(other: z80.Z80Machine, mask: int) -> dict[str, int]:
    """Its registers by our names."""
    found = {name.upper(): int(getattr(other, name)) for name in (*BYTES, *WORDS)}
    seconds = (other.alt_af, other.alt_bc, other.alt_de, other.alt_hl)
    found |= dict(zip(SECOND, (int(seconds[0]) & 0xFFD7, *map(int, seconds[1:])), strict=True))
    return found | {"F": int(other.f) & mask}


def state_of(registers: dict[str, int], mask: int) -> dict[str, int]:
    """Ours in the same form."""
    found = {name.upper(): registers[name.upper()] for name in (*BYTES, *WORDS)}
    found |= {name: registers[name] & (0xFFD7 if name == "AF2" else 0xFFFF) for name in SECOND}
    return found | {"F": sum(registers[flag] << 7 - k for k, flag in enumerate(FLAGS)) & mask}


def differences(seed: int, machine: Machine) -> list[str]:
    """Run both side by side; what differs first."""
    dice = random.Random(seed)
    cpu, space, memory = machine.cpu, machine.space, random_memory(dice)
    space.cells[:0x10000] = list(memory)
    other = z80.Z80Machine()
    other.set_memory_block(0, memory)
    ports: list[tuple[int, int]] = []
    answer = [0]

    def read(port: int) -> int:
        ports.append((port, -1))
        return answer[0]

    other.set_input_callback(read)
    other.set_output_callback(lambda port, value: ports.append((port, value)))
    other.pc, other.sp = 0x1234, 0x8000
    known = state_of_library(other, 0xD7)
    del known["F"]
    machine.registers = known | {flag: int(other.f) >> (7 - k) & 1 for k, flag in enumerate(FLAGS)}
    for step in range(STEPS):
        code = cpu.code_at(lambda at: int(space.cells[at]), machine.pc)
        if code not in cpu.rows or cpu.rows[code].flow in ("halt", "refresh"):
            other.pc = place = dice.randrange(0x10000)
            machine.registers = {"PC": place}
            continue
        ports.clear()
        answer[0] = dice.randrange(256)
        began = machine.cycles
        status, done, rows = machine.call(1, [answer[0]] * 2)
        ticks = step_library(other)
        mine = [(a - 0x10000, v if what == core.WRITE else -1) for what, a, v, _, _ in rows]
        mask = 0xC3 if code in REPEATING_IO else 0xD7
        ours, theirs = state_of(machine.registers, mask), state_of_library(other, mask)
        if (status, done, machine.cycles - began, mine, ours) != (core.DONE, 1, ticks, ports, theirs):
            changed = {name: (ours[name], theirs[name]) for name in ours if ours[name] != theirs[name]}
            return [f"step {step}: {cpu.spell(code)} {changed} {machine.cycles - began} T not {ticks}; {mine} {ports}"]
        other.f = sum(machine.registers[flag] << 7 - k for k, flag in enumerate(FLAGS))  # bits 5 and 3, see above
    same = bytes(other.memory[:0x10000]) == space.cells[:0x10000].tobytes()
    return [] if same else ["memory"]


@pytest.mark.parametrize("side", [0, core.COUNTED], ids=["fast side", "careful side"])
@pytest.mark.parametrize("seed", range(4))
def test_random_programs(seed: int, side: int) -> None:
    """Registers, flags, memory, T-states and ports as the library has them."""
    cpu = get_cpu("Z80")
    space = Space(cpu, (), AddressSet.of(()), {}, fill=side)
    space.kinds[0x10000:] = core.DEVICE | core.LOG
    assert differences(seed, Machine(cpu, space)) == []


def test_random_programs_wrong() -> None:
    """A machine with a wrong T-state is caught: the check can fail."""
    cpu = get_cpu("Z80")
    space = Space(cpu, (), AddressSet.of(()), {}, fill=0)
    space.kinds[0x10000:] = core.DEVICE | core.LOG
    machine = Machine(cpu, space)
    run = machine.core

    def slower(*arrays: object) -> int:
        status = run(*arrays)
        machine.book[core.CYCLES] += machine.pc & 1
        return status

    machine.core = slower
    assert differences(0, machine) != []
