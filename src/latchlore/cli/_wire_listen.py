"""`latchlore wire listen`: bytes from a port into a new run of a study."""

from __future__ import annotations

import datetime
import re
import sys
from pathlib import Path

import click

from latchlore.cli import wording
from latchlore.cli._arguments import as_typed


@click.command("listen", short_help=wording.WIRE_COMMANDS["listen"][1], epilog=wording.STATUSES)
@click.argument("port", metavar="PORT")
@click.option("--study", type=click.Path(path_type=Path), required=True, metavar="STUDY", help="The study's folder.")
@click.option("--sequence", required=True, metavar="NAME", help="What is being sent; runs of one name are merged.")
@click.option("--baud", default=9600, type=click.IntRange(50, 4_000_000), metavar="RATE", help="Bits a second; 9600.")
@click.option("--framing", default="8N1", metavar="8N1", help="Data bits, parity (N, E, O, M, S), stop bits.")
@click.option("--label", default="", metavar="TEXT", help="A comment for the run, such as what was done.")
def listen_command(port: str, study: Path, sequence: str, baud: int, framing: str, label: str) -> int | None:
    """Take bytes from PORT, a serial port or socket://HOST:PORT, into a new run STUDY/wire/NAME/....log.

    Every byte is on the disk before it is shown.  Ctrl-C, or pulling the plug, ends the run; all of it is kept.
    What arrives is shown as a printer would take plain text; bytes that are no text are shown as <1B>.

    Caution: connect a listener with all power off, common ground first; check that the port's levels suit it.
    """
    from latchlore.base import BadInput, Origin
    from latchlore.study import framing_of
    from latchlore.wire import listen, open_port

    found = framing_of(framing)
    if re.fullmatch(r"[^/\\\0]{1,80}", sequence) is None or sequence.startswith("."):
        raise BadInput(Origin("--sequence"), f"is a name that can be a folder's, not {sequence!r}")
    if not study.is_dir():
        raise BadInput(Origin(str(study)), "there is no such folder; latchlore new makes a study")
    opened = open_port(port, baud, str(found))
    now = datetime.datetime.now().astimezone()
    folder = study / "wire" / sequence
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{now:%Y-%m-%d-%H%M%S}.log"
    about = f"{label or sequence}; {port}, {baud} baud {framing.upper()}, from {now:%Y-%m-%d %H:%M:%S}"
    click.echo(f"Listening; Ctrl-C ends the run.  Keeping it in {path}", err=True)
    heard = listen(opened, path, about, _show, lambda: False)
    click.echo(f"\n{heard.count} bytes kept; {heard.ended}.", err=True)
    click.echo(f"Weigh them with:  latchlore weigh {as_typed(study)}", err=True)
    return None


def _show(piece: bytes) -> None:
    shown = "".join(
        chr(byte) if 0x20 <= byte < 0x7F else "\n" if byte == 0x0A else "" if byte == 0x0D else f"<{byte:02X}>"
        for byte in piece
    )
    sys.stdout.write(shown)
    sys.stdout.flush()
