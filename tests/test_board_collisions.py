"""Addresses that reach more than one thing: two registers, or a register and a card that the file states."""

from __future__ import annotations

import pytest

from latchlore.base import AddressSet, BadInput
from latchlore.board import decode, parse_board
from latchlore.board.testify import testify as say

TWO_LATCHES = """
host z80 8
part u1 74ls32
part u2 74ls374
part u3 74ls32
part u4 74ls374
net wr u1.1
net iorq u1.2
net iowr u1.3 u1.4 u3.1
net a2 u1.5
net c1 u1.6 u2.11
net a4 u3.2
net c2 u3.3 u4.11
net d0 u2.3 u4.3
tie low u2.1 u4.1 u1.9 u1.10 u1.12 u1.13 u3.4 u3.5 u3.9 u3.10 u3.12 u3.13
"""


def test_collisions() -> None:
    """Two latches, selected by A2 = 0 and A4 = 0, share a quarter of the ports; each is named by one it has alone."""
    found = decode(parse_board(TWO_LATCHES + "done all\n", "x.nets"))
    assert [(r.parts, r.address) for r in found.registers] == [(("u2",), 0x10), (("u4",), 0x04)]
    (one,) = found.collisions
    assert (one.first, one.other, one.direction, str(one.addresses)) == ("u2", "u4", "write", "xxx0 x0xx")


def test_card() -> None:
    """A serial chip at port 80 answers together with a card that looks at A2 = 0 only (bench case 3's note)."""
    found = decode(parse_board(TWO_LATCHES + "card serial port both 50\ndone all\n", "x.nets"))
    (one,) = [c for c in found.collisions if c.other == "serial"]
    assert (one.first, one.addresses) == ("u2", AddressSet.of([0x50], 8))


@pytest.mark.parametrize(
    ("words", "addresses"),
    [("b0-b7", range(0xB0, 0xB8)), ("101100x1 04", [0x04, 0xB1, 0xB3]), ("7f", [0x7F])],
)
def test_card_addresses(words: str, addresses: list[int]) -> None:
    """A card's addresses are single ones, ranges and patterns, all of which add up."""
    board = parse_board(TWO_LATCHES + f"card other port write {words}\n", "x.nets")
    assert board.cards[0].addresses == AddressSet.of(addresses, 8)
    assert board.cards[0].directions == ("write",)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ("c port both 1x0", "a pattern has 8 digits 0, 1 or x here, not '1x0'"),
        ("c port both 100", "addresses run from 0 to FF, lowest first, not '100'"),
        ("c port both 9-8", "addresses run from 0 to FF, lowest first, not '9-8'"),
        ("c port both g1", "an address is hexadecimal, a range such as b0-b7, or a pattern with x, not 'g1'"),
        ("c port in 10", "a card answers read, write or both, not 'in'"),
        ("c rom both 10", "a card's space is one of the host's, memory or port, not 'rom'"),
    ],
)
def test_card_wrong(words: str, message: str) -> None:
    """A card's mistakes are told with the line."""
    with pytest.raises(BadInput) as caught:
        parse_board(TWO_LATCHES + f"card {words}\n", "x.nets")
    assert str(caught.value) == f"x.nets:16: {message}"


LINE = """plug p9 2 host
pin p9.1 irq7 out high
part u9 {kind}
net irq7 {pin} p9.1
card other port both 50 drives irq7 nothing
done all
"""


@pytest.mark.parametrize(
    ("kind", "pin", "said"),
    [
        (
            "74125",
            "u9.3",
            "u9.3 drives IRQ7 here while it is enabled, other drives it too: the two cannot both be enabled",
        ),
        ("7404", "u9.2", "u9.2 always drives IRQ7 here, other drives it too: the two cannot stand in one machine"),
        (
            "7406",
            "u9.2",
            "u9.2 pulls IRQ7 down here and other may drive it too: two open collectors share a line",
        ),
    ],
)
def test_card_drives(kind: str, pin: str, said: str) -> None:
    """A host line that a stated card drives as well: what two drivers mean depends on the part."""
    board = parse_board(TWO_LATCHES + LINE.format(kind=kind, pin=pin), "x.nets")
    notes = [one for one in say(board) if one.subject.key == ("IRQ7 shared with other",)]
    assert [str(one.value) for one in notes] == [said]
    assert len(notes[0].origins) == 2


def test_card_drives_wrong() -> None:
    """`drives` without a line, and a card without an address, are refused."""
    for words in ("c port both 10 drives", "c port both drives irq7"):
        with pytest.raises(BadInput) as caught:
            parse_board(TWO_LATCHES + f"card {words}\n", "x.nets")
        assert str(caught.value).endswith("a card has an address, and behind `drives` the host's lines that it drives")
