"""Captures: how fast VCD files are read, handshakes found, stored captures opened and drawn, with how much memory."""

from __future__ import annotations

import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np

from _bench import Row, best_processor_seconds, best_seconds
from latchlore.base import Clock, Span
from latchlore.wire import (
    Capture,
    Channel,
    ChannelKind,
    PackedMap,
    ParallelLines,
    read_packed,
    read_parallel,
    read_vcd,
    view,
    view_to_plain,
)

CHANGES = 2_000_000
STROBES = 1_000_000
VIEW_SAMPLES = 12_500_000
"""Of 16 random lines: 100 million edges."""
VIEW_ROOM = 3 * 2**30
"""Free disk the drawing rows ask for; they use about 1 GB."""
FRAME = 0.033
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
    read_vcd(path, "long.vcd", folder / "kept")
    again = best_seconds(lambda: read_vcd(path, "long.vcd", folder / "kept"), 3)
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
        seconds = best_processor_seconds(lambda capture=capture: read_parallel(capture, lines), 8)
        costs.append(seconds / capture.num_changes)
    rate = 1e-6 / costs[1]
    yield Row("capture.handshake", rate, "M edges/s", goal="at least 50", met=rate >= 50)
    growth = costs[1] / costs[0]
    yield Row("capture.handshake-cost-an-edge-at-10-times", growth, "x", goal="linear: under 1.5x", met=growth < 1.5)


def write_samples(path: Path, samples: int) -> None:
    """Random samples of 16 lines, a million at a time."""
    rng = np.random.default_rng(1)
    with path.open("wb") as out:
        for begin in range(0, samples, 1 << 20):
            out.write(rng.integers(0, 1 << 16, min(samples - begin, 1 << 20), np.uint16).tobytes())


def forget(folder: Path) -> None:
    """Let the system drop a folder's files from its memory, so that the next reader waits for the disk."""
    for path in folder.iterdir():
        file = os.open(path, os.O_RDONLY)
        os.fdatasync(file)
        os.posix_fadvise(file, 0, 0, os.POSIX_FADV_DONTNEED)
        os.close(file)


def view_rows(folder: Path) -> Iterator[Row]:
    """Any stretch of a capture of 100 million edges, 16 lines, 1920 pixels, as JSON: processor time and size."""
    if shutil.disk_usage(folder).free < VIEW_ROOM:
        yield Row("capture.view", 0, "ms", goal=f"left out: needs {VIEW_ROOM // 2**30} GB of free disk")
        return
    path, kept = folder / "samples", folder / "samples.kept"
    write_samples(path, VIEW_SAMPLES)
    packed = PackedMap({f"L{k}": k for k in range(16)}, Clock(Fraction(24_000_000)), 2)
    names = list(packed.channels)
    made = read_packed(path, "samples", packed, kept)
    whole = made.end.picoseconds
    json.dumps(view_to_plain(view(made, names, 0, whole // 2, 1920)))  # compile
    overview = sum(p.stat().st_size for p in kept.iterdir() if p.suffix in {".spans", ".marks"})
    columns = sum(p.stat().st_size for p in kept.iterdir()) - overview
    del made
    forget(kept)
    from_disk: list[float] = []
    spent: list[float] = []
    sizes: list[int] = []
    for zoom in (*(4**k for k in range(13)), *(10**k for k in range(8))):
        capture = read_packed(path, "samples", packed, kept)
        start = whole // 7 * (zoom > 1)
        for times in (from_disk, spent, spent, spent):
            before = time.process_time()
            drawn = json.dumps(view_to_plain(view(capture, names, start, start + whole // zoom, 1920)))
            times.append(time.process_time() - before)
        sizes.append(len(drawn))
    num = f"{capture.num_changes / 1e6:.0f} M edges"
    yield Row("capture.view-from-disk", max(from_disk) * 1e3, "ms", goal=f"{num}, worst zoom, not in memory yet")
    worst = max(spent)
    yield Row("capture.view", worst * 1e3, "ms", goal=f"{num}, worst zoom: under 33 ms", met=worst < FRAME)
    yield Row("capture.view-size", max(sizes) / 1e3, "kB", goal="under 200 kB", met=max(sizes) < 200_000)
    yield Row("capture.overview-to-columns", 100 * overview / columns, "%", goal="of the columns' bytes")


def rows() -> Iterator[Row]:
    """All rows."""
    with tempfile.TemporaryDirectory() as folder:
        yield from vcd_rows(Path(folder))
    yield from handshake_rows()
    with tempfile.TemporaryDirectory() as folder:
        yield from view_rows(Path(folder))
