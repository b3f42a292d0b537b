"""Markings: type against date, second numbers, house numbers, near types; bench case 20 and its kinds.

Sources: the rules and examples of date codes are those of two mailing-list notes (1998, 2000) and an article on the
series; house numbers are from the cross table of one NAND in a 74LS00 sheet.
"""

from __future__ import annotations

import random

import pytest

from latchlore.base import BadInput, SubjectKind
from latchlore.board import (
    Board,
    Levels,
    PartType,
    decode,
    find_type,
    get_type,
    misfits,
    near_types,
    parse_board,
    read_dates,
    read_marking,
    read_type,
)
from latchlore.board import testify as say
from latchlore.board.markfacts import HOUSE, NEAR

LAMP = """
host z80
made 1974 1977
part u1 marked SN7400N 7437
part u2 marked DM74157N 9322 718
part u3 marked 7404 7408
part u4 7404
part d1 led
part r1 resistor 330
net lamp u3.3 r1.1
net led r1.2 d1.1
tie low d1.2
net in1 u3.1 u1.3
"""


def marking_row(board: Board, name: str) -> tuple[str, str]:
    """Value and note of a chip's marking as the board says them."""
    (said,) = [t for t in say(board, decode(board)) if t.subject.key == (f"marking of {name}",)]
    assert said.subject.kind is SubjectKind.NOTE
    return str(said.value), said.note


def test_case_20() -> None:
    """Letters tell the type; a second number of the type is no date; the nets tell where no letter does."""
    board = parse_board(LAMP, "x.nets")
    assert marking_row(board, "u1") == (
        "7400",
        "7437 is week 37 of 1974; 7437 is also a type number with the same pinout",
    )
    assert marking_row(board, "u2") == ("74157", "718 is week 18 of 1977; 9322 is a second number of the 74157")
    assert marking_row(board, "u3") == (
        "7408",
        "7404 is week 4 of 1974; not a 7404: an output is needed at pin 3; 7404 is also a type number",
    )
    assert [board.part(name).type.name for name in ("u1", "u2", "u3")] == ["7400", "74157", "7408"]
    assert board.part("u1").marking == "sn7400n"


def test_case_20_other_way() -> None:
    """The same words with another output at pin 3 are a 7404: there the pin is an input."""
    board = parse_board(LAMP.replace("net lamp u3.3", "net lamp u3.3 u4.2"), "x.nets")
    assert marking_row(board, "u3")[0] == "7404"
    assert "not a 7408: pin 3 is an output and stands against another output" in marking_row(board, "u3")[1]


def test_not_settled() -> None:
    """With nothing at the telling pins both types stay, the chip is not decoded, and a doubt names the pins."""
    board = parse_board("host z80\npart u3 marked 7404 7408\npart u4 7404\nnet n u3.1 u4.2\n", "x.nets")
    assert marking_row(board, "u3")[0] == "7404 or 7408"
    assert board.part("u3").type.name == "unknown 14"
    assert [doubt.words for doubt in board.doubts] == [
        "u3 is a 7404 or 7408; what drives pin 2, 3, 4, 5, 9, 10 tells"
    ] or (board.doubts[0].words.startswith("u3 is a 7404 or 7408; what drives pins 2, 3, 4"))


@pytest.mark.parametrize(
    ("word", "years", "dates"),
    [
        ("7830", None, ["week 30 of 1978"]),
        ("7645", None, ["week 45 of 1976"]),
        ("936", None, ["week 36 of 1969", "week 36 of 1979", "week 36 of 1989", "week 36 of 1999"]),
        ("718", (1974, 1977), ["week 18 of 1977"]),
        ("7453", None, ["week 53 of 1974"]),
        ("7454", None, []),
        ("7400", None, []),
        ("8112AB", None, ["week 12 of 1981"]),
        ("9322", (1974, 1977), []),
        ("SN7400N", None, []),
    ],
)
def test_read_dates(word: str, years: tuple[int, int] | None, dates: list[str]) -> None:
    """YYWW with weeks 1 to 53, YWW with the decade implied, lot letters beside them."""
    assert [str(date) for date in read_dates(word, years)] == dates


@pytest.mark.parametrize(
    ("words", "types"),
    [
        ("7437 SN7400N", ["7400"]),
        ("DM74LS221N 7722", ["74221"]),
        ("SN74ALS245N 8530", ["74245"]),
        ("MC6821P 8304", ["6821"]),
        ("R6522AP 8115", ["6522"]),
        ("P8255A 7943", ["8255"]),
        ("HD2503 7530", ["7400"]),
        ("M53200P 741", ["7400"]),
        ("7408 7404", ["7404", "7408"]),
        ("7402 7402", ["7402"]),
        ("SN7400N SN7402N", []),
        ("HD2510P 7530", []),
    ],
)
def test_read_marking(words: str, types: list[str]) -> None:
    """Prefixes, package letters, house numbers, order; two lettered types on one chip are no reading."""
    assert [kind.name for kind in read_marking(words.split()).types] == types


