"""Long captures read in stretches, against the same captures read as a whole."""

from __future__ import annotations

import random
from itertools import product
from typing import TYPE_CHECKING

import numpy as np
import pytest

from latchlore.wire import Latch, ParallelLines, ParallelReading, read_parallel
from latchlore.wire import _longhandshake as long
from latchlore.wire._handshake import HandshakeReader
from latchlore.wire._lines import Concluded
from tests.handshakes import NS, Host, make_capture

if TYPE_CHECKING:
    from latchlore.wire import Capture

NAMES = tuple(f"D{k}" for k in range(8))
COLUMNS = ("values", "doubt", "since", "until", "seen", "leads", "trails")


@pytest.fixture(autouse=True)
def _short(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(long, "STRETCH", 120)
    monkeypatch.setattr(long, "OVERLAP", 30)


def same(found: ParallelReading, whole: ParallelReading) -> None:
    """Compare all but the reasons, which name the stretches."""
    for name in COLUMNS:
        assert np.array_equal(getattr(found, name), getattr(whole, name)), name
    assert (found.complete, found.complete_why, found.notes) == (whole.complete, whole.complete_why, whole.notes)

    def value(told: Concluded | None) -> int | None:
        return None if told is None else told.value

    for name in ("strobe_active", "busy_active", "ack_active", "latch"):
        assert value(getattr(found, name)) == value(getattr(whole, name)), name


def sent(seed: int, count: int = 400) -> list[int]:
    """Random bytes with some said twice."""
    rng = random.Random(seed)
    data = [rng.randrange(256) for _ in range(count)]
    for k in range(10, count, 37):
        data[k] = data[k - 1]
    return data


def cuts_of(capture: Capture, lines: ParallelLines) -> ParallelReading | None:
    """The reading in stretches."""
    return long.read_long(capture, lines)


@pytest.mark.parametrize("latch", ["leading", "trailing"])
@pytest.mark.parametrize("busy", ["before", "during", "after", "none", "full"])
def test_read_long(latch: str, busy: str) -> None:
    """Whatever the handshake and the sampling, stretches give what the whole gives, or do not pretend to."""
    read = 0
    kinds = ((100, None, False), (100, 24, True), (500, 2, True), (1000, 2, False), (1000, 24, False))
    for ack, (width, mhz, stated) in product((True, False), kinds):
        host = Host(width=width * NS, latch=latch, busy=busy, ack=ack)
        rng = random.Random(width)
        host.send(sent(width), rng)
        step = None if mhz is None else 10**6 // mhz
        capture = host.exact() if step is None else host.sampled(step, rng.randrange(step))
        lines = ParallelLines(
            NAMES,
            "STROBE",
            busy=None if busy == "none" else "BUSY",
            ack="ACK" if ack and busy != "full" else None,
            latch=Latch(latch) if stated else None,
        )
        found = cuts_of(capture, lines)
        if found is not None:
            read += 1
            same(found, HandshakeReader(capture, lines).read())
    assert read >= 8, read


def test_read_long_ringing() -> None:
    """Strobes that ring are told by the soonest new byte of all stretches, also where a stretch has none of its own."""
    host = Host(junk=False, busy="none", ack=False, work=100 * NS)
    host.send(sent(1), random.Random(1))
    end = host.end
    strobe = host.waves["STROBE"]
    for k in (51, 401, 751):  # rising edges: low again for a moment
        time = strobe[k + 1][0] if strobe[k + 1][1] == 1 else strobe[k][0]
        strobe += [(time + 60 * NS, 0), (time + 90 * NS, 1)]
    strobe.sort()
    host.end = end
    capture, lines = host.exact(), ParallelLines(NAMES, "STROBE", latch=Latch.LEADING)
    found, whole = cuts_of(capture, lines), HandshakeReader(capture, lines).read()
    assert found is not None
    assert any("look like ringing" in note for note in whole.notes)
    same(found, whole)


def test_read_long_soonest() -> None:
    """A strobe soon after another of the same byte rings only if new bytes never come nearly as soon in any stretch."""
    rng = random.Random(5)
    waves: dict[str, list[tuple[int, int]]] = {name: [(0, 0)] for name in NAMES}
    waves["STROBE"] = [(0, 1)]
    now = 0
    for k in range(400):  # the first half is slow, the second fast
        now += (100_000 if k < 200 else 60_000) * NS
        for bit, name in enumerate(NAMES):
            waves[name].append((now - 500 * NS, rng.randrange(256) >> bit & 1))
        again = {100: 20_000, 300: 5_000}.get(k)  # the first is a true double for all that is known
        for lead in (now, *([now + again * NS] if again else [])):
            waves["STROBE"] += [(lead, 0), (lead + 500 * NS, 1)]
    capture = make_capture(waves, now + 10_000 * NS)
    lines = ParallelLines(NAMES, "STROBE", latch=Latch.LEADING)
    found, whole = cuts_of(capture, lines), HandshakeReader(capture, lines).read()
    assert found is not None
    assert (whole.seen == 2).sum() == 1
    same(found, whole)


def test_read_long_reasons(monkeypatch: pytest.MonkeyPatch) -> None:
    """`read_parallel` takes the stretches for long captures, and reasons say that they come from the first."""
    host = Host(junk=False)
    host.send(sent(2), random.Random(2))
    monkeypatch.setattr("latchlore.wire._handshake.LONG", 500)
    reading = read_parallel(host.exact(), ParallelLines(NAMES, "STROBE", busy="BUSY"))
    assert bytes(reading.data) == bytes(sent(2))
    assert reading.busy_active == Concluded(
        1,
        "it is low when a strobe begins, 60 times of 60 (the first of 7 stretches that the capture was read in; the "
        "others alike)",
    )
    assert isinstance(reading.until, np.memmap)


def test_read_long_uncut() -> None:
    """A busy line that never rests at a strobe leaves no cut, and stretches that disagree are no reading."""
    host = Host(junk=False)
    host.send(sent(2), random.Random(2))
    host.waves["BUSY"] = [(0, 0), (1, 1)]
    assert cuts_of(host.exact(), ParallelLines(NAMES, "STROBE", busy="BUSY", busy_active=1)) is None
    other = Host(busy="none", ack=False, junk=False)
    other.send(sent(4), random.Random(4))
    for k in range(8):  # data that moves inside the strobes of one half only
        wave = other.waves[f"D{k}"]
        moved = [(time + (700 * NS if time > other.end // 2 else 0), level) for time, level in wave]
        other.waves[f"D{k}"] = moved
    lines = ParallelLines(NAMES, "STROBE")
    found, whole = cuts_of(other.exact(), lines), HandshakeReader(other.exact(), lines).read()
    if found is not None:
        same(found, whole)
