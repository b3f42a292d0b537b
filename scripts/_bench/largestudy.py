"""Weighing a large study: from nothing remembered, again, and after one change each; in processor time.

The study is the tests' invented one: 50 images with two entries each, 20 manuals, 5,000 readings of a meter, 10 runs of
a listener.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from _bench import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).resolve().parent.parent.parent
CODE = "from latchlore.cli import main; main()"
WORDS = "processor time of the whole command"


def _seconds(*arguments: str, cache: Path, repeats: int = 1) -> float:
    """The least processor time of several runs of a command, all of it counted."""
    environment = {**os.environ, "LATCHLORE_CACHE": str(cache)}
    best = float("inf")
    for _ in range(repeats):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        command = [sys.executable, "-c", CODE, *arguments]
        done = subprocess.run(command, capture_output=True, env=environment, check=False)
        if done.returncode not in (0, 4):
            raise RuntimeError(f"latchlore {' '.join(arguments)}: {done.stderr.decode()}")
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        best = min(best, after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime)
    return best


def rows() -> Iterator[Row]:
    """The large study cold, again, and after one change of each kind; the demonstration again; the list of commands."""
    sys.path.insert(0, str(ROOT))
    from latchlore.demo import demo_folder
    from tests.largestudy import write_large_study

    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        cache, large, demo = place / "cache", write_large_study(place / "large"), place / "demo"
        shutil.copytree(demo_folder(), demo, ignore=shutil.ignore_patterns("__*"))
        _seconds("weigh", str(large), cache=cache)  # compiles
        shutil.rmtree(cache / "results")
        cold = _seconds("weigh", str(large), cache=cache)
        yield Row("largestudy.weigh-cold", cold, "s", WORDS, goal="under 10 s, once compiled", met=cold < 10)
        again = _seconds("weigh", str(large), cache=cache, repeats=3)
        yield Row("largestudy.weigh-again", again, "s", WORDS)
        for what, change in (("manual", _manual), ("reading", _reading), ("image", _image)):
            change(large)
            yield Row(
                f"largestudy.weigh-{what}", _seconds("weigh", str(large), cache=cache), "s", f"one {what} changed"
            )
        _seconds("weigh", str(demo), cache=cache)
        again = _seconds("weigh", str(demo), cache=cache, repeats=5)
        yield Row("largestudy.weigh-demo-again", again, "s", WORDS, goal="under 0.5 s", met=again < 0.5)
        start = _seconds("--help", cache=cache, repeats=5)
        yield Row("largestudy.start", start, "s", "latchlore --help", goal="under 0.3 s", met=start < 0.3)


def _manual(folder: Path) -> None:
    path = folder / "documents" / "quill-02.toml"
    path.write_text(path.read_text("utf-8").replace("coffee", "tea"), "utf-8")


def _reading(folder: Path) -> None:
    path = folder / "board" / "card.readings"
    path.write_text(path.read_text("utf-8").partition("\n")[2], "utf-8")


def _image(folder: Path) -> None:
    path = folder / "program" / "rom07.bin"
    raw = bytearray(path.read_bytes())
    raw[64] = 0x20
    path.write_bytes(raw)
