"""Writes random small driver programs in the code of several processors."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from latchlore.base import AddressSet

if TYPE_CHECKING:
    import random

DEVICES = AddressSet.of_range(0xC800, 0xC807)
STATUS, OTHER, DATA, CONTROL = 0xC801, 0xC802, 0xC800, 0xC803
ORIGIN = 0x2000
ARGUMENT = 0x0040


class Coder:
    """Code of one processor with an accumulator; jumps reach everywhere."""

    is_high_first = False
    ands: tuple[int, ...] = ()
    load_code = store_code = const_code = call_code = push_code = pull_code = return_code = shift_in = 0

    def __init__(self) -> None:
        self.code = bytearray()

    @property
    def here(self) -> int:
        """The address of what comes next."""
        return ORIGIN + len(self.code)

    def emit(self, *data: int) -> None:
        """Append bytes."""
        self.code += bytes(data)

    def word(self, value: int) -> None:
        """Append a word."""
        self.code += value.to_bytes(2, "big" if self.is_high_first else "little")

    def at(self, opcode: int, address: int) -> None:
        """An opcode and an address."""
        self.emit(opcode)
        self.word(address)

    def const(self, value: int) -> None:
        """Load a number."""
        self.emit(self.const_code, value)

    def load(self, address: int) -> None:
        """Load a cell."""
        self.at(self.load_code, address)

    def store(self, address: int) -> None:
        """Store into a cell."""
        self.at(self.store_code, address)

    def logic(self, which: int, value: int) -> None:
        """AND, OR, XOR with a number; the zero flag follows."""
        self.emit(self.ands[which], value)

    def call(self, address: int) -> None:
        """Call."""
        self.at(self.call_code, address)

    def push(self) -> None:
        """Keep the accumulator on the stack."""
        self.emit(self.push_code)

    def pull(self) -> None:
        """Take it back."""
        self.emit(self.pull_code)

    def leave(self) -> None:
        """Return."""
        self.emit(self.return_code)

    def jump_if(self, zero: bool, target: int = 0) -> int:
        """Jump by the zero flag; where to patch."""
        raise NotImplementedError

    def patch(self, place: int) -> None:
        """Let a jump come here."""
        self.code[place : place + 2] = self.here.to_bytes(2, "big" if self.is_high_first else "little")

    def count_down(self, cell: int) -> None:
        """Decrement a cell; the zero flag follows."""
        raise NotImplementedError

    def modify(self, address: int) -> None:
        """Increment a cell, a register of the card."""
        raise NotImplementedError

    def look_up(self) -> int:
        """Load from the table whose address is patched later, by the accumulator (0 to 3); where to patch."""
        raise NotImplementedError

    def store_by_pointer(self, address: int) -> None:
        """Store through a register."""
        raise NotImplementedError

    def counter(self, count: int) -> None:
        """Set a register that counts."""
        raise NotImplementedError

    def count(self) -> None:
        """Count it down; the zero flag follows."""
        raise NotImplementedError

    def shift_left(self, cell: int) -> None:
        """Shift a cell left and leave the bit that fell out in the accumulator."""
        raise NotImplementedError

    def jump(self, target: int) -> None:
        """Jump."""
        raise NotImplementedError


class Coder8080(Coder):
    """8080 and 8085."""

    ands = (0xE6, 0xF6, 0xEE)
    load_code, store_code, const_code, call_code = 0x3A, 0x32, 0x3E, 0xCD
    push_code, pull_code, return_code = 0xF5, 0xF1, 0xC9

    def jump_if(self, zero: bool, target: int = 0) -> int:
        """JZ, JNZ."""
        self.at(0xCA if zero else 0xC2, target)
        return len(self.code) - 2

    def count_down(self, cell: int) -> None:
        """LXI H; DCR M."""
        self.at(0x21, cell)
        self.emit(0x35)

    def modify(self, address: int) -> None:
        """LXI H; INR M."""
        self.at(0x21, address)
        self.emit(0x34)

    def look_up(self) -> int:
        """MOV E,A; MVI D,0; LXI H; DAD D; MOV A,M."""
        self.emit(0x5F, 0x16, 0x00)
        self.at(0x21, 0)
        place = len(self.code) - 2
        self.emit(0x19, 0x7E)
        return place

    def store_by_pointer(self, address: int) -> None:
        """LXI D; STAX D."""
        self.at(0x11, address)
        self.emit(0x12)

    def counter(self, count: int) -> None:
        """MVI B."""
        self.emit(0x06, count)

    def count(self) -> None:
        """DCR B."""
        self.emit(0x05)

    def shift_left(self, cell: int) -> None:
        """LXI H; MOV A,M; ADD A; MOV M,A; MVI A,0; RAL."""
        self.at(0x21, cell)
        self.emit(0x7E, 0x87, 0x77, 0x3E, 0x00, 0x17)

    def jump(self, target: int) -> None:
        """JMP."""
        self.at(0xC3, target)


class Coder6800(Coder):
    """6800."""

    is_high_first = True
    ands = (0x84, 0x8A, 0x88)
    load_code, store_code, const_code, call_code = 0xB6, 0xB7, 0x86, 0xBD
    push_code, pull_code, return_code = 0x36, 0x32, 0x39

    def jump_if(self, zero: bool, target: int = 0) -> int:
        """A branch around a JMP."""
        self.emit(0x26 if zero else 0x27, 3)
        self.at(0x7E, target)
        return len(self.code) - 2

    def count_down(self, cell: int) -> None:
        """DEC."""
        self.at(0x7A, cell)

    def modify(self, address: int) -> None:
        """INC."""
        self.at(0x7C, address)

    def look_up(self) -> int:
        """STAA 0003; LDX 0002; LDAA 0,X, where 0002 holds the high byte; the table lies in one page."""
        self.emit(0xB7, 0x00, 0x03, 0x86, 0x00, 0x97, 0x02, 0xDE, 0x02)
        place = len(self.code) - 5
        self.emit(0xA6, 0x00)
        return place

    def patch_table(self, place: int) -> None:
        """Put the table's address into a look-up; refuses one that crosses a page's end."""
        self.code[place], self.code[place + 6] = self.here >> 8, self.here & 0xFF

    def store_by_pointer(self, address: int) -> None:
        """LDX; STAA 2,X."""
        self.at(0xCE, address - 2)
        self.emit(0xA7, 0x02)

    def counter(self, count: int) -> None:
        """LDAB."""
        self.emit(0xC6, count)

    def count(self) -> None:
        """DECB."""
        self.emit(0x5A)

    def shift_left(self, cell: int) -> None:
        """ASL; LDAA #0; ROLA."""
        self.at(0x78, cell)
        self.emit(0x86, 0x00, 0x49)

    def jump(self, target: int) -> None:
        """JMP."""
        self.at(0x7E, target)


