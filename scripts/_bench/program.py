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
from latchlore.program._cpu import cpu_folders

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from latchlore.base import ByteTree
    from latchlore.program._machine import Machine

DEVICES = AddressSet.of_range(0xC800, 0xC80F)
# two nested counters, some arithmetic, a store and a jump back
WORK = bytes.fromhex("A200A000C8D0FDE8D0F8A512691385124C0003")
# tables, page zero, shifts, both ways of a branch, and a subroutine that uses the stack
MIXED = bytes.fromhex("A200BD00049D0005E88A29070A9502B5024A386910C98090034903EA2023034C0203EA486860")
MIXED_CELLS = (*range(0x400, 0x600), *range(0x02, 0x20))
# Z80: a table copied with its letters folded, the stack, an index register, a subroutine with 16-bit sums and bits
MIXED_Z80 = bytes.fromhex(
    "2100401100500120007EE67FFE613806FE7B3002D620772312130BC5E5DD210060DD7E0580DD7707CD3501E1C178B1C20901C30001"
    "2A0070192200707DCB3F1FAC4FCB59C80C1000C9"
)
NUM_STEPS = 1_000_000
NUM_TICKS = 5_000_000
FRAME = 100_000  # T-states after which the library's `run` comes back
ROUNDS = 25  # short and many: some fall between what others do on this machine
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
start = time.process_time()
run(regs, cells, book, np.zeros(0, np.int64), seen)
print(time.process_time() - start)
"""


def first_call(name: str, cache: str) -> float:
    """Processor seconds of the first call of a core in a new process, with this folder for compiled code."""
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
    """Compiling from nothing, and with what an earlier process left behind; processor time, for the clock counts what
    others do on this machine too.
    """
    with tempfile.TemporaryDirectory() as folder:
        cold, warm = first_call(name, folder), min(first_call(name, folder) for _ in range(3))
    yield Row(f"program.cold-compile-{name}", cold, "s CPU", goal="under 6 s", met=cold < 6)
    yield Row(f"program.warm-first-call-{name}", warm, "s CPU", goal="under 0.4 s", met=warm < 0.4)


def machine_of(cpu: str, code: bytes, origin: int, known: Iterable[int], *, tainted: str | None = None) -> Machine:
    """A machine in front of a program.  `tainted`: registers that it does not use; they and all other cells unknown."""
    from latchlore.program import _core as core
    from latchlore.program._cpu import get_cpu
    from latchlore.program._machine import Machine
    from latchlore.program._memory import Space

    processor = get_cpu(cpu)
    image = Image.from_bytes(code, origin, "work", writable=True)
    fill = 0 if tainted is None else core.UNKNOWN
    machine = Machine(processor, Space(processor, (image,), DEVICES, dict.fromkeys(known, 0), fill=fill))
    machine.registers = {"PC": origin, processor.stack: 0xF000 if processor.stack_page == 0 else 0xFF}
    machine.careful = sum(1 << processor.names.index(name) for name in tainted or "")
    run_on(machine, 100)
    return machine


def run_on(machine: Machine, steps: int) -> None:
    """Run so many instructions; none of them may stop."""
    from latchlore.program import _core as core

    status, done, _ = machine.call(steps, [])
    assert (status, done) == (core.DONE, steps)


def trap_is_armed() -> bool:
    """Whether the machine of the tainted rows stops in front of what it does not know."""
    from latchlore.program import _core as core

    stops = set()
    for code in ("A513", "08", "BA"):  # LDA 13; PHP looks at the interrupt flag; TSX at S
        machine = machine_of("6502", bytes.fromhex("4C0003"), 0x300, (), tainted="SI")
        machine.space.cells[0x300 : 0x300 + len(code) // 2] = list(bytes.fromhex(code))
        stops.add(machine.call(1, [])[0])
    return stops == {core.UNKNOWN_CELL, core.UNKNOWN_REGISTER}


def concrete_rows() -> Iterator[Row]:
    """Instructions a second against py65, without and with cells and registers that are not known."""
    from py65.devices.mpu6502 import MPU

    assert trap_is_armed()
    for label, code, known, unused in (("", WORK, (0x12,), "SI"), ("-mixed", MIXED, MIXED_CELLS, "I")):
        reference = MPU(pc=0x0300)
        reference.memory[0x300 : 0x300 + len(code)] = list(code)
        machines = {
            label: machine_of("6502", code, 0x300, known),
            f"{label}-taint": machine_of("6502", code, 0x300, known, tainted=unused),
        }
        theirs, mine = float("inf"), dict.fromkeys(machines, float("inf"))
        for _ in range(ROUNDS):  # by turns, so that another load on the machine falls on both
            theirs = min(theirs, best_seconds(lambda one=reference: [one.step() for _ in range(20_000)], 1) / 20_000)
            for kind, machine in machines.items():
                taken = best_seconds(lambda machine=machine: run_on(machine, NUM_STEPS), 1) / NUM_STEPS
                mine[kind] = min(mine[kind], taken)
        for kind, taken in mine.items():
            ratio, goal = theirs / taken, 60 if kind.endswith("taint") else 90
            name = f"program.concrete-6502{kind}"
            yield Row(name, 1e-6 / taken, "M instr/s", "py65 step()", ratio, f"at least {goal}x", ratio >= goal)


def z80_rows() -> Iterator[Row]:
    """T-states a second against the compiled Z80 library."""
    import z80

    reference = z80.Z80Machine()
    reference.set_memory_block(0x100, MIXED_Z80)
    reference.pc, reference.sp, reference.ticks_to_stop = 0x100, 0xF000, 2_000_000_000
    machine = machine_of("Z80", MIXED_Z80, 0x100, ())
    theirs = mine = float("inf")
    for _ in range(ROUNDS):
        taken = best_seconds(lambda: [reference.run() for _ in range(NUM_TICKS // FRAME)], 1)
        theirs = min(theirs, taken / NUM_TICKS)
        before = machine.cycles
        taken = best_seconds(lambda: run_on(machine, NUM_STEPS), 1)
        mine = min(mine, taken / (machine.cycles - before))
    ratio = theirs / mine
    name = "program.concrete-Z80"
    yield Row(name, 1e-6 / mine, "MHz", "the z80 library", ratio, "at least 0.5x", ratio >= 0.5)


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
    for name in cpu_folders():
        yield from compile_rows(name)
    yield from concrete_rows()
    yield from z80_rows()
    yield from exploration_rows()
    yield from demo_rows()
