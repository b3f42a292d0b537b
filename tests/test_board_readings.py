"""Readings files: what is typed, what is refused, and what comes back."""

from __future__ import annotations

import re

import pytest

from latchlore.base import BadInput
from latchlore.board import PinAt, parse_board
from latchlore.board._readings import parse_readings, read_readings, text_of

BOARD = parse_board("part u1 7400\npart u2 74138\nplug p1 50 host\n", "board/a.nets")

TEXT = """\
hold u1.3            # the first gate's output
sweep u2 1-8 5
sweep p1 odd
sweep u2 9-16 9 ohms 10 30 diode 11
joined u1.1 u2.y0
apart u1.1 u2.1 u2.2
lifted u1
side solder
ohms 4k7 u1.1 p1.50
diode u1.1 u2.3
press u1 1-7
sweep u2 1-8 2
sweep u2 9-16
"""


def test_parse_readings() -> None:
    """Each statement becomes one reading with its place, held pin, row, answers, lifted parts and side."""
    readings = parse_readings(TEXT, "board/a.readings", BOARD)
    assert [str(r.origin) for r in readings][:3] == [f"board/a.readings:{k}" for k in (2, 3, 4)]
    assert readings[0].held == PinAt("u1", 3)
    assert readings[0].joined == (PinAt("u2", 5),)
    assert [at.pin for at in readings[1].touched] == list(range(1, 50, 2))
    assert readings[2].ohms == ((PinAt("u2", 10), 30.0),)
    assert readings[2].diodes == (PinAt("u2", 11),)
    assert readings[3].joined == (PinAt("u2", 15),)
    assert readings[4].pressed
    assert readings[4].silent == (PinAt("u2", 1), PinAt("u2", 2))
    assert readings[7].clues == ((PinAt("u2", 2), tuple(PinAt("u1", k) for k in range(1, 8))),)
    assert (readings[7].beeped, len(readings[8].silent)) == ((), 8)
    assert (readings[5].ohms, readings[5].lifted, readings[5].side) == (((PinAt("p1", 50), 4700.0),), ("u1",), "solder")


def test_not_believed() -> None:
    """A resistance and a junction are no beep; copper's own resistance is; a pressed group names no pair."""
    text = "ohms 30 u1.1 u2.1\nohms 0.4 u1.1 u2.2\ndiode u1.1 u2.3\njoined u1.1 u2.4 u2.5\n"
    believed = [r.beeped for r in parse_readings(text, "a", BOARD)]
    assert believed == [(), (PinAt("u2", 2),), (), ()]


def test_text_of() -> None:
    """Written readings read back as they were."""
    readings = parse_readings(TEXT, "a", BOARD)
    again = parse_readings(text_of(readings), "a", BOARD)
    plain = [(r.held, r.touched, r.joined, r.ohms, r.diodes, r.pressed, r.strip, r.lifted, r.side) for r in readings]
    assert plain == [
        (r.held, r.touched, r.joined, r.ohms, r.diodes, r.pressed, r.strip, r.lifted, r.side) for r in again
    ]


def test_parse_readings_wrong() -> None:
    """All mistakes of a file are told at once."""
    text = (
        "sweep u2 1-8\nhold u9.1\nhold u1.3\nsweep u2 0-8\nsweep u2 1-8 9\nbeep u1.1\njoined u1.1\nside left\n"
        "ohms x u1.1 u1.2\njoined u1.1 u1.1\npress u1 1-7\nsweep u1 7-14\npress u1 left\n"
    )
    wanted = """\
a:1: a sweep needs a pin that is held: write 'hold' and the pin above it
a:2: 'u9.1': the board has no part, connector or strap 'u9'
a:4: a row of 'u2' is odd, even, all or two pins such as 1-16, not '0-8'
a:5: pin u2.9 does not lie in the row 1 to 8 that was swept
a:6: statement 'beep' is not known; known are hold, press, sweep, joined, apart, ohms, diode, lifted, side
a:7: too few words in 'joined u1.1'; the form is: joined PIN PIN...
a:8: a side is parts or solder, not 'left'
a:9: a resistance is a number of ohms such as 30, 0.3 or 4k7, not 'x'
a:10: pin u1.1 is read against itself
a:12: the strip lies on pins of the row of 'u1' that was swept
a:13: a row of 'u1' is odd, even, all or two pins such as 1-14, not 'left'"""
    with pytest.raises(BadInput, match=f"^{re.escape(wanted)}$"):
        parse_readings(text, "a", BOARD)


def test_read_readings_wrong() -> None:
    """Bytes that are no UTF-8 are refused with their place."""
    with pytest.raises(BadInput, match=r"^a:2: byte 10 is FFh; the file must be UTF-8 text$"):
        read_readings(b"hold u1.1\n\xff\n", "a", BOARD)
