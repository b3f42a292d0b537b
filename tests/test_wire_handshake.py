"""Reading parallel handshakes from captures with a known truth.

Set-up, hold and strobe of 0.5 us and an acknowledge line beside busy: printed timing rows of the Epson FX-890/2190
service manual, p. 24, table 1-26; latching on either edge and busy only when full: Printronix and TallyGenicom manuals
(strobe from 100 ns).
"""

from __future__ import annotations

import random
from itertools import product

import numpy as np
import pytest

from latchlore.base import Span, UnknownName
from latchlore.wire import Capture, Channel, ChannelKind, Latch, ParallelLines, ParallelReading, Seen, read_parallel
from tests.handshakes import NS, Host, make_capture

NAMES = tuple(f"D{k}" for k in range(8))


def sent(seed: int = 3, count: int = 60) -> list[int]:
    rng = random.Random(seed)
    data = [rng.randrange(256) for _ in range(count)]
    data[20] = data[21]  # a true double
    return data


def check_honest(host: Host, reading: ParallelReading) -> None:
    """No byte given as certain is wrong, and no sequence given as complete lacks one."""
    for k in np.flatnonzero((reading.doubt == 0) & (reading.seen != Seen.RINGING)):
        truth = [byte for time, byte in host.latched if reading.since[k] <= time <= reading.until[k]]
        assert truth == [reading.values[k]]
    if reading.complete:
        assert len(reading.data) == len(host.latched)


@pytest.mark.parametrize("latch", ["leading", "trailing"])
@pytest.mark.parametrize("busy", ["before", "during", "after", "none", "full"])
def test_read_parallel_grid(latch: str, busy: str) -> None:
    """Bytes right wherever the samples allow it, "cannot be told" elsewhere, never a wrong byte given as certain."""
    for ack, width, mhz, stated in product((True, False), (100, 500, 1000), (None, 24, 4, 2), (True, False)):
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
        reading = read_parallel(capture, lines)
        check_honest(host, reading)
        truth = bytes(byte for _, byte in host.latched)
        if stated and (step is None or step * 2 < width * NS):
            assert (reading.data, reading.complete) == (truth, True)
            assert reading.certain.all()
        if not stated and latch == "leading" and busy in {"before", "during", "after"} and mhz in {None, 24}:
            expected = 0 if width == 1000 or reading.latch.value == 0 else None  # a short strobe ends before busy
            assert reading.latch.value == expected
            assert (reading.data, bool(reading.certain.all())) == (truth, True)


def test_read_parallel_polarity() -> None:
    """Active levels are concluded in every combination of them, and say why."""
    for strobe, busy, ack in product((0, 1), repeat=3):
        host = Host(strobe_active=strobe, busy_active=busy, ack_active=ack, junk=False)
        host.send(sent(), random.Random(1))
        reading = read_parallel(host.sampled(40 * NS, 7), ParallelLines(NAMES, "STROBE", busy="BUSY", ack="ACK"))
        assert reading.strobe_active.value == strobe
        assert reading.busy_active is not None
        assert reading.busy_active.value == busy
        assert reading.ack_active is not None
        assert reading.ack_active.value == ack
        idle = "low" if busy else "high"
        assert reading.busy_active.why == f"it is {idle} when a strobe begins, 60 times of 60"
        assert reading.data == bytes(sent())


def test_read_parallel_counted() -> None:
    """Strobes between the samples are counted by busy; a bit is told only where its line stood still."""
    host = Host(width=100 * NS, junk=False)
    host.send(sent(), random.Random(2))
    reading = read_parallel(
        host.sampled(250 * NS, 11), ParallelLines(NAMES, "STROBE", busy="BUSY", latch=Latch.LEADING)
    )
    counted = reading.seen == Seen.COUNTED
    assert 5 < counted.sum() < 55
    assert len(reading.data) == 60
    assert reading.complete
    assert reading.complete_why == "each of 60 cycles of the busy line has its strobe, or was counted without it"
    truth = np.array(sent(), np.uint8)
    assert ((reading.values ^ truth) & ~reading.doubt == 0).all()
    moved = np.concatenate([[truth[0]], truth[1:] ^ truth[:-1]])  # what moved between two bytes is in doubt, no more
    assert (reading.doubt[counted] & ~moved[counted] == 0).all()


def test_read_parallel_too_slow() -> None:
    """Without a line that counts, strobes on one sample only mean that bytes may be missing."""
    host = Host(width=100 * NS, busy="none", ack=False)
    host.send(sent(), random.Random(2))
    reading = read_parallel(host.sampled(500 * NS, 3), ParallelLines(NAMES, "STROBE", latch=Latch.LEADING))
    assert reading.complete is False
    num = len(reading.leads)
    assert reading.complete_why == (
        f"strobes are seen on one sample only ({num} of {num}): at a sampling period of 500 ns some may fall between "
        "samples, so bytes may be missing anywhere; sample at a period of 125 ns or faster"
    )


