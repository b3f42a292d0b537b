"""The 6809."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu

NAME = "6809"


@cache
def cpu() -> Cpu:
    """The documented 6809."""
    from latchlore.program._cpu import Cpu
    from latchlore.program.cpus.m6809 import _listing as listing
    from latchlore.program.cpus.m6809 import _numbers as numbers
    from latchlore.program.cpus.m6809 import _table as table

    names = frozenset((*table.REGISTERS, *table.FLAGS))
    rows = table.rows(names)
    return Cpu(
        name=NAME,
        folder=__name__,
        registers=table.REGISTERS,
        flags=table.FLAGS,
        rows=rows,
        undocumented=listing.undocumented_lengths(frozenset(rows)),
        costs=dict.fromkeys(("fetch", "rd", "wr", "dummy"), 1),
        stack="S",
        is_high_first=True,
        entry_stack=table.ENTRY_STACK,
        at_entry={"S": table.ENTRY_STACK, "DP": 0},
        decode=numbers.DECODE,
        code_at=numbers.code_at,
        prefixes=numbers.PREFIXES,
        length_at=listing.length_at,
        operand_at=listing.operand_at,
        num_finding=2,
        shared=table.SHARED,
        rare=table.rare_rows(rows),
    )
