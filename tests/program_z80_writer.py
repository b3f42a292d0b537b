"""Random small driver programs for the Z80, and their runs on PyPI's `z80` (MIT), which our table was not made from."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

import z80

if TYPE_CHECKING:
    from collections.abc import Callable

ORIGIN = 0x4000
RAM = 0xC000
STATUS, OTHER, DATA, CONTROL = 0x90, 0x92, 0x91, 0x93
CALLER = 0x0100  # where the routine returns to on the other machine
MAX_TOUCHES = 400


@dataclass
class Writer:
    """Writes random Z80 code, forwards jumps patched afterwards."""

    dice: random.Random
    code: bytearray = field(default_factory=bytearray)
    cells: int = RAM
    depth: int = 0
    subroutines: list[int] = field(default_factory=list)

    def emit(self, *data: int) -> None:
        """Append bytes."""
        self.code += bytes(data)

    def word(self, *parts: int) -> None:
        """Opcode bytes, then an address."""
        *opcode, address = parts
        self.emit(*opcode, address & 0xFF, address >> 8)

    @property
    def here(self) -> int:
        """The address of the next byte."""
        return ORIGIN + len(self.code)

    def cell(self) -> int:
        """A RAM cell of its own."""
        self.cells += 1
        return self.cells - 1

    def jump(self, opcode: int) -> int:
        """A jump to be patched; its place."""
        self.word(opcode, 0)
        return len(self.code)

    def land(self, place: int) -> None:
        """Let a jump come here."""
        self.code[place - 2 : place] = self.here.to_bytes(2, "little")

    def near(self, opcode: int, place: int) -> None:
        """A relative jump back; an absolute one instead where the place is too far (not for DJNZ)."""
        offset = place - len(self.code) - 2
        assert offset >= -128
        self.emit(opcode, offset & 0xFF)

    def write(self) -> None:
        """A constant, to a port."""
        self.emit(0x3E, self.dice.randrange(256), 0xD3, self.dice.choice((DATA, CONTROL)))

    def write_by_register(self) -> None:
        """OUT (C),r with something in the upper half of the address."""
        self.word(0x01, self.dice.randrange(256) << 8 | self.dice.choice((DATA, CONTROL)))
        self.emit(0x16, self.dice.randrange(256), 0xED, 0x51)

    def wait(self) -> None:
        """Poll one or several bits."""
        port = self.dice.choice((STATUS, OTHER))
        if self.dice.random() < 0.5:
            self.emit(0x0E, port)
            top = len(self.code)
            self.emit(0xED, 0x78, 0xCB, 0x47 | self.dice.randrange(8) << 3)  # IN A,(C); BIT b,A
        else:
            top = len(self.code)
            self.emit(0xDB, port, 0xE6, 1 << self.dice.randrange(8) | 1 << self.dice.randrange(8))
        self.near(self.dice.choice((0x20, 0x28)), top)

    def give_up(self) -> None:
        """Poll, but not for ever: eight or sixteen bits of counter."""
        wide = self.dice.random() < 0.4
        if wide:
            self.word(0x11, self.dice.randrange(1, 600))
        else:
            self.emit(0x06, self.dice.randrange(256))
        top = len(self.code)
        self.emit(0xDB, STATUS, 0xCB, 0x47 | self.dice.randrange(8) << 3)
        ready = self.jump(self.dice.choice((0xC2, 0xCA)))
        if wide:
            self.emit(0x1B, 0x7A, 0xB3)  # DEC DE; LD A,D; OR E
            self.near(0x20, top)
        else:
            self.near(0x10, top)  # DJNZ
        self.emit(0x3E, 0xEE, 0xD3, DATA)
        self.land(ready)

    def choose(self) -> None:
        """Two ways by a status bit."""
        self.emit(0xDB, self.dice.choice((STATUS, OTHER)), 0xCB, 0x47 | self.dice.randrange(8) << 3)
        other = self.jump(self.dice.choice((0xC2, 0xCA)))
        self.block(2)
        self.land(other)

    def keep(self) -> None:
        """Store a status in RAM, send a function of it later."""
        cell = self.cell()
        self.emit(0xDB, self.dice.choice((STATUS, OTHER)))
        self.word(0x32, cell)
        self.block(1)
        self.word(0x3A, cell)
        self.emit(
            *self.dice.choice(
                ((0xEE, 0x5A), (0xE6, 0x0F), (0xF6, 0x80), (0xCB, 0x3F), (0xCB, 0x07), (0xC6, 0x07), (0x2F,))
            )
        )
        self.emit(0xD3, DATA)

    def keep_indexed(self) -> None:
        """The same by way of IX."""
        cell = self.cell()
        offset = self.dice.randrange(-3, 4)
        self.word(0xDD, 0x21, cell - offset)
        self.emit(0xDB, OTHER, 0xDD, 0x77, offset & 0xFF)  # LD (IX+d),A
        self.emit(0xDD, 0x34, offset & 0xFF, 0xDD, 0x7E, offset & 0xFF, 0xD3, DATA)  # INC (IX+d); LD A,(IX+d)

    def select(self) -> None:
        """Look a byte up by two status bits."""
        self.emit(0xDB, OTHER, 0xE6, 0x03, 0x5F, 0x16, 0x00)  # AND 3; LD E,A; LD D,0
        table = self.here + 3 + 1 + 1 + 2 + 2
        self.word(0x21, table)
        self.emit(0x19, 0x7E, 0xD3, DATA, 0x18, 4)  # ADD HL,DE; LD A,(HL); OUT; JR over the table
        self.emit(*(self.dice.randrange(256) for _ in range(4)))

    def fold_case(self) -> None:
        """A jump that only picks a value."""
        self.emit(0xDB, OTHER, 0xFE, self.dice.randrange(256), 0x38, 0x02, 0xE6, 0xDF, 0xD3, DATA)

    def shift_out(self) -> None:
        """Send a status byte bit by bit."""
        self.emit(0xDB, OTHER, 0x4F, 0x06, self.dice.randrange(2, 5))  # LD C,A; LD B,n
        top = len(self.code)
        self.emit(0xAF, 0xCB, 0x39, 0x17, 0xD3, CONTROL)  # XOR A; SRL C; RLA; OUT
        self.near(0x10, top)

    def delay(self) -> None:
        """Count down."""
        self.emit(0x06, self.dice.randrange(256), 0x10, 0xFE)

    def repeat(self) -> None:
        """A counted loop around other things, its counter on the stack meanwhile."""
        self.emit(0x06, self.dice.randrange(1, 4))
        top = len(self.code)
        self.emit(0xC5)
        self.block(1)
        self.emit(0xC1, 0x05)  # POP BC; DEC B
        self.word(0xC2, ORIGIN + top)

    def pushed(self) -> None:
        """Keep a status on the stack, or in the second set of registers, meanwhile."""
        self.emit(0xDB, OTHER)
        if self.dice.random() < 0.5:
            self.emit(0xF5)
            self.block(1)
            self.emit(0xF1, 0xD3, DATA)
        else:
            self.emit(0x47, 0xD9)  # LD B,A; EXX
            self.write()
            self.emit(0xD9, 0x78, 0xD3, DATA)  # EXX; LD A,B; OUT

    def block_in_and_out(self) -> None:
        """INIR some bytes, send them with OTIR (or one by one with OUTI)."""
        count, cell = self.dice.randrange(1, 4), self.cells
        self.cells += count
        self.word(0x21, cell)
        self.word(0x01, count << 8 | OTHER)
        self.emit(0xED, 0xB2)
        self.word(0x21, cell)
        self.word(0x01, count << 8 | DATA)
        self.emit(*((0xED, 0xB3) if self.dice.random() < 0.5 else (0xED, 0xA3) * count))

    def block_copy(self) -> None:
        """LDIR a text from the code into RAM, send it to its end mark."""
        text = [self.dice.randrange(1, 256) for _ in range(self.dice.randrange(1, 4))] + [0]
        cell = self.cells
        self.cells += len(text)
        self.emit(0x18, len(text), *text)
        self.word(0x21, self.here - len(text))
        self.word(0x11, cell)
        self.word(0x01, len(text))
        self.emit(0xED, 0xB0)
        self.word(0x21, cell)
        self.emit(0x7E, 0xB7, 0x28, 0x05, 0xD3, DATA, 0x23, 0x18, 0xF7)  # LD A,(HL); OR A; JR Z; OUT; INC HL; JR

    def argument(self) -> None:
        """A choice by a register at the entry, kept in RAM."""
        self.word(0x3A, RAM - 1)
        self.emit(0xFE, self.dice.randrange(256))
        other = self.jump(self.dice.choice((0xDA, 0xC2)))
        self.write()
        self.land(other)

    def decimal(self) -> None:
        """Decimal adjust of a status."""
        self.emit(0xDB, OTHER, 0xE6, 0x77, 0xC6, 0x09, 0x27, 0xD3, DATA)

    def call(self) -> None:
        """Call one of the subroutines."""
        if self.subroutines:
            self.word(0xCD, self.dice.choice(self.subroutines))

    def block(self, size: int) -> None:
        """Some statements."""
        self.depth += 1
        simple = [self.write, self.write_by_register, self.wait, self.fold_case, self.select, self.delay, self.call]
        simple += [self.block_in_and_out, self.block_copy, self.keep_indexed, self.decimal]
        nested = [self.choose, self.keep, self.repeat, self.give_up, self.shift_out, self.pushed, self.argument]
        for _ in range(size):
            self.dice.choice(simple if self.depth > 2 else simple + nested)()
        self.depth -= 1


def make_program(seed: int) -> tuple[bytes, int]:
    """Random code and the offset of its entry."""
    writer = Writer(random.Random(seed))
    for _ in range(2):
        place = writer.here
        writer.depth = 2
        writer.block(2)
        writer.depth = 0
        writer.emit(0xC9)
        writer.subroutines.append(place)
    start = len(writer.code)
    writer.word(0x32, RAM - 1)  # the argument
    writer.block(5)
    if writer.dice.random() < 0.8:
        writer.emit(0xC9)
    else:
        writer.word(0xC3, ORIGIN + start)
    return bytes(writer.code), start


class Touch(NamedTuple):
    """One access of a port: ``read`` or ``write``, the eight lines looked at, the byte."""

    direction: str
    port: int
    value: int


def touches_elsewhere(
    code: bytes, entry: int, registers: dict[str, int], answer: Callable[[int], int], stack: int
) -> list[Touch]:
    """The accesses of ports that the other machine makes until the routine returns, or of the first many."""
    machine: Any = z80.Z80Machine()
    machine.set_memory_block(0, bytes(0x10000))
    machine.set_memory_block(ORIGIN, code)
    machine.set_memory_block(stack, CALLER.to_bytes(2, "little"))
    machine.set_memory_block(CALLER, b"\x76")
    found: list[Touch] = []

    def read(port: int) -> int:
        value = answer(port & 0xFF)
        found.append(Touch("read", port & 0xFF, value))
        return value

    def write(port: int, value: int) -> None:
        found.append(Touch("write", port & 0xFF, value))

    machine.set_input_callback(read)
    machine.set_output_callback(write)
    machine.pc, machine.sp = entry, stack
    for name, value in registers.items():
        setattr(machine, name.lower(), value)
    for _ in range(20_000):
        machine.ticks_to_stop = 200
        machine.run()
        if machine.halted or len(found) >= MAX_TOUCHES:
            break
    return found
