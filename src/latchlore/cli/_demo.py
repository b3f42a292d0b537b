"""`latchlore demo`: the invented study, from nothing to the table and the desk."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from latchlore.cli import wording
from latchlore.cli._arguments import as_typed

if TYPE_CHECKING:
    from collections.abc import Iterator

DEFAULT_FOLDER = "marram-demo"


@click.command("demo", short_help=wording.COMMANDS["demo"], epilog=wording.STATUSES)
@click.argument("folder", type=click.Path(path_type=Path), metavar="[FOLDER]", default=Path(DEFAULT_FOLDER))
@click.option(
    "--desk/--no-desk", "desk", default=None, help="Open the desk afterwards; default where you sit at a terminal."
)
@click.option("--no-browser", is_flag=True, help="Print the desk's address only.")
def command(folder: Path, desk: bool | None, no_browser: bool) -> int:
    """Copy the demonstration study to FOLDER, weigh it, print the table and open its desk.

    FOLDER must not exist yet, be empty, or hold an untouched copy.  Everything in the study is invented.  The
    command's status is 0 although the study holds contradictions: it is meant to.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.cli._weigh import print_table
    from latchlore.study import weigh_study

    words = wording.DEMO_COPIED if copy_demo(folder) else wording.DEMO_FOUND
    click.echo(words.format(folder=folder) + "\n")
    with ProgressLine() as progress:
        table = weigh_study(folder, progress)
    print_table(table)
    if desk is None:
        desk = sys.stdin.isatty() and sys.stdout.isatty()
    if desk:
        from latchlore.desk import serve

        serve(folder, port=0, browser=not no_browser, say=click.echo)
    else:
        click.echo("\n" + wording.DEMO_NEXT.format(typed=as_typed(folder)))
    return 0


def copy_demo(folder: Path) -> bool:
    """Lay the packaged study into `folder`; False where an untouched copy is there already.

    Refuses a folder that holds anything else, and then changes nothing.
    """
    from latchlore.base import BadInput, Origin
    from latchlore.demo import demo_folder

    files = dict(_iter_files(demo_folder()))
    if folder.exists() and not folder.is_dir():
        raise BadInput(Origin(str(folder)), wording.NOT_EMPTY)
    if folder.is_dir() and any(folder.iterdir()):
        found = {path.relative_to(folder).as_posix(): path for path in folder.rglob("*") if path.is_file()}
        if found.keys() == files.keys() and all(found[name].read_bytes() == data for name, data in files.items()):
            return False
        raise BadInput(Origin(str(folder)), wording.DEMO_DIFFERS)
    _lay_down(folder, files)
    return True


def _lay_down(folder: Path, files: dict[str, bytes]) -> None:
    """Fill a new folder beside the target and give it the target's name in one step."""
    import shutil
    import tempfile

    folder.parent.mkdir(parents=True, exist_ok=True)
    part = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        for name, data in files.items():
            path = part / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
        part.chmod(0o755)
        part.replace(folder)
    except BaseException:
        shutil.rmtree(part, ignore_errors=True)
        raise


def _iter_files(source: Path) -> Iterator[tuple[str, bytes]]:
    """The study's files; what makes the folder a package of Python is left out."""
    for path in sorted(source.rglob("*")):
        name = path.relative_to(source).as_posix()
        if path.is_file() and not any(part.startswith((".", "__")) for part in name.split("/")):
            yield name, path.read_bytes()
