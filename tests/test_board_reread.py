"""Which readings of a meter a statement of the board rests on."""

from __future__ import annotations

from latchlore.board import find_statement, parse_board
from latchlore.board._board import PinAt
from latchlore.board._reread import readings_at, readings_between, way_origins
from latchlore.board.tracing import conclude, parse_readings

PARTS = """\
host 6502
part u1 74ls04
part u2 74ls04
part u3 74ls04
part u4 74ls04
net d0 u4.1
net stated u1.2 u2.1
"""
READINGS = """\
joined u2.1 u3.1
joined u3.1 u4.3
joined u4.3 u3.1
joined u3.1 u2.1
hold u4.8
sweep u1 all
apart u3.8 u4.9
"""
BOARD = conclude(parse_board(PARTS, "card.nets"), parse_readings(READINGS, "a.readings", parse_board(PARTS, "")))


def pin(name: str) -> PinAt:
    """A pin by its name."""
    owner, number = name.split(".")
    return PinAt(owner, int(number))


def test_readings_between() -> None:
    """Every joint on the shortest way brings its readings, in the order of the file; a stated joint brings none."""
    found = readings_between(BOARD.board, pin("u1.2"), {pin("u4.3")}) or ()
    assert [str(one) for one in found] == [
        "a.readings:1 (u2.1 to u3.1)",
        "a.readings:2 (u3.1 to u4.3)",
        "a.readings:3 (u4.3 to u3.1)",
        "a.readings:4 (u3.1 to u2.1)",
    ]
    assert readings_between(BOARD.board, pin("u1.2"), {pin("u2.1"), pin("u4.3")}) == ()
    assert [one.origin.number for one in readings_at(BOARD.board, [pin("u4.3")])] == [2, 3]


def test_way_origins() -> None:
    """A way's net that was read stands in the first reading of its own joints; one that was not, in the net file."""
    later = "joined u3.1 u4.3\njoined u2.1 u3.1\n"  # the joint between the first two pins is read last
    board = conclude(parse_board(PARTS, "card.nets"), parse_readings(later, "a.readings", parse_board(PARTS, ""))).board
    assert [str(one) for one in way_origins(board, [pin("u1.2"), pin("u3.1")])] == ["a.readings:2"]
    assert [str(one) for one in way_origins(board, [pin("u1.2"), pin("u2.1")])] == ["card.nets:7"]
    assert [str(one) for one in way_origins(board, [pin("u3.1"), pin("u4.3")])] == ["a.readings:1"]
    assert [str(one) for one in way_origins(parse_board(PARTS, "card.nets"), [pin("u1.2"), pin("u2.1")])] == [
        "card.nets:7"
    ]


def test_way_origins_wrong() -> None:
    """Pins that stand in no net have no place."""
    assert way_origins(BOARD.board, [pin("u4.8")]) == ()


def test_find_statement() -> None:
    """A joint that was read stands in its reading's line, one that the net file states in the net's; an open pin in
    the readings taken with it held.
    """
    places = {}
    for what in ("u3.1", "u1.2", "u4.8", "u3.8"):
        statement = find_statement(BOARD.board, what)
        assert statement is not None
        places[what] = (str(statement.origin), [str(one) for one in statement.readings])
    assert places == {
        "u3.1": (
            "a.readings:1",
            [
                "a.readings:1 (u2.1 to u3.1)",
                "a.readings:2 (u3.1 to u4.3)",
                "a.readings:3 (u4.3 to u3.1)",
                "a.readings:4 (u3.1 to u2.1)",
            ],
        ),
        "u1.2": ("card.nets:7", []),
        "u4.8": ("a.readings:6", ["a.readings:6 (u4.8 not to u1.1 … u1.14)"]),
        "u3.8": ("a.readings:7", ["a.readings:7 (u3.8 not to u4.9)"]),
    }


def test_find_statement_wrong() -> None:
    """No statement, and no readings, of pins that are not there or that nothing joins."""
    assert find_statement(BOARD.board, "u9.1") is None
    assert readings_between(BOARD.board, pin("u4.9"), {pin("u1.1")}) is None
    assert readings_at(BOARD.board, [pin("u4.9")]) == ()
