"""The times of two captures of the same handshake side by side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import Span
from latchlore.wire._timing import FIGURES

if TYPE_CHECKING:
    from collections.abc import Mapping

    from latchlore.wire._timing import Figure

MIDDLE = 50


@dataclass(frozen=True, slots=True)
class FigurePair:
    """One figure in both captures, None where a capture does not show it."""

    name: str
    first: Figure | None
    second: Figure | None

    @property
    def moved(self) -> tuple[Span, Span] | None:
        """By how much the second's middle value is larger, at least and at most; None where one is missing."""
        if self.first is None or self.second is None:
            return None
        one, other = self.first.percentile(MIDDLE), self.second.percentile(MIDDLE)
        return other.least - one.most, other.most - one.least

    @property
    def differs(self) -> bool | None:
        """Whether the middle values differ for certain, whatever the sampling leaves open; None: one is missing."""
        return None if self.moved is None else self.moved[0] > Span(0) or self.moved[1] < Span(0)

    @property
    def is_apart(self) -> bool | None:
        """Whether every time of one is surely longer than every time of the other; None: one is missing."""
        if self.first is None or self.second is None:
            return None
        return self.first.most.most < self.second.least.least or self.second.most.most < self.first.least.least


def compare_figures(first: Mapping[str, Figure], second: Mapping[str, Figure]) -> tuple[FigurePair, ...]:
    """The figures that either capture shows, in the order of `FIGURES`."""
    return tuple(
        FigurePair(name, first.get(name), second.get(name)) for name in FIGURES if name in first or name in second
    )
