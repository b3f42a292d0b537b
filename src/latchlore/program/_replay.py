"""Runs the turns of a polling loop at full speed with one answer held, and notes what changes from turn to turn."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from latchlore.program import _core as core
from latchlore.program._image import SPACE

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from latchlore.program._explore import Explorer
    from latchlore.program._state import State

LEAST_POLLS = 3
MAX_INSTRUCTIONS = 1 << 27
MAX_TURN = 1 << 21  # instructions
MAX_WATCHED = 64
FIRST_LOOK = 256  # reads until it is asked for the first time whether the loop repeats itself
LONGEST = 5  # bytes of an instruction
SKIP = core.UNKNOWN | core.DEVICE


@dataclass(frozen=True, slots=True, eq=False)
class Checkpoint:
    """A runner part of the way through a loop that has written no cell up to there."""

    visits: int
    registers: npt.NDArray[np.int64]
    book: npt.NDArray[np.int64]
    seen: npt.NDArray[np.uint8]
    left: int
    covered: frozenset[int]


@dataclass(frozen=True, slots=True)
class Measure:
    """How a loop goes on: `polls` reads until it gives up, or until it has repeated itself where `is_endless`.

    `cells`: those that it writes.  `free`: registers not known at its start were run with the value 0.  `met`: cells
    on which this depends.  `checkpoint`: from where the last turns can be run again, for the state and the answer that
    were measured.
    """

    polls: int
    is_endless: bool
    cells: tuple[int, ...]
    free: bool
    met: frozenset[int]
    checkpoint: Checkpoint | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Replay:
    """The turns up to the last read.

    `registers`, `contents`: at the last read.  `seen`: row by row the values of the registers and then of the watched
    cells at every read.  `written`: the cells written.  `covered`: the cells executed or read, those written included.
    """

    registers: list[int]
    contents: bytes
    seen: npt.NDArray[np.uint8]
    period: tuple[int, int]
    written: tuple[int, ...]
    covered: frozenset[int]


class Runner:
    """The compiled core, set up at a loop's first read."""

    def __init__(
        self, explorer: Explorer, state: State, address: int, answer: int, watched: Sequence[int], *, free: bool
    ) -> None:
        self.explorer, self.state = explorer, state
        explorer.load(state)
        self.space, self.book, self.regs = explorer.space, explorer.book, explorer.regs
        self.kinds = self.space.kinds
        self.original = self.kinds.copy()
        self.watch = np.array(watched, dtype=np.int64)
        self.seen = np.zeros((len(explorer.names) - 1 + len(watched), 256), dtype=np.uint8)
        self.covered: set[int] = set()
        self.closed: set[int] = set()
        self.polled = polled_cells(explorer, address)
        self.space.cells[self.polled], self.kinds[self.polled] = answer, core.COUNTED
        self.prepare(free=free)

    def prepare(self, *, free: bool) -> None:
        """Put registers and book in order."""
        book = self.book
        book[: core.ANSWERS] = 0
        taint = core.STOP_AT_HALT | core.STOP_AT_REFRESH
        for k, value in enumerate(self.state.registers):
            self.regs[k] = value if isinstance(value, int) else 0
            if not isinstance(value, int) and not free:
                taint |= 1 << k
        book[core.WANTED], book[core.SITE], book[core.TAINT] = -1, self.state.pc, taint
        book[core.STOP_ON_WRITE], book[core.LEAST_PERIOD] = 1, 1 << 60
        self.left = min(MAX_INSTRUCTIONS, self.explorer.bounds.instructions)

    def mark(self, *, in_frame: bool) -> None:
        """Mark every cell as unknown until it is executed or read, so that the core stops there once."""
        kinds, original, site = self.kinds, self.original, self.state.pc
        kinds[:SPACE][(original[:SPACE] & SKIP) == 0] |= core.UNKNOWN
        kinds[self.polled] = core.COUNTED
        for cell in ((site + k) & 0xFFFF for k in range(LONGEST)):  # a stop at the site would count it twice
            self.covered.add(cell)
            kinds[cell] = original[cell]
        pointer = self.state.registers[self.explorer.stack_index]
        if in_frame and isinstance(pointer, int):
            self.closed = set(self.explorer.cpu.return_cells(pointer))

    def passes(self, status: int) -> bool:
        """Whether the stop was only for a cell met for the first time; it is noted."""
        cell = int(self.book[core.ADDRESS])
        if status != core.UNKNOWN_CELL or cell in self.covered or cell in self.closed or self.original[cell] & SKIP:
            return False
        self.covered.add(cell)
        self.kinds[cell] = self.original[cell]
        return True

    def go(self, visit: int) -> int:
        """Run until the site was visited so often, or to the loop's exit: what takes too long is no turn."""
        book = self.book
        book[core.STOP_VISIT] = visit
        while True:
            visits, room = int(book[core.VISITS]), min(self.left, MAX_TURN)
            book[core.LEFT] = room
            status = int(self.explorer.core(self.regs, self.space.cells, book, self.watch, self.seen))
            rest = int(book[core.LEFT])
            self.left -= room - rest
            if status != core.DONE or rest or self.left <= 0 or int(book[core.VISITS]) == visits:
                return status

    @property
    def reads(self) -> int | None:
        """Reads so far; None where the register was also read elsewhere."""
        visits = int(self.book[core.VISITS])
        return visits if visits == int(self.book[core.COUNT]) else None

    @property
    def written(self) -> tuple[int, ...]:
        """Cells written, in order."""
        where = np.flatnonzero(self.space.written & ((self.original & (core.DEVICE | core.FIXED)) == 0))
        return tuple(where.tolist())

    def counters(self) -> list[int]:
        """What the registers hold; those that count by themselves are left out."""
        return [0 if k in self.explorer.volatile else value for k, value in enumerate(self.regs.tolist())]

    def contents(self) -> bytes:
        """What all cells hold."""
        return self.space.cells[: self.space.size].tobytes()

    def keep(self) -> Checkpoint | None:
        """Where it stands; None where cells were written."""
        if self.written:
            return None
        book = self.book.copy()
        return Checkpoint(
            int(book[core.VISITS]), self.regs.copy(), book, self.seen.copy(), self.left, frozenset(self.covered)
        )

    def resume(self, kept: Checkpoint) -> None:
        """Go on from there, as if it had been run up to there."""
        self.regs[:], self.book[:], self.seen[:], self.left = kept.registers, kept.book, kept.seen, kept.left
        for cell in kept.covered - self.covered:
            self.covered.add(cell)
            self.kinds[cell] = self.original[cell]

    def close(self) -> None:
        """Put attributes back; contents follow with the next `Explorer.load`."""
        self.kinds[:] = self.original
        self.space.cells[self.polled] = 0


