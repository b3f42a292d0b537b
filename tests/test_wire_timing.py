"""Timing figures, against waveforms of known times and published rows."""

from __future__ import annotations

import random

import numpy as np
import pytest

from latchlore.base import Span, SpanLimit, SpanRange
from latchlore.wire import TIMING_ROWS, Figure, Latch, ParallelLines, measure_handshake, read_parallel
from tests.handshakes import NS, Host

LINES = ParallelLines(tuple(f"D{k}" for k in range(8)), "STROBE", busy="BUSY", ack="ACK", latch=Latch.LEADING)


def made(**settings: object) -> Host:
    host = Host(busy="after", **settings)  # type: ignore[arg-type]
    rng = random.Random(9)
    host.send([rng.randrange(256) for _ in range(40)], rng)
    return host


def test_measure_handshake() -> None:
    """Every figure of an exact capture is the one it was made with."""
    host = made(width=700 * NS, setup=600 * NS, hold=800 * NS, response=350 * NS)
    capture = host.exact()
    figures = measure_handshake(capture, LINES, read_parallel(capture, LINES))
    exactly = {
        "strobe width": 700,
        "data set-up": 600,
        "data hold": 800,
        "strobe to busy": 350,
        "acknowledge width": 5_000,
        "acknowledge end to busy end": 300,
    }
    for name, expected in exactly.items():
        figure = figures[name]
        assert (figure.least, figure.most) == (SpanRange.exactly(Span.of(ns=expected)),) * 2, name
        assert figure.count == 40
    assert list(figures) == [
        *("data set-up", "strobe width", "data hold", "pause", "byte period", "strobe to busy", "busy length"),
        *("busy end to strobe", "strobe to acknowledge", "acknowledge width", "acknowledge end to busy end"),
    ]


@pytest.mark.parametrize("mhz", [4, 24])
def test_measure_handshake_sampled(mhz: int) -> None:
    """In a sampled capture every true figure lies within the bounds, which are one sampling period either way."""
    host = made(width=1_300 * NS, setup=900 * NS, hold=1_700 * NS)
    step = 10**6 // mhz
    capture = host.sampled(step, 17)
    figures = measure_handshake(capture, LINES, read_parallel(capture, LINES))
    for name, true in {
        "strobe width": 1_300,
        "data set-up": 900,
        "data hold": 1_700,
        "acknowledge width": 5_000,
    }.items():
        figure = figures[name]
        assert figure.slack == step
        for k in range(figure.count):
            assert figure.at(k).least <= Span.of(ns=true) <= figure.at(k).most


def test_violations() -> None:
    """Epson FX-890/FX-2190 service manual, p. 24, table 1-26: a strobe of 400 ns breaks "at least 500 ns"."""
    row = TIMING_ROWS[0]
    assert (row.document, row.page) == ("Epson FX-890/FX-2190 service manual", "p. 24, table 1-26")
    host = made(width=400 * NS)
    capture = host.exact()
    figures = measure_handshake(capture, LINES, read_parallel(capture, LINES))
    least, most = row.figures["strobe width"]
    assert (least, most) == (500, None)
    limit = SpanLimit(Span.of(ns=500))
    found = list(figures["strobe width"].violations(limit))
    assert len(found) == 40
    place = Span(host.latched[0][0])
    assert str(found[0]) == f"made at {place}: strobe width is 400 ns; stated is at least 500 ns"
    assert not list(figures["data set-up"].violations(SpanLimit(Span.of(ns=500))))
    slow = host.sampled(250 * NS, 3)
    figure = measure_handshake(slow, LINES, read_parallel(slow, LINES))["strobe width"]
    assert figure.judge(limit) == (0, figure.count)  # 250 or 500 ns, each one period either way: cannot be told


def test_percentile() -> None:
    """The usual worked example of nearest rank, 15, 20, 35, 40, 50: 5th 15, 30th 20, 40th 20, 50th 35, 100th 50."""
    figure = Figure("byte period", "f", np.arange(5, dtype=np.int64), np.array([35, 20, 50, 15, 40], np.int64), 0)
    got = [figure.percentile(p).least.picoseconds for p in (5, 30, 40, 50, 100)]
    assert got == [15, 20, 20, 35, 50]


def test_find_length() -> None:
    """The first of several of one length."""
    figure = Figure("byte period", "f", np.arange(4, dtype=np.int64), np.array([7000, 5000, 5000, 9000], np.int64), 0)
    assert [figure.find_length(length) for length in (5000, 9000)] == [1, 3]


def test_find_length_wrong() -> None:
    """A length that was not measured is refused."""
    figure = Figure("byte period", "f", np.arange(1, dtype=np.int64), np.array([5000], np.int64), 0)
    with pytest.raises(ValueError, match=r"^no measured byte period is 6 ns$"):
        figure.find_length(6000)


def test_percentile_wrong() -> None:
    """A percentile of nothing is refused."""
    figure = Figure("byte period", "f", np.arange(1, dtype=np.int64), np.arange(1, dtype=np.int64), 0)
    with pytest.raises(ValueError, match=r"^a percentile is 1 to 100, not 0$"):
        figure.percentile(0)
