"""Pins of memories in sockets: EPROMs and static RAMs of eight bits, from memory of the makers' sheets.

The pinouts are those that JEDEC took over for 24 and 28 pins (JESD21-C, from memory).  What a memory holds is no matter
of the board; where it answers is.
"""

from __future__ import annotations

from latchlore.board._chipparts import Bus, Chip, Inner

_DATA = "D0 D1 D2 GND D3 D4 D5 D6 D7"
_LOW = "A7 A6 A5 A4 A3 A2 A1 A0"


def _memory(name: str, title: str, pins: str, *, high: tuple[str, ...] = (), low: str = "/CE") -> Chip:
    writes = ("/WE",) if "/WE" in pins.split() else ()
    access = "rw" if writes else "r"
    return Chip(
        name,
        title,
        pins,
        (),
        Bus(high, (low,), reads=("/OE",), writes=writes),
        (Inner("memory", "", access),),
        (),
        (),
        (),
        (),
        "it keeps what it holds" if not writes else "not reset",
        "from memory of the makers' sheets; JEDEC JESD21-C from memory",
        analog="VPP",
    )


MEMORIES: tuple[Chip, ...] = (
    _memory("2716", "EPROM of 2 KB", f"{_LOW} {_DATA} /CE A10 /OE VPP A9 A8 VCC"),
    _memory("2732", "EPROM of 4 KB", f"{_LOW} {_DATA} /CE A10 /OE A11 A9 A8 VCC"),
    _memory("2764", "EPROM of 8 KB", f"VPP A12 {_LOW} {_DATA} /CE A10 /OE A11 A9 A8 NC /PGM VCC"),
    _memory("27128", "EPROM of 16 KB", f"VPP A12 {_LOW} {_DATA} /CE A10 /OE A11 A9 A8 A13 /PGM VCC"),
    _memory("27256", "EPROM of 32 KB", f"VPP A12 {_LOW} {_DATA} /CE A10 /OE A11 A9 A8 A13 A14 VCC"),
    _memory("6116", "static RAM of 2 KB", f"{_LOW} {_DATA} /CE A10 /OE /WE A9 A8 VCC"),
    _memory(
        "6264",
        "static RAM of 8 KB",
        f"NC A12 {_LOW} {_DATA} /CE1 A10 /OE A11 A9 A8 CE2 /WE VCC",
        high=("CE2",),
        low="/CE1",
    ),
    _memory("62256", "static RAM of 32 KB", f"A14 A12 {_LOW} {_DATA} /CE A10 /OE A11 A9 A8 A13 /WE VCC"),
)
