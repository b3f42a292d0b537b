"""`latchlore wire compare`: what arrived against what was sent, or two recordings of which neither is known right."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from latchlore.cli import wording
from latchlore.cli._wire_asking import BASE, JSON, LINES, OPENING, STATED, WIDTH
from latchlore.cli._wire_capture import print_plain_wire

if TYPE_CHECKING:
    from collections.abc import Callable

    from latchlore.base import Span
    from latchlore.cli._program_page import Page
    from latchlore.study import Recording
    from latchlore.wire import FigurePair, Pauses, PeerReport

    Command = Callable[..., int | None]

LOG = click.Path(path_type=Path)
SHOWN = 60
"""Steps that are printed; --json has all."""


def _stated(command: Command) -> Command:
    """The options that tell what a capture holds and which lines are what."""
    for one in reversed((*OPENING, *LINES)):
        command = one(command)
    return command


@click.command("compare", short_help=wording.WIRE_COMMANDS["compare"][1], epilog=wording.STATUSES)
@click.argument("sent", type=LOG, metavar="SENT")
@click.argument("got", type=LOG, metavar="GOT")
@click.option("--peers", is_flag=True, help="Both are recordings; neither is known to be what was sent.")
@BASE
@_stated
@JSON
@WIDTH
def compare_command(
    sent: Path, got: Path, peers: bool, base: str, as_json: bool, width: int | None, **options: Any
) -> None:
    """Tell what was lost, added and changed between two byte logs of one run each, and what a host seems to do.

    Times in GOT serve as evidence of where a byte among equal ones was lost.  Either file may be a capture of a
    parallel handshake instead (the options that say what a capture holds are then about every capture named).

    With --peers both files are recordings of the same transmission: which of the two lost or doubled each byte that
    only one has, as far as the times tell, and how their pauses and, of two captures, their handshakes differ.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.study import StatedCapture, StatedLines, read_recording, set_kernel_cache

    set_kernel_cache()
    stated = StatedCapture(**{name: options[name] for name in STATED})
    of = ("data", "strobe", "busy", "ack", "low", "high", "latch")
    lines = StatedLines(**{name: options[name] for name in of})
    with ProgressLine() as progress:
        first, second = (read_recording(path, base, stated, lines, progress) for path in (sent, got))
    notes = [f"{path.name}: {note}" for path, one in ((sent, first), (got, second)) for note in one.notes]
    if peers:
        _peers(sent.name, got.name, first, second, notes, as_json, width)
    else:
        _against(sent.name, got.name, first, second, notes, as_json, width)


def _against(
    sent: str, got: str, first: Recording, second: Recording, notes: list[str], as_json: bool, width: int | None
) -> None:
    from latchlore.wire import compare_streams, differences_to_plain, explain_host

    differences = compare_streams(first.run.data, second.run.data, second.run.times)
    report = explain_host(first.run.data, second.run.data)
    if as_json:
        plain = {
            "sent": len(first.run.data),
            "got": len(second.run.data),
            "differences": differences_to_plain(differences),
            "rules": [{"words": rule.words, "explains": rule.explains} for rule in report.rules],
            "unexplained": differences_to_plain(report.unexplained),
            "notes": notes,
        }
        print_plain_wire("comparison", plain)
        return
    page = _page(width, f"{sent}: {len(first.run.data)} bytes sent; {got}: {len(second.run.data)} bytes arrived")
    if not differences:
        page.say("They are the same.")
    page.points("What the host does, it seems", (rule.words for rule in report.rules))
    left = [str(d) for d in (report.unexplained if report.rules else differences)]
    page.points("Differences" + (" that this does not explain" if report.rules else ""), left)
    page.points("Notes", notes)
    _print(page)


def _peers(
    one: str, other: str, first: Recording, second: Recording, notes: list[str], as_json: bool, width: int | None
) -> None:
    from latchlore.wire import compare_figures, compare_peers, peers_to_plain

    report = compare_peers(first.run, second.run)
    figures = compare_figures(first.figures, second.figures)
    if as_json:
        plain = {"first": one, "second": other, **peers_to_plain(report, figures), "notes": notes}
        print_plain_wire("peers", plain)
        return
    page = _page(
        width, f"{one}, the first: {len(first.run.data)} bytes; {other}, the second: {len(second.run.data)} bytes"
    )
    page.say(_summary(report))
    steps = [str(step) for step in report.steps]
    more = [f"and {len(steps) - SHOWN} more; --json has all"] if len(steps) > SHOWN else []
    page.points("Where they differ", steps[:SHOWN] + more)
    if report.pauses[0] is not None and report.pauses[1] is not None:
        page.heading("Pauses between bytes that both have")
        for name, pauses in zip((one, other), report.pauses, strict=True):
            assert pauses is not None
            page.row(f"  {name:24}", _pauses(pauses))
        if report.pace is not None:
            page.say(f"For one of the first's seconds the second has {float(report.pace):.6f}.", 2)
        page.points("The pauses that differ most, the pace taken out", (
            f"before byte {s.first_at} of the first and {s.second_at} of the second: {s.first} and {s.second}"
            for s in report.shifts[:5]
        ))  # fmt: skip
    page.points("Times of the handshake", (_figures(pair) for pair in figures))
    page.points("Notes", notes)
    _print(page)


def _summary(report: PeerReport) -> str:
    from latchlore.wire import Verdict

    if not report.steps:
        return f"All {report.pairs} bytes are the same."
    parts = []
    for side, name in enumerate(("first", "second")):
        lost, added = report.count(side, Verdict.LOST), report.count(side, Verdict.ADDED)
        parts.append(f"the {name} lost {lost} and has {added} in excess")
    return f"{report.pairs} bytes stand side by side.  By the times {', '.join(parts)}; of {report.open} nothing tells."


def _pauses(pauses: Pauses) -> str:
    return (
        f"{pauses.least} to {pauses.most}, half of them up to {pauses.p50}, 90 of 100 from {pauses.p5} to "
        f"{pauses.p95} ({pauses.count} pauses)"
    )


def _figures(pair: FigurePair) -> str:
    sides = []
    for name, figure in (("first", pair.first), ("second", pair.second)):
        if figure is None:
            sides.append(f"not in the {name}")
        else:
            least, middle, most = (_middle(r.least, r.most) for r in (figure.least, figure.percentile(50), figure.most))
            sides.append(f"{least} to {most}, half up to {middle} ({figure.count})")
    said = {None: "", True: "; they differ", False: "; no difference that the sampling shows"}[pair.differs]
    if pair.is_apart:
        said = "; every one of these is longer in one than in the other"
    return f"{pair.name}: {' | '.join(sides)}{said}"


def _middle(least: Span, most: Span) -> Span:
    from latchlore.base import Span

    return Span((least.picoseconds + most.picoseconds) // 2)


def _page(width: int | None, title: str) -> Page:
    from latchlore.cli._program_page import BOLD, Page

    page = Page(width)
    page.say(title, code=BOLD)
    return page


def _print(page: Page) -> None:
    click.echo(page.text(), nl=False, color=page.terminal.tinted)
