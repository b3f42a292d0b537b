"""The commands: read arguments, make one library call, print."""

from latchlore.cli._main import main, run

__all__ = ["main", "run"]
