"""Exams: real interfaces and bench cases whose answers are published, weighed as studies.

Each folder of `exams/` holds a study and, beside it, `answers.toml`: question, published answer, source.
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from latchlore.base import Witness
from latchlore.evidence import Row, Table
from latchlore.study import weigh_study

EXAMS = Path(__file__).resolve().parent.parent / "exams"


def load_answers() -> list[tuple[str, dict[str, Any]]]:
    """Every (exam, answer)."""
    return [
        (folder.name, answer)
        for folder in sorted(EXAMS.iterdir())
        if (folder / "answers.toml").exists()
        for answer in tomllib.loads((folder / "answers.toml").read_text("utf-8"))["answer"]
    ]


@cache
def weighed(exam: str) -> Table:
    """The exam's table."""
    return weigh_study(EXAMS / exam / "study")


def find_row(table: Table, subject: str) -> Row:
    """The row of a subject by its text."""
    rows = {str(row.subject): row for row in table.rows}
    assert subject in rows, f"no row {subject!r}; there are {sorted(rows)}"
    return rows[subject]


@pytest.mark.parametrize(
    ("exam", "answer"), [pytest.param(e, a, id=f"{e}-{k}") for k, (e, a) in enumerate(load_answers())]
)
def test_answer(exam: str, answer: dict[str, Any]) -> None:
    """The table gives the published answer."""
    assert set(answer) <= {"question", "source", "subject", "witness", "value", "begins", "standing", "says"}
    assert answer["source"]
    row = find_row(weighed(exam), answer["subject"])
    if "standing" in answer:
        assert row.standing.value == answer["standing"], row.reason
    said = row.by_witness(Witness(answer["witness"])) if "witness" in answer else row.testimonies
    if "value" in answer:
        assert answer["value"] in [str(one.value) for one in said]
    if "begins" in answer:
        assert any(str(one.value).startswith(answer["begins"]) for one in said), [str(one.value) for one in said]
    if "says" in answer:
        words = [row.reason, *row.follows, *(repair.words for repair in row.repairs)]
        assert any(answer["says"] in text for text in words), words
    assert {"value", "begins", "standing", "says"} & set(answer), "an answer that asks nothing"


def test_exams_are_there() -> None:
    """The exams that the project promises exist and ask something."""
    asked = {exam for exam, _ in load_answers()}
    assert {
        "pc-parallel-1981",
        "decode-with-mirrors",
        "port-list-too-long",
        "port-list-unqualified",
        "polarity-agreement",
        "strobe-width",
        "writes-beside-data",
        "z80-7-bit-port",
        "port-chips-in-memory",
        "port-chips-at-ports",
        "one-shot-times",
        "markings",
        "part-or-date",
    } <= asked
