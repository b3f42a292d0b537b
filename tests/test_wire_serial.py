"""Reading asynchronous serial lines, against an HDL simulation of three transmitters and made frames."""

from __future__ import annotations

import random
import shutil
import subprocess
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from latchlore.base import BadInput, Span
from latchlore.wire import Capture, Framing, Parity, read_serial, read_vcd
from tests.handshakes import make_capture

SOURCE = Path(__file__).parent / "uart.v"


@pytest.fixture(scope="module")
def simulated(tmp_path_factory: pytest.TempPathFactory) -> Capture:
    """What iverilog records of tests/uart.v."""
    if shutil.which("iverilog") is None:
        pytest.skip("iverilog is not installed")
    folder = tmp_path_factory.mktemp("uart")
    subprocess.run(["iverilog", "-g2012", "-o", folder / "uart.vvp", SOURCE], check=True)
    subprocess.run(["vvp", "uart.vvp"], cwd=folder, check=True, capture_output=True)
    return read_vcd(folder / "uart.vcd", "uart.vcd")


@pytest.mark.parametrize(
    ("line", "expected", "rate", "data"),
    [
        ("a", "8N1", "9600 bits/s, +0.0% from the usual 9600", bytes((k * 167 + 13) & 255 for k in range(256))),
        ("b", "7E1", "9312 bits/s, -3.0% from the usual 9600", bytes((k * 53 + 5) & 127 for k in range(128))),
        ("c", "8O2", "38400 bits/s, +0.0% from the usual 38400", bytes((k * 91 + 7) & 255 for k in range(256))),
    ],
)
def test_read_serial_simulated(simulated: Capture, line: str, expected: str, rate: str, data: bytes) -> None:
    """8N1 at 9600, 7E1 at 9600 less 3 %, 8O2 at 38400, simulated at once: framing, rate and every byte."""
    reading = read_serial(simulated, line)
    assert (str(reading.framing), reading.rate_words, reading.data) == (expected, rate, data)
    assert reading.idle.value == 1
    assert not reading.parity_wrong.any()
    assert not reading.stop_wrong.any()


