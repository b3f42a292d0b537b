"""The 6800."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu

NAME = "6800"


@cache
def cpu() -> Cpu:
    """The documented 6800."""
    from latchlore.program._cpu import Cpu
    from latchlore.program.cpus.m6800 import _table as table

    names = frozenset((*table.REGISTERS, *table.FLAGS))
    rows = table.rows(names)
    return Cpu(
        name=NAME,
        folder=__name__,
        registers=table.REGISTERS,
        flags=table.FLAGS,
        rows=rows,
        undocumented=table.undocumented_lengths(frozenset(rows)),
        costs=dict.fromkeys(("fetch", "rd", "wr", "dummy"), 1),
        stack="SP",
        stack_gap=1,
        is_high_first=True,
        entry_stack=table.ENTRY_STACK,
        at_entry={"SP": table.ENTRY_STACK},
        num_finding=2,
        shared=table.SHARED,
    )
