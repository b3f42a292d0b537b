"""What would change how a subject stands: who has not spoken yet, and what would have to be withdrawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import SubjectKind, Witness
from latchlore.evidence import changewording as wording
from latchlore.evidence._grades import Grade, grade_of_row
from latchlore.evidence.facts import SPEAKERS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.evidence._table import Row


def could_change(row: Row, heard: Sequence[Witness]) -> tuple[str, ...]:
    """Sentences on what would give the subject a better grade, or a worse one; empty where it is well founded.

    `heard`: the witnesses that the study has.  A witness counts as silent here where it could speak of such a subject
    (`facts.SPEAKERS`) and says nothing of this one.
    """
    match grade_of_row(row):
        case Grade.ESTABLISHED | Grade.ATTESTED:
            return ()
        case Grade.DISPUTED:
            places = [[str(one) for one in repair.statements] for repair in row.repairs]
            return tuple(
                wording.would_settle(" and ".join(names), repair.advice)
                for names, repair in zip(places, row.repairs, strict=True)
            )
        case Grade.GUESSED:
            return (wording.NOT_A_GUESS, *_silent(row, heard))
        case Grade.UNFOUNDED:
            return _silent(row, heard, nobody=True)
        case _:
            return _silent(row, heard)


def _silent(row: Row, heard: Sequence[Witness], *, nobody: bool = False) -> tuple[str, ...]:
    if row.subject.kind is SubjectKind.NOTE:
        return (wording.NOTES_STAND_ALONE,)
    spoken = {one.witness for one in row.testimonies}
    could = [one for one in SPEAKERS[row.subject.kind] if one not in spoken or one is Witness.DOCUMENTS]
    names = [wording.ANOTHER_DOCUMENT if one in spoken else one.value for one in could]
    absent = [one.value for one in could if one not in heard]
    if not names:
        return (wording.NOBODY_ELSE,)
    return (wording.could_speak(names, absent, nobody=nobody),)
