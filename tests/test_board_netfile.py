"""Reading net files: every statement, and every mistake at once."""

from __future__ import annotations

import re

import pytest

from latchlore.base import BadInput
from latchlore.board import Direction, PinAt, parse_board, parse_netlist, read_board

GOOD = """\
board small card   # a comment
host 6502
part u1 74ls00 d3
PART U2 SN74LS04N
part r1 resistor 4k7
part u9 unknown 16 sanded off
plug p1 50 host
plug j1 26 printer
pin p1.2 a0 in
pin j1.1 strobe out low
pin j1.2 gnd
strap w1 open
strap w2 1-2
net a0 u1.1
net mid u1.1y u2.1a
more mid u9.3
net stb u2.2 j1.1
tie low u1.2
tie high u1.4
pull up stb 4k7
open u2.3
done u2
doubt u9.3 the track runs under the chip
net sel w1.1 u1.5
tie low w1.2
"""


def test_parse_board() -> None:
    """Each statement arrives as a value with its line."""
    board = parse_board(GOOD, "card.nets")
    assert board.title == "small card"
    assert [cycle.direction for cycle in board.cycles] == ["read", "write"]
    assert [part.name for part in board.parts] == ["u1", "u2", "r1", "u9"]
    assert board.part("u2").type.name == "7404"
    assert len(board.part("u9").type.pins) == 16
    assert board.net("mid").pins == (PinAt("u1", 3), PinAt("u2", 1), PinAt("u9", 3))
    assert board.net("a0").pins == (PinAt("u1", 1), PinAt("p1", 2))
    assert board.net("gnd").pins == (PinAt("u1", 2), PinAt("w1", 2))
    assert str(board.net("stb").origin) == "card.nets:17"
    pin = board.connectors[1].pins[0]
    assert (pin.signal, pin.direction, pin.active, str(pin.origin)) == ("strobe", Direction.OUT, 0, "card.nets:10")
    assert [strap.joined for strap in board.straps] == [(), (1, 2)]
    assert PinAt("u2", 3) in board.open_pins
    assert PinAt("u2", 12) in board.open_pins
    assert PinAt("u1", 12) in board.not_traced
    assert PinAt("u1", 7) not in board.not_traced
    assert board.net_of(PinAt("u9", 3)) == "mid"
    assert board.net_of(PinAt("u9", 4)) is None


def test_parse_netlist() -> None:
    """Two files are one board; a part named in the second may be used in the first."""
    board = parse_netlist([("net x u1.1 u2.1\n", "a.nets"), ("part u1 7400\npart u2 7404\n", "b.nets")])
    assert board.net("x").pins == (PinAt("u1", 1), PinAt("u2", 1))
    assert str(board.part("u2").origin) == "b.nets:2"


BASE = "part u1 7400\npart u2 7404\nplug j1 4 printer\nstrap w1 open\n"
WRONG = {
    "net a u1.1 u2.1\nnet b u1.1 u2.3": "pin u1.1 stands here and at x.nets:5",
    "net a u1.1 u3.1": "'u3.1': the board has no part, connector or strap 'u3'",
    "net a u1.1 u2.15": "part 'u2' (7404) has pins 1 to 14, no pin '15'",
    "net a u1.1 u2.q": "part 'u2' (7404) has pins 1 to 14, no pin 'q'",
    "net a u1.1": "net 'a' has one pin only, u1.1",
    "net a u1.1 u2": "a pin is written as part, dot, pin such as u1.4, not 'u2'",
    "net a": "too few words in 'net a'; the form is: net NAME PIN...",
    "net u1.1 u2.1": "a net needs a name before its pins, not 'u1.1'",
    "part u3 74999": (
        "part 'u3' has type '74999', which the catalogue does not know;"
        " write its number of pins as in: part u3 unknown 16"
    ),
    "part u1 7402": "name 'u1' is taken at x.nets:1",
    "part u_1 7402": "a name consists of letters, digits and minus, not 'u_1'",
    "part u3 unknown": "part 'u3': an unknown chip needs its number of pins, as in: part u3 unknown 16",
    "part u3 unknown x": "a number of pins is 2 to 256, not 'x'",
    "plug j2 many": "a number of pins is 1 to 256, not 'many'",
    "pin u1.1 strobe out": "'u1.1' is no connector pin; connectors are 'j1'",
    "pin j1.5 strobe out": "'j1' has pins 1 to 4, not '5'",
    "pin j1.1 strobe": "pin j1.1: a direction is in, out, both, ground, power, none, not ''",
    "pin j1.1 strobe out loud": "pin j1.1: the level that makes 'strobe' true is high or low, not 'loud'",
    "pin j1.1 a out\npin j1.1 b out": "pin j1.1 is described twice: here and at x.nets:5",
    "strap w2 maybe": "strap 'w2' is open, joined, 1-2, 2-3 or unknown, not 'maybe'",
    "tie up u1.1": "a tie is low or high, not 'up'",
    "tie low sel": "the board has no net 'sel' to tie",
    "pull sideways u1.1": "a pull is up or down, not 'sideways'",
    "pull up sel": "the board has no net 'sel' to pull",
    "open u1.99": "part 'u1' (7400) has pins 1 to 14, no pin '99'",
    "done u7": "'u7' is no part, connector or strap of this board",
    "doubt u7.1 what": "a doubt's place is a pin, net or part of this board, not 'u7.1'",
    "wire u1.1 u2.1": (
        "statement 'wire' is not known; known are board, host, cycle, card, made, hold, part, plug, letters, strap,"
        " logic, pin, net, more, tie, pull, open, done, doubt, face, volts, levels, cable, mate, pins"
    ),
    "host 6809": "host '6809' is not known; known are 6502, 6800, z80, 8080, isa",
    "host z80 99": "a number of port lines is 1 to 24, not '99'",
    "cycle disk read 16 rw high": "a cycle's space is memory or port, not 'disk'",
    "cycle memory fetch 16 rw high": "a cycle's direction is read or write, not 'fetch'",
    "cycle memory read 16 rw": "too few words in 'cycle memory read 16 rw'; the form is: cycle SPACE DIRECTION LINES"
    " [at BASE] SIGNAL LEVEL...",
    "cycle memory read 4 at c09 devsel down": "base C09h does not lie above 4 address lines of 16",
    "cycle memory read 4 at xyz devsel down": "a base address is a hexadecimal number, not 'xyz'",
    "cycle memory read 16 rw maybe": "a control line is high, low, up or down, not 'maybe'",
    "cycle memory read 16 rw high phi2": "a cycle's control lines come in pairs of signal and level",
    "hold reset maybe": "a line is held high or low, not 'maybe'",
    "net a u1.1 u2.1\nnet a u1.2 u2.3": "net 'a' stands here and at x.nets:5; write 'more' for further pins",
    "more b u1.1 u2.1": "net 'b' has not been named above; write 'net' for its first pins",
}


