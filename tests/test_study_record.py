"""The record on disk: files and their rules, exactly the expected errata, kills, two writers, and git."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import subprocess
import time
from pathlib import Path

import pytest

from latchlore.base import BadInput
from latchlore.evidence import Judged, Standing
from latchlore.study import (
    Cache,
    accept_changes,
    add_finding,
    find_record,
    finish_changes,
    judge_study,
    read_record,
    weigh_study,
    withdraw_finding,
    write_files,
)
from tests.demos import lay_demo
from tests.nursery import Nursery

EXAMS = Path(__file__).parent.parent / "exams"
DAY, LATER = "2026-11-26", "2026-11-27"


def put_all(folder: Path, cache: Cache | None = None) -> dict[str, str]:
    """One finding for every subject of the table, accepted: subject → the finding's name."""
    rows = weigh_study(folder, cache=cache).rows
    names = {subject: f"f{k}" for k, subject in enumerate(dict.fromkeys(str(row.subject) for row in rows))}
    blocks = [
        f'[[finding]]\nname = "{name}"\nsentence = "About it."\nrests_on = [{json.dumps(subject)}]\n'
        for subject, name in names.items()
    ]
    (folder / "findings.toml").write_text("\n".join(blocks))
    accept_changes(folder, DAY, cache=cache)
    return names


def edit(folder: Path, file: str, *edits: tuple[str, str]) -> None:
    """Replace texts of a file, each of which stands there once."""
    text = (folder / file).read_text()
    for old, new in edits:
        assert text.count(old) == 1
        text = text.replace(old, new)
    (folder / file).write_text(text)


def changed(judged: tuple[Judged, ...]) -> dict[str, str]:
    """Subject → grade of the finding that rests on it, or old → new grade; of the findings that changed."""
    found = {one.grounds[0].on: one.grade.value for one in judged if one.is_changed}
    for one in judged:
        for change in one.changes:
            if change.what == "grade":
                found[one.grounds[0].on] = f"{change.old} → {change.new}"
    return found


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory, cache: Cache) -> Path:
    """The demonstration with a finding for every subject, in place of its own."""
    folder = lay_demo(tmp_path_factory.mktemp("demo") / "study")
    for name in ("findings.toml", "history.txt"):
        (folder / name).unlink()
    put_all(folder, cache)
    return folder


BYPASS = (
    ("net busy     j2.10 u10.3", "net busy     j2.10 u9.15"),
    ("net nbusy    u10.4 u9.15\n", ""),
    ("tie low u10.5", "tie low u10.3 u10.5"),
    ("open u10.6", "open u10.4 u10.6"),
)


@pytest.mark.parametrize(
    ("file", "edits", "expected"),
    [
        # BUSY goes around its inverter: the bit says the opposite, and so board and program no longer agree about it
        (
            "board/card.nets",
            BYPASS,
            {"A810 (read) bit 6": "established → disputed", "signal BUSY": "established → disputed"},
        ),
        # one reading: bit 3 is tied the other way round; nobody else says which way
        ("board/card.nets", (("tie high u9.8", "tie low u9.8"),), {"A810 (read) bit 3": "one witness"}),
        # the two straps change places: their two bits, and what the log says of each strap
        (
            "board/card.nets",
            (("strap1 w1.1 u9.2", "strap1 w1.1 u9.4"), ("strap2 w2.1 u9.4", "strap2 w2.1 u9.2")),
            {
                "A810 (read) bit 0": "established → disputed",
                "A810 (read) bit 1": "established → disputed",
                "strap w1": "established → disputed",
                "strap w2": "established → disputed",
            },
        ),
        # one byte of a log that holds one run: no path of the program writes a U there
        ("wire/tide-line.log", (("54@0us", "55@0us"),), {"sequence tide-line": "established → one witness"}),
        # a remark moves every line and changes nothing
        ("board/card.nets", (("host 6502\n", "# a remark\n\nhost 6502\n"),), {}),
    ],
)
def test_exact_errata(
    tmp_path: Path,
    recorded: Path,
    cache: Cache,
    file: str,
    edits: tuple[tuple[str, str], ...],
    expected: dict[str, str],
) -> None:
    """Of a finding for each of the demonstration's subjects exactly those change that rest on what changed."""
    folder = tmp_path / "study"
    shutil.copytree(recorded, folder)
    before = (folder / "history.txt").read_bytes()
    edit(folder, file, *edits)
    assert changed(judge_study(folder, cache=cache)[1]) == expected
    written = accept_changes(folder, LATER, "measured again", cache=cache)
    assert {change.what.removeprefix("on ") for change in written} - {"grade"} == set(expected)
    assert sum(change.what == "grade" for change in written) == sum("→" in grade for grade in expected.values())
    assert all(change.day == LATER and change.why.endswith("measured again") for change in written)
    assert (folder / "history.txt").read_bytes().startswith(before)
    assert changed(judge_study(folder, cache=cache)[1]) == {}
    assert accept_changes(folder, LATER, cache=cache) == ()


