"""The CMOS 65C02, with the opcodes that all makers' parts have."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu

NAME = "65C02"


@cache
def cpu() -> Cpu:
    """The 65C02 without the opcodes on single bits."""
    return build(NAME, __name__, has_bits=False)


def build(name: str, folder: str, *, has_bits: bool) -> Cpu:
    """A 65C02; `has_bits`: it has RMB, SMB, BBR and BBS."""
    from latchlore.program._cpu import Cpu
    from latchlore.program.cpus.cmos65c02 import _table as table

    names = frozenset((*table.REGISTERS, *table.FLAGS))
    rows = table.rows(names)
    if has_bits:
        rows = dict(sorted({**rows, **table.bit_rows(names)}.items()))
    return Cpu(
        name=name,
        folder=folder,
        registers=dict.fromkeys(table.REGISTERS, 8),
        flags=table.FLAGS,
        rows=rows,
        undocumented=table.undocumented_lengths(frozenset(rows)),
        costs=dict.fromkeys(("fetch", "rd", "wr", "dummy"), 1),
        stack="S",
        stack_page=0x100,
        stack_gap=1,
        call_skew=1,
        entry_stack=table.ENTRY_STACK,
        at_entry={"S": table.ENTRY_STACK, "D": 0, "I": 1},
        num_finding=3,
        rare=frozenset(code for code, row in rows.items() if row.mode == "zero page,relative"),
    )
