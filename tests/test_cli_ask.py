"""`latchlore ask`: the next trial foretold, an outcome entered, and what is said where nothing can decide."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import pytest

from latchlore.cli import run
from latchlore.demo import demo_folder
from latchlore.evidence.trialwording import CAUTIONS
from tests.demos import lay_demo

if TYPE_CHECKING:
    from pathlib import Path

QUESTIONS = """\
[[question]]
name = "code 06"
text = "Was the name wide or underlined?"

[[question.rival]]
name = "wide"
says = "one manual"
weight = 2

[[question.rival]]
name = "underlined"

[[question.trial]]
name = "plug the printer in"
hazard = "precious"
cost = 5
caution = "The head has no spare."
outcomes = ["wide", "underlined"]
chances = { wide = [99, 1], underlined = [1, 99] }

[[question.trial]]
name = "loupe"
hazard = "power-off"
cost = 10
outcomes = ["wide", "underlined", "cannot tell"]
chances = { wide = [80, 5, 15], underlined = [5, 80, 15] }
"""


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """A study of one question, invented."""
    (tmp_path / "s").mkdir()
    (tmp_path / "s" / "study.toml").write_text('title = "Strip"\ninvented = true\n', "utf-8")
    (tmp_path / "s" / "questions.toml").write_text(QUESTIONS, "utf-8")
    return tmp_path / "s"


def _shown(capsys: pytest.CaptureFixture[str]) -> str:
    return " ".join(capsys.readouterr().out.split())


def test_ask(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The harmless trial goes first though it tells less for its cost; what it will show stands beside its caution."""
    assert run(["ask", str(study), "--width", "100"]) == 0
    shown = _shown(capsys)
    assert "Next: loupe (power off)" in shown
    assert CAUTIONS["power-off"].replace("  ", " ") in shown
    assert "wide wide 80.0%, underlined 5.0%; in all 55.0%. Then wide 97.0%, underlined 3.0%." in shown
    assert "plug the printer in (something precious is connected): 0.841 bits, 5 minutes" in shown
    assert f"latchlore ask {study} --did loupe --saw OUTCOME" in shown
    assert "Invented for demonstration" in shown


