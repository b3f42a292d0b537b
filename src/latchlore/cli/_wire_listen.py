"""`latchlore wire listen`: bytes from a port into a new run of a study."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from latchlore.cli import wording
from latchlore.cli._arguments import as_typed

if TYPE_CHECKING:
    from latchlore.device import Device


@click.command("listen", short_help=wording.WIRE_COMMANDS["listen"][1], epilog=wording.STATUSES)
@click.argument("port", metavar="PORT")
@click.option("--study", type=click.Path(path_type=Path), required=True, metavar="STUDY", help="The study's folder.")
@click.option("--sequence", required=True, metavar="NAME", help="What is being sent; runs of one name are merged.")
@click.option("--baud", default=9600, type=click.IntRange(50, 4_000_000), metavar="RATE", help="Bits a second; 9600.")
@click.option("--framing", default="8N1", metavar="8N1", help="Data bits, parity (N, E, O, M, S), stop bits.")
@click.option("--label", default="", metavar="TEXT", help="A comment for the run, such as what was done.")
@click.option("--table", type=click.Path(path_type=Path), metavar="TABLE", help="Grow the paper of this device.")
@click.option("--text", is_flag=True, help="Show plain text, also where the study has a device table.")
def listen_command(
    port: str, study: Path, sequence: str, baud: int, framing: str, label: str, table: Path | None, text: bool
) -> int | None:
    """Take bytes from PORT, a serial port or socket://HOST:PORT, into a new run STUDY/wire/NAME/....log.

    Every byte is kept before it is shown.  Ctrl-C, or pulling the plug, ends the run; all of it is kept.

    With a device table (--table, or the study's, where one alone of them has a paper) the strip grows line by line as
    the device would print it, letters only.  Else what arrives is shown as a printer would take plain text; bytes that
    are no text are shown as <1B>.

    Caution: connect a listener with all power off, common ground first; check that the port's levels suit it.
    """
    from latchlore.cli._live_paper import LivePaper
    from latchlore.study import framing_of, place_new_run
    from latchlore.wire import MAX_LOG_BYTES, listen, open_port

    found = framing_of(framing)
    now = datetime.datetime.now().astimezone()
    new = place_new_run(study, sequence, label, port, baud, framing, now)
    device = None if text else _device(study, table)
    opened = open_port(port, baud, str(found))
    new.make_folder()
    click.echo(f"Listening; Ctrl-C ends the run.  Keeping it in {new.path}", err=True)
    if device is not None:
        click.echo(f"The paper of {device.name}, as {device.file} has it:", err=True)
    with LivePaper(device) as shown:
        heard = listen(opened, new.path, new.about, shown, lambda: False)
    click.echo(f"\n{heard.count} bytes kept; {heard.ended}.", err=True)
    if new.path.stat().st_size > MAX_LOG_BYTES:
        click.echo(
            f"The log is longer than the {MAX_LOG_BYTES} bytes that a study reads: cut it where a run ends.", err=True
        )
    click.echo(f"Weigh them with:  latchlore weigh {as_typed(study)}", err=True)
    return None


def _device(study: Path, table: Path | None) -> Device | None:
    """The device whose paper is shown: the one named, or the only one of the study that has a paper."""
    from latchlore.base import StudyError, Unsupported
    from latchlore.cli._device_asking import open_tables
    from latchlore.device import GrowingStrip

    if table is not None:
        (device,) = open_tables([table])
        GrowingStrip(device)  # refuses one without paper before a port is opened
        return device
    found = []
    for path in sorted((study / "documents").glob("*.toml")):
        try:
            (device,) = open_tables([path])
            GrowingStrip(device)
            found.append(device)
        except Unsupported:
            continue
        except StudyError as error:  # a table with mistakes must not keep a run from being heard
            click.echo(f"latchlore: {error}", err=True)
    if len(found) > 1:
        names = ", ".join(device.file for device in found)
        click.echo(f"Shown as plain text; choose whose paper to grow with --table: {names}", err=True)
    return found[0] if len(found) == 1 else None
