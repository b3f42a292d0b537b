"""What the commands of `latchlore program` have in common: which program is asked, and how an answer is printed."""

from __future__ import annotations

from itertools import chain, islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from latchlore.cli._program_page import Page
    from latchlore.study import AskedProgram, Stated

    Command = Callable[..., int]

PARTS = 1 << 14
"""So many pieces of JSON are written at once."""
SOURCES = click.argument("sources", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="STUDY|IMAGE...")

STATED = (
    click.option("--cpu", default="", metavar="NAME", help="The processor of image files, or infer."),
    click.option("--load", multiple=True, metavar="ADDRESS", help="Where a raw file lies, or infer; once a file."),
    click.option("--entry", multiple=True, metavar="ENTRY", help="ADDRESS or NAME=ADDRESS; of a study, a name."),
    click.option("--devices", multiple=True, metavar="ADDRESSES", help="Device registers: C800-C80F, 'port 90-91'."),
    click.option("--held", multiple=True, metavar="BITS", help="Bits that every read gives the same: 'C801 bits 0-1'."),
    click.option("--given", multiple=True, metavar="VALUE", help="Known at the entries: 'A = 41', '0200 = 1B 40'."),
    click.option("--interrupt", multiple=True, metavar="ADDRESS", help="Where a routine begins that may interrupt."),
    click.option("--role", multiple=True, metavar="ROLE", help="'data C800', 'strobe C802 bit 0', 'busy C801 bit 7'."),
    click.option("--clock", default="", metavar="RATE", help="Such as '1.0 MHz' or '14.31818/14 MHz'."),
    click.option(
        "--tolerance", default=0, type=click.IntRange(0, 999_999), metavar="PPM", help="Of the clock, either way."
    ),
)

JSON = click.option("--json", "as_json", is_flag=True, help="Print the same as JSON (docs/program-json.md).")
WIDTH = click.option(
    "--width", type=click.IntRange(min=40), metavar="COLUMNS", help="Columns to use; default the terminal's, or 100."
)


def asking(command: Command) -> Command:
    """Give a command the sources, the options that state what a study would, and the two forms of output."""
    for decorate in (WIDTH, JSON, *reversed(STATED), SOURCES):
        command = decorate(command)
    return command


def stated_of(options: Mapping[str, Any]) -> Stated:
    """What the options state; takes its own keys and leaves the others."""
    from latchlore.study import Stated

    return Stated(
        cpu=options["cpu"],
        load=options["load"],
        entry=options["entry"],
        devices=options["devices"],
        held=options["held"],
        given=options["given"],
        role=options["role"],
        clock=options["clock"],
        tolerance_ppm=options["tolerance"],
        interrupt=options["interrupt"],
    )


def open_asked(options: Mapping[str, Any]) -> AskedProgram:
    """The program that is asked.  Kernels compiled on the way are kept with the other results."""
    from latchlore.study import open_program, set_kernel_cache

    set_kernel_cache()
    return open_program(options["sources"], stated_of(options))


def print_plain(plain: Mapping[str, Any]) -> None:
    """Print as JSON, in UTF-8 whatever the terminal speaks, a part at a time (`Streamed`)."""
    import json

    parts = json.JSONEncoder(indent=1, ensure_ascii=False).iterencode(plain)
    while text := "".join(islice(parts, PARTS)):
        click.echo(text.encode(), nl=False)
    click.echo(b"\n", nl=False)


class Streamed(list[Any]):
    """A list that JSON is written of as its rows are made, so that they are never all in memory; to be read once."""

    def __init__(self, rows: Iterable[Any]) -> None:
        super().__init__()
        self._rows = iter(rows)
        self._first = list(islice(self._rows, 1))

    def __len__(self) -> int:
        """Whether there is any row: all that writing JSON asks."""
        return len(self._first)

    def __iter__(self) -> Iterator[Any]:
        """The rows."""
        return chain(self._first, self._rows)


def print_page(page: Page) -> None:
    """Print text."""
    click.echo(page.text(), nl=False, color=page.terminal.tinted)


def head_plain(kind: str, asked: AskedProgram) -> dict[str, Any]:
    """What every JSON answer begins with."""
    return {
        "format": f"latchlore-program-{kind}",
        "version": 1,
        "title": asked.title,
        "invented": asked.is_invented,
        "cpu": asked.cpu,
        "images": [
            {"file": image.file, "load": image.load, "last": image.last, "bytes": len(image.data)}
            for image in asked.images
        ],
        "entries": [{"name": entry.name, "address": entry.address} for entry in asked.entries],
    }


def notes_of(asked: AskedProgram) -> Iterable[str]:
    """What was concluded while the images were read, and what stayed open, in words."""
    for note in asked.part.notes:
        yield f"{note.subject}: {note.words or 'open'} ({note.why})"
