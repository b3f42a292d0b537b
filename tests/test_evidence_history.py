"""The history: lines to text and back, and what it refuses."""

from __future__ import annotations

import pytest

from latchlore.base import BadInput
from latchlore.evidence import Change, accepted, errata, history_lines, one_line, parse_history

ENTRY = Change("2026-11-26", "busy", "grade", "-", "established", "entered", "board/card.nets:3")
FALL = Change("2026-12-01", "busy", "grade", "established", "disputed", "an inverter; seen", "board/card.nets:4")
SUBJECT = Change("2026-12-01", "busy", "on signal BUSY", "agreed 0a: x", "contradicted 0b: y", "why", "-")


def test_history_lines() -> None:
    """Text and back gives the same lines; the entry is no erratum."""
    text = history_lines([ENTRY, SUBJECT, FALL])
    assert text.split("\n")[0] == "2026-11-26\tbusy\tgrade\t-\testablished\tentered\tboard/card.nets:3"
    history = parse_history(f"# a remark\n\n{text}", "history.txt")
    assert [past.change for past in history] == [ENTRY, SUBJECT, FALL]
    assert [past.origin.number for past in history] == [3, 4, 5]
    assert [past.change for past in errata(history, "busy")] == [SUBJECT, FALL]
    assert accepted(history) == {"busy": {"grade": "disputed", "on signal BUSY": "contradicted 0b: y"}}


def test_history_lines_hostile() -> None:
    """Tabs, line ends and letters that do not show cannot break a line in two or add a field."""
    hostile = "a\tb\nc\r\x0b\x0c\x1c\u2028\u2029\x85d\x00\u202ee"
    line = history_lines([Change("2026-11-26", "a", "sentence", hostile, hostile, "", hostile)])
    [past] = parse_history(line, "history.txt")
    assert past.change == Change("2026-11-26", "a", "sentence", "a b c d e", "a b c d e", "-", "a b c d e")
    assert one_line(" \t ") == "-"


def test_parse_history_wrong() -> None:
    """Each broken line is told with its number and its rule, all at once."""
    good = history_lines([ENTRY]).rstrip("\n")
    lines = [
        good,
        "<<<<<<< HEAD",
        "hello",
        good.replace("2026-11-26", "26.11.2026"),
        good.replace("2026-11-26", "2026-02-30"),
        good.replace("busy", "Busy Line"),
        good.replace("\tgrade\t", "\tcolour\t"),
        good.replace("established", "certain"),
    ]
    with pytest.raises(BadInput) as error:
        parse_history("\n".join(lines), "history.txt")
    known = "established, attested, one witness, one statement, guessed, disputed, unfounded, withdrawn"
    assert str(error.value).split("\n") == [
        "history.txt:2: two histories were not merged; keep the lines of both and take the marks out",
        "history.txt:3: a line has seven fields with tabs between (docs/record.md), not 1",
        "history.txt:4: a date is year-month-day, such as 2026-11-26, not '26.11.2026'",
        "history.txt:5: a date is year-month-day, such as 2026-11-26, not '2026-02-30'",
        "history.txt:6: a finding's name is up to 60 small letters, digits and hyphens, not 'Busy Line'",
        "history.txt:7: what changes is 'grade', 'sentence', 'rests on' or 'on ...', not 'colour'",
        f"history.txt:8: a grade is one of {known}, or '-', not 'certain'",
    ]


def test_merged_lines() -> None:
    """A line that two copies have in common counts once; a withdrawal holds, whatever a copy wrote after it."""
    gone = Change("2026-12-02", "busy", "grade", "disputed", "withdrawn", "wrong card", "-")
    back = Change("2026-12-03", "busy", "grade", "disputed", "established", "found", "-")
    text = history_lines([ENTRY, FALL, gone, ENTRY, FALL, back])
    history = parse_history(text.replace("\n", "\r\n"), "history.txt")
    assert [past.change for past in history] == [ENTRY, FALL, gone, back]
    assert accepted(history)["busy"]["grade"] == "withdrawn"
