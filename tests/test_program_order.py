"""The order in which a program handles the lines, against routines written down by hand."""

from __future__ import annotations

from typing import Literal

import pytest

from latchlore.base import AddressSet, InputKind, SignalRole, Unsupported
from latchlore.program import Image, explore, tidy
from latchlore.program._answers import own_pulse
from latchlore.program._order import find_order

REGISTERS = AddressSet.of_range(0xC800, 0xC803)


def role(
    signal: str, address: int, direction: Literal["read", "write"], bit: int | None, active: int | None = None
) -> SignalRole:
    """One bit, or a whole register."""
    return SignalRole(signal, InputKind.MEMORY, AddressSet.of((address,)), direction, bit, active=active)


DATA, BUSY = role("DATA", 0xC800, "write", None), role("BUSY", 0xC801, "read", 7)
ACK = role("ACK", 0xC801, "read", 6)
LOW, OPEN = role("STROBE", 0xC802, "write", 0, 0), role("STROBE", 0xC802, "write", 0)

PUT, FALL, RISE = "8D00C8", "A900 8D02C8", "A901 8D02C8"  # STA C800; LDA #0, STA C802; LDA #1, STA C802
WAIT_BUSY = "2C01C8 30FB"  # BIT C801; BMI back
WAIT_ACK = "2C01C8 50FB"  # BIT C801; BVC back


def told(code: str, *roles: SignalRole) -> str:
    """The order of a routine at E000, in words; empty without one."""
    tree = tidy(explore([Image.from_bytes(bytes.fromhex(code), 0xE000, "rom.bin")], 0xE000, REGISTERS))
    found = find_order([tree], roles)
    return "" if found is None else str(found[0])


@pytest.mark.parametrize(
    ("code", "strobe", "words"),
    [
        (f"{PUT} {FALL} {RISE} 60", LOW, "data set, then strobe begins, then strobe ends"),
        (f"{FALL} {PUT} {RISE} 60", LOW, "strobe begins, then data set, then strobe ends"),
        # which level is the pulse: the one that the routine leaves again
        (f"{RISE} {PUT} {FALL} {RISE} 60", OPEN, "data set, then strobe begins, then strobe ends"),
        (f"{WAIT_BUSY} {PUT} {FALL} {RISE} 60", LOW, "busy looked at, then data set, then strobe begins, then strobe "
         "ends"),
        (f"{PUT} {WAIT_BUSY} {FALL} {RISE} 60", LOW, "data set, then busy looked at, then strobe begins, then strobe "
         "ends"),
        (f"{PUT} {FALL} {RISE} {WAIT_ACK} 60", LOW, "data set, then strobe begins, then strobe ends, then acknowledge "
         "looked at"),
        # for ever: the look belongs to the byte before, for the first one has none before it; and to the byte behind
        (f"{PUT} {FALL} {RISE} {WAIT_BUSY} 4C00E0", LOW, "data set, then strobe begins, then strobe ends, then busy "
         "looked at"),
        (f"{WAIT_BUSY} {PUT} {FALL} {RISE} 4C00E0", LOW, "busy looked at, then data set, then strobe begins, then "
         "strobe ends"),
        # two ways: BIT C801, BVC to the second; data first, or strobe first
        (f"2C01C8 500E {PUT} {FALL} {RISE} 60 {FALL} {PUT} {RISE} 60", LOW,
         "acknowledge looked at, then data set, then strobe ends; acknowledge looked at, then strobe begins, then "
         "strobe ends; data set and strobe begins either way"),
        (f"{PUT} 60", LOW, ""),  # no strobe, nothing to go by
    ],
)  # fmt: skip
def test_find_order(code: str, strobe: SignalRole, words: str) -> None:
    """Writes and waits in the order of the code."""
    assert told(code, DATA, strobe, BUSY, ACK) == words


