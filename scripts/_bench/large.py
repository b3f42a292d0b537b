"""Captures of 1 to 500 million edges: what an edge costs, and the memory it takes.

Only when named: it takes some ten minutes and 20 GB of disk.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
import zlib
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from _bench import Row

EDGES = (1_000_000, 10_000_000, 100_000_000, 500_000_000)
EDGES_A_BYTE = 10
"""Of strobe, busy and acknowledge two each, and of eight data lines four on average."""
PART = 200_000
CLOCK = 24_000_000
TRUE = {
    **{"strobe width": 2, "strobe to busy": 1, "busy length": 6, "strobe to acknowledge": 7, "acknowledge width": 2},
    "acknowledge end to busy end": -2,
}
"""Samples that a figure lasts in what `write_handshakes` makes."""
ROOM_AN_EDGE = 40
"""Bytes of disk an edge takes at most: samples, columns and overview, what is read, what is measured."""
CHILD = """
import json, sys, threading, time, zlib
from fractions import Fraction
from pathlib import Path
from latchlore.base import Clock, Span, SpanLimit
from latchlore.wire import (
    PackedMap, ParallelLines, figures_to_plain, measure_activity, measure_handshake, propose_lines, read_packed,
    read_parallel, view, view_to_plain
)
from latchlore.wire import _activity, _handshake

peak, done = 0, threading.Event()

def watch():
    global peak
    while True:
        for line in Path("/proc/self/status").read_text().splitlines():
            if line.startswith("RssAnon:"):
                peak = max(peak, int(line.split()[1]))
        if done.wait(0.01):
            return

def measured(work):
    global peak
    peak = 0
    done.clear()
    thread = threading.Thread(target=watch)
    thread.start()
    begin = time.process_time()
    found = work()
    spent = {"cpu": time.process_time() - begin}
    done.set()
    thread.join()
    return found, {**spent, "peak_mb": peak / 1024}

data = [f"D{k}" for k in range(8)]
packed = PackedMap({name: k for k, name in enumerate([*data, "S", "B", "A"])}, Clock(Fraction(24_000_000)), 2)
lines = ParallelLines(tuple(data), "S", busy="B", ack="A")
path, kept, small, what = (*map(Path, sys.argv[1:4]), sys.argv[4])
limits = {"strobe width": SpanLimit(Span.of(ns=60))}

def measure(capture, reading):
    return figures_to_plain(measure_handshake(capture, lines, reading), limits, "")["figures"]

made = read_packed(small, "small", packed, small.with_name("small.kept"))
for edges in (_handshake.LONG, 0):  # compile, also what only long captures need
    _handshake.LONG, usual = edges, _handshake.LONG
    _activity.KEPT = edges
    measure(made, read_parallel(made, lines))
    propose_lines(made)
    _handshake.LONG = _activity.KEPT = usual
view(made, data, 0, 10**9, 100)
if what == "read":
    capture, spent = measured(lambda: read_packed(path, "x", packed, kept))
    print(json.dumps({"edges": capture.num_changes, **spent}))
else:
    since = time.perf_counter()
    capture = read_packed(path, "x", packed, kept)
    opened = time.perf_counter() - since
    reading, spent = measured(lambda: read_parallel(capture, lines))
    figures, timing = measured(lambda: measure(capture, reading))
    proposal, proposing = measured(lambda: propose_lines(capture))
    activity, counting = measured(lambda: measure_activity(capture))
    middles = {row["figure"]: row["percentiles_ps"]["50"] for row in figures}
    drawn, drawing = measured(
        lambda: json.dumps(view_to_plain(view(capture, [*data, "S", "B", "A"], 0, capture.end.picoseconds, 1920)))
    )
    found = {"edges": capture.num_changes, **spent, "open": opened, "view": drawing, "times": timing}
    found |= {"propose": proposing, "activity": counting}
    found["proposed"] = proposal.lines == lines and [one.edges for one in activity[8:]].count(activity[8].edges) == 3
    found |= {"middles": middles, "count": figures[1]["count"], "complete": reading.complete}
    print(json.dumps({**found, "sure": bool(reading.certain.all()), "sum": zlib.crc32(reading.data)}))
