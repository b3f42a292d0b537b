"""`latchlore board trace`: what to touch next on a board, and every answer kept as it is typed."""

from __future__ import annotations

import sys
from textwrap import fill
from typing import TYPE_CHECKING

import click

from latchlore.board import tracewording as said
from latchlore.cli import tracewording, wording
from latchlore.cli._arguments import STUDY

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from latchlore.board import PinAt
    from latchlore.board.tracing import Proposal, TraceReport
    from latchlore.study import Tracing

MOST_LIKELY = 4


@click.command("trace", short_help=wording.BOARD_COMMANDS["trace"][1], epilog=wording.STATUSES)
@STUDY
@click.option("--list", "listed", is_flag=True, help="Say what is not done, doubted and likely wrong, and stop.")
@click.option("--file", "file", default="", metavar="FILE", help="Readings file; default the only one of board/.")
@click.option("--no-strip", is_flag=True, help="Never propose a strip of foil across one side of a chip.")
def trace_command(study: Path, listed: bool, file: str, no_strip: bool) -> None:
    """Trace STUDY's board with a meter: type what beeps, Enter for nothing, ? for help.

    The parts list stands in a net file in board/; every answer goes to a readings file beside it as soon as it is
    given (docs/readings.md), and the nets concluded from all of them are the board of `latchlore weigh`.
    """
    from latchlore.study import open_tracing

    tracing = open_tracing(study, file, strips=not no_strip)
    if listed:
        click.echo("\n".join(_report(tracing.report())))
        return
    click.echo(_caution())
    answer = _ask(tracewording.READY)
    if answer is None or answer in ("q", "quit"):
        click.echo(tracewording.NOT_CONFIRMED)
        return
    _Session(tracing).run()
    click.echo(tracewording.KEPT.format(file=tracing.file))


def _caution() -> str:
    items = (fill(one, 117, initial_indent="  - ", subsequent_indent="    ") for one in said.CAUTIONS)
    return "\n".join([said.BEFORE, *items, said.DEFERS])


def _ask(prompt: str) -> str | None:
    """One typed line without blanks around it; None at the end of the input."""
    click.echo(prompt, nl=False)
    line = sys.stdin.readline()
    if not line:
        click.echo()
        return None
    return line.strip()


class _Session:
    """The conversation: one proposal, one answer."""

    def __init__(self, tracing: Tracing) -> None:
        self.tracing = tracing
        self.strip: tuple[PinAt, ...] = ()

    def run(self) -> None:
        """Ask until the user stops, the input ends, or nothing is left to ask."""
        from latchlore.base import BadInput
        from latchlore.cli._letters import harmless

        self._show()
        while True:
            single = len(self.tracing.proposal.row) == 1
            typed = _ask(tracewording.PROMPT_PIN if single else tracewording.PROMPT)
            if typed is None or typed in ("q", "quit"):
                return
            if self._told(typed):
                continue
            self.strip = self.tracing.proposal.strip or self.strip
            try:
                self.tracing.answer(typed)
            except BadInput as error:
                click.echo("\n".join(f"  {harmless(words)}" for _, words in error.mistakes))
                continue
            self._show()

    def _told(self, typed: str) -> bool:
        """Whether it was no answer but a word to us."""
        if typed == "?":
            click.echo(tracewording.HELP)
        elif typed == "list":
            click.echo("\n".join(_report(self.tracing.report())))
        elif typed == "likely":
            click.echo(_likely(self.tracing.proposal, len(self.tracing.proposal.likely)))
        elif typed == "undo":
            line = self.tracing.undo()
            click.echo(
                tracewording.UNDONE.format(line=line)
                if line
                else tracewording.NOTHING_TO_UNDO.format(file=self.tracing.file)
            )
            self._show()
        elif typed in ("strip on", "strip off"):
            self.tracing.use_strips(typed == "strip on")
            self._show()
        else:
            return False
        return True

    def _show(self) -> None:
        asked = self.tracing.proposal
        click.echo()
        click.echo(said.describe_progress(len(self.tracing.readings), asked.left, asked.missing))
        click.echo(said.describe_action(asked, self.strip))
        if asked.held is not None:
            click.echo(tracewording.WHY.format(words=asked.words))
            likely = _likely(asked, MOST_LIKELY)
            if likely:
                click.echo(likely)


def _likely(asked: Proposal, most: int) -> str:
    pins = [f"{at} {share:.0%}" for at, share in asked.likely if share >= said.WORTH_NAMING][:most]
    return tracewording.LIKELY.format(pins=", ".join(pins)) if pins else ""


def _report(report: TraceReport) -> Iterator[str]:
    from latchlore.board.tracing import describe_report

    words = describe_report(report)
    yield words.header
    for heading, lines in (
        (tracewording.NOT_DONE, words.not_done or (said.ALL_DONE,)),
        (tracewording.DISAGREE, words.against),
        (tracewording.DOUBTED, words.doubted),
    ):
        if lines:
            yield heading
        yield from (f"  {line}" for line in lines)
    if words.aside:
        yield words.aside
    if words.sanded:
        yield tracewording.SANDED
    yield from (f"  {line}" for line in words.sanded)