def test_evidence_withdrawn(tmp_path: Path, recorded: Path, cache: Cache) -> None:
    """A log and a document leave the study: everything that they spoke about is told, and nothing else; none rises."""
    listed = '[[log]]\nfile = "wire/tide-line.log"\nsequence = "tide-line"\nruns = "file"\n'
    listed += 'listener = "the same listener, one reading only"\n'
    for gone in ("wire/tide-line.log", "documents/quill-24g.toml"):
        folder = tmp_path / gone.replace("/", "-")
        shutil.copytree(recorded, folder)
        rows = weigh_study(folder, cache=cache).rows
        spoke = {
            str(row.subject)
            for row in rows
            if any(origin.file == gone for one in row.testimonies for origin in one.origins[:1])
        }
        disputed = {str(row.subject) for row in rows if row.standing is Standing.CONTRADICTED}
        grades = {one.name: one.grade for one in judge_study(folder, cache=cache)[1]}
        (folder / gone).unlink()
        if gone.endswith(".log"):
            edit(folder, "study.toml", (listed, ""))
        judged = judge_study(folder, cache=cache)[1]
        assert set(changed(judged)) == spoke
        order = list(type(judged[0].grade))
        for one in judged:
            if one.grounds[0].on not in disputed:
                assert order.index(one.grade) >= order.index(grades[one.name])


def test_inverter(tmp_path: Path, cache: Cache) -> None:
    """The published bench case with and without its inverter: two subjects change, there and back."""
    folder = tmp_path / "study"
    shutil.copytree(EXAMS / "polarity-agreement" / "study", folder)
    put_all(folder, cache)
    for case, grade in (
        ("polarity-without-inverter", "established → disputed"),
        ("polarity-agreement", "disputed → established"),
    ):
        shutil.copy(EXAMS / case / "study" / "board" / "card.nets", folder / "board")
        told = changed(judge_study(folder, cache=cache)[1])
        assert told == {"C801 (read) bit 7": grade, "signal BUSY": grade}
        accept_changes(folder, DAY, cache=cache)


@pytest.fixture
def small(tmp_path: Path, cache: Cache) -> Path:
    """A study of one log, with one finding."""
    folder = tmp_path / "small"
    folder.mkdir()
    (folder / "a.log").write_text("16 5A 4C\n")
    add_finding(folder, ("first", "It begins with 16."), ["sequence a"], {}, DAY, cache=cache)
    return folder


def test_read_record(small: Path, cache: Cache) -> None:
    """What was added is read back; the record is no evidence and no stray file; a hand may write what it likes."""
    record = read_record(small)
    [finding] = record.findings
    assert (finding.name, finding.sentence, finding.rests_on) == ("first", "It begins with 16.", ("sequence a",))
    assert len(record.history) == 4
    assert not any("not read" in words for words in weigh_study(small, cache=cache).not_done)
    text = 'Quote " and \\ and é\n\tand a tab.'
    add_finding(small, ("second", text), ["sequence a", "finding first"], {}, DAY, cache=cache)
    assert read_record(small).findings[1].sentence == 'Quote " and \\ and é and a tab.'
    (small / "findings.toml").unlink()
    (small / "history.txt").unlink()
    assert find_record(small) is None
    assert judge_study(small, cache=cache)[1] == ()


def test_read_record_wrong(small: Path) -> None:
    """Mistakes of both files are told at once, each with its line; nothing of the study is read before."""
    (small / "findings.toml").write_text(
        '[[finding]]\nname = "a"\nsentence = ""\nrests_on = []\nwhy = "x"\n\n[[finding]]\nname = 7\n'
    )
    (small / "history.txt").write_text("one\n")
    with pytest.raises(BadInput) as error:
        read_record(small)
    assert str(error.value).split("\n") == [
        "findings.toml:3 (finding[1].sentence): a text in quotes is expected, with at least one letter, not ''",
        "findings.toml:4 (finding[1].rests_on): list should have at least 1 item after validation, not 0, not []",
        "findings.toml:5 (finding[1].why): key 'why' is not known here",
        "findings.toml:7 (finding[2]): key 'sentence' is missing",
        "findings.toml:7 (finding[2]): key 'rests_on' is missing",
        "findings.toml:8 (finding[2].name): a name is up to 60 small letters, digits and hyphens in quotes, "
        "such as 'busy-line', not 7",
        "history.txt:1: a line has seven fields with tabs between (docs/record.md), not 1",
    ]


