"""The desk: from the moment that it is open to the first page, and every room for the first time, on the demonstration.

Each figure is the best of three desks.  Rooms are given in processor time of the desk's process, since the machine is
shared; the wall time of the same visit stands in the goal's words.  Drawing a large capture is measured in `capture`.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

from _bench import Row

CODE = "from latchlore.cli import main; main()"
DESKS = 3
PAGES = ("board", "program", "program-listing", "wire", "wire-capture?file=wire/plug.vcd", "paper", "devices", "record")
UNFINISHED = b"data-unfinished"


def _command(*arguments: str) -> None:
    subprocess.run([sys.executable, "-c", CODE, *arguments], capture_output=True, check=True)


def _spent(pid: int) -> float:
    """Processor seconds that a process has used."""
    words = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(words[11]) + int(words[12])) / os.sysconf("SC_CLK_TCK")


def _get(address: str) -> bytes:
    with urllib.request.urlopen(address, timeout=60) as answer:
        return bytes(answer.read())


def _whole(address: str) -> None:
    """The page as soon as nothing on it is unfinished."""
    while UNFINISHED in _get(address):
        time.sleep(0.02)


def _visit(study: Path) -> tuple[float, float, dict[str, tuple[float, float]]]:
    """One desk: seconds to the first page, to the whole table, and (processor, wall) seconds of each room."""
    command = [sys.executable, "-c", CODE, "desk", str(study), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as running:
        assert running.stdout is not None
        address = running.stdout.readline().split()[-1]
        start = time.perf_counter()
        _get(address)
        first = time.perf_counter() - start
        _whole(address)
        table = time.perf_counter() - start
        rooms = {}
        for page in PAGES:
            spent, start = _spent(running.pid), time.perf_counter()
            _whole(address + page)
            rooms[page] = (_spent(running.pid) - spent, time.perf_counter() - start)
        running.terminate()
    return first, table, rooms


def rows() -> Iterator[Row]:
    """The first page, the table, and each room."""
    with tempfile.TemporaryDirectory() as place:
        study = Path(place) / "study"
        _command("demo", str(study), "--no-desk")
        visits = [_visit(study) for _ in range(DESKS)]
    first = min(visit[0] for visit in visits)
    yield Row("desk.first-page", first, "s", goal="after it is open: under 0.3 s", met=first < 0.3)
    yield Row("desk.table", min(visit[1] for visit in visits), "s", goal="weighed before; from its being open")
    for page in PAGES:
        spent, wall = min(visit[2][page] for visit in visits)
        yield Row(f"desk.{page[:30]}", spent, "s", goal=f"first visit: under 1 s ({wall:.2f} s wall)", met=spent < 1)
