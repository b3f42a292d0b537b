"""Weighing: testimonies put side by side by subject, each subject with its standing, reasons and repairs."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from latchlore.base import (
    BitKind,
    BitSense,
    ByteSequence,
    ByteTree,
    Subject,
    SubjectKind,
    Testimony,
    Witness,
)
from latchlore.evidence import wording
from latchlore.evidence._clashes import About, Clash, about_of
from latchlore.evidence._grades import voice_of
from latchlore.evidence._paths import explain_sequence
from latchlore.evidence._relations import Side, relate
from latchlore.evidence._repairs import Mender, Weighed
from latchlore.evidence._signals import iter_stories
from latchlore.evidence._table import Repair, Row, Standing, Table, order_of_testimonies

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from latchlore.base import InputKind

    Belongs = Callable[[InputKind, int], bool]


def weigh(
    testimonies: Iterable[Testimony],
    *,
    title: str,
    invented: bool,
    asked: Iterable[Subject] = (),
    sent_to: Belongs | None = None,
    not_done: Iterable[str] = (),
    follows: Mapping[Subject, Sequence[str]] | None = None,
) -> Table:
    """Put testimonies side by side.

    `asked`: subjects that the researcher asks about; those that nobody speaks about stand in the table as silent.
    `follows`: sentences that were found to follow from several witnesses, shown with their subject where it is there.
    `sent_to`: tells which writes carry the bytes of a sequence (the data register); None: no sequence is looked up.
    """
    by_subject: dict[Subject, list[Testimony]] = {subject: [] for subject in asked}
    for one in testimonies:
        by_subject.setdefault(one.subject, []).append(one)
    drafts = [_draft(subject, sorted(said, key=order_of_testimonies), sent_to) for subject, said in by_subject.items()]
    mender = Mender([draft.weighed for draft in drafts])
    more = follows or {}
    leaning = mender.leaning()
    rows = [
        _row(draft, mender.repairs(r), (*more.get(draft.weighed.subject, ()), *leaning.get(r, ())))
        for r, draft in enumerate(drafts)
    ]
    heard = {one.witness for row in rows for one in row.testimonies}
    return Table(
        title,
        invented,
        tuple(sorted(rows, key=order_of_rows)),
        tuple(witness for witness in Witness if witness in heard),
        tuple(dict.fromkeys(not_done)),
    )


_KINDS = tuple(SubjectKind)


def order_of_rows(row: Row) -> tuple[int, tuple[tuple[int, int, str], ...]]:
    """By kind, in the order in which an interface is understood (registers, bits, signals, ...), then by key.

    Numbers in keys sort as numbers, so that pin 10 comes after pin 9.
    """
    parts = tuple((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in row.subject.key)
    return (_KINDS.index(row.subject.kind), parts)


@dataclass(frozen=True, slots=True)
class Draft:
    """A row before its repairs."""

    weighed: Weighed
    reason: str
    follows: tuple[str, ...]


def _row(draft: Draft, repairs: tuple[Repair, ...], more: tuple[str, ...]) -> Row:
    weighed = draft.weighed
    return Row(weighed.subject, weighed.said, weighed.standing, draft.reason, repairs, (*draft.follows, *more))


def _draft(subject: Subject, said: list[Testimony], sent_to: Belongs | None) -> Draft:
    agreed: list[tuple[int, int, str]] = []
    clashes: list[Clash] = []
    notes: list[str] = []
    weak: list[str] = []
    for (i, first), (j, second) in combinations(enumerate(said), 2):
        relation = relate(first, second)
        if relation.side is Side.CLASH:
            clashes.append(Clash(frozenset((i, j)), relation.words, about_of(subject, first, second)))
        elif relation.side is Side.AGREE:
            agreed.append((i, j, relation.words))
        elif relation.words:
            (weak if relation.is_weak else notes).append(relation.words)
    if subject.kind in (SubjectKind.SIGNAL, SubjectKind.BIT):
        for story in iter_stories(said):
            if story.fits:
                agreed.append((story.board, story.program, story.words))
            else:
                clashes.append(Clash(frozenset((story.board, story.program, story.level)), story.words, About.SENSE))
    follows: list[str] = []
    if subject.kind is SubjectKind.SEQUENCE and sent_to is not None:
        for i, j in _sequence_pairs(said):
            sequence, tree = said[i].value, said[j].value
            assert isinstance(sequence, ByteSequence)
            assert isinstance(tree, ByteTree)
            found = explain_sequence(sequence, tree, sent_to)
            follows += found.follows
            if found.side is Side.AGREE:
                agreed.append((i, j, found.words))
            elif found.side is Side.CLASH:
                clashes.append(Clash(frozenset((i, j)), found.words, About.OTHER))
            else:
                notes.append(found.words)
    standing, reason = _standing(said, agreed, clashes, notes, weak)
    confirming = tuple((i, j) for i, j, _ in agreed if voice_of(said[i]) != voice_of(said[j]))
    weighed = Weighed(subject, tuple(said), tuple(clashes), standing, confirming)
    return Draft(weighed, reason, tuple(dict.fromkeys(follows)))


def _sequence_pairs(said: Sequence[Testimony]) -> list[tuple[int, int]]:
    sequences = [k for k, one in enumerate(said) if isinstance(one.value, ByteSequence)]
    trees = [k for k, one in enumerate(said) if isinstance(one.value, ByteTree)]
    return [(i, j) for i in sequences for j in trees]


def _standing(
    said: Sequence[Testimony],
    agreed: Sequence[tuple[int, int, str]],
    clashes: Sequence[Clash],
    notes: Sequence[str],
    weak: Sequence[str],
) -> tuple[Standing, str]:
    if clashes:
        return Standing.CONTRADICTED, "; ".join(dict.fromkeys(clash.words for clash in clashes))
    telling = [one for one in said if not _is_unknown(one)]
    if not telling:
        return Standing.SILENT, wording.NOT_TRACED if said else wording.NOBODY
    between = [words for i, j, words in agreed if voice_of(said[i]) != voice_of(said[j])]
    if between:
        return Standing.AGREED, "; ".join(dict.fromkeys([*between, *notes]))
    if notes or weak:
        return Standing.SINGLE, "; ".join(dict.fromkeys([*notes, *weak]))
    if len({voice_of(one) for one in telling}) > 1:
        return Standing.SINGLE, wording.NOTHING_COMPARED
    return Standing.SINGLE, wording.only_one(telling[0]) if len(telling) == 1 else wording.only_one_kind(telling[0])


def _is_unknown(one: Testimony) -> bool:
    return isinstance(one.value, BitSense) and one.value.kind is BitKind.UNKNOWN
