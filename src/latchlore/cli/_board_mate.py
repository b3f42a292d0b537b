"""`latchlore board mate`: what happens when the board's connectors are put together with others, danger first."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from latchlore.cli import wording
from latchlore.cli._arguments import STUDY

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from latchlore.board import Mating, Way
    from latchlore.cli._terminal import Terminal

SHOWN = 3
"""Findings of a wrong way that are printed unless all are asked for."""

_TINT = {"unsafe": "1;31", "cannot be told": "1;33", "safe": "32"}
_BOLD = "1"


@click.command("mate", short_help=wording.BOARD_COMMANDS["mate"][1], epilog=wording.STATUSES)
@STUDY
@click.option("--only", metavar="CONNECTOR", help="Only matings of this connector of the board.")
@click.option("--all", "everything", is_flag=True, help="Print every finding of every way, and the levels computed.")
@click.option("--json", "as_json", is_flag=True, help="Print the same as JSON (docs/mating.md).")
@click.option(
    "--width", type=click.IntRange(min=40), metavar="COLUMNS", help="Columns; default the terminal's, or 100."
)
def mate_command(study: Path, only: str | None, everything: bool, as_json: bool, width: int | None) -> None:
    """Put the connectors of STUDY's board together with those of mating/, the right way and the wrong ways.

    Each way is unsafe with the pin and the reason, or safe, or cannot be told, with the reading that would tell.
    Nothing is put together before this has been read: the cautions come first.
    """
    from latchlore.base import UnknownName
    from latchlore.study import mate_folder

    matings = mate_folder(study)
    if only is not None:
        matings = tuple(one for one in matings if one.one.name == only.lower())
        if not matings:
            known = dict.fromkeys(one.one.name for one in mate_folder(study))
            raise UnknownName(f"no mating of the study has connector {only!r} of the board", known)
    if as_json:
        import json

        from latchlore.board import mating_to_plain

        plain = {"format": "latchlore-matings", "version": 1, "matings": [mating_to_plain(one) for one in matings]}
        click.echo(f"{json.dumps(plain, indent=1, ensure_ascii=False)}\n".encode(), nl=False)
        return
    from latchlore.cli._terminal import Terminal

    terminal = Terminal.of_stdout(width)
    lines = [line for one in matings for line in _Page(terminal, everything).mating(one)]
    click.echo("\n".join(line.rstrip() for line in lines).rstrip("\n"), color=terminal.tinted)


class _Page:
    def __init__(self, terminal: Terminal, everything: bool) -> None:
        self._terminal, self._everything = terminal, everything

    def tint(self, text: str, code: str) -> str:
        return f"\x1b[{code}m{text}\x1b[0m" if code and self._terminal.tinted else text

    def wrap(self, text: str, first: str = "", rest: str = "") -> list[str]:
        import textwrap

        from latchlore.cli._letters import harmless

        return textwrap.wrap(
            harmless(text),
            self._terminal.width,
            initial_indent=first,
            subsequent_indent=rest,
            break_on_hyphens=False,
        )

    def mating(self, mating: Mating) -> Iterator[str]:
        from latchlore.board import matingwording as words

        head = mating.name + (", through a cable" if mating.cable else "")
        yield from (self.tint(line, _BOLD) for line in self.wrap(head))
        yield from self.wrap(self._verdict(mating), "  ", "  ")
        yield ""
        yield self.tint("Before anything is put together", _BOLD)
        for caution in words.CAUTIONS:
            yield from self.wrap(caution, "  ! ", "    ")
        yield ""
        for sentence in mating.missing:
            yield from self.wrap(sentence, "  ? ", "    ")
        if mating.missing:
            yield ""
        for k, way in enumerate(mating.ways):
            yield from self.way(mating, way, whole=self._everything or k == 0)
        yield self.tint("What this rests on", _BOLD)
        for sentence in mating.bounds:
            yield from self.wrap(sentence, "  - ", "    ")
        yield ""

    def _verdict(self, mating: Mating) -> str:
        from latchlore.board import describe_way

        if mating.right_known:
            return f"The right way: {describe_way(mating, mating.right)}"
        return f"Which way is right is not known; as it stands: {mating.harm.value}"

    def way(self, mating: Mating, way: Way, *, whole: bool) -> Iterator[str]:
        from latchlore.board import describe_figures, describe_pins
        from latchlore.board import matingwording as words

        verdict = words.HARM_WORDS[way.harm.value]
        works = words.WORKS_WORDS[way.works.value]
        yield f"{self.tint(verdict, _TINT[way.harm.value])}{', ' if works else ''}{works}: {way.name}"
        if len(way.names) > 1:
            yield from self.wrap(f"the same as {', '.join(way.names[1:])}", "    ", "    ")
        findings = way.findings if whole else way.findings[:SHOWN]
        for one in findings:
            where = describe_pins(mating, one.pins)
            text = f"{one.severity.value:9} {f'{where}: ' if where else ''}{one.words}"
            yield from self.wrap(text, "  ", " " * 12)
            if one.reading:
                yield from self.wrap(f"to tell: {one.reading}", " " * 12, " " * 12)
        if len(way.findings) > len(findings):
            yield f"            and {len(way.findings) - len(findings)} more (--all)"
        if self._everything:
            for pins, figures in way.figures:
                yield from self.wrap(
                    f"levels    {describe_pins(mating, pins)}: {describe_figures(figures)}", "  ", " " * 12
                )
        yield ""
