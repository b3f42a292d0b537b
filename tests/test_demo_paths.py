"""The demonstration's trees against py65: what a machine with random answers sends is always a walk in the tree.

A tree that left out a way of the program would fail here, and only a tree that leaves none out can say "never".
"""

from __future__ import annotations

import random
from functools import cache

import pytest
from py65.devices.mpu6502 import MPU
from py65.memory import ObservableMemory

from latchlore.base import AddressSet, ByteTree, InputKind
from latchlore.demo import demo_folder
from latchlore.program import Image, explore

DATA, CONTROL, STATUSES, INPUTS = 0xB808, 0xB810, (0xB810, 0xAA17), (0xE200, 0xE201, 0xE202)
CARD = AddressSet.parse("101x 10xx xxx0 1xxx | 101x 10xx xxx1 0xxx")
ENTRIES = {"reset": 0xF800, "power-on": 0xF820, "character": 0xF89C, "line": 0xF8BF, "reading": 0xF95B}
STOP = 0x0400
ROM = (demo_folder() / "program" / "marram.bin").read_bytes()


@cache
def tree(entry: str) -> ByteTree:
    """The tree from an entry, with the straps the same at every read."""
    devices = CARD | AddressSet.of(INPUTS)
    image = Image.from_bytes(ROM, 0xF800, "program/marram.bin")
    return explore([image], ENTRIES[entry], devices, held=dict.fromkeys(STATUSES, 0b11))


def is_data(kind: InputKind, address: int) -> bool:
    """The data register, at the one address that the program uses."""
    return kind is InputKind.MEMORY and address == DATA


class Weather:
    """Answers: straps that stay; a printer that is busy, at fault, or dead for a while; a tide that is any byte."""

    def __init__(self, chance: random.Random) -> None:
        self.chance, self.straps = chance, chance.randrange(4)
        self.dead_until = 0
        self.cycle = 0

    def status(self, _: int) -> int:
        """The status register."""
        if self.chance.random() < 0.005:
            self.dead_until = self.cycle + 250_000
        is_dead = self.cycle < self.dead_until
        ready = not is_dead and self.chance.random() < 0.8
        paper = self.chance.random() < 0.01
        fine = self.chance.random() < 0.99
        return self.straps | self.chance.randrange(2) << 2 | 1 << 3 | paper << 5 | ready << 6 | fine << 7

    def tide(self, _: int) -> int:
        """The recorder's own inputs."""
        return self.chance.randrange(256)


def sent(entry: str, seed: int, most_instructions: int) -> bytes:
    """What one run from an entry writes to the data register; registers and memory begin at random."""
    chance = random.Random(seed)
    weather, memory = Weather(chance), ObservableMemory()
    for address in range(STOP):
        memory[address] = chance.randrange(256)
    for offset, value in enumerate(ROM):
        memory[0xF800 + offset] = value
    written = bytearray()
    memory.subscribe_to_read(STATUSES, weather.status)
    memory.subscribe_to_read(INPUTS, weather.tide)
    memory.subscribe_to_write([DATA], lambda _, value: written.append(value))
    cpu = MPU(memory=memory)
    cpu.pc, cpu.sp, cpu.a, cpu.x, cpu.y = ENTRIES[entry], 0xDF, *(chance.randrange(256) for _ in range(3))
    cpu.p &= ~cpu.DECIMAL
    cpu.stPushWord(STOP - 1)
    for _ in range(most_instructions):
        if cpu.pc == STOP:
            break
        cpu.step()
        weather.cycle = cpu.processorCycles
    return bytes(written)


@pytest.mark.parametrize(
    ("entry", "runs", "most_instructions"),
    [
        ("reset", 5, 100_000),
        ("power-on", 4, 20_000),
        ("character", 100, 2_000),
        ("line", 12, 120_000),
        ("reading", 12, 120_000),
    ],
)
def test_walks(entry: str, runs: int, most_instructions: int) -> None:
    """Every run is a walk, and no run sends the code that draws dots."""
    found = [sent(entry, seed, most_instructions) for seed in range(runs)]
    assert sum(map(len, found)) > runs
    for data in found:
        assert not data or tree(entry).can_emit([frozenset({byte}) for byte in data], is_data)
        assert b"\x16D" not in data


@pytest.mark.parametrize("entry", ENTRIES)
def test_walks_wrong(entry: str) -> None:
    """The trees are followed to every end, and hold neither the code that draws dots nor bytes never seen."""
    assert tree(entry).is_exhausted
    assert not tree(entry).can_emit([frozenset({0x16}), frozenset({0x44})], is_data)
    assert not tree(entry).can_emit([frozenset({0x07})], is_data)