@pytest.mark.parametrize("line", WRONG)
def test_parse_board_wrong(line: str) -> None:
    """Each broken line is refused with its place, its subject and the rule."""
    where = 5 + line.count("\n")
    with pytest.raises(BadInput, match=f"^{re.escape(f'x.nets:{where}: {WRONG[line]}')}$"):
        parse_board(BASE + line, "x.nets")


def test_parse_board_wrong_together() -> None:
    """All mistakes of a file come at once, in line order."""
    text = "part u1 7400\npart u2 74999\nnet a u1.1 u1.1\nnet b u1.2\nboad x\n"
    with pytest.raises(BadInput) as caught:
        parse_board(text, "x.nets")
    assert [(origin.number, words.split(" ")[0]) for origin, words in caught.value.mistakes] == [
        (2, "part"),
        (3, "pin"),
        (4, "net"),
        (5, "statement"),
    ]


def test_host_pin_wrong() -> None:
    """A net that bears a host signal's name must be that signal's net."""
    text = "host 6502\npart u1 7400\nplug p1 4 host\npin p1.1 a0 in\nnet a0 u1.1 u1.2\nnet b p1.1 u1.4\n"
    words = "net 'a0' has the name of host signal p1.1, which stands in net 'b'"
    with pytest.raises(BadInput, match=f"^x.nets:5: {re.escape(words)}$"):
        parse_board(text, "x.nets")


def test_empty_wrong() -> None:
    """A file without a part is no board."""
    with pytest.raises(BadInput, match=r"^x\.nets:1: the file names no part$"):
        parse_board("# nothing\n", "x.nets")


def test_read_board() -> None:
    """Bytes are read as UTF-8; words may hold any letters."""
    board = read_board("board für Ümläute\npart u1 7400\n".encode(), "x.nets")
    assert board.title == "für Ümläute"


def test_read_board_wrong() -> None:
    """Bytes that are not UTF-8 are refused with their line."""
    with pytest.raises(BadInput, match=r"^x\.nets:2: byte 15 is FFh; the file must be UTF-8 text$"):
        read_board(b"part u1 7400\n# \xff\n", "x.nets")


def test_letters() -> None:
    """An edge with letters on one side: A to Z without G, I, O and Q are 22 pins (common practice)."""
    board = parse_board(
        "plug p1 44\nletters p1 23\npart u1 74ls04\npin p1.a gnd\npin p1.z clock in\nnet x p1.h u1.1", "x.nets"
    )
    plug = board.connectors[0]
    assert [pin.number for pin in plug.pins] == [23, 44]
    assert board.net("x").pins[0] == PinAt("p1", 29)
    assert [plug.pin_text(number) for number in (22, 23, 28, 29, 44)] == ["22", "A", "F", "H", "Z"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("plug p1 44\npin p1.a gnd", "x.nets:2: 'p1' has pins 1 to 44, not 'a'"),
        ("plug p1 44\nletters p1 23\npin p1.g gnd", "x.nets:3: 'p1' has pins 1 to 44, not 'g'"),
        ("plug p1 40\nletters p1 23\npin p1.z gnd", "x.nets:3: 'p1' has pins 1 to 40, not 'z'"),
        ("plug p1 4\nletters p1 a", "x.nets:2: a pin that is called A is 1 to 256, not 'a'"),
        ("plug p1 4\nletters p1 5", "x.nets:2: letters are stated for a connector and one of its pins, not for p1.5"),
        ("plug p1 4\nletters p2 1", "x.nets:2: letters are stated for a connector and one of its pins, not for p2.1"),
        ("plug p1 4\nletters p1 1\nletters p1 2", "x.nets:3: the letters of 'p1' stand here and at x.nets:2"),
    ],
)
def test_letters_wrong(text: str, words: str) -> None:
    """Letters that no pin has, and letters of no connector, are refused."""
    with pytest.raises(BadInput) as caught:
        parse_board(text, "x.nets")
    assert str(caught.value) == words
