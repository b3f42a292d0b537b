"""`latchlore dossier`: the published page."""

from __future__ import annotations

from pathlib import Path

import click

from latchlore.cli import wording
from latchlore.cli._arguments import STUDY


@click.command("dossier", short_help=wording.COMMANDS["dossier"], epilog=wording.STATUSES)
@STUDY
@click.option(
    "-o",
    "--output",
    "target",
    type=click.Path(path_type=Path),
    required=True,
    metavar="DIR",
    help="Folder to write; made where it is missing, and never inside the study.",
)
def command(study: Path, target: Path) -> int:
    """Write the table and the pictures of STUDY as one page to DIR.

    DIR/index.html needs no other file and no network, and prints on A4.  DIR/dossier.json says the same to programs,
    as DIR/dossier.schema.json describes it (docs/dossier.md); DIR/citations.json holds the references.  The same study
    gives the same bytes.  A folder that holds anything else is refused.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.dossier import gather_parts, write_dossier
    from latchlore.study import weigh_study

    with ProgressLine() as progress:
        table = weigh_study(study, progress)
        parts = gather_parts(study, table, progress)
        written = write_dossier(study, table, target, parts, progress=progress)
    click.echo(wording.DOSSIER_MADE.format(files=" and ".join(written), folder=target))
    return 0
