"""A row that was typed into a device table by mistake, taken out again with its own lines and no others."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import (
    BadInput,
    Origin,
    UnknownName,
    Unsupported,
    check_toml,
    find_comment,
    read_toml,
    take_table_out,
)
from latchlore.study import _editwords as words
from latchlore.study._edit import Edit, content_of, digest_of
from latchlore.study._editdocuments import HEAD_KEYS, PAPER_KEYS, ROW_KEYS, check_document
from latchlore.study._paths import QUESTIONS, StudyFolder

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from latchlore.base import Statement
    from latchlore.evidence import Table


class RowLines(NamedTuple):
    """The lines of a row, from `first` (counted from 1), and what tells the state of its file."""

    text: str
    first: int
    seen: str


def row_lines(folder: Path, file: str, number: int) -> RowLines:
    """The lines that would go with a row of a table's commands, the `number`-th from 1.

    Refuses a table or a row that is not there, and a file that holds what the desk's forms do not write.
    """
    raw = _read(folder, file, number)
    _, start, end = take_table_out(raw, file, "command", number - 1)
    return RowLines(raw[start:end].decode().replace("\r\n", "\n"), raw[:start].count(b"\n") + 1, digest_of(raw))


def plan_row_out(folder: Path, file: str, number: int, seen: str, table: Table) -> Edit:
    """A table without one of its rows: just the lines that `row_lines` shows go.

    `seen`: the digest that `row_lines` gave; `table`: of the study as it is.  Refuses what `row_lines` refuses, a file
    that was changed since, a row on which a finding, a withdrawn statement or an outcome rests, each with its place,
    and a table that would break the rules without it.
    """
    from latchlore.device import read_device
    from latchlore.device.testify import command_statement

    raw = _read(folder, file, number)
    if seen != digest_of(raw):
        raise BadInput(Origin(file), words.LOOK_AGAIN)
    device = read_device(raw, file)
    resting = [*_resting(folder, command_statement(device, number - 1), table), *_foretold(folder, file)]
    if resting:
        raise BadInput.of_all(resting)
    text, _, _ = take_table_out(raw, file, "command", number - 1)
    read_device(text, file)
    return Edit(words.ROW_OUT.format(number=number, file=file), {file: text}, {file: raw})


def _read(folder: Path, file: str, number: int) -> bytes:
    raw = content_of(folder, check_document(file))
    if raw is None:
        raise UnknownName(words.NO_TABLE.format(file=file))
    data = read_toml(raw, file).data
    rows = data.get("command", [])
    count = len(rows) if isinstance(rows, list) else 0
    if not 1 <= number <= count:
        raise UnknownName(words.NO_ROW.format(file=file, number=number, count=count))
    mistakes = list(_foreign(raw, file))
    if mistakes:
        raise Unsupported(mistakes[0], words.NOT_OURS)
    return raw


def _foreign(raw: bytes, file: str) -> Iterator[Origin]:
    """What the file holds that the desk's forms do not write: a comment, or a key that none of them asks for."""
    line = find_comment(raw)
    if line is not None:
        yield Origin.at_line(file, line, words.COMMENT)
    toml = read_toml(raw, file)
    for path in toml.lines:
        own = {"command": ROW_KEYS, "paper": PAPER_KEYS}.get(str(path[0]))
        keys = [step for step in path if isinstance(step, str)]
        is_own = path[0] in HEAD_KEYS if own is None else len(keys) == 1 or (len(keys) == 2 and keys[1] in own)
        if not is_own:
            yield toml.origin(path)


def _resting(folder: Path, row: Statement, table: Table) -> Iterator[tuple[Origin, str]]:
    """Findings and withdrawn statements that speak of the row."""
    from latchlore.evidence import Grade, one_line, statements_of
    from latchlore.study._record import judge_record, read_record
    from latchlore.study._withdrawn import read_withdrawn

    name = str(row)
    for gone in read_withdrawn(StudyFolder(folder)):
        if gone.name == name:
            yield gone.origin, words.ROW_WITHDRAWN.format(name=name)
    subjects = {
        one_line(str(each.subject))
        for each in table.rows
        for one in each.testimonies
        if any(str(statement) == name for group in statements_of(one) for statement in group)
    }
    for judged in judge_record(read_record(folder), table):
        finding = judged.finding
        if finding is None or judged.grade is Grade.WITHDRAWN:
            continue
        for on, place in zip(finding.rests_on, finding.places, strict=True):
            if on in subjects:
                yield place, words.ROW_FOUND.format(name=finding.name, on=on)


def _foretold(folder: Path, file: str) -> Iterator[tuple[Origin, str]]:
    """Outcomes whose chances were computed with the table."""
    from latchlore.study._questionlayout import QuestionsTable

    raw = content_of(folder, QUESTIONS)
    if raw is None:
        return
    toml = read_toml(raw, QUESTIONS)
    found = check_toml(QuestionsTable, toml)
    stem = file.rpartition("/")[2].removesuffix(".toml")
    sent = {
        trial.name
        for question in found.question
        if any(rival.document == stem for rival in question.rival)
        for trial in question.trial
        if trial.send is not None
    }
    for k, outcome in enumerate(found.outcome):
        if outcome.trial in sent and not outcome.withdrawn:
            yield toml.origin(("outcome", k)), words.ROW_SENT.format(trial=outcome.trial)
