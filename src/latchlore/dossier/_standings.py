"""What is established and what is conjecture, as the page shows it: subjects by grade, and what would change each."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.dossier import wording
from latchlore.evidence import Grade, Standing, could_change, fold_rows, grade_of_row

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from latchlore.base import Subject
    from latchlore.evidence import Line, Row, Table
    from latchlore.study import QuestionPart, Questions

Link = tuple[str, str]  # text, href


class GroundView(NamedTuple):
    """One subject: its link, how it stands, and what would change it."""

    link: Link
    standing: str
    reason: str
    changes: tuple[str, ...]
    asked: tuple[Link, ...]


class GradeView(NamedTuple):
    """One grade with its subjects.

    `is_whole`: each with its reason, else a list of links with what would change all of them.
    """

    grade: str
    words: str
    number: int
    is_whole: bool
    bundles: tuple[tuple[tuple[str, ...], tuple[GroundView, ...]], ...]


def view_grades(table: Table, link_to: Callable[[Subject], str], asked: Mapping[str, Link]) -> tuple[GradeView, ...]:
    """Every grade that a subject has, best founded first.  `asked`: name of a subject → the question about it."""
    found: dict[Grade, list[Row]] = {}
    for row in table.rows:
        found.setdefault(grade_of_row(row), []).append(row)
    views = []
    for grade in Grade:
        rows = found.get(grade, [])
        if rows:
            lines = [_view(line, table, link_to, asked) for line in fold_rows(rows)]
            is_whole = grade not in (Grade.ESTABLISHED, Grade.ATTESTED, Grade.ONE_WITNESS)
            views.append(
                GradeView(grade.value, wording.GRADE_WORDS[grade], len(rows), is_whole, _bundled(lines, is_whole))
            )
    return tuple(views)


def _bundled(lines: list[GroundView], is_whole: bool) -> tuple[tuple[tuple[str, ...], tuple[GroundView, ...]], ...]:
    """Lines that the same would change, together, in the order of the first of each."""
    bundles: dict[tuple[str, ...], list[GroundView]] = {}
    for k, line in enumerate(lines):
        bundles.setdefault((*line.changes, str(k)) if is_whole else line.changes, []).append(line)
    return tuple((ones[0].changes, tuple(ones)) for ones in bundles.values())


def _view(line: Line, table: Table, link_to: Callable[[Subject], str], asked: Mapping[str, Link]) -> GroundView:
    row = line.row
    names = (row.subject.key[0], str(row.subject))
    questions = dict.fromkeys(asked[name] for name in names if name in asked)
    changes = () if row.standing is Standing.AGREED else could_change(row, table.heard)
    return GroundView((line.name, link_to(row.subject)), row.standing.value, row.reason, changes, tuple(questions))


def asked_subjects(questions: Questions | None, asked: Sequence[QuestionPart]) -> dict[str, Link]:
    """Subject, as a question of study.toml names it → the question's text and anchor."""
    if questions is None:
        return {}
    anchors = {one.text: f"#{question_anchor(k)}" for k, one in enumerate(questions.questions)}
    return {name: (one.text, anchors[one.text]) for one in asked for name in one.about if one.text in anchors}


def question_anchor(index: int) -> str:
    """The anchor of a question, by its place among the study's questions."""
    return f"question-{index + 1}"
