"""The NMOS 6502."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu

NAME = "6502"


@cache
def cpu() -> Cpu:
    """The documented NMOS 6502."""
    from latchlore.program._cpu import Cpu
    from latchlore.program.cpus.mos6502 import _table as table

    names = frozenset((*table.REGISTERS, *table.FLAGS))
    return Cpu(
        name=NAME,
        folder=__name__,
        registers=dict.fromkeys(table.REGISTERS, 8),
        flags=table.FLAGS,
        rows=table.rows(names),
        undocumented=table.undocumented_lengths(),
        costs=dict.fromkeys(("fetch", "rd", "wr", "dummy"), 1),
        stack="S",
        stack_page=0x100,
        stack_gap=1,
        call_skew=1,
        entry_stack=table.ENTRY_STACK,
        at_entry={"S": table.ENTRY_STACK, "D": 0, "I": 1},
        stopping=table.stopping_opcodes(),
        num_finding=3,
        shared=(),
    )
