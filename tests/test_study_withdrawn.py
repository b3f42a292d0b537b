"""Single statements withdrawn: what weakens, what stays, the file that says so, and the way back."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from latchlore.base import BadInput, UnknownName, no_progress
from latchlore.evidence import Repair, Row, Standing
from latchlore.study import (
    Cache,
    SetAside,
    accept_changes,
    add_finding,
    judge_study,
    load_study,
    set_aside,
    weigh_study,
)
from tests.readstudies import read_study

EXAMS = Path(__file__).parent.parent / "exams"
DAY = "2026-11-26"


def strike(folder: Path, name: str, cache: Cache, why: str = "measured again", *, again: bool = False) -> SetAside:
    """Withdraw a statement, or let it count again."""
    return set_aside(folder, name, DAY, why, no_progress, cache, again=again)


def contents(folder: Path) -> dict[str, bytes]:
    """Every file but those of the withdrawals."""
    mine = ("withdrawn.txt", ".gitattributes")
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file() and path.name not in mine}


@pytest.mark.parametrize(
    ("name", "changed"),
    [
        (
            "board/card.nets: u10.4",
            {
                "A810 (read) bit 6": ("agreed", "single"),
                "signal BUSY": ("agreed", "agreed"),
                "handshake order": ("agreed", "agreed"),  # nobody knows any more that the bit looked at is BUSY
            },
        ),
        ("board/card.nets: level j2.15", {"signal ACK": ("agreed", "agreed")}),
        (
            "board/card.nets: strap w2",
            {"A810 (read) bit 1": ("agreed", "single"), "strap w2": ("agreed", "single")},
        ),
        ("documents/quill-24.toml: code 06 (page 11, row 4)", {"code 06": ("contradicted", "single")}),
        ("documents/museum-label.toml: dot-drawn tide curve", {"dot-drawn tide curve": ("contradicted", "single")}),
        (
            "wire/tide-line.log: line 5",
            {
                "sequence tide-line": ("agreed", "single"),
                "wire/tide-line.log: how it was read": ("single", "nothing said"),
            },
        ),
    ],
)
def test_set_aside(demo_study: Path, cache: Cache, name: str, changed: dict[str, tuple[str, str]]) -> None:
    """Exactly what stood on one statement weakens; the study's files stay; and back it comes."""
    before, files = weigh_study(demo_study, cache=cache), contents(demo_study)
    done = strike(demo_study, name, cache)
    assert {subject: (old, new) for subject, old, new in done.changed} == changed
    assert contents(demo_study) == files
    assert any(f"{name} (measured again)" in words for words in weigh_study(demo_study, cache=cache).not_done)
    strike(demo_study, name, cache, "it was another card", again=True)
    assert weigh_study(demo_study, cache=cache) == before
    lines = (demo_study / "withdrawn.txt").read_text().splitlines()
    assert [line.split("\t")[1:3] for line in lines if not line.startswith("#")] == [
        [name, "withdrawn"],
        [name, "counts again"],
    ]


def test_set_aside_instruction(demo_study: Path, cache: Cache) -> None:
    """A withdrawn instruction is bytes that nobody knows: what needs every path followed is not said any more."""
    strike(demo_study, "program/marram.bin: at F868", cache)
    row = row_of(demo_study, "dot-drawn tide curve", cache)
    assert row.standing is Standing.SINGLE
    assert str(row.testimonies[0].value).startswith("cannot be told")


def row_of(folder: Path, subject: str, cache: Cache) -> Row:
    """The row of a subject."""
    return next(row for row in weigh_study(folder, cache=cache).rows if str(row.subject) == subject)


def test_every_repair_ends_its_contradiction(tmp_path: Path, cache: Cache) -> None:
    """The bench case without its inverter: each repair that is listed, done for itself, ends the contradiction."""
    study = EXAMS / "polarity-without-inverter" / "study"
    row = row_of(study, "signal BUSY", cache)
    assert row.repairs[0].words == "an inverter was missed between U5 pin 2 and J1 pin 11"
    assert [str(one) for one in row.repairs[1].statements] == ["board/card.nets: level j1.11"]
    assert row.repairs[1].words == "the peripheral meant here has BUSY the other way round: true when low"
    for k, repair in enumerate(row.repairs):
        folder = tmp_path / str(k)
        shutil.copytree(study, folder)
        for statement in repair.statements:
            strike(folder, str(statement), cache)
        standings = {str(one.subject): one.standing for one in weigh_study(folder, cache=cache).rows}
        assert standings.get("signal BUSY") is not Standing.CONTRADICTED, repair
        assert standings.get("C801 (read) bit 7") is not Standing.CONTRADICTED, repair


BOARD = "board/card.readings"


@pytest.fixture
def read(tmp_path: Path) -> Path:
    """The bench case without its inverter, with nets that were all read with a meter, each joint from both ends."""
    study = EXAMS / "polarity-without-inverter" / "study"
    folder = tmp_path / "read"
    shutil.copytree(study, folder)
    return read_study(folder, (study / "board" / "card.nets").read_text("utf-8"))


def lines_with(folder: Path, one: str, other: str) -> list[str]:
    """The places of the readings that join two pins, looked up in the file, with their pins."""
    lines = (folder / BOARD).read_text("utf-8").splitlines()
    pairs = [(number, line.split()[1:]) for number, line in enumerate(lines, 1)]
    return [f"{BOARD}:{number} ({a} to {b})" for number, (a, b) in pairs if {a, b} == {one, other}]


