"""`latchlore wire bus`: a processor's bus cycles, from a capture."""

from __future__ import annotations

from typing import Any

import click

from latchlore.cli import wording
from latchlore.cli._program_asking import Streamed
from latchlore.cli._wire_asking import asking, open_asked
from latchlore.cli._wire_capture import capture_page, print_plain_wire

SHOWN = 200
"""Cycles that are printed; --json has all."""
LINES = (
    click.option("--address", multiple=True, metavar="NAME,...", help="Address lines, A0 first; or the bus."),
    click.option("--data", multiple=True, metavar="NAME,...", help="Data lines, D0 first; or the bus."),
    click.option("--clock", default="", metavar="NAME", help="6502 manner: the clock that takes data when it falls."),
    click.option("--read-high", default="", metavar="NAME", help="6502 manner: R/W, high when the processor reads."),
    click.option("--read", default="", metavar="NAME", help="Z80 manner: the read strobe, active low."),
    click.option("--write", default="", metavar="NAME", help="Z80 manner: the write strobe, active low."),
    click.option("--memory", default="", metavar="NAME", help="Z80 manner: the memory request, active low."),
    click.option("--ports", default="", metavar="NAME", help="Z80 manner: the port request, active low."),
)


@click.command("bus", short_help=wording.WIRE_COMMANDS["bus"][1], epilog=wording.STATUSES)
@asking(LINES)
@click.option("--at", multiple=True, metavar="ADDRESS", help="Only cycles of these addresses, hexadecimal.")
def bus_command(as_json: bool, width: int | None, at: tuple[str, ...], **options: Any) -> None:
    """Read the bus cycles of a processor in CAPTURE: touches of registers, with their times.

    6502 manner: --clock and --read-high.  Z80 manner: --read, --write and, where they were captured, --memory and
    --ports.
    """
    from latchlore.study import addresses_of, bus_lines_of
    from latchlore.wire import bus_to_plain, read_bus

    wanted = addresses_of("--at", at)
    lines = bus_lines_of(options, options["address"], options["data"])
    capture = open_asked(options)
    reading = read_bus(capture, lines)
    kept = [k for k in range(reading.count) if not wanted or int(reading.address[k]) in wanted]
    if as_json:
        plain = bus_to_plain(
            reading, lambda rows: Streamed(row for row in rows if not wanted or row["address"] in wanted)
        )
        print_plain_wire("bus", plain)
        return
    page = capture_page(width, capture)
    page.heading(f"{len(kept)} bus cycles" + (f" of {reading.count}" if wanted else ""))
    for k in kept[:SHOWN]:
        page.say(reading.describe(k), 2)
    if len(kept) > SHOWN:
        page.say(f"and {len(kept) - SHOWN} more; --json has all", 2)
    page.points("Notes", reading.notes)
    click.echo(page.text(), nl=False, color=page.terminal.tinted)
