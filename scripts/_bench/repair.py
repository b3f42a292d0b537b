"""How often the repair finds the wiring of programs that its tables have not seen, scrambled with fixed seeds."""

from __future__ import annotations

import importlib.machinery
import importlib.util
import itertools
import pathlib
import random
import re
import tempfile
import time
from typing import TYPE_CHECKING, Any

import bincopy
import numpy as np

from _bench import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

HERE = pathlib.Path(__file__).resolve().parent.parent
RAW_CONFIG = "MEMORY { M: start = 0, size = $10000, file = %O; }\nSEGMENTS { CODE: load = M, type = rw; }\n"
ROMS = ("main_msx1", "sub", "disk", "basic", "logo_msx1")


def _counter() -> Any:
    loader = importlib.machinery.SourceFileLoader("count_pairs", str(HERE / "count_pairs"))
    spec = importlib.util.spec_from_loader("count_pairs", loader)
    assert spec is not None
    module = importlib.util.module_from_spec(spec)
    loader.exec_module(module)
    return module


def _programs() -> Iterator[tuple[str, bytes, str, str]]:
    """Name, bytes, processor, and the word of the source that the tables must leave out."""
    counter = _counter()
    for name in ROMS:
        yield name, (counter.CBIOS / f"cbios_{name}.rom").read_bytes(), "Z80", "cbios"
    yield "cc65", counter.cc65_runtime(0x8000), "6502", "cc65"
    yield "mos6502", counter.sdcc_library("sdld", "mos6502", ("_CODE=32768", "CODE=32768"))[0], "6502", "sdcc"
    yield "z80", counter.sdcc_library("sdldz80", "z80", ("_CODE=0", "_HOME=61440", "_DATA=57344"))[0], "Z80", "sdcc"


def _own_programs() -> Iterator[tuple[str, bytes, str, str]]:
    """Our own programs of tests/repair_programs, which no table and no constant was made from."""
    counter, sources = _counter(), HERE.parent / "tests" / "repair_programs"
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        (folder / "raw.cfg").write_text(RAW_CONFIG)
        (folder / "linker.cfg").write_text(counter.LINKER_CONFIG)
        counter.run("ca65", str(sources / "strip.s"), "-o", "strip.o", cwd=folder)
        counter.run("ld65", "-C", "raw.cfg", "-o", "strip.bin", "strip.o", cwd=folder)
        yield "strip", (folder / "strip.bin").read_bytes()[:1024], "6502", ""
        counter.run("cc65", "-O", "-t", "none", str(sources / "ticket.c"), "-o", "ticket.s", cwd=folder)
        counter.run("ca65", "ticket.s", "-o", "ticket.o", cwd=folder)
        size = int(re.findall(r"CODE: +(\d+)", counter.run("od65", "--dump-segsize", "ticket.o", cwd=folder))[0])
        library = "/usr/share/cc65/lib/none.lib"
        counter.run("ld65", "-S", "32768", "-C", "linker.cfg", "-o", "out", "ticket.o", library, cwd=folder)
        yield "ticket 6502", (folder / "out").read_bytes()[:size], "6502", ""
        counter.run("sdcc", "-mz80", "-c", str(sources / "ticket.c"), "-o", "ticket.rel", cwd=folder)
        size = int(re.findall(r"A _CODE size ([0-9A-F]+)", (folder / "ticket.rel").read_text())[0], 16)
        counter.run("sdldz80", "-n", "-i", "-b", "_CODE=0", "-b", "_DATA=49152", "-k", str(counter.SDCC / "z80"), "-l",
                    "z80.lib", "out.ihx", "ticket.rel", cwd=folder)  # fmt: skip
        yield "ticket Z80", bytes(bincopy.BinFile(str(folder / "out.ihx")).segments[0].data)[:size], "Z80", ""


