"""The 65C02 with opcodes on single bits of page zero, as Rockwell and others made it."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.program._cpu import Cpu

NAME = "R65C02"


@cache
def cpu() -> Cpu:
    """The 65C02 with RMB, SMB, BBR and BBS."""
    from latchlore.program.cpus.cmos65c02 import build

    return build(NAME, __name__, has_bits=True)
