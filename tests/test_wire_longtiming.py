"""Times and order of long captures, window by window, against a plain search through all edges or the whole."""

from __future__ import annotations

import random
import tracemalloc
from bisect import bisect_left, bisect_right
from itertools import pairwise
from types import SimpleNamespace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.base import Span, SpanLimit
from latchlore.wire import (
    Capture,
    Channel,
    ChannelKind,
    Figure,
    Latch,
    ParallelLines,
    ParallelReading,
    _longlines,
    _order,
    count_order,
    measure_handshake,
    testify,
)
from latchlore.wire import _edgekernel as kernel
from latchlore.wire import _timing as timing
from latchlore.wire._handshake import HandshakeReader
from latchlore.wire._lines import clean_line, data_names
from latchlore.wire._longlines import clean_long
from latchlore.wire._spool import Spool
from tests.handshakes import Host, make_capture

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    Pairs = list[tuple[int, int]]

NAMES = ("D0", "D1", "D2", "STROBE", "BUSY", "ACK")


def from_to(starts: Sequence[int], ends: Sequence[int], limits: Sequence[int]) -> Pairs:
    """Each start and how long to the first end not before it, where that comes before the limit of the same place."""
    found: Pairs = []
    for k, start in enumerate(starts):
        at = bisect_left(ends, start)
        if at < len(ends) and (k >= len(limits) or ends[at] < limits[k]):
            found.append((start, ends[at] - start))
    return found


def first_between(times: Sequence[int], low: int, high: int | None) -> int | None:
    """The first time from `low` on, before `high`."""
    at = bisect_left(times, low)
    return times[at] if at < len(times) and (high is None or times[at] < high) else None


def plain_figures(capture: Capture, lines: ParallelLines, reading: ParallelReading) -> dict[str, Pairs]:
    """Figure → moment and length of each measurement, found one by one."""
    leads, trails = reading.leads.tolist(), reading.trails.tolist()
    found: dict[str, Pairs] = {name: [] for name in timing.FIGURES}
    found["strobe width"] = [(a, b - a) for a, b in zip(leads, trails, strict=True)]
    found["pause"] = [(a, b - a) for a, b in zip(trails, leads[1:], strict=False)]
    found["byte period"] = [(a, b - a) for a, b in pairwise(leads)]
    latch = reading.latch.value
    names = [name for name in data_names(capture, lines) if name is not None]
    moves = sorted(time for name in names for time in clean_line(capture, name)[0][1:].tolist())
    for moment in trails if latch == 1 else leads:
        before = bisect_right(moves, moment)
        if before:
            found["data set-up"].append((moves[before - 1], moment - moves[before - 1]))
    for moment in leads if latch == 0 else trails:
        after = bisect_right(moves, moment)
        if after < len(moves):
            found["data hold"].append((moment, moves[after] - moment))
    pulses: dict[str, Pairs] = {}
    for name, active in ((lines.busy, reading.busy_active), (lines.ack, reading.ack_active)):
        if name is not None and active is not None and active.value is not None:
            edges = list(zip(*(column.tolist() for column in clean_line(capture, name)), strict=True))
            wanted = [1 - active.value, active.value, 1 - active.value]
            triples = zip(edges, edges[1:], edges[2:], strict=False)
            pulses[name] = [(b[0], c[0]) for a, b, c in triples if [a[1], b[1], c[1]] == wanted]
    for name, answer, length in (("BUSY", "strobe to busy", "busy length"),
                                 ("ACK", "strobe to acknowledge", "acknowledge width")):  # fmt: skip
        if name in pulses:
            found[answer] = from_to(leads, [on for on, _ in pulses[name]], leads[1:])
            found[length] = [(on, off - on) for on, off in pulses[name]]
    if "BUSY" in pulses:
        ends = [off for _, off in pulses["BUSY"]]
        found["busy end to strobe"] = from_to(ends, leads, ends[1:])
        if "ACK" in pulses:
            acks = [off for _, off in pulses["ACK"]]
            for k, low in enumerate(leads):
                high = leads[k + 1] if k + 1 < len(leads) else None
                one, other = first_between(acks, low, high), first_between(ends, low, high)
                if one is not None and other is not None:
                    found["acknowledge end to busy end"].append((one, other - one))
    return {name: pairs for name, pairs in found.items() if pairs}


