"""Shows that the turns of a polling loop are alike for every answer that keeps it waiting.

A loop that counts its reads is replayed with one answer held (`_polls.py`).  That says what it does for every other
sequence of waiting answers only if no turn lets the answer decide anything but to go on waiting.  This is shown here by
following the code of a turn once more over the two shades of `_shades.py`: what is the same for all answers, known or
not, is low; what may depend on an answer (or on a register not known at the entry) is high; the answer itself is a
table over its bits, restricted to the waiting values.  At a branch by a low value both ways are followed, as far as
the replay ran there; so one look covers the turns of all counts.  A branch, an address or a time that depends on the
answer ends the proof, and the turns stay unrolled.

Why that is enough: take the replay and a run with other waiting answers.  As long as both have gone the same way, the
low values are equal in both, so both go the same way at the next branch too.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from latchlore.program import _core as core
from latchlore.program import _values as values
from latchlore.program._image import SPACE
from latchlore.program._shades import Shade, high, is_high, join, key_of, low
from latchlore.program._values import Sym, TooWideError, Value

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from latchlore.program._explore import Explorer
    from latchlore.program._state import State

MAX_STEPS = 3000
MAX_VISITS = 6  # of one instruction in one turn, before its values are widened
MAX_WAYS = 16
Registers: TypeAlias = tuple[Value, ...]


class NotAlikeError(Exception):
    """A turn may depend on the answer, or the proof does not reach so far."""


class _Elsewhere(Exception):  # no error: a way that the replay did not go
    """The way leaves what the replay did."""


@dataclass(frozen=True, slots=True)
class Loop:
    """A replayed loop: its state at the first read, which answers keep it waiting, and where the replay ran.

    `address`: the cell of the register that is read (a port lies above FFFF).  `covered`: the addresses of the
    instructions run before the last read.  `written`: the cells written until then.
    """

    state: State
    address: int
    waiting: Sym
    covered: frozenset[int]
    written: frozenset[int]


@dataclass(slots=True)
class Alike:
    """What is left behind by turns that are alike.

    `kept`: registers that no turn changes, though they are not known.  `loose`, `loose_cells`: registers and cells
    that may depend on the answers, so that they can be anything.  `changing`: registers that take the same values
    whatever the answers.  `dead`: registers that are set before they are looked at behind the read.
    """

    kept: set[int]
    loose: set[int]
    changing: set[int]
    loose_cells: set[int]
    dead: set[int]


@dataclass(slots=True)
class _Point:
    """The machine within a turn; `cells` differ from what they were at its start, and are blurred once a low address
    was written to.
    """

    registers: Registers
    cells: dict[int, Value]
    blurred: bool = False

    @property
    def key(self) -> object:
        return (
            tuple(key_of(value) for value in self.registers),
            tuple((address, key_of(value)) for address, value in sorted(self.cells.items())),
            self.blurred,
        )


class _Step:
    """One instruction over shades; the counterpart of `_symbolic.Step`."""

    def __init__(self, proof: _Proof, point: _Point, choices: list[bool], *, reads: bool) -> None:
        self.proof, self.point, self.choices = proof, point, choices
        self.answers = 1 if reads else 0
        self.taken = 0
        self.cells = dict(point.cells)
        self.blurred = point.blurred

    def tick(self, cycles: Value) -> None:
        """Time that depends on the answer is not alike."""
        if is_high(cycles):
            raise NotAlikeError

    def test(self, condition: Value) -> bool:
        """A low condition may be either; a high one must come out alike for all waiting answers."""
        if isinstance(condition, int):
            return condition != 0
        if isinstance(condition, Shade):
            if condition.is_high:
                raise NotAlikeError
            if condition.bits:
                return True
            self.taken += 1
            if self.taken > len(self.choices):
                self.choices.append(False)
            return self.choices[self.taken - 1]
        found = {one != 0 for one in self.proof.possible(condition)}
        if len(found) > 1:
            raise NotAlikeError
        return found.pop()

    def opcode(self, pc: int) -> tuple[Value, int]:
        """The opcode at PC, and PC behind it."""
        return self.fetch(pc)

    def fetch(self, pc: int) -> tuple[Value, int]:
        """The byte at PC, and PC behind it."""
        if not isinstance(pc, int):
            raise NotAlikeError
        return self.load(pc), (pc + 1) & 0xFFFF

    def place(self, address: Value) -> int | None:
        """The address; None where it is low and not known."""
        if isinstance(address, int):
            return address
        if isinstance(address, Shade):
            if address.is_high:
                raise NotAlikeError
            return None
        found = self.proof.possible(address)
        if len(found) > 1:
            raise NotAlikeError
        return found[0]

    def load(self, address: int) -> Value:
        """What a cell holds."""
        if self.proof.kind(address) & core.DEVICE:
            if not self.answers or not self.proof.is_polled(address):
                raise _Elsewhere
            self.answers -= 1
            return self.proof.answer
        found = self.cells.get(address)
        return self.proof.start_cell(address, blurred=self.blurred) if found is None else found

    def rd(self, address: Value, space: int = 0) -> Value:
        """Read a cell."""
        place = self.place(address)
        if place is not None:
            return self.load(place + space)
        if self.proof.loose_cells or any(is_high(value) for value in self.cells.values()):
            return high(8)
        return low(8)

    def wr(self, address: Value, value: Value, space: int = 0) -> None:
        """Write a cell."""
        place = self.place(address)
        if place is None:
            if is_high(value):
                raise NotAlikeError
            self.blurred = True
            self.cells = {at: high(8) if is_high(one) else low(8) for at, one in self.cells.items()}
            return
        kind = self.proof.kind(place + space)
        if kind & core.DEVICE:
            raise _Elsewhere
        if not kind & core.FIXED:
            self.cells[place + space] = value

    def inp(self, port: Value) -> Value:
        """Read a port."""
        return self.rd(port & self.proof.explorer.bounds.port_mask, SPACE)

    def out(self, port: Value, value: Value) -> None:
        """Write a port."""
        self.wr(port & self.proof.explorer.bounds.port_mask, value, SPACE)

    def dummy(self, address: Value) -> None:
        """A read whose value is thrown away."""
        place = self.place(address)
        if place is not None and self.proof.kind(place) & core.DEVICE:
            raise _Elsewhere

    def penalty(self, condition: Value, address: Value) -> None:
        """A dummy read in some cases."""
        if self.test(condition):
            self.dummy(address)


class _Proof:
    """One try after another; what is loose or changing grows from each to the next."""

    def __init__(self, explorer: Explorer, loop: Loop) -> None:
        self.explorer, self.loop = explorer, loop
        self.live = _live(explorer, loop)
        self.loose: set[int] = set()
        self.changing: set[int] = set()
        self.loose_cells: set[int] = set()
        self.changing_cells: set[int] = set()
        self.answer = loop.state.answers[0]
        self.mask = explorer.bounds.port_mask
        self.ends: list[_Point] = []

    def possible(self, value: Sym) -> list[int]:
        """What a function of the answer can be while the loop waits."""
        return values.possible((self.loop.waiting,), value)

    def kind(self, address: int) -> int:
        """The attributes of a cell."""
        return int(self.explorer.space.kinds[address])

    def is_polled(self, address: int) -> bool:
        """Whether a device register is the one that the loop reads."""
        if address < SPACE:
            return address == self.loop.address
        return not (address ^ self.loop.address) & self.mask

    def start_cell(self, address: int, *, blurred: bool) -> Value:
        """What a cell holds at the start of any turn."""
        if address in self.loose_cells:
            return high(8)
        if address in self.changing_cells:
            return low(8)
        if self.kind(address) & core.UNKNOWN:
            # the replay stopped where it would have used such a cell; so a turn that uses it has written it before
            return low(8) if address in self.loop.written else high(8)
        if blurred and not self.kind(address) & core.FIXED:
            return low(8)
        return int(self.explorer.space.cells[address])

    def is_dead(self, register: int) -> bool:
        """Whether a register is not looked at behind the read before it is set."""
        return not self.live >> register & 1 or register in self.explorer.volatile

    @property
    def size(self) -> int:
        """How much was found to differ from turn to turn."""
        return len(self.loose) + len(self.changing) + len(self.loose_cells) + len(self.changing_cells)

    def start(self) -> _Point:
        """The machine at any read."""
        names, widths = self.explorer.names, self.explorer.cpu.registers
        registers: list[Value] = []
        for k, value in enumerate(self.loop.state.registers[:-1]):
            width = widths.get(names[k], 1)
            if k in self.loose or self.is_dead(k):
                registers.append(high(width))
            elif not isinstance(value, int):
                registers.append(high(width, origin=k))
            else:
                registers.append(low(width) if k in self.changing else value)
        return _Point((*registers, self.loop.state.pc), {})

    def run(self) -> None:
        """Follow every way of a turn from the read to the next one."""
        self.ends = []
        start = self.start()
        site = self.loop.state.pc
        work = [start]
        seen: set[object] = set()
        visits: dict[Value, tuple[int, _Point]] = {}
        steps = 0
        while work:
            point = work.pop()
            pc = point.registers[-1]
            if point is not start and pc == site:
                self.ends.append(point)
                continue
            if pc not in self.loop.covered:
                if isinstance(pc, int):
                    continue
                raise NotAlikeError
            count, before = visits.get(pc, (0, point))
            if count >= MAX_VISITS:
                point = _wider(before, point, self)
            visits[pc] = (count + 1, point)
            if point.key in seen:
                continue
            seen.add(point.key)
            steps += 1
            if steps > MAX_STEPS:
                raise NotAlikeError
            work.extend(self.followers(point, reads=point is start))

    def followers(self, point: _Point, *, reads: bool) -> Iterator[_Point]:
        """What may come of the instruction at a point."""
        explorer = self.explorer
        choices: list[bool] = []
        for _ in range(MAX_WAYS):
            step = _Step(self, point, choices, reads=reads)
            with contextlib.suppress(_Elsewhere):
                yield self.step(step, point, explorer)
            del choices[step.taken :]
            while choices and choices[-1]:
                choices.pop()
            if not choices:
                return
            choices[-1] = True
        raise NotAlikeError

    def step(self, step: _Step, point: _Point, explorer: Explorer) -> _Point:
        """Do the instruction in one of its ways."""
        decode: Callable[..., tuple[Value, int, Value, int]] = explorer.decode
        code, after, displacement, fetches = decode(step, point.registers[-1])
        if not isinstance(code, int):
            raise NotAlikeError
        row = explorer.cpu.rows.get(code)
        if row is None or row.flow == "halt":
            raise _Elsewhere
        function: Callable[..., list[Value]] = explorer.functions[code]
        registers = function(step, [*point.registers[:-1], after], displacement, fetches)
        return _Point(tuple(registers), step.cells, step.blurred)


def _wider(first: _Point, second: _Point, proof: _Proof) -> _Point:
    """A point that covers both."""
    registers = tuple(join(a, b) for a, b in zip(first.registers, second.registers, strict=True))
    if not isinstance(registers[-1], int):
        raise NotAlikeError
    blurred = first.blurred or second.blurred
    cells = {}
    for address in first.cells.keys() | second.cells.keys():
        held = [
            point.cells[address] if address in point.cells else proof.start_cell(address, blurred=point.blurred)
            for point in (first, second)
        ]
        cells[address] = join(held[0], held[1])
    return _Point(registers, cells, blurred)


def show_alike(explorer: Explorer, loop: Loop) -> Alike | None:
    """What the turns leave behind, where they are alike for all waiting answers; None where that is not shown.

    The explorer has the loop's state loaded.
    """
    proof = _Proof(explorer, loop)
    try:
        while True:
            size = proof.size
            proof.run()
            for end in proof.ends:
                _take_end(proof, end)
            if proof.size == size:
                break
    except (NotAlikeError, TooWideError):
        return None
    registers = loop.state.registers[:-1]
    kept = {k for k, value in enumerate(registers) if not isinstance(value, int)} - proof.loose
    dead = {k for k in range(len(registers)) if proof.is_dead(k)}
    return Alike(kept - dead, proof.loose, proof.changing, proof.loose_cells, dead)


def _live(explorer: Explorer, loop: Loop) -> int:
    """The registers that matter at the read."""
    pointer = loop.state.registers[explorer.stack_index]
    everything = (1 << len(explorer.names) - 1) - 1
    if not isinstance(pointer, int):
        return everything
    stack = explorer.cpu.return_cells(pointer)
    if loop.written.intersection(range(min(stack), min(stack) + 8)):
        return everything
    return explorer.liveness.live(loop.state.pc, pointer, explorer.base) | 1 << explorer.stack_index


def _take_end(proof: _Proof, end: _Point) -> None:
    """Note what a way round leaves different from the start of the turn."""
    explorer, start = proof.explorer, proof.loop.state.registers
    for k, value in enumerate(end.registers[:-1]):
        if proof.is_dead(k):
            continue
        settled = _settles(proof, value)
        if settled is None:
            if not (isinstance(value, Shade) and value.origin == k):
                proof.loose.add(k)
        elif not isinstance(start[k], int):
            proof.loose.add(k)
        elif settled != start[k]:
            proof.changing.add(k)
    for address, value in end.cells.items():
        settled = _settles(proof, value)
        if settled is None:
            proof.loose_cells.add(address)
        elif settled != int(explorer.space.cells[address]):
            proof.changing_cells.add(address)
    if end.blurred:
        proof.changing_cells |= proof.loop.written


def _settles(proof: _Proof, value: Value) -> Value | None:
    """The value where it is the same for all waiting answers; None where it may not be."""
    if isinstance(value, int):
        return value
    if isinstance(value, Shade):
        return None if value.is_high else value
    found = proof.possible(value)
    return found[0] if len(found) == 1 else None