def polled_cells(explorer: Explorer, address: int) -> npt.NDArray[np.int64]:
    """The cells of one register: a port stands at every address that differs in lines not looked at only."""
    if address < SPACE:
        return np.array([address], dtype=np.int64)
    ports = np.arange(SPACE, explorer.space.size, dtype=np.int64)
    found: npt.NDArray[np.int64] = ports[((ports ^ address) & explorer.bounds.port_mask) == 0]
    return found


def measure(explorer: Explorer, state: State, address: int, answer: int, *, in_frame: bool) -> Measure | None:
    """How often the loop reads, and what it writes; None where it is none, or does not come to an end in time.

    `in_frame`: the loop also ends where the routine that it stands in returns.
    """
    for free in (False, True):
        runner = Runner(explorer, state, address, answer, (), free=free)
        try:
            runner.mark(in_frame=in_frame)
            found, status = _count(runner, free=free)
        finally:
            runner.close()
        if found is not None or status != core.UNKNOWN_REGISTER:
            return found
    return None


def _count(runner: Runner, *, free: bool) -> tuple[Measure | None, int]:
    """The reads until something else is touched, or the register is read elsewhere."""
    before: tuple[list[int], bytes] | None = None
    visit = FIRST_LOOK
    reads = 0
    is_endless = False
    kept: Checkpoint | None = None
    while True:
        status = runner.go(visit)
        now_read = runner.reads
        if now_read is None:
            break
        reads = now_read
        if runner.left <= 0:
            return None, status
        if status == core.VISIT_REACHED:
            now = (runner.counters(), runner.contents())
            is_endless = now == before
            before, visit = now, 2 * visit
            kept = runner.keep()
        if is_endless or not (status == core.VISIT_REACHED or runner.passes(status)):
            break
    cells = runner.written
    if reads < LEAST_POLLS or len(cells) > MAX_WATCHED:
        return None, status
    stopped = {int(runner.book[core.ADDRESS])} if status in (core.UNKNOWN_CELL, core.NEEDS_ANSWER) else set()
    met = frozenset(runner.covered | runner.closed | stopped)
    return Measure(reads, is_endless, cells, free, met, None if cells else kept), status


def replay(
    explorer: Explorer, state: State, address: int, answer: int, found: Measure, *, is_guess: bool
) -> Replay | None:
    """The turns up to the last read; None where the loop does not go on as measured.

    `is_guess`: it was measured from another state.
    """
    runner = Runner(explorer, state, address, answer, found.cells, free=found.free)
    try:
        return _replay(runner, found, is_guess=is_guess)
    finally:
        runner.close()


def _replay(runner: Runner, found: Measure, *, is_guess: bool) -> Replay | None:
    runner.mark(in_frame=False)
    last = found.polls if found.is_endless else found.polls - 1
    if found.checkpoint is not None and not is_guess and found.checkpoint.visits < last:
        runner.resume(found.checkpoint)
    status = runner.go(last)
    while runner.passes(status):
        status = runner.go(last)
    if status != core.VISIT_REACHED or runner.reads != last:
        return None
    registers, contents, written = runner.regs.tolist(), runner.contents(), runner.written
    period = int(runner.book[core.LEAST_PERIOD]), int(runner.book[core.MOST_PERIOD])
    covered = frozenset(runner.covered.union(written))
    if not set(written) <= set(found.cells):
        return None
    seen = runner.seen.copy()
    if is_guess:
        status = runner.go(found.polls)
        while runner.reads == found.polls and runner.passes(status):
            status = runner.go(found.polls)
        if status == core.VISIT_REACHED and runner.reads == found.polls:
            return None  # it reads once more
    return Replay(registers, contents, seen, period, written, covered)
