"""`latchlore program`: the group of the commands that ask a program alone."""

from __future__ import annotations

import importlib

import click

from latchlore.cli import wording


class _Questions(click.Group):
    """A group whose commands are imported only when one is run (`wording.PROGRAM_COMMANDS`)."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - the signature is the library's
        """Every command, in the order of the job."""
        return list(wording.PROGRAM_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002 - as above
        """One command, or None."""
        if cmd_name not in wording.PROGRAM_COMMANDS:
            return None
        module = importlib.import_module(f"latchlore.cli.{wording.PROGRAM_COMMANDS[cmd_name][0]}")
        command = getattr(module, f"{cmd_name}_command")
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002 - as above
        """The list of commands, without importing any."""
        rows = [(name, words) for name, (_, words) in wording.PROGRAM_COMMANDS.items()]
        if rows:
            with formatter.section("Commands"):
                formatter.write_dl(rows)


@click.group("program", cls=_Questions, short_help=wording.COMMANDS["program"], epilog=wording.STATUSES)
def command() -> None:
    """Ask a program alone: what it touches, what it can send, when, and what it never can.

    Each command takes a study's folder, or image files with the processor, the place and the entry stated.
    """
