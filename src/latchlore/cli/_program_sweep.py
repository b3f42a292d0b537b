"""`latchlore program sweep`: a folder of images asked the same question."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from latchlore.cli import wording

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.study import Sweep, SweepRow


@click.command("sweep", short_help=wording.PROGRAM_COMMANDS["sweep"][1], epilog=wording.STATUSES)
@click.argument("folder", type=click.Path(path_type=Path), metavar="FOLDER")
@click.option("--writes", multiple=True, metavar="REGISTER=BYTES", help="May any path write these bytes in a row?")
@click.option("--touches", multiple=True, metavar="REGISTER", help="May any path read or write this register?")
@click.option(
    "--same-as", type=click.Path(path_type=Path, dir_okay=False), metavar="IMAGE", help="Does it behave like this one?"
)
@click.option("--cpu", default="", metavar="NAME", help="The processor; found where it is left out.")
@click.option("--load", default="", metavar="ADDRESS", help="Where raw files lie; found where it is left out.")
@click.option("--entry", default="", metavar="ADDRESS", help="Where to begin; else where the vector leads.")
@click.option("--vector", default="reset", show_default=True, metavar="NAME", help="The vector to begin at.")
@click.option("--devices", multiple=True, metavar="ADDRESSES", help="Further device registers, such as C800-C803.")
@click.option("--held", multiple=True, metavar="BITS", help="Bits that are the same at every read.")
@click.option("--given", multiple=True, metavar="WHAT", help="What is known at the entry, such as 'A = 41'.")
@click.option("--nodes", type=click.IntRange(min=1), default=20_000, show_default=True, help="The largest graph.")
@click.option("--files", "pattern", default="*", show_default=True, metavar="PATTERN", help="Which file names.")
@click.option("--workers", type=click.IntRange(min=1), default=None, metavar="N", help="Processes; else one a core.")
@click.option("--on", default="", metavar="ADDRESS", help="Ask on the Dask cluster with this scheduler.")
@click.option("--journal", type=click.Path(path_type=Path), help="Keep rows here instead of in the cache folder.")
@click.option("--fresh", is_flag=True, help="Ask anew what was asked before.")
@click.option("--json", "form", flag_value="json", help="Print JSON.")
@click.option("--csv", "form", flag_value="csv", help="Print CSV.")
def sweep_command(
    folder: Path,
    writes: tuple[str, ...],
    touches: tuple[str, ...],
    same_as: Path | None,
    cpu: str,
    load: str,
    entry: str,
    vector: str,
    devices: tuple[str, ...],
    held: tuple[str, ...],
    given: tuple[str, ...],
    nodes: int,
    pattern: str,
    workers: int | None,
    on: str,
    journal: Path | None,
    fresh: bool,
    form: str | None,
) -> int:
    """Ask every image in FOLDER, and in the folders in it, the same question; one row each.

    `never` is said only where every path was followed to its end.  Rows are kept as they come: the same command
    goes on where it was stopped.  The rows and their order do not depend on how many processes ask.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.study import SweepQuestion, set_kernel_cache, sweep_folder

    set_kernel_cache()
    if workers is not None and on:
        raise click.UsageError("--workers counts processes of this machine; leave it out with --on")
    reference = None if same_as is None else (same_as.name, same_as.read_bytes())
    question = SweepQuestion(cpu, load, entry, vector, devices, held, given, writes, touches, reference, nodes)
    try:
        with ProgressLine() as progress:
            sweep = sweep_folder(
                folder,
                question,
                workers=workers or 0,
                on=on,
                pattern=pattern,
                journal=journal,
                fresh=fresh,
                progress=progress,
            )
    except KeyboardInterrupt as error:
        for note in getattr(error, "__notes__", ()):
            click.echo(f"latchlore: {note}", err=True)
        raise
    _print(sweep, form)
    return 0


def _print(sweep: Sweep, form: str | None) -> None:
    from latchlore.cli._letters import harmless
    from latchlore.study import describe_sweep

    if form == "json":
        import json

        told = {"question": sweep.question.plain(), "rows": [row.plain() for row in sweep.rows]}
        click.echo(f"{json.dumps(told, indent=1, ensure_ascii=False)}\n".encode(), nl=False)
    elif form == "csv":
        click.echo("".join(_csv_lines(sweep)).encode(), nl=False)
    else:
        for line in _table(sweep):
            click.echo(harmless(line))
    click.echo(f"latchlore: {describe_sweep(sweep)}", err=True)


def _csv_lines(sweep: Sweep) -> Iterator[str]:
    """RFC 4180, a line of headings first."""
    import csv
    import io

    for cells in (_headings(sweep), *(_cells(sweep, row) for row in sweep.rows)):
        out = io.StringIO()
        csv.writer(out).writerow(cells)
        yield out.getvalue()


def _headings(sweep: Sweep) -> list[str]:
    asked = [text for one in sweep.question.asked for text in (one, f"{one}: where", f"{one}: why")]
    return ["file", "sha256", "bytes", "state", "cpu", "load", "entry", "nodes", *asked, "words"]


def _cells(sweep: Sweep, row: SweepRow) -> list[str]:
    """One row; an image that was not asked leaves the columns of the answers empty."""
    plain = row.plain()
    asked = [
        text for one in plain["answers"] for text in (one["verdict"], " ".join(one["places"]), "; ".join(one["why"]))
    ]
    asked += [""] * (3 * len(sweep.question.asked) - len(asked))
    head = [plain[key] for key in ("file", "sha256", "size", "state", "cpu", "load", "entry", "nodes")]
    return [*("" if cell is None else str(cell) for cell in head), *asked, "; ".join(row.words)]


def _table(sweep: Sweep) -> Iterator[str]:
    """Columns for people: file, the answers or why there are none, processor and places."""
    heads = ["image", *sweep.question.asked, "cpu", "load", "entry", "where, or why"]
    lines = [heads]
    for row in sweep.rows:
        plain = row.plain()
        verdicts = [one.verdict for one in row.answers] or [row.state] * len(sweep.question.asked)
        places = [place for one in plain["answers"] for place in one["places"]]
        unsure = [words for one in row.answers if one.verdict == "cannot be told" for words in one.why[:1]]
        why = " ".join(places[:4]) + (" ..." if len(places) > 4 else "") or "; ".join(unsure)
        if row.state != "asked":
            why = "; ".join(row.words)
        lines.append([row.file, *verdicts, row.cpu, plain["load"] or "", plain["entry"] or "", why])
    sizes = [max(len(line[k]) for line in lines) for k in range(len(heads) - 1)]
    for line in lines:
        yield "  ".join([*(f"{cell:{size}}" for cell, size in zip(line, sizes, strict=False)), line[-1]]).rstrip()
