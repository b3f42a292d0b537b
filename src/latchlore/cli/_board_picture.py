"""`latchlore board picture`: the board, its register map, its addresses and the ways of its bits as one page."""

from __future__ import annotations

from pathlib import Path

import click

from latchlore.cli import wording


@click.command("picture", short_help=wording.BOARD_COMMANDS["picture"][1], epilog=wording.STATUSES)
@click.argument("study", type=click.Path(path_type=Path), metavar="STUDY")
@click.option(
    "-o",
    "--output",
    "target",
    type=click.Path(path_type=Path),
    metavar="PAGE",
    help="File to write, such as board.html; an earlier page of this command is written over, nothing else is.",
)
@click.option("--json", "as_json", is_flag=True, help="Print nets and ways as JSON instead (docs/mating.md).")
def picture_command(study: Path, target: Path | None, as_json: bool) -> None:
    """Draw STUDY's board as one page: register map, address ribbon, the way of each bit, the board with its nets.

    STUDY is a study folder or a net file.  The page needs no script and no network; choosing a pin lights its net.
    """
    from latchlore.dossier import board_page_to_plain, render_board_page, view_board, write_board_page

    view = view_board(study)
    if as_json:
        import json

        click.echo(f"{json.dumps(board_page_to_plain(view), indent=1, ensure_ascii=False)}\n".encode(), nl=False)
        return
    if target is None:
        raise click.UsageError("name the page to write: -o PAGE, or ask for --json")
    write_board_page(target, render_board_page(view))
    click.echo(wording.BOARD_DRAWN.format(page=target))
