"""A copy of the demonstration study, for tests that change it."""

from __future__ import annotations

import shutil
from pathlib import Path

from latchlore.demo import demo_folder


def lay_demo(folder: Path) -> Path:
    """A copy of the demonstration study in `folder`, which must not be there yet."""
    return Path(shutil.copytree(demo_folder(), folder, ignore=shutil.ignore_patterns("__*")))
