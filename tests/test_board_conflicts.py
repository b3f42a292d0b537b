"""Two buffers on one line at once: where the decode says so, and where an HDL simulator sees a fight."""

from __future__ import annotations

import pathlib
import random

import pytest

from latchlore.board import Board, RegisterMap, decode, parse_board
from tests.random_boards import BUFFER_IN, BUFFER_OUT, Maker
from tests.test_board_hdl import simulate, verilog

LINES = 8


def crowded(seed: int) -> str:
    """Three buffers on the data lines, each enabled by an output of one of two random decoders."""
    maker = Maker(seed, LINES)
    address = [f"a{k}" for k in range(LINES)]
    maker.gate([*address, "rw"])
    outputs = maker.decoder([*address, *maker.loose]) + maker.decoder([*address, *maker.loose])
    for _ in range(3):
        name, enable = maker.part(maker.random.choice(("74244", "74240"))), maker.random.choice(outputs)
        maker.join(enable, f"{name}.1")
        maker.join(enable, f"{name}.19")
        for k, (a, y) in enumerate(zip(BUFFER_IN, BUFFER_OUT, strict=True)):
            maker.join(f"d{k}", f"{name}.{y}")
            maker.join(f"{name}s{a}", f"{name}.{a}")
            maker.signals.append(f"{name}s{a} in")
    return maker.write(0)


def run(seed: int, folder: pathlib.Path) -> tuple[Board, RegisterMap, list[str]]:
    """A crowded board, its map, and the data lines that the simulator sees in each read (bit 7 first)."""
    board = parse_board(crowded(seed), f"crowded-{seed}.nets")
    signals = [pin.signal for plug in board.connectors for pin in plug.pins if plug.name == "j1"]
    chance = random.Random(seed)
    levels = {name: chance.randint(0, 1) for name in signals}
    seen = simulate(verilog(board, ["phi2"], signals, levels, LINES), folder)
    return board, decode(board), [row.split()[1] for row in seen["R"]]


@pytest.mark.hdl
def test_conflicts(tmp_path: pathlib.Path) -> None:
    """A line that fights in the simulator is a conflict of ours there; a line that floats there is driven by nobody."""
    fights = quiet = boards = 0
    for seed in range(30):
        _, found, reads = run(seed, tmp_path)
        told = [(c.net, c.certain, c.addresses) for c in found.conflicts if c.during == "memory read"]
        boards += bool(told)
        for address, row in enumerate(reads):
            for k in range(8):
                here = [certain for net, certain, _ in told if net == f"d{k}" and address in certain]
                if row[7 - k] == "x":
                    assert here, (seed, hex(address), k)
                    fights += 1
                elif row[7 - k] == "z":
                    assert not here, (seed, hex(address), k)
                    assert not any(
                        address in r.addresses and any(bit.number == k for bit in r.bits)
                        for r in found.registers
                        if r.direction == "read"
                    )
                    quiet += 1
    assert boards >= 5
    assert fights > 100
    assert quiet > 1000


@pytest.mark.hdl
def test_conflicts_of_equal_levels(tmp_path: pathlib.Path) -> None:
    """Where a conflict is certain the simulator sees a fight on some line, unless the drivers happen to agree on all.

    Eight random pairs agree with a chance of 1 in 256 for each board and pair of buffers.
    """
    agreed = disagreed = 0
    for seed in range(30):
        _, found, reads = run(seed, tmp_path)
        places = {a for c in found.conflicts if c.during == "memory read" for a in c.certain.iter_addresses()}
        for address in places:
            if "x" in reads[address]:
                disagreed += 1
            else:
                agreed += 1
    assert disagreed > 20
    assert agreed <= disagreed // 20
