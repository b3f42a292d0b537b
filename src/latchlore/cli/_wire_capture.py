"""`latchlore wire lines`, `read`, `timing` and `serial`: what a capture shows."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING, Any

import click

from latchlore.cli import wording
from latchlore.cli._program_asking import Streamed
from latchlore.cli._wire_asking import LINES, PICTURE, asking, hex_rows, open_asked, write_picture

if TYPE_CHECKING:
    from pathlib import Path

    from latchlore.cli._program_page import Page
    from latchlore.wire import Capture, Figure, ParallelLines

COMMANDS = wording.WIRE_COMMANDS
MANY_TIMES = 20
"""Of so many times the lower and upper twentieth are told as well."""
BROKEN_MOST = 20
"""So many places where a stated figure is not kept are printed."""


@click.command("lines", short_help=COMMANDS["lines"][1], epilog=wording.STATUSES)
@asking()
def lines_command(as_json: bool, width: int | None, **options: Any) -> None:
    """Tell what each line of CAPTURE does, and propose which is the strobe, busy, acknowledge and data.

    The names of the lines count for the order of the data lines only; what is proposed is a guess with its reasons.
    """
    from latchlore.wire import capture_to_plain, proposal_to_plain, propose_lines

    capture = open_asked(options)
    proposal = propose_lines(capture)
    if as_json:
        print_plain_wire("capture", {**capture_to_plain(capture), "proposal": proposal_to_plain(proposal)})
        return
    from latchlore.base import Span
    from latchlore.wire import ChannelKind

    quantities = [channel.name for channel in capture.channels if channel.kind is ChannelKind.REAL]
    page = capture_page(width, capture)
    page.heading("Lines")
    wide = max((len(a.name) for a in proposal.activity), default=4)
    for a in proposal.activity:
        pulses = f", {a.pulses} pulses of about {Span(a.width_ps)}" if a.pulses else ""
        page.row(f"  {a.name:{wide}}  ", f"{a.edges} edges, high for {a.high:.1%} of the time{pulses}")
    page.points("No lines, but measured quantities", quantities)
    page.points("What they may be (a guess; state it with --strobe and the like)", proposal.reasons)
    _print(page)


@click.command("read", short_help=COMMANDS["read"][1], epilog=wording.STATUSES)
@asking(LINES)
def read_command(as_json: bool, width: int | None, **options: Any) -> None:
    """Read the bytes of a parallel handshake in CAPTURE.

    A byte whose bits cannot all be told has a ? behind it.  Without --strobe the lines are proposed first.
    """
    from latchlore.wire import lines_to_plain, read_parallel, reading_to_plain

    capture = open_asked(options)
    lines, guessed = _lines(capture, options)
    reading = read_parallel(capture, lines)
    if as_json:
        plain = {**reading_to_plain(reading, Streamed), "lines": lines_to_plain(lines), "lines_proposed": bool(guessed)}
        print_plain_wire("handshake", plain)
        return
    page = capture_page(width, capture)
    page.points("The lines were proposed, not stated", guessed)
    sure = [bool(one) for one in reading.certain]
    page.heading(f"{len(reading.data)} bytes, {sum(sure)} of them certain")
    page.lines += hex_rows(reading.data, sure)
    complete = {
        True: "None is missing",
        False: "Bytes may be missing",
        None: "Whether bytes are missing cannot be told",
    }
    page.heading("How it was read")
    page.say(f"{complete[reading.complete]}: {reading.complete_why}.", 2)
    latch = {0: "at the leading edge", 1: "at the trailing edge", None: "at either edge"}[reading.latch.value]
    page.say(f"Data is taken {latch}: {reading.latch.why}.", 2)
    for name, found in (
        ("strobe", reading.strobe_active), ("busy", reading.busy_active), ("acknowledge", reading.ack_active)
    ):  # fmt: skip
        if found is not None:
            level = {0: "active low", 1: "active high", None: "of no clear level"}[found.value]
            page.say(f"The {name} line is {level}: {found.why}.", 2)
    page.points("Notes", reading.notes)
    _print(page)


@click.command("timing", short_help=COMMANDS["timing"][1], epilog=wording.STATUSES)
@asking(LINES)
@click.option("--against", default="", metavar="TEXT", help="A published row, by a part of its document's name.")
@click.option("--limit", multiple=True, metavar="FIGURE=LEAST..MOST", help="Such as 'strobe width=500 ns..'.")
@click.option("--list", "list_rows", is_flag=True, help="List the published rows.")
@PICTURE
def timing_command(
    as_json: bool,
    width: int | None,
    against: str,
    limit: tuple[str, ...],
    list_rows: bool,
    picture: Path | None,
    **options: Any,
) -> None:
    """Measure the times of a parallel handshake in CAPTURE, and test them against stated figures.

    A sampled capture leaves each time open by one sampling period either way; what may or may not keep a limit is
    said to be open.
    """
    from latchlore.study import limits_of
    from latchlore.wire import figures_to_plain, measure_handshake, read_parallel

    limits, source = limits_of(against, limit)
    capture = open_asked(options)
    lines, guessed = _lines(capture, options)
    figures = measure_handshake(capture, lines, read_parallel(capture, lines))
    if picture is not None:
        from latchlore.dossier import draw_figures

        write_picture(picture, draw_figures(figures, limits, source))
    if as_json:
        print_plain_wire("timing", {"file": capture.file, **figures_to_plain(figures, limits, source)})
        return
    page = capture_page(width, capture)
    if list_rows:
        from latchlore.wire import TIMING_ROWS

        page.points("Published rows for --against", (f"{row.document}, {row.page}" for row in TIMING_ROWS))
    page.points("The lines were proposed, not stated", guessed)
    page.heading("Times" + (f" against {source}" if source else ""))
    for name, figure in figures.items():
        page.row(f"  {name:28}", _times(figure))
    if not figures:
        page.say("None can be measured: no whole strobe was seen.", 2)
    judged = {name: figures[name].judge(one) for name, one in limits.items() if name in figures}
    broken = sum(count for count, _ in judged.values())
    violations = (str(v) for name in judged for v in figures[name].violations(limits[name]))
    more = [f"and {broken - BROKEN_MOST} more"] if broken > BROKEN_MOST else []
    page.points("Broken", [*islice(violations, BROKEN_MOST), *more])
    open_ones = [
        f"{name}: {count} of {figures[name].count} may or may not keep {limits[name]}"
        for name, (_, count) in judged.items()
        if count
    ]
    page.points("Open, since the sampling is too coarse", open_ones)
    page.points("Not in this capture", [name for name in limits if name not in figures])
    if limits and not broken and not open_ones and all(name in figures for name in limits):
        page.heading("Every stated figure is kept in this capture.")
    _print(page)


@click.command("serial", short_help=COMMANDS["serial"][1], epilog=wording.STATUSES)
@asking()
@click.option("--line", required=True, metavar="NAME", help="The line.")
@click.option("--bit-time", default="", metavar="TIME", help="Such as '104.167 us'; estimated where not stated.")
@click.option("--idle", type=click.Choice(["low", "high"]), help="The level of the resting line.")
@click.option("--framing", default="", metavar="8N1", help="Data bits, parity (N, E, O, M, S), stop bits.")
def serial_command(
    as_json: bool, width: int | None, line: str, bit_time: str, idle: str | None, framing: str, **options: Any
) -> None:
    """Read an asynchronous serial line of CAPTURE."""
    from latchlore.study import framing_of, span_of
    from latchlore.wire import read_serial, serial_to_plain

    stated = framing_of(framing)
    span = span_of("--bit-time", bit_time)
    capture = open_asked(options)
    level = None if idle is None else int(idle == "high")
    reading = read_serial(capture, line, span, level, stated)
    if as_json:
        print_plain_wire("serial", serial_to_plain(reading, Streamed))
        return
    page = capture_page(width, capture)
    page.heading(f"{len(reading.data)} bytes of {reading.framing} at {reading.rate_words}")
    page.lines += hex_rows(reading.data, [not doubtful for doubtful in reading.doubtful])
    page.heading("How it was read")
    page.say(f"A bit lasts {reading.bit_time}.", 2)
    page.say(f"The line rests {'high' if reading.idle.value else 'low'}: {reading.idle.why}.", 2)
    page.points("Notes", reading.notes)
    _print(page)


def _times(figure: Figure) -> str:
    from latchlore.base import Span

    least, middle, most = figure.least, figure.percentile(50), figure.most
    slack = f", each open by {Span(figure.slack)} either way" if figure.slack else ""

    def shown(span: Any) -> str:
        return str(Span((span.least.picoseconds + span.most.picoseconds) // 2))

    most_of_them = ""
    if figure.count >= MANY_TIMES:
        most_of_them = f", 90 of 100 from {shown(figure.percentile(5))} to {shown(figure.percentile(95))}"
    span = f"{shown(least)} to {shown(most)}, half of them up to {shown(middle)}{most_of_them}"
    return f"{span} ({figure.count} times{slack})"


def _lines(capture: Capture, options: dict[str, Any]) -> tuple[ParallelLines, tuple[str, ...]]:
    """The lines stated, or those proposed with the reasons."""
    from latchlore.base import BadInput, Origin
    from latchlore.study import StatedLines, lines_of
    from latchlore.wire import propose_lines

    names = ("data", "strobe", "busy", "ack", "low", "high", "latch")
    lines = lines_of(StatedLines(**{name: options[name] for name in names}))
    if lines is not None:
        return lines, ()
    proposal = propose_lines(capture)
    if proposal.lines is None:
        raise BadInput(Origin(capture.file), proposal.reasons[0])
    return proposal.lines, proposal.reasons


def capture_page(width: int | None, capture: Capture) -> Page:
    """A page that begins with what the capture holds."""
    from latchlore.cli._program_page import BOLD, Page

    page = Page(width)
    page.say(capture.file, code=BOLD)
    step = f", sampled every {capture.step}" if capture.step is not None else ", every change recorded"
    page.say(f"{capture.num_changes} values of {len(capture.channels)} channels in {capture.end - capture.begin}{step}")
    page.points("Notes on the file", capture.notes)
    return page


def _print(page: Page) -> None:
    click.echo(page.text(), nl=False, color=page.terminal.tinted)


def print_plain_wire(kind: str, plain: dict[str, Any]) -> None:
    """Print an answer of the wire as JSON."""
    from latchlore.cli._program_asking import print_plain

    print_plain({"format": f"latchlore-wire-{kind}", "version": 1, **plain})
