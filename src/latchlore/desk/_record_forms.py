"""The forms of the record room."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from latchlore.base import UnknownName
from latchlore.desk import recordwording as words
from latchlore.desk._forms import Field, Form, Rows
from latchlore.evidence import FINDING, trialwording

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.study import StatedTrial

SURE_RULE = re.compile(r"\d{1,3}(\.\d+)?")


def today() -> str:
    """The day on which something is entered, as ISO 8601 writes it."""
    from datetime import date

    return date.today().isoformat()


DAY = Field("day", "Day: year, month and day")
BECAUSE = Field("because", "Why, in your words", hint="Stands in the history beside what Latchlore says itself.")
GROUNDS = Rows(
    "grounds",
    "What it rests on",
    (
        Field("on", "subject, or finding NAME"),
        Field("says", "words that somebody must say about it (may be left out)"),
    ),
    "Subjects as the weighing table prints them.  With words, the finding falls when nobody says them any more.",
)


def finding_form(subjects: Sequence[str], findings: Sequence[str]) -> Form:
    """A new finding; subjects and findings are offered while they are typed."""
    on, says = GROUNDS.columns
    known = on._replace(known=(*subjects, *(f"{FINDING}{name}" for name in findings)))
    return Form(
        "record-add",
        "Add a finding",
        words.ADD_LEAD,
        "Add the finding",
        (
            Field("name", "Its name", hint="Small letters, digits and hyphens, such as busy-low.", needed=True),
            Field("sentence", "The finding: one sentence", "text", needed=True, size=2),
            GROUNDS._replace(columns=(known, says)),
            BECAUSE,
            DAY,
        ),
        values={"day": today()},
    )


def withdrawal_form(name: str) -> Form:
    """A finding taken back."""
    return Form(
        "record-withdraw",
        f"Withdraw the finding {name}",
        words.WITHDRAW_LEAD,
        "Withdraw for good",
        (BECAUSE._replace(needed=True), DAY),
        values={"day": today()},
        kept={"name": name},
    )


def acceptance_form() -> Form:
    """What changed, accepted."""
    return Form(
        "record-accept",
        "Accept what changed",
        words.ACCEPT_LEAD,
        "Write it into the history",
        (BECAUSE, DAY),
        values={"day": today()},
    )


def outcome_form(stated: StatedTrial) -> Form:
    """What a trial showed."""
    trial = stated.trial
    return Form(
        "record-sheet",
        trial.name,
        trialwording.HAZARDS[trial.hazard.key],
        "Enter the outcome",
        (
            Field("saw", "What it showed", "choice", choices=(("", ""), *((one, one) for one in trial.outcomes))),
            Field("sure", "How sure you are of it, in percent"),
            DAY,
            Field("note", "Note"),
        ),
        values={"day": today(), "sure": "95"},
        kept={"trial": trial.name},
        template="record_sheet.html",
    )


def filled_form() -> Form:
    """A sheet that came back from the bench."""
    return Form(
        "record-filled",
        "Read a filled-in bench sheet",
        words.FILLED_LEAD,
        "Read the sheet",
        (
            Field("sheet", "The sheet, as it was filled in", "hex", size=18),
            Field("file", "Or the file that holds it", "file"),
            DAY._replace(label="Day, where the sheet names none: year, month and day"),
        ),
        values={"day": today()},
    )


def unsaying_form(number: str) -> Form:
    """An outcome withdrawn."""
    return Form(
        "record-unsay",
        "Withdraw an outcome",
        words.UNSAY_LEAD,
        "Withdraw the outcome",
        (Field("because", "Why", needed=True),),
        kept={"number": number},
    )


def sure_of(text: str) -> float:
    """How sure one is, in percent.  Refuses what is no number above 0 and up to 100."""
    typed = text.removesuffix("%").strip()
    if not SURE_RULE.fullmatch(typed) or not 0 < float(typed) <= 100:
        raise UnknownName(words.SURE_RULE.format(text=text))
    return float(typed)


def number_of(text: str) -> int:
    """The number of an outcome.  Refuses what is none."""
    if not text.isascii() or not text.isdigit() or len(text) > 6:
        raise UnknownName(words.NO_NUMBER.format(text=text))
    return int(text)
