"""`latchlore device sources`: the documents behind the tables, their text, and the page of a row."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from latchlore.cli import wording
from latchlore.cli._device_asking import FILE, JSON, WIDTH, open_tables, print_plain_device, titled_page

if TYPE_CHECKING:
    from latchlore.device import ShownPage

COMMANDS = wording.DEVICE_COMMANDS


@click.command("sources", short_help=COMMANDS["sources"][1], epilog=wording.STATUSES)
@click.argument("tables", nargs=-1, required=True, type=FILE, metavar="TABLE...")
@click.option("--find", "words", default="", metavar="TEXT", help="Look for words in the scans' text.")
@click.option("--row", default="", metavar="COMMAND", help="Print the page beside this row of the first table.")
@click.option("--picture", type=click.Path(path_type=Path), metavar="FILE", help="Write the picture of --row's page.")
@click.option("--read-pictures", is_flag=True, help="Read pages of pictures with tesseract, if it is installed.")
@click.option("--folder", type=FILE, metavar="STUDY", help="From where scans are named; default the tables' study.")
@JSON
@WIDTH
def sources_command(
    tables: tuple[Path, ...],
    words: str,
    row: str,
    picture: Path | None,
    read_pictures: bool,
    folder: Path | None,
    as_json: bool,
    width: int | None,
) -> None:
    """List the documents of the tables: kind, date, holder, and whether the attached scan is the one meant.

    Text that the scans hold can be searched, and the page that a row cites printed beside it.
    """
    from latchlore.cli._letters import harmless
    from latchlore.cli._program_asking import print_page
    from latchlore.cli._progress import ProgressLine
    from latchlore.device import (
        find_text,
        hits_to_plain,
        page_to_plain,
        register_sources,
        show_page,
        sources_to_plain,
    )

    devices = open_tables(tables)
    place = folder if folder is not None else _study_of(tables[0])
    with ProgressLine() as progress:
        sources = register_sources(devices, place, progress)
        hits = find_text(devices, place, words, progress, read_pictures=read_pictures) if words else ()
    command = devices[0].get_command(row) if row else None
    shown = None
    if command is not None:
        shown = show_page(devices[0], command.citation, place, read_pictures=read_pictures)
    if picture is not None:
        _write_picture(picture, shown)
    if as_json:
        plain: dict[str, Any] = {"documents": sources_to_plain(sources)}
        if words:
            plain["found"] = hits_to_plain(hits)
        if command is not None and shown is not None:
            plain["row"] = {"command": command.name, **page_to_plain(shown)}
        print_plain_device("sources", plain)
        return
    page = titled_page(width, "Documents", devices)
    page.points("The register", map(str, sources))
    if words:
        page.points(f"Where {words!r} stands", map(str, hits) if hits else (wording.NO_HITS,))
    if command is not None and shown is not None:
        page.heading(f"{command.code}: {command.meaning} ({command.citation.origin})")
        if shown.text.read_by:
            page.say(wording.read_off(shown.text.read_by), indent=2)
        page.lines += [f"  | {harmless(line)}" for line in shown.text.text.splitlines()]
        if shown.picture is not None:
            page.say(wording.page_picture(shown.picture.width, shown.picture.height, shown.picture.whence), indent=2)
    print_page(page)


def _write_picture(path: Path, shown: ShownPage | None) -> None:
    """The page's picture as it is; no file is written over."""
    if shown is None:
        raise click.UsageError("--picture writes the page of a row: name it with --row")
    if shown.picture is None:
        raise click.UsageError(f"the scan holds no picture of page {shown.page}")
    suffixes = (".png",) if shown.picture.kind == "image/png" else (".jpg", ".jpeg")
    if path.suffix.lower() not in suffixes:
        raise click.BadParameter(
            f"this picture's name ends in {suffixes[0]}, not {path.name!r}", param_hint="--picture"
        )
    if path.exists():
        raise click.BadParameter(f"{path} exists; name another file", param_hint="--picture")
    with path.open("xb") as file:
        file.write(shown.picture.data)


def _study_of(table: Path) -> Path:
    parent = table.resolve().parent
    return parent.parent if parent.name == "documents" else parent
