"""The smallest sets of statements whose withdrawal ends a contradiction, the likeliest first, and what they mean."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from latchlore.base import ActiveLevel, BitSense, BitUse, EventOrder, StatementKind, Witness
from latchlore.evidence import orderwording, wording
from latchlore.evidence._clashes import About, choices_of, statements_of, together
from latchlore.evidence._orders import clashing_pair
from latchlore.evidence._signals import signal_name
from latchlore.evidence._table import Repair, Standing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import EventPair, Statement, Subject, Testimony
    from latchlore.evidence._clashes import Choice, Clash

MAX_REPAIRS = 12

SUSPECTED = 3
"""So many of a contradiction's repairs are looked at first; what agrees only with them says that it leans on them."""

A_FILE = 100
"""A whole file holds many statements, so it counts as more than any set of single ones."""

_KINDS = tuple(StatementKind)


@dataclass(frozen=True, slots=True)
class Weighed:
    """A row before its repairs: what clashes in it, how it stands, and which testimonies confirm one another."""

    subject: Subject
    said: tuple[Testimony, ...]
    clashes: tuple[Clash, ...]
    standing: Standing
    confirming: tuple[tuple[int, int], ...] = ()


@dataclass(slots=True)
class Mender:
    """All rows of a table: what hangs on each statement, and the repairs of each contradicted row."""

    rows: Sequence[Weighed]
    statements: dict[str, Statement] = field(default_factory=dict)
    resting: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    ending: dict[int, list[Choice]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for r, row in enumerate(self.rows):
            for k, one in enumerate(row.said):
                for statement in dict.fromkeys(s for alternative in statements_of(one) for s in alternative):
                    self._note(statement)
                    self.resting.setdefault(str(statement), []).append((r, k))
            if row.clashes:
                self.ending[r] = together([choices_of(clash, row.said) for clash in row.clashes])

    def _note(self, statement: Statement) -> None:
        known = self.statements.setdefault(str(statement), statement)
        if _KINDS.index(statement.kind) < _KINDS.index(known.kind):
            self.statements[str(statement)] = statement

    def repairs(self, r: int) -> tuple[Repair, ...]:
        """The repairs of a row, by number, best first; none where it is not contradicted, or too much would go."""
        ranked = sorted(self.ending.get(r, ()), key=self.rank)[:MAX_REPAIRS]
        return tuple(self._repair(r, choice) for choice in ranked)

    def leaning(self) -> dict[int, tuple[str, ...]]:
        """For rows that agree, by number: a sentence for each repair among the first ones of a row that would end that.

        What leans on a suspect still agrees; but who does the suspected reading again looks at these rows too.
        """
        found: dict[int, dict[str, None]] = {}
        for r in self.ending:
            for repair in self.repairs(r)[:SUSPECTED]:
                if any(one.kind is StatementKind.FILE for one in repair.statements):
                    continue  # all that a file says leans on it: that tells nothing
                lost: dict[int, set[int]] = {}
                for other, k in self.lost(frozenset(map(str, repair.statements))):
                    lost.setdefault(other, set()).add(k)
                for other, gone in lost.items():
                    row = self.rows[other]
                    if row.standing is Standing.AGREED and not any(gone.isdisjoint(pair) for pair in row.confirming):
                        words = wording.leans(repair.statements, str(self.rows[r].subject))
                        found.setdefault(other, {})[words] = None
        return {r: tuple(words) for r, words in found.items()}

    def rank(self, choice: Choice) -> tuple[int, int, bool, int, int, int, tuple[str, ...]]:
        """Best first; every term is counted, none is weighed.

        1. The fewest statements, a whole file as many: one mistake is likelier than two.
        2. The most contradicted subjects ended at once: one mistake that explains several is likelier than several.
        3. Statements that somebody doubts already.
        4. The fewest testimonies lost in subjects that agree: what others confirm is seldom wrong.
        5. The kind that is suspected first (`StatementKind`, with its reason).
        6. The fewest testimonies lost at all, for the same reason as 4, where nobody confirms them.
        7. The names, so that the order is total.
        """
        statements = [self.statements[name] for name in choice]
        lost = self.lost(choice)
        confirmed = sum(self.rows[r].standing is Standing.AGREED for r, _ in lost)
        return (
            sum(A_FILE if one.kind is StatementKind.FILE else 1 for one in statements),
            -self.num_ended(choice),
            not all(one.is_doubted for one in statements),
            confirmed,
            max(_KINDS.index(one.kind) for one in statements),
            len(lost),
            tuple(sorted(choice)),
        )

    def lost(self, choice: Choice) -> list[tuple[int, int]]:
        """The testimonies, by row and place in it, that are no longer said without these statements."""
        near = dict.fromkeys(at for name in choice for at in self.resting[name])
        return [(r, k) for r, k in near if _falls(self.rows[r].said[k], choice)]

    def num_ended(self, choice: Choice) -> int:
        """How many contradicted rows these statements end."""
        return sum(any(one <= choice for one in choices) for choices in self.ending.values())

    def _repair(self, r: int, choice: Choice) -> Repair:
        row = self.rows[r]
        statements = tuple(sorted((self.statements[name] for name in choice), key=_order))
        gone = tuple(k for k, one in enumerate(row.said) if _bears(one, choice, row.clashes, k))
        about = next((clash.about for clash in row.clashes if clash.members & set(gone)), About.OTHER)
        words = dict.fromkeys(_meaning(row, about, one) for one in statements)
        return Repair(gone, "; ".join(words), statements, self.num_ended(choice))


def _falls(one: Testimony, choice: Choice) -> bool:
    return any(all(str(s) in choice for s in alternative) for alternative in statements_of(one))


def _bears(one: Testimony, choice: Choice, clashes: Sequence[Clash], k: int) -> bool:
    """Whether a testimony that takes part in a contradiction rests on one of the statements."""
    names = {str(s) for alternative in statements_of(one) for s in alternative}
    return any(k in clash.members for clash in clashes) and not names.isdisjoint(choice)


def _order(one: Statement) -> tuple[str, int, str]:
    return (one.file, one.origin.number, one.what)


def _meaning(row: Weighed, about: About, one: Statement) -> str:
    """What it would mean if a statement were wrong."""
    if about is About.SENSE:
        if one.kind in (StatementKind.JOINT, StatementKind.BUS_JOINT):
            return wording.missed_inverter(one.about)
        if one.kind is StatementKind.PART:
            return wording.other_part_inverts(one.about)
        if one.kind is StatementKind.INSTRUCTION:
            place = f"{one.origin.number:04X}"
            return wording.inverted_pulse(place) if _pulses(row.said, one) else wording.inverted_branch(place)
        if one.kind in (StatementKind.LEVEL, StatementKind.ROW):
            level = _level(row.said, one)
            if level is not None:
                return wording.inverted_peripheral(_signal_of(row.subject, row.said), level)
    witness = next((t.witness for t in row.said if _names(t, one)), Witness.BOARD)
    if about is About.ORDER:
        pair = _pair_of(row.said, one)
        if pair is not None:
            return orderwording.if_wrong(one, witness, pair)
    return wording.if_wrong(one, witness)


def _pair_of(said: Sequence[Testimony], one: Statement) -> EventPair | None:
    """The pair of events that what rests on a statement puts in another order than somebody else does."""
    mine = [t for t in said if _names(t, one)]
    for testimony in mine:
        for other in said:
            if testimony.witness is other.witness:
                continue
            if isinstance(testimony.value, EventOrder) and isinstance(other.value, EventOrder):
                found = clashing_pair(testimony.value, other.value)
                if found is not None:
                    return found
    return None


def _pulses(said: Sequence[Testimony], one: Statement) -> bool:
    """Whether a statement is about a bit that is pulsed rather than looked at."""
    uses = [t.value for t in said if isinstance(t.value, BitUse) and _names(t, one)]
    return any(use.pulsed_at is not None for use in uses)


def _level(said: Sequence[Testimony], one: Statement) -> int | None:
    """The level that a statement gives a signal."""
    for testimony in said:
        if isinstance(testimony.value, ActiveLevel) and _names(testimony, one):
            return testimony.value.level
    return None


def _names(testimony: Testimony, one: Statement) -> bool:
    """Whether a testimony names the statement among those it falls with."""
    return any(str(one) == str(s) for alternative in statements_of(testimony) for s in alternative)


def _signal_of(subject: Subject, said: Sequence[Testimony]) -> str:
    """The signal that a story is about."""
    sources = [one.value.source for one in said if isinstance(one.value, BitSense)]
    return signal_name(sources[0]) if sources else subject.key[0]
