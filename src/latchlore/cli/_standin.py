"""`latchlore standin`: what a replacement for the lost peripheral must do, and test vectors for it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from latchlore.cli import standinwording as words
from latchlore.cli import wording
from latchlore.cli._arguments import STUDY

if TYPE_CHECKING:
    from latchlore.cli._program_page import Page
    from latchlore.evidence import Demand, StandIn, StatusByte


@click.command("standin", short_help=wording.COMMANDS["standin"], epilog=wording.STATUSES)
@STUDY
@click.option(
    "--vectors",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Run the test vectors, and write them to DIR as JSON, CSV and VCD.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the same as JSON (docs/stand-in.md).")
@click.option(
    "--width", type=click.IntRange(min=40), metavar="COLUMNS", help="Columns; default the terminal's, or 100."
)
def command(study: Path, vectors: Path | None, as_json: bool, width: int | None) -> int:
    """Say what a stand-in for the peripheral of STUDY must do, as far as the witnesses say it.

    The idle status byte that every driver takes, how soon the host must be held off and whether software can, how
    long answers must last, how the data stand at the strobe, and what was never exercised.  Each point stands as
    its evidence does, with what would settle it.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.evidence import Standing, specify
    from latchlore.study import basis_of, hear_study

    with ProgressLine() as progress:
        hearing, table = hear_study(study, progress)
    basis = basis_of(hearing, table)
    stand_in = specify(basis)
    if as_json:
        from latchlore.cli._program_asking import print_plain
        from latchlore.evidence import stand_in_to_plain

        print_plain(stand_in_to_plain(stand_in))
    else:
        from latchlore.cli._program_asking import print_page

        print_page(stand_in_page(stand_in, width))
    if vectors is not None:
        from latchlore.evidence import vector_files
        from latchlore.study import set_kernel_cache, study_vectors, write_vectors

        set_kernel_cache()
        found = study_vectors(hearing, basis, stand_in)
        files = vector_files(stand_in, found, basis.clock)
        write_vectors(study, vectors, files)
        told = words.WROTE.format(count=len(files), vectors=len(found.vectors), folder=vectors)
        click.echo("\n".join([told, *(f"{words.LEFT_OUT}: {one}" for one in found.left_out)]), err=as_json)
    stands = [one.standing for one in stand_in.demands]
    stands += [line.standing for status in stand_in.status for line in status.bits]
    from latchlore.base import OUTCOME, Contradiction

    return OUTCOME[Contradiction].exit_code if Standing.CONTRADICTED in stands else 0


def stand_in_page(stand_in: StandIn, width: int | None) -> Page:
    """The specification as text."""
    from latchlore.cli._program_page import BOLD, WARN, Page
    from latchlore.evidence import stand_in_cautions

    page = Page(width)
    page.say(words.TITLE, code=BOLD)
    page.say(f"of {stand_in.title}")
    if stand_in.invented:
        page.say(wording.INVENTED)
    page.say(words.COMPUTED)
    for status in stand_in.status:
        _say_status(page, status)
    page.heading(words.DEMANDS)
    for demand in stand_in.demands:
        _say_demand(page, demand)
    if stand_in.answering:
        page.heading(words.ANSWERING.format(budget=_budget(stand_in)))
        for one in stand_in.answering:
            page.row(f"  {words.VERDICTS[one.verdict]:20}", f"{one.what}: {one.usual}")
    page.points(words.NEVER, stand_in.never)
    page.points(words.UNSAID, stand_in.unsaid)
    page.points(words.CAUTIONS, (f"{before}: {text}" for before, text in stand_in_cautions()), code=WARN)
    return page


def _say_status(page: Page, status: StatusByte) -> None:
    page.heading(words.STATUS.format(register=status.register))
    if status.value is None:
        page.say(words.NO_BYTE, 2)
    else:
        page.say(f"{status.pattern}, such as {status.value:02X}" if "x" in status.pattern else f"{status.value:02X}", 2)
    for driver in status.drivers:
        from latchlore.program import value_set

        told = value_set(set(driver.lets), exhausted=driver.is_exhausted) if driver.lets else "no byte"
        page.row(f"  “{driver.name}”  ", f"takes {told}" + ("; other inputs decide as well" if driver.depends else ""))
    for line in status.bits:
        name = f", {line.signal}" if line.signal else ""
        pin = name if line.pin is None else f"{name} {('low', 'high')[line.pin]} at the pin"
        asked = words.bit_words(line.level, line.tested_by, probably_undriven=line.probably_undriven)
        page.row(f"  bit {line.bit}  ", f"{words.FEEDS[line.feed.value]}{pin}; {asked}; {line.standing.value}")


def _say_demand(page: Page, demand: Demand) -> None:
    page.row(f"  {demand.what}  ", f"{demand.says} [{demand.standing.value}]")
    for text in demand.settle:
        page.say(f"to settle it: {text}", 4)


def _budget(stand_in: StandIn) -> str:
    """The time there is, and how many cycles of a controller that is."""
    from latchlore.base import SpanLimit
    from latchlore.evidence import controller_cycles

    spans = [
        one.limit.most for one in stand_in.demands if one.key == "hold off by" and isinstance(one.limit, SpanLimit)
    ]
    least = min(span for span in spans if span is not None)
    counts = ", ".join(f"{count:,} at {mhz} MHz" for mhz, count in controller_cycles(least))
    return f"{least} are so many cycles of a controller: {counts}"
