"""The Z80."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu

NAME = "Z80"


@cache
def cpu() -> Cpu:
    """The documented Z80."""
    from latchlore.program._cpu import Cpu
    from latchlore.program.cpus.z80 import _table as table

    names = frozenset((*table.REGISTERS, *table.FLAGS))
    return Cpu(
        name=NAME,
        folder=__name__,
        registers=table.REGISTERS,
        flags=table.FLAGS,
        rows=table.rows(names),
        undocumented=table.undocumented_lengths(),
        costs=table.COSTS,
        stack="SP",
        entry_stack=table.ENTRY_STACK,
        at_entry={"SP": table.ENTRY_STACK, "R": 0},
        decode=table.DECODE,
        volatile=frozenset({"R"}),
        code_at=table.code_at,
        prefixes={0x100: "CB", 0x200: "ED", 0x300: "DD", 0x400: "FD", 0x500: "DD CB d", 0x600: "FD CB d"},
        write_number=table.write_number,
        space=0x20000,
        reads=table.READS,
        shared=table.SHARED,
        rare=table.rare(),
    )