"""


def write_handshakes(path: Path, count: int) -> int:
    """Packed samples of random bytes with strobe, busy and acknowledge; the check sum of the bytes."""
    rng = np.random.default_rng(1)
    total = 0
    with path.open("wb") as out:
        for begin in range(0, count, PART):
            num = min(PART, count - begin)
            data, periods = rng.integers(0, 256, num, np.uint8), rng.integers(12, 16, num)
            total = zlib.crc32(data.tobytes(), total)
            starts = np.cumsum(periods) - periods
            place = np.arange(int(periods.sum())) - np.repeat(starts, periods)
            strobe, busy, ack = (place < 2) | (place >= 4), (place >= 3) & (place < 9), (place < 9) | (place >= 11)
            words = np.repeat(data.astype("<u2"), periods) | strobe * np.uint16(256)
            out.write((words | busy * np.uint16(512) | ack * np.uint16(1024)).astype("<u2").tobytes())
    return total


def rows() -> Iterator[Row]:
    """Reading and handshakes at each size."""
    costs: dict[str, list[float]] = {"read": [], "handshake": [], "times": [], "propose": [], "activity": []}
    peaks: dict[str, list[float]] = {what: [] for what in costs}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        small = folder / "small"
        write_handshakes(small, 100)
        for edges in EDGES:
            free = shutil.disk_usage(folder).free
            if free < edges * ROOM_AN_EDGE:
                yield Row(f"large.{edges // 10**6}M", 0, "edges", goal=f"left out: {free >> 30} GB of disk are free")
                continue
            path, kept = folder / "samples", folder / "kept"
            wanted = write_handshakes(path, edges // EDGES_A_BYTE)
            size = f"{edges // 10**6}M"
            for work in ("read", "handshake"):
                done = subprocess.run(
                    [sys.executable, "-c", CHILD, *map(str, (path, kept, small)), work],
                    capture_output=True, text=True, check=True,
                )  # fmt: skip
                found = json.loads(done.stdout)
                for what in (work,) if work == "read" else tuple(costs)[1:]:
                    spent = found.get(what, found)
                    costs[what].append(spent["cpu"] / found["edges"] * 1e9)
                    peaks[what].append(spent["peak_mb"])
                    yield Row(f"large.{what}-{size}", costs[what][-1], "ns/edge", goal=f"{found['edges']} edges")
                    yield Row(f"large.{what}-memory-{size}", peaks[what][-1], "MB")
            opened = found["open"] * 1e3
            yield Row(f"large.open-again-{size}", opened, "ms", goal="at once: under 50 ms", met=opened < 50)
            drawn = found["view"]["cpu"] * 1e3
            yield Row(f"large.view-{size}", drawn, "ms", goal="under 33 ms", met=drawn < 33)
            right = found["sum"] == wanted and found["complete"] and found["sure"]
            yield Row(f"large.right-{size}", float(right), "", goal="the bytes that were sent, all certain", met=right)
            right = found["proposed"]
            yield Row(f"large.right-propose-{size}", float(right), "", goal="the lines that were made", met=right)
            near = all(
                low < TRUE[name] * 10**12 / CLOCK < high
                for name, (low, high) in found["middles"].items()
                if name in TRUE
            )
            whole = near and edges // EDGES_A_BYTE - found["count"] < 3
            yield Row(f"large.right-times-{size}", float(whole), "", goal="the middle times that were made", met=whole)
            shutil.rmtree(kept)
    for what, each in costs.items():
        # the times of a short capture stay in memory, those of a long one are written to files and read again
        growth, least = (each[-1] / each[-2], "100M") if what == "times" else (max(each[1:]) / each[0], "1M")
        yield Row(f"large.{what}-linear", growth, "x", goal=f"an edge against {least}: under 1.5x", met=growth < 1.5)
        growth = peaks[what][-1] / peaks[what][-2]
        yield Row(f"large.{what}-memory", growth, "x", goal="5 times the edges: under 1.5x", met=growth < 1.5)
