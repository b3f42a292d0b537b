"""The demonstration's program: rebuilt from its source, and run on py65, a 6502 that shares no code with ours.

The expected values are those of the design sheet in docs/demo.md.
"""

from __future__ import annotations

import itertools
import shutil
import subprocess
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from py65.devices.mpu6502 import MPU
from py65.memory import ObservableMemory

from latchlore.demo import demo_folder

SOURCE = Path(__file__).parent.parent / "demo-source"
IMAGE = demo_folder() / "program" / "marram.bin"
DATA, CONTROL, STATUSES = 0xB808, 0xB810, (0xB810, 0xAA17)
RESET, PUTCHAR, READING, STOP = 0xF800, 0xF89C, 0xF95B, 0x0400
BURSTS = {
    0b00: bytes.fromhex("16 5A 0D 0A"),
    0b01: bytes.fromhex("16 5A 16 4C 09 0D 0A"),
    0b10: bytes.fromhex("16 5A 16 4C 0C 06 4D 41 52 52 41 4D 0D 0A"),
    0b11: bytes.fromhex("16 5A 0D 0A"),
}


@dataclass
class Recorder:
    """The recorder with the inputs given; keeps the writes to the card as (cycle, address, value)."""

    status: int = 0b1100_1100
    tide: tuple[int, int, int] = (0x37, 0x04, 0x01)
    writes: list[tuple[int, int, int]] = field(default_factory=list)

    def run(self, entry: int, accumulator: int = 0, most_cycles: int = 60_000) -> MPU:
        """Run until the routine returns, or for so many cycles."""
        memory = ObservableMemory()
        for offset, value in enumerate(IMAGE.read_bytes()):
            memory[0xF800 + offset] = value
        cpu = MPU(memory=memory)
        memory.subscribe_to_read(STATUSES, lambda _: self.status)
        memory.subscribe_to_read(range(0xE200, 0xE203), lambda address: self.tide[address - 0xE200])
        memory.subscribe_to_write(
            (DATA, CONTROL), lambda address, value: self.writes.append((cpu.processorCycles, address, value))
        )
        cpu.pc, cpu.a, cpu.sp = entry, accumulator, 0xFF
        cpu.stPushWord(STOP - 1)
        while cpu.pc != STOP and cpu.processorCycles < most_cycles:
            cpu.step()
        return cpu

    @property
    def sent(self) -> bytes:
        """What went into the data register."""
        return bytes(value for _, address, value in self.writes if address == DATA)


def test_image(tmp_path: Path) -> None:
    """The committed image is what the assembler makes of the source."""
    if shutil.which("ca65") is None or shutil.which("ld65") is None:
        pytest.skip("ca65 and ld65 (Debian package cc65) are not installed")
    built = tmp_path / "marram.bin"
    subprocess.run([SOURCE / "build", built], check=True, timeout=60)
    assert built.read_bytes() == IMAGE.read_bytes()


def test_image_says_invented() -> None:
    """Whoever opens the image in an editor reads that it is invented."""
    assert b"INVENTED FOR A DEMONSTRATION" in IMAGE.read_bytes()
    assert len(IMAGE.read_bytes()) == 2048


@pytest.mark.parametrize("straps", BURSTS)
def test_burst(straps: int) -> None:
    """The straps choose the burst; the input wired to nothing and the printer's own lines do not."""
    for others in (0b1100_1000, 0b1100_1100, 0b0110_1000):
        recorder = Recorder(status=others | straps)
        recorder.run(RESET)
        assert recorder.sent == BURSTS[straps]


def test_burst_wrong() -> None:
    """Nothing is sent, nor the printer touched, where the card's two tied bits do not read 1 and 0."""
    for ident in (0b0000_0000, 0b0001_0000, 0b0001_1000):
        recorder = Recorder(status=0b1100_0110 | ident)
        recorder.run(RESET)
        assert recorder.writes == []


def test_busy() -> None:
    """Bit 6 low keeps the program waiting before the first byte."""
    recorder = Recorder(status=0b1000_1010)
    recorder.run(RESET)
    assert recorder.sent == b""


def test_strobe() -> None:
    """Each byte: data, 6 cycles, strobe on, 32 cycles, strobe off; 74 cycles from byte to byte in the burst."""
    recorder = Recorder(status=0b1100_1110)
    recorder.run(RESET)
    bytes_sent = recorder.writes[2:]
    assert [(address, value) for _, address, value in recorder.writes[:2]] == [(CONTROL, 0), (CONTROL, 2)]
    assert [address for _, address, _ in bytes_sent] == [DATA, CONTROL, CONTROL] * 14
    starts = [cycle for cycle, address, _ in bytes_sent if address == DATA]
    assert {later - earlier for earlier, later in itertools.pairwise(starts)} == {74}
    for k in range(14):
        (at_data, _, _), (at_on, _, on), (at_off, _, off) = bytes_sent[3 * k : 3 * k + 3]
        assert (at_on - at_data, at_off - at_on, on, off) == (6, 32, 3, 2)


def sieved(value: int) -> bytes:
    """What a character becomes, by Python's own idea of upper case."""
    character = chr(value & 0x7F)
    if character == "\r":
        return b"\r\n"
    return character.upper().encode() if character.isascii() and character.isprintable() else b""


@pytest.mark.parametrize("value", range(256))
def test_putchar(value: int) -> None:
    """CR becomes CR LF, letters upper case; no other control code gets through."""
    recorder = Recorder()
    recorder.run(PUTCHAR, accumulator=value)
    assert recorder.sent == sieved(value)


@pytest.mark.parametrize(
    ("tide", "line"),
    [
        ((0x37, 0x04, 0x01), b"TIDE 04.37 M RISING \r\n"),
        ((0x99, 0x12, 0x80), b"TIDE 12.99 M FALLING\r\n"),
    ],
)
def test_reading(tide: tuple[int, int, int], line: bytes) -> None:
    """One reading is one line of text."""
    recorder = Recorder(tide=tide)
    cpu = recorder.run(READING)
    assert recorder.sent == line
    assert not cpu.p & cpu.CARRY


@pytest.mark.parametrize("status", [0b1000_1110, 0b0100_1110, 0b1110_1110])
def test_reading_wrong(status: int) -> None:
    """Busy for too long, a fault, or no paper: the line is given up, with the carry set and nothing sent."""
    recorder = Recorder(status=status)
    cpu = recorder.run(READING, most_cycles=400_000)
    assert recorder.sent == b""
    assert cpu.p & cpu.CARRY
    assert cpu.pc == STOP
