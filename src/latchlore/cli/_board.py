"""`latchlore board`: the group of the commands that ask a board alone."""

from __future__ import annotations

import importlib

import click

from latchlore.cli import wording


class _Questions(click.Group):
    """A group whose commands are imported only when one is run (`wording.BOARD_COMMANDS`)."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - the signature is the library's
        """Every command, in the order of the job."""
        return list(wording.BOARD_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002 - as above
        """One command, or None."""
        if cmd_name not in wording.BOARD_COMMANDS:
            return None
        module = importlib.import_module(f"latchlore.cli.{wording.BOARD_COMMANDS[cmd_name][0]}")
        command = getattr(module, f"{cmd_name}_command")
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002 - as above
        """The list of commands, without importing any."""
        rows = [(name, words) for name, (_, words) in wording.BOARD_COMMANDS.items()]
        if rows:
            with formatter.section("Commands"):
                formatter.write_dl(rows)


@click.group("board", cls=_Questions, short_help=wording.COMMANDS["board"], epilog=wording.STATUSES)
def command() -> None:
    """Ask a board alone: trace it with a meter, and ask what its nets say.

    Each command takes a study's folder.  What is done at the bench has its caution where it is asked for.
    """
