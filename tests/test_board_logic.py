"""Chips of which only inputs and outputs are known: what they leave open, and what they cannot change."""

from __future__ import annotations

import dataclasses
import random
from functools import reduce
from typing import Any

import pytest

from latchlore.base import AddressSet, BadInput
from latchlore.board import Block, Board, Register, RegisterKind, decode, parse_board, write_verilog
from latchlore.board._functions import minterms

CARD = """
cycle memory read 12 rw high phi2 up
cycle memory write 12 rw low phi2 up
part u1 unknown 20
part u2 74ls138
part u3 74ls273
part u4 74ls244
plug j1 20 printer
logic u1 in 1 2 3 4 out 18 19
net a11 u1.1
net a10 u1.2
net a9 u1.3
net a4 u1.4
net sel u1.19 u2.4
net page u1.18 u2.5
net phi2 u2.6
net rw u2.3
net a0 u2.1
net a1 u2.2
net take u2.15 u3.11
net give u2.11 u4.1
tie high u3.1
net d0 u3.3 u4.18
net d1 u3.4 u4.16
net q0 u3.2 j1.1
net busy j1.2 u4.2
pin j1.1 led out
pin j1.2 busy in
done all
"""


def with_function(board: Board, tables: list[int]) -> Board:
    """The board with a chip that computes the tables over its four inputs in place of the unknown one."""

    def function(*i: Any) -> tuple[Any, ...]:
        terms = minterms(i, 16)
        nothing = i[0] & ~i[0]
        return tuple(
            reduce(lambda a, b: a | b, (term for k, term in enumerate(terms) if table >> k & 1), nothing)
            for table in tables
        )

    chip = board.part("u1")
    block = chip.type.blocks[0]
    kind = dataclasses.replace(chip.type, blocks=(Block(block.inputs, block.outputs, function),))
    known = dataclasses.replace(chip, type=kind)
    parts = tuple(known if part is chip else part for part in board.parts)
    return dataclasses.replace(board, parts=parts, _net_at={})


def by_kind(board: Board) -> dict[RegisterKind, Register]:
    """The card's two registers."""
    return {register.kind: register for register in decode(board).registers}


def test_lines() -> None:
    """The chip's four lines and the two of the decoder can matter, the six others cannot, by what is wired."""
    found = by_kind(parse_board(CARD, "x.nets"))
    for kind in (RegisterKind.TAKES, RegisterKind.GIVES):
        register = found[kind]
        assert register.matters.lines == (0, 1, 4, 9, 10, 11)
        assert register.matters.controls == ("phi2", "rw")
        assert register.matters.is_closed
        assert not register.certain
        assert "the logic of u1 is not known" in register.unsure
        assert register.unsure[-1] == ("address lines that can matter: a0, a1, a4, a9 to a11; a2, a3, a5 to a8 cannot")
    assert str(found[RegisterKind.TAKES].addresses) == "xxxx xxxx xx00"


@pytest.mark.parametrize("seed", range(25))
def test_whatever_it_does(seed: int) -> None:
    """Whatever the chip computes, each register stays inside what is possible, and ignores the lines said so."""
    chance = random.Random(seed)
    board = parse_board(CARD, "x.nets")
    open_map = by_kind(board)
    known = decode(with_function(board, [chance.getrandbits(16) & chance.getrandbits(16) for _ in range(2)]))
    for register in known.registers:
        possible = open_map[register.kind]
        assert register.addresses <= possible.addresses
        assert possible.certain <= register.certain
        cannot = set(range(12)) - set(possible.matters.lines)
        assert cannot <= set(register.addresses.free_lines)


def test_not_traced_on_the_way() -> None:
    """Where a pin on the way is not traced no line can be excluded, and the pin is named."""
    board = parse_board(CARD.replace("net a4 u1.4\n", "").replace("done all", "done u2 u3 u4 j1"), "x.nets")
    register = by_kind(board)[RegisterKind.TAKES]
    assert not register.matters.is_closed
    assert register.unsure[-1] == (
        "no address line can be excluded, because u1.4 is not traced; seen so far: a0, a1, a9 to a11"
    )


def test_unknown_chip() -> None:
    """Without inputs and outputs every pin of the chip counts as one that it may look at."""
    board = parse_board(CARD.replace("logic u1 in 1 2 3 4 out 18 19\n", "net a7 u1.7\n"), "x.nets")
    register = by_kind(board)[RegisterKind.TAKES]
    assert register.matters.lines == (0, 1, 4, 7, 9, 10, 11)


def test_certain_in_spite_of_it() -> None:
    """A decoder's select that a known gate forces is certain whatever the chip drives elsewhere."""
    text = CARD.replace("net sel u1.19 u2.4", "tie low u2.4").replace("net page u1.18 u2.5", "tie low u2.5")
    register = by_kind(parse_board(text, "x.nets"))[RegisterKind.TAKES]
    assert register.certain == register.addresses == AddressSet.parse("xxxx xxxx xx00")
    assert not register.unsure


def test_verilog_keeps_it() -> None:
    """Inputs and outputs survive being written as Verilog."""
    board = parse_board(CARD, "x.nets")
    back = parse_board(write_verilog(board), "x.v")
    assert by_kind(back)[RegisterKind.TAKES].matters == by_kind(board)[RegisterKind.TAKES].matters


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("logic u2 in 1 2 out 3 4", "'u2' is no unknown chip of this board, such as: part u2 unknown 20"),
        ("logic u1 in 1 2 out 2 3", "pin 2 of 'u1' is given as input and as output"),
        ("logic u1 in 1 21 out 2", "'u1' has pins 1 to 20, not '21'"),
        ("logic u1 in 1 1 out 2", "pin 1 of 'u1' is given twice"),
        ("logic u1 out 1 2 in 3", "the pins of 'u1' are given as: logic u1 in 1 2 3 out 18 19"),
    ],
)
def test_logic_wrong(line: str, message: str) -> None:
    """Each mistake of the statement is refused with its line."""
    with pytest.raises(BadInput) as caught:
        parse_board(CARD.replace("logic u1 in 1 2 3 4 out 18 19", line), "x.nets")
    assert f"x.nets:9: {message}" in str(caught.value)
