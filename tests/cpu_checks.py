"""What the tests of single processors share: machines in random states, cycles measured, and one invented card.

The invented card sits at C800 to C803, or at the ports of the same low digit: data at 0, status at 1 with busy in
bit 7, control at 3 with the strobe in bit 0.
"""

from __future__ import annotations

import pathlib
import shutil
import subprocess
from typing import TYPE_CHECKING

import numpy as np
import pytest

from latchlore.base import AddressSet, ByteTree, CycleRange, LeafKind, Wait, Write
from latchlore.program import Image, disassemble
from latchlore.program import _core as core
from latchlore.program import _values as values
from latchlore.program._cpu import get_cpu
from latchlore.program._machine import Machine
from latchlore.program._memory import Space
from latchlore.program._symbolic import Step, decode_function, step_functions

if TYPE_CHECKING:
    import random
    from collections.abc import Mapping, Sequence

    import numpy.typing as npt

    from latchlore.program._values import Value

CARD = AddressSet.of_range(0xC800, 0xC803)


def new_machine(name: str, memory: bytes = b"") -> Machine:
    """A machine whose 64 KiB are RAM."""
    cpu = get_cpu(name)
    space = Space(cpu, (), AddressSet.of(()), {}, fill=0)
    if memory:
        space.cells[: len(memory)] = list(memory)
    return Machine(cpu, space)


def cycles_of(name: str, code: Sequence[int], at: int = 0x2000, **registers: int) -> int:
    """Cycles of one instruction."""
    machine = new_machine(name)
    for k, byte in enumerate(code):
        machine.space.cells[at + k] = byte
    machine.registers = {**registers, "PC": at}
    assert machine.call(1, [])[:2] == (0, 1), (name, bytes(code).hex())
    return machine.cycles


def random_registers(dice: random.Random, name: str) -> dict[str, int]:
    """Any values in all registers and flags."""
    cpu = get_cpu(name)
    return {one: dice.randrange(1 << cpu.registers.get(one, 1)) for one in cpu.names[:-1]}


def need_tool(command: str, package: str) -> None:
    """Skip the test, with its reason, where an assembler is not installed."""
    if shutil.which(command) is None:
        pytest.skip(f"{command} (Debian package {package}) is not installed")


def run_tool(folder: pathlib.Path, *command: str) -> str:
    """Run an assembler in a folder; its output, or the reason why it failed."""
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    return done.stdout


def list_bytes(name: str, data: bytes, origin: int) -> list[str]:
    """The texts of a listing of documented code."""
    image = Image.from_bytes(data, origin, "codes")
    lines = disassemble(image, origin, image.last, cpu=name)
    assert all(line.is_documented for line in lines)
    return [line.text for line in lines]


def one_of_each(name: str, operands: Mapping[int, bytes], filler: bytes = b"\x12\x34\x56") -> list[bytes]:
    """Every documented opcode of one byte with some operand; `operands` where it is not the filler."""
    cpu = get_cpu(name)
    return [bytes([code]) + operands.get(code, filler)[: row.length - 1] for code, row in sorted(cpu.rows.items())]


def check_driver(
    tree: ByteTree, register: str, *, period: int, low: int, kind: str = "memory", base: int = 0xC800
) -> None:
    """Waits while busy is 1, then data, strobe low, strobe high: one path, with cycles; then the return."""
    assert tree.is_exhausted
    (node,) = [node for node in tree.nodes if node.events]
    wait, data, down, up = node.events
    assert isinstance(wait, Wait)
    assert (wait.address, wait.mask, wait.until, wait.polls) == (base + 1, 0x80, (0,), None)
    assert wait.period == CycleRange.exactly(period)
    for write, place in ((data, 0), (down, 3), (up, 3)):
        assert isinstance(write, Write)
        assert (write.kind.value, write.address) == (kind, base + place)
    assert isinstance(data, Write)
    assert [bit.name for bit in data.value.bits] == [register] * 8
    assert data.value.values == tuple(range(256))
    assert isinstance(down, Write)
    assert isinstance(up, Write)
    assert (down.value.values, up.value.values) == ((0,), (1,))
    assert up.cycles == CycleRange.exactly(low)
    (leaf,) = tree.leaves
    assert leaf.kind is LeafKind.RETURNED


class Operand:
    """The one unknown cell of a step: an operand byte, variables 8 to 15."""

    def __init__(self, address: int) -> None:
        self.address = address

    def cell(self, address: int) -> Value:
        """Its content."""
        assert address == self.address
        return values.byte_of(list(range(8, 16)))

    def is_from_entry(self, address: int) -> bool:
        """Whether nothing has written it since the entry; a byte of code is known to be one."""
        return False


def over_all(name: str, code: bytes, register: str, **known: int) -> dict[str, npt.NDArray[np.int64]]:
    """All registers behind an instruction, for every byte in `register` and every byte in its last operand byte.

    Entry k of each array: the register held k & 255, the operand was k >> 8.  `known`: the other registers; those not
    named are 0.
    """
    cpu = get_cpu(name)
    space = Space(cpu, (), AddressSet.of(()), {}, AddressSet.of(()) if cpu.space > 65536 else None, fill=0)
    at = 0x2000
    space.cells[at : at + len(code)] = list(code)
    row = cpu.rows[cpu.code_at(lambda place: int(space.cells[place]), at)]
    last = at + row.length - 1
    if row.length > len(code):
        space.kinds[last] |= core.UNKNOWN
    registers: list[Value] = [known.get(one, 0) for one in cpu.names[:-1]]
    registers[cpu.names.index(register)] = values.byte_of(list(range(8)))
    step = Step(cpu, space.memory, Operand(last), (), (), 256)
    number, after, displacement, fetches = decode_function(cpu)(step, at)
    assert number == row.code
    found = step_functions(name)[row.code](step, [*registers, after], displacement, fetches)
    everything = tuple(range(16))
    result = {}
    for one, value in zip(cpu.names, found, strict=True):
        table = values.over(value, everything) if isinstance(value, values.Sym) else np.full(1 << 16, value)
        result[one] = np.ascontiguousarray(table).ravel().astype(np.int64)
    return result


def read_s_records(text: str) -> dict[int, int]:
    """Address → byte of S1 records, as an assembler writes them."""
    found = {}
    for line in text.split():
        if line.startswith("S1"):
            at, data = int(line[4:8], 16), bytes.fromhex(line[8:-2])
            found.update({at + k: byte for k, byte in enumerate(data)})
    return found
