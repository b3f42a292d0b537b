"""Proposals of what lines are, against captures of known make with their names taken away."""

from __future__ import annotations

import random
from itertools import product

import numpy as np
import pytest

from latchlore.wire import Capture, Channel, ChannelKind, propose_lines, read_parallel
from latchlore.wire._propose import LIKE_TEXT, _text_order
from tests.handshakes import NS, Host, make_capture

TEXT = (
    b"THE TIDE RECORDER PRINTS THE HEIGHT OF THE WATER EVERY SIX MINUTES\r\n"
    b"and the printer answers with a short pulse when it is ready for more.\r\n"
)


def renamed(capture: Capture, names: dict[str, str]) -> Capture:
    waves = {names[c.name]: list(zip(c.times.tolist(), c.levels.tolist(), strict=True)) for c in capture.channels}
    step = None if capture.step is None else capture.step.picoseconds
    return make_capture(dict(sorted(waves.items())), capture.end.picoseconds, step)


def test_propose_lines() -> None:
    """Strobe, busy and acknowledge are told in every polarity, whatever they are called; data by its numbers."""
    for strobe, busy, ack, fall in product((0, 1), (0, 1), (0, 1), ("before", "after")):
        host = Host(strobe_active=strobe, busy_active=busy, ack_active=ack, busy=fall, junk=False)
        host.send(TEXT, random.Random(1))
        names = {"STROBE": "ch9", "BUSY": "ch8", "ACK": "ch10", **{f"D{k}": f"p{7 - k}q{k}" for k in range(8)}}
        proposal = propose_lines(renamed(host.sampled(40 * NS, 3), names))
        assert proposal.lines is not None
        assert (proposal.lines.strobe, proposal.lines.busy, proposal.lines.ack) == ("ch9", "ch8", "ch10")
        assert proposal.lines.data == tuple(f"p{7 - k}q{k}" for k in range(7))  # D7 never moves in this text
        assert proposal.order_decided
        assert proposal.reasons[0] == (
            f"ch9 may be the strobe: it pulses {len(TEXT)} times, each time shortly after the data has moved"
        )


def test_propose_lines_still() -> None:
    """A line that never moves is data all the same where its name continues theirs."""
    host = Host(junk=False)
    host.send(TEXT, random.Random(1))
    proposal = propose_lines(host.exact())
    assert proposal.lines is not None
    assert proposal.lines.data == tuple(f"D{k}" for k in range(8))
    assert (proposal.lines.strobe, proposal.lines.busy, proposal.lines.ack) == ("STROBE", "BUSY", "ACK")


def test_propose_lines_order() -> None:
    """Without numbers in their names the order of the data lines follows from the text."""
    host = Host(junk=False, busy="none", ack=False)
    host.send(TEXT, random.Random(1))
    letters = dict(zip((f"D{k}" for k in range(7)), "daebgcf", strict=True))
    capture = renamed(host.exact(), {"STROBE": "s", "D7": "z", **letters, "BUSY": "b", "ACK": "k"})
    proposal = propose_lines(capture)
    assert proposal.lines is not None
    assert proposal.lines.data == tuple("daebgcf")
    assert proposal.order_decided
    assert "not placed: k, z" in proposal.reasons


def test_text_order_wrong() -> None:
    """Random bytes decide no order: whichever leads, it is no text."""
    rng = np.random.default_rng(1)
    _, cost, _ = _text_order(rng.integers(0, 256, 400).astype(np.uint8).tobytes(), 8)
    assert cost > 400 * LIKE_TEXT


def test_propose_lines_wrong() -> None:
    """Lines that never pulse give no proposal, and say so; their activity is still told."""
    proposal = propose_lines(make_capture({"A": [(0, 1)], "B": [(0, 0), (500, 1)]}, 1000))
    assert proposal.lines is None
    assert proposal.reasons == (
        "no line pulses as a strobe does, shortly after others have moved: state what the lines are",
    )
    assert [(a.name, a.edges, a.high) for a in proposal.activity] == [("A", 0, 1.0), ("B", 1, 0.5)]


@pytest.mark.parametrize("bits", ["[7:0]", "[0:7]"])
def test_propose_lines_bus(bits: str) -> None:
    """The order of a bus's lines is that of its bits, whichever way they are numbered."""
    host = Host(junk=False)
    host.send(TEXT, random.Random(1))
    flat = host.exact()
    moments = np.unique(np.concatenate([flat.get_channel(f"D{k}").times for k in range(8)]))
    value = np.zeros(len(moments), np.uint64)
    for k in range(8):
        line = flat.get_channel(f"D{k}")
        levels = line.levels[np.searchsorted(line.times, moments, "right") - 1]
        value |= levels.astype(np.uint64) << np.uint64(k)
    none = flat.channels[0]
    planes = value.reshape(-1, 1), np.zeros((len(value), 1), np.uint64)
    bus = Channel(("m.D",), ChannelKind.VECTOR, 8, moments, none.levels[:0], *planes, none.reals, bits)
    rest = tuple(flat.get_channel(name) for name in ("STROBE", "BUSY", "ACK"))
    capture = Capture("made", (bus, *rest), flat.begin, flat.end)
    proposal = propose_lines(capture)
    assert proposal.lines is not None
    assert read_parallel(capture, proposal.lines).data == TEXT
    assert f"data lines in the order of the bits of m.D, D0 first: {', '.join(bus.bit_names)}" in proposal.reasons
