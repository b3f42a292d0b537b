"""The 8085."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu

NAME = "8085"
SELDOM = frozenset({"RIM", "SIM", "DAA", "JPO", "JPE", "CPO", "CPE", "RPO", "RPE", "CP", "CM", "RP", "RM"})
"""What the core need not run at full speed (see `Cpu.rare`)."""


@cache
def cpu() -> Cpu:
    """The documented 8085.

    Its serial pins are shown as port 0100: RIM reads it (SID in bit 7, the pending interrupts in bits 6 to 4), and a
    SIM that sets SOD writes it (bit 7).
    """
    from latchlore.program._cpu import Cpu
    from latchlore.program.cpus.intel8085 import _table as table

    names = frozenset((*table.REGISTERS, *table.FLAGS))
    rows = table.rows(names)
    return Cpu(
        name=NAME,
        folder=__name__,
        registers=table.REGISTERS,
        flags=table.FLAGS,
        rows=rows,
        undocumented=table.UNDOCUMENTED,
        costs=table.COSTS,
        stack="SP",
        entry_stack=table.ENTRY_STACK,
        at_entry={"SP": table.ENTRY_STACK},
        decode=table.DECODE,
        write_number=table.write_number,
        space=0x20000,
        rare=frozenset(code for code, row in rows.items() if row.name in SELDOM),
    )
