"""Polling loops that give up after a number of reads, or count while they wait.

Such a loop never comes back to the same state, so it would be unrolled turn by turn.  Instead the turns are run at
full speed with one answer held, once to find how often the loop reads, then again to note which registers and cells
change from turn to turn and which values they take (`_replay.py`); and it is shown that all other waiting answers lead
the same way (`_turns.py`).  Two ways lead on: the value fits after an unknown number of reads (what changes is unknown
within the values noted), or it never did.  What cannot be shown stays unrolled.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import HELD, InputKind, Read
from latchlore.program import _core as core
from latchlore.program import _values as values
from latchlore.program._graph import Edge, Polling, polled_values
from latchlore.program._image import SPACE
from latchlore.program._replay import Replay, measure, replay
from latchlore.program._turns import Alike, Loop, show_alike
from latchlore.program._values import Sym, TooWideError, Value

if TYPE_CHECKING:
    import numpy.typing as npt

    from latchlore.program._explore import Explorer
    from latchlore.program._graph import Growing
    from latchlore.program._replay import Measure
    from latchlore.program._state import State

MAX_KNOWN = 32  # findings about one loop that are kept
MAX_TRIES = 4  # of one read, to find its turns alike


def count_polls(explorer: Explorer, at: int, target: int) -> None:
    """Notice that the read just met, at the end of node `at`, is one more turn of a loop that began further up."""
    try:
        found = _beginning(explorer, at, target)
    except TooWideError:
        return  # no simple condition leads round: the turns stay unrolled
    if found is None:
        return
    start, waiting = found
    head = explorer.nodes[start].state
    assert head is not None
    mask, held = polled_values(waiting, explorer.bits)
    kind = (head.pc, mask, tuple(held))
    if explorer.tries.get(kind, 0) >= MAX_TRIES:
        return
    resume = explorer.freeze()
    with contextlib.suppress(TooWideError):  # then the turns stay unrolled
        if not _shorten(explorer, start, head, waiting, _address(explorer, at)):
            explorer.tries[kind] = explorer.tries.get(kind, 0) + 1
    explorer.load(resume)


def _shorten(explorer: Explorer, start: int, head: State, waiting: Sym, address: int) -> bool:
    """Put the loop in the place of its turns, if they are alike for all waiting answers."""
    mask, held = polled_values(waiting, explorer.bits)
    explorer.load(head)
    context = (head.pc, address, mask, tuple(held), *_signature(explorer, head))
    for known in explorer.turns.get(context, ()):
        if known.fits(explorer):
            return _rewrite(explorer, start, waiting, _Turns(explorer, head, known.measured, known.run, known.alike))
    found = _look(explorer, head, waiting, address, held[0])
    if found is None:
        return False
    measured, run, alike = found
    explorer.load(head)
    places = np.array(sorted(measured.met | run.covered), dtype=np.int64)
    known = Known(measured, run, alike, places, _content(explorer, places))
    kept = explorer.turns.setdefault(context, [])
    if len(kept) < MAX_KNOWN:
        kept.append(known)
        place = explorer.waits.setdefault((head.pc, address), [])
        if (mask, tuple(held)) not in place:
            place.append((mask, tuple(held)))
    return _rewrite(explorer, start, waiting, _Turns(explorer, head, measured, run, alike))


def use_known(explorer: Explorer, number: int, address: int) -> None:
    """Make a new read a loop at once where the same loop, begun in the same way, is known already."""
    node = explorer.nodes[number]
    head = node.state
    if head is None or len(head.answers) != 1:
        return
    for mask, held in explorer.waits.get((head.pc, address), ()):
        masked = head.answers[0] & mask
        waiting = values.among(masked, held)
        if not isinstance(waiting, Sym) or not isinstance(masked, Sym):
            continue
        mine = {v for v in node.read if explorer.bits[v].turn != HELD}
        if not set(waiting.vars) <= mine or polled_values(waiting, explorer.bits) != (mask, list(held)):
            continue
        explorer.load(head)
        for known in explorer.turns.get((head.pc, address, mask, held, *_signature(explorer, head)), ()):
            if known.fits(explorer):
                turns = _Turns(explorer, head, known.measured, known.run, known.alike)
                node.expanded = _rewrite(explorer, number, waiting, turns)
                return


@dataclass(frozen=True, slots=True)
class Known:
    """What was found out about a loop, and the cells on which it depends."""

    measured: Measure
    run: Replay
    alike: Alike
    places: npt.NDArray[np.int64]
    content: bytes

    def fits(self, explorer: Explorer) -> bool:
        """Whether the cells hold the same now."""
        return _content(explorer, self.places) == self.content


def _content(explorer: Explorer, places: npt.NDArray[np.int64]) -> bytes:
    space = explorer.space
    content: bytes = space.cells[places].tobytes() + space.kinds[places].tobytes()
    return content


def _signature(explorer: Explorer, state: State) -> tuple[object, ...]:
    """The registers as a replay sees them, and which of them matter."""
    pointer = state.registers[explorer.stack_index]
    live = explorer.liveness.live(state.pc, pointer, explorer.base) if isinstance(pointer, int) else -1
    return live, tuple(value if isinstance(value, int) else None for value in state.registers)


def _look(
    explorer: Explorer, head: State, waiting: Sym, address: int, answer: int
) -> tuple[Measure, Replay, Alike] | None:
    """Run the loop, and show that its turns are alike."""
    for way in ("known", "whole", "frame"):
        if way == "known":
            measured = explorer.loops.get(head.pc)
        else:
            measured = measure(explorer, head, address, answer, in_frame=way == "frame")
        if measured is None:
            continue
        run = replay(explorer, head, address, answer, measured, is_guess=way == "known")
        if run is None:
            continue
        explorer.load(head)
        alike = show_alike(explorer, Loop(head, address, waiting, run.covered, frozenset(run.written)))
        if alike is None:
            continue
        if not measured.is_endless:
            explorer.loops[head.pc] = measured
        return measured, run, alike
    return None


def _address(explorer: Explorer, at: int) -> int:
    event = explorer.nodes[at].events[-1]
    assert isinstance(event, Read)
    return event.address + (SPACE if event.kind is InputKind.PORT else 0)


def _beginning(explorer: Explorer, at: int, target: int) -> tuple[int, Sym] | None:
    """The read at the same place further up, with nothing but choices between, and the condition of the way down."""
    goal = explorer.nodes[target].state
    if goal is None or len(goal.answers) != 1 or len(explorer.nodes[at].events) != 1:
        return None
    condition: Value = 1
    child, here = at, explorer.nodes[at].parent
    while here >= 0:
        node = explorer.nodes[here]
        for edge in node.edges:
            if edge.target == child and edge.condition is not None:
                condition = edge.condition & condition
        if node.read and not node.events:
            break
        if node.events:
            return None
        child, here = here, node.parent
    else:
        return None
    head = explorer.nodes[here]
    if here == target or head.state is None or head.polling is not None or not isinstance(condition, Sym):
        return None
    same = head.state.pc == goal.pc and len(head.state.answers) == 1
    mine = {v for v in head.read if explorer.bits[v].turn != HELD}
    if not same or not set(condition.vars) <= mine or not _is_same_register(explorer, head, explorer.nodes[target]):
        return None
    return here, condition


def _is_same_register(explorer: Explorer, first: Growing, second: Growing) -> bool:
    """Whether two nodes start behind a read of one register."""

    def bits(node: Growing) -> list[tuple[InputKind, int, int, bool]]:
        found = (explorer.bits[v] for v in node.read)
        return [(bit.kind, bit.address, bit.bit, bit.turn == HELD) for bit in found]

    return bits(first) == bits(second)


@lru_cache(maxsize=256)
def _members(among: frozenset[int], width: int) -> values.Table:
    """A table that holds for some of the values of so many bits."""
    table = np.zeros(1 << width, dtype=np.int32)
    table[sorted(among)] = 1
    return table


class _Turns:
    """What a loop leaves behind at one of its reads."""

    def __init__(self, explorer: Explorer, state: State, measured: Measure, run: Replay, alike: Alike) -> None:
        self.explorer, self.state, self.measured, self.run, self.alike = explorer, state, measured, run, alike

    def at_last_read(self, waiting: Sym) -> State | None:
        """The state at the read after which the loop gives up."""
        explorer, alike = self.explorer, self.alike
        explorer.load(self.state)
        registers: list[Value] = []
        for k, name in enumerate(explorer.names[:-1]):
            if k in alike.dead:
                registers.append(0)
            elif k in alike.kept:
                registers.append(self.state.registers[k])
            else:
                registers.append(self.left(None, name) if k in alike.loose else self.run.registers[k])
        for cell in self.run.written:
            explorer.put(cell, self.left(cell, "") if cell in alike.loose_cells else self.run.contents[cell])
        return self.settled(registers, waiting)

    def at_some_read(self, ready: Sym) -> State | None:
        """The state at the read whose value fits: what changes from turn to turn is one of the values noted."""
        explorer, alike = self.explorer, self.alike
        explorer.load(self.state)
        registers: list[Value] = []
        for k, name in enumerate(explorer.names[:-1]):
            before = self.state.registers[k]
            if k in alike.dead:
                registers.append(0)
            elif k in alike.loose:
                registers.append(self.left(None, name))
            elif k in alike.changing:
                is_narrow = explorer.cpu.registers.get(name, 1) <= 8
                noted = self.noted(self.run.seen[k], self.run.registers[k]) if is_narrow else None
                registers.append(self.left(None, name, noted))
            else:
                registers.append(before)
        num = len(explorer.names) - 1
        for cell in self.run.written:
            row = self.run.seen[num + self.measured.cells.index(cell)]
            loose = cell in alike.loose_cells or explorer.space.kinds[cell] & core.UNKNOWN
            noted = None if loose else self.noted(row, self.run.contents[cell]) | {int(explorer.space.cells[cell])}
            explorer.put(cell, self.left(cell, "", noted))
        return self.settled(registers, ready)

    def noted(self, row: npt.NDArray[np.uint8], last: int) -> frozenset[int]:
        """The values that a register or cell took."""
        return frozenset(row.nonzero()[0].tolist()) | {last}

    def left(self, cell: int | None, name: str, among: frozenset[int] | None = None) -> Value:
        """An unknown byte (or flag) that the loop leaves behind, one of some values."""
        if among is not None and len(among) == 1:
            return next(iter(among))
        explorer = self.explorer
        width = explorer.cpu.registers.get(name, 1) if name else 8
        label = f"{name or f'{cell:04X}'} as the loop at {self.state.pc:04X} leaves it"
        numbers = explorer.fresh(label, cell or 0, width)
        value: Value = values.byte_of(numbers)
        if among is not None and isinstance(value, Sym) and len(among) < 1 << width:
            fits = values.make(value.vars, _members(among, width))
            found = values.constrain(explorer.state.constraints, fits)
            assert found is not None
            explorer.state.constraints, forced = found
            value = values.substitute(value, forced)
        return value

    def settled(self, registers: list[Value], condition: Sym) -> State | None:
        """The state put together."""
        explorer, state = self.explorer, self.state
        explorer.state.registers = (*registers, state.pc)
        explorer.state.answers = state.answers
        explorer.state.pending = state.pending
        explorer.sync()
        return explorer.constrain(explorer.freeze(), condition)


def _rewrite(explorer: Explorer, start: int, waiting: Sym, turns: _Turns) -> bool:
    """Make the read in front of node `start` a loop with two ways out."""
    head = explorer.nodes[start]
    ready = waiting ^ 1
    assert isinstance(ready, Sym)
    early = turns.at_some_read(ready)
    late = None if turns.measured.is_endless else turns.at_last_read(waiting)
    if early is None or (late is None and not turns.measured.is_endless):
        return False
    mask, until = polled_values(ready, explorer.bits)
    for child in explorer.descendants(start):
        explorer.nodes[child].abandoned = True
    polls = None if turns.measured.is_endless else turns.measured.polls
    head.polling = Polling(mask, tuple(until), turns.run.period, polls)
    head.edges = [Edge(ready, explorer.add_node(early, parent=start), (0, 0))]
    if late is not None:
        head.edges.append(Edge(waiting, explorer.add_node(late, parent=start), (0, 0)))
    else:
        head.edges[0].condition = None
    return True
