"""How the buses of known kinds make a read and a write: which lines are held, which go up or down.

Common practice of the processors' and the bus's own documents: 6502 and 6800 data sheets (R/W, clock), Z80 CPU
(MREQ, IORQ, RD, WR, M1), 8080 system controller 8228 (MEMR, MEMW, I/OR, I/OW), the 8-bit bus of the PC of 1981
(MEMR, MEMW, IOR, IOW, AEN; its cards decode ten port lines).
"""

from __future__ import annotations

from typing import NamedTuple

HIGH, LOW, UP, DOWN = "high", "low", "up", "down"
LEVEL_WORDS = (HIGH, LOW, UP, DOWN)


class CycleRow(NamedTuple):
    """One kind of access: space, direction, whether it uses the port lines, and the control lines."""

    space: str
    direction: str
    lines: tuple[tuple[str, str], ...]


class HostRow(NamedTuple):
    """A kind of bus: address lines of the memory space, usual lines of the port space, its accesses."""

    memory_lines: int
    port_lines: int
    data_lines: int
    cycles: tuple[CycleRow, ...]


_SEPARATE = (
    CycleRow("memory", "read", (("memr", DOWN), ("memw", HIGH), ("ior", HIGH), ("iow", HIGH))),
    CycleRow("memory", "write", (("memw", DOWN), ("memr", HIGH), ("ior", HIGH), ("iow", HIGH))),
    CycleRow("port", "read", (("ior", DOWN), ("iow", HIGH), ("memr", HIGH), ("memw", HIGH))),
    CycleRow("port", "write", (("iow", DOWN), ("ior", HIGH), ("memr", HIGH), ("memw", HIGH))),
)

HOSTS: dict[str, HostRow] = {
    "6502": HostRow(
        16,
        0,
        8,
        (
            CycleRow("memory", "read", (("rw", HIGH), ("phi2", UP))),
            CycleRow("memory", "write", (("rw", LOW), ("phi2", UP))),
        ),
    ),
    "6800": HostRow(
        16,
        0,
        8,
        (
            CycleRow("memory", "read", (("rw", HIGH), ("vma", HIGH), ("e", UP))),
            CycleRow("memory", "write", (("rw", LOW), ("vma", HIGH), ("e", UP))),
        ),
    ),
    "z80": HostRow(
        16,
        8,
        8,
        (
            CycleRow("memory", "read", (("mreq", DOWN), ("rd", DOWN), ("wr", HIGH), ("iorq", HIGH))),
            CycleRow("memory", "write", (("mreq", DOWN), ("wr", DOWN), ("rd", HIGH), ("iorq", HIGH), ("m1", HIGH))),
            CycleRow("port", "read", (("iorq", DOWN), ("rd", DOWN), ("wr", HIGH), ("mreq", HIGH), ("m1", HIGH))),
            CycleRow("port", "write", (("iorq", DOWN), ("wr", DOWN), ("rd", HIGH), ("mreq", HIGH), ("m1", HIGH))),
        ),
    ),
    "8080": HostRow(16, 8, 8, _SEPARATE),
    "isa": HostRow(20, 10, 8, tuple(CycleRow(c.space, c.direction, (*c.lines, ("aen", LOW))) for c in _SEPARATE)),
}