def ring(host: Host, at: int) -> None:
    """Add a second, short strobe just behind a byte's own."""
    wave = host.waves["STROBE"]
    edge = next(time for time, level in wave if level == 1 and time > host.latched[at][0])
    host.waves["STROBE"] = sorted([*wave, (edge + 60 * NS, 0), (edge + 120 * NS, 1)])


@pytest.mark.parametrize("busy", [True, False])
def test_read_parallel_ringing(busy: bool) -> None:
    """A ringing strobe is told from a true double by its pace, and for certain by a busy line that answers once."""
    host = Host(junk=False, hold=2_000 * NS)
    host.send(sent(), random.Random(5))
    for at in (4, 33, 50):
        ring(host, at)
    lines = ParallelLines(NAMES, "STROBE", busy="BUSY" if busy else None, latch=Latch.LEADING)
    reading = read_parallel(host.exact(), lines)
    assert reading.data == bytes(sent())  # the true double at 20, 21 stays
    assert np.flatnonzero(reading.seen == Seen.RINGING).tolist() == [5, 35, 53]
    tail = (
        "the busy line answers once for both"
        if busy
        else "without a busy or acknowledge line a true double cannot be ruled out"
    )
    assert reading.notes == (
        "3 strobes follow another so soon, the data standing still, that they look like ringing and were left out; "
        + tail,
    )


@pytest.mark.parametrize("hold", [200, 2000])
@pytest.mark.parametrize("latch", ["leading", "trailing"])
def test_read_parallel_ringing_undecided(latch: str, hold: int) -> None:
    """Ringing is no byte of its own either where the latching edge is open, or data moves while the strobe lasts."""
    host = Host(latch=latch, busy="none", ack=False, hold=hold * NS)
    host.send(sent(), random.Random(6))
    quiet = [k for k in (4, 33, 50) if latch == "leading" or hold == 2000]
    for at in quiet:
        ring(host, at)
    for capture in (host.exact(), host.sampled(41_666, 5)):
        reading = read_parallel(capture, ParallelLines(NAMES, "STROBE"))
        check_honest(host, reading)
        assert int((reading.seen == Seen.RINGING).sum()) == len(quiet)


def test_read_parallel_bit_7_strobe() -> None:
    """Where bit 7 of the port is the strobe, seven lines are data and bit 7 of every byte is 0."""
    host = Host(num_lines=7, strobe_active=1, busy="after", ack=False, junk=False)
    data = [byte & 0x7F for byte in sent()]
    host.send(data, random.Random(1))
    host.waves["D7"] = host.waves.pop("STROBE")
    reading = read_parallel(host.exact(), ParallelLines(NAMES[:7], "D7", busy="BUSY"))
    assert reading.data == bytes(data)
    assert reading.strobe_active.value == 1


def test_read_parallel_vector() -> None:
    """A bus recorded as one channel is taken apart; a bit of it can be named alone; the run has its times."""
    host = Host()
    host.send(sent(), random.Random(1))
    capture = host.exact()
    moments = sorted({int(t) for name in NAMES for t in capture.get_channel(name).times})
    value = np.zeros((len(moments), 1), np.uint64)
    for bit, name in enumerate(NAMES):
        line = capture.get_channel(name)
        at = np.searchsorted(line.times, moments, "right") - 1
        value[:, 0] |= line.levels[at].astype(np.uint64) << np.uint64(bit)
    bus = Channel(
        *(("DATA",), ChannelKind.VECTOR, 8, np.array(moments, np.int64), np.zeros(0, np.uint8)),
        *(value, np.zeros_like(value), np.zeros(0)),
    )
    joined = Capture("made", (bus, *capture.channels), Span(0), capture.end)
    reading = read_parallel(joined, ParallelLines(("DATA",), "STROBE", latch=Latch.LEADING))
    assert reading.data == bytes(sent())
    picked = ParallelLines(tuple(f"DATA[{k}]" for k in range(4)), "STROBE", latch=Latch.LEADING)
    assert read_parallel(joined, picked).data == bytes(byte & 15 for byte in sent())
    run = reading.as_run()
    assert run.times is not None
    assert [time.picoseconds for time in run.times if time] == [time for time, _ in host.latched]
    assert str(reading.origin(0)) == f"made at {Span(host.latched[0][0])}"


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (lambda: ParallelLines((), "S"), "a parallel port has 1 to 8 data lines, not 0"),
        (lambda: ParallelLines(("A",), "S", strobe_active=2), "an active level is 0 or 1, not 2"),
        (lambda: ParallelLines(("A", "S"), "S"), "line 'S' is named twice"),
    ],
)
def test_parallel_lines_wrong(lines: object, words: str) -> None:
    """Lines that cannot be are refused."""
    with pytest.raises(ValueError) as caught:
        lines()  # type: ignore[operator]
    assert str(caught.value) == words


