"""Benchmark of the program wing."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from typing import TYPE_CHECKING

from _bench import Row, best_seconds
from latchlore.base import AddressSet, InputKind, Wait
from latchlore.program import Image, explore

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import ByteTree

DEVICES = AddressSet.of_range(0xC800, 0xC80F)
# two nested counters, some arithmetic, a store and a jump back
WORK = bytes.fromhex("A200A000C8D0FDE8D0F8A512691385124C0003")
NUM_STEPS = 20_000_000
FIRST_CALL = """
import time, numpy as np
from latchlore.program._cores import core_of
from latchlore.program import _core as core
run = core_of("{name}")
from latchlore.program._cpu import get_cpu
cpu = get_cpu("{name}")
regs = np.zeros(len(cpu.names), np.int64); cells = np.zeros(3 * cpu.space, np.uint8)
book = np.zeros(core.LOG_ROWS + 5000, np.int64); seen = np.zeros((len(cpu.names) - 1, 256), np.uint8)
book[0], book[1], book[9] = 10, -1, -1
start = time.perf_counter(); run(regs, cells, book, np.zeros(0, np.int64), seen); print(time.perf_counter() - start)
"""


def first_call(name: str, cache: str) -> float:
    """Seconds of the first call of a core in a new process, with this folder for compiled code."""
    environment = {**os.environ, "NUMBA_CACHE_DIR": cache}
    done = subprocess.run(
        [sys.executable, "-c", FIRST_CALL.format(name=name)],
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    return float(done.stdout)


def compile_rows(name: str) -> Iterator[Row]:
    """Compiling from nothing, and with what an earlier process left behind."""
    with tempfile.TemporaryDirectory() as folder:
        cold = first_call(name, folder)
        warm = min(first_call(name, folder) for _ in range(3))
    yield Row(f"program.cold-compile-{name}", cold, "s", goal="under 6 s", met=cold < 6)
    yield Row(f"program.warm-first-call-{name}", warm, "s", goal="under 0.4 s", met=warm < 0.4)


def concrete_rows() -> Iterator[Row]:
    """Instructions a second against py65, without and with cells and registers that are not known."""
    from py65.devices.mpu6502 import MPU

    from latchlore.program import _core as core
    from latchlore.program._cpu import get_cpu
    from latchlore.program._machine import Machine
    from latchlore.program._memory import Space

    reference = MPU(pc=0x0300)
    reference.memory[0x300 : 0x300 + len(WORK)] = list(WORK)
    image = Image.from_bytes(WORK, 0x0300, "work", writable=True)
    theirs, mine = float("inf"), {"": float("inf"), "-taint": float("inf")}
    for _ in range(3):  # by turns, so that another load on the machine falls on both
        theirs = min(theirs, best_seconds(lambda: [reference.step() for _ in range(200_000)], 1) / 200_000)
        for kind, fill in (("", 0), ("-taint", core.UNKNOWN)):
            space = Space(get_cpu("6502"), (image,), DEVICES, {0x12: 0}, fill=fill)
            machine = Machine(get_cpu("6502"), space)
            machine.registers = {"PC": 0x0300, "S": 0xFF}
            machine.call(100, [])
            taken = best_seconds(lambda machine=machine: machine.call(NUM_STEPS, []), 2) / NUM_STEPS
            mine[kind] = min(mine[kind], taken)
    for kind, goal in (("", 90), ("-taint", 60)):
        ratio = theirs / mine[kind]
        name = f"program.concrete-6502{kind}"
        yield Row(name, 1e-6 / mine[kind], "M instr/s", "py65 step()", ratio, f"at least {goal}x", ratio >= goal)


def explored(code: str, origin: int = 0x0300) -> tuple[float, ByteTree]:
    """Best seconds of exploring a routine, and its tree."""
    image = Image.from_bytes(bytes.fromhex(code), origin, "routine")
    tree = explore([image], origin, DEVICES)
    return best_seconds(lambda: explore([image], origin, DEVICES), 5), tree


# print A: fold lower case; CR becomes CR LF; each byte waits for bit 7, is written, strobed low and high
PRINT = (
    "C9619006C97BB00229DF"  # CMP #'a'; BCC; CMP #'z'+1; BCS; AND #DF
    "201C03"  # JSR send
    "C90DD008A90A201C03A90D60"  # CMP #CR; BNE out; LDA #LF; JSR send; LDA #CR; RTS
    "6060EA"  # out: RTS
    "2C01C810FB8D00C8488E02C8A9018D02C8A9008D02C86860"  # send
)


def exploration_rows() -> Iterator[Row]:
    """The figures that an exploration has to reach."""
    taken, tree = explored(PRINT)
    met = taken < 0.05 and len(tree.nodes) <= 30
    yield Row(
        "program.print-one-character", taken * 1e3, "ms", goal=f"under 50 ms; {len(tree.nodes)} of 30 nodes", met=met
    )
    cells = range(0x20, 0x2C)
    # each bit decides on a write of its own and is counted in a cell of its own, so that no two ways are alike
    clear = "A900" + "".join(f"85{at:02X}" for at in cells)
    bits = "".join(f"AD{k + 1:02X}C81005E6{at:02X}8D00C8" for k, at in enumerate(cells))
    sends = "".join(f"A5{at:02X}8D00C8" for at in cells)
    taken, tree = explored(clear + bits + sends + "60")
    met = taken < 5 and tree.is_exhausted and len(tree.nodes) >= 4096
    yield Row("program.twelve-unknown-bits", taken, "s", goal=f"under 5 s; {len(tree.nodes)} nodes", met=met)
    taken, tree = explored("A200A000AD01C8100CCAD0F888D0F5A9EE8D00C860A9018D00C860")
    polls = {event.polls for event in tree.iter_events() if isinstance(event, Wait)}
    met = taken < 0.02 and polls == {65536}
    yield Row("program.time-out-65536-polls", taken * 1e3, "ms", goal="under 20 ms", met=met)
    taken, _ = explored("A9008D00C8A20086108611CAD0FDC610D0F9C611D0F58D00C860")
    yield Row("program.delay-16-million-turns", taken, "s", goal="under 0.5 s", met=taken < 0.5)
    step = "AD01C810038E00C8"
    sizes = [len(explored("A205" + step * n + "60")[1].nodes) for n in (8, 16)]
    linear = sizes[1] <= 2 * sizes[0]
    yield Row("program.rejoining-nodes-16-bits", sizes[1], "nodes", goal="linear in the bits", met=linear)


def demo_rows() -> Iterator[Row]:
    """The demonstration's ROM, its power-on sequence and one reading."""
    import pathlib

    import latchlore

    path = pathlib.Path(latchlore.__file__).parent / "demo" / "program" / "marram.bin"
    if not path.exists():
        return
    data = path.read_bytes()
    image = Image.from_bytes(data, 0xF800, "marram.bin")
    registers = AddressSet.parse("101x 10xx xxx0 1xxx | 101x 10xx xxx1 0xxx") | AddressSet.of_range(0xE200, 0xE202)
    reset = int.from_bytes(data[-4:-2], "little")

    def work() -> object:
        return explore([image], reset, registers, held={0xB810: 3})

    work()
    start = time.perf_counter()
    tree = explore([image], reset, registers, held={0xB810: 3})
    taken = min(time.perf_counter() - start, best_seconds(work, 3))
    goal = f"under 0.3 s; {len(tree.nodes)} nodes"
    yield Row("program.demo-tree", taken, "s", goal=goal, met=taken < 0.3)
    assert tree.possible_bytes(lambda kind, address: kind is InputKind.MEMORY and address == 0xB808)


def rows() -> Iterator[Row]:
    """All rows of the wing."""
    yield from compile_rows("6502")
    yield from concrete_rows()
    yield from exploration_rows()
    yield from demo_rows()
