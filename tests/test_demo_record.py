"""The demonstration's findings: they stand as its evidence has them today, and can be made again."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

from latchlore.demo import demo_folder
from latchlore.evidence import Grade
from latchlore.study import judge_study

SCRIPT = Path(__file__).parent.parent / "demo-source" / "make_record.py"


def test_record_stands(tmp_path: Path) -> None:
    """Nothing has changed since the findings were accepted; the one about the dots is as disputed as the label."""
    shutil.copytree(demo_folder(), tmp_path / "study")
    record, judged = judge_study(tmp_path / "study")
    assert {one.name: (one.grade, one.changes) for one in judged} == {
        "waits-for-busy": (Grade.ESTABLISHED, ()),
        "strobe-long-enough": (Grade.ESTABLISHED, ()),
        "headed-strip": (Grade.ESTABLISHED, ()),
        "no-tide-in-dots": (Grade.DISPUTED, ()),
    }
    turned = [past.change for past in record.history if past.change.what == "grade" and past.change.old != "-"]
    assert [(change.finding, change.old, change.new) for change in turned] == [
        ("waits-for-busy", "disputed", "established"),
        ("strobe-long-enough", "disputed", "established"),
    ]


def test_record_made_again(tmp_path: Path) -> None:
    """The commands that made findings and history give the same bytes again."""
    study = tmp_path / "study"
    shutil.copytree(demo_folder(), study, ignore=shutil.ignore_patterns("__pycache__"))
    subprocess.run([sys.executable, SCRIPT, study], check=True, timeout=300, stdout=subprocess.DEVNULL)
    for name in ("findings.toml", "history.txt"):
        assert (study / name).read_bytes() == (demo_folder() / name).read_bytes()
