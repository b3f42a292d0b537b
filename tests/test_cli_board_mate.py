"""`latchlore board mate`: cautions before anything, the right way first, danger before the rest."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from latchlore.cli import run

EXAMS = Path(__file__).resolve().parent.parent / "exams"
PORT = str(EXAMS / "printer-cable-pin-14" / "study")
LEVELS = str(EXAMS / "levels-pull-up" / "study")


def test_mate(capsys: pytest.CaptureFixture[str]) -> None:
    """The verdict, then the cautions, then the ways, then the bounds."""
    assert run(["board", "mate", PORT, "--width", "100"]) == 0
    text = capsys.readouterr().out
    places = [
        text.index(words)
        for words in (
            "The right way: cannot be told: j1.1 on j2.1",
            "Before anything is put together",
            "Power off on both sides",
            "current-limited supply",
            "licensed practice",
            "j1.14 on j2.14: j2.14 auto-feed is held low for good by j1.14 gnd: it is always true",
            "UNSAFE: mirrored left to right at j1",
            "What this rests on",
        )
    ]
    assert places == sorted(places)
    assert "\x1b" not in text
    assert all(len(line) <= 100 for line in text.split("\n"))


def test_mate_all(capsys: pytest.CaptureFixture[str]) -> None:
    """With --all the levels are printed as they were computed."""
    assert run(["board", "mate", LEVELS, "--all", "--width", "200"]) == 0
    text = capsys.readouterr().out
    assert (
        "levels    j1.2 on j2.2: j1.2: low at most 0.4 V at 0 uA, margin 0.5 V;"
        " high at least 2.4 V at 0 uA, margin -1.1 V" in text
    )
    assert (
        "j1.3: low at most 0.4 V at 1.39 mA, margin 0.5 V; high at least 5.0 V at 0 uA, margin 1.5 V (high by" in text
    )


def test_mate_json(capsys: pytest.CaptureFixture[str]) -> None:
    """The same as JSON, and the same bytes twice."""
    assert run(["board", "mate", PORT, "--json", "--only", "J1"]) == 0
    text = capsys.readouterr().out
    plain = json.loads(text)
    assert plain["format"] == "latchlore-matings"
    assert plain["matings"][0]["verdict"] == "cannot be told"
    assert run(["board", "mate", PORT, "--json", "--only", "j1"]) == 0
    assert capsys.readouterr().out == text


def test_mate_wrong(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A connector without a mating is named, and so is a study without any."""
    assert run(["board", "mate", PORT, "--only", "j7"]) == 3
    assert capsys.readouterr().err == (
        "latchlore: no mating of the study has connector 'j7' of the board; known are 'j1'\n"
    )
    (tmp_path / "board").mkdir()
    (tmp_path / "board" / "own.nets").write_text("plug j1 2\n", "utf-8")
    assert run(["board", "mate", str(tmp_path)]) == 2
    assert capsys.readouterr().err == (
        "latchlore: mating: the study states no mating; write one: mating/NAME.nets (docs/mating.md of latchlore)\n"
    )
