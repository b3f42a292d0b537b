"""The demonstration's logs: made again from the study's own image and net file, byte for byte."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from latchlore.demo import demo_folder

SCRIPT = Path(__file__).parent.parent / "demo-source" / "make_logs.py"


def test_logs(tmp_path: Path) -> None:
    """The script that runs the program through the card and the listener gives the committed logs."""
    subprocess.run([sys.executable, SCRIPT, tmp_path], check=True, timeout=120)
    made = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    kept = {path.name: path.read_bytes() for path in (demo_folder() / "wire").iterdir()}
    assert made == kept
