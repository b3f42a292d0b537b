"""The whole machine at one point of a path, and what tells two such points apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from latchlore.program._values import Constraints, Sym, Value

if TYPE_CHECKING:
    from latchlore.program._memory import Page

Key: TypeAlias = tuple[object, ...]


@dataclass(slots=True)
class State:
    """Registers (PC last, always known), pages that differ from the entry, and what is known of the unknown.

    `cells`: contents of cells marked unknown, where they are not the cell's own bits at the entry.  `forced`: levels
    of bits that stay the same for ever (straps, cells) and have been decided.  `answers`: device reads of the
    instruction at PC that have been made.  `pending`: cycles since the last event, least and most.
    """

    registers: tuple[Value, ...]
    pages: dict[int, Page]
    cells: dict[int, Sym]
    constraints: Constraints
    forced: dict[int, int]
    answers: tuple[Value, ...] = ()
    pending: tuple[int, int] = (0, 0)

    def copy(self) -> State:
        """The same state, with cells and levels of its own to be changed."""
        return State(
            self.registers,
            self.pages,
            dict(self.cells),
            self.constraints,
            dict(self.forced),
            self.answers,
            self.pending,
        )

    @property
    def pc(self) -> int:
        """Where it is."""
        pc = self.registers[-1]
        assert isinstance(pc, int)
        return pc

    def key(self) -> Key:
        """Equal for points from which the same follows (`pending` apart)."""
        return (
            tuple(_value_key(value) for value in self.registers),
            tuple(sorted(self.pages.items())),
            tuple((address, value.key) for address, value in sorted(self.cells.items())),
            tuple(one.key for one in self.constraints),
            tuple(sorted(self.forced.items())),
            tuple(_value_key(value) for value in self.answers),
        )

    def outline(self) -> Key:
        """Equal for points that differ in unknown values only."""
        return (
            tuple(value if isinstance(value, int) else None for value in self.registers),
            tuple(sorted(self.pages.items())),
            tuple(sorted(self.cells)),
            len(self.answers),
        )


def _value_key(value: Value) -> object:
    return value if isinstance(value, int) else value.key
