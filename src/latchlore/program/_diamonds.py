"""Branches that only pick a value: both arms meet again soon, and the value becomes a table.

Without this, each of them would double the paths.  The cycles of the two arms become a range.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.program import _core as core
from latchlore.program import _values as values
from latchlore.program._state import State
from latchlore.program._symbolic import ForkError, NeedsReadError, StopError
from latchlore.program._values import Sym, TooWideError, Value

if TYPE_CHECKING:
    from latchlore.program._explore import Explorer

MAX_STEPS = 14
MAX_DEPTH = 3
Spot = tuple[int, object]  # PC and stack pointer


class NoMeetingError(Exception):
    """An arm touches a device, ends, or goes too far."""


def fold(explorer: Explorer, ways: list[Sym], depth: int = 0) -> bool:
    """Fold the fork that the explorer stands at; False (and nothing changed) where its arms do not meet."""
    if len(ways) != 2 or depth >= MAX_DEPTH:
        return False
    explorer.sync()
    before = explorer.freeze()
    try:
        first, second = (explorer.constrain(before, way) for way in ways)
        if first is None or second is None:
            return False
        spots = _walk(explorer, first, depth, None)
        meeting = _walk(explorer, second, depth, set(spots))[-1]
        if meeting not in spots:
            raise NoMeetingError
        there = explorer.freeze()
        _walk(explorer, first, depth, {meeting})
        _merge(explorer, before, ways[0], explorer.freeze(), there)
    except (NoMeetingError, TooWideError, NeedsReadError, StopError):
        explorer.load(before)
        return False
    return True


def _walk(explorer: Explorer, start: State, depth: int, until: set[Spot] | None) -> list[Spot]:
    """Step through an arm to one of the spots (or as far as it goes); the spots passed."""
    explorer.load(start)
    passed: list[Spot] = []
    for _ in range(MAX_STEPS):
        try:
            outcome = explorer.step()
            if explorer.commit(outcome):
                raise NoMeetingError
            if explorer.state.pc == explorer.site:
                raise NoMeetingError  # one more turn of a polling loop
            pending = explorer.state.pending
            explorer.state.pending = (pending[0] + outcome.cycles[0], pending[1] + outcome.cycles[1])
        except ForkError as fork:
            if not fold(explorer, fork.ways, depth + 1):
                if until is None and passed:
                    break
                raise NoMeetingError from None
        except (NoMeetingError, NeedsReadError, StopError, TooWideError):
            if until is None and passed:
                break  # the other arm may meet this one before here
            raise
        pointer = explorer.state.registers[explorer.stack_index]
        if isinstance(pointer, Sym):
            raise NoMeetingError
        passed.append((explorer.state.pc, pointer))
        if until is not None and passed[-1] in until:
            break
    explorer.sync()
    return passed or [(-1, 0)]


def _merge(explorer: Explorer, before: State, condition: Sym, first: State, second: State) -> None:
    """Put the two arms together behind the meeting; the explorer stands at the first one's end."""
    pointer = first.registers[explorer.stack_index]
    assert isinstance(pointer, int)
    live = explorer.liveness.live(first.pc, pointer, explorer.base)
    registers: list[Value] = []
    for k in range(len(explorer.names) - 1):
        dead = (not live >> k & 1 and k != explorer.stack_index) or k in explorer.volatile
        registers.append(0 if dead else _either(condition, first.registers[k], second.registers[k]))
    registers.append(first.pc)
    changed = {
        address: _either(condition, _content(explorer, first, address), _content(explorer, second, address))
        for address in _differing(explorer, first, second)
    }
    pending = (min(first.pending[0], second.pending[0]), max(first.pending[1], second.pending[1]))
    cells = {a: v for a, v in first.cells.items() if a not in changed}
    explorer.load(State(tuple(registers), first.pages, cells, before.constraints, before.forced, (), pending))
    for address, value in changed.items():
        explorer.put(address, value)


def _either(condition: Sym, yes: Value, no: Value) -> Value:
    same = yes == no if isinstance(yes, int) or isinstance(no, int) else yes.key == no.key
    return yes if same else values.choose(condition, yes, no)


def _differing(explorer: Explorer, first: State, second: State) -> list[int]:
    """Cells whose content is not the same in both."""
    found = {a for a in first.cells.keys() | second.cells.keys() if _key(first, a) != _key(second, a)}
    for number in first.pages.keys() | second.pages.keys():
        one = first.pages.get(number) or explorer.space.start_page(number)
        other = second.pages.get(number) or explorer.space.start_page(number)
        if one != other:
            found.update(number * 256 + k for k in range(256) if one[0][k] != other[0][k] or one[1][k] != other[1][k])
    return sorted(found)


def _key(state: State, address: int) -> object:
    return state.cells[address].key if address in state.cells else None


def _content(explorer: Explorer, state: State, address: int) -> Value:
    """What a cell holds in a state."""
    if address in state.cells:
        return state.cells[address]
    contents, kinds = state.pages.get(address // 256) or explorer.space.start_page(address // 256)
    if kinds[address % 256] & core.UNKNOWN:
        return explorer.entry_cell(address, state.forced)
    return contents[address % 256]
