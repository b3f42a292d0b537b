"""The bench sheet of a trial: what to take to the bench on paper, and the filled-in sheet read back."""

from __future__ import annotations

import re
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin
from latchlore.evidence import runs_needed
from latchlore.evidence.trialwording import CAUTIONS, HAZARDS
from latchlore.study import _sheetwords as words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.study._questions import OpenQuestion, StatedTrial

COLUMNS = 78
_BOX = re.compile(r"\s*\[([^\]]*)\]\s*(.+?)\s*")
_FIELD = re.compile(r"(trial|sure|on|note)\s*:\s*(.*?)[\s_%]*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class FilledSheet:
    """What a sheet says when it comes back; `sure` in percent, None where it was left empty."""

    trial: str
    saw: str
    sure: float | None
    on: str
    note: str


def sheet_text(title: str, question: OpenQuestion, stated: StatedTrial) -> str:
    """The sheet as plain text of 78 columns, to print and to fill in; the same study gives the same sheet."""
    return "\n".join(line.rstrip() for line in _iter_lines(title, question, stated)) + "\n"


def _iter_lines(title: str, question: OpenQuestion, stated: StatedTrial) -> Iterator[str]:
    trial = stated.trial
    yield words.HEAD
    yield from _wrap(words.STUDY.format(title=title), "  ")
    yield from _wrap(words.QUESTION.format(name=question.name, text=question.text), "  ")
    yield f"trial: {trial.name}"
    yield ""
    yield from _wrap(words.CAUTION.format(hazard=HAZARDS[trial.hazard.key], caution=CAUTIONS[trial.hazard.key]))
    if stated.caution:
        yield from _wrap(words.OWN_CAUTION.format(caution=stated.caution))
    yield ""
    for number, step in enumerate((*filter(None, [stated.how]), *stated.wires), 1):
        yield from _wrap(f"{number}. {step}", "   ")
    runs = runs_needed(question.now, trial, question.enough)
    yield from _wrap(words.runs(runs, trial.times, f"{question.enough:.0%}"))
    yield ""
    yield words.FORESEEN
    for k, outcome in enumerate(trial.outcomes):
        chances = ", ".join(
            f"{rival.name} {row[k]:.1%}" for rival, row in zip(question.rivals, trial.chances, strict=True)
        )
        yield from _wrap(f"  {outcome}: {chances}", "    ")
    yield ""
    yield words.MARK
    yield from (f"  [ ] {outcome}" for outcome in trial.outcomes)
    yield ""
    yield "sure: ____ %"
    yield "on:   ____-__-__"
    yield "note: ______________________________________________________________"


def _wrap(text: str, rest: str = "") -> list[str]:
    return textwrap.wrap(text, COLUMNS, subsequent_indent=rest, break_on_hyphens=False)


def read_sheet(text: str, file: str) -> FilledSheet:
    """A filled-in sheet.  Refuses one without a trial, without exactly one marked box, or with a number that is none.

    A box is marked with any sign but a blank; a line left as it was printed counts as empty.  Boxes stand below the
    line that asks to mark one, and lines to fill in begin at the margin, where no other text of a sheet does.
    """
    boxes_from = next((k for k, line in enumerate(text.splitlines(), 1) if line.strip() == words.MARK), 0)
    fields: dict[str, tuple[int, str]] = {}
    marked: list[tuple[int, str]] = []
    for number, line in enumerate(text.splitlines(), 1):
        box, field = _BOX.fullmatch(line), _FIELD.fullmatch(line)
        if box is not None and box[1].strip() and number > boxes_from:
            marked.append((number, box[2]))
        elif field is not None:
            fields.setdefault(field[1].lower(), (number, "" if set(field[2]) <= set("_- ") else field[2]))
    trial = fields.get("trial", (1, ""))[1]
    if not trial:
        raise BadInput(Origin(file), words.NO_TRIAL)
    if not marked:
        raise BadInput(Origin(file), words.NO_BOX)
    if len(marked) > 1:
        raise BadInput(Origin.at_line(file, marked[1][0]), words.TWO_BOXES.format(first=marked[0][1], saw=marked[1][1]))
    place, typed = fields.get("sure", (0, ""))
    sure = None
    if typed:
        if not re.fullmatch(r"\d{1,3}(\.\d+)?", typed) or not 0 < float(typed) <= 100:
            raise BadInput(Origin.at_line(file, place), words.SURE.format(text=typed))
        sure = float(typed)
    return FilledSheet(trial, marked[0][1], sure, fields.get("on", (0, ""))[1], fields.get("note", (0, ""))[1])
