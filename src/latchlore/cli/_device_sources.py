"""`latchlore device sources`: the documents behind the tables, their text, and the page of a row."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from latchlore.cli import wording
from latchlore.cli._device_asking import FILE, JSON, WIDTH, open_tables, print_plain_device, titled_page

COMMANDS = wording.DEVICE_COMMANDS


@click.command("sources", short_help=COMMANDS["sources"][1], epilog=wording.STATUSES)
@click.argument("tables", nargs=-1, required=True, type=FILE, metavar="TABLE...")
@click.option("--find", "words", default="", metavar="TEXT", help="Look for words in the scans' text.")
@click.option("--row", default="", metavar="COMMAND", help="Print the page beside this row of the first table.")
@click.option("--folder", type=FILE, metavar="STUDY", help="From where scans are named; default the tables' study.")
@JSON
@WIDTH
def sources_command(
    tables: tuple[Path, ...], words: str, row: str, folder: Path | None, as_json: bool, width: int | None
) -> None:
    """List the documents of the tables: kind, date, holder, and whether the attached scan is the one meant.

    Text that the scans hold can be searched, and the page that a row cites printed beside it.
    """
    from latchlore.cli._letters import harmless
    from latchlore.cli._program_asking import print_page
    from latchlore.cli._progress import ProgressLine
    from latchlore.device import cited_page, find_text, hits_to_plain, register_sources, sources_to_plain

    devices = open_tables(tables)
    place = folder if folder is not None else _study_of(tables[0])
    with ProgressLine() as progress:
        sources = register_sources(devices, place, progress)
        hits = find_text(devices, place, words, progress) if words else ()
    command = devices[0].get_command(row) if row else None
    page_text = cited_page(devices[0], command.citation, place) if command is not None else ""
    if as_json:
        plain: dict[str, Any] = {"documents": sources_to_plain(sources)}
        if words:
            plain["found"] = hits_to_plain(hits)
        if command is not None:
            plain["row"] = {"command": command.name, "place": str(command.citation.origin), "page_text": page_text}
        print_plain_device("sources", plain)
        return
    page = titled_page(width, "Documents", devices)
    page.points("The register", map(str, sources))
    if words:
        page.points(f"Where {words!r} stands", map(str, hits) if hits else (wording.NO_HITS,))
    if command is not None:
        page.heading(f"{command.code}: {command.meaning} ({command.citation.origin})")
        page.lines += [f"  | {harmless(line)}" for line in page_text.splitlines()]
    print_page(page)


def _study_of(table: Path) -> Path:
    parent = table.resolve().parent
    return parent.parent if parent.name == "documents" else parent