def _own_rate(size: int, seeds: int = 4) -> tuple[int, int]:
    """Pieces of our own programs with scrambled data lines, and how many were put right."""
    from latchlore.program import _repairsearch as search
    from latchlore.program._repairevidence import make_evidence
    from latchlore.program._repairwiring import Wiring

    count = found = 0
    for _, program, cpu, _ in _own_programs():
        for start, seed in itertools.product(range(0, len(program) - size + 1, size), range(seeds)):
            piece, order = program[start : start + size], list(range(8))
            random.Random(seed).shuffle(order)
            straight = Wiring.straight(size.bit_length() - 1)
            dump = Wiring(straight.address, 0, tuple(order)).apply(piece)
            ranked = search.solve_data(dump, straight, make_evidence(cpu), inverted=False)
            count, found = count + 1, found + (ranked[0].image == piece)
    return count, found


def _pieces(size: int) -> Iterator[tuple[bytes, str, str, int]]:
    """Pieces of that size that are not mostly fill, at most five a program."""
    for _, program, cpu, without in _programs():
        step = max(size, len(program) // 5 // size * size)
        for start in range(0, len(program) - size + 1, step):
            piece = program[start : start + size]
            if np.bincount(np.frombuffer(piece, np.uint8)).max() <= size // 2:
                yield piece, cpu, without, start


def _rate(mode: str, size: int) -> tuple[int, int, int, int, float]:
    """Pieces, found, called decided, wrong among these, seconds; `mode` names what is scrambled: a, d, A, D, ad."""
    from latchlore.program import _repairsearch as search
    from latchlore.program._repair import LEAST_SHARE, margin
    from latchlore.program._repairevidence import make_evidence
    from latchlore.program._repairwiring import Wiring

    count = found = decided = wrong = 0
    began = time.perf_counter()
    for piece, cpu, without, start in _pieces(size):
        evidence, chooser = make_evidence(cpu, None, without), random.Random(start + size)
        lines = size.bit_length() - 1
        address, data = list(range(lines)), list(range(8))
        if "a" in mode.lower():
            chooser.shuffle(address)
        if "d" in mode.lower():
            chooser.shuffle(data)
        masks = (chooser.randrange(size) if "A" in mode else 0, chooser.randrange(256) if "D" in mode else 0)
        dump = Wiring(tuple(address), masks[0], tuple(data), masks[1]).apply(piece)
        straight = Wiring.straight(lines)
        if mode == "ad":
            ranked = search.solve_both(dump, evidence, inverted=False)
        elif mode in "dD":
            ranked = search.solve_data(dump, straight, evidence, inverted=mode == "D")
        else:
            ranked = search.solve_address(dump, [straight], evidence, inverted=mode == "A")
        first, second = ranked[0], ranked[1]
        known, other = evidence.known_bits(first.image), evidence.known_bits(second.image)
        is_decided = first.bits - second.bits >= margin(first.wiring, second.wiring) and known > max(
            other, LEAST_SHARE * size
        )
        count, found = count + 1, found + (first.image == piece)
        decided, wrong = decided + is_decided, wrong + (is_decided and first.image != piece)
    return count, found, decided, wrong, time.perf_counter() - began


GOALS = (
    ("data lines, 512 bytes", "d", 512, 0.67),
    ("data lines, 2 KB", "d", 2048, 0.95),
    ("data lines inverted too, 2 KB", "D", 2048, None),
    ("address lines, 2 KB", "a", 2048, 0.84),
    ("address lines, 8 KB", "a", 8192, 0.84),
    ("address lines inverted too, 2 KB", "A", 2048, None),
    ("both, 4 KB", "ad", 4096, 0.76),
)


def rows() -> Iterator[Row]:
    """Success rates, and how often a verdict of "decided" was wrong."""
    for size in (512, 1024):
        count, found = _own_rate(size)
        yield Row(f"repair.own programs, data lines, {size} bytes", found / count, "", goal=f"{found} of {count}")
    for name, mode, size, goal in GOALS:
        count, found, decided, wrong, seconds = _rate(mode, size)
        words = f"{found} of {count}" + (f"; at least {goal:.0%}" if goal else "")
        yield Row(f"repair.{name}", found / count, "", goal=words, met=None if goal is None else found / count >= goal)
        yield Row(f"repair.{name}: decided", decided / count, "", goal=f"{decided} of {count}, {wrong} of them wrong")
        yield Row(f"repair.{name}: time", seconds / count, "s a dump")
