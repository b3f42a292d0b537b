"""Runs that are pasted: a new byte log, or more runs in one that is there; checked by the log's reader first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, UnknownName
from latchlore.study import _editwords as words
from latchlore.study._edit import Edit
from latchlore.study._editnames import place_for
from latchlore.study._load import load_study
from latchlore.study._paths import StudyFolder

if TYPE_CHECKING:
    from pathlib import Path

    from latchlore.study._study import LogPart
    from latchlore.wire import Log

NUMBERS = ("", "hex", "decimal")
LAYOUTS = ("", "line", "block", "file")


def plan_log(folder: Path, name: str, pasted: str, *, numbers: str = "", runs: str = "", note: str = "") -> Edit:
    """A new log ``wire/NAME.log`` of what was pasted; NAME is the sequence it holds.

    `numbers` and `runs`: as a log's header states them, empty: concluded.  `note`: a comment in its first line.
    Refuses a log that is there, and what a log's reader refuses, with the lines of what was pasted.
    """
    from latchlore.wire import parse_log

    if numbers not in NUMBERS or runs not in LAYOUTS:
        raise UnknownName(words.NO_KIND.format(numbers=numbers, runs=runs))
    file = place_for(folder, "wire", name, ".log")
    head = [f"# {' '.join(note.split())}"] if note.strip() else []
    head += [f"{key}: {value}" for key, value in (("numbers", numbers), ("runs", runs)) if value]
    text = "".join(f"{line}\n" for line in (*head, *_lines(pasted)))
    try:
        log = parse_log(text.encode(), file)
    except BadInput as error:
        raise _as_pasted(error, file, len(head)) from error
    if not log.runs:
        raise BadInput(Origin(file), words.NO_BYTE)
    return Edit(words.paste(len(log.runs), file), {file: text.encode()}, {file: None})


def plan_runs(folder: Path, file: str, pasted: str, *, note: str = "") -> Edit:
    """More runs at the end of a log that is there; every byte that was there stays.

    Refuses a log that the study does not have, one that is a single run as a whole, and what would change how the runs
    above are read.
    """
    part = next((one for one in load_study(folder).logs if one.file.file == file), None)
    if part is None:
        raise UnknownName(words.NO_LOG.format(file=file), [one.file.file for one in load_study(folder).logs])
    raw = part.file.raw
    before = _parse(part, raw)
    if before is None or before.layout.value == "file":
        raise BadInput(Origin(file), words.ONE_RUN)
    newline = "\r\n" if b"\r\n" in raw else "\n"
    added = [f"# {' '.join(note.split())}"] if note.strip() else []
    if before.layout.value == "block":
        added.insert(0, "")
    start = raw if raw.endswith((b"\n", b"\r")) else raw + newline.encode()
    whole = start + "".join(f"{line}{newline}" for line in (*added, *_lines(pasted))).encode()
    try:
        after = _parse(part, whole)
    except BadInput as error:
        raise _as_pasted(error, file, len(start.splitlines()) + len(added)) from error
    assert after is not None
    count = len(after.runs) - len(before.runs)
    if count < 1 or [run.data for run in after.runs[: len(before.runs)]] != [run.data for run in before.runs]:
        raise BadInput(Origin(file), words.READ_OTHERWISE)
    return Edit(words.paste(count, file), {file: whole}, {file: raw})


def log_files(folder: Path) -> tuple[str, ...]:
    """The byte logs that lie in their places, by path; also while the study cannot be read."""
    opened = StudyFolder(folder)
    places = ["", "wire", *opened.list_folders("wire")]
    return tuple(file for place in places for file in opened.list_files(place, ".log"))


def _parse(part: LogPart, raw: bytes) -> Log | None:
    """The log as the study reads it; None for bus accesses, whose file is one run."""
    from latchlore.wire import Layout, Numbers, parse_log

    if part.runs == "bus":
        return None
    numbers = Numbers(part.base) if part.base else None
    return parse_log(raw, part.file.file, numbers, Layout(part.runs) if part.runs else None)


def _lines(pasted: str) -> list[str]:
    """The lines of a text, without those empty ones that stand at its ends; whatever ends them."""
    return pasted.replace("\r\n", "\n").replace("\r", "\n").strip("\n").split("\n")


def _as_pasted(error: BadInput, file: str, above: int) -> BadInput:
    """The same mistakes by the lines of what was pasted, of which `above` lines stand before it in the file."""
    return BadInput.of_all(
        (Origin.at_line(words.PASTED, place.number - above), text)
        if place.file == file and place.number > above
        else (place, text)
        for place, text in error.mistakes
    )
