"""A board without some of its statements says less, and nothing else."""

from __future__ import annotations

import random

import pytest

from latchlore.base import BitKind
from latchlore.board import Board, decode, find_statement, parse_board, without
from tests.random_boards import Maker

SMALL = """\
host 6502
part u1 74ls244
part u2 74ls04
part u3 74ls138
plug j1 4 printer
pin j1.1 busy in high
pin j1.2 paper-out in
strap w1 open
net busy j1.1 u2.1
net nbusy u2.2 u1.2
net paper-out j1.2 u1.4
net d7 u1.18
net d6 u1.16
net d5 u1.14
net w w1.1 u1.6
tie low w1.2
pull up w 4k7
net sel u3.13 u1.1
net a15 u3.1
net phi2 u3.6
net rw u3.2
tie low u3.3 u3.4 u3.5
done all
"""


def sense_of(board: Board, number: int) -> str:
    """What the one register's bit follows, in words."""
    [register] = [one for one in decode(board).registers if one.direction == "read"]
    return str(register.bit(number).sense)


@pytest.mark.parametrize("what", ["u1.2", "u2.2", "u2.1", "part u2", "part u1", "pin j1.1"])
def test_without(what: str) -> None:
    """The joints, parts and names on the way of a bit: none of them is known without it, and it is never "open"."""
    board = parse_board(SMALL, "card.nets")
    statement = find_statement(board, what)
    assert statement is not None
    assert str(statement) == f"card.nets: {what}"
    less, missing = without(board, [what])
    assert missing == ()
    assert sense_of(board, 7) == "NOT busy"
    registers = [one for one in decode(less).registers if one.direction == "read"]
    assert {bit.sense.kind for one in registers for bit in one.bits if bit.number == 7} <= {BitKind.UNKNOWN}


def test_without_level() -> None:
    """A stated level goes alone; the signal stays.  A strap's position is not known then."""
    board = parse_board(SMALL, "card.nets")
    less, _ = without(board, ["level j1.1", "strap w1"])
    assert less.connector("j1").pins[0].active is None
    assert sense_of(less, 7) == "NOT busy"
    assert less.straps[0].joined is None


def test_without_wrong() -> None:
    """What the board does not have is told, and nothing else is withdrawn."""
    board = parse_board(SMALL, "card.nets")
    names = ["u9.1", "part u9", "strap w9", "level j1.2x", "pin j9.1", "u1.2 u9.9"]
    assert without(board, names) == (board, tuple(names))
    assert [find_statement(board, name) for name in names] == [None] * len(names)


@pytest.mark.parametrize("seed", range(12))
def test_says_less(seed: int) -> None:
    """On random boards: whatever the rest says of a bit, the whole board said as well, or it is not known any more."""
    board = parse_board(Maker(seed, 8).build(unknowns=0, buffered=False), "random.nets")
    choose = random.Random(seed)
    pins = [str(at) for net in board.nets for at in net.pins if at.owner.startswith("u")]
    less, missing = without(board, choose.sample(pins, 1))
    assert missing == ()
    whole = decode(board).registers
    for register in decode(less).registers:
        for bit in register.bits:
            for address in register.certain.iter_addresses():
                if bit.sense.kind is BitKind.UNKNOWN or register.direction == "write":
                    continue
                said = [r for r in whole if r.direction == "read" and address in r.addresses]
                kinds = {one.sense for r in said for one in r.bits if one.number == bit.number}
                assert bit.sense in kinds or any(one.kind is BitKind.UNKNOWN for one in kinds), (seed, address, bit)