def made(data: bytes, framing: Framing, bit: int, idle: int, rng: random.Random, step: int = 0) -> Capture:
    """A line with these frames, pauses between some of them, sampled every `step` where that is not 0."""
    now, wave = 20 * bit, [(0, idle)]

    def put(level: int, length: int) -> None:
        nonlocal now
        if wave[-1][1] != level:
            wave.append((now, level))
        now += length

    for byte in data:
        put(1 - idle, bit)
        for k in range(framing.data_bits):
            put(idle if byte >> k & 1 else 1 - idle, bit)
        ones = byte.bit_count() & 1
        parity = {Parity.EVEN: ones, Parity.ODD: 1 - ones, Parity.MARK: 1, Parity.SPACE: 0}.get(framing.parity)
        if parity is not None:
            put(idle if parity else 1 - idle, bit)
        put(idle, framing.stop_bits * bit + rng.choice([0, 0, bit * 7 // 3]))
    if step:
        moments = np.arange(rng.randrange(step), now + 20 * bit, step)
        times, levels = (np.array(column) for column in zip(*wave, strict=True))
        shown = levels[np.searchsorted(times, moments, "right") - 1]
        keep = np.flatnonzero(np.diff(shown, prepend=-1))
        wave = [(int(moments[k]), int(shown[k])) for k in keep]
    return make_capture({"TX": wave}, now + 20 * bit, step or None)


@pytest.mark.parametrize("step_part", [0, 7, 16])
def test_read_serial_framings(step_part: int) -> None:
    """Every framing, both polarities, exact and sampled: the framing is decided or among the undecided, bytes right."""
    rng = random.Random(step_part)
    num_decided = 0
    for data_bits, parity, stop, idle in product((5, 6, 7, 8), Parity, (1, 2), (0, 1)):
        framing = Framing(data_bits, parity, stop)
        bit = rng.randrange(20_000_000, 900_000_000)
        data = bytes(rng.randrange(1 << data_bits) for _ in range(150))
        capture = made(data, framing, bit, idle, rng, bit // step_part if step_part else 0)
        reading = read_serial(capture, "TX")
        told = {framing} <= {reading.framing, *(c.framing for c in reading.undecided)}
        assert told, (framing, idle, reading.framing)
        assert reading.idle.value == idle
        assert read_serial(capture, "TX", framing=framing).data == data
        assert abs(reading.bit_time.picoseconds - bit) * 200 < bit
        if not reading.undecided:
            num_decided += 1
            assert reading.data == data, framing
    assert num_decided >= 16  # all with even or odd parity; 5N2 is 6N1 whose last bit is always 1, and so on


def test_read_serial_undecided() -> None:
    """Text with bit 7 at 0 is the same as 7 bits with space parity: both are named and the bytes are the same."""
    capture = made(b"TIDE 3.41 M\r\n" * 4, Framing(8, Parity.NONE, 1), 104_166_667, 1, random.Random(1))
    reading = read_serial(capture, "TX")
    assert reading.data == b"TIDE 3.41 M\r\n" * 4
    assert "7S1" in [str(c.framing) for c in reading.undecided]
    assert str(reading.framing) == "8N1"
    few = read_serial(made(b"\x41\x43", Framing(7, Parity.EVEN, 1), 104_166_667, 1, random.Random(1)), "TX")
    assert {"7E1", "8N1"} <= {str(c.framing) for c in few.undecided}
    assert few.notes[0].startswith("undecided between ")
    assert few.notes[0].endswith(": not enough was sent to tell them apart")


def test_read_serial_errors() -> None:
    """A wrong parity bit is counted with its byte, and does not change the framing."""
    rng = random.Random(4)
    data = bytes(rng.randrange(128) for _ in range(100))
    capture = made(data, Framing(7, Parity.EVEN, 1), 1_000_000, 1, rng)
    k = next(k for k in range(40, 100) if data[k].bit_count() & 1 == 0)
    bent = data[:k] + bytes([data[k] ^ 1]) + data[k + 1 :]
    raw = bytes(byte | (byte.bit_count() & 1) << 7 for byte in data)
    raw = raw[:k] + bytes([raw[k] ^ 1]) + raw[k + 1 :]
    reading = read_serial(made(raw, Framing(8, Parity.NONE, 1), 1_000_000, 1, rng), "TX")
    assert (str(reading.framing), reading.data) == ("7E1", bent)
    assert np.flatnonzero(reading.parity_wrong).tolist() == [k]
    assert "1 of 100 bytes have a wrong parity bit" in reading.notes
    assert read_serial(capture, "TX").data == data


def test_read_serial_wrong() -> None:
    """A line without traffic, one without a common bit time and one sampled too slowly are refused."""
    with pytest.raises(BadInput) as caught:
        read_serial(make_capture({"TX": [(0, 1)]}, 1000), "TX")
    assert str(caught.value) == ("made: line 'TX' has 0 edges: nothing was sent in this capture, or it is not the line")
    rng = random.Random(2)
    times = np.cumsum([rng.randrange(1_000, 9_000) for _ in range(400)])
    with pytest.raises(BadInput) as caught:
        read_serial(make_capture({"TX": [(int(t), k & 1) for k, t in enumerate(times)]}, 10**7), "TX")
    assert str(caught.value).startswith("made: the edges of line 'TX' keep no common bit time (they lie ")
    slow = made(b"0123456789", Framing(8, Parity.NONE, 1), 104_166_667, 1, rng, 40_000_000)
    with pytest.raises(BadInput) as caught:
        read_serial(slow, "TX", Span(104_166_667))
    assert str(caught.value) == (
        "made: line 'TX' is sampled every 40 us, which is too slow for bits of 104.166667 us; "
        "take at least 4 samples a bit"
    )


def cut(capture: Capture, since: int, until: int) -> Capture:
    """The part of a capture that a recording from one time to another would hold, its end at `until`."""
    channel = capture.channels[0]
    wave = list(zip(channel.times.tolist(), channel.levels.tolist(), strict=True))
    start = [level for time, level in wave if time <= since][-1]
    inside = [(time - since, level) for time, level in wave if since < time <= until]
    return make_capture({"TX": [(0, start), *inside]}, until - since)


@pytest.mark.parametrize("seed", range(40))
def test_read_serial_cut(seed: int) -> None:
    """A recording that begins and ends among bytes: no byte that is not marked is wrong, and most are not marked."""
    rng = random.Random(seed)
    bit, framing = 1_000_000, Framing(8, Parity.NONE, 1)
    data = bytes(rng.randrange(256) if seed % 2 else rng.choice(b"tide 0123456789") for _ in range(200))
    whole = made(data, framing, bit, 1, rng)
    truth = read_serial(whole, "TX", Span(bit), 1, framing)
    assert truth.data == data
    assert not truth.unsure.any()
    expected = dict(zip(truth.starts.tolist(), data, strict=True))
    since = int(truth.starts[50]) + rng.randrange(10 * bit)
    until = int(truth.starts[150]) + rng.randrange(10 * bit)
    part = read_serial(cut(whole, since, until), "TX", Span(bit), 1, framing)
    sure = np.flatnonzero(~part.unsure)
    for k in sure:
        assert expected.get(int(part.starts[k]) + since) == part.values[k]
    assert len(sure) >= 60


def test_read_serial_held() -> None:
    """A line that goes to its other level and stays there to the end gives one byte that is not sure, and ends."""
    wave = [(0, 1), (20_000_000, 0), (21_000_000, 1), (40_000_000, 0)]
    reading = read_serial(make_capture({"TX": wave}, 41_000_000), "TX", Span(1_000_000), 1, Framing(8, Parity.NONE, 1))
    assert (reading.data, reading.unsure.tolist()) == (b"\xff\x00", [False, True])
    assert reading.notes[-1] == (
        "1 of 2 bytes were not recorded whole: the capture ends or the line has no level within them"
    )
    held = read_serial(make_capture({"TX": wave}, 90_000_000), "TX", Span(1_000_000), 1, Framing(8, Parity.NONE, 1))
    assert (held.stop_wrong.tolist(), held.unsure.tolist()) == ([False, True], [False, False])


def test_read_serial_gap() -> None:
    """A byte that reaches into a stretch without a level is not sure."""
    wave = [(0, 1), (20_000_000, 0), (21_000_000, 2), (23_000_000, 1), (40_000_000, 0), (41_000_000, 1)]
    reading = read_serial(make_capture({"TX": wave}, 80_000_000), "TX", Span(1_000_000), 1, Framing(8, Parity.NONE, 1))
    assert reading.unsure.tolist() == [True, False]


def test_read_serial_out_of_step() -> None:
    """A recording that begins in the middle of a byte says how many bytes may be out of step."""
    whole = made(b"AAAAAAAAAA\xff\xff", Framing(8, Parity.NONE, 1), 1_000_000, 1, random.Random(5))
    reading = read_serial(cut(whole, 23_500_000, 200_000_000), "TX", Span(1_000_000), 1, Framing(8, Parity.NONE, 1))
    assert reading.notes[-1].startswith(
        "the capture begins less than a byte's length before the first edge, so it may begin within a byte: the first "
    )


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        ({"bit_time": Span.of(us=104)}, None),
        ({"bit_time": Span.of(us=52)}, "a bit is stated to last 52 us, but the edges fit bits of 104.1"),
        ({"bit_time": Span.of(us=208)}, "a bit is stated to last 208 us, but the edges fit bits of 104.1"),
        ({"idle": 1}, None),
        ({"idle": 0}, "the line may rest at the other level than stated: its longest stretch is high ("),
        ({"framing": Framing(8, Parity.NONE, 1)}, None),
        ({"framing": Framing(7, Parity.EVEN, 1)}, "7E1 is stated, but the line fits 8N1 better (by "),
    ],
)
def test_read_serial_stated(settings: dict[str, Any], said: str | None) -> None:
    """What is stated is taken, and where the line speaks against it, that is said."""
    rng = random.Random(9)
    data = bytes(rng.randrange(256) for _ in range(120))
    capture = made(data, Framing(8, Parity.NONE, 1), 104_166_667, 1, rng)
    reading = read_serial(capture, "TX", **settings)
    against = [note for note in reading.notes if "stated" in note]
    assert [note.startswith(said or "-") for note in against] == ([True] if said else [])
    assert (reading.data == data) == (said is None)


@pytest.mark.parametrize("bit", [Span(0), Span(-5)])
def test_read_serial_stated_wrong(bit: Span) -> None:
    """A bit that lasts nothing is refused."""
    capture = made(b"AB", Framing(8, Parity.NONE, 1), 104_166_667, 1, random.Random(1))
    with pytest.raises(BadInput) as caught:
        read_serial(capture, "TX", bit)
    assert str(caught.value) == f"made: a bit lasts longer than nothing, not {bit}"


def with_glitches(capture: Capture, count: int, rng: random.Random) -> Capture:
    """The same line with pulses of 0.2 to 1 us in it, each inside a stretch of one level."""
    times, levels = capture.channels[0].times.tolist(), capture.channels[0].levels.tolist()
    wave = list(zip(times, levels, strict=True))
    stretches = [k for k in range(len(times) - 1) if times[k + 1] - times[k] > 20_000_000]
    for k in rng.sample(stretches, count):
        at = rng.randrange(times[k] + 2_000_000, times[k + 1] - 4_000_000)
        wave += [(at, 1 - levels[k]), (at + rng.choice([200_000, 1_000_000]), levels[k])]
    return make_capture({"TX": sorted(wave)}, capture.end.picoseconds)


@pytest.mark.parametrize("seed", range(12))
def test_read_serial_glitches(seed: int) -> None:
    """Short pulses are not taken for bits; no byte that holds none is wrong, and those that hold one are marked."""
    rng = random.Random(seed)
    data = bytes(rng.randrange(256) for _ in range(150))
    whole = made(data, Framing(8, Parity.NONE, 1), 104_166_667, 1, rng)
    starts = read_serial(whole, "TX").starts.tolist()
    reading = read_serial(with_glitches(whole, rng.choice([1, 8, 40]), rng), "TX")
    assert str(reading.framing) == "8N1"
    assert abs(reading.bit_time.picoseconds - 104_166_667) < 1_000_000
    truth = dict(zip(starts, data, strict=True))
    sure = np.flatnonzero(~(reading.unsure | reading.stop_wrong))
    assert all(truth.get(int(reading.starts[k])) == reading.values[k] for k in sure)
    assert len(sure) >= 80
    assert any("hold a pulse of less than a quarter of a bit" in note for note in reading.notes)


def test_read_serial_two_rates() -> None:
    """A line that changes its rate is read at one of them, and what the other sent is marked."""
    rng = random.Random(3)
    data = bytes(rng.randrange(256) for _ in range(100))
    slow, fast = (made(data, Framing(8, Parity.NONE, 1), bit, 1, rng) for bit in (104_166_667, 26_041_667))
    until = slow.end.picoseconds
    wave = [
        (int(time) + since, int(level))
        for one, since in ((slow, 0), (fast, until))
        for time, level in zip(one.channels[0].times, one.channels[0].levels, strict=True)
        if time or not since
    ]
    reading = read_serial(make_capture({"TX": wave}, until + fast.end.picoseconds), "TX")
    assert reading.rate_words.startswith("38400 bits/s")
    early = reading.starts < until
    assert reading.unsure[early].mean() > 0.9
    assert not reading.unsure[~early][20:].any()
    assert bytes(reading.values[~early]) == data
    assert any("lie among so many without a stop bit" in note for note in reading.notes)


def test_read_serial_glitches_wrong() -> None:
    """A line most of whose stretches are far longer than its shortest ones has no bit time."""
    times = np.cumsum([12_000, 50, 9_000, 10_000] * 20)
    with pytest.raises(BadInput) as caught:
        read_serial(make_capture({"TX": [(0, 1), *((int(t), k & 1) for k, t in enumerate(times))]}, 10**6), "TX")
    assert str(caught.value) == (
        "made: most stretches of line 'TX' are far longer than its shortest ones: not asynchronous serial, or too many "
        "glitches; state the bit time"
    )