def test_two_writers_wrong(small: Path, monkeypatch: pytest.MonkeyPatch, cache: Cache) -> None:
    """A history that another process added to meanwhile is not overwritten: nothing is written, and it is said."""
    from latchlore.study import _write

    def slow(root: Path, files: dict[str, bytes], before: dict[str, bytes | None]) -> None:
        monkeypatch.undo()
        withdraw_finding(small, "first", DAY, "meanwhile")
        write_files(root, files, before)

    monkeypatch.setattr(_write, "write_files", slow)
    with pytest.raises(BadInput) as error:
        add_finding(small, ("second", "Two."), ["sequence a"], {}, DAY, cache=cache)
    assert str(error.value) == ("history.txt: was changed meanwhile by another process; nothing is written, try again")
    assert [finding.name for finding in read_record(small).findings] == ["first"]
    assert read_record(small).history[-1].change.new == "withdrawn"


# A line "NAME STEP": add a finding of that name, and die at the STEPth call by which anything reaches the disk (0:
# live).  "ever-N 0": add finding after finding.
ADDING = """
from latchlore.base import BadInput
from latchlore.study import Cache, _weighing, _write, add_finding, weigh_study

root, cache = Path(sys.argv[1]), Cache(Path(sys.argv[2]))
table = weigh_study(root, cache=cache)
_weighing.weigh_study = lambda *_: table  # the record is no part of it, and nothing else changes

def work(name, last):
    if name.startswith("ever"):
        number = 0
        while True:
            try:
                number += 1
                add_finding(root, (f"{name}-{number}", "S."), ["sequence a"], {}, "2026-11-26", cache=cache)
            except BadInput as error:
                assert "meanwhile" in str(error), error
    write = _write.write_files
    def fatal(*args):
        make_mortal(last)
        write(*args)
    _write.write_files = fatal
    add_finding(root, (name, "A sentence."), ["sequence a"], {}, "2026-11-26", cache=cache)
"""


def seen(folder: Path) -> tuple[list[str], list[str]]:
    """The findings that a reader finds in the file, and in the history, each in order."""
    record = read_record(folder)
    return (
        [finding.name for finding in record.findings],
        [past.change.finding for past in record.history if past.change.what == "grade"],
    )


def test_two_hundred_kills(small: Path, tmp_path: Path) -> None:
    """200 kills (SIGKILL) while a finding is added: it is in both files or in neither, every earlier one is in both."""
    dice, kills, number, whole = random.Random(1983), 0, 0, 0
    names = ["first"]
    start = {name: (small / name).read_bytes() for name in ("findings.toml", "history.txt")}
    with Nursery(ADDING, small, tmp_path / "cache") as nursery:
        while kills < 200:
            number += 1
            nursery.start(f"n{number}", dice.randrange(1, 60))
            code = nursery.end()
            assert code in (0, -signal.SIGKILL)
            in_file, in_history = seen(small)
            assert in_file == in_history
            assert in_file in ([*names, f"n{number}"], names if code else [])
            kills += code != 0
            whole += code != 0 and len(in_file) > len(names)
            names = in_file
            if len(names) > 20:  # begin again, so that reading stays quick
                finish_changes(small)
                for name, data in start.items():
                    (small / name).write_bytes(data)
                names = ["first"]
    finish_changes(small)
    assert seen(small) == (names, names)
    assert 10 < whole < 190  # kills fell on both sides of the decision
    assert sorted(path.name for path in small.iterdir()) == [".gitattributes", "a.log", "findings.toml", "history.txt"]


def test_killed_at_the_first(small: Path, tmp_path: Path) -> None:
    """Killed at every step of writing the first finding of all: readers see both new files or neither."""
    outcomes = []
    with Nursery(ADDING, small, tmp_path / "cache") as nursery:
        for step in range(1, 200):
            for path in small.iterdir():
                if path.name != "a.log":
                    path.unlink()
            nursery.start("n", step)
            code = nursery.end()
            record = find_record(small)
            found = ([], []) if record is None else seen(small)
            assert found in (([], []), (["n"], ["n"]))
            outcomes.append(bool(found[0]))
            finish_changes(small)
            assert bool(find_record(small)) == outcomes[-1]
            if code == 0:
                break
            assert code == -signal.SIGKILL
    assert outcomes[-1]
    assert outcomes == sorted(outcomes)  # once new, always new
    assert 4 < outcomes.count(False) < len(outcomes) - 4


