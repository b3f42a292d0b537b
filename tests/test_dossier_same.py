"""The dossier of one study is the same to the byte wherever, whenever and by whomever it is written."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from importlib import resources
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

SURROUNDINGS = (
    {"TZ": "Pacific/Kiritimati", "LC_ALL": "C", "PYTHONHASHSEED": "1", "LANG": "C", "COLUMNS": "60"},
    {"TZ": "America/Anchorage", "LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "4242", "LANG": "C.UTF-8", "HOME": "/"},
)


def test_same_elsewhere(tmp_path: Path) -> None:
    """Two copies of the demonstration in folders of other names and times, in other surroundings: equal bytes."""
    written = []
    for k, surroundings in enumerate(SURROUNDINGS):
        study = tmp_path / f"a place {k}" / ("deep/er" * k) / "study"
        shutil.copytree(str(resources.files("latchlore") / "demo"), study)
        for path in sorted(study.rglob("*"), reverse=bool(k)):
            os.utime(path, (k * 10**9, k * 10**9))
        out = tmp_path / f"out-{k}"
        environment = {**os.environ, **surroundings, "LATCHLORE_CACHE": str(tmp_path / f"cache-{k}")}
        command = [
            sys.executable,
            "-c",
            "from latchlore.cli import main; main()",
            "dossier",
            str(study),
            "-o",
            str(out),
        ]
        done = subprocess.run(command, env=environment, cwd=tmp_path if k else "/", capture_output=True, check=False)
        assert done.returncode == 0, done.stderr.decode()
        written.append({path.name: path.read_bytes() for path in out.iterdir()})
    assert set(written[0]) == {"index.html", "dossier.json", "dossier.schema.json", "citations.json"}
    assert written[0] == written[1]
    for name, raw in written[0].items():
        assert str(tmp_path).encode() not in raw, name
