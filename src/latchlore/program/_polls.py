"""Polling loops that give up after a number of reads, or count while they wait.

Such a loop never comes back to the same state, so it would be unrolled turn by turn.  Instead the turns are run at
full speed with one answer held, once to find how often the loop reads, then again to note which registers and cells
change from turn to turn and which values they take.  Two ways lead on: the value fits after an unknown number of
reads (what changes is unknown within the values noted), or it never did.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import HELD, InputBit, InputKind, Read
from latchlore.program import _core as core
from latchlore.program import _values as values
from latchlore.program._graph import Edge, Polling, polled_values
from latchlore.program._image import SPACE
from latchlore.program._state import State
from latchlore.program._values import Sym, TooWideError, Value

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from latchlore.program._explore import Explorer

LEAST_POLLS = 3
MAX_INSTRUCTIONS = 1 << 27
MAX_WATCHED = 64


@dataclass(frozen=True, slots=True)
class Replay:
    """The turns of a loop with one answer held.

    `polls`: reads until it gave up, None where it did not.  `registers`, `contents`: at the last read.  `seen`: row
    by row the values of the registers and then of the watched cells at every read.  `unknown`: the watched cells that
    no turn has written.  `written`: the cells written up to the last read.
    """

    polls: int | None
    registers: list[int]
    contents: bytes
    seen: npt.NDArray[np.uint8]
    period: tuple[int, int]
    taint: int
    unknown: frozenset[int]
    written: tuple[int, ...]


def count_polls(explorer: Explorer, at: int, target: int) -> None:
    """Notice that the read just met, at the end of node `at`, is one more turn of a loop that began further up."""
    try:
        found = _beginning(explorer, at, target)
    except TooWideError:
        return  # no simple condition leads round: the turns stay unrolled
    if found is None:
        return
    start, condition = found
    head = explorer.nodes[start]
    assert head.state is not None
    address = _address(explorer, at)
    _, held = polled_values(condition, explorer.bits)
    answers = sorted({held[0], max(held, key=lambda v: ((v ^ held[0]).bit_count(), v))})
    resume = explorer.freeze()
    replays = _replays(explorer, head.state, address, answers)
    if replays is not None:
        watched, runs = replays
        with contextlib.suppress(TooWideError):  # then the turns stay unrolled
            _rewrite(explorer, start, condition, watched, runs)
    explorer.load(resume)


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
    if not same or not set(condition.vars) <= mine or head.read != explorer.nodes[target].read:
        return None
    return here, condition


def _replays(
    explorer: Explorer, state: State, address: int, answers: list[int]
) -> tuple[list[int], list[Replay]] | None:
    """The loop run with each answer; None where it is no loop after all, or not the same one with each."""
    guess = explorer.loops.get(state.pc)
    for guessed in (True, False):
        if guessed and guess is None:
            continue
        found = guess if guessed else _measure(explorer, state, address, answers)
        if found is None:
            return None
        polls, watched = found
        runs = [_replay(explorer, state, address, answer, watched, polls) for answer in answers]
        whole = [run for run in runs if run is not None]
        if len(whole) == len(runs) and all(set(run.written) <= set(watched) | {address} for run in whole):
            explorer.loops[state.pc] = found
            break
    else:
        return None
    if len({(run.polls, run.period, run.taint, run.unknown) for run in whole}) > 1:
        return None
    return list(watched), whole


def _measure(
    explorer: Explorer, state: State, address: int, answers: list[int]
) -> tuple[int | None, tuple[int, ...]] | None:
    """How often the loop reads, and the cells that it writes."""
    first = _replay(explorer, state, address, answers[0], (), None)
    if first is None:
        return None
    second = _replay(explorer, state, address, answers[-1], (), first.polls)
    if second is None or len(second.written) > MAX_WATCHED:
        return None
    return first.polls, tuple(a for a in second.written if a != address)


def _replay(
    explorer: Explorer, state: State, address: int, answer: int, watched: Sequence[int], polls: int | None
) -> Replay | None:
    """One run; to the exit where `polls` is None, else to the last read and from there to the exit."""
    explorer.load(state)
    space, book = explorer.space, explorer.book
    same = (
        [address]
        if address < SPACE
        else [p for p in range(SPACE, space.size) if not (p ^ address) & explorer.bounds.port_mask]
    )
    kept = int(space.kinds[address])
    space.cells[same], space.kinds[same] = answer, core.COUNTED
    num = len(explorer.names) - 1
    watch = np.array(watched, dtype=np.int64)
    seen = np.zeros((num + len(watched), 256), dtype=np.uint8)
    book[: core.ANSWERS] = 0
    regs = explorer.regs
    taint = 0
    for k, value in enumerate(state.registers):
        regs[k] = value if isinstance(value, int) else 0
        taint |= 0 if isinstance(value, int) else 1 << k
    book[core.WANTED], book[core.SITE], book[core.TAINT] = -1, state.pc, taint
    book[core.STOP_ON_WRITE], book[core.LEAST_PERIOD] = 1, 1 << 60
    budget = min(MAX_INSTRUCTIONS, explorer.bounds.instructions)
    book[core.LEFT] = budget
    book[core.STOP_VISIT] = -1 if polls is None else polls - 1
    explorer.core(regs, space.cells, book, watch, seen)
    visits, counted = int(book[core.VISITS]), int(book[core.COUNT])
    registers, contents = regs.tolist(), space.cells[: space.size].tobytes()
    period = (int(book[core.LEAST_PERIOD]), int(book[core.MOST_PERIOD]))
    at_read = int(book[core.TAINT])
    unknown = frozenset(cell for cell in watched if space.kinds[cell] & core.UNKNOWN)
    kinds = space.kinds
    written = tuple(a for a in np.flatnonzero(space.written).tolist() if not kinds[a] & (core.DEVICE | core.FIXED))
    if polls is not None:
        book[core.STOP_VISIT], book[core.LEFT] = -1, budget
        explorer.core(regs, space.cells, book, watch, seen)
        if int(book[core.VISITS]) != polls or int(book[core.COUNT]) != polls:
            return None
        visits = counted = polls
    space.kinds[same], space.cells[same] = kept, 0
    endless = polls is None and int(book[core.LEFT]) == 0
    if visits != counted or visits < LEAST_POLLS:
        return None
    return Replay(None if endless else visits, registers, contents, seen, period, at_read, unknown, written)


def _rewrite(explorer: Explorer, start: int, loop: Sym, watched: list[int], runs: list[Replay]) -> None:
    """Make the read in front of node `start` a loop with two ways out."""
    head = explorer.nodes[start]
    assert head.state is not None
    if runs[0].polls is None:
        return
    ready = loop ^ 1
    assert isinstance(ready, Sym)
    late = _at_last_read(explorer, head.state, loop, watched, runs)
    early = _at_some_read(explorer, head.state, ready, watched, runs)
    if late is None or early is None:
        return
    mask, until = polled_values(ready, explorer.bits)
    for child in explorer.descendants(start):
        explorer.nodes[child].abandoned = True
    head.polling = Polling(mask, tuple(until), runs[0].period, runs[0].polls)
    head.edges = [
        Edge(ready, explorer.add_node(early, parent=start), (0, 0)),
        Edge(loop, explorer.add_node(late, parent=start), (0, 0)),
    ]


def _at_last_read(explorer: Explorer, state: State, loop: Sym, watched: list[int], runs: list[Replay]) -> State | None:
    """The state at the read after which the loop gives up."""
    explorer.load(state)
    first = runs[0]
    registers: list[Value] = []
    for k, name in enumerate(explorer.names[:-1]):
        if first.taint >> k & 1:
            registers.append(state.registers[k])
            continue
        alike = len({run.registers[k] for run in runs}) == 1
        registers.append(first.registers[k] if alike else _counter(explorer, state, None, name, None))
    for cell in watched:
        if cell in first.unknown:
            continue
        alike = len({run.contents[cell] for run in runs}) == 1
        explorer.put(cell, first.contents[cell] if alike else _counter(explorer, state, cell, "", None))
    return _settled(explorer, state, registers, loop)


def _at_some_read(explorer: Explorer, state: State, ready: Sym, watched: list[int], runs: list[Replay]) -> State | None:
    """The state at the read whose value fits: what changes from turn to turn is one of the values noted."""
    explorer.load(state)
    num = len(explorer.names) - 1
    registers: list[Value] = []
    for k, name in enumerate(explorer.names[:-1]):
        value = state.registers[k]
        if isinstance(value, int) and k not in explorer.volatile:
            value = _noted(explorer, state, [run.seen[k] for run in runs], None, name, [r.registers[k] for r in runs])
        elif not runs[0].taint >> k & 1:
            return None
        registers.append(value)
    for i, cell in enumerate(watched):
        if cell in runs[0].unknown:
            continue
        if state_is_unknown(explorer, cell):
            explorer.put(cell, _counter(explorer, state, cell, "", None))
            continue
        rows = [run.seen[num + i] for run in runs]
        explorer.put(cell, _noted(explorer, state, rows, cell, "", [run.contents[cell] for run in runs]))
    return _settled(explorer, state, registers, ready)


def state_is_unknown(explorer: Explorer, cell: int) -> bool:
    """Whether the cell is unknown in the state being worked on."""
    return bool(explorer.space.kinds[cell] & core.UNKNOWN)


def _noted(
    explorer: Explorer,
    state: State,
    rows: list[npt.NDArray[np.uint8]],
    cell: int | None,
    name: str,
    last: list[int],
) -> Value:
    """One value, or an unknown one of those noted; of any at all where they depend on the answer."""
    sets = [frozenset(np.flatnonzero(row).tolist()) | {one & 0xFF} for row, one in zip(rows, last, strict=True)]
    if len(set(sets)) == 1 and len(sets[0]) == 1:
        return last[0]
    return _counter(explorer, state, cell, name, sets[0] if len(set(sets)) == 1 else None)


def _counter(explorer: Explorer, state: State, cell: int | None, name: str, among: frozenset[int] | None) -> Value:
    """An unknown byte (or flag) that the loop leaves behind, one of some values."""
    place = name or f"{cell:04X}"
    width = explorer.cpu.registers.get(name, 1) if name else 8
    label = f"{place} as the loop at {state.pc:04X} leaves it"
    numbers = [explorer.number(InputBit(InputKind.CELL, cell or 0, k, 0, label)) for k in range(width)]
    value: Value = values.byte_of(numbers)
    if among is not None and isinstance(value, Sym) and len(among) < 1 << width:
        fits = values.make(value.vars, np.isin(value.tab, sorted(among)).astype(np.int32))
        explorer.state.constraints = tuple(
            one for one in explorer.state.constraints if not set(one.vars) & set(numbers)
        )
        found = values.constrain(explorer.state.constraints, fits)
        assert found is not None
        explorer.state.constraints, forced = found
        value = values.substitute(value, forced)
    return value


def _settled(explorer: Explorer, state: State, registers: list[Value], condition: Sym) -> State | None:
    for k in explorer.volatile:
        registers[k] = 0
    explorer.state.registers = (*registers, state.pc)
    explorer.state.answers = state.answers
    explorer.state.pending = state.pending
    explorer.sync()
    return explorer.constrain(explorer.freeze(), condition)