class Coder6809(Coder6800):
    """6809, by the ways that the 6800 has not."""

    def jump_if(self, zero: bool, target: int = 0) -> int:
        """LBEQ, LBNE."""
        self.emit(0x10)
        self.at(0x27 if zero else 0x26, (target - self.here - 3) & 0xFFFF)
        return len(self.code) - 2

    def patch(self, place: int) -> None:
        """Let a long branch come here."""
        self.code[place : place + 2] = (len(self.code) - place - 2).to_bytes(2, "big")

    def push(self) -> None:
        """PSHS A,X."""
        self.emit(0x34, 0x12)

    def pull(self) -> None:
        """PULS A,X."""
        self.emit(0x35, 0x12)

    def leave(self) -> None:
        """PULS PC."""
        self.emit(0x35, 0x80)

    def look_up(self) -> int:
        """LDX; LDA A,X."""
        self.at(0x8E, 0)
        self.emit(0xA6, 0x86)
        return len(self.code) - 4

    def patch_table(self, place: int) -> None:
        """Put the table's address into a look-up."""
        self.code[place : place + 2] = self.here.to_bytes(2, "big")

    def store_by_pointer(self, address: int) -> None:
        """LDU; STA ,-U."""
        self.at(0xCE, address + 1)
        self.emit(0xA7, 0xC2)


