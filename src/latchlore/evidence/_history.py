"""The history of a study's findings: one line a change, only ever added to.

A line has seven fields with tabs between: date, finding, what changed, old, new, why, evidence.  What changed is
``grade``, ``sentence``, ``rests on``, or ``on X`` where X is a subject or ``finding NAME``.  ``-`` stands for nothing:
as the old text of what is new, and as the new text of what is no longer rested on.  A line that starts with ``#`` is
a remark.  Every line stands for itself, so that two copies of a history are put together by keeping the lines of
both: the same line twice counts once, and of two lines about the same thing the later one in the file holds.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin
from latchlore.evidence import _recordwords as wording
from latchlore.evidence._grades import Grade

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

NOTHING = "-"
GRADE = "grade"
SENTENCE = "sentence"
RESTS_ON = "rests on"
ON = "on "
FINDING = "finding "
NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,59}")
NUM_FIELDS = 7


@dataclass(frozen=True, slots=True)
class Change:
    """One line of a history; every text is one line, without tabs.

    `day` is a date as ISO 8601 writes it, ``2026-11-26``.  `evidence` names the places that the new text rests on.
    """

    day: str
    finding: str
    what: str
    old: str
    new: str
    why: str
    evidence: str

    @property
    def is_entry(self) -> bool:
        """Whether it enters something for the first time; everything else corrects what stood before: an erratum."""
        return self.old == NOTHING


@dataclass(frozen=True, slots=True)
class Past:
    """A line of a history and where it stands."""

    change: Change
    origin: Origin


def parse_history(text: str, file: str) -> tuple[Past, ...]:
    """The changes of a history in the order of the file, each once.

    Refuses lines that are none, all at once, and the marks that git leaves where it could not merge.
    """
    found: dict[Change, Past] = {}
    mistakes: list[tuple[Origin, str]] = []
    for number, line in enumerate(text.replace("\r\n", "\n").split("\n"), 1):
        if not line.strip() or line.startswith("#"):
            continue
        origin = Origin.at_line(file, number)
        change, words = _parse_line(line)
        if change is None:
            mistakes.append((origin, words))
        else:
            found.setdefault(change, Past(change, origin))
    if mistakes:
        raise BadInput.of_all(mistakes)
    return tuple(found.values())


def _parse_line(line: str) -> tuple[Change | None, str]:
    if line.startswith(("<<<<<<<", "=======", ">>>>>>>", "|||||||")):
        return None, wording.MERGE_MARK
    fields = line.split("\t")
    if len(fields) != NUM_FIELDS:
        return None, wording.not_seven(len(fields))
    change = Change(*fields)
    try:
        if date.fromisoformat(change.day).isoformat() != change.day:
            raise ValueError
    except ValueError:
        return None, wording.no_day(change.day)
    if not is_name(change.finding):
        return None, wording.no_name(change.finding)
    if change.what not in (GRADE, SENTENCE, RESTS_ON) and not change.what.startswith(ON):
        return None, wording.no_what(change.what)
    if change.what == GRADE:
        wrong = [text for text in (change.old, change.new) if text not in (*Grade, NOTHING)]
        if wrong:
            return None, wording.no_grade(wrong[0], [grade.value for grade in Grade])
    return change, ""


def is_name(text: str) -> bool:
    """Whether a finding may be called so: up to 60 small letters, digits and hyphens."""
    return NAME.fullmatch(text) is not None


def history_lines(changes: Iterable[Change]) -> str:
    """The changes as lines to add, each ending in a line feed."""
    return "".join("\t".join(map(one_line, _fields(change))) + "\n" for change in changes)


def _fields(change: Change) -> tuple[str, ...]:
    return (change.day, change.finding, change.what, change.old, change.new, change.why, change.evidence)


def one_line(text: str) -> str:
    """The text without tabs, line ends and other letters that do not show; spaces put together; ``-`` for nothing."""
    shown = "".join(letter if letter.isprintable() else " " for letter in text)
    return " ".join(shown.split()) or NOTHING


def accepted(history: Sequence[Past]) -> dict[str, dict[str, str]]:
    """Finding → what → the text that holds after the last line; a withdrawal holds for good, whatever comes later."""
    state: dict[str, dict[str, str]] = {}
    withdrawn: set[str] = set()
    for past in history:
        change = past.change
        of_finding = state.setdefault(change.finding, {})
        if change.new == NOTHING:
            of_finding.pop(change.what, None)
        else:
            of_finding[change.what] = change.new
        if (change.what, change.new) == (GRADE, Grade.WITHDRAWN):
            withdrawn.add(change.finding)
    for name in withdrawn:
        state[name][GRADE] = Grade.WITHDRAWN
    return state


def errata(history: Sequence[Past], finding: str) -> tuple[Past, ...]:
    """What was corrected in a finding, in the order of the file."""
    return tuple(past for past in history if past.change.finding == finding and not past.change.is_entry)
