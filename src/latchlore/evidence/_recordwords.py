"""The sentences of the record: findings, their grades, and their history."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

MERGE_MARK = "two histories were not merged; keep the lines of both and take the marks out"
NOBODY = "nobody"
GONE = "gone: nobody speaks about it any more"
STRUCK = "it no longer stands in the file of findings"
ENTERED = "entered"
NOT_RESTED_ON = "the finding no longer rests on it"
SENTENCE_CHANGED = "the sentence was written anew"
GROUNDS_CHANGED = "the finding was put on other grounds"


def not_seven(number: int) -> str:
    """A line with too few or too many fields."""
    return f"a line has seven fields with tabs between (docs/record.md), not {number}"


def no_day(text: str) -> str:
    """What is no date."""
    return f"a date is year-month-day, such as 2026-11-26, not {text!r}"


def no_name(text: str) -> str:
    """What is no finding's name."""
    return f"a finding's name is up to 60 small letters, digits and hyphens, not {text!r}"


def no_what(text: str) -> str:
    """What cannot change."""
    return f"what changes is 'grade', 'sentence', 'rests on' or 'on ...', not {text!r}"


def no_grade(text: str, known: Sequence[str]) -> str:
    """What is no grade."""
    return f"a grade is one of {', '.join(known)}, or '-', not {text!r}"


def named_twice(name: str, first: str) -> str:
    """Two findings of one name."""
    return f"finding {name!r} is there twice; first at {first}"


def no_subject(text: str, near: Sequence[str]) -> str:
    """A subject that the table does not have."""
    hint = f"; near it: {', '.join(map(repr, near))}" if near else "; `latchlore weigh` prints the subjects"
    return f"the table has no subject {text!r}{hint}"


def no_finding(name: str, known: Sequence[str]) -> str:
    """A finding that there is not."""
    hint = f"; there are {', '.join(map(repr, known))}" if known else "; there is no other"
    return f"there is no finding {name!r}{hint}"


def circle(names: Sequence[str]) -> str:
    """Findings that rest on one another."""
    return f"finding {names[0]!r} rests on itself: {' on '.join(map(repr, names))}"


def says_elsewhere(subject: str) -> str:
    """Words expected of a subject that the finding does not rest on."""
    return f"the finding does not rest on {subject!r}, so nothing can be expected of it"


def stands(subject: str, standing: str, reason: str) -> str:
    """How a subject stands, and why."""
    return f"{subject} is {standing}: {reason}"


def nobody_says(subject: str, words: str, said: Sequence[str]) -> str:
    """Expected words that nobody says."""
    return f"nobody says {words!r} about {subject}; said is {' and '.join(map(repr, said)) or 'nothing'}"


def gone(subject: str) -> str:
    """A subject that was there once."""
    return f"nobody speaks about {subject} any more"


def finding_is(name: str, grade: str) -> str:
    """How a finding is graded that another rests on."""
    return f"finding {name!r} is {grade}"
