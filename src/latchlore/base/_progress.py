"""How long work reports how far it is."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[int, int, str], None]
"""Called with (done, total, words); total 0 where it is not known.  May raise KeyboardInterrupt."""


def no_progress(done: int, total: int, words: str) -> None:
    """Report to nobody."""
