"""Sentences on what would change how a subject stands."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

ANOTHER_DOCUMENT = "another document"
NOT_A_GUESS = "everything said is a guess: one reading without doubt, or one measured, would lift it"
NOTES_STAND_ALONE = (
    "free words, which are not weighed against others: a finding can rest on them, nothing confirms them"
)
NOBODY_ELSE = "nobody else can speak of it: only a measurement of the same kind would confirm or refute it"


def would_settle(places: str, meaning: str) -> str:
    """A contradiction would end if these statements were withdrawn."""
    return f"settled if {places} is withdrawn: {meaning}"


def could_speak(names: Sequence[str], absent: Sequence[str], *, nobody: bool) -> str:
    """Who could still speak; `absent`: those of them of whom the study has nothing at all."""
    listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"
    words = (
        f"any word of {listed} would be the first"
        if nobody
        else f"the same from {listed} would establish it, another would dispute it"
    )
    return words + (f" (the study has nothing of {', '.join(absent)} yet)" if absent else "")
