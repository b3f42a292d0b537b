"""The maps still possible: straps of unknown position, inputs that are not traced."""

from __future__ import annotations

import itertools

import pytest

from latchlore.base import Unsupported
from latchlore.board import decode, parse_board, possible_maps, settle_registers

STRAPPED = """
host z80 8
part u1 74ls688
part u2 74ls374
part u3 74ls32
net a0 u1.2
net a1 u1.4
net a2 u1.6
net a3 u1.8
net a4 u1.11
net a5 u1.13
net a6 u1.15
net a7 u1.17
strap w1 unknown
strap w2 unknown 3
net q7 u1.18 w1.1
pull up q7 10k
tie low w1.2
net q6 u1.16 w2.2
tie low w2.1
tie high w2.3
tie low u1.3 u1.5 u1.7 u1.9 u1.12 u1.14
net iorq u1.1
net sel u1.19 u3.1
net wr u3.2
net take u3.3 u2.11
net d0 u2.3
tie low u2.1
done u1 u2 u3
"""


def test_straps() -> None:
    """Two base straps: six cases, one address each; the open middle pin floats and leaves two in its case."""
    board = parse_board(STRAPPED, "x.nets")
    cases = possible_maps(board)
    assert [case.assumes for case in cases] == [
        (f"strap w1 {one}", f"strap w2 {other}")
        for one, other in itertools.product(("open", "joined"), ("open", "1-2", "2-3"))
    ]
    (register,) = settle_registers(cases)
    assert [str(addresses) for addresses in register.by_case] == [
        "1x00 0000",
        "1000 0000",
        "1100 0000",
        "0x00 0000",
        "0000 0000",
        "0100 0000",
    ]
    assert not register.certain
    assert str(register.possible) == "xx00 0000"
    assert decode(board).registers[0].addresses == register.possible


# An untraced input to both gates of an exclusive or made by hand: whatever it is, one of the two passes A7.
MEETS_ITSELF = """
host z80 8
part u1 74ls04
part u2 74ls08
part u3 74ls32
part u4 74ls374
net a7 u2.1 u2.4
net x u1.2 u2.5
net y u1.1 u2.2
net p u2.3 u3.1
net q u2.6 u3.2
net s u3.3 u3.4
net wr u3.5
net take u3.6 u4.11
net d0 u4.3
tie low u4.1
"""


def test_unknown_meets_itself() -> None:
    """A7 through two gates of which the unknown line opens one: certain in all cases, though unknown at each gate."""
    board = parse_board(MEETS_ITSELF.replace("net y u1.1 u2.2\n", "net y u1.1 u2.2 w1.2\nstrap w1 unknown 3\n"
                                             "tie low w1.1\ntie high w1.3\n") + "done all\n", "x.nets")  # fmt: skip
    careful = next(register for register in decode(board).registers if register.space == "port")
    assert careful.certain != careful.addresses
    cases = [case for case in possible_maps(board) if "open" not in case.assumes[0]]
    register = next(one for one in settle_registers(tuple(cases)) if one.space == "port")
    assert str(register.certain) == "0xxx xxxx"
    assert register.certain == register.possible


def test_untraced_input() -> None:
    """An untraced select of a decoder: low, the latch answers in its half; high, nowhere."""
    text = STRAPPED.replace("strap w1 unknown\n", "strap w1 joined\n").replace("strap w2 unknown 3", "strap w2 1-2")
    text = text.replace("net iorq u1.1\n", "").replace("done u1 u2 u3", "done u2 u3")
    cases = possible_maps(parse_board(text, "x.nets"))
    assert [case.assumes for case in cases] == [("u1.1 low",), ("u1.1 high",)]
    # the same in memory and at ports, because nothing looks at IORQ any more
    assert [len(case.map.registers) for case in cases] == [2, 0]


def test_nothing_open() -> None:
    """A board of which all is known is one case."""
    text = STRAPPED.replace("strap w1 unknown\n", "strap w1 joined\n").replace("strap w2 unknown 3", "strap w2 1-2")
    (case,) = possible_maps(parse_board(text, "x.nets"))
    assert case.assumes == ()


def test_possible_maps_wrong() -> None:
    """Too many cases are refused with their number and what to settle first."""
    text = "host z80\npart u1 7430\npart u2 7404\nnet a0 u1.1\nnet n u1.8 u2.1\n"
    with pytest.raises(
        Unsupported,
        match=r"^x\.nets:1: 128 cases are open; 64 are computed: settle one of"
        r" u1\.2, u1\.3, u1\.4, u1\.5, u1\.6, u1\.11 and 1 more$",
    ):
        possible_maps(parse_board(text, "x.nets"))


@pytest.mark.parametrize(("position", "addresses"), [("1-2", "1000 0000"), ("2-3", "1100 0000")])
def test_strap_between_both_supplies(position: str, addresses: str) -> None:
    """A strap of three pins with a supply at either end gives the level of the end that it joins."""
    text = STRAPPED.replace("strap w1 unknown\n", "strap w1 open\n").replace(
        "strap w2 unknown 3", f"strap w2 {position}"
    )
    (register,) = decode(parse_board(text, "x.nets")).registers
    assert str(register.addresses) == addresses
