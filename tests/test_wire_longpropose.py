"""Proposals for long captures: judged by parts and counted part by part, against a plain judgement of all edges."""

from __future__ import annotations

import random
import tracemalloc
from dataclasses import replace
from itertools import product
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.base import Span
from latchlore.wire import (
    Capture,
    Channel,
    ChannelKind,
    Proposal,
    _activity,
    _longlines,
    _propose,
    measure_activity,
    propose_lines,
)
from latchlore.wire import _edgekernel as kernel
from tests.handshakes import NS, Host, make_capture
from tests.plainproposal import propose_plainly
from tests.test_wire_longtiming import captures, handshakes

TEXT = b"The tide recorder prints the height of the water every six minutes, and a line of text every hour.\r\n"
STRETCH = 60
"""Edges in a stretch, where captures are made long."""


def set_long(patch: pytest.MonkeyPatch, window: int, stretches: int = 16, edges: int = 1 << 13) -> None:
    """Take every capture for a long one and keep no line, with so many edges in a window and so many stretches."""
    patch.setattr("latchlore.wire._handshake.LONG", 0)
    patch.setattr(_activity, "KEPT", 0)
    patch.setattr(_longlines, "WINDOW", window)
    patch.setattr("latchlore.wire._timing.COUNTED_BITS", 8)
    patch.setattr(_activity, "STRETCHES", stretches)
    patch.setattr(_activity, "STRETCH_EDGES", edges)


@st.composite
def disturbed(draw: st.DrawFn) -> Capture:
    """A handshake of any make with its lines renamed, some edges lost and some of another level."""
    host = Host(
        latch=draw(st.sampled_from(["leading", "trailing"])),
        busy=draw(st.sampled_from(["before", "during", "after", "none", "full"])),
        ack=draw(st.booleans()),
        work=draw(st.sampled_from([1_000, 20_000])) * NS,
        strobe_active=draw(st.integers(0, 1)),
        busy_active=draw(st.integers(0, 1)),
        ack_active=draw(st.integers(0, 1)),
        junk=draw(st.booleans()),
        num_lines=draw(st.sampled_from([3, 5])),
    )
    host.send(draw(st.binary(max_size=40) | st.integers(0, 40).map(lambda n: TEXT[:n])), random.Random(1))
    names = draw(st.permutations([*"abcd", "p1", "p2", "p3", "q4"]))
    host.waves = dict(zip(names, host.waves.values(), strict=False))
    for name, place, level in draw(
        st.lists(st.tuples(st.sampled_from(list(host.waves)), st.integers(1, 99), st.integers(0, 4)), max_size=5)
    ):
        wave = host.waves[name]
        if place < len(wave):
            wave[place : place + 1] = [(wave[place][0], level)] if level < 4 else []
    step = draw(st.sampled_from([None, 40, 250]))
    return host.exact() if step is None else host.sampled(step * NS, 7)


@given(captures() | disturbed(), st.integers(1, 9))
def test_propose_lines_plain(capture: Capture, window: int) -> None:
    """A capture that is not long is judged by all edges, and so is a long one whose lines have few; bit for bit."""
    wanted = propose_plainly(capture)
    assert propose_lines(capture) == wanted
    assert measure_activity(capture) == wanted.activity
    with pytest.MonkeyPatch.context() as patch:
        set_long(patch, window)
        assert propose_lines(capture) == wanted


def without_parts(proposal: Proposal) -> Proposal:
    """A proposal without the nats of an order, which grow with what was read."""
    return replace(proposal, reasons=tuple(reason.partition(" (")[0] for reason in proposal.reasons))


