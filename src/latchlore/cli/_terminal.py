"""What the place that the text goes to can show."""

from __future__ import annotations

import os
import shutil
import sys
from typing import NamedTuple

PIPE_COLUMNS = 100


class Terminal(NamedTuple):
    """`width` in columns; `tinted`: colours are understood; `marks`: letters beyond ASCII can be written."""

    width: int = PIPE_COLUMNS
    tinted: bool = False
    marks: bool = True

    @classmethod
    def of_stdout(cls, width: int | None = None) -> Terminal:
        """What standard output can show.  `width` overrides what it says of itself.

        Plain where it is no terminal, where ``NO_COLOR`` is set, and on a terminal that calls itself ``dumb``.
        """
        live = sys.stdout.isatty()
        columns = width or shutil.get_terminal_size((PIPE_COLUMNS, 24)).columns
        tinted = live and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
        try:
            "●╱µ".encode(sys.stdout.encoding or "ascii")
        except (UnicodeEncodeError, LookupError):
            return cls(max(columns, 40), tinted, False)
        return cls(max(columns, 40), tinted, True)
