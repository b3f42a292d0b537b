"""The house as a whole: how long a user waits for the commands."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from _bench import Row
from latchlore.demo import demo_folder

ROOT = Path(__file__).resolve().parent.parent.parent
COMMAND = [str(Path(sys.executable).parent / "latchlore")]


def _seconds(*arguments: str, environment: dict[str, str] | None = None) -> float:
    start = time.perf_counter()
    done = subprocess.run(
        [*COMMAND, *arguments], capture_output=True, env={**os.environ, **(environment or {})}, check=False
    )
    if done.returncode not in (0, 4):
        raise RuntimeError(f"latchlore {' '.join(arguments)}: {done.stderr.decode()}")
    return time.perf_counter() - start


def rows() -> Iterator[Row]:
    """Weighing the demo cold and with nothing remembered, and the demonstration from a fresh clone."""
    with tempfile.TemporaryDirectory() as folder:
        study = Path(folder) / "study"
        shutil.copytree(demo_folder(), study, ignore=shutil.ignore_patterns("__*"))
        cache = {"LATCHLORE_CACHE": str(Path(folder) / "cache")}
        cold = _seconds("weigh", str(study), environment=cache)
        yield Row("house.weigh-demo-cold", cold, "s", goal="with compiling; no goal")
        shutil.rmtree(Path(folder) / "cache" / "results")
        changed = _seconds("weigh", str(study), environment=cache)
        yield Row("house.weigh-demo-compiled", changed, "s", goal="nothing remembered; no goal")
    fresh = _fresh_demo_seconds()
    yield Row("house.demo-fresh-clone", fresh, "s", goal="under 180 s with downloads", met=fresh < 180)


def _fresh_demo_seconds() -> float:
    """`scripts/demo` in a fresh clone, with an empty cache and environment."""
    with tempfile.TemporaryDirectory() as folder:
        clone = Path(folder) / "clone"
        subprocess.run(["git", "clone", "-q", str(ROOT), str(clone)], check=True)
        environment = {**os.environ, "LATCHLORE_CACHE": str(Path(folder) / "cache")}
        start = time.perf_counter()
        command = [str(clone / "scripts" / "demo"), "--no-desk"]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=environment)
        return time.perf_counter() - start
