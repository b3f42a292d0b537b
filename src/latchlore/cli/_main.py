"""The command line: which commands there are, and what an error means to the caller."""

from __future__ import annotations

import importlib
import os
import sys
from typing import TYPE_CHECKING, Any, NoReturn

import click

from latchlore.cli import wording

if TYPE_CHECKING:
    from collections.abc import Sequence

PROGRAM = "latchlore"


class _ReaderGoneError(Exception):
    """Whoever read the output has had enough of it."""


class _Commands(click.Group):
    """A group whose commands are imported only when one is run."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - the signature is the library's
        """Every command, in the order of the job."""
        return list(wording.COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002 - as above
        """One command, or None."""
        if cmd_name not in wording.COMMANDS:
            return None
        command = importlib.import_module(f"latchlore.cli._{cmd_name}").command
        assert isinstance(command, click.Command)
        return command

    def invoke(self, ctx: click.Context) -> Any:
        """Run it.  The library would end the process itself where the reader of the output has gone."""
        try:
            return super().invoke(ctx)
        except BrokenPipeError as error:
            raise _ReaderGoneError from error

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002 - as above
        """The list of commands, without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl(list(wording.COMMANDS.items()))


@click.group(
    cls=_Commands,
    name=PROGRAM,
    help=wording.SUMMARY,
    epilog=wording.STATUSES,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(package_name=PROGRAM, message="%(prog)s %(version)s")
def _latchlore() -> None:
    pass


def run(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status.  A user's mistake never ends in a traceback."""
    try:
        status = _latchlore.main(args=arguments, prog_name=PROGRAM, standalone_mode=False)
        return status if isinstance(status, int) else 0
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (click.exceptions.Abort, KeyboardInterrupt):
        return _say_stopped()
    except _ReaderGoneError:
        return _reader_gone()
    except Exception as error:
        return _say_error(error)


def _say_stopped() -> int:
    from latchlore.base import INTERRUPTED

    _complain(wording.INTERRUPTED)
    return INTERRUPTED.exit_code


def _reader_gone() -> int:
    """Leave quietly."""
    from latchlore.base import READER_GONE

    # The interpreter flushes once more on its way out, and must find an open end.
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return READER_GONE.exit_code


def _say_error(error: Exception) -> int:
    from latchlore.base import FAULT, outcome_of

    outcome = outcome_of(error)
    if outcome is not FAULT:
        _complain(*_error_text(error).split("\n"))
        return outcome.exit_code
    if os.environ.get("LATCHLORE_DEBUG") == "1":
        import traceback

        traceback.print_exception(error)
        _complain(f"{type(error).__name__}: {error}", f"{wording.FAULT}. {wording.FAULT_REPORT_DEBUG}")
    else:
        _complain(f"{type(error).__name__}: {' '.join(str(error).split())}: {wording.FAULT}. {wording.FAULT_REPORT}")
    return outcome.exit_code


def _error_text(error: Exception) -> str:
    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename}: {error.strerror}" if error.filename is not None else error.strerror
    return str(error)


def _complain(*lines: str) -> None:
    from latchlore.cli._letters import harmless

    for line in lines:
        click.echo(f"{PROGRAM}: {harmless(line)}", err=True)


def main() -> NoReturn:
    """Run the command of this process and end it with its status."""
    # Our matrices are small: several threads of the linear algebra library would only wait for one another.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # Where a stream was closed before we started, what would go there goes nowhere.
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115 - for good
    # A reader may ask for an encoding that lacks a letter of ours; a stand-in is better than a stop.
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    status = run()
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        status = _reader_gone()
    sys.exit(status)
