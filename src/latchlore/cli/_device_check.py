"""`latchlore device check`: where documents contradict themselves, and the smallest edits that would mend it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from latchlore.cli import wording
from latchlore.cli._device_asking import FILE, JSON, WIDTH, open_tables, print_plain_device, titled_page

if TYPE_CHECKING:
    from latchlore.device import Inconsistency

COMMANDS = wording.DEVICE_COMMANDS
MAX_EDITS = 4


@click.command("check", short_help=COMMANDS["check"][1], epilog=wording.STATUSES)
@click.argument("tables", nargs=-1, required=True, type=FILE, metavar="TABLE...")
@JSON
@WIDTH
def check_command(tables: tuple[Path, ...], as_json: bool, width: int | None) -> None:
    """Check documents by what they say twice, and propose the smallest edits.  Nothing is changed.

    Codes in several notations, switch rows, pins, dots against bytes, sorted columns, values on a line.  Two command
    rows that fit the same bytes are refused when a table is read.
    """
    from latchlore.cli._program_asking import print_page
    from latchlore.device import check_document, slips_to_plain

    devices = open_tables(tables)
    found = [(device, check_document(device)) for device in devices]
    if as_json:
        plain = [
            {"file": device.file, "device": device.name, "slips": slips_to_plain(slips)} for device, slips in found
        ]
        print_plain_device("check", {"documents": plain})
        return
    page = titled_page(width, "Documents checked by their own redundancy", devices)
    for device, slips in found:
        page.points(device.title, [_line(one) for one in slips] or [wording.NO_SLIPS])
    print_page(page)


def _line(one: Inconsistency) -> str:
    words = f"{one.origin}: {one.words}"
    if one.evidence:
        words += f" ({'; '.join(one.evidence)})"
    for edit in one.edits[:MAX_EDITS]:
        words += f"; perhaps {edit.key} {edit.new} for {edit.old} at {edit.origin} ({edit.reason})"
    return words
