"""The report of a tracing in words, the same on the desk and for the terminal."""

from __future__ import annotations

from latchlore.board import parse_board
from latchlore.board.tracewording import MOST_TYPES
from latchlore.board.tracing import Guide, ReportWords, describe_report, parse_readings, report_on

PARTS = """\
host 6502
part u1 74ls04
part u2 unknown 14
"""
SOME = """\
joined u1.1 u1.3
joined u1.2 u1.4
ohms 4k7 u1.5 u1.14
"""


def report_of(readings: str) -> ReportWords:
    """The report after these readings."""
    board = parse_board(PARTS, "card.nets")
    taken = parse_readings(readings, "a.readings", board)
    return describe_report(report_on(board, taken, Guide(board, taken).propose()))


def test_describe_report() -> None:
    """Each part of the report, a sentence each: not done, against each other, doubted, kept aside, possible."""
    found = report_of(SOME)
    assert found.header.startswith("3 read, about ")
    assert "u1 pins 3 4: not done 3 4" in found.not_done
    assert found.against == (
        "u1.2 and u1.4 were read joined, which does not fit what they are; "
        "likeliest wrong: u1.2 to u1.4 (a.readings:2)",
    )
    [doubted] = found.doubted  # an output has not been found, so the joint of two inputs hangs on one number
    assert doubted.startswith("u1.1 to u1.3: ")
    assert found.aside == "Kept and not believed as a joint: 1 readings of a resistance or a junction"
    [types] = found.sanded
    assert types.startswith("u2: 7400 ")
    assert types.count("%") == MOST_TYPES


def test_describe_report_wrong() -> None:
    """Nothing is against anything, doubted or kept aside before a reading is taken; a type without rivals says so."""
    found = report_of("")
    assert (found.against, found.doubted, found.aside) == ((), (), "")
    none = report_of(
        "".join(f"joined u2.{k} u1.14\njoined u1.14 u2.{k}\n" for k in range(1, 15))
    )  # all of it on the supply
    assert none.sanded == ("u2: none of the catalogue",)
