"""The order of the lines of a capture, against waveforms made with a known one."""

from __future__ import annotations

import random

import pytest

from latchlore.base import HandshakeEvent, OrderCount
from latchlore.wire import Latch, ParallelLines, count_order, read_parallel
from latchlore.wire import testify as wing
from tests.handshakes import NS, Host

LINES = ParallelLines(tuple(f"D{k}" for k in range(8)), "STROBE", busy="BUSY", ack="ACK", latch=Latch.LEADING)
TRAILING = ParallelLines(LINES.data, "STROBE", busy="BUSY", ack="ACK", latch=Latch.TRAILING)
DATA, BEGIN, END = HandshakeEvent.DATA_SET, HandshakeEvent.STROBE_BEGINS, HandshakeEvent.STROBE_ENDS
BUSY_ON, BUSY_OFF = HandshakeEvent.BUSY_BEGINS, HandshakeEvent.BUSY_ENDS
ACK_ON, ACK_OFF = HandshakeEvent.ACKNOWLEDGE_BEGINS, HandshakeEvent.ACKNOWLEDGE_ENDS


def made(count: int = 40, **settings: object) -> Host:
    """A host that has sent some bytes."""
    host = Host(**settings)  # type: ignore[arg-type]
    rng = random.Random(11)
    host.send([rng.randrange(256) for _ in range(count)], rng)
    return host


@pytest.mark.parametrize(
    ("busy", "pair"),
    [("before", (BUSY_OFF, ACK_ON)), ("during", (BUSY_OFF, ACK_OFF)), ("after", (ACK_OFF, BUSY_OFF))],
)
@pytest.mark.parametrize("step", [None, 40 * NS])
def test_count_order(busy: str, pair: tuple[HandshakeEvent, HandshakeEvent], step: int | None) -> None:
    """Data first, then the strobe; the end of busy before, in or after the acknowledge pulse, as it was made."""
    host = made(busy=busy, junk=False)
    capture = host.exact() if step is None else host.sampled(step, 7)
    order = count_order(capture, LINES, read_parallel(capture, LINES))
    assert order is not None
    assert {(DATA, BEGIN), (BEGIN, BUSY_ON), (BUSY_ON, END), pair} <= set(order.before)
    assert order.either == ()
    assert all(one.against == 0 for one in order.counts)


def test_count_order_during_the_strobe() -> None:
    """Data that are set while the strobe is on (taken at its end) come after its beginning."""
    host = made(busy="after", junk=False, latch="trailing", setup=300 * NS, width=900 * NS)
    capture = host.exact()
    order = count_order(capture, TRAILING, read_parallel(capture, TRAILING))
    assert order is not None
    assert {(BEGIN, DATA), (DATA, END)} <= set(order.before)


def test_count_order_exceptions() -> None:
    """Two bytes in which busy ends before the acknowledge pulse, among those in which it ends after it."""
    host = made(busy="after", junk=False)
    host.waves["BUSY"] = sorted(host.waves["BUSY"])
    falls = [k for k, (_, level) in enumerate(host.waves["BUSY"]) if level == 0][5:7]
    for k in falls:
        host.waves["BUSY"][k] = (host.waves["BUSY"][k - 1][0] + 1_000 * NS, 0)
    capture = host.exact()
    reading = read_parallel(capture, LINES)
    order = count_order(capture, LINES, reading)
    assert order is not None
    assert OrderCount(ACK_OFF, BUSY_OFF, 38, 2) in order.counts
    assert (ACK_OFF, BUSY_OFF) in order.either
    [said] = wing.testify_order(reading, order)
    assert said.note == (
        "40 strobes, each pair told by 40 of them at least; "
        "acknowledge begins before busy ends in 38, the other way in 2; "
        "acknowledge ends before busy ends in 38, the other way in 2"
    )


def test_count_order_untold() -> None:
    """Moves within one sampling period tell no order; nor do bytes that are all the same."""
    host = made(busy="none", ack=False, junk=False, setup=10 * NS)
    capture = host.sampled(100 * NS, 3)
    lines = ParallelLines(LINES.data, "STROBE", latch=Latch.LEADING)
    order = count_order(capture, lines, read_parallel(capture, lines))
    assert order is None or not {(DATA, BEGIN), (BEGIN, DATA)} & set(order.before) or order.counts[0].kept < 10
