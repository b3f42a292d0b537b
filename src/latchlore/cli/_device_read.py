"""`latchlore device read` and `paper`: what a stream means to a device, and what it printed."""

from __future__ import annotations

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
    from latchlore.device import DoubtfulReading, LossReport, LossSurvey

COMMANDS = wording.DEVICE_COMMANDS


@click.command("read", short_help=COMMANDS["read"][1], epilog=wording.STATUSES)
@STREAM
@TABLE
@SWITCH
@BASE
@click.option("--losses", is_flag=True, help="Look for lost bytes: what tells of them, what would not.")
@click.option("--no-neighbours", is_flag=True, help="Rows of graphics need not resemble each other.")
@click.option("--limit", type=click.IntRange(min=1), default=200, help="Spans to list; default 200 (JSON has all).")
@JSON
@WIDTH
def read_command(
    stream: Path,
    table: Path,
    switch: tuple[str, ...],
    base: str,
    losses: bool,
    no_neighbours: bool,
    limit: int,
    as_json: bool,
    width: int | None,
) -> None:
    """Read STREAM with the command table TABLE: spans with meaning, what no row explains, rows never used.

    The doubts of a merge are carried through: a span that does not surely stand has its probability behind it.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.device import (
        doubts_to_plain,
        find_losses,
        losses_to_plain,
        read_sequence,
        stream_to_plain,
        survey_losses,
        survey_to_plain,
    )

    (device,) = open_tables([table])
    sequence = open_sequence(stream, base)
    settings = parse_settings(switch)
    with ProgressLine() as progress:
        found = read_sequence(device, sequence, settings, progress)
        report = find_losses(device, sequence, settings, progress, compare_rows=not no_neighbours) if losses else None
        survey = survey_losses(device, sequence.data, settings, progress) if losses else None
    if as_json:
        doubts = doubts_to_plain(found)
        plain: dict[str, Any] = {"stream": stream.name, **stream_to_plain(found.reading), "doubts": doubts["doubts"]}
        plain["exact_until"] = found.exact_until
        for span, sure in zip(plain["spans"], doubts["spans"], strict=True):
            span.update(sure)
        if report is not None and survey is not None:
            plain["lost"] = {**losses_to_plain(report), **survey_to_plain(survey)}
        print_plain_device("reading", plain)
        return
    _print_reading(stream, found, report, survey, limit, width)


def _print_reading(
    stream: Path,
    found: DoubtfulReading,
    report: LossReport | None,
    survey: LossSurvey | None,
    limit: int,
    width: int | None,
) -> None:
    from latchlore.base import is_doubtful
    from latchlore.cli._program_asking import print_page

    reading = found.reading
    page = titled_page(width, f"{stream.name}: {len(reading.data)} bytes", [reading.device])
    page.heading(f"{len(reading)} spans; {reading.num_unexplained} bytes that no row explains")
    for index in range(min(limit, len(reading))):
        sure = found.spans[index]
        doubt = f" (stands so with {sure.stands:.1%})" if is_doubtful(sure.stands) else ""
        page.say(f"{reading[index]}{doubt}", indent=2, hang=6)
    if len(reading) > limit:
        page.say(wording.further_spans(len(reading) - limit), indent=2)
    page.points("Doubts of the merge", map(str, found.doubts[:limit]))
    if found.exact_until < len(reading.data):
        page.gap()
        page.say(wording.estimated_from(found.exact_until))
    if report is not None:
        head = f"Losses inside counted data: {report.num_seen} bytes seen, {report.num_sent} sent if these are all"
        page.points(head, map(str, report.losses) if report.losses else (wording.NO_LOSSES,))
    if survey is not None:
        page.points("Complaints, and where one lost byte explains them", map(str, survey.troubles))
        page.points(wording.hidden_losses(survey.num_hidden), map(str, survey.hidden[:limit]))
    page.points("Rows never used", (f"{command.code}: {command.meaning}" for command in reading.never_used))
    print_page(page)


@click.command("layout", short_help=COMMANDS["layout"][1], epilog=wording.STATUSES)
@STREAM
@TABLE
@click.argument("name", metavar="COMMAND")
@click.option("--step", multiple=True, type=click.IntRange(1, 255), help="A possible line step, in dots.")
@click.option("--text", default="", metavar="TEXT", help="Lettering known to stand in the picture.")
@SWITCH
@BASE
@click.option("--limit", type=click.IntRange(min=1), default=12, help="Layouts to list; default 12 (JSON has all).")
@JSON
@WIDTH
def layout_command(
    stream: Path,
    table: Path,
    name: str,
    step: tuple[int, ...],
    text: str,
    switch: tuple[str, ...],
    base: str,
    limit: int,
    as_json: bool,
    width: int | None,
) -> None:
    """Rank the ways in which the data of COMMAND may become dots, by how well the picture hangs together.

    For graphics whose layout no document tells: columns or rows, bit order, bytes, line step.
    """
    from latchlore.cli._program_asking import print_page
    from latchlore.cli._progress import ProgressLine
    from latchlore.device import data_blocks, rank_layouts, ranking_to_plain, read_stream

    (device,) = open_tables([table])
    reading = read_stream(device, open_sequence(stream, base).data, parse_settings(switch))
    with ProgressLine() as progress:
        ranking = rank_layouts(data_blocks(reading, name), step, text, progress)
    if as_json:
        print_plain_device("layout", {"stream": stream.name, "command": name, **ranking_to_plain(ranking)})
        return
    page = titled_page(width, f"{stream.name}: layout of {name!r}", [device])
    page.heading("Inferred, not stated by any document")
    for line in str(ranking).splitlines():
        page.say(line, indent=2)
    page.points("Layouts, best first", map(str, ranking.guesses[:limit]))
    print_page(page)
