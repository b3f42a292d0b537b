"""Readings taken with a meter, typed in as statements of a readings file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, UnknownName
from latchlore.study import _editwords as words
from latchlore.study._edit import Edit
from latchlore.study._editnames import check_path
from latchlore.study._load import load_study
from latchlore.study._paths import StudyFolder
from latchlore.study._tracing import DEFAULT_FILE

if TYPE_CHECKING:
    from pathlib import Path


def readings_files(folder: Path) -> tuple[str, ...]:
    """The readings files of a study, by path; the one that would be made where there is none."""
    return tuple(StudyFolder(folder).list_files("board", ".readings")) or (DEFAULT_FILE,)


def plan_readings(folder: Path, file: str, typed: str, note: str = "") -> Edit:
    """Statements at the end of a readings file, which is made where it is not there.

    Refuses a study without a net file, a path that is no readings file, and statements that break the rules of
    docs/readings.md, with the lines of what was typed.
    """
    from latchlore.board import parse_netlist
    from latchlore.board.tracing import parse_all_readings

    if not file.startswith("board/") or file.count("/") != 1 or not file.endswith(".readings"):
        raise UnknownName(words.NO_READINGS_FILE.format(file=file))
    check_path(file)
    study = load_study(folder)
    if not study.nets:
        raise BadInput(Origin("board"), words.NO_NETS)
    lines = [line.rstrip() for line in typed.split("\n") if line.strip()]
    if not lines:
        raise UnknownName(words.NO_READING)
    raw = next((one.raw for one in study.readings if one.file == file), None)
    others = [(one.text, one.file) for one in study.readings if one.file != file]
    board = parse_netlist([(one.text, one.file) for one in study.nets])
    text = (raw or b"").decode()
    start = text if not text or text.endswith("\n") else f"{text}\n"
    head = [f"# {' '.join(note.split())}"] if note.strip() else []
    whole = start + "".join(f"{line}\n" for line in (*head, *lines))
    above = start.count("\n") + len(head)
    before = parse_all_readings([*others, (start, file)], board) if raw is not None or others else ()
    try:
        after = parse_all_readings([*others, (whole, file)], board)
    except BadInput as error:
        raise BadInput.of_all(
            (Origin.at_line(words.TYPED, place.number - above), told)
            if place.file == file and place.number > above
            else (place, told)
            for place, told in error.mistakes
        ) from error
    return Edit(words.readings(len(after) - len(before), file), {file: whole.encode()}, {file: raw})
