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

from _bench import Row, best_seconds

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
    """Start-up, weighing the demo cold and warm, and the same without remembered results."""
    python = best_seconds(lambda: subprocess.run([sys.executable, "-c", "pass"], check=True))
    start = best_seconds(lambda: _seconds("--help"))
    yield Row("house.help", start, "s", "python -c pass", start / python, "under 0.3 s", start < 0.3)
    with tempfile.TemporaryDirectory() as folder:
        study = Path(folder) / "study"
        shutil.copytree(ROOT / "src" / "latchlore" / "demo" / "study", study)
        cache = {"LATCHLORE_CACHE": str(Path(folder) / "cache")}
        cold = _seconds("weigh", str(study), environment=cache)
        yield Row("house.weigh-demo-cold", cold, "s", goal="with compiling; no goal")
        warm = best_seconds(lambda: _seconds("weigh", str(study), environment=cache))
        yield Row("house.weigh-demo-again", warm, "s", goal="under 2 s (0.5 s without a change)", met=warm < 2)
        shutil.rmtree(Path(folder) / "cache" / "results")
        changed = _seconds("weigh", str(study), environment=cache)
        yield Row("house.weigh-demo-compiled", changed, "s", goal="under 2 s, nothing remembered", met=changed < 2)
