"""What the dossier shows of a study besides its table, gathered from the study's folder in one call."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from latchlore.base import BadInput, no_progress
from latchlore.dossier._boardview import find_board
from latchlore.dossier._findings import Findings
from latchlore.dossier._paper import draw_papers
from latchlore.dossier._sources import image_loads

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from latchlore.base import Progress
    from latchlore.device import Device
    from latchlore.dossier._boardview import BoardView
    from latchlore.dossier._paper import Picture
    from latchlore.evidence import StandIn, Table
    from latchlore.study import AskedProgram, QuestionPart, Questions, Study


@dataclass(frozen=True, slots=True)
class Parts:
    """Everything besides the table; what a study does not have is empty.

    `loads`: image file → address of its first byte, so that addresses can be shown.  `authors` and `date` as
    study.toml states them.  `program`: names and clock for the trees, None where there is no program that can be asked.
    `asked`: the questions of study.toml, which name the subjects that they are about.
    """

    pictures: tuple[Picture, ...] = ()
    board: BoardView | None = None
    findings: Findings | None = None
    loads: Mapping[str, int] = field(default_factory=dict)
    about: str = ""
    authors: tuple[str, ...] = ()
    date: str = ""
    devices: tuple[Device, ...] = ()
    program: AskedProgram | None = None
    questions: Questions | None = None
    asked: tuple[QuestionPart, ...] = ()
    stand_in: StandIn | None = None


def gather_parts(folder: Path, table: Table, progress: Progress = no_progress) -> Parts:
    """Everything that the study in `folder` has besides its table.  Refuses what the readers of its files refuse."""
    from latchlore.device import read_device
    from latchlore.evidence import specify
    from latchlore.study import basis_of, find_record, hear, judge_record, load_study, read_questions

    study = load_study(folder)
    record = find_record(folder)
    questions = read_questions(folder)
    progress(0, 0, "pictures")
    return Parts(
        pictures=draw_papers(folder, table),
        board=find_board(folder),
        findings=None if record is None else Findings(judge_record(record, table), record.history),
        loads=image_loads(folder),
        about=study.about,
        authors=study.authors,
        date=study.date,
        devices=tuple(read_device(file.raw, file.file) for file in study.documents),
        program=_program(folder, study),
        questions=questions if questions.questions else None,
        asked=study.questions,
        stand_in=specify(basis_of(hear(study, progress), table)),
    )


def _program(folder: Path, study: Study) -> AskedProgram | None:
    from latchlore.study import Stated, open_program

    if study.program is None or not study.program.images or not study.program.cpu:
        return None
    try:
        return open_program([folder], Stated())
    except BadInput:  # the table says what keeps it from being followed
        return None
