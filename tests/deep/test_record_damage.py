"""The record of a study, damaged at random: it is read or refused, and Latchlore itself is never at fault."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest

from latchlore.base import FAULT
from latchlore.cli import run
from latchlore.study import accept_changes, add_finding
from tests.deep.test_study_damage import damage

EXAMS = Path(__file__).parent.parent.parent / "exams"


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bench case of an inverter with three findings and their errata."""
    folder = tmp_path_factory.mktemp("record") / "study"
    shutil.copytree(EXAMS / "polarity-agreement" / "study", folder)
    add_finding(folder, ("busy", "Low."), ["signal BUSY"], {"signal BUSY": "NOT BUSY"}, "2026-11-26")
    add_finding(folder, ("idle", "Idle."), ["finding busy", "data width"], {}, "2026-11-26")
    add_finding(folder, ("top", "All."), ["finding idle"], {}, "2026-11-26")
    shutil.copy(EXAMS / "polarity-without-inverter" / "study" / "board" / "card.nets", folder / "board")
    accept_changes(folder, "2026-11-27")
    return folder


@pytest.mark.parametrize("seed", range(80))
def test_damaged_record(
    tmp_path: Path, recorded: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    """One of the two files is damaged; no command ends in a fault, and what accepts only adds to the history."""
    monkeypatch.setenv("LATCHLORE_CACHE", str(tmp_path.parent / "cache"))
    folder = tmp_path / "study"
    shutil.copytree(recorded, folder)
    dice = random.Random(seed)
    path = folder / dice.choice(("findings.toml", "history.txt"))
    path.write_text(damage(dice, path.read_text("utf-8")), "utf-8")
    before = (folder / "history.txt").read_bytes()
    for command in (["list"], ["check", "--json"], ["accept"], ["withdraw", "busy", "--because", "x"], ["list"]):
        status = run(["record", command[0], str(folder), *command[1:]])
        printed = capsys.readouterr()
        assert status != FAULT.exit_code, f"{path.name}: {printed.err}"
        assert status == 0 or printed.err
    assert (folder / "history.txt").read_bytes().startswith(before)
