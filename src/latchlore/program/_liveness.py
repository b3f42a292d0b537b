"""Which registers and flags still matter at a place of the program: the others need not be told apart."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.program import _core as core

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu, Row
    from latchlore.program._memory import Cells

MAX_LOOKS = 64
MAX_DEPTH = 8
COMPUTED = (",", "indexed", "indirect")  # in the names of modes whose address comes from a register or a cell
NOWHERE, ANYWHERE = -1, -2
DATA = -1  # a byte pushed by the code looked at
Stack = tuple[int, ...]
Follower = tuple[int, Stack, int]


class Look(NamedTuple):
    """What one instruction means to a look ahead: masks of names, how it goes on, and whether it can change."""

    row: Row
    reads: int
    kept: int
    after: int
    target: int
    flow: str
    is_fixed: bool
    cells: tuple[int, ...]
    store: int  # the cell that it writes; NOWHERE: none but the stack's, ANYWHERE: not known


class Liveness:
    """Looks ahead from an instruction through known code, both ways at branches, into calls and out of them.

    What lies too far ahead, or behind code that is not known to stay as it is, counts as looked at: so a register
    that is not named is certainly set before anything looks at it.
    """

    def __init__(self, cpu: Cpu, cells: Cells) -> None:
        self.cpu, self.cells = cpu, cells
        self.all = (1 << (len(cpu.names) - 1)) - 1
        numbers = {name: 1 << k for k, name in enumerate(cpu.names[:-1])}
        self.masks = {
            code: (sum(numbers[n] for n in row.print.reads), sum(numbers[n] for n in row.print.writes))
            for code, row in cpu.rows.items()
        }
        self.looks: dict[int, Look] = {}
        self.answers: dict[tuple[int, int, bytes, bytes], int] = {}
        self.is_fixed = True
        self.keeps = False  # whether the registers matter to the caller

    def live(self, pc: int, pointer: int, base: int) -> int:
        """Mask of the names that matter at `pc`, in the order of `Cpu.names`.

        `base`: the stack pointer at the entry, above which the caller's bytes lie.
        """
        first = self.cpu.return_cells(pointer)[0]
        stack = self.cells[first : first + 8].tobytes()
        kinds = self.cells[self.cpu.space + first : self.cpu.space + first + 8].tobytes()
        key = (pc, pointer, stack, kinds)
        if key in self.answers:
            return self.answers[key]
        self.is_fixed = True
        found = self._search(pc, pointer, base)
        if self.is_fixed:
            self.answers[key] = found
        return found

    def _search(self, pc: int, pointer: int, base: int) -> int:
        work: list[tuple[int, Stack, int, int]] = [(pc, (), pointer, self.all)]
        seen: dict[Follower, int] = {}
        found = looks = 0
        stores: set[int] = set()
        soft: set[int] = set()  # code that can be written to
        while work:
            at, stack, top, rest = work.pop()
            rest &= ~found
            spot = (at, stack, top)
            known = seen.get(spot, 0)
            if not rest & ~known:
                continue
            seen[spot] = rest | known
            looks += 1
            if looks > MAX_LOOKS or len(stack) > MAX_DEPTH or top - pointer > 4:
                found |= rest
                continue
            look = self._look(at)
            if look is None:
                if not self._ends(at):
                    found |= rest
                continue
            stores.add(look.store)
            if not look.is_fixed:
                soft.update(look.cells)
            found |= rest & look.reads
            rest &= look.kept
            if not rest:
                continue
            followers = self._followers(look, stack, top, base)
            if followers is None:
                found |= rest
                continue
            for place, pushed, moved in followers:
                work.append((place, pushed, moved, rest))
        if soft and (ANYWHERE in stores or soft & stores):
            return self.all  # the code may be another one by then
        return found

    def _ends(self, at: int) -> bool:
        """Whether a path certainly ends at a place without code: others may be written before it comes there."""
        return bool(self.cells[self.cpu.space + at] & (core.DEVICE | core.FIXED))

    def _look(self, at: int) -> Look | None:
        known = self.looks.get(at)
        if known is not None:
            return known
        kinds = self.cells[self.cpu.space :]
        if kinds[at] & (core.UNKNOWN | core.DEVICE):
            self.is_fixed = False
            return None
        row = self.cpu.rows.get(self.cpu.code_at(lambda place: int(self.cells[place]), at))
        if row is None:
            self.is_fixed = False
            return None
        length = self.cpu.length(lambda place: int(self.cells[place]), at)
        places = [(at + k) & 0xFFFF for k in range(length)]
        fixed = all(kinds[place] & core.FIXED for place in places)
        flow = row.flow
        if any(kinds[place] & (core.UNKNOWN | core.DEVICE) for place in places):
            flow = "unknown"
        after = (at + length) & 0xFFFF
        target = self.cpu.target(row, lambda place: int(self.cells[place]), at)
        if flow == "repeat":
            target = at
        elif target is None:
            target = after
            if flow == "call":
                flow = "unknown"  # to an address in a register
        reads, writes = self.masks[row.code]
        store = self._store(row, at, length)
        look = Look(row, reads, self.all & ~(reads | writes), after, target, flow, fixed, tuple(places), store)
        if fixed:
            self.looks[at] = look
        else:
            self.is_fixed = False
        return look

    def _store(self, row: Row, at: int, length: int) -> int:
        """The cell that an instruction writes, the stack left out."""
        if not row.stores or row.pushes or row.flow in ("call", "call if", "restart", "interrupt"):
            return NOWHERE
        low, high = (int(self.cells[(at + k) & 0xFFFF]) for k in (1, 2))
        if any(mark in row.mode for mark in COMPUTED) or length not in (2, 3):
            return ANYWHERE
        if length == 2:
            return low if self.cpu.stack_page else ANYWHERE
        return low << 8 | high if self.cpu.is_high_first else high << 8 | low

    def _followers(self, look: Look, stack: Stack, top: int, base: int) -> list[Follower] | None:
        """(place, stack, pointer) of what runs next; None where that cannot be told."""
        match look.flow:
            case "next" | "refresh":
                return self._next(look, stack, top)
            case "branch" | "repeat":
                return [(look.after, stack, top), (look.target, stack, top)]
            case "halt":
                return []
            case "jump":
                return [(look.target, stack, top)]
            case "call" | "restart":
                return [(look.target, (*stack, look.after), top)]
            case "call if":
                return [(look.after, stack, top), (look.target, (*stack, look.after), top)]
            case "return":
                return self._return_behind(look, stack, top, base)
            case "return if":
                back = self._return(stack, top, base)
                return None if back is None else [(look.after, stack, top), *back]
        return None

    def _return_behind(self, look: Look, stack: Stack, top: int, base: int) -> list[Follower] | None:
        """A return that may first take other bytes."""
        if not look.row.pushes:
            return self._return(stack, top, base)
        found = self._next(look, stack, top)
        return None if found is None else self._return(found[0][1], found[0][2], base)

    def _return(self, stack: Stack, top: int, base: int) -> list[Follower] | None:
        if stack:
            return None if stack[-1] == DATA else [(stack[-1], stack[:-1], top)]
        cells = self.cpu.return_cells(top)
        if any(self.cells[self.cpu.space + cell] & (core.UNKNOWN | core.DEVICE) for cell in cells):
            return [] if top == base and not self.keeps else None
        low, high = (int(self.cells[cell]) for cell in cells)
        return [(((high << 8 | low) + self.cpu.call_skew) & 0xFFFF, stack, self.cpu.popped(top, 2))]

    def _next(self, look: Look, stack: Stack, top: int) -> list[Follower] | None:
        pushes = look.row.pushes
        if pushes > 0:
            return [(look.after, (*stack, *[DATA] * pushes), top)]
        if pushes < 0:
            if not stack:
                return [(look.after, stack, self.cpu.popped(top, -pushes))]
            taken = stack[pushes:]
            return [(look.after, stack[:pushes], top)] if taken == (DATA,) * -pushes else None
        return None if self.cpu.stack in look.row.print.may_write else [(look.after, stack, top)]
