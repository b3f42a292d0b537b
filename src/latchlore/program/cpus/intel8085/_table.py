"""The documented 8085: the 8080's table with other states, and RIM and SIM.

Sources: those of the 8080's table, *from memory*.  Bits 5, 3 and 1 of the flag byte, which the manual leaves open,
are taken as 0: what this part keeps in them is not documented.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.program._cpu import make_row
from latchlore.program.cpus.intel8080 import _table as i8080

if TYPE_CHECKING:
    from latchlore.program._cpu import Row

REGISTERS: dict[str, int] = {**i8080.REGISTERS, "MASK": 3}  # of the interrupts 7.5, 6.5 and 5.5
FLAGS = i8080.FLAGS
COSTS = i8080.COSTS
DECODE = i8080.DECODE
ENTRY_STACK = i8080.ENTRY_STACK
write_number = i8080.write_number

I8085 = i8080.Maker(move=0, long=2, exchange=0, halt=1, and_carry="1", skips=True, fixed=0)

# The serial pins are no part of the bus: they are cell 100h of the port space, behind the ports, and touching them
# costs no states beyond the opcode's four.  The flow ``refresh`` keeps these rows out of the stretches run at speed,
# in which ports have eight lines.
_RIM = ("m = rd(0x10100)\ntick(-3)", "", "A = (m & 0xF0) | (IE << 3) | MASK")
_SIM = ("m = A", "if m & 0x40:\n    wr(0x10100, m & 0x80)\n    tick(-3)", "if m & 8:\n    MASK = m & 7")

# Opcodes that the manual leaves blank, with their lengths (*from memory* of notes published by users in 1979).
UNDOCUMENTED = {0x08: 1, 0x10: 1, 0x18: 1, 0x28: 2, 0x38: 2, 0xCB: 1, 0xD9: 1, 0xDD: 3, 0xED: 1, 0xFD: 3}


def rows(names: frozenset[str]) -> dict[int, Row]:
    """Every documented opcode; `names`: registers and flags."""
    found = i8080.rows(names, I8085)
    found[0x20] = make_row(0x20, "RIM", "", 1, _RIM, "refresh", names)
    found[0x30] = make_row(0x30, "SIM", "", 1, _SIM, "refresh", names)
    return dict(sorted(found.items()))
