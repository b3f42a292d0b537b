"""`latchlore board compare`: what differs between two versions of a board, claims first."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from latchlore.cli import wording

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.board import Change, Comparison
    from latchlore.cli._terminal import Terminal

_MARKS = {"comes": "+", "goes": "-"}
CHANGED = "~"


@click.command("compare", short_help=wording.BOARD_COMMANDS["compare"][1], epilog=wording.STATUSES)
@click.argument("old", type=click.Path(path_type=Path), metavar="OLD")
@click.argument("new", type=click.Path(path_type=Path), metavar="NEW")
@click.option("--json", "as_json", is_flag=True, help="Print the same as JSON (docs/mating.md).")
@click.option(
    "--width", type=click.IntRange(min=40), metavar="COLUMNS", help="Columns; default the terminal's, or 100."
)
def compare_command(old: Path, new: Path, as_json: bool, width: int | None) -> None:
    """Tell how the claims of the board NEW differ from those of OLD: registers, bits, polarities, pins.

    Both are study folders or net files.  A register that moved is told as moved; every changed claim names the changed
    joints that lie on its way.  Names of nets do not count.
    """
    from latchlore.board import compare_boards
    from latchlore.study import load_board

    found = compare_boards(load_board(old), load_board(new))
    if as_json:
        import json

        from latchlore.board import comparison_to_plain

        plain = {"format": "latchlore-board-comparison", "version": 1, **comparison_to_plain(found)}
        click.echo(f"{json.dumps(plain, indent=1, ensure_ascii=False)}\n".encode(), nl=False)
        return
    from latchlore.cli._terminal import Terminal

    terminal = Terminal.of_stdout(width)
    click.echo("\n".join(_lines(found, terminal)), color=terminal.tinted)


def _lines(found: Comparison, terminal: Terminal) -> Iterator[str]:
    from latchlore.board import comparewording as words

    last = ""
    for change in found.changes:
        heading = words.HEADINGS[change.claim.value]
        if heading != last:
            if last:
                yield ""
            yield f"\x1b[1m{heading}\x1b[0m" if terminal.tinted else heading
            last = heading
        yield from _change(change, terminal)
    if not found.changes:
        yield words.NOTHING_CHANGED
    for sentence in found.not_done:
        yield from _wrap(f"Not done: {sentence}", terminal, "", "  ")


def _change(change: Change, terminal: Terminal) -> Iterator[str]:
    mark = _MARKS.get(change.turn.value, CHANGED)
    told = [text for text in (change.old, change.new) if text is not None]
    turn = f" ({change.turn.value})" if mark == CHANGED else ""
    yield from _wrap(f"{mark} {change.subject}{turn}: {' -> '.join(told)}", terminal, "", "    ")
    if change.because:
        yield from _wrap(f"because {'; '.join(change.because)}", terminal, "    ", "      ")
    places = dict.fromkeys(str(origin) for origin in (*change.old_origins[:2], *change.new_origins[:2]))
    if places:
        yield from _wrap("; ".join(places), terminal, "    ", "      ")


def _wrap(text: str, terminal: Terminal, first: str, rest: str) -> list[str]:
    import textwrap

    from latchlore.cli._letters import harmless

    return textwrap.wrap(
        harmless(text), terminal.width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )
