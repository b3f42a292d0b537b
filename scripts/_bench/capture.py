"""Captures: how fast VCD files are read, handshakes found and stored captures opened, and with how much memory."""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from _bench import Row, best_seconds
from latchlore.base import Span
from latchlore.wire import Capture, Channel, ChannelKind, ParallelLines, open_vcd, read_parallel, read_vcd

CHANGES = 2_000_000
STROBES = 1_000_000
MEMORY = """
import resource, sys
from pathlib import Path
from latchlore.wire import read_vcd
read_vcd(Path(sys.argv[1]), "m", Path(sys.argv[2]))
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def write_vcd(path: Path, changes: int) -> None:
    """Nine lines and a bus of eight, one change at a time."""
    rng = random.Random(1)
    codes = "!\"#%&'()*+"
    levels = [0] * 9
    now = 0
    with path.open("w") as out:
        out.write("$timescale 1 ns $end\n$scope module card $end\n")
        out.writelines(f"$var wire 1 {code} s{k} $end\n" for k, code in enumerate(codes[:9]))
        out.write(f"$var wire 8 {codes[9]} d [7:0] $end\n$upscope $end\n$enddefinitions $end\n#0\n")
        for _ in range(changes):
            now += rng.randrange(1, 400)
            line = rng.randrange(10)
            if line < 9:
                levels[line] ^= 1
                out.write(f"#{now}\n{levels[line]}{codes[line]}\n")
            else:
                out.write(f"#{now}\nb{rng.randrange(256):b} {codes[9]}\n")


def plain_pass(path: Path) -> int:
    """Look at every byte of a file once."""
    lines = 0
    with path.open("rb") as source:
        while piece := source.read(1 << 20):
            lines += int(np.count_nonzero(np.frombuffer(piece, np.uint8) == 10))
    return lines


def pywellen_pass(path: Path) -> int:
    """Go through all changes with pywellen."""
    import pywellen

    return sum(len(list(variable.tv)) for variable in pywellen.Waveform(path=str(path)).all_vars())


def vcd_rows(folder: Path) -> Iterator[Row]:
    """Reading, opening again, memory."""
    path = folder / "long.vcd"
    write_vcd(path, CHANGES)
    read_vcd(path, "long.vcd")  # compile
    mine, theirs, plain = float("inf"), float("inf"), float("inf")
    for _ in range(3):  # by turns, so that another load on the machine falls on all
        mine = min(mine, best_seconds(lambda: read_vcd(path, "long.vcd"), 2))
        theirs = min(theirs, best_seconds(lambda: pywellen_pass(path), 1))
        plain = min(plain, best_seconds(lambda: plain_pass(path), 2))
    ratio = theirs / mine
    rate = CHANGES / mine / 1e6
    yield Row("capture.vcd-read", rate, "M changes/s", "pywellen change iteration", ratio, "at least 10x", ratio >= 10)
    yield Row(
        "capture.vcd-read-to-plain-pass", mine / plain, "x", "a plain pass over the bytes", mine / plain, "aim: 8"
    )
    open_vcd(path, "long.vcd", folder / "kept")
    again = best_seconds(lambda: open_vcd(path, "long.vcd", folder / "kept"), 3)
    yield Row("capture.second-opening", again * 1e3, "ms", goal="at once: under 50 ms", met=again < 0.05)
    used = []
    for k, changes in enumerate((CHANGES // 4, CHANGES)):
        part = folder / f"{k}.vcd"
        write_vcd(part, changes)
        done = subprocess.run(
            [sys.executable, "-c", MEMORY, str(part), str(folder / f"m{k}")], capture_output=True, text=True, check=True
        )
        used.append(int(done.stdout))
    growth = used[1] / used[0]
    yield Row("capture.memory-of-4-times-the-file", growth, "x", goal="bounded: under 1.5x", met=growth < 1.5)


def handshake_capture(strobes: int) -> Capture:
    """Random bytes with strobe, busy and acknowledge."""
    rng = np.random.default_rng(1)
    period = 20_000_000
    lead = np.arange(1, strobes + 1, dtype=np.int64) * period + rng.integers(0, 3_000_000, strobes)
    data = rng.integers(0, 256, strobes)
    empty = np.zeros((0, 1), np.uint64)

    def line(name: str, times: np.ndarray, levels: np.ndarray) -> Channel:
        keep = np.ones(len(levels), bool)
        keep[1:] = levels[1:] != levels[:-1]
        level = levels[keep].astype(np.uint8)
        return Channel((name,), ChannelKind.LOGIC, 1, times[keep], level, empty, empty, np.zeros(0))

    def pulses(name: str, on: np.ndarray, off: np.ndarray, active: int) -> Channel:
        times, levels = np.zeros(2 * strobes + 1, np.int64), np.full(2 * strobes + 1, 1 - active, np.uint8)
        times[1::2], times[2::2], levels[1::2] = on, off, active
        return line(name, times, levels)

    channels = [line(f"D{k}", lead - 500_000, data >> k & 1) for k in range(8)]
    channels.append(pulses("S", lead, lead + 500_000, 0))
    channels.append(pulses("B", lead + 300_000, lead + 9_000_000, 1))
    channels.append(pulses("A", lead + 9_500_000, lead + 10_000_000, 0))
    return Capture("made", tuple(channels), Span(0), Span(int(lead[-1]) + period))


def handshake_rows() -> Iterator[Row]:
    """Edges a second, and whether the cost is linear."""
    lines = ParallelLines(tuple(f"D{k}" for k in range(8)), "S", busy="B", ack="A")
    costs = []
    for strobes in (STROBES // 10, STROBES):
        capture = handshake_capture(strobes)
        read_parallel(capture, lines)
        seconds = best_seconds(lambda capture=capture: read_parallel(capture, lines), 5)
        costs.append(seconds / capture.num_changes)
    rate = 1e-6 / costs[1]
    yield Row("capture.handshake", rate, "M edges/s", goal="at least 50", met=rate >= 50)
    growth = costs[1] / costs[0]
    yield Row("capture.handshake-cost-an-edge-at-10-times", growth, "x", goal="linear: under 1.5x", met=growth < 1.5)


def rows() -> Iterator[Row]:
    """All rows."""
    with tempfile.TemporaryDirectory() as folder:
        yield from vcd_rows(Path(folder))
    yield from handshake_rows()
