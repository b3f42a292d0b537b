"""Whether bytes can be missing from a capture: stretches not recorded, files that break off, strobes cut in two.

`$dumpoff` as IEEE 1364-2005, 18.1.3 has it: every variable is said to be x, then nothing is written until `$dumpon`.
"""

from __future__ import annotations

from pathlib import Path
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.wire import (
    Capture,
    ParallelLines,
    _completeness,
    measure_handshake,
    read_parallel,
    read_vcd,
)
from latchlore.wire.testify import testify_reading as hear_reading
from tests.handshakes import make_capture

HEAD = '$timescale 1 ns $end $var wire 1 ! STB $end $var wire 8 " D $end $enddefinitions $end\n'
LINES = ParallelLines(("D",), "STB", strobe_active=0)


def record(folder: Path, *parts: str) -> Capture:
    """A file of records; 'A' to 'Z' stand for a byte, 100 us long, with a strobe of 1 us in it, '_' for a gap."""
    now, text = 0, '#0\n1!\nbx "\n'
    for part in parts:
        if part == "_":
            text += f'#{now}\n$dumpoff\nx!\nbx "\n$end\n#{now + 300_000}\n$dumpon\n1!\nb0 "\n$end\n'
            now += 301_000
        elif part.isupper():
            text += f'#{now}\nb{ord(part):b} "\n#{now + 5_000}\n0!\n#{now + 6_000}\n1!\n'
            now += 100_000
        else:
            text += part
    path = folder / "t.vcd"
    path.write_text(HEAD + text)
    return read_vcd(path, "t.vcd")


@pytest.mark.parametrize(
    ("parts", "complete", "why"),
    [
        ("ABCD", True, "the file records every change"),
        ("AB_CD", False, "nothing was recorded for 300 us in all"),
        ("A_B_CD", False, "nothing was recorded for 600 us in all"),
        (("A", "B", "#30000"), False, "the file breaks off, so what came after is not known"),
        (
            ("A", "B", "#300000\n0!\n#301000\n"),
            False,
            "one strobe is cut by the begin or the end of what was recorded, and its byte is left out",
        ),
        (
            ("A", "B", "#300000\n0!\n", "#3000"),
            False,
            "the file breaks off, so what came after is not known; "
            "one strobe is cut by the begin or the end of what was recorded, and its byte is left out",
        ),
        ("", None, "no whole strobe is in the capture: nothing was sent, or it is the wrong line"),
    ],
)
def test_lessen(tmp_path: Path, parts: tuple[str, ...], complete: bool | None, why: str) -> None:
    """A capture with a stretch not recorded, a break or a strobe cut in two is not complete, and is no sequence."""
    reading = read_parallel(record(tmp_path, *parts), LINES)
    assert reading.data == "".join(part for part in parts if part.isupper()).encode()
    assert (reading.complete, reading.complete_why) == (complete, why)
    assert bool(hear_reading("s", reading)) == bool(complete)


def test_measure_handshake_gaps(tmp_path: Path) -> None:
    """Times that reach into a stretch not recorded are left out, those beside it are kept."""
    capture = record(tmp_path, *"AB_CD_E")
    figures = measure_handshake(capture, LINES, read_parallel(capture, LINES))
    assert {name: figure.lengths.tolist() for name, figure in figures.items()} == {
        "data set-up": [5_000_000] * 4,  # what the first byte changed from is not known
        "strobe width": [1_000_000] * 5,
        "data hold": [94_000_000] * 2,  # of A and C only, from the trailing edge on, since either may count
        "pause": [99_000_000] * 2,
        "byte period": [100_000_000] * 2,
    }


@given(st.lists(st.integers(0, 3), max_size=12), st.integers(1, 5), st.integers(0, 1))
def test_count_cut(levels: list[int], part: int, active: int) -> None:
    """In parts of any size it counts as a walk over the edges does."""
    known = [2, *levels, 2]
    plain = sum(known[k] == active and (known[k - 1] > 1 or known[k + 1] > 1) for k in range(1, len(known) - 1))
    with patch.object(_completeness, "PART", part):
        times = np.arange(len(levels), dtype=np.int64)
        assert _completeness.count_cut((times, np.array(levels, np.uint8)), active) == plain


def test_count_cut_sampled() -> None:
    """A capture that begins and ends inside a strobe says so, however it was taken."""
    wave = [(0, 0), (100, 1), (200, 0), (300, 1), (400, 0)]
    reading = read_parallel(make_capture({"S": wave, "A": [(0, 1)]}, 500, 10), ParallelLines(("A",), "S", 0))
    assert (len(reading.data), reading.complete) == (1, False)
    assert reading.complete_why.startswith("2 strobes are cut by the begin or the end of what was recorded, and their")
