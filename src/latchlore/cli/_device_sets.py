"""`latchlore device sets`: which character set explains a printed sample, and which byte to look for next."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from latchlore.cli import wording
from latchlore.cli._device_asking import FILE, JSON, WIDTH, open_tables, print_plain_device, titled_page

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.device import Decider

COMMANDS = wording.DEVICE_COMMANDS
MAX_DECIDERS = 12


@click.command("sets", short_help=COMMANDS["sets"][1], epilog=wording.STATUSES)
@click.argument("tables", nargs=-1, type=FILE, metavar="[TABLE...]")
@click.option("--seen", multiple=True, required=True, metavar="BYTE=CHARACTER", help="What a byte printed, as 5B=Ä.")
@JSON
@WIDTH
def sets_command(tables: tuple[Path, ...], seen: tuple[str, ...], as_json: bool, width: int | None) -> None:
    """Say which character sets print what was seen, and which byte decides among those that do.

    Asked are the national versions of ISO 646 and the sets of the tables, which may differ from them.
    """
    from latchlore.cli._program_asking import print_page
    from latchlore.device import explain_print, get_set, sample_to_plain, set_names

    devices = open_tables(tables)
    own = [(f"{device.name} ({device.file})", device.characters) for device in devices]
    sets = [get_set(name) for name in set_names()] + [one.called(name) for name, one in own]
    sample = explain_print(sets, _seen(seen))
    if as_json:
        plain: dict[str, Any] = sample_to_plain(sample)
        print_plain_device("sets", plain)
        return
    page = titled_page(width, "Character sets against what was printed", devices)
    page.points("These print what was seen", sample.possible or (wording.NO_SETS,))
    page.points("A byte that decides among them, best first", map(_decides, sample.deciders[:MAX_DECIDERS]))
    page.points("These do not", (wording.set_excluded(*one) for one in _excluded(sample.excluded)))
    print_page(page)


def _excluded(rows: Sequence[Any]) -> list[tuple[str, str, str, str | None]]:
    return [(one.name, f"{one.code:02X}", one.seen, one.printed) for one in rows]


def _decides(decider: Decider) -> str:
    outcomes = "; ".join(f"{char or 'nothing'}: {', '.join(names)}" for char, names in decider.outcomes)
    return f"{decider.code:02X}: {outcomes}"


def _seen(texts: Sequence[str]) -> dict[int, str]:
    found: dict[int, str] = {}
    for text in texts:
        match = re.fullmatch(r"([0-9A-Fa-f]{2})=(.{1,4})", text, re.DOTALL)
        if match is None:
            words = f"what was seen is a byte in hexadecimal and its character, such as 5B=Ä, not {text!r}"
            raise click.BadParameter(words, param_hint="--seen")
        found[int(match[1], 16)] = match[2]
    return found