def repair_of(folder: Path, name: str, cache: Cache) -> Repair:
    """The repair of BUSY that withdraws one statement."""
    repairs = row_of(folder, "signal BUSY", cache).repairs
    return next(one for one in repairs if [str(statement) for statement in one.statements] == [name])


def test_repair_names_its_readings(read: Path, cache: Cache) -> None:
    """A joint that was read is named with its own readings' file and lines, not with the first line of its net."""
    repair = repair_of(read, f"{BOARD}: u5.2", cache)
    wanted = lines_with(read, "j1.11", "u5.2")
    assert len(wanted) == 2
    assert [str(one) for one in repair.readings] == wanted
    assert repair.statements[0].origin == repair.readings[0].origin
    assert repair.words == "an inverter was missed between U5 pin 2 and J1 pin 11"
    assert repair.advice == f"{repair.words}; read again: {', '.join(wanted)}"
    stated = repair_of(read, "board/card.nets: level j1.11", cache)
    assert (stated.readings, stated.advice) == ((), stated.words)


def test_set_aside_readings(read: Path, cache: Cache) -> None:
    """A withdrawn joint tells which readings concluded it; what its line said is kept; and it is not traced then."""
    done = strike(read, f"{BOARD}: u5.3", cache)
    assert [str(one) for one in done.statement.readings] == lines_with(read, "u3.18", "u5.3")
    [line] = [one for one in (read / "withdrawn.txt").read_text().splitlines() if not one.startswith("#")]
    assert line.split("\t")[1:4] == [f"{BOARD}: u5.3", "withdrawn", "joined u3.18 u5.3"]
    assert row_of(read, "C801 (read) bit 7", cache).standing is not Standing.CONTRADICTED


def test_set_aside_readings_in_two_files(read: Path, cache: Cache) -> None:
    """Where a net was read in two files, the statement is the file's that read the joint, whatever file is first."""
    file = read / BOARD
    lines = file.read_text("utf-8").splitlines()
    late = [line for line in lines if {"j1.11", "u5.2"} == set(line.split()[1:])]
    file.write_text("".join(f"{line}\n" for line in lines if line not in late), "utf-8")
    (read / "board" / "again.readings").write_text("\n".join(late) + "\n", "utf-8")
    repair = repair_of(read, "board/again.readings: u5.2", cache)
    assert [str(one.origin) for one in repair.readings] == ["board/again.readings:1", "board/again.readings:2"]


def test_set_aside_readings_wrong(read: Path, cache: Cache) -> None:
    """A pin that nothing was read of is no statement, in a readings file either."""
    with pytest.raises(UnknownName, match=r"^nothing in the table rests on a statement 'board/card.readings: u99.1'"):
        strike(read, f"{BOARD}: u99.1", cache)
    assert not (read / "withdrawn.txt").exists()


def test_findings_weaken(demo_study: Path, cache: Cache) -> None:
    """A finding that stood on a withdrawn statement falls by itself, and the errata say it."""
    add_finding(demo_study, ("busy", "It sends while BUSY is low."), ["A810 (read) bit 6"], {}, DAY, cache=cache)
    strike(demo_study, "board/card.nets: u10.4", cache)
    changed = {one.name: one.grade.value for one in judge_study(demo_study, cache=cache)[1] if one.is_changed}
    # the demonstration's own finding about BUSY rests on the bit as well, and another one on that
    assert changed == {"busy": "one witness", "waits-for-busy": "one witness", "strobe-long-enough": "one witness"}
    written = accept_changes(demo_study, DAY, "measured again", cache=cache)
    assert {change.what for change in written if change.finding == "busy"} == {"grade", "on A810 (read) bit 6"}


def test_line_that_moved(demo_study: Path, cache: Cache) -> None:
    """A withdrawn run is known by its text: a remark above it changes nothing, and no other run is taken for it."""
    strike(demo_study, "wire/tide-line.log: line 5", cache)
    log = demo_study / "wire" / "tide-line.log"
    log.write_bytes(b"# a remark\n" + log.read_bytes())
    assert row_of(demo_study, "sequence tide-line", cache).standing is Standing.SINGLE


def test_set_aside_wrong(demo_study: Path, cache: Cache) -> None:
    """Names of nothing, and what is withdrawn or counts already, are refused; nothing is written."""
    with pytest.raises(UnknownName, match=r"^nothing in the table rests on a statement 'board/card.nets: u99.1'"):
        strike(demo_study, "board/card.nets: u99.1", cache)
    with pytest.raises(UnknownName, match=r"^the statement 'board/card.nets: u9.2' is not withdrawn"):
        strike(demo_study, "board/card.nets: u9.2", cache, again=True)
    assert not (demo_study / "withdrawn.txt").exists()
    strike(demo_study, "board/card.nets: strap w1", cache)
    with pytest.raises(UnknownName, match=r"^the statement 'board/card.nets: strap w1' is withdrawn already, since"):
        strike(demo_study, "board/card.nets: strap w1", cache)


def test_read_withdrawn_wrong(demo_study: Path) -> None:
    """Lines that are none are refused with their places."""
    (demo_study / "withdrawn.txt").write_text("# a remark\n2026-11-26\tx: y\twithdrawn\tz\n<<<<<<< mine\n")
    with pytest.raises(
        BadInput, match=r"^withdrawn.txt:2: a line holds date, statement, 'withdrawn' or 'counts again'"
    ):
        load_study(demo_study)
