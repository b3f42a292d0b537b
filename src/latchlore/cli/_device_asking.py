"""What the commands of `latchlore device` have in common: tables, streams, switches."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import ByteSequence
    from latchlore.cli._program_page import Page
    from latchlore.device import Device

FILE = click.Path(path_type=Path)
STREAM = click.argument("stream", type=FILE, metavar="STREAM")
TABLE = click.argument("table", type=FILE, metavar="TABLE")
SWITCH = click.option("--switch", multiple=True, metavar="NAME=SETTING", help="A switch as it was set.")
BASE = click.option(
    "--base",
    default="",
    type=click.Choice(["", "hex", "decimal"]),
    metavar="BASE",
    help="How a log writes bytes, where it does not tell: hex or decimal.",
)
JSON = click.option("--json", "as_json", is_flag=True, help="Print the same as JSON (docs/device-json.md).")
WIDTH = click.option(
    "--width", type=click.IntRange(min=40), metavar="COLUMNS", help="Columns to use; default the terminal's, or 100."
)
LOG_SUFFIX = ".log"


def open_tables(paths: Sequence[Path]) -> list[Device]:
    """The device tables, in order."""
    from latchlore.device import read_device

    return [read_device(path.read_bytes(), path.name) for path in paths]


def open_sequence(path: Path, base: str) -> ByteSequence:
    """The stream with its doubts: a log's runs merged, or the file's bytes without any."""
    from latchlore.base import ByteSequence

    if path.suffix.lower() != LOG_SUFFIX:
        return ByteSequence.certain(path.read_bytes())
    from latchlore.cli._progress import ProgressLine
    from latchlore.study import read_runs, set_kernel_cache
    from latchlore.wire import merge

    runs = read_runs([path], base)
    if len(runs) == 1:
        return ByteSequence.certain(runs[0].data)
    set_kernel_cache()
    with ProgressLine() as progress:
        return merge(runs, progress).sequence


def parse_settings(
    texts: Sequence[str], option: str = "--switch", rule: str = "a switch is NAME=SETTING"
) -> dict[str, str]:
    """``NAME=SETTING`` as a mapping."""
    found = {}
    for text in texts:
        name, sign, value = text.partition("=")
        if not sign or not name or not value:
            raise click.BadParameter(f"{rule}, not {text!r}", param_hint=option)
        found[name] = value
    return found


def titled_page(width: int | None, title: str, devices: Sequence[Device]) -> Page:
    """A page with its title, the documents, and a word where they are invented."""
    from latchlore.cli import wording
    from latchlore.cli._program_page import BOLD, Page

    page = Page(width)
    page.say(title, code=BOLD)
    for device in devices:
        page.say(f"{device.name}: {device.title} ({device.file})", indent=2)
    if any(device.invented for device in devices):
        page.say(wording.INVENTED)
    return page


def print_plain_device(kind: str, plain: dict[str, object]) -> None:
    """Print an answer of the device wing as JSON."""
    from latchlore.cli._program_asking import print_plain

    print_plain({"format": f"latchlore-device-{kind}", "version": 1, **plain})
