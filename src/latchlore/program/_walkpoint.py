"""One point of a path while it is worked on: unknown bits and their numbers, cells, and what may be forgotten."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import HELD, AddressSet, ByteTable, InputBit, InputKind
from latchlore.program import _core as core
from latchlore.program import _values as values
from latchlore.program._liveness import Liveness
from latchlore.program._memory import Space
from latchlore.program._state import Key, State
from latchlore.program._values import Sym, TooWideError, Value

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from latchlore.program._bounds import Bounds
    from latchlore.program._cpu import Cpu
    from latchlore.program._image import Image

MAX_VARIANTS = 24


class Point:
    """The point being worked on; `_symbolic.Unknowns` for the step made there."""

    def __init__(
        self,
        cpu: Cpu,
        images: tuple[Image, ...],
        devices: AddressSet,
        ports: AddressSet | None,
        held: Mapping[int, int],
        memory: Mapping[int, int],
        bounds: Bounds,
    ) -> None:
        self.cpu, self.bounds, self.held = cpu, bounds, held
        self.space = Space(cpu, images, devices, memory, ports)
        self.liveness = Liveness(cpu, self.space.cells)
        self.names = cpu.names
        self.stack_index = self.names.index(cpu.stack)
        self.base = cpu.entry_stack
        self.volatile = [self.names.index(name) for name in sorted(cpu.volatile)]
        self.bits: list[InputBit] = []
        self.numbers: dict[InputBit, int] = {}
        self.bytes: dict[tuple[InputKind, int, int, int], Value] = {}
        self.shared: frozenset[int] = frozenset()  # cells that interrupt routines may write at any time
        self.variants: dict[Key, int] = {}  # how many states differ in unknown values only
        self.state: State  # its pages lie in `space`

    def number(self, bit: InputBit) -> int:
        """The variable that stands for an unknown bit."""
        if bit not in self.numbers:
            self.numbers[bit] = len(self.bits)
            self.bits.append(bit)
        return self.numbers[bit]

    def numbered_byte(self, kind: InputKind, address: int, turn: int = HELD, held: int = 0) -> Value:
        """A byte of unknown bits; those in the mask `held` are the same on every read."""
        key = (kind, address, turn, held)
        if key not in self.bytes:
            bits = (InputBit(kind, address, k, HELD if held >> k & 1 else turn) for k in range(8))
            value: Value = 0
            for i, bit in enumerate(bits):
                value = values.variable(self.number(bit)) << i | value
            self.bytes[key] = value
        return self.bytes[key]

    def fresh(self, label: str, address: int, width: int) -> list[int]:
        """Variables for something unknown that may be met again and again: none that is still alive."""
        alive = self.variables(self.state)
        alive.update(v for one in self.state.constraints for v in one.vars)
        used = {self.bits[v].turn for v in alive if self.bits[v].name == label}
        turn = next(k for k in range(len(used) + 1) if k not in used)
        return [self.number(InputBit(InputKind.CELL, address, k, turn, label)) for k in range(width)]

    def cell(self, address: int) -> Value:
        """The content of a cell marked unknown."""
        if address in self.state.cells:
            return self.state.cells[address]
        if address in self.shared:
            return values.byte_of(self.fresh(f"{address:04X} as an interrupt may leave it", address, 8))
        return self.entry_cell(address, self.state.forced)

    def is_from_entry(self, address: int) -> bool:
        """Whether nothing has written the unknown cell since the entry."""
        return address not in self.state.cells

    def entry_cell(self, address: int, forced: dict[int, int]) -> Value:
        """What a cell held at the entry."""
        value = self.numbered_byte(InputKind.CELL, address)
        return values.substitute(value, forced) if forced else value

    def put(self, address: int, value: Value) -> None:
        """Set a cell of the state being worked on."""
        memory, size = self.space.memory, self.space.size
        memory[2 * size + address] = 1
        kind = memory[size + address]
        if isinstance(value, int):
            memory[address], memory[size + address] = value, kind & ~core.UNKNOWN
            self.state.cells.pop(address, None)
        else:
            memory[address], memory[size + address] = 0, kind | core.UNKNOWN
            self.state.cells[address] = value

    def load(self, state: State) -> None:
        """Work on this state."""
        self.state = state.copy()
        self.space.load(state.pages)

    def tidy(self) -> None:
        """Forget what can no longer matter: dead registers, bytes below the stack pointer, decided bits."""
        state = self.state
        registers = list(state.registers)
        for k in self.volatile:
            registers[k] = 0
        pointer = registers[self.stack_index]
        if isinstance(pointer, int):
            live = self.liveness.live(state.pc, pointer, self.base)
            for k in range(len(registers) - 1):
                if not live >> k & 1 and k != self.stack_index:
                    registers[k] = 0
            self.clear_below(pointer)
        state.registers = tuple(registers)
        self.sync()
        mine = self.variables(state)
        state.constraints = values.project(state.constraints, mine)
        state.forced = {v: level for v, level in state.forced.items() if self.lasts(v)}

    def blur(self, ways: Sequence[Sym] = ()) -> None:
        """Forget what old answers were, where too many states differ in nothing else; `ways` are still needed."""
        state = self.state
        old = {v for v in self.variables(state) if self.bits[v].turn != HELD}
        if not old:
            return
        outline = state.outline()
        self.variants[outline] = self.variants.get(outline, 0) + 1
        if self.variants[outline] <= MAX_VARIANTS:
            return
        kept = {v for one in (*state.answers, *ways) if isinstance(one, Sym) for v in one.vars}
        for address, value in sorted(state.cells.items()):
            self.put(address, self.blurred(value, kept, f"{address:04X}", address, 8))
        registers: list[Value] = []
        for name, held in zip(self.names, state.registers, strict=True):
            width = self.cpu.registers.get(name, 1)
            registers.append(held if isinstance(held, int) else self.blurred(held, kept, name, 0, width))
        state.registers = tuple(registers)
        self.sync()
        mine = self.variables(state) | kept
        state.constraints = values.project(state.constraints, mine)

    def blurred(self, value: Sym, kept: set[int], place: str, address: int, width: int) -> Sym:
        """Anything, in the place of a value made of old answers."""
        label = f"{place} as left at {self.state.pc:04X}"
        told = all(self.bits[v].turn == HELD or self.bits[v].name == label for v in value.vars)
        if told or not kept.isdisjoint(value.vars):
            return value
        return values.byte_of(self.fresh(label, address, width))

    def sync(self) -> None:
        """Take the space's pages over into the state; forget unknown contents that were overwritten."""
        kinds = self.space.kinds
        self.state.pages = self.space.save()
        self.state.cells = {a: v for a, v in sorted(self.state.cells.items()) if kinds[a] & core.UNKNOWN}

    def clear_below(self, pointer: int) -> None:
        """Bytes below the stack pointer are as unknown as at the entry; those of known content there are kept."""
        low, high = self.cpu.below(pointer)
        start = self.space.start
        if self.space.is_written(low, high) or self.space.loaded.intersection((low // 256, (high - 1) // 256)):
            lost = low + (start[1, low:high] == core.UNKNOWN).nonzero()[0]
            self.space.cells[lost] = start[0, lost]
            self.space.kinds[lost] = core.UNKNOWN
            for address in set(lost.tolist()).intersection(self.state.cells):
                del self.state.cells[address]

    def lasts(self, variable: int) -> bool:
        """Whether a decided bit can be met again."""
        bit = self.bits[variable]
        if bit.turn != HELD or bit.kind is InputKind.ARGUMENT:
            return False
        if bit.kind is not InputKind.CELL:
            return True
        return bool(self.space.kinds[bit.address] & core.UNKNOWN) and bit.address not in self.state.cells

    def variables(self, state: State) -> set[int]:
        """The variables that the state depends on, or that can be met again."""
        held = [*state.registers, *state.cells.values(), *state.answers]
        mine = {v for value in held if isinstance(value, Sym) for v in value.vars}
        for one in state.constraints:
            mine.update(v for v in one.vars if self.lasts(v))
        return mine

    def freeze(self) -> State:
        """The state being worked on, as one to be kept."""
        return self.state.copy()

    def constrain(self, state: State, condition: Value) -> State | None:
        """The state where a condition holds; None where it cannot."""
        found = values.constrain(state.constraints, condition)
        if found is None:
            return None
        constraints, forced = found
        registers, cells, answers, kept = state.registers, state.cells, state.answers, state.forced
        if forced:
            registers = tuple(v if isinstance(v, int) else values.substitute(v, forced) for v in registers)
            answers = tuple(values.substitute(value, forced) for value in answers)
            kept = {**kept, **{v: level for v, level in forced.items() if self.bits[v].turn == HELD}}
            pages, cells = dict(state.pages), {}
            for address, value in state.cells.items():
                known = values.substitute(value, forced)
                if isinstance(known, Sym):
                    cells[address] = known
                else:
                    _set_cell(pages, address, known, self.space)
            return State(registers, pages, cells, constraints, kept, answers, state.pending)
        return State(registers, state.pages, cells, constraints, kept, answers, state.pending)

    def free_turn(self, kind: InputKind, place: int) -> int:
        """The lowest number for a read of this register that no living value uses."""
        used = {
            self.bits[v].turn
            for v in self.variables(self.state)
            if self.bits[v].kind is kind and self.bits[v].address == place
        }
        return next(k for k in range(len(used) + 1) if k not in used)

    def table(self, value: Value) -> ByteTable:
        """A byte as a table; cases that cannot be hold one that can."""
        if isinstance(value, int):
            return ByteTable.constant(value)
        one, _ = values.joined(self.state.constraints, value.vars)
        if one is not None:
            try:
                variables = values.union(value, one)
            except TooWideError:
                variables = value.vars
                one = None
            if one is not None:
                tab, mask = values.over(value, variables), values.over(one, variables) != 0
                outside = np.isin(np.arange(len(tab)), np.flatnonzero(mask), invert=True)
                shape = (2,) * len(variables)
                own = tuple(axis for axis, v in enumerate(reversed(variables)) if v not in value.vars)
                can = mask.reshape(shape).any(axis=own).ravel() if own else mask
                del outside
                allowed = value.tab[can]
                value = Sym(value.vars, np.where(can, value.tab, allowed[0]).astype(np.int32))
        return ByteTable(tuple(self.bits[v] for v in value.vars), tuple(value.tab.tolist()))


def _set_cell(pages: dict[int, tuple[bytes, bytes]], address: int, value: int, space: Space) -> None:
    number, offset = divmod(address, 256)
    contents, kinds = (bytearray(part) for part in pages.get(number) or space.start_page(number))
    contents[offset] = value
    kinds[offset] &= ~core.UNKNOWN & 0xFF
    pages[number] = (bytes(contents), bytes(kinds))
