"""How often the repair finds the wiring of held-out programs, scrambled with fixed seeds, and how far "decided" holds.

Neither the tables nor any constant has seen these programs (`scripts/_repair_sets.py`).  Every dump is put to the
whole search, in which any line may be inverted, as a user would do who knows the processor and nothing else.
"""

from __future__ import annotations

import functools
import pathlib
import random
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from _bench import Row

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent))

from _repair_sets import Program, programs  # the path first

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.program import Wiring

MOST_PIECES = 3  # of one program


class Mode(NamedTuple):
    """What is scrambled: the orders of `lines` (``A``, ``D``), how many of each are inverted (None: any), a size, and
    the share that is to be found.
    """

    name: str
    lines: str
    flips: dict[str, int | None]
    size: int
    goal: float | None


MODES = (
    Mode("data lines", "D", {}, 512, 0.67),
    Mode("data lines", "D", {}, 2048, 0.95),
    Mode("data lines, any inverted", "D", {"D": None}, 2048, None),
    Mode("one data line inverted", "", {"D": 1}, 1024, None),
    Mode("address lines", "A", {}, 1024, None),
    Mode("address lines", "A", {}, 2048, 0.84),
    Mode("address lines", "A", {}, 8192, 0.84),
    Mode("address lines, any inverted", "A", {"A": None}, 2048, None),
    Mode("one address line inverted", "", {"A": 1}, 1024, None),
    Mode("address and data lines", "AD", {}, 4096, 0.76),
    Mode("nothing", "", {}, 1024, None),
)


@functools.cache
def assembled(which: str) -> list[Program]:
    """The programs of a set."""
    return programs(which)


def pieces(which: str, size: int) -> Iterator[tuple[Program, int, bytes]]:
    """Pieces of the programs of a set that are not mostly fill, with where each starts; a few a program."""
    for program in assembled(which):
        starts = list(range(0, len(program.data) - size + 1, size))
        for start in starts[:: max(1, len(starts) // MOST_PIECES)][:MOST_PIECES]:
            piece = program.data[start : start + size]
            if np.bincount(np.frombuffer(piece, np.uint8)).max() <= size // 2:
                yield program, start, piece


def scrambling(mode: Mode, seed: str) -> Wiring:
    """A wiring of that kind, the same for the same seed."""
    from latchlore.program import Wiring

    chooser = random.Random(seed)
    orders = {"A": list(range(mode.size.bit_length() - 1)), "D": list(range(8))}
    masks = {"A": 0, "D": 0}
    for letter in mode.lines:
        chooser.shuffle(orders[letter])
    for letter, number in mode.flips.items():
        lines = len(orders[letter])
        masks[letter] = chooser.randrange(1 << lines) if number is None else 1 << chooser.randrange(lines)
    return Wiring(tuple(orders["A"]), masks["A"], tuple(orders["D"]), masks["D"])


class Outcome(NamedTuple):
    """One dump: put right and called decided, the same of its data lines alone, seconds."""

    is_right: bool
    is_decided: bool
    is_data_right: bool
    is_data_decided: bool
    seconds: float


class Case(NamedTuple):
    """One dump: a piece of a program, the processor, and how it is scrambled."""

    piece: bytes
    cpu: str
    mode: Mode
    seed: str


def outcome(case: Case) -> Outcome:
    """A piece scrambled and put to the search; in a process of its own."""
    from latchlore.program import propose_repairs

    wiring = scrambling(case.mode, case.seed)
    dump = wiring.apply(case.piece)
    began = time.perf_counter()
    report = propose_repairs(dump, cpu=case.cpu)
    seconds = time.perf_counter() - began
    assert report.winner is not None
    found = report.winner.wiring
    is_data_right = (found.data, found.data_inverted) == (wiring.data, wiring.data_inverted)
    right = report.winner.image == case.piece
    return Outcome(right, report.is_decided, is_data_right, "data" in report.decided, seconds)


def outcomes(which: str, pool: ProcessPoolExecutor) -> Iterator[tuple[Mode, list[Outcome]]]:
    """Every piece of a set, mode by mode."""
    for mode in MODES:
        cases = [
            Case(piece, program.cpu, mode, f"{program.name} {start} {mode.name} {mode.size}")
            for program, start, piece in pieces(which, mode.size)
        ]
        yield mode, list(pool.map(outcome, cases))


def rows() -> Iterator[Row]:
    """Success rates, how often a verdict of "decided" was wrong, and the time."""
    total = wrong = 0
    pool = ProcessPoolExecutor(mp_context=get_context("spawn"))
    for mode, found in outcomes("HELD", pool):
        right, decided = sum(one.is_right for one in found), sum(one.is_decided for one in found)
        bad = sum(one.is_decided and not one.is_right for one in found)
        total, wrong = total + decided, wrong + bad
        name = f"repair.{mode.name}, {mode.size} bytes"
        words = f"{right} of {len(found)}" + (f"; at least {mode.goal:.0%}" if mode.goal else "")
        share = right / len(found)
        yield Row(name, share, "", goal=words, met=None if mode.goal is None else share >= mode.goal)
        yield Row(f"{name}: decided", decided / len(found), "", goal=f"{decided}, {bad} of them wrong", met=bad == 0)
        data = [one for one in found if one.is_data_decided]
        bad_data = sum(not one.is_data_right for one in data)
        total, wrong = total + len(data), wrong + bad_data
        words = f"{len(data)}, {bad_data} of them wrong"
        yield Row(f"{name}: data lines decided", len(data) / len(found), "", goal=words, met=bad_data == 0)
        yield Row(f"{name}: time", sum(one.seconds for one in found) / len(found), "s a dump")
    pool.shutdown()
    yield Row("repair.wrong among all decided", wrong, "", goal=f"of {total}; none", met=wrong == 0)
