"""`latchlore program tree`: what a program does from an entry, decision by decision."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from latchlore.cli import wording
from latchlore.cli._program_asking import asking, head_plain, notes_of, open_asked, print_page, print_plain

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from latchlore.base import ByteTree
    from latchlore.cli._program_page import Page
    from latchlore.program import Row
    from latchlore.study import AskedProgram, EntryPart

PICTURE = click.option(
    "--picture", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE.svg", help="Draw it into this file too."
)
RAIL = "│ "


@click.command("tree", short_help=wording.PROGRAM_COMMANDS["tree"][1], epilog=wording.STATUSES)
@asking
@PICTURE
@click.option("--rows", type=click.IntRange(min=1), metavar="NUMBER", help="Print so many rows at most of each tree.")
def tree_command(as_json: bool, width: int | None, picture: Path | None, rows: int | None, **options: Any) -> int:
    """Follow every path from the entries and print the decisions: which bits lead to which bytes, in what order.

    Device bits are unknown until the code looks at them.  Conditions say only what is not known already on the way to
    them, and equal subtrees stand once.  Every end has its reason; where a path was not followed, that is said.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.program import tidy

    asked = open_asked(options)
    wanted = asked.need_entries()
    with ProgressLine() as progress:
        trees = [(entry, tidy(asked.tree(entry, progress))) for entry in wanted]
    if picture is not None:
        write_tree_picture(picture, trees, asked)
    if as_json:
        print_plain(trees_plain(trees, asked))
    else:
        print_page(trees_page(trees, asked, width, rows))
    return 0


def tree_rows(tree: ByteTree, asked: AskedProgram) -> tuple[Row, ...]:
    """The rows of a tree with the names of the study."""
    from latchlore.program import Names, outline

    return tuple(outline(tree, Names(asked.registers, asked.roles)))


def trees_page(
    trees: Sequence[tuple[EntryPart, ByteTree]], asked: AskedProgram, width: int | None, most: int | None
) -> Page:
    """Trees as text."""
    from latchlore.cli._program_page import Page

    page = Page(width)
    page.head("Decision tree", asked)
    for entry, tree in trees:
        page.heading(f"“{entry.name}” {tree}")
        rows = tree_rows(tree, asked)
        for row in rows[:most]:
            _row(page, row)
        if most is not None and len(rows) > most:
            page.say(f"… and {len(rows) - most:,} more rows (--rows)", 21)
    page.points("Concluded from the files", notes_of(asked))
    say_grounds(page, [tree for _, tree in trees])
    return page


def _row(page: Page, row: Row) -> None:
    from latchlore.cli._program_page import BOLD, FAINT, WARN
    from latchlore.program import RowKind, cycles_words

    cycles = cycles_words(row.cycles) if row.cycles is not None else ""
    place = f"{row.at:04X}" if row.at is not None else ""
    label = f"{cycles:>14} {place:>5}  {RAIL * row.depth}"
    match row.kind:
        case RowKind.ARM:
            page.row(label, f"{'else, ' if row.goes_on else ''}if {row.words}:", BOLD)
        case RowKind.NODE:
            page.row(label, f"{row.words}:", FAINT)
        case RowKind.GO:
            page.row(label, row.words, FAINT)
        case _:
            page.row(label, row.words, "" if row.is_done else WARN)


def say_grounds(page: Page, trees: Iterable[ByteTree]) -> None:
    """What was not followed, what is taken for granted, and the bounds: what every "never" rests on."""
    from latchlore.cli._program_page import FAINT, WARN
    from latchlore.program import open_ends

    grounds = list(trees)
    page.points("Not followed", open_ends(grounds), WARN)
    page.points("Taken for granted", (one for tree in grounds for one in tree.assumptions), FAINT)
    page.points("Bounds", (one for tree in grounds for one in tree.bounds), FAINT)


def trees_plain(trees: Sequence[tuple[EntryPart, ByteTree]], asked: AskedProgram) -> dict[str, Any]:
    """Trees for programs; `tree` is a byte tree as in the table's JSON, `rows` the printed ones."""
    from latchlore.evidence import tree_to_plain

    return {
        **head_plain("tree", asked),
        "notes": list(notes_of(asked)),
        "trees": [
            {
                "name": entry.name,
                "summary": str(tree),
                "tree": tree_to_plain(tree),
                "rows": [_row_plain(row) for row in tree_rows(tree, asked)],
            }
            for entry, tree in trees
        ],
    }


def _row_plain(row: Row) -> dict[str, Any]:
    cycles = None if row.cycles is None else {"least": row.cycles.least, "most": row.cycles.most}
    return {
        "kind": row.kind.value,
        "depth": row.depth,
        "node": row.node,
        "words": row.words,
        "cycles": cycles,
        "program_address": row.at,
        "followed": row.is_done,
    }


def write_tree_picture(file: Path, trees: Sequence[tuple[EntryPart, ByteTree]], asked: AskedProgram) -> None:
    """Draw one tree.  Refuses several: a picture shows one entry."""
    from latchlore.base import BadInput, Origin
    from latchlore.dossier import draw_tree, stand_alone
    from latchlore.study import write_whole

    if len(trees) != 1:
        names = ", ".join(repr(entry.name) for entry, _ in trees)
        raise BadInput(Origin("--picture"), f"a picture shows one entry; choose one with --entry: {names}")
    (entry, tree) = trees[0]
    drawing = draw_tree(f"Decision tree of {asked.title} from “{entry.name}”: {tree}", tree_rows(tree, asked))
    write_whole(file, stand_alone(drawing).encode())
