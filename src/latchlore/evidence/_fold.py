"""Rows that differ in nothing but the bit: one line for each run of bits on the faces; the table itself stays whole."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import Strength, SubjectKind, Testimony
from latchlore.evidence._table import Row, Standing

if TYPE_CHECKING:
    from collections.abc import Iterable

    from latchlore.base import Origin, Subject, Value, Witness


class Line(NamedTuple):
    """What a face shows as one: `name`, the `row` to show, and all `subjects` it stands for, in order.

    Where there are several, `row` is the first one's with the places of all of them.
    """

    name: str
    row: Row
    subjects: tuple[Subject, ...]


def fold_rows(rows: Iterable[Row]) -> tuple[Line, ...]:
    """The rows as lines, in their order; neighbouring bits of one register that say the same become one line.

    The same: standing, reason and every testimony, but for the places.  What is contradicted, or has something that
    follows from it, is never folded.  "E200 (read) bits 0-7" names each bit from the first to the last.
    """
    runs: list[list[Row]] = []
    for row in rows:
        if runs and _goes_on(runs[-1][-1], row):
            runs[-1].append(row)
        else:
            runs.append([row])
    return tuple(_line(run) for run in runs)


def _goes_on(before: Row, row: Row) -> bool:
    if not (before.subject.kind is row.subject.kind is SubjectKind.BIT):
        return False
    *register, bit = row.subject.key
    *register_before, bit_before = before.subject.key
    if register != register_before or int(bit) != int(bit_before) + 1:
        return False
    return _foldable(before) and _foldable(row) and _gist(before) == _gist(row)


def _foldable(row: Row) -> bool:
    return row.standing is not Standing.CONTRADICTED and not row.repairs and not row.follows


def _gist(row: Row) -> tuple[Standing, str, tuple[tuple[Witness, Value, str, Strength, str], ...]]:
    said = tuple((one.witness, one.value, one.method, one.strength, one.note) for one in row.testimonies)
    return (row.standing, row.reason, said)


def _line(run: list[Row]) -> Line:
    first, last = run[0], run[-1]
    subjects = tuple(row.subject for row in run)
    if len(run) == 1:
        return Line(str(first.subject), first, subjects)
    name = str(first.subject).replace(" bit ", " bits ") + f"-{last.subject.key[-1]}"
    columns = zip(*(row.testimonies for row in run), strict=True)
    said = tuple(_with_places(column) for column in columns)
    return Line(name, Row(first.subject, said, first.standing, first.reason), subjects)


def _with_places(same: tuple[Testimony, ...]) -> Testimony:
    first = same[0]
    places: tuple[Origin, ...] = tuple(dict.fromkeys(origin for one in same for origin in one.origins))
    return Testimony(first.subject, first.value, first.witness, places, first.method, first.strength, first.note)