@st.composite
def captures(draw: st.DrawFn) -> Capture:
    """Lines that move as they like: ringing, repeats, no level, changes at one time, rests; data as lines or a bus."""
    edge = st.tuples(st.sampled_from([0, 1, 1, 2, 3, 5, 9, 40]), st.sampled_from([0, 1, 0, 1, 0, 1, 2, 3]))
    waves: dict[str, list[tuple[int, int]]] = {}
    late = draw(st.sampled_from([0, 0, 60]))
    for name in NAMES:
        count = draw(st.sampled_from([0, 3, 60, 60])) if name != "STROBE" else 60
        steps = draw(st.lists(edge, min_size=count, max_size=count))
        begin = late if name.startswith("D") else draw(st.sampled_from([0, 0, 30]))
        times = np.cumsum([begin, *(step for step, _ in steps)]).tolist()
        waves[name] = list(zip(times, [draw(st.integers(0, 1)), *(level for _, level in steps)], strict=True))
    capture = make_capture(waves, max(wave[-1][0] for wave in waves.values()) + 5)
    if draw(st.booleans()):
        bus = draw(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 7), st.integers(0, 7)), max_size=80))
        value, unknown = (np.array([row[k] for row in bus], np.uint64).reshape(-1, 1) for k in (1, 2))
        when = late + np.cumsum(np.array([row[0] for row in bus], np.int64))
        channel = Channel(("B",), ChannelKind.VECTOR, 3, when, np.zeros(0, np.uint8), value, unknown, np.zeros(0))
        capture = Capture(capture.file, (*capture.channels, channel), capture.begin, capture.end)
    return capture


def pairs_of(figures: Mapping[str, Figure]) -> dict[str, Pairs]:
    """What was measured, as plain numbers."""
    return {
        name: list(zip(figure.moments.tolist(), figure.lengths.tolist(), strict=True))
        for name, figure in figures.items()
    }


def set_window(patch: pytest.MonkeyPatch, window: int) -> None:
    """Take every capture for a long one, with so many edges or strobes in a window."""
    patch.setattr("latchlore.wire._handshake.LONG", 0)
    for module in (timing, _order, _longlines):
        patch.setattr(module, "WINDOW", window)
    patch.setattr(timing, "COUNTED_BITS", 8)