def test_house_number_without_row() -> None:
    """A house number that is not in the table names its maker and is not guessed; a bare 74 is not searched in it."""
    assert read_marking(["HD2510P"]).notes == (
        "HD2510P is a house number of Hitachi [S44]; its type is not in the table",
    )
    assert read_type("HD2503") is not None
    assert find_type("HD2503") is None


def test_house_table() -> None:
    """Every house number of the table names a type of the catalogue."""
    assert all(find_type(kind) is not None for kind, _ in HOUSE.values())


def shown(part: PartType, levels: dict[int, int]) -> dict[int, object]:
    """What every output shows for input levels, with the state unknown."""
    found: dict[int, object] = {}
    for block in part.blocks:
        inputs = tuple(Levels(1 - levels[pin], levels[pin]) for pin in block.inputs)
        if block.step is None:
            values = block.function(*inputs)
        else:
            state = block.step(inputs, inputs, (Levels(1, 1),) * block.states)
            values = block.function(inputs, state)
        on = block.enable(*inputs) if block.enable is not None else Levels(0, 1)
        for pin, value in zip(block.outputs, values, strict=True):
            found[pin] = (on, value) if on != Levels(1, 0) else on
    return found


@pytest.mark.parametrize("row", NEAR, ids=lambda row: "-".join(row.types))
def test_near_types(row: object) -> None:
    """The pins named are those at which the catalogue's rows differ, and no others, over random levels.

    Outputs: just these show something else.  Inputs: the types behave alike while these are at one level, or with
    these inverted.
    """
    one, other = (get_type(name) for name in row.types)  # type: ignore[attr-defined]
    pins: tuple[int, ...] = row.pins  # type: ignore[attr-defined]
    chance = random.Random(1)
    outputs = {pin for block in one.blocks for pin in block.outputs}
    differing: set[int] = set()
    equal = {"low": True, "high": True, "turned": True}
    for _ in range(400):
        levels = {pin.number: chance.randint(0, 1) for pin in one.pins}
        a, b = shown(one, levels), shown(other, levels)
        differing |= {pin for pin in a if a[pin] != b[pin]}
        for name, level in (("low", 0), ("high", 1)):
            fixed = {**levels, **dict.fromkeys(pins, level)}
            equal[name] &= shown(one, fixed) == shown(other, fixed)
        turned = {pin: 1 - level if pin in pins else level for pin, level in levels.items()}
        equal["turned"] &= a == shown(other, turned)
    assert differing
    if set(pins) <= outputs:
        assert differing == set(pins)
    else:
        assert any(equal.values()), row


def test_near_types_wrong() -> None:
    """A type without a near one has none; each pair is found from both sides."""
    assert near_types("74138") == (("74238", (7, 9, 10, 11, 12, 13, 14, 15), NEAR[15].words),)
    assert near_types("7400") == ()
    assert all(any(other == row.types[0] for other, _, _ in near_types(row.types[1])) for row in NEAR)


def test_near_type_trouble() -> None:
    """A warning names the pin; where only the other type fits the nets, it says so."""
    text = "host z80\npart u1 74157\npart u2 74244\nnet bus u1.4 u2.18\ntie low u1.15\n"
    troubles = [t for t in decode(parse_board(text, "x.nets")).troubles if t.kind == "near type" and t.place == "u1"]
    assert any(t.words.startswith("74157 and 74257 differ at pin 15: high forces the outputs low") for t in troubles)
    text = "host z80\npart u1 74157\npart u2 74257\nnet bus u1.4 u2.4\nnet more u1.7 u2.7\n"
    board = parse_board(text, "x.nets")
    assert any("fit the 74257 better" in t.words for t in decode(board).troubles if t.place == "u1")


def test_misfits() -> None:
    """Supplies, rails, fights and inputs without a driver, each with its pin."""
    text = (
        "host z80\npart u1 unknown 14\npart u2 7404\ntie high u1.1\nnet a u1.2 u2.2\nnet g u1.7 u2.4\nnet i u1.9 u2.1\n"
    )
    board = parse_board(text, "x.nets")
    assert misfits(board, "u1", get_type("7402")) == (
        "pin 1 is an output and stands on the supply",
        "pin 7 is its supply and stands on net 'g'",
        "an output is needed at pin 9",
    )
    assert misfits(board, "u1", get_type("74138")) == ("it has 16 pins, the chip 14",)


@pytest.mark.parametrize(
    ("line", "message"),
    [
        (
            "part u9 marked 8112 ABC",
            "part 'u9': no word of '8112 ABC' is a type that the catalogue knows; write its number of pins as in:"
            " part u9 unknown 16",
        ),
        (
            "part u9 marked 7404 7442",
            "part 'u9': '7404 7442' may be 7404 (14 pins), 7442 (16 pins); write the type alone",
        ),
        ("made 1977 1974", "the first year comes before the last, not 1977 1974"),
        ("made 77 78", "a year is 1960 to 2099, not '77'"),
    ],
)
def test_marked_wrong(line: str, message: str) -> None:
    """Words without a type, with types of other sizes, and years that are none are refused with the line."""
    with pytest.raises(BadInput) as caught:
        parse_board(f"host z80\npart u1 7404\nnet a u1.1 u1.2\n{line}\n", "x.nets")
    assert str(caught.value) == f"x.nets:4: {message}"
