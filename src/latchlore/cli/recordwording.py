"""The sentences of `latchlore record`."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

WIDTH = "Columns to use; default the terminal's, or 100."
BECAUSE = "Why, in your words; stands in the history."
ON = "A subject as the table prints it, or 'finding NAME'; once for each."
SAYS = "Words that somebody must say about a subject for the finding to hold; once for each."
NONE_YET = "No findings yet.  `latchlore record add` writes the first one (docs/record.md)."
STRUCK = "(no longer in findings.toml)"
HEADING = "The record"


def counted(total: int, changed: int, new: int) -> str:
    """How many findings there are, and how many changed."""
    findings = f"{total} finding{'s' * (total != 1)}"
    said = f"{findings}: {changed or 'none'} changed since accepted"
    return f"{said}, {new} not yet in the history" if new else said


def accept_next(typed: str) -> str:
    """How the changes are accepted."""
    return f"Write this into the history with:  latchlore record accept {typed}"


def written(number: int) -> str:
    """How many lines were written."""
    if not number:
        return "Nothing changed; nothing was written."
    return f"Wrote {number} line{'s' * (number != 1)} to history.txt"


def withdrawn(name: str) -> str:
    """A finding that was withdrawn."""
    return f"Finding {name!r} is withdrawn; it stays in findings.toml and in history.txt."


def rests_on_it(names: Sequence[str], typed: str) -> str:
    """What rested on it."""
    rest = "rests" if len(names) == 1 else "rest"
    return f"{', '.join(map(repr, names))} {rest} on it; see:  latchlore record check {typed}"


NOTHING_ELSE = "No subject stands differently."


def struck(name: str, about: str) -> str:
    """A statement was withdrawn."""
    return f'"{name}" ({about}) does not count any more. The file that holds it was not changed.'


def to_read_again(readings: str) -> str:
    """The readings of a meter that concluded a statement, in a sentence."""
    return f"{readings[0].upper()}{readings[1:]}."


def restored(name: str, about: str) -> str:
    """A statement counts again."""
    return f'"{name}" ({about}) counts again.'


def stands_now(old: str, new: str) -> str:
    """How a subject stood and stands."""
    return f"{old} → {new}" if old != new else f"{new}, but other things are said"
