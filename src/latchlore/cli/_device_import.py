"""`latchlore device import`: a command table out of a transcription in CSV."""

from __future__ import annotations

from pathlib import Path

import click

from latchlore.cli import wording
from latchlore.cli._device_asking import FILE

COMMANDS = wording.DEVICE_COMMANDS


@click.command("import", short_help=COMMANDS["import"][1], epilog=wording.STATUSES)
@click.argument("transcription", type=FILE, metavar="CSV")
@click.option("--title", required=True, metavar="TEXT", help="The document's title.")
@click.option("--device", required=True, metavar="NAME", help="The device it describes.")
@click.option("--kind", default="manual", metavar="KIND", help="manual, data sheet, note, ...; default manual.")
@click.option("--separator", default=",", metavar="SIGN", help="Between cells; a comma by default.")
@click.option("-o", "--output", type=click.Path(path_type=Path), metavar="TABLE", help="Write it there; else print it.")
def import_command(
    transcription: Path, title: str, device: str, kind: str, separator: str, output: Path | None
) -> None:
    """Make a device table of a transcription in CSV: one row a command, columns named as the keys of a command.

    Nothing is written unless the whole table is right, and no file is written over.
    """
    from latchlore.device import import_table

    if len(separator) != 1:
        raise click.BadParameter(f"a separator is one sign, not {separator!r}", param_hint="--separator")
    if output is not None and output.exists():
        raise click.BadParameter(f"{output} exists; name another file", param_hint="--output")
    heading: dict[str, str | int | bool] = {"title": title, "device": device, "kind": kind}
    toml = import_table(transcription.read_bytes(), transcription.name, heading, separator)
    if output is None:
        click.echo(toml.encode(), nl=False)
        return
    with output.open("x", encoding="utf-8", newline="\n") as file:
        file.write(toml)
    click.echo(wording.table_imported(str(output), toml.count("[[command]]\n")))