class Coder65C02(Coder):
    """65C02, by the ways that the 6502 has not where there are such."""

    ands = (0x29, 0x09, 0x49)
    load_code, store_code, const_code, call_code = 0xAD, 0x8D, 0xA9, 0x20
    push_code, pull_code, return_code = 0x48, 0x68, 0x60

    def jump_if(self, zero: bool, target: int = 0) -> int:
        """A branch around a JMP."""
        self.emit(0xD0 if zero else 0xF0, 3)
        self.at(0x4C, target)
        return len(self.code) - 2

    def count_down(self, cell: int) -> None:
        """DEC."""
        self.at(0xCE, cell)

    def modify(self, address: int) -> None:
        """TSB: reads twice."""
        self.at(0x0C, address)

    def look_up(self) -> int:
        """TAX; LDA table,X."""
        self.emit(0xAA)
        self.at(0xBD, 0)
        return len(self.code) - 2

    def store_by_pointer(self, address: int) -> None:
        """LDY #low; STY 06; LDY #high; STY 07; STA (06)."""
        self.emit(0xA0, address & 0xFF, 0x84, 0x06, 0xA0, address >> 8, 0x84, 0x07, 0x92, 0x06)

    def counter(self, count: int) -> None:
        """LDY."""
        self.emit(0xA0, count)

    def count(self) -> None:
        """DEY."""
        self.emit(0x88)

    def shift_left(self, cell: int) -> None:
        """ASL; LDA #0; ROL A."""
        self.at(0x0E, cell)
        self.emit(0xA9, 0x00, 0x2A)

    def jump(self, target: int) -> None:
        """BRA where it reaches, else JMP."""
        distance = target - self.here - 2
        if distance >= -128:
            self.emit(0x80, distance & 0xFF)
        else:
            self.at(0x4C, target)


CODERS: dict[str, type[Coder]] = {
    "65C02": Coder65C02,
    "8080": Coder8080,
    "8085": Coder8080,
    "6800": Coder6800,
    "6809": Coder6809,
}


