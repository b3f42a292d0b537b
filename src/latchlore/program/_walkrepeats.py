"""Notices that a path comes back to where it was, or only ever deeper into its stack."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from latchlore.program._values import Sym

if TYPE_CHECKING:
    from latchlore.program._explore import Explorer
    from latchlore.program._state import Key

MANY_STEPS = 64


class Depth:
    """Counts visits of one place at which the stack is deeper each time."""

    def __init__(self) -> None:
        self.last: int | None = None
        self.count = 0

    def note(self, pointer: Any) -> None:
        """The stack pointer at a visit; one that is not known counts as the same."""
        if isinstance(pointer, Sym):
            return
        here = int(pointer)
        if self.last is not None:
            self.count = self.count + 1 if here < self.last else 0 if here == self.last else self.count
        self.last = here


class Repeats:
    """Notices that a path over unknown values comes back to a state without a touch or a choice."""

    def __init__(self) -> None:
        self.steps = 0
        self.again = MANY_STEPS
        self.key: Key | None = None
        self.pc = -1
        self.num_events = 0
        self.depth = Depth()

    def is_back(self, explorer: Explorer, num_events: int) -> bool:
        """Whether the state is the one noted before, with no event since; notes one now and then."""
        self.steps += 1
        if num_events != self.num_events:
            self.num_events, self.key = num_events, None
        if self.steps == self.again:
            self.again *= 2
            self.pc = explorer.state.pc
            explorer.sync()
            self.key = explorer.state.key()
            self.depth = Depth()
            return False
        if self.key is None or explorer.state.pc != self.pc:
            return False
        pointer = explorer.state.registers[explorer.stack_index]
        self.depth.note(pointer)
        if self.depth.count and self.depth.count % 16:
            return False  # deeper than before: not the same state
        explorer.sync()
        return explorer.state.key() == self.key
