"""`latchlore desk`: the local page."""

from __future__ import annotations

from pathlib import Path

import click

from latchlore.cli import wording
from latchlore.cli._arguments import STUDY


@click.command("desk", short_help=wording.COMMANDS["desk"], epilog=wording.STATUSES)
@STUDY
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    help="Port on this machine; default a free one.",
)
@click.option(
    "--address",
    default="127.0.0.1",
    metavar="ADDRESS",
    help="Address of this machine to listen at; default this machine only.  For a phone beside the bench.",
)
@click.option("--no-browser", is_flag=True, help="Print the address only.")
def command(study: Path, port: int, address: str, no_browser: bool) -> int:
    """Open STUDY as a page in your browser, for this machine only unless --address says otherwise.

    The address holds a secret; nobody who does not know it sees the page.  The table follows the files as you change
    them.  Stop with Ctrl-C.
    """
    from latchlore.desk import serve

    serve(study, port=port, browser=not no_browser, say=click.echo, address=address)
    return 0