@given(captures(), st.integers(1, 7), st.integers(0, 2), st.sampled_from([None, *Latch]))
def test_measure_handshake_long(capture: Capture, window: int, stated: int, latch: Latch | None) -> None:
    """Whatever the lines do, and wherever a window ends, each figure is what a search through all edges finds."""
    names = {name for channel in capture.channels for name in channel.names}
    level = None if stated == 2 else stated
    data = ("B",) if "B" in names else NAMES[:3]
    lines = ParallelLines(data, "STROBE", level, "BUSY", level, "ACK", level, latch)
    reading = HandshakeReader(capture, lines).read()
    expected = plain_figures(capture, lines, reading)
    whole = measure_handshake(capture, lines, reading)
    with pytest.MonkeyPatch.context() as patch:
        set_window(patch, window)
        found = measure_handshake(capture, lines, reading)
        assert pairs_of(found) == pairs_of(whole) == expected
        assert list(found) == [name for name in timing.FIGURES if name in expected]
        for name, figure in found.items():
            lengths = sorted(length for _, length in expected[name])
            least, most = lengths[len(lengths) // 3], lengths[len(lengths) // 2]
            limit = SpanLimit(Span(least), Span(most))
            broken = [k for k, (_, length) in enumerate(expected[name]) if not least <= length <= most]
            assert list(figure.iter_broken(limit)) == broken
            assert figure.judge(limit) == (len(broken), 0)
            assert [one.origin.number for one in figure.violations(limit)] == [expected[name][k][0] for k in broken]
            assert figure.least == figure.at([length for _, length in expected[name]].index(lengths[0]))
            assert figure.find_length(lengths[-1]) == [length for _, length in expected[name]].index(lengths[-1])
            for percent in (1, 50, 95, 100):
                rank = -(-len(lengths) * percent // 100)
                assert figure.percentile(percent).least == Span(lengths[rank - 1])


@given(captures(), st.integers(1, 7), st.sampled_from([None, *Latch]))
def test_count_order_long(capture: Capture, window: int, latch: Latch | None) -> None:
    """The order counted window by window is that of the whole, ringing and unseen strobes left out alike."""
    lines = ParallelLines(NAMES[:3], "STROBE", 1, "BUSY", None, "ACK", None, latch)
    reading = HandshakeReader(capture, lines).read()
    whole = count_order(capture, lines, reading)
    with pytest.MonkeyPatch.context() as patch:
        set_window(patch, window)
        assert count_order(capture, lines, reading) == whole


@pytest.mark.parametrize("busy", ["before", "during", "after", "none", "full"])
@pytest.mark.parametrize("mhz", [None, 4])
def test_count_order_long_answers(busy: str, mhz: int | None) -> None:
    """Also where busy and acknowledge answer as devices do, and the strobes at the ends of windows."""
    host = Host(busy=busy, ack=busy != "full", junk=False)
    host.send(list(range(40)), random.Random(busy))
    capture = host.exact() if mhz is None else host.sampled(10**6 // mhz, 7)
    answers = ["BUSY" if busy != "none" else None, "ACK" if busy != "full" else None]
    lines = ParallelLines(tuple(f"D{k}" for k in range(8)), "STROBE", busy=answers[0], ack=answers[1])
    reading = HandshakeReader(capture, lines).read()
    whole = count_order(capture, lines, reading)
    assert whole is not None
    for window in (1, 2, 7, 39, 40):
        with pytest.MonkeyPatch.context() as patch:
            set_window(patch, window)
            assert count_order(capture, lines, reading) == whole


@given(captures(), st.integers(1, 7))
def test_clean_long(capture: Capture, window: int) -> None:
    """Edges cleaned part by part are those of the whole line, also where they all change at one time."""
    names = [c.name if c.kind is ChannelKind.LOGIC else f"{c.name}[1]" for c in capture.channels]
    with pytest.MonkeyPatch.context() as patch:
        set_window(patch, window)
        for name in names:
            spool = Spool(np.zeros(0))
            times, levels = clean_long(capture, name, spool)
            whole = clean_line(capture, name)
            assert (times.tolist(), levels.tolist()) == (whole[0].tolist(), whole[1].tolist())
            spool.close()


@given(st.lists(st.integers(-(2**62), 2**62), min_size=1), st.integers(1, 20), st.data())
def test_percentile_many(lengths: list[int], bits: int, data: st.DataObject) -> None:
    """Counting finds what stands at a place of the lengths in order, however far they lie apart."""
    near = data.draw(st.lists(st.integers(-3, 3).map(lambda step: lengths[0] + step)))
    figure = Figure("pause", "f", np.zeros(0, np.int64), np.array([*lengths, *near], np.int64), 0)
    percent = data.draw(st.integers(1, 100))
    rank = -(-figure.count * percent // 100)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(timing, "COUNTED_BITS", bits)
        assert figure.percentile(percent).least == Span(sorted([*lengths, *near])[rank - 1])


def handshakes(count: int) -> tuple[Capture, ParallelLines]:
    """So many bytes with strobe, busy and acknowledge, 20 us apart at least; data levels are said anew for each."""
    rng = np.random.default_rng(count)
    lead = np.cumsum(rng.integers(20, 40, count)) * 1_000_000
    empty = np.zeros((0, 1), np.uint64)

    def line(name: str, moves: Sequence[np.ndarray], levels: np.ndarray) -> Channel:
        times = np.concatenate([[0], np.stack(moves, 1).ravel()])
        return Channel((name,), ChannelKind.LOGIC, 1, times, levels.astype(np.uint8), empty, empty, np.zeros(0))

    channels = [line(f"D{k}", [lead - 500_000], rng.integers(0, 2, count + 1)) for k in range(8)]
    for name, begin, end in (("S", 0, 500), ("B", 300, 9_000), ("A", 9_500, 10_000)):
        levels = np.tile(np.array([0, 1], np.uint8), count + 1)[: 2 * count + 1]
        channels.append(line(name, [lead + begin * 1000, lead + end * 1000], levels))
    lines = ParallelLines(tuple(f"D{k}" for k in range(8)), "S", 1, "B", 1, "A", 1, Latch.LEADING)
    return Capture("made", tuple(channels), Span(0), Span(int(lead[-1]) + 10**9)), lines


def test_measure_handshake_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """A long capture takes the memory of some windows, however long it is, and no kernel makes more than a window."""
    made = [0]

    def watched(name: str) -> object:
        def call(*arguments: object) -> object:
            found = getattr(kernel, name)(*arguments)
            arrays = found if isinstance(found, tuple) else (found,)
            made[0] = max([made[0], *(len(one) for one in arrays if one is not None)])
            return found

        return call

    spied = SimpleNamespace(**{name: watched(name) for name in dir(kernel) if not name.startswith("_")})
    monkeypatch.setattr(timing, "kernel", spied)
    for module in (_order, _longlines):
        monkeypatch.setattr(module, "kernel", spied)
    window, count = 1_000, 40_000
    peaks: dict[tuple[int, bool], int] = {}
    for many, is_long in ((count, True), (count, False), (count // 4, True), (count, True)):  # the first compiles
        capture, lines = handshakes(many)
        reading = HandshakeReader(capture, lines).read()
        with pytest.MonkeyPatch.context() as patch:
            if is_long:
                set_window(patch, window)
            made[0] = 0
            tracemalloc.start()
            figures = measure_handshake(capture, lines, reading)
            for figure in figures.values():
                figure.percentile(50)
                figure.judge(SpanLimit(Span.of(us=1)))
                assert figure.least.least <= figure.most.most
            testify.testify_lines(reading, figures, ())
            assert count_order(capture, lines, reading) is not None
            peaks[many, is_long] = tracemalloc.get_traced_memory()[1]
            tracemalloc.stop()
        assert all(figure.count >= many - 1 for figure in figures.values())
        assert len(figures) == len(timing.FIGURES)
        assert (made[0] <= window + 2) == is_long
        assert isinstance(figures["data set-up"].lengths, np.memmap) == is_long
    assert peaks[count, True] * 5 < peaks[count, False]
    assert peaks[count, True] < 1.1 * peaks[count // 4, True]


@pytest.mark.parametrize("window", [1, 2, 9])
def test_data_hold_late(window: int) -> None:
    """The first value of a line is no change, also where strobes come before it: hold lasts to the second."""
    strobe = [(0, 1), (10, 0), (20, 1), (50, 0), (60, 1), (110, 0), (115, 1)]
    capture = make_capture({"STROBE": strobe, "D0": [(100, 0), (120, 1)]}, 200)
    lines = ParallelLines(("D0",), "STROBE", 0, latch=Latch.TRAILING)
    reading = HandshakeReader(capture, lines).read()
    with pytest.MonkeyPatch.context() as patch:
        set_window(patch, window)
        found = pairs_of(measure_handshake(capture, lines, reading))
    assert found["data hold"] == [(20, 100), (60, 60), (115, 5)]
    assert "data set-up" not in found