def test_read_parallel_wrong() -> None:
    """A line that the capture does not have is refused, with those it has."""
    capture = make_capture({"A": [(0, 1)], "S": [(0, 1)]}, 10)
    with pytest.raises(UnknownName) as caught:
        read_parallel(capture, ParallelLines(("A",), "STROBE"))
    assert str(caught.value) == "made: no channel 'STROBE'; known are 'A', 'S'"
    with pytest.raises(UnknownName) as caught:
        read_parallel(capture, ParallelLines(("A[3]",), "S"))
    assert str(caught.value) == "made: channel 'A' is no bus, so it has no bit 3"


def test_read_parallel_silent() -> None:
    """A capture without a strobe gives no byte and says so."""
    reading = read_parallel(make_capture({"A": [(0, 1)], "S": [(0, 1)]}, 10, 5), ParallelLines(("A",), "S"))
    assert (reading.data, reading.complete) == (b"", None)
    assert reading.complete_why == "no whole strobe is in the capture: too slow to tell, or the wrong line"
    assert reading.strobe_active.why == "the line never leaves one level"


@pytest.mark.parametrize(("hold", "step", "told"), [(500, 200, True), (100, 500, False), (500, 500, False)])
def test_read_parallel_latch_moves(hold: int, step: int, told: bool) -> None:
    """Data that moves in the sampling period of an edge rules that edge out only where the period is short.

    Every published row has data stand for 450 ns at least on either side (SMSC FDC37C669, p. 157, hold); with a longer
    period the edge that moves with the data may be the one that takes it.
    """
    host = Host(width=5_000 * NS, setup=2_000 * NS, hold=hold * NS, latch="trailing", busy="none", ack=False)
    host.send(sent(), random.Random(2))
    reading = read_parallel(host.sampled(step * NS, 7), ParallelLines(NAMES, "STROBE"))
    check_honest(host, reading)
    assert reading.latch.value is None
    other = Host(width=5_000 * NS, setup=500 * NS, hold=5_050 * NS, latch="leading", busy="none", ack=False)
    other.send(sent(), random.Random(2))  # its data moves 50 ns behind the trailing edge
    reading = read_parallel(other.sampled(step * NS, 7), ParallelLines(NAMES, "STROBE", 0))
    check_honest(other, reading)
    assert reading.latch.value == (0 if told else None)
    if told:
        assert reading.latch.why.endswith(
            " and never at the other, though every published figure has it stand for 450 ns at least on either side of "
            "the edge that takes it"
        )


@pytest.mark.parametrize(("seed", "phase"), [(17, 900_000), (29, 263_078), (45, 500_000), (74, 500_000)])
def test_read_parallel_busy_mostly(seed: int, phase: int) -> None:
    """A busy line that is busy most of the time, its level told by nothing better, counts no bytes."""
    host = Host(width=200 * NS, setup=2_000 * NS, hold=3_000 * NS, busy="before", ack=True, response=50 * NS)
    host.busy_active = 0
    host.send(sent(seed), random.Random(seed))
    capture = host.sampled(1_000 * NS, phase)
    reading = read_parallel(capture, ParallelLines(NAMES, "STROBE", busy="BUSY", latch=Latch.LEADING))
    check_honest(host, reading)


@pytest.mark.parametrize("latch", ["leading", "trailing"])
@pytest.mark.parametrize("step", [None, 250 * NS])
def test_read_parallel_held_strobe(latch: str, step: int | None) -> None:
    """A strobe that is active most of the time is taken for its pauses; then nothing of it is certain."""
    host = Host(width=5_000 * NS, latch=latch, busy="full", ack=False, work=1_000 * NS)
    host.send(sent(), random.Random(5))
    capture = host.exact() if step is None else host.sampled(step, 7)
    reading = read_parallel(capture, ParallelLines(NAMES, "STROBE", latch=Latch(latch)))
    assert reading.strobe_active.value == 1  # the wrong one
    assert reading.complete is False
    assert reading.complete_why.startswith("if the strobe has the other active level, pauses were read for strobes")
    assert reading.latch.why == (
        "the data moves inside strobes, and the strobe's level is told by nothing but its being the rarer one, so that "
        "either edge may begin it: state that level"
    )
    data = dict(host.latched)
    sure = [(reading.when(k), reading.values[k]) for k in np.flatnonzero(reading.doubt == 0).tolist()]
    for when, value in sure:  # what is certain stood over both edges, so also at the true one
        inside = [byte for time, byte in data.items() if when.least.picoseconds <= time <= when.most.picoseconds]
        assert not inside or value in inside
    stated = read_parallel(capture, ParallelLines(NAMES, "STROBE", 0, latch=Latch(latch)))
    check_honest(host, stated)
    assert len(stated.data) == len(host.latched)
