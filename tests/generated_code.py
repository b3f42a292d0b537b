"""Drivers for generated studies: a 6502 or Z80 program that sends a burst chosen by straps, with its true figures.

Opcodes and cycles: MOS MCS6500 programming manual (1976), appendix B; Zilog Z80 CPU user manual (UM0080), chapter
"Z80 instruction set".  The cycle formulas are the worked ones of the strobe-width exam.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Ports:
    """What the driver uses: addresses, masks and levels."""

    data: int
    control: int
    status: int
    strobe_on: int
    strobe_off: int
    busy_mask: int
    goes_on_at: int
    strap_mask: int
    strap_value: int
    delay: int


@dataclass
class Code:
    """Bytes with labels; `marks` are addresses of instructions by name."""

    load: int
    data: bytearray = field(default_factory=bytearray)
    labels: dict[str, int] = field(default_factory=dict)
    fixes: list[tuple[int, str, str]] = field(default_factory=list)

    @property
    def here(self) -> int:
        """The address of the next byte."""
        return self.load + len(self.data)

    def put(self, *values: int) -> None:
        """Some bytes."""
        self.data += bytes(values)

    def label(self, name: str) -> None:
        """A name for this place."""
        self.labels[name] = self.here

    def word(self, name: str) -> None:
        """The address of a label, low byte first."""
        self.fixes.append((len(self.data), name, "word"))
        self.put(0, 0)

    def branch(self, opcode: int, name: str) -> None:
        """A relative branch."""
        self.put(opcode)
        self.fixes.append((len(self.data), name, "relative"))
        self.put(0)

    def finish(self) -> bytes:
        """The bytes with all labels filled in."""
        for at, name, kind in self.fixes:
            target = self.labels[name]
            if kind == "word":
                self.data[at : at + 2] = target.to_bytes(2, "little")
            else:
                away = target - (self.load + at + 1)
                assert -128 <= away < 128
                self.data[at] = away & 0xFF
        return bytes(self.data)


def code_6502(load: int, ports: Ports, bursts: list[bytes]) -> Code:
    """The driver; `bursts` holds the burst for other straps and the one for `strap_value`, FF never among the bytes."""

    def absolute(opcode: int, address: int) -> None:
        code.put(opcode, address & 0xFF, address >> 8)

    code = Code(load)
    if ports.strap_mask:
        absolute(0xAD, ports.status)  # LDA
        code.put(0x29, ports.strap_mask, 0xC9, ports.strap_value)  # AND # CMP #
        code.branch(0xF0, "second")  # BEQ
    code.put(0xA2, 0)  # LDX #
    code.put(0x4C)  # JMP
    code.word("next")
    code.label("second")
    code.put(0xA2, len(bursts[0]) + 1)
    code.label("next")
    code.put(0xBD)  # LDA absolute,X
    code.word("table")
    code.put(0xC9, 0xFF)
    code.branch(0xF0, "done")
    code.put(0xA8)  # TAY
    code.label("poll")
    absolute(0xAD, ports.status)
    code.put(0x29, ports.busy_mask)
    code.branch(0xF0 if ports.goes_on_at else 0xD0, "poll")  # BEQ, BNE
    code.label("write data")
    absolute(0x8C, ports.data)  # STY
    code.put(0xA9, ports.strobe_on)  # LDA #
    absolute(0x8D, ports.control)  # STA
    code.put(0xA0, ports.delay)  # LDY #
    code.label("wait")
    code.put(0x88)  # DEY
    code.branch(0xD0, "wait")
    code.put(0xA9, ports.strobe_off)
    absolute(0x8D, ports.control)
    code.put(0xE8)  # INX
    code.branch(0xD0, "next")
    code.label("done")
    code.put(0x60)  # RTS
    code.label("table")
    for burst in bursts:
        code.put(*burst, 0xFF)
    code.finish()
    return code


def width_6502(delay: int) -> int:
    """Cycles from strobe write to strobe write: LDY 2, loop 5n-1, LDA 2, STA 4 (branch within one page)."""
    return 2 + 5 * delay - 1 + 2 + 4


def code_z80(load: int, ports: Ports, bursts: list[bytes]) -> Code:
    """The same for the Z80, by ports."""
    code = Code(load)
    if ports.strap_mask:
        code.put(0xDB, ports.status, 0xE6, ports.strap_mask, 0xFE, ports.strap_value)  # IN AND CP
        code.branch(0x28, "second")  # JR Z
    code.put(0x21)  # LD HL
    code.word("table")
    code.branch(0x18, "next")  # JR
    code.label("second")
    code.put(0x21)
    code.word("table two")
    code.label("next")
    code.put(0x7E, 0xFE, 0xFF, 0xC8, 0x47)  # LD A,(HL); CP FF; RET Z; LD B,A
    code.label("poll")
    code.put(0xDB, ports.status, 0xE6, ports.busy_mask)
    code.branch(0x28 if ports.goes_on_at else 0x20, "poll")
    code.put(0x78)  # LD A,B
    code.label("write data")
    code.put(0xD3, ports.data, 0x3E, ports.strobe_on, 0xD3, ports.control)
    code.put(0x06, ports.delay)  # LD B
    code.label("wait")
    code.branch(0x10, "wait")  # DJNZ
    code.put(0x3E, ports.strobe_off, 0xD3, ports.control, 0x23)  # INC HL
    code.branch(0x18, "next")
    code.label("table")
    code.put(*bursts[0], 0xFF)
    code.label("table two")
    if len(bursts) > 1:
        code.put(*bursts[1], 0xFF)
    code.finish()
    return code


def width_z80(delay: int) -> int:
    """Clocks from OUT to OUT: LD B 7, DJNZ 13 a turn and 8 for the last, LD A 7, OUT 11."""
    return 7 + 13 * (delay - 1) + 8 + 7 + 11
