"""Which registers and flags still matter at a place of the program: the others need not be told apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.program import _core as core

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu, Row
    from latchlore.program._memory import Cells

MAX_LOOKS = 64
DATA = -1  # a byte pushed by the code looked at
Stack = tuple[int, ...]


class Liveness:
    """Looks ahead from an instruction through known code, both ways at branches, into calls and out of them.

    What lies too far ahead, or behind code that is not known to stay as it is, counts as looked at: so a register
    that is not named is certainly set before anything looks at it.
    """

    def __init__(self, cpu: Cpu, cells: Cells) -> None:
        self.cpu, self.cells = cpu, cells
        self.names = frozenset(cpu.names[:-1])

    def live(self, pc: int, stack_pointer: int, base: int) -> frozenset[str]:
        """Names that matter at `pc`.  `base`: the stack pointer at the entry, above which the caller's bytes lie."""
        work: list[tuple[int, Stack, int, frozenset[str]]] = [(pc, (), stack_pointer, self.names)]
        seen: dict[tuple[int, Stack, int], frozenset[str]] = {}
        found: frozenset[str] = frozenset()
        looks = 0
        while work:
            at, stack, pointer, rest = work.pop()
            rest = rest - found
            known = seen.get((at, stack, pointer), frozenset())
            if not rest or rest <= known:
                continue
            seen[at, stack, pointer] = rest | known
            looks += 1
            if looks > MAX_LOOKS or len(stack) > 8:
                found = found | rest
                continue
            row = self._row(at)
            if row is None:
                continue  # a path that ends there
            found = found | (rest & row.print.reads)
            rest = rest - row.print.reads - row.print.writes
            followers = self._followers(row, at, stack, pointer, base)
            if followers is None:
                found = found | rest
                continue
            work.extend((*follower, rest) for follower in followers)
        return found

    def _row(self, at: int) -> Row | None:
        if self.cells[self.cpu.space + at] & (core.UNKNOWN | core.DEVICE):
            return None
        return self.cpu.rows.get(int(self.cells[at]))

    def _operand(self, at: int) -> int:
        return int(self.cells[(at + 1) & 0xFFFF]) | int(self.cells[(at + 2) & 0xFFFF]) << 8

    def _followers(
        self, row: Row, at: int, stack: Stack, pointer: int, base: int
    ) -> list[tuple[int, Stack, int]] | None:
        """(place, stack, pointer) of what runs next; None where that cannot be told."""
        after = (at + row.length) & 0xFFFF
        for k in range(1, row.length):
            if self.cells[self.cpu.space + ((at + k) & 0xFFFF)] & (core.UNKNOWN | core.DEVICE):
                return None
        if row.stores and not self.cells[self.cpu.space + at] & core.FIXED and "," in row.mode:
            return None  # code in RAM that may be written to
        match row.flow:
            case "branch":
                offset = int(self.cells[(at + 1) & 0xFFFF])
                return [(after, stack, pointer), ((after + offset - ((offset & 0x80) << 1)) & 0xFFFF, stack, pointer)]
            case "jump":
                return [(self._operand(at), stack, pointer)]
            case "call":
                return [(self._operand(at), (*stack, after), pointer)]
            case "return" if row.name == "RTS":
                return self._return(stack, pointer, base)
            case "next":
                return self._next(row, after, stack, pointer)
        return None

    def _return(self, stack: Stack, pointer: int, base: int) -> list[tuple[int, Stack, int]] | None:
        if stack:
            return None if stack[-1] == DATA else [(stack[-1], stack[:-1], pointer)]
        cells = [0x100 | ((pointer + k) & 0xFF) for k in (1, 2)]
        if any(self.cells[self.cpu.space + cell] & (core.UNKNOWN | core.DEVICE) for cell in cells):
            return [] if pointer == base else None
        low, high = (int(self.cells[cell]) for cell in cells)
        return [(((high << 8 | low) + 1) & 0xFFFF, stack, (pointer + 2) & 0xFF)]

    def _next(self, row: Row, after: int, stack: Stack, pointer: int) -> list[tuple[int, Stack, int]] | None:
        if row.name in ("PHA", "PHP"):
            return [(after, (*stack, DATA), pointer)]
        if row.name in ("PLA", "PLP"):
            if stack:
                return [(after, stack[:-1], pointer)] if stack[-1] == DATA else None
            return [(after, stack, (pointer + 1) & 0xFF)]
        return None if row.name == "TXS" else [(after, stack, pointer)]
