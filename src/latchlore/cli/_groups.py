"""Groups of commands whose modules are imported only when one is run."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Mapping


class ListedGroup(click.Group):
    """A group over a table: command → the module of this package that holds it as ``NAME_command``, and its line."""

    def __init__(self, *arguments: Any, table: Mapping[str, tuple[str, str]], **settings: Any) -> None:
        super().__init__(*arguments, **settings)
        self.table = table

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - the signature is the library's
        """Every command, in the order of the job."""
        return list(self.table)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002 - as above
        """One command, or None."""
        if cmd_name not in self.table:
            return None
        module = importlib.import_module(f"latchlore.cli.{self.table[cmd_name][0]}")
        command = getattr(module, f"{cmd_name}_command")
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002 - as above
        """The list of commands, without importing any."""
        rows = [(name, words) for name, (_, words) in self.table.items()]
        if rows:
            with formatter.section("Commands"):
                formatter.write_dl(rows)