@dataclass
class Writer:
    """Writes statements at random."""

    dice: random.Random
    to: Coder
    cells: int = 0x0050
    depth: int = 0
    subroutines: list[int] = field(default_factory=list)

    def cell(self) -> int:
        """A cell not yet used."""
        self.cells += 1
        return self.cells

    def mask(self) -> int:
        """One bit or two."""
        return 1 << self.dice.randrange(8) | 1 << self.dice.randrange(8)

    def write(self) -> None:
        """A constant, to a register."""
        self.to.const(self.dice.randrange(256))
        self.to.store(self.dice.choice((DATA, CONTROL)))

    def point(self) -> None:
        """The same through a pointer."""
        self.to.const(self.dice.randrange(256))
        self.to.store_by_pointer(self.dice.choice((DATA, CONTROL)))

    def wait(self) -> None:
        """Poll one or two bits."""
        top = self.to.here
        self.to.load(self.dice.choice((STATUS, OTHER)))
        self.to.logic(0, self.mask())
        self.to.jump_if(self.dice.random() < 0.5, top)

    def give_up(self) -> None:
        """Poll, but not for ever."""
        cell = self.cell()
        self.to.const(self.dice.randrange(1, 40))
        self.to.store(cell)
        top = self.to.here
        self.to.load(STATUS)
        self.to.logic(0, 0x80)
        ready = self.to.jump_if(self.dice.random() < 0.5)
        self.to.count_down(cell)
        self.to.jump_if(False, top)
        self.to.const(0xEE)
        self.to.store(DATA)
        self.to.patch(ready)

    def choose(self) -> None:
        """Two ways by a status bit."""
        self.to.load(self.dice.choice((STATUS, OTHER)))
        self.to.logic(0, 1 << self.dice.randrange(8))
        other = self.to.jump_if(self.dice.random() < 0.5)
        self.block(2)
        self.to.patch(other)

    def keep(self) -> None:
        """Store a status in RAM, send a function of it later."""
        cell = self.cell()
        self.to.load(self.dice.choice((STATUS, OTHER)))
        self.to.store(cell)
        self.block(1)
        self.to.load(cell)
        self.to.logic(self.dice.randrange(3), self.dice.randrange(256))
        self.to.store(DATA)

    def select(self) -> None:
        """Look a byte up by two status bits."""
        self.to.load(OTHER)
        self.to.logic(0, 0x03)
        place = self.to.look_up()
        self.to.store(DATA)
        self.to.logic(0, 0x00)
        over = self.to.jump_if(True)
        if isinstance(self.to, Coder6800):
            self.to.patch_table(place)
        else:
            self.to.patch(place)
        self.to.emit(*(self.dice.randrange(256) for _ in range(4)))
        self.to.patch(over)

    def shift_out(self) -> None:
        """A status bit by bit to a register."""
        cell = self.cell()
        self.to.load(OTHER)
        self.to.store(cell)
        self.to.counter(self.dice.randrange(2, 5))
        top = self.to.here
        self.to.shift_left(cell)
        self.to.store(CONTROL)
        self.to.count()
        self.to.jump_if(False, top)

    def delay(self) -> None:
        """Count down."""
        self.to.counter(self.dice.randrange(256))
        top = self.to.here
        self.to.count()
        self.to.jump_if(False, top)

    def repeat(self) -> None:
        """A counted loop around other things."""
        cell = self.cell()
        self.to.const(self.dice.randrange(1, 4))
        self.to.store(cell)
        top = self.to.here
        self.block(1)
        self.to.count_down(cell)
        self.to.jump_if(False, top)

    def modify(self) -> None:
        """Read, modify and write a register."""
        self.to.modify(CONTROL)

    def pushed(self) -> None:
        """Keep a status on the stack meanwhile."""
        self.to.load(OTHER)
        self.to.push()
        self.block(1)
        self.to.pull()
        self.to.store(DATA)

    def argument(self) -> None:
        """A choice by the accumulator at the entry, kept in RAM."""
        self.to.load(ARGUMENT)
        self.to.logic(0, self.dice.randrange(256))
        other = self.to.jump_if(self.dice.random() < 0.5)
        self.write()
        self.to.patch(other)

    def send(self) -> None:
        """The argument to the data register."""
        self.to.load(ARGUMENT)
        self.to.store(DATA)

    def call(self) -> None:
        """Call one of the subroutines."""
        if self.subroutines:
            self.to.call(self.dice.choice(self.subroutines))

    def block(self, size: int) -> None:
        """Some statements."""
        self.depth += 1
        simple = [self.write, self.wait, self.point, self.select, self.delay, self.modify, self.call, self.send]
        nested = [self.choose, self.keep, self.repeat, self.give_up, self.shift_out, self.pushed, self.argument]
        for _ in range(size):
            self.dice.choice(simple if self.depth > 2 else simple + nested)()
        self.depth -= 1


def make_program(name: str, dice: random.Random) -> tuple[bytes, int]:
    """Random code and the address of its entry."""
    coder = CODERS[name]()
    writer = Writer(dice, coder)
    for _ in range(2):
        place = coder.here
        writer.depth = 2
        writer.block(2)
        writer.depth = 0
        coder.leave()
        writer.subroutines.append(place)
    start = coder.here
    coder.store(ARGUMENT)
    writer.block(5)
    if dice.random() < 0.8:
        coder.leave()
    else:
        coder.jump(start)
    return bytes(coder.code), start
