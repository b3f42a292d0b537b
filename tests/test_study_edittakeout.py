"""Rows taken out of a table again: just their lines, and never one on which something rests."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from latchlore.base import BadInput, UnknownName, Unsupported
from latchlore.study import new_study, plan_document, plan_row_out, row_lines, weigh_study, write_edit

if TYPE_CHECKING:
    from pathlib import Path

FILE = "documents/manual.toml"
HEAD = {"title": "Guide (invented)", "device": "Quill", "kind": "manual"}
ROWS = [
    {"pattern": "0D", "meaning": "return", "does": "carriage return", "page": "11", "row": "2"},
    {"pattern": "0B", "meaning": "typed by mistake"},
    {"pattern": "0C", "meaning": "feed", "quote": "FORM FEED"},
]
TEXT = """\
title = "Guide (invented)"
device = "Quill"
kind = "manual"

[[command]]
pattern = "0D"
meaning = "return"
does = "carriage return"
page = 11
row = 2

[[command]]
pattern = "0B"
meaning = "typed by mistake"

[[command]]
pattern = "0C"
meaning = "feed"
quote = "FORM FEED"
"""
GOES = '\n[[command]]\npattern = "0B"\nmeaning = "typed by mistake"\n'
FINDING = """
[[finding]]
name = "by-hand"
rests_on = ["code 0D", "code 0B"]
sentence = "It feeds by hand."
"""
QUESTION = """
[[question]]
name = "q"
text = "Which?"
[[question.rival]]
name = "a"
document = "manual"
[[question.rival]]
name = "b"
document = "manual"
[[question.trial]]
name = "print it"
hazard = "precious"
send = "0D"
[[outcome]]
trial = "print it"
saw = "as manual"
"""


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """A new study with a table that was typed in."""
    folder = tmp_path / "found"
    new_study(folder)
    write_edit(folder, plan_document(folder, "manual", HEAD, ROWS))
    assert (folder / FILE).read_text() == TEXT
    return folder


def test_plan_row_out(study: Path) -> None:
    """The lines that were shown go, and every other byte stays."""
    lines = row_lines(study, FILE, 2)
    assert (lines.text, lines.first) == (GOES, 11)
    edit = plan_row_out(study, FILE, 2, lines.seen, weigh_study(study))
    assert edit.words == "take row 2 out of documents/manual.toml"
    assert (study / FILE).read_text() == TEXT
    write_edit(study, edit)
    assert (study / FILE).read_text() == TEXT.replace(GOES, "")


def test_plan_row_out_resting(study: Path) -> None:
    """A finding, a withdrawn statement and an outcome that rest on the row keep it, each named with its place."""
    (study / "findings.toml").write_text(FINDING)
    (study / "questions.toml").write_text(QUESTION)
    (study / "withdrawn.txt").write_text("2026-11-26\tdocuments/manual.toml: code 0B\twithdrawn\t[[command]]\ttorn\n")
    seen = row_lines(study, FILE, 1).seen
    sent = (
        "questions.toml:15 (outcome[1]): what trial 'print it' would show was computed with this table; withdraw the "
        "outcome first"
    )
    found = (
        "findings.toml:4 (finding[1].rests_on[1]): finding 'by-hand' rests on 'code 0D', of which this row speaks; "
        "withdraw the finding first\n"
    )
    gone = (
        "withdrawn.txt:1: the withdrawn statement 'documents/manual.toml: code 0B' is this row; it stays, so that the "
        "withdrawal can be understood\n"
    )
    (study / "findings.toml").write_text(FINDING.replace(', "code 0B"', ""))
    table = weigh_study(study)
    with pytest.raises(BadInput, match=f"^{re.escape(found + sent)}$"):
        plan_row_out(study, FILE, 1, seen, table)
    with pytest.raises(BadInput, match=f"^{re.escape(gone + sent)}$"):
        plan_row_out(study, FILE, 2, seen, table)
    (study / "questions.toml").write_text(QUESTION + 'withdrawn = "another strip"\n')
    assert (
        plan_row_out(study, FILE, 3, seen, table).files[FILE].decode()
        == TEXT[: TEXT.index('\n[[command]]\npattern = "0C"')]
    )


def test_plan_row_out_wrong(study: Path) -> None:
    """A row that is not there, a file changed since or gone, and one that holds more than the desk writes."""
    table = weigh_study(study)
    with pytest.raises(UnknownName, match=r"^documents/manual\.toml has no command row 4; it has 3$"):
        row_lines(study, FILE, 4)
    with pytest.raises(UnknownName, match=r"^the study has no device table 'study\.toml'$"):
        row_lines(study, "study.toml", 1)
    told = r"^documents/manual\.toml: was changed meanwhile; nothing is taken out: look again at what would go$"
    with pytest.raises(BadInput, match=told):
        plan_row_out(study, FILE, 2, "0" * 64, table)
    for more, place in (
        ("\n# hand-written\n", ":21 (a comment)"),
        ('\n[[pin]]\nnumber = "1"\n', ":21 (pin)"),
        ('keys = "FF"\n', ":20 (command[3].keys)"),
    ):
        (study / FILE).write_text(TEXT + more)
        told = f"{FILE}{place}: holds what the desk's forms do not write; take the row out of the file as text"
        with pytest.raises(Unsupported, match=f"^{re.escape(told)}$"):
            row_lines(study, FILE, 2)
    (study / FILE).unlink()
    with pytest.raises(UnknownName, match=r"^the study has no device table 'documents/manual\.toml'$"):
        plan_row_out(study, FILE, 2, "", table)
