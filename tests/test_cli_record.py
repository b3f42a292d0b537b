"""The commands of `latchlore record`, as they are typed, on the published bench case of an inverter."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from latchlore.cli import run

EXAMS = Path(__file__).parent.parent / "exams"


@pytest.fixture
def study(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The bench case with its inverter."""
    monkeypatch.setenv("LATCHLORE_CACHE", str(tmp_path / "cache"))
    folder = tmp_path / "study"
    shutil.copytree(EXAMS / "polarity-agreement" / "study", folder)
    return folder


def take_inverter_out(study: Path) -> None:
    """The net file of the other bench case, which differs by the inverter alone."""
    shutil.copy(EXAMS / "polarity-without-inverter" / "study" / "board" / "card.nets", study / "board")


def add(study: Path, name: str, *more: str) -> int:
    """Add a finding on a given day."""
    return run(["record", "add", str(study), name, f"Sentence of {name}.", "--date", "2026-11-26", *more])


def plain(capsys: pytest.CaptureFixture[str], *arguments: object, status: int = 0) -> Any:
    """What a command prints as JSON."""
    capsys.readouterr()
    assert run([*map(str, arguments), "--json"]) == status
    return json.loads(capsys.readouterr().out)


def test_add(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A finding is added to the file and to the history, and its grade is printed."""
    assert add(study, "busy", "--on", "signal BUSY", "--says", "signal BUSY", "NOT BUSY") == 0
    assert capsys.readouterr().out.startswith(
        "busy: Sentence of busy.\n  grade      established: signal BUSY is agreed"
    )
    assert (study / "findings.toml").read_text() == (
        "# Findings: sentences, and what they rest on (docs/record.md).\n\n"
        '[[finding]]  # busy\nname = "busy"\nrests_on = ["signal BUSY"]\n'
        'says = { "signal BUSY" = "NOT BUSY" }\nsentence = "Sentence of busy."\n'
    )
    lines = [line.split("\t") for line in (study / "history.txt").read_text().splitlines() if line[0] != "#"]
    assert [line[:3] for line in lines] == [
        ["2026-11-26", "busy", what] for what in ("sentence", "rests on", "on signal BUSY", "grade")
    ]
    told = plain(capsys, "record", "list", study)
    assert told["changed"] == told["new"] == told["findings"][0]["errata"] == []


@pytest.mark.parametrize(
    ("more", "status", "words"),
    [
        (("one", "--on", "signal BUSI"), 2, "findings.toml:5 (finding[1].rests_on[1]): the table has no subject "
         "'signal BUSI'; near it: 'signal BUSY'"),
        (("one", "--on", "finding two"), 2, "findings.toml:5 (finding[1].rests_on[1]): there is no finding 'two'; "
         "there is no other"),
        (("One!", "--on", "signal BUSY"), 2, "findings.toml:4 (finding[1].name): a name is up to 60 small letters, "
         "digits and hyphens in quotes, such as 'busy-line', not 'One!'"),
        (("one", "--on", " "), 2, "findings.toml:5 (finding[1].rests_on[1]): a text in quotes is expected, with at "
         "least one letter, not ''"),
        (("one", "--on", "signal BUSY", "--date", "1.1.2026"), 3, "a date is year-month-day, such as 2026-11-26, not "
         "'1.1.2026'"),
    ],
)  # fmt: skip
def test_add_wrong(
    study: Path, capsys: pytest.CaptureFixture[str], more: tuple[str, ...], status: int, words: str
) -> None:
    """What cannot stand in the record is refused with the line it would have had; nothing is written."""
    before = sorted(study.rglob("*"))
    assert add(study, *more) == status
    assert capsys.readouterr().err.strip() == f"latchlore: {words}"
    assert sorted(study.rglob("*")) == before


def test_weigh_tells_what_changed(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`weigh` names exactly the findings that changed; `accept` writes their errata, and then none is left."""
    add(study, "busy", "--on", "signal BUSY", "--says", "signal BUSY", "NOT BUSY")
    add(study, "stand-in", "--on", "finding busy")
    add(study, "width", "--on", "data width")
    assert plain(capsys, "weigh", study)["record"]["changed"] == []
    take_inverter_out(study)
    told = plain(capsys, "weigh", study, status=4)["record"]
    assert told["changed"] == ["busy", "stand-in"]
    assert [finding["grade"] for finding in told["findings"]] == ["unfounded", "unfounded", "one witness"]
    assert run(["weigh", str(study)]) == 4
    printed = capsys.readouterr().out.partition("\nThe record\n")[2]
    assert printed.startswith("3 findings: 2 changed since accepted\n\nbusy: Sentence of busy.\n")
    assert printed.endswith(f"Write this into the history with:  latchlore record accept {study}\n")
    before = (study / "history.txt").read_bytes()
    assert plain(capsys, "record", "check", study)["changed"] == ["busy", "stand-in"]
    assert (study / "history.txt").read_bytes() == before
    written = plain(capsys, "record", "accept", study, "--because", "U6 is not there", "--date", "2026-11-27")
    assert [(one["day"], one["finding"], one["what"]) for one in written["changes"]] == [
        ("2026-11-27", "busy", "on signal BUSY"),
        ("2026-11-27", "busy", "grade"),
        ("2026-11-27", "stand-in", "on finding busy"),
        ("2026-11-27", "stand-in", "grade"),
    ]
    grade = written["changes"][1]
    assert (grade["old"], grade["new"]) == ("established", "unfounded")
    assert grade["why"].endswith("; U6 is not there")
    assert grade["evidence"] == "board/card.nets:28; board/card.nets:39; program/wait.bin at 0300"
    assert (study / "history.txt").read_bytes().startswith(before)
    told = plain(capsys, "record", "list", study)
    assert told["changed"] == []
    assert [len(finding["errata"]) for finding in told["findings"]] == [2, 2, 0]
    assert plain(capsys, "record", "accept", study)["changes"] == []


def test_list(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The text of the list: sentence, grade, grounds, and errata with their day and place."""
    assert run(["record", "list", str(study)]) == 0
    assert (
        capsys.readouterr().out == "No findings yet.  `latchlore record add` writes the first one (docs/record.md).\n"
    )
    add(study, "width", "--on", "data width")
    (study / "findings.toml").write_text((study / "findings.toml").read_text().replace("Sentence of", "All of"))
    run(["record", "accept", str(study), "--date", "2026-11-27", "--because", "clearer"])
    assert capsys.readouterr().out.endswith(
        "Wrote 1 line to history.txt\n"
        "  changed    width, sentence: Sentence of width. → All of width.\n"
        "  because    the sentence was written anew; clearer\n"
    )
    assert run(["record", "list", str(study)]) == 0
    assert capsys.readouterr().out == (
        "width: All of width.\n"
        "  grade      one witness: data width is single: only the board speaks about it\n"
        "  rests on   data width: one witness\n"
        "  2026-11-27 sentence: Sentence of width. → All of width.\n"
        "             because the sentence was written anew; clearer (history.txt:7)\n"
    )


def test_withdraw(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A withdrawn finding stays in both files; what rests on it, through others too, is told and unfounded."""
    add(study, "busy", "--on", "signal BUSY")
    add(study, "idle", "--on", "finding busy")
    add(study, "top", "--on", "finding idle", "--on", "data width")
    findings = (study / "findings.toml").read_bytes()
    told = plain(capsys, "record", "withdraw", study, "busy", "--because", "another card", "--date", "2026-11-27")
    assert told == {"withdrawn": "busy", "rests_on_it": ["idle", "top"]}
    assert (study / "findings.toml").read_bytes() == findings
    last = (study / "history.txt").read_text().splitlines()[-1]
    assert last == "2026-11-27\tbusy\tgrade\testablished\twithdrawn\tanother card\t-"
    told = plain(capsys, "record", "check", study)
    assert told["changed"] == ["idle", "top"]
    assert [finding["grade"] for finding in told["findings"]] == ["withdrawn", "unfounded", "unfounded"]


@pytest.mark.parametrize(
    ("name", "status", "words"),
    [
        ("busy", 2, "history.txt: finding 'busy' is withdrawn already; it stays in the history"),
        ("bussy", 3, "the study has no finding 'bussy'; known are 'busy'"),
    ],
)
def test_withdraw_wrong(study: Path, capsys: pytest.CaptureFixture[str], name: str, status: int, words: str) -> None:
    """What is withdrawn already, and what is not there."""
    add(study, "busy", "--on", "signal BUSY")
    assert run(["record", "withdraw", str(study), "busy", "--because", "x"]) == 0
    before = (study / "history.txt").read_bytes()
    capsys.readouterr()
    assert run(["record", "withdraw", str(study), name, "--because", "x"]) == status
    assert capsys.readouterr().err == f"latchlore: {words}\n"
    assert (study / "history.txt").read_bytes() == before
    assert add(study, "busy", "--on", "signal BUSY") == 2
    assert capsys.readouterr().err == (
        "latchlore: history.txt: the history knows a finding 'busy' already; a new finding has a name of its own\n"
    )