@pytest.mark.parametrize("numbered", [True, False])
@pytest.mark.parametrize("mhz", [None, 25])
@pytest.mark.parametrize("latch", ["leading", "trailing"])
def test_propose_lines_parts(latch: str, mhz: int | None, numbered: bool) -> None:
    """Judged by a few parts, lines are what all edges make them, and every figure is that of the whole capture."""
    for busy, strobe, other in product(("before", "during", "after", "none", "full"), (0, 1), (0, 1)):
        host = Host(strobe_active=strobe, busy_active=other, ack_active=1 - other, junk=False)
        host.busy, host.latch, host.ack = busy, latch, busy != "full"
        host.send(TEXT * 6, random.Random(1))
        data = [f"D{k}" for k in range(8)]
        names = dict(zip(data, data if numbered else "daebgcfz", strict=True))
        names |= {"STROBE": "s", "BUSY": "b", "ACK": "k"}
        host.waves = {names[name]: wave for name, wave in sorted(host.waves.items())}
        capture = host.exact() if mhz is None else host.sampled(10**6 // mhz, 3)
        whole = propose_lines(capture)
        with pytest.MonkeyPatch.context() as patch:
            set_long(patch, 64, 6, STRETCH)
            found = propose_lines(capture)
        if whole.lines is None:
            assert found.reasons == (
                "no line pulses as a strobe does, shortly after others have moved, in the parts looked at of this long "
                "capture (up to 6 of each line): state what the lines are",
            )
            assert found.activity == whole.activity
            continue
        taken = next(one for one in whole.activity if one.name == whole.lines.strobe)
        assert taken.name == "s" or latch == "trailing"  # whose data move as the strobe begins
        parts = (
            "the capture is long: what the lines are was judged by 6 parts spread over it, "
            f"{6 * (STRETCH // 2 - 1)} of {taken.pulses} pulses of {taken.name}; "
            "what each line does was counted over all of it"
        )
        told = (parts,) if taken.edges > 6 * STRETCH else ()  # else no pulse was left out
        assert without_parts(found) == without_parts(replace(whole, reasons=(*whole.reasons, *told)))


def beside(capture: Capture, channel: Channel) -> Capture:
    """The capture with one channel more."""
    return Capture(capture.file, (*capture.channels, channel), capture.begin, capture.end, step=capture.step)


def test_propose_lines_clock() -> None:
    """A line that moves a thousand times a byte takes no part's room from the strobe, and is no data."""
    host = Host(junk=False)
    host.send(TEXT, random.Random(1))
    when = np.arange(0, host.end, 50 * NS)
    empty = np.zeros((0, 1), np.uint64)
    levels = (np.arange(len(when)) % 2).astype(np.uint8)
    clock = Channel(("clock",), ChannelKind.LOGIC, 1, when, levels, empty, empty, np.zeros(0))
    capture = beside(host.exact(), clock)
    with pytest.MonkeyPatch.context() as patch:
        set_long(patch, 1_000, 4, 20)
        found = propose_lines(capture)
    assert found.lines == propose_lines(host.exact()).lines
    assert "not placed: clock" in found.reasons
    told = found.activity[-1]
    assert (told.edges, told.pulses, told.width_ps) == (len(when) - 1, len(when) // 2 - 1, 50 * NS)
    assert told.high == pytest.approx(0.5, abs=1 / len(when))


def test_propose_lines_bus() -> None:
    """A strobe that is one bit of a bus, and moves seldom, is looked at by its own edges, not by those of the bus."""
    rng = np.random.default_rng(1)
    count = 4_000
    leads = 1_000 * np.sort(rng.choice(np.arange(1, 100_000), count // 50, replace=False)) * NS
    moves = np.unique(rng.integers(0, 100_000 * 1_000, count * 5)) * NS
    data = np.concatenate([leads - 200 * NS, leads, leads + 100 * NS, moves])
    kinds = np.concatenate([np.repeat([0, 1, 2], len(leads)), np.full(len(moves), 3)])
    order = np.argsort(data, kind="stable")
    value, rows = 0, []
    for kind in kinds[order].tolist():
        value = {0: value & 6 | int(rng.integers(0, 2)), 1: value | 2, 2: value & 5, 3: value ^ 4}[kind]
        rows.append(value)
    planes = np.array([0, *rows], np.uint64).reshape(-1, 1)
    times = np.concatenate([[0], data[order]])
    bus = Channel(
        ("B",), ChannelKind.VECTOR, 3, times, np.zeros(0, np.uint8), planes, np.zeros_like(planes), np.zeros(0)
    )
    capture = beside(make_capture({}, 100_001 * 1_000 * NS), bus)
    whole = propose_lines(capture)
    assert whole.lines is not None
    assert (whole.lines.strobe, whole.lines.data) == ("B[1]", ("B[0]",))
    with pytest.MonkeyPatch.context() as patch:
        set_long(patch, 50, 5, 20)
        found = propose_lines(capture)
    assert (found.lines, found.reasons[:-1], found.activity) == (whole.lines, whole.reasons, whole.activity)
    assert found.reasons[-1].startswith(
        "the capture is long: what the lines are was judged by 5 parts spread over it, "
    )


@pytest.mark.parametrize("letter", ["1", "a"])
def test_propose_lines_begin(letter: str) -> None:
    """A strobe that pulses in one part alone, and then is of no level now and then, is judged by that part."""
    host = Host(junk=False, busy="none", ack=False, num_lines=2)
    host.send([k % 4 for k in range(25)], random.Random(1))
    times = range(host.end, host.end + 400_000 * NS, 1_000 * NS)
    waves = {"s": [*host.waves["STROBE"], *((time, 2 - k % 2) for k, time in enumerate(times))]}
    waves |= {f"D{letter}": host.waves["D1"], f"D{letter}0": host.waves["D0"]}
    capture = make_capture(waves, times[-1])
    whole = propose_lines(capture)
    assert whole.lines is not None
    assert whole.lines.strobe == "s"
    with pytest.MonkeyPatch.context() as patch:
        set_long(patch, 50, 6, STRETCH)
        found = propose_lines(capture)
    assert found == replace(whole, reasons=(*whole.reasons, found.reasons[-1]))
    assert found.reasons[-1] == (
        "the capture is long: what the lines are was judged by 6 parts spread over it, 25 of 25 pulses of s; what each "
        "line does was counted over all of it"
    )


def test_propose_lines_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """A long capture takes the memory of a window and of the parts looked at; no kernel makes more than a window."""
    made = [0]

    def watched(name: str) -> object:
        def call(*arguments: object) -> object:
            found = getattr(kernel, name)(*arguments)
            arrays = found if isinstance(found, tuple) else (found,)
            made[0] = max([made[0], *(len(one) for one in arrays if isinstance(one, np.ndarray))])
            return found

        return call

    spied = SimpleNamespace(**{name: watched(name) for name in dir(kernel) if not name.startswith("_")})
    for module in (_propose, _activity, _longlines):
        monkeypatch.setattr(module, "kernel", spied)
    window, count = 1_000, 40_000
    peaks: dict[tuple[int, bool], int] = {}
    for many, is_long in ((count, True), (count, False), (count // 4, True), (count, True)):  # the first compiles
        capture, lines = handshakes(many)
        with pytest.MonkeyPatch.context() as patch:
            if is_long:
                set_long(patch, window, 8, 500)
            made[0] = 0
            tracemalloc.start()
            found = propose_lines(capture)
            peaks[many, is_long] = tracemalloc.get_traced_memory()[1]
            tracemalloc.stop()
        assert found.lines == replace(lines, strobe_active=None, busy_active=None, ack_active=None, latch=None)
        assert [one.pulses for one in found.activity[8:]] == [many] * 3
        assert (made[0] <= window + 2) == is_long
    assert peaks[count, True] * 5 < peaks[count, False]
    assert peaks[count, True] < 1.1 * peaks[count // 4, True]
    assert Span(found.activity[8].width_ps) == Span.of(ns=500)
