"""A ROM's lines on a board, followed to the host; the boards are invented."""

from __future__ import annotations

import random

import pytest

from latchlore.base import BadInput, UnknownName
from latchlore.board import Board, parse_netlist
from latchlore.program import Wiring
from latchlore.study import chip_wiring
from latchlore.study._chipfacts import LARGEST_ROM
from latchlore.study._chipwiring import rom_pins


def board(address: list[str], data: list[str], pins: int = 24) -> Board:
    """A card with a ROM u5 whose lines, from A0 and D0 on, stand in the nets named."""
    text = f"board card\nhost 6502\npart u5 unknown {pins}\nplug p1 50 host\n"
    places: dict[str, list[str]] = {}
    for names, numbers in ((address, rom_pins(pins)[0]), (data, rom_pins(pins)[1])):
        for name, number in zip(names, numbers, strict=False):
            places.setdefault(name, []).append(f"u5.{number}")
    lines = sorted({*places, *(f"a{k}" for k in range(16)), *(f"d{k}" for k in range(8))})
    for number, name in enumerate(lines, 1):
        if name[1:].isdigit():
            text += f"pin p1.{number} {name} {'in' if name[0] == 'a' else 'both'}\n"
            places.setdefault(name, []).append(f"p1.{number}")
    text += "".join(f"net {name} {' '.join(spots)}\n" for name, spots in sorted(places.items()))
    return parse_netlist([(text, "card.nets")])


def straight(letter: str, count: int) -> list[str]:
    """Names of the host's lines in order."""
    return [f"{letter}{k}" for k in range(count)]


def test_straight() -> None:
    """A chip wired as its pins say reads as it is."""
    assert chip_wiring(board(straight("a", 11), straight("d", 8)), "u5", 2048).is_straight


@pytest.mark.parametrize("seed", range(5))
def test_crossed(seed: int) -> None:
    """What the host sees through crossed lines is what the wiring makes of the chip's bytes, byte by byte."""
    chooser = random.Random(seed)
    address, data = list(range(11)), list(range(8))
    chooser.shuffle(address)
    chooser.shuffle(data)
    chip = chooser.randbytes(2048)
    card = board([f"a{k}" for k in address], [f"d{k}" for k in data])
    image = chip_wiring(card, "U5", 2048).undo(chip)
    for _ in range(200):
        host = chooser.randrange(2048)
        at = sum((host >> address[line] & 1) << line for line in range(11))
        seen = sum((chip[at] >> bit & 1) << data[bit] for bit in range(8))
        assert image[host] == seen


def test_inverter_and_buffer() -> None:
    """A line through an inverter is inverted, one through two is not; a transceiver is passed."""
    text = (
        "board card\nhost 6502\npart u5 unknown 24\npart u6 7404\npart u7 74245\nplug p1 50 host\n"
        + "".join(f"pin p1.{k + 1} a{k} in\n" for k in range(11))
        + "".join(f"pin p1.{k + 20} d{k} both\n" for k in range(8))
        + "net a6 p1.7 u6.1 u6.9\nnet n1 u6.2 u6.3\nnet n2 u6.4 u5.2\n"  # A6: twice inverted
        + "net a7 p1.8 u6.5\nnet n3 u6.6 u5.1\n"  # A7: once
        + "".join(f"net a{k} p1.{k + 1} u5.{rom_pins(24)[0][k]}\n" for k in range(11) if k not in (6, 7))
        + "".join(f"net r{k} u5.{rom_pins(24)[1][k]} u7.{k + 2}\n" for k in range(8))
        + "".join(f"net d{k} p1.{k + 20} u7.{18 - k}\n" for k in range(8))
    )
    wiring = chip_wiring(parse_netlist([(text, "card.nets")]), "u5", 2048)
    assert wiring == Wiring(tuple(range(11)), 1 << 7)
    assert str(wiring) == "A7 inverted"


def test_skipped_line() -> None:
    """A chip whose A10 hangs on the host's a12 takes the place of the lines between."""
    assert chip_wiring(board([*straight("a", 10), "a12"], straight("d", 8)), "u5", 2048).is_straight


def test_pins() -> None:
    """A 24-pin chip in the upper end of a 28-pin socket finds its lines at the same places (JEDEC 21-C)."""
    small, large = rom_pins(24), rom_pins(28)
    assert [pin + 2 for pin in small[0][:11]] == list(large[0][:11])
    assert [pin + 2 for pin in small[1]] == list(large[1])
    for address, data in map(rom_pins, LARGEST_ROM):
        assert len({*address, *data}) == len(address) + len(data)


def test_chip_wiring_wrong() -> None:
    """A part that is not there, one with other pins, a line that leads nowhere, two that meet."""
    good = board(straight("a", 11), straight("d", 8))
    with pytest.raises(UnknownName, match=r"^there is no part 'u9' on the board; known are 'u5'$"):
        chip_wiring(good, "u9", 2048)
    for size in (3000, 8192):
        with pytest.raises(BadInput) as error:
            chip_wiring(good, "u5", size)
        assert str(error.value) == (
            "card.nets:3: the pins of a ROM are known for chips of 24 and 28 pins and a power of two of bytes that "
            f"they can address; 'u5' has 24 pins and {size} bytes"
        )
    with pytest.raises(BadInput) as error:
        chip_wiring(good, "u5", 4096)
    assert str(error.value) == (
        "card.nets:3: A11 of u5 (pin 21) must lead to one line of the host, through buffers at most; it leads to none"
    )
    with pytest.raises(BadInput) as error:
        chip_wiring(board([*straight("a", 10), "a3"], straight("d", 8)), "u5", 2048)
    assert str(error.value) == "card.nets:3: A3 and A10 of u5 both lead to a3"
