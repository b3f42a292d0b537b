"""The program's decision trees as rows that wrap and break across sheets, each with its place in the program."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import ByteTree
from latchlore.dossier import wording
from latchlore.dossier._view import PlaceLink
from latchlore.evidence import describe_places
from latchlore.program import Names, RowKind, cycles_words, open_ends, outline, tidy

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from latchlore.base import Origin, Testimony
    from latchlore.evidence import Row, Table
    from latchlore.program import Row as TreeRow
    from latchlore.study import AskedProgram

    LinkToOrigin = Callable[[Origin], str]

SHOWN = 64
"""Rows of one tree that stand on the page; the twin holds all of it."""

MAX_DEPTH = 12
"""Deeper rows stand no further to the right."""


class StepView(NamedTuple):
    """One row of a tree: its kind, depth and words, the cycles since the row before, and its place."""

    kind: str
    depth: int
    words: str
    cycles: str
    at: str
    href: str


class TreeView(NamedTuple):
    """A tree: where it begins, a summary, its first rows, how many more there are, and what it rests on."""

    anchor: str
    name: str
    href: str
    summary: str
    steps: tuple[StepView, ...]
    more: str
    not_followed: tuple[str, ...]
    grounds: tuple[str, ...]
    places: tuple[PlaceLink, ...]


class Grown(NamedTuple):
    """A tree of the table as its rows; working them out takes longest, so it is done once."""

    row: Row
    said: Testimony
    rows: tuple[TreeRow, ...]


def grow_trees(table: Table, program: AskedProgram | None) -> tuple[Grown, ...]:
    """The rows of the tree of every sequence that the program can send, in the table's order."""
    names = Names() if program is None else Names(program.registers, program.roles)
    return tuple(
        Grown(row, one, tuple(outline(tidy(one.value), names)))
        for row in table.rows
        for one in row.testimonies
        if isinstance(one.value, ByteTree)
    )


def view_trees(
    grown: Sequence[Grown], program: AskedProgram | None, link_to: Callable[[Row], str], link: LinkToOrigin
) -> tuple[tuple[TreeView, ...], tuple[str, ...]]:
    """Every tree, and what all of them rest on."""
    trees = [_view(k, one, program, link_to(one.row), link) for k, one in enumerate(grown, 1)]
    common = tuple(words for words in trees[0].grounds if all(words in one.grounds for one in trees)) if trees else ()
    own = (one._replace(grounds=tuple(words for words in one.grounds if words not in common)) for one in trees)
    return tuple(own), common


def iter_tree_origins(grown: Sequence[Grown], program: AskedProgram | None) -> Iterator[Origin]:
    """Every place in the program that a row shown leads to."""
    for one in grown:
        for row in one.rows[:SHOWN]:
            origin = origin_at(row.at, program)
            if origin is not None:
                yield origin


def origin_at(address: int | None, program: AskedProgram | None) -> Origin | None:
    """A place of the program in its image; None where the page does not know the images."""
    if address is None or program is None:
        return None
    holder = next((image for image in program.images if address in image), None)
    return None if holder is None else holder.origin(address)


def _view(number: int, one: Grown, program: AskedProgram | None, href: str, link: LinkToOrigin) -> TreeView:
    row, said, rows = one
    tree = said.value
    assert isinstance(tree, ByteTree)
    left = len(rows) - SHOWN
    places = zip(describe_places(said.origins), said.origins, strict=True)
    return TreeView(
        f"tree-{number}",
        str(row.subject),
        href,
        str(tree),
        tuple(_step(step, program, link) for step in rows[:SHOWN]),
        wording.more_rows(left) if left > 0 else "",
        tuple(open_ends([tree])),
        (*tree.assumptions, *tree.bounds),
        tuple(PlaceLink(text, link(origin)) for text, origin in places),
    )


def _step(row: TreeRow, program: AskedProgram | None, link: LinkToOrigin) -> StepView:
    origin = origin_at(row.at, program)
    words = f"{'else, ' if row.goes_on else ''}if {row.words}" if row.kind is RowKind.ARM else row.words
    kind = row.kind.value if row.is_done else f"{row.kind.value} open"
    if row.kind is RowKind.EVENT and row.words.startswith("wait"):
        kind = "event wait"
    return StepView(
        kind,
        min(row.depth, MAX_DEPTH),
        words,
        cycles_words(row.cycles) if row.cycles is not None else "",
        f"{row.at:04X}" if row.at is not None else "",
        link(origin) if origin is not None else "",
    )
