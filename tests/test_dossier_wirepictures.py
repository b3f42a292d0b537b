"""Pictures of the wire: what is drawn is what was merged and measured."""

from __future__ import annotations

import random
import re
from typing import TYPE_CHECKING
from xml.etree import ElementTree

from latchlore.base import Span, SpanLimit
from latchlore.cli import run
from latchlore.dossier import draw_figures, draw_runs
from latchlore.wire import Latch, ParallelLines, Run, measure_handshake, merge, read_parallel
from tests.handshakes import NS, Host

if TYPE_CHECKING:
    from pathlib import Path

LINES = ParallelLines(tuple(f"D{k}" for k in range(8)), "STROBE", busy="BUSY", ack="ACK", latch=Latch.LEADING)


def count(drawing: str, classes: str) -> int:
    return len(re.findall(f'class="{classes}"', drawing))


def test_draw_runs() -> None:
    """One bar a byte; a place for every lost byte, a frame for every changed one, a wedge for every double."""
    runs = [
        Run.of(b"TIDE 3.41"),
        Run.of(b"TIE 3.41"),
        Run.of(b"TIDE 3.51"),
        Run.of(b"TIDDE 3.41"),
        Run.of(b"TIDE 3.41"),
    ]
    merged = merge(runs)
    assert merged.sequence.data == b"TIDE 3.41"
    drawing = draw_runs(merged, runs)
    ElementTree.fromstring(drawing)
    assert count(drawing, "sure") + count(drawing, "sure doubtful") == 9
    assert count(drawing, "cell absent") == sum(one.num_dropped for one in merged.aligned) == 1
    assert count(drawing, "cell broken") == 1
    assert count(drawing, "wedge") == 1
    assert drawing == draw_runs(merged, runs)


def test_draw_runs_long() -> None:
    """What is too long to be drawn is said."""
    data = random.Random(1).randbytes(1500)
    drawing = draw_runs(merge([Run.of(data), Run.of(data)]), [Run.of(data), Run.of(data)])
    assert "and 220 bytes more, which are not drawn" in drawing


def test_draw_figures() -> None:
    """Bars for every figure; a limit's verdict is the figure's own."""
    host = Host(busy="after", width=400 * NS)
    rng = random.Random(1)
    host.send([rng.randrange(256) for _ in range(30)], rng)
    capture = host.exact()
    figures = measure_handshake(capture, LINES, read_parallel(capture, LINES))
    limits = {"strobe width": SpanLimit(Span.of(ns=500)), "data set-up": SpanLimit(Span.of(ns=500))}
    drawing = draw_figures(figures, limits, "a row")
    ElementTree.fromstring(drawing)
    assert count(drawing, "time") >= len(figures)
    assert count(drawing, "limit") == 2
    assert "at least 500 ns: broken 30 times" in drawing
    assert "at least 500 ns: kept" in drawing


def test_picture_files(tmp_path: Path) -> None:
    """The command writes a whole SVG file."""
    log = tmp_path / "a.log"
    log.write_text("numbers: hex\nruns: line\n41 42\n41\n41 42\n")
    assert run(["wire", "merge", str(log), "--picture", str(tmp_path / "a.svg")]) == 0
    text = (tmp_path / "a.svg").read_text("utf-8")
    assert text.startswith("<?xml")
    assert ElementTree.fromstring(text.encode()).tag == "{http://www.w3.org/2000/svg}svg"
