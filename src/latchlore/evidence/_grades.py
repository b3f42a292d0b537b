"""The grade of a finding: a function of how the subjects that it rests on stand, and of who speaks about them."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from latchlore.base import BitKind, BitSense, Emission, Strength, Testimony, Witness
from latchlore.evidence._table import Row, Standing

if TYPE_CHECKING:
    from collections.abc import Iterable


class Grade(StrEnum):
    """How well a finding is founded, strongest first; docs/record.md explains each word to the researcher."""

    ESTABLISHED = "established"  # two voices agree, and one of them measured or computed it
    ATTESTED = "attested"  # two voices agree, and both only state it
    ONE_WITNESS = "one witness"  # one voice, or several of which none confirms another; measured or computed
    ONE_STATEMENT = "one statement"  # the same, only stated
    GUESSED = "guessed"  # nothing better than a guess
    DISPUTED = "disputed"  # those who speak contradict one another
    UNFOUNDED = "unfounded"  # nobody speaks, or nobody says any more what the finding says they say
    WITHDRAWN = "withdrawn"  # taken back by the researcher


_GRADES = tuple(Grade)
_FIRST_HAND = frozenset({Strength.MEASURED, Strength.COMPUTED})


def weakest(grades: Iterable[Grade]) -> Grade:
    """The weakest link; what rests on a withdrawn finding is unfounded, not withdrawn.  UNFOUNDED where none is."""
    worst = max(grades, key=_GRADES.index, default=Grade.UNFOUNDED)
    return Grade.UNFOUNDED if worst is Grade.WITHDRAWN else worst


def grade_of_row(row: Row) -> Grade:
    """The grade that a row of the table can carry.

    Agreement needs two voices above a guess.  A second voice that is itself a guess confirms nothing, so such a row
    carries no more than the better voice alone.
    """
    if row.standing is Standing.CONTRADICTED:
        return Grade.DISPUTED
    telling = [one for one in row.testimonies if tells(one)]
    founded = [one for one in telling if one.strength is not Strength.GUESSED]
    if row.standing is Standing.SILENT or not telling:
        return Grade.UNFOUNDED
    if not founded:
        return Grade.GUESSED
    first_hand = any(one.strength in _FIRST_HAND for one in founded)
    if row.standing is Standing.AGREED and len({voice_of(one) for one in founded}) > 1:
        return Grade.ESTABLISHED if first_hand else Grade.ATTESTED
    return Grade.ONE_WITNESS if first_hand else Grade.ONE_STATEMENT


def voice_of(one: Testimony) -> tuple[Witness, str]:
    """Who speaks: the board, program and wire each once; every document for itself."""
    return (one.witness, one.origins[0].file if one.witness is Witness.DOCUMENTS else "")


def tells(one: Testimony) -> bool:
    """Whether it says anything: not a bit that was not traced, nor an emission that cannot be told."""
    if isinstance(one.value, BitSense):
        return one.value.kind is not BitKind.UNKNOWN
    return not (isinstance(one.value, Emission) and one.value.happens is None)