@pytest.mark.parametrize(
    ("code", "stated", "pulse"),
    [
        (f"{PUT} {FALL} {RISE} 60", LOW, (0, (0xE005, 0xE00A))),
        # what is stated is not listened to: the line is high for the pulse, whatever the table says
        (f"{FALL} {PUT} {RISE} {FALL} 60", LOW, (1, (0xE002, 0xE00A))),
        # for ever, 6 cycles at 0 (LDA # 2, STA abs 4: MCS6500 manual, appendix B) and 13 at 1
        (f"{PUT} {FALL} {RISE} 4C00E0", OPEN, (0, (0xE005, 0xE00A))),
        # a wait at either level: nothing tells which is the longer
        (f"{WAIT_BUSY} {PUT} {FALL} {WAIT_BUSY} {RISE} 4C00E0", OPEN, None),
        (f"{PUT} {FALL} 60", LOW, None),  # no way back
        # a wait at 1 alone, and data lead to 0; then a strobe that is held until it is answered: data lead to 0, the
        # wait is at 0, and the two signs differ
        (f"{WAIT_BUSY} {PUT} {FALL} A200 A200 A200 A200 A200 A200 {RISE} 4C00E0", OPEN, (0, (0xE00A, 0xE01B))),
        (f"{PUT} {FALL} {WAIT_BUSY} {RISE} 4C00E0", OPEN, None),
        # the pulse is longer than the gap, so width and data point at different levels
        (f"{PUT} {FALL} A200 A200 A200 A200 A200 A200 {RISE} 4C00E0", OPEN, None),
        (f"{FALL} {RISE} 4C00E0", OPEN, None),  # no data lead to either level
        # a line that rests low, stated to be true when low: what is stated must not hide the first rise
        (f"{PUT} {RISE} A200 A200 A200 A200 A200 A200 {FALL} {WAIT_BUSY} 4C00E0", LOW, (1, (0xE005, 0xE016))),
    ],
)
def test_own_pulse(code: str, stated: SignalRole, pulse: tuple[int, tuple[int, ...]] | None) -> None:
    """The level that is left again, and sooner than the other."""
    tree = tidy(explore([Image.from_bytes(bytes.fromhex(code), 0xE000, "rom.bin")], 0xE000, REGISTERS))
    assert own_pulse(tree, [DATA, stated, BUSY]) == pulse


@pytest.mark.parametrize(
    ("code", "pulse"),
    [
        # bit 7 of the data port: the byte with it high, with it low, with it high again; low for LDA # 2, STA abs 4
        ("A9C1 8D00C8 A941 8D00C8 A9C1 8D00C8 A200 4C00E0", (0, (0xE007, 0xE00C))),
        # the byte comes with the pulse: of the first one nobody sees the beginning, of the next it is an edge
        ("A941 8D00C8 A9C1 8D00C8 A200 A200 A942 8D00C8 A9C2 8D00C8 A200 A200 4C00E0", (0, (0xE007, 0xE010))),
    ],
)
@pytest.mark.parametrize("stated", [None, 0, 1])
def test_own_pulse_on_the_data_port(code: str, pulse: tuple[int, tuple[int, ...]], stated: int | None) -> None:
    """A strobe that is a bit of the data register, whatever is stated of its level."""
    tree = tidy(explore([Image.from_bytes(bytes.fromhex(code), 0xE000, "rom.bin")], 0xE000, REGISTERS))
    assert own_pulse(tree, [DATA, role("STROBE", 0xC800, "write", 7, stated)]) == pulse


def test_find_order_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    """A tree of too many places is not asked, and that is said."""
    monkeypatch.setattr("latchlore.program._order.MAX_STATES", 1)
    words = r"^the program: not looked for: from E000 there are more than 1 ways to come to a place with another order$"
    with pytest.raises(Unsupported, match=words):
        told(f"{WAIT_BUSY} 5000 {PUT} {FALL} {RISE} 4C00E0", DATA, LOW, BUSY)


def test_find_order_undecided() -> None:
    """Where both levels are left again and none is shorter for sure, nothing tells which of them is the pulse."""
    both = f"{WAIT_BUSY} {PUT} {FALL} {WAIT_BUSY} {RISE} 4C00E0"
    assert told(both, DATA, OPEN, BUSY) == ""
    assert told(both, DATA, LOW, BUSY) == (
        "busy looked at, then strobe ends; data set, then strobe begins, then strobe ends; "
        "busy looked at and data set either way; busy looked at and strobe begins either way"
    )
