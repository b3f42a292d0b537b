"""How a board wires a ROM's lines to its host: what a reader of the chip alone reads crossed, and the host does not."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, UnknownName
from latchlore.study import _chipwords as words
from latchlore.study._chipfacts import LARGEST_ROM

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.board import Board
    from latchlore.board import Part as BoardPart
    from latchlore.program import Wiring

_HOST = {"A": re.compile(r"a(\d+)", re.I), "D": re.compile(r"d(\d+)", re.I)}
MOST_GATES = 8  # buffers and inverters on the way of one line


def chip_wiring(board: Board, chip: str, size: int) -> Wiring:
    """The wiring between a chip of `size` bytes, read by itself, and what the host of the board sees.

    Each of the chip's lines is followed, through buffers and inverters, to a line of the host.  Where the host skips
    a line the next higher one takes its place, for the image is what the chip gives at rising addresses.  Refuses
    (`UnknownName`) a chip that is not on the board, and (`BadInput`) one whose pins are not known, a line that leads
    to no line of the host, and lines that meet.
    """
    from latchlore.program import Wiring

    part = next((one for one in board.parts if one.name == chip.lower()), None)
    if part is None:
        raise UnknownName(f"there is no part {chip!r} on the board", [one.name for one in board.parts])
    pins = len(part.type.pins)
    lines = size.bit_length() - 1
    address_pins, data_pins = rom_pins(pins) if pins in LARGEST_ROM else ((), ())
    if size & (size - 1) or lines > len(address_pins):
        raise BadInput(part.origin, words.no_such_chip(chip, pins, size, sorted(LARGEST_ROM)))
    mistakes: list[tuple[Origin, str]] = []
    address = _lines(board, part, "A", address_pins[:lines], mistakes)
    data = _lines(board, part, "D", data_pins, mistakes)
    if mistakes:
        raise BadInput.of_all(mistakes)
    orders, masks = [], []
    for found in (address, data):
        ranked = sorted(range(len(found)), key=lambda line: found[line][0])
        orders.append(tuple(ranked))
        masks.append(sum(found[line][1] << place for place, line in enumerate(ranked)))
    return Wiring(orders[0], masks[0], orders[1], masks[1])


def rom_pins(pins: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Pins of A0, A1 ... and of D0 to D7 of a ROM with 24 or 28 pins, as the board's catalogue has them.

    A chip has as many address lines as its size asks for; of the 24-pin chips A11 stands where smaller ones have their
    programming voltage.
    """
    from latchlore.board import get_type

    number = {pin.name: pin.number for pin in get_type(LARGEST_ROM[pins]).pins}
    address = [name for name in number if re.fullmatch(r"A\d+", name)]
    return tuple(number[f"A{k}"] for k in range(len(address))), tuple(number[f"D{k}"] for k in range(8))


def _lines(
    board: Board, part: BoardPart, letter: str, pins: tuple[int, ...], mistakes: list[tuple[Origin, str]]
) -> list[tuple[int, int]]:
    """For each of the chip's lines the host's line and whether it is inverted."""
    found: list[tuple[int, int]] = []
    for number, pin in enumerate(pins):
        reached = dict(_reach(board, part, pin, letter))
        if len(reached) != 1:
            mistakes.append(
                (part.origin, words.not_reached(f"{letter}{number}", part.name, pin, letter, list(reached)))
            )
            continue
        ((line, flip),) = reached.items()
        before = next((k for k, (other, _) in enumerate(found) if other == line), None)
        if before is not None:
            mistakes.append((part.origin, words.lines_meet(part.name, letter, before, number, line)))
        if letter == "D" and line > 7:
            mistakes.append((part.origin, words.not_reached(f"D{number}", part.name, pin, letter, [line])))
        found.append((line, flip))
    return found


def _reach(board: Board, part: BoardPart, pin: int, letter: str) -> Iterator[tuple[int, int]]:
    """Lines of the host that a pin leads to, against the current for addresses and with it for data."""
    from latchlore.board import PinAt

    start = board.net_of(PinAt(part.name, pin))
    work, seen = ([] if start is None else [(start, 0)]), {start}
    for _ in range(MOST_GATES):
        further: list[tuple[str, int]] = []
        for net, flip in work:
            match = _HOST[letter].fullmatch(net)
            if match:
                yield int(match[1]), flip
                continue
            for other, turn in _through(board, net, backwards=letter == "A"):
                if other not in seen:
                    seen.add(other)
                    further.append((other, flip ^ turn))
        work = further


def _through(board: Board, net: str, *, backwards: bool) -> Iterator[tuple[str, int]]:
    """Nets on the other side of buffers and inverters, with 1 for the latter."""
    from latchlore.board import PinAt

    for part in board.parts:
        for block in part.type.blocks:
            if len(block.outputs) != 1 or block.states:
                continue
            out = board.net_of(PinAt(part.name, block.outputs[0]))
            for index, pin in enumerate(block.inputs):
                into = board.net_of(PinAt(part.name, pin))
                here, there = (out, into) if backwards else (into, out)
                turn = _turn(block.function, len(block.inputs), index) if here == net and there else None
                if turn is not None and there is not None:
                    yield there, turn


def _turn(function: object, inputs: int, index: int) -> int | None:
    """0 where the output follows this input whatever the others are, 1 where it is the opposite, else None."""
    from latchlore.board import Levels

    assert callable(function)
    told = []
    for level in (0, 1):
        levels = [Levels(1, 1)] * inputs
        levels[index] = Levels(1 - level, level)
        (out,) = function(*levels)
        told.append((out.can0, out.can1))
    return {((1, 0), (0, 1)): 0, ((0, 1), (1, 0)): 1}.get((told[0], told[1]))