def test_killed_among_two_writers(small: Path, tmp_path: Path) -> None:
    """40 kills at random moments of two that add for ever: a history only grows, and both files keep in step."""
    dice, before = random.Random(1984), b""
    with Nursery(ADDING, small, tmp_path / "one") as first, Nursery(ADDING, small, tmp_path / "two") as second:
        for turn in range(20):
            running = [(nursery, nursery.start(f"ever{k}-{turn}", 0)) for k, nursery in enumerate((first, second))]
            for nursery, child in running:
                time.sleep(dice.uniform(0.02, 0.06))
                os.kill(child, signal.SIGKILL)
                assert nursery.end() == -signal.SIGKILL
                finish_changes(small)
                history = (small / "history.txt").read_bytes()
                assert history.startswith(before)
                before = history
        in_file, in_history = seen(small)
        assert in_file == in_history
    assert len(in_file) > 10


@pytest.mark.skipif(shutil.which("git") is None, reason="git is not installed")
def test_git_merge(small: Path, cache: Cache) -> None:
    """Two copies of a study that both added to the history are merged by git without a conflict or a loss."""

    def git(*arguments: str) -> None:
        setting = ("-c", "user.name=A", "-c", "user.email=a@example.org", "-c", "commit.gpgsign=false")
        subprocess.run(["git", *setting, *arguments], cwd=small, check=True, capture_output=True)

    add_finding(small, ("second", "Two."), ["finding first"], {}, DAY, cache=cache)
    git("init", "-b", "one")
    git("add", "-A")
    git("commit", "-m", "base")
    git("branch", "two")
    (small / "a.log").write_text("16 5A 4D\n")
    accept_changes(small, LATER, "heard again", cache=cache)
    git("commit", "-a", "-m", "one")
    ours = (small / "history.txt").read_text().splitlines()
    git("checkout", "two")
    withdraw_finding(small, "second", LATER, "said too much")
    git("commit", "-a", "-m", "two")
    theirs = (small / "history.txt").read_text().splitlines()
    git("checkout", "one")
    git("merge", "two")
    merged = (small / "history.txt").read_text().splitlines()
    assert set(merged) == set(ours) | set(theirs)
    assert len(merged) == len(set(merged))
    judged = judge_study(small, cache=cache)[1]
    assert [(one.name, one.grade.value, one.is_changed) for one in judged] == [
        ("first", "one witness", False),
        ("second", "withdrawn", False),
    ]


@pytest.mark.skipif(shutil.which("git") is None, reason="git is not installed")
def test_git_merge_of_findings(small: Path, cache: Cache) -> None:
    """Findings that two branches added, resting on the same and said in the same number of lines, are both kept."""

    def git(*arguments: str) -> None:
        setting = ("-c", "user.name=A", "-c", "user.email=a@example.org", "-c", "commit.gpgsign=false")
        subprocess.run(["git", *setting, *arguments], cwd=small, check=True, capture_output=True)

    git("init", "-b", "one")
    git("add", "-A")
    git("commit", "-m", "base")
    git("branch", "two")
    add_finding(small, ("second", "Two, from here."), ["sequence a"], {}, DAY, cache=cache)
    add_finding(small, ("fourth", "Four, from here."), ["sequence a"], {}, DAY, cache=cache)
    git("commit", "-a", "-m", "one")
    git("checkout", "two")
    add_finding(small, ("third", "Three, from there."), ["sequence a"], {}, DAY, cache=cache)
    git("commit", "-a", "-m", "two")
    git("checkout", "one")
    git("merge", "two")
    judged = judge_study(small, cache=cache)[1]
    assert {(one.name, one.grade.value, one.is_changed) for one in judged} == {
        (name, "one witness", False) for name in ("first", "second", "third", "fourth")
    }
    assert {one.name: one.sentence for one in read_record(small).findings} == {
        "first": "It begins with 16.",
        "second": "Two, from here.",
        "third": "Three, from there.",
        "fourth": "Four, from here.",
    }


def test_attributes_stay(tmp_path: Path, cache: Cache) -> None:
    """A study that has its own settings for git keeps them."""
    (tmp_path / "a.log").write_text("16 5A 4C\n")
    (tmp_path / ".gitattributes").write_text("*.bin binary\n")
    add_finding(tmp_path, ("first", "One."), ["sequence a"], {}, DAY, cache=cache)
    assert (tmp_path / ".gitattributes").read_text() == "*.bin binary\n"