def test_ask_tell(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An outcome is kept with its doubt and day; the next trial is the dangerous one, with its own caution too."""
    words = ["--did", "loupe", "--saw", "wide", "--sure", "90", "--on", "2026-11-26"]
    assert run(["ask", str(study), *words]) == 0
    shown = _shown(capsys)
    assert shown.startswith("Kept in questions.toml: loupe showed 'wide'.")
    # by hand: 2 : 1 times (0.9·0.80 + 0.05·0.20) : (0.9·0.05 + 0.05·0.95) is 1.46 : 0.0925, which is 94.0%
    assert "wide 66.7% -> 94.0% one manual" in shown
    assert "Next: plug the printer in (something precious is connected)" in shown
    assert "The head has no spare." in shown
    assert (study / "questions.toml").read_text("utf-8") == (
        f'{QUESTIONS}\n[[outcome]]\ntrial = "loupe"\nsaw = "wide"\nsure = 90\non = "2026-11-26"\n'
    )


def test_ask_surprise(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What was given little before it was seen is pointed out; a decided question asks for no trial."""
    text = QUESTIONS.replace("weight = 2", "weight = 999")
    (study / "questions.toml").write_text(text, "utf-8")
    assert run(["ask", str(study)]) == 0
    assert "Decided: 'wide' has 99.9%; 95.0% are enough." in _shown(capsys)
    assert run(["ask", str(study), "--did", "plug the printer in", "--saw", "underlined"]) == 0
    shown = _shown(capsys)
    assert (
        "What was seen was given 1.1% only: before the weights are trusted, look for a rival that is missing." in shown
    )


def test_ask_cannot(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where no trial at hand can decide, it says so, and how far they reach; where none tells anything, that.

    16 : 1 from 2 : 1 after a loupe that shows "wide": 32/33 is under 99 %.
    """
    only = QUESTIONS.replace('name = "code 06"', 'name = "code 06"\nenough = 99')
    head, tail = only.split('[[question.trial]]\nname = "plug')
    loupe = '[[question.trial]]\nname = "loupe"' + tail.split('name = "loupe"')[1]
    (study / "questions.toml").write_text(head + loupe, "utf-8")
    assert run(["ask", str(study)]) == 0
    assert (
        "No trial at hand can decide it: whatever all of them show, 'wide' reaches 97.0% at "
        "most, and 99.0% are "
        "needed." in _shown(capsys)
    )
    same = loupe.replace("underlined = [5, 80, 15]", "underlined = [80, 5, 15]")
    (study / "questions.toml").write_text(head + same, "utf-8")
    assert run(["ask", str(study)]) == 0
    shown = _shown(capsys)
    assert "No trial at hand tells the rivals apart as they stand; another kind of trial is needed." in shown
    assert "loupe (power off): tells nothing as things stand" in shown
    (study / "questions.toml").write_text(head, "utf-8")
    assert run(["ask", str(study)]) == 0
    assert "No trial is left to be done; a new one is needed." in _shown(capsys)


def test_ask_json(study: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """The same as JSON, the same bytes each time."""
    assert run(["ask", str(study), "--json"]) == 0
    first = capsysbinary.readouterr().out
    assert run(["ask", str(study), "--json"]) == 0
    assert capsysbinary.readouterr().out == first
    (question,) = json.loads(first)["questions"]
    assert [one["name"] for one in question["trials"]] == ["loupe", "plug the printer in"]
    assert question["rivals"][0]["now"] == pytest.approx(2 / 3)
    assert question["can_decide"] is True


def test_ask_demo(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The demonstration's questions: nets and listeners foretell, one question no trial at hand can decide.

    By hand: a meter that finds W2 open, with a doubt of 30 %, raises 3 : 1 by 0.85 : 0.15 to 17 : 1, 94.4 %.
    """
    folder = lay_demo(tmp_path / "demo")
    assert run(["ask", str(folder)]) == 0
    shown = _shown(capsys)
    assert "under 'as traced' j2.10 and u9.15 are apart; under 'no inverter' j2.10 and u9.15 are joined." in shown
    assert "'open' reaches 94.4% at most, and 95.0% are needed." in shown
    assert "Next: ramp at 40 us (powered, writing)" in shown
    assert run(["ask", str(folder), "--did", "meter across the inverter", "--saw", "apart", "--sure", "99"]) == 0
    assert "Decided: 'as traced'" in _shown(capsys)


def test_ask_sheet(study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A sheet that comes back with one box marked enters that outcome, its doubt and its note."""
    assert run(["ask", str(study), "--sheet", "plug the printer in"]) == 0
    sheet = capsys.readouterr().out
    assert "CAUTION of this trial: The head has no spare." in sheet
    assert "  wide: wide 99.0%, underlined 1.0%" in sheet
    assert max(map(len, sheet.splitlines())) <= 78
    filled = sheet.replace("[ ] underlined", "[x] underlined").replace("sure: ____", "sure: 80")
    filled = filled.replace("on:   ____-__-__", "on: 2026-11-26").replace("note: ____", "note: ink ran dry")
    (tmp_path / "sheet.txt").write_text(filled, "utf-8")
    assert run(["ask", str(study), "--filled", str(tmp_path / "sheet.txt")]) == 0
    assert (study / "questions.toml").read_text("utf-8") == (
        f'{QUESTIONS}\n[[outcome]]\ntrial = "plug the printer in"\nsaw = "underlined"\nsure = 80\n'
        'on = "2026-11-26"\nnote = "ink ran dry"\n'
    )


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("[ ] none", "[x] none", ": no box is marked; put an x into one: [x]"),
        ("[ ]", "[v]", ":22: two boxes are marked, 'wide' and 'underlined'; an outcome is one of them"),
        ("trial: ", "trail: ", ": is no bench sheet: the line `trial: NAME` is missing"),
        ("____ %\n", "sehr %\n", ":24: how sure you are is percent, above 0 to 100, not 'sehr'"),
    ],
)
def test_ask_sheet_wrong(
    old: str, new: str, words: str, study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No box, two boxes, no trial, a doubt that is no number: nothing is written."""
    assert run(["ask", str(study), "--sheet", "plug the printer in"]) == 0
    sheet = capsys.readouterr().out
    if "sehr" in new:
        sheet = sheet.replace("[ ] wide", "[x] wide")
    file = tmp_path / "sheet.txt"
    file.write_text(sheet.replace(old, new), "utf-8")
    assert run(["ask", str(study), "--filled", str(file)]) == 2
    assert capsys.readouterr().err == f"latchlore: {file}{words}\n"
    assert (study / "questions.toml").read_text("utf-8") == QUESTIONS


def test_ask_sheet_wires(capsys: pytest.CaptureFixture[str]) -> None:
    """Wiring from connector pins to channels: by hand from the demonstration's net file and its clock of 1.25 MHz."""
    assert run(["ask", str(demo_folder()), "--sheet", "read bit 6 with BUSY high"]) == 0
    shown = _shown(capsys)
    for words in (
        "The instrument's ground goes to j1.44 and j2.16 first, before any channel.",
        "Channel 1: D6 at j1.27.",
        "Channels 4 to 10: a3 low at j1.2, a4 high at j1.3, a10 low at j1.4, a11 high at j1.5, a13 high at j1.6, a14 "
        "low at j1.7, a15 high at j1.8; these levels are A810.",
        "1,000,000 samples last 80 ms at that rate",
        "rw at j1.11 (high).",
        "phi2 at j1.12 (high).",
        "Hold busy high at j2.10: through 1 kilohm, and only where nothing else drives it.",
        "Sample at 12.5 MHz or faster",
        "Look at D6 while the program reads A810; take three such reads.",
    ):
        assert words in shown


def test_ask_empty(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A study without questions is told how to ask one; a question without rivals how to weigh it."""
    (tmp_path / "study.toml").write_text('title = "x"\n', "utf-8")
    assert run(["ask", str(tmp_path)]) == 0
    assert "No question is asked yet" in _shown(capsys)
    (tmp_path / "study.toml").write_text('[[question]]\ntext = "Who?"\n', "utf-8")
    assert run(["ask", str(tmp_path)]) == 0
    assert "Who? No rivals are stated" in _shown(capsys)


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (["--did", "loupe"], 2, "--did names a trial; --saw, what it showed, is missing"),
        (["--saw", "wide"], 2, "--saw, --sure, --on and --note belong to a trial; --did is missing"),
        (["--did", "loupe", "--saw", "wide", "--sure", "0"], 2, "0.0 is not in the range 0<x<=100."),
        (
            ["--did", "loupe", "--saw", "wide", "--on", "today"],
            2,
            "a date is year, month and day, such as '2026-11-26', not 'today'",
        ),
        (["--did", "lupe", "--saw", "wide"], 3, "there is no trial 'lupe'; known are 'plug the printer in', 'loupe'"),
        (
            ["--did", "loupe", "--saw", "bold"],
            3,
            "trial 'loupe' has no outcome 'bold'; known are 'wide', 'underlined', 'cannot tell'",
        ),
        (["--sheet", "lupe"], 3, "there is no trial 'lupe'; known are 'plug the printer in', 'loupe'"),
        (["--only", "code 7"], 3, "there is no question 'code 7'; known are 'code 06'"),
    ],
)
def test_ask_wrong(
    arguments: list[str], status: int, words: str, study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A slip names what was not understood, and nothing is written."""
    assert run(["ask", str(study), *arguments]) == status
    assert re.search(rf": {re.escape(words)}\n$", capsys.readouterr().err)
    assert (study / "questions.toml").read_text("utf-8") == QUESTIONS
