"""How soon things a stand-in may be built of react to an edge, and which names of subjects a stand-in is specified by.

Source of the reaction times: orders of magnitude from building such circuits, *common practice* and *from memory*: no
figure replaces a measurement of the thing itself with two channels, edge in and answer out.
"""

from __future__ import annotations

from typing import NamedTuple

from latchlore.base import Span

SET_UP = "data set-up"
STROBE_WIDTH = "strobe width"
HOLD = "data hold"
BYTE_PERIOD = "byte period"
STROBE_TO_BUSY = "strobe to busy"
ACK_WIDTH = "acknowledge width"


class Reaction(NamedTuple):
    """Something that answers an edge: what it is, and from when to when it usually has answered."""

    what: str
    least: Span
    most: Span


REACTIONS = (
    Reaction("a flip-flop or a gate that the strobe itself sets", Span.of(ns=5), Span.of(ns=100)),
    Reaction("a controller of 100 MHz or more, interrupt routine in machine code", Span.of(ns=200), Span.of(us=1)),
    Reaction("an 8-bit controller of 16 MHz, polling loop in machine code", Span.of(ns=300), Span.of(us=1)),
    Reaction("an 8-bit controller of 16 MHz, interrupt routine in machine code", Span.of(us=1), Span.of(us=4)),
    Reaction("an 8-bit controller of 16 MHz, interrupt through a library in C", Span.of(us=3), Span.of(us=15)),
    Reaction("an interpreted program on a controller", Span.of(us=20), Span.of(ms=2)),
    Reaction("a program under an operating system that does other things as well", Span.of(us=50), Span.of(ms=50)),
)
"""Soonest first."""

CONTROLLER_MHZ = (1, 4, 16, 100)
"""Clock rates for which a time is also given as a number of the controller's own cycles."""

PULSE_NAMES = frozenset({"ACK", "ACKNOWLEDGE", "ACKNLG"})
"""Signals that come as a short pulse after a byte, not as a level that stays."""
