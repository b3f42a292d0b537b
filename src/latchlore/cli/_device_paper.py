"""`latchlore device paper` and `marks`: what a stream printed, and from a mark to its byte and back."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from latchlore.cli import wording
from latchlore.cli._device_asking import (
    BASE,
    JSON,
    STREAM,
    SWITCH,
    TABLE,
    WIDTH,
    open_sequence,
    open_tables,
    parse_settings,
    print_plain_device,
    titled_page,
)

if TYPE_CHECKING:
    from latchlore.device import Paper

COMMANDS = wording.DEVICE_COMMANDS
PICTURES = (".png", ".svg")
PIN = click.option("--pin", multiple=True, metavar="NUMBER=LEVEL", help="A pin that the cable holds high or low.")


@click.command("paper", short_help=COMMANDS["paper"][1], epilog=wording.STATUSES)
@STREAM
@TABLE
@click.option("-o", "--output", required=True, type=click.Path(path_type=Path), metavar="PICTURE", help=".png or .svg")
@SWITCH
@PIN
@BASE
@click.option("--scale", type=click.IntRange(1, 64), default=8, help="Pixels in a millimetre of a .png; default 8.")
@click.option("--from", "first", metavar="LENGTH", help="Draw from here on, such as 120mm from the upper edge.")
@click.option("--to", "last", metavar="LENGTH", help="Draw up to here.")
@JSON
def paper_command(
    stream: Path,
    table: Path,
    output: Path,
    switch: tuple[str, ...],
    pin: tuple[str, ...],
    base: str,
    scale: int,
    first: str | None,
    last: str | None,
    as_json: bool,
) -> None:
    """Draw the paper that STREAM leaves in the device of TABLE, at true proportions."""
    from latchlore.cli._progress import ProgressLine
    from latchlore.device import Stretch, svg_text, write_png

    kind = output.suffix.lower()
    if kind not in PICTURES:
        raise click.BadParameter(f"a picture's name ends in .png or .svg, not {output.name!r}", param_hint="--output")
    paper = _open(stream, table, switch, pin, base)
    top, bottom = _length(first, "--from"), _length(last, "--to")
    stretch = Stretch(top or Fraction(0), bottom)
    with ProgressLine() as progress:
        if kind == ".png":
            write_png(paper, output, scale, progress, stretch)
        else:
            _write_whole(output, svg_text(paper, stretch))
    across, along = paper.size_mm
    left_out = [(command.meaning if command else "not explained", count) for command, count in paper.not_drawn]
    if as_json:
        size = {"across": float(across), "along": float(along)}
        rows = [{"meaning": meaning, "spans": count} for meaning, count in left_out]
        plain: dict[str, Any] = {"stream": stream.name, "written": str(output), "mm": size, "not_drawn": rows}
        plain["auto_line_feed_by"] = list(paper.auto_reasons)
        print_plain_device("paper", {**plain, "fed_twice": paper.num_fed_twice})
        return
    click.echo(wording.paper_drawn(str(output), float(across), float(along)))
    for meaning, count in left_out:
        click.echo(wording.not_drawn(meaning, count))
    if paper.num_fed_twice:
        click.echo(wording.fed_twice(paper.num_fed_twice, paper.auto_reasons))


def _open(stream: Path, table: Path, switch: tuple[str, ...], pin: tuple[str, ...], base: str) -> Paper:
    from latchlore.device import open_paper

    (device,) = open_tables([table])
    data = open_sequence(stream, base).data
    pins = parse_settings(pin, "--pin", "a pin is NUMBER=LEVEL")
    for number, level in pins.items():
        if level not in ("high", "low"):
            raise click.BadParameter(f"pin {number} is high or low, not {level!r}", param_hint="--pin")
    return open_paper(device, data, parse_settings(switch), pins=pins)


def _write_whole(path: Path, text: str) -> None:
    part = path.with_name(path.name + ".part")
    try:
        part.write_text(text, encoding="utf-8", newline="\n")
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


@click.command("marks", short_help=COMMANDS["marks"][1], epilog=wording.STATUSES)
@STREAM
@TABLE
@click.option("--byte", "offset", metavar="OFFSET", help="A byte by its place in hexadecimal, as the reading shows it.")
@click.option(
    "--at", nargs=2, metavar="ACROSS ALONG", help="A point from the paper's upper left corner, such as 12.5mm 30mm."
)
@SWITCH
@PIN
@BASE
@JSON
@WIDTH
def marks_command(
    stream: Path,
    table: Path,
    offset: str | None,
    at: tuple[str, str] | None,
    switch: tuple[str, ...],
    pin: tuple[str, ...],
    base: str,
    as_json: bool,
    width: int | None,
) -> None:
    """Lead from a byte of STREAM to its marks on the paper (--byte), or from a mark to its byte (--at)."""
    from latchlore.cli._program_asking import print_page
    from latchlore.device import Strip, marks_to_plain

    if (offset is None) == (at is None):
        raise click.UsageError("either --byte or --at says what is sought")
    paper = _open(stream, table, switch, pin, base)
    if offset is not None:
        found = [_offset(offset, len(paper.reading.data))]
    else:
        assert at is not None
        x, y = (float(_length(text, "--at") or 0) for text in at)
        found = [mark.byte for mark in Strip(paper, 1).marks_at(x, y)]
    if as_json:
        print_plain_device("marks", {"stream": stream.name, "bytes": [marks_to_plain(paper, byte) for byte in found]})
        return
    page = titled_page(width, f"{stream.name}: marks on the paper", [paper.reading.device])
    page.points("Bytes", [_mark_line(paper, byte) for byte in found] or [wording.NO_MARK])
    print_page(page)


def _offset(text: str, size: int) -> int:
    try:
        offset = int(text, 16)
    except ValueError as error:
        raise click.BadParameter(f"an offset is a hexadecimal number, not {text!r}", param_hint="--byte") from error
    if not 0 <= offset < size:
        raise click.BadParameter(f"the stream has {size:X} bytes (hexadecimal), none at {text}", param_hint="--byte")
    return offset


def _length(text: str | None, option: str) -> Fraction | None:
    """A length in millimetres; None where none is given."""
    from latchlore.device import Length

    try:
        return None if text is None else Length.parse(text).mm
    except ValueError as error:
        raise click.BadParameter(f"{text!r}: {error}", param_hint=option) from error


def _mark_line(paper: Paper, byte: int) -> str:
    from latchlore.device import marks_to_plain

    plain = marks_to_plain(paper, byte)
    span = paper.reading[paper.reading.find_span(byte)]
    return wording.marks_of(
        f"{byte:04X}: {span.raw[byte - span.start]:02X}", plain["mm"], plain["stands_mm"], str(span)
    )
