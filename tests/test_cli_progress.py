"""Progress is shown on a terminal, after a second, and leaves nothing behind."""

from __future__ import annotations

import io

from latchlore.cli._progress import ProgressLine


class _Screen(io.StringIO):
    """A stream that says whether it is a terminal."""

    def __init__(self, live: bool) -> None:
        super().__init__()
        self._live = live

    def isatty(self) -> bool:
        """As asked for."""
        return self._live


class _Clock:
    """A clock that stands until it is moved."""

    now = 0.0

    def __call__(self) -> float:
        """Seconds."""
        return self.now


def test_progress_is_quiet_at_first() -> None:
    """Nothing is written within the first second."""
    screen, clock = _Screen(True), _Clock()
    with ProgressLine(screen, clock) as progress:
        clock.now = 0.99
        progress(1, 2, "merging")
    assert screen.getvalue() == ""


def test_progress_shows_and_wipes() -> None:
    """After a second the share and the words stand on one line, which is wiped at the end."""
    screen, clock = _Screen(True), _Clock()
    with ProgressLine(screen, clock) as progress:
        clock.now = 1.5
        progress(1, 4, "merging")
        clock.now = 1.55
        progress(2, 4, "too soon to be shown")
        clock.now = 1.7
        progress(3, 0, "on")
    assert screen.getvalue() == "\r 25 %  merging\ron" + " " * 12 + "\r" + " " * 2 + "\r"


def test_progress_wrong_place() -> None:
    """A pipe or a file gets nothing, however long it takes."""
    screen, clock = _Screen(False), _Clock()
    with ProgressLine(screen, clock) as progress:
        clock.now = 60.0
        progress(1, 2, "merging")
    assert screen.getvalue() == ""
