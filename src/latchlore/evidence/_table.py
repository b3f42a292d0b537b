"""The table of subjects: who says what about each, and how it stands."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import ByteSequence, Origin, Statement, Strength, Subject, SubjectKind, Testimony, Witness
from latchlore.evidence import wording

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import PinsRead


class Logged(NamedTuple):
    """A sequence as the wire has it, never empty, and where it was logged."""

    name: str
    sequence: ByteSequence
    origins: tuple[Origin, ...]


class Standing(StrEnum):
    """How a subject stands, in the order in which a researcher must look at it."""

    CONTRADICTED = "contradicted"
    AGREED = "agreed"
    SINGLE = "single"
    SILENT = "silent"


@dataclass(frozen=True, slots=True)
class Repair:
    """A smallest set of statements whose withdrawal ends the contradiction.

    `withdrawn`: indices, rising, of the row's testimonies that rest on them.  `words`: what it would mean on the
    bench.  `statements`: what is to be withdrawn.  `ends`: how many contradicted subjects of the table it ends.
    """

    withdrawn: tuple[int, ...]
    words: str
    statements: tuple[Statement, ...] = ()
    ends: int = 1

    @property
    def readings(self) -> tuple[PinsRead, ...]:
        """The readings of a meter that conclude its statements, each once: what to read again before withdrawing."""
        return tuple(dict.fromkeys(one for statement in self.statements for one in statement.readings))

    @property
    def advice(self) -> str:
        """`words`, and which readings to do again."""
        return self.words + (f"; {wording.read_again(self.readings)}" if self.readings else "")


@dataclass(frozen=True, slots=True)
class Row:
    """One subject.

    `testimonies` in the order of the witnesses, then strongest first, then by origin.  `reason`: one sentence on
    why it stands as it does.  `repairs`: best first, only where contradicted.  `follows`: sentences on what the
    testimonies say together that none says alone.
    """

    subject: Subject
    testimonies: tuple[Testimony, ...]
    standing: Standing
    reason: str
    repairs: tuple[Repair, ...] = ()
    follows: tuple[str, ...] = ()

    def by_witness(self, witness: Witness) -> tuple[Testimony, ...]:
        """The testimonies of one column."""
        return tuple(one for one in self.testimonies if one.witness is witness)


@dataclass(frozen=True, slots=True)
class Table:
    """The weighed study.

    `rows` in the order of `order_of_rows`.  `heard`: the witnesses that the study has at all.  `not_done`: sentences
    on what was not computed (an unknown chip, a bound reached), so that nobody takes silence for "no".
    """

    title: str
    invented: bool
    rows: tuple[Row, ...]
    heard: tuple[Witness, ...]
    not_done: tuple[str, ...] = ()

    def iter_standing(self, standing: Standing) -> Iterator[Row]:
        """The rows that stand so, in order."""
        return (row for row in self.rows if row.standing is standing)

    def num_standing(self, standing: Standing) -> int:
        """How many rows stand so."""
        return sum(1 for _ in self.iter_standing(standing))

    def iter_logged(self) -> Iterator[Logged]:
        """Every sequence that was logged on the wire, in the order of the rows."""
        for row in self.rows:
            for one in row.by_witness(Witness.WIRE):
                is_sequence = row.subject.kind is SubjectKind.SEQUENCE
                if is_sequence and isinstance(one.value, ByteSequence) and one.value.items:
                    yield Logged(row.subject.key[0], one.value, one.origins)


_STRENGTHS = tuple(Strength)
_WITNESSES = tuple(Witness)


def order_of_testimonies(one: Testimony) -> tuple[int, int, str, str]:
    """Column first, then the strongest, then by origin and text so that the order is total."""
    return (_WITNESSES.index(one.witness), _STRENGTHS.index(one.strength), str(one.origins[0]), str(one.value))
