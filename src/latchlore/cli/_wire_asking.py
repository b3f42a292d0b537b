"""What the commands of `latchlore wire` have in common: the options that state what a capture holds."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from latchlore.wire import Capture

    Command = Callable[..., int | None]

STATED = (
    *("column", "bit", "volts", "time", "unit", "rate", "changes", "separator", "titles", "rows"),
    *("sample_bytes", "high_byte_first"),
)
"""Options that state what a capture's file holds."""
CAPTURE = click.argument("capture", type=click.Path(path_type=Path), metavar="CAPTURE")
TITLES = "Of a table's titles, where other lines come first."
OPENING = (
    click.option("--column", multiple=True, metavar="NAME=COLUMN", help="Of a table: a title, or a number from 1."),
    click.option("--time", default="", metavar="COLUMN", help="The column of the times."),
    click.option("--unit", default="s", metavar="UNIT", help="Of the times: s, ms, us, ns, ps."),
    click.option("--changes", is_flag=True, help="Rows are changes, not samples."),
    click.option("--volts", multiple=True, metavar="NAME=LOW..HIGH", help="A column of voltages and its thresholds."),
    click.option("--separator", default=",", metavar="SIGN", help="Between columns; a comma by default."),
    click.option("--titles", type=click.IntRange(min=1), metavar="LINE", help=TITLES),
    click.option("--rows", type=click.IntRange(min=1), metavar="LINE", help="Of the first row of values."),
    click.option("--bit", multiple=True, metavar="NAME=BIT", help="Of packed samples: the bit of a line."),
    click.option("--rate", default="", metavar="RATE", help="Of samples without times, such as '24 MHz'."),
    click.option("--sample-bytes", default=1, type=int, metavar="COUNT", help="Bytes of a packed sample."),
    click.option("--high-byte-first", is_flag=True, help="Of packed samples of several bytes."),
)
LINES = (
    click.option("--data", multiple=True, metavar="NAME,...", help="Data lines, D0 first, '-' for none; or the bus."),
    click.option("--strobe", default="", metavar="NAME", help="The strobe; without it the lines are proposed."),
    click.option("--busy", default="", metavar="NAME", help="The busy line."),
    click.option("--ack", default="", metavar="NAME", help="The acknowledge line."),
    click.option("--low", multiple=True, metavar="NAME", help="A line that is active low."),
    click.option("--high", multiple=True, metavar="NAME", help="A line that is active high."),
    click.option(
        "--latch",
        default="",
        type=click.Choice(["", "leading", "trailing"]),
        metavar="EDGE",
        help="The edge at which data is taken: leading or trailing.",
    ),
)
BASE = click.option(
    "--base",
    default="",
    type=click.Choice(["", "hex", "decimal"]),
    metavar="BASE",
    help="How the logs write bytes, where they do not tell: hex or decimal.",
)
PICTURE = click.option("--picture", type=click.Path(path_type=Path), metavar="FILE.svg", help="Draw it as well.")
JSON = click.option("--json", "as_json", is_flag=True, help="Print the same as JSON (docs/capture.md).")
WIDTH = click.option(
    "--width", type=click.IntRange(min=40), metavar="COLUMNS", help="Columns to use; default the terminal's, or 100."
)


def asking(*groups: Sequence[Callable[[Command], Command]]) -> Callable[[Command], Command]:
    """Give a command a capture, the options that tell what it holds, further groups, and the two forms of output."""

    def decorate(command: Command) -> Command:
        own: list[Callable[[Command], Command]] = [*OPENING, *(option for group in groups for option in group)]
        every: list[Callable[[Command], Command]] = [WIDTH, JSON, *reversed(own), CAPTURE]
        for one in every:
            command = one(command)
        return command

    return decorate


def open_asked(options: Mapping[str, Any]) -> Capture:
    """The capture that is asked.  Kernels compiled on the way are kept with the other results."""
    from latchlore.cli._progress import ProgressLine
    from latchlore.study import StatedCapture, open_capture, set_kernel_cache

    set_kernel_cache()
    stated = StatedCapture(**{name: options[name] for name in STATED})
    with ProgressLine() as progress:
        return open_capture(options["capture"], stated, progress)


def hex_rows(data: bytes, marks: Sequence[bool], wide: int = 16) -> list[str]:
    """Bytes in rows: offset, hexadecimal (with ``?`` behind what is not certain), and characters of ISO 646."""
    rows: list[str] = []
    for at in range(0, len(data), wide):
        part = data[at : at + wide]
        cells = [f"{byte:02X}{' ' if sure else '?'}" for byte, sure in zip(part, marks[at : at + wide], strict=False)]
        letters = "".join(chr(byte) if 0x20 <= byte < 0x7F else "." for byte in part)
        rows.append(f"{at:6}  {' '.join(cells):{4 * wide}}{letters}")
    return rows


def write_picture(file: Path, drawing: str) -> None:
    """Write a drawing as a file of its own."""
    from latchlore.dossier import stand_alone
    from latchlore.study import write_whole

    write_whole(file, stand_alone(drawing).encode())
    click.echo(f"Drew {file}", err=True)
