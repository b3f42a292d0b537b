"""Sentences about a question that is typed in."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

THE_QUESTION, THE_RIVAL, THE_TRIAL, THE_OUTCOME = "the question", "rival {number}", "the trial", "outcome {number}"
ADD_QUESTION = "ask the question {name}"
ADD_TRIAL = "add the trial {trial} to the question {name}"

NO_QUESTION = "questions.toml has no question {name!r}"
NEEDED = "is needed, and is empty"
NUMBER = "a number is written as 2 or 0.5, not {text!r}"
CHANCE = "a chance is 0 to 100 percent, or 0 to 1, not {text!r}"
UNNAMED = "number {number}"
LETTERS = "has {count} letters; at most {most} are taken here, an editor takes the rest"
SIGN = "holds the sign {code:02X}h, which no text holds"
ROWS = "at most {most} are taken here, an editor takes the rest"
TAKEN = "{what} {name!r} is there already; take another name"
TWICE = "rival {name!r} is there twice; first in rival {first}"
NO_SUCH_RIVAL = "rival {number} is not filled in, and has a chance: {text!r}"
FILE_SIZE = "would have {size} bytes; at most {most} are read"

WAY_FIELDS = {"chances": "", "joined": "first pin", "read": "bit", "send": "send", "listener": "period"}
"""Key of questions.toml that says how a trial is foretold → the field that stands for it; none: the outcomes' rows."""
WAY_WORDS = {
    "chances": "outcomes with their chances",
    "joined": "two pins and a meter",
    "read": "a register bit",
    "send": "bytes that are sent",
    "listener": "a ramp and a listener",
}


def one_way(ways: Iterable[str]) -> str:
    """How what a trial will show is told."""
    filled = " and ".join(WAY_WORDS[way] for way in ways) or "nothing"
    return f"one of these is filled in: {', '.join(WAY_WORDS.values())}; here it is {filled}"
