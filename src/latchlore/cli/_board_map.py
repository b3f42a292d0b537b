"""`latchlore board map`: the register map of the board alone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from latchlore.cli import wording

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.board import PinDrive, Register, RegisterMap
    from latchlore.cli._terminal import Terminal


@click.command("map", short_help=wording.BOARD_COMMANDS["map"][1], epilog=wording.STATUSES)
@click.argument("study", type=click.Path(path_type=Path), metavar="STUDY")
@click.option("--ways", is_flag=True, help="Print the way of every bit through the parts.")
@click.option("--json", "as_json", is_flag=True, help="Print the same as JSON (docs/mating.md).")
@click.option(
    "--width", type=click.IntRange(min=40), metavar="COLUMNS", help="Columns; default the terminal's, or 100."
)
def map_command(study: Path, ways: bool, as_json: bool, width: int | None) -> None:
    """Print the register map of STUDY's board: where each register answers, and what each bit follows.

    STUDY is a study folder or a net file.  What is not known stays so, and what has not been traced is named.
    """
    from latchlore.board import decode
    from latchlore.study import load_board

    found = decode(load_board(study))
    if as_json:
        import json

        from latchlore.board import registers_to_plain

        plain = {"format": "latchlore-register-map", "version": 1, **registers_to_plain(found)}
        click.echo(f"{json.dumps(plain, indent=1, ensure_ascii=False)}\n".encode(), nl=False)
        return
    from latchlore.cli._terminal import Terminal

    terminal = Terminal.of_stdout(width)
    click.echo("\n".join(_Page(terminal, ways).lines(found)), color=terminal.tinted)


class _Page:
    def __init__(self, terminal: Terminal, ways: bool) -> None:
        self._terminal, self._ways = terminal, ways

    def bold(self, text: str) -> str:
        return f"\x1b[1m{text}\x1b[0m" if self._terminal.tinted else text

    def wrap(self, text: str, first: str = "", rest: str = "") -> list[str]:
        import textwrap

        from latchlore.cli._letters import harmless

        width = self._terminal.width
        return textwrap.wrap(
            harmless(text), width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
        )

    def lines(self, found: RegisterMap) -> Iterator[str]:
        from latchlore.board import describe_loop
        from latchlore.board import wording as words

        yield from (self.bold(line) for line in self.wrap(found.board.title or found.board.file))
        for register in found.registers:
            yield ""
            yield from self.register(register)
        if found.pins:
            yield ""
            yield self.bold("What drives the connectors")
            for drive in found.pins:
                yield from self.wrap(self.pin(drive), "  ", "      ")
        troubles = [
            f"{one.kind} at {one.place}: {one.words} ({one.origin})"
            for one in found.troubles
            if one.kind not in ("not traced", "near type")
        ]
        near = [f"{one.place}: {one.words}" for one in found.troubles if one.kind == "near type"]
        shared = [words.shared(one) for one in found.collisions]
        loops = [describe_loop(one) for one in found.loops]
        conflicts = [
            f"{one.first} and {one.second} drive {one.net} together during {one.during} at {one.addresses}"
            for one in found.conflicts
        ]
        for heading, rows in (
            ("Two outputs at once", conflicts),
            ("Addresses that reach two things", shared),
            ("Gates that feed themselves", loops),
            ("What is amiss", troubles),
            ("Types that are easily taken for others", near),
            ("Not done, which is not the same as no", list(found.not_done)),
        ):
            if rows:
                yield ""
                yield self.bold(heading)
                for row in rows:
                    yield from self.wrap(row, "  - ", "    ")

    def register(self, register: Register) -> Iterator[str]:
        from latchlore.board import wording as words

        space, address, direction = register.key
        head = f"{'port ' if space == 'port' else ''}{address} {direction} ({register.kind.value})"
        yield self.bold(head)
        count = f"{register.mirrors:,} address{'es' * (register.mirrors != 1)}"
        yield from self.wrap(f"{register.addresses}: {count}, parts {', '.join(register.parts)}", "  ", "    ")
        if register.unsure:
            yield from self.wrap(f"certain at {register.certain} only: {'; '.join(register.unsure)}", "  ", "    ")
        for bit in reversed(register.bits):
            note = f" ({bit.note})" if bit.note else ""
            yield from self.wrap(f"bit {bit.number}  {bit.sense}{note}", "    ", "           ")
            if self._ways:
                longest = max((reach.way for reach in bit.reaches), key=len, default=bit.way)
                yield from self.wrap(words.way_words(longest or bit.way), "           ", "           ")
        for reach in register.reaches:
            yield from self.wrap(f"pulses {reach.signal} {'low' if reach.inverted else 'high'}", "    ", "      ")
        for effect in (*register.effects, *([register.note] if register.note else [])):
            yield from self.wrap(effect, "    ", "      ")

    def pin(self, drive: PinDrive) -> str:
        kind = ", open collector" if drive.open_collector else ""
        pull = ", pulled" if drive.pulled else ""
        return f"{drive.connector.name}.{drive.pin.number} {drive.pin.signal}: {drive.sense}{kind}{pull}"
