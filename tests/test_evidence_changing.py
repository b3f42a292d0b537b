"""What would change a subject's standing: only witnesses that can speak of it, only where it is not well founded."""

from __future__ import annotations

import shutil
from importlib import resources
from typing import TYPE_CHECKING

import pytest

from latchlore.base import Origin, Strength, Subject, SubjectKind, Testimony, Witness, Words
from latchlore.evidence import Row, Standing, could_change, weigh
from latchlore.evidence.facts import SPEAKERS
from latchlore.study import weigh_study

if TYPE_CHECKING:
    from pathlib import Path

CODE = Subject(SubjectKind.COMMAND, ("06",))
PIN = Subject(SubjectKind.PIN, ("j2", "1"))
EVERYBODY = tuple(Witness)


def _say(subject: Subject, words: str, file: str, strength: Strength = Strength.STATED) -> Testimony:
    witness = Witness.DOCUMENTS if file.startswith("documents/") else Witness.BOARD
    return Testimony(subject, Words(words), witness, (Origin.at_line(file, 3),), "read", strength)


def _row(*said: Testimony) -> Row:
    (row,) = weigh(said, title="", invented=False).rows
    return row


def test_could_change() -> None:
    """One statement: whoever else can speak would confirm or dispute it; who is missing from the study is named."""
    row = _row(_say(PIN, "STROBE, in", "documents/a.toml"))
    assert could_change(row, EVERYBODY) == (
        "the same from board or another document would establish it, another would dispute it",
    )
    assert could_change(row, (Witness.DOCUMENTS,)) == (
        "the same from board or another document would establish it, another would dispute it "
        "(the study has nothing of board yet)",
    )


def test_could_change_disputed() -> None:
    """A contradiction: every smallest withdrawal that would end it, with what it would mean."""
    row = _row(_say(CODE, "wide", "documents/a.toml"), _say(CODE, "underlined", "documents/b.toml"))
    assert row.standing is Standing.CONTRADICTED
    told = could_change(row, EVERYBODY)
    for words, file, repair in zip(told, ("documents/a.toml", "documents/b.toml"), row.repairs, strict=True):
        assert words == f"settled if {repair.statements[0]} is withdrawn: {repair.words}"
        assert str(repair.statements[0]).startswith(file)


def test_could_change_guessed() -> None:
    """A guess alone: first of all a better reading."""
    row = _row(_say(CODE, "wide", "documents/a.toml", Strength.GUESSED))
    assert could_change(row, EVERYBODY) == (
        "everything said is a guess: one reading without doubt, or one measured, would lift it",
        "the same from another document would establish it, another would dispute it",
    )


def test_could_change_established() -> None:
    """What two voices say alike needs nothing."""
    assert could_change(_row(_say(PIN, "A, in", "documents/a.toml"), _say(PIN, "A, in", "board/x.nets")), ()) == ()


def test_could_change_silent() -> None:
    """A subject of which nobody speaks: any word would be the first."""
    row = Row(CODE, (), Standing.SILENT, "nobody speaks")
    assert could_change(row, ()) == (
        "any word of documents would be the first (the study has nothing of documents yet)",
    )


@pytest.mark.parametrize("kind", SubjectKind)
def test_speakers(kind: SubjectKind) -> None:
    """Every kind of subject has somebody who can speak of it."""
    assert SPEAKERS[kind]


def test_speakers_by_the_wings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever speaks of a subject in the demonstration (as the wings compute it) is told to be able to."""
    monkeypatch.setenv("LATCHLORE_CACHE", str(tmp_path / "cache"))
    shutil.copytree(str(resources.files("latchlore") / "demo"), tmp_path / "study")
    rows = weigh_study(tmp_path / "study").rows
    spoken = {(row.subject.kind, one.witness) for row in rows for one in row.testimonies}
    assert len(spoken) > 15
    assert {(kind, who) for kind, who in spoken if who not in SPEAKERS[kind]} == set()
