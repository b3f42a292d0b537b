"""The Z80 table against single-step vectors: SingleStepTests/z80 (MIT), 100 vectors of every documented opcode.

Flag bits 5 and 3 are left out, as are H and P/V of the repeating block input and output opcodes: there the vectors and
the z80 library disagree.
"""

from __future__ import annotations

import gzip
import json
import pathlib
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from latchlore.base import AddressSet
from latchlore.program import _core as core
from latchlore.program._cores import plain_core
from latchlore.program._cpu import get_cpu
from latchlore.program._generate import core_source
from latchlore.program._machine import Machine
from latchlore.program._memory import Space

if TYPE_CHECKING:
    from collections.abc import Iterator

FOLDER = pathlib.Path(__file__).parents[2] / "shared" / "vectors"
VECTORS = FOLDER / "z80_documented_100.jsonl.gz"
FLAGS = ("SF", "ZF", "YF", "HF", "XF", "PF", "NF", "CF")
PLAIN = ("pc", "sp", "a", "b", "c", "d", "e", "h", "l", "i", "r", "ix", "iy", "im", "iff1", "iff2")
SHADOW = {"af_": "AF2", "bc_": "BC2", "de_": "DE2", "hl_": "HL2"}
REPEATING_IO = ("ED B2", "ED B3", "ED BA", "ED BB")


def iter_vectors() -> Iterator[dict[str, Any]]:
    """Every vector with its registers by name; skips the test where the file is absent."""
    if not VECTORS.exists():
        pytest.skip(f"single-step vectors are not at {VECTORS}")
    columns = json.loads((FOLDER / "z80_columns.json").read_text())["registers"]
    with gzip.open(VECTORS, "rt") as lines:
        for line in lines:
            vector = json.loads(line)
            vector["i"] = dict(zip(columns, vector["i"], strict=True))
            vector["f"] = dict(zip(columns, vector["f"], strict=True))
            yield vector


def check(vector: dict[str, Any], machine: Machine) -> list[str]:
    """Run one vector; what differs."""
    space, start, end = machine.space, vector["i"], vector["f"]
    for address, value in vector["m"]:
        space.cells[address] = value
    known = {name.upper(): start[name] for name in PLAIN}
    known |= {mine: start[theirs] for theirs, mine in SHADOW.items()}
    machine.registers = known | {flag: start["f"] >> (7 - k) & 1 for k, flag in enumerate(FLAGS)}
    machine.cycles = 0
    ports = vector.get("p", [])
    answers = [value for _, value, way in ports if way == "r"]
    status, steps, rows = machine.call(1, answers)
    wrong = [] if (status, steps) == (core.DONE, 1) else [f"stop {status}"]
    now = machine.registers
    wrong += [name for name in PLAIN if now[name.upper()] != end[name]]
    wrong += [mine for theirs, mine in SHADOW.items() if now[mine] & 0xFFD7 != end[theirs] & 0xFFD7]
    mask = 0xC3 if vector["n"].upper().startswith(REPEATING_IO) else 0xD7
    flags = sum(now[flag] << (7 - k) for k, flag in enumerate(FLAGS))
    if flags & mask != end["f"] & mask:
        wrong.append(f"flags {flags:02X} instead of {end['f']:02X}")
    expected = dict(vector["m"]) | dict(vector["d"])
    wrong += [f"cell {address:04X}" for address, value in expected.items() if space.cells[address] != value]
    if machine.cycles != vector["t"]:
        wrong.append(f"{machine.cycles} T instead of {vector['t']}")
    log = [[address - 0x10000, value, "w" if what == core.WRITE else "r"] for what, address, value, _, _ in rows]
    if log != ports:
        wrong.append(f"ports {log} instead of {ports}")
    for address in expected:
        space.cells[address] = 0
    return wrong


@pytest.mark.parametrize("fill", [0, core.COUNTED], ids=["fast side", "careful side"])
def test_vectors(fill: int) -> None:
    """Registers, flags, memory, T-states and ports: all 69,800 single instructions, on both sides of the core."""
    cpu = get_cpu("Z80")
    space = Space(cpu, (), AddressSet.of(()), {}, fill=fill)
    space.kinds[0x10000:] = core.DEVICE | core.LOG
    machine = Machine(cpu, space)
    count = 0
    wrong = []
    for vector in iter_vectors():
        count += 1
        wrong += [f"{vector['n']}: {', '.join(found)}" for found in [check(vector, machine)] if found]
    assert wrong[:20] == []
    assert count == 69_800


def test_vectors_wrong() -> None:
    """A wrong row fails its vectors: the check can fail."""
    cpu = get_cpu("Z80")
    row = cpu.rows[0xA0]  # AND B
    stages = tuple(stage.replace("A & m", "A | m") for stage in row.stages)
    wrong = replace(cpu, rows={**cpu.rows, 0xA0: replace(row, stages=stages)})
    machine = Machine(cpu, Space(cpu, (), AddressSet.of(()), {}, fill=0))
    chosen = [vector for vector in iter_vectors() if vector["n"].upper().startswith("A0")]
    machine.core = plain_core(core_source(cpu))
    assert [found for vector in chosen if (found := check(vector, machine))] == []
    machine.core = plain_core(core_source(wrong))
    assert [found for vector in chosen if (found := check(vector, machine))] != []
