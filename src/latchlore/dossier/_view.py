"""The table as the templates see it: words, anchors and links, nothing to compute."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import AddressSet, ByteSequence
from latchlore.dossier import wording
from latchlore.evidence import Standing, describe_places, describe_value, fold_rows

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from latchlore.base import Origin, Subject, Testimony, Witness
    from latchlore.evidence import Line, Table

    LinkToOrigin = Callable[[Origin], str]


SHOWN_LETTERS = 160
"""A longer value folds the rest of its words away until it is opened or printed."""


@dataclass(frozen=True, slots=True)
class PlaceLink:
    """A place in words, and where it leads."""

    text: str
    href: str


@dataclass(frozen=True, slots=True)
class SaidView:
    """One testimony.

    `more`: what is folded away of a long one.  `is_code`: its words are made of digits that stand in columns.
    """

    words: str
    more: str
    is_code: bool
    strength: str
    method: str
    note: str
    places: tuple[PlaceLink, ...]


@dataclass(frozen=True, slots=True)
class CellView:
    """One column of a row."""

    witness: str
    said: tuple[SaidView, ...]


@dataclass(frozen=True, slots=True)
class RepairView:
    """What would be withdrawn, what that means, and the readings of a meter to do again: their pins and places."""

    places: tuple[PlaceLink, ...]
    words: str
    again: tuple[tuple[str, PlaceLink], ...]


@dataclass(frozen=True, slots=True)
class RowView:
    """One subject, or several bits that say the same; `others`: the anchors of all bits but the first."""

    anchor: str
    subject: str
    standing: str
    reason: str
    cells: tuple[CellView, ...]
    repairs: tuple[RepairView, ...]
    follows: tuple[str, ...]
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CountView:
    """How many rows stand so."""

    standing: str
    words: str
    count: int


@dataclass(frozen=True, slots=True)
class TableView:
    """The table; `total` counts all its subjects, also those that `rows` leaves out, and `shown` those in `rows`."""

    title: str
    invented: str
    witnesses: tuple[str, ...]
    rows: tuple[RowView, ...]
    counts: tuple[CountView, ...]
    total: int
    shown: int
    not_done: tuple[str, ...]


def view_table(table: Table, link: LinkToOrigin, standings: tuple[Standing, ...] = tuple(Standing)) -> TableView:
    """The rows that stand in one of `standings`, in the table's order, contradictions first."""
    anchors = row_anchors(table)
    rows = [row for row in table.rows if row.standing in standings]
    rows.sort(key=lambda row: row.standing is not Standing.CONTRADICTED)  # stable: the rest keeps its order
    return TableView(
        table.title,
        wording.INVENTED if table.invented else "",
        tuple(witness.value for witness in table.heard),
        tuple(_view_line(line, anchors, table.heard, link) for line in fold_rows(rows)),
        tuple(CountView(one.value, wording.STANDING_WORDS[one], table.num_standing(one)) for one in Standing),
        len(table.rows),
        len(rows),
        table.not_done,
    )


def row_anchors(table: Table) -> dict[Subject, str]:
    """Subject → its anchor: its own words where letters and digits tell it apart, else with a number."""
    anchors: dict[Subject, str] = {}
    taken: set[str] = set()
    for row in table.rows:
        words = re.sub(r"[^a-z0-9]+", "-", str(row.subject).lower()).strip("-")
        base = anchor = f"on-{words}" if words else "on"
        number = 2
        while anchor in taken:
            anchor, number = f"{base}-{number}", number + 1
        taken.add(anchor)
        anchors[row.subject] = anchor
    return anchors


def _view_line(line: Line, anchors: Mapping[Subject, str], heard: tuple[Witness, ...], link: LinkToOrigin) -> RowView:
    row = line.row
    anchor, *others = (anchors[subject] for subject in line.subjects)
    return RowView(
        anchor,
        line.name,
        row.standing.value,
        row.reason,
        tuple(
            CellView(witness.value, tuple(_view_said(one, link) for one in row.by_witness(witness)))
            for witness in heard
        ),
        tuple(
            RepairView(
                tuple(_view_place(one.origin, link) for one in repair.statements),
                repair.words,
                tuple((read.words, _view_place(read.origin, link)) for read in repair.readings),
            )
            for repair in row.repairs
        ),
        row.follows,
        tuple(others),
    )


def _view_said(testimony: Testimony, link: LinkToOrigin) -> SaidView:
    words, more = _fold(describe_value(testimony.value))
    return SaidView(
        words,
        more,
        isinstance(testimony.value, AddressSet | ByteSequence),
        wording.STRENGTH_WORDS[testimony.strength],
        testimony.method,
        testimony.note,
        tuple(
            PlaceLink(text, link(origin))
            for text, origin in zip(describe_places(testimony.origins), testimony.origins, strict=True)
        ),
    )


def _fold(words: str) -> tuple[str, str]:
    """The beginning, and what stands behind a word near `SHOWN_LETTERS`."""
    if len(words) <= SHOWN_LETTERS * 3 // 2:
        return words, ""
    cut = words.rfind(" ", 0, SHOWN_LETTERS)
    cut = SHOWN_LETTERS if cut < 0 else cut
    return words[:cut], words[cut:].strip()


def _view_place(origin: Origin, link: LinkToOrigin) -> PlaceLink:
    return PlaceLink(str(origin), link(origin))
