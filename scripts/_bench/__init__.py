"""What every benchmark row looks like, and how one is timed."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable


class Row(NamedTuple):
    """One measured figure.

    `name` such as ``program.concrete-6502``; `value` in `unit`; `reference` names what it is compared with in the
    same run; `ratio` is the figure that the goal speaks of (None where the goal is about `value`); `goal` in words;
    `met` None where there is no goal.
    """

    name: str
    value: float
    unit: str
    reference: str = ""
    ratio: float | None = None
    goal: str = ""
    met: bool | None = None


def best_seconds(work: Callable[[], object], repeats: int = 5) -> float:
    """The shortest wall time of several runs in seconds: the machine is shared, so the least disturbed run counts."""
    best = float("inf")
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def best_processor_seconds(work: Callable[[], object], repeats: int = 3) -> float:
    """The least processor time of several runs in seconds, for figures that a busy machine must not change."""
    best = float("inf")
    for _ in range(repeats):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best
