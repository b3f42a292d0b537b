"""Two recordings to be compared: each a byte log or a capture of a parallel handshake, told by how the file begins."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, no_progress
from latchlore.study._captures import StatedCapture, StatedLines, lines_of, open_capture, read_one_run

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from latchlore.base import Progress
    from latchlore.wire import Figure, Run

_VCD = re.compile(rb"\s*\$(comment|date|enddefinitions|scope|timescale|upscope|var|version)\s")
"""The keywords a VCD file can begin with (IEEE 1364-2005, clause 18.2); a byte log's ``$41`` is none."""


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """What a file holds: its one run; of a capture also the times of its handshake, and notes on how it was read."""

    run: Run
    figures: Mapping[str, Figure]
    notes: tuple[str, ...]
    is_capture: bool


def read_recording(
    path: Path, base: str, stated: StatedCapture, lines: StatedLines, progress: Progress = no_progress
) -> Recording:
    """The recording in a file: a VCD file or, where columns or bits are stated, another capture; else a byte log.

    Refuses a log of several runs, and a capture whose lines are neither stated nor to be proposed.
    """
    if not (stated.column or stated.bit):
        with path.open("rb") as source:
            if _VCD.match(source.read(4096)) is None:
                return Recording(read_one_run(path, base), {}, (), False)
    from latchlore.wire import measure_handshake, propose_lines, read_parallel

    capture = open_capture(path, stated, progress)
    wanted = lines_of(lines)
    guessed: tuple[str, ...] = ()
    if wanted is None:
        proposal = propose_lines(capture)
        if proposal.lines is None:
            raise BadInput(Origin(capture.file), proposal.reasons[0])
        wanted, guessed = proposal.lines, proposal.reasons
    reading = read_parallel(capture, wanted)
    figures = measure_handshake(capture, wanted, reading)
    return Recording(reading.as_run(), figures, (*capture.notes, *guessed, *reading.notes), True)
