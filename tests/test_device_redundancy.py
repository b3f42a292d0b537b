"""Documents checked by their own redundancy."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.device import Device, FittedLine, check_document, fit_line, read_device
from latchlore.device._figures import _in_every_rising
from latchlore.device._lookalikes import distance, looks_alike, near_readings

HEAD = 'title = "Notice"\ndevice = "Quill"\nkind = "notice"\n'
DELAYS = (
    HEAD
    + """
[[table]]
name = "delay words"
columns = ["rate", "word", "word hex"]
kinds = ["decimal", "decimal", "hex"]
same = [["word", "word hex"]]
rising = ["rate"]
falling = ["word"]
line = { value = "word", by = "rate", rule = "inverse" }
clock = "894886 Hz"
rows = [
    ["120", "458", ""],
    ["300", "180", "BE"],
    ["600", "87", ""],
    ["1200", "41", ""],
    ["2400", "18", ""],
    ["4800", "6", ""],
    ["9600", "1", ""],
]
"""
)


def _read(text: str) -> Device:
    return read_device(text.encode(), "documents/notice.toml")


def _fit(text: str) -> FittedLine:
    fitted = fit_line(_read(text).figures[0])
    assert fitted is not None
    return fitted


def test_delay_word_table() -> None:
    """Bench case: the line through the table is 16.1 n + 85, which says 180.0 for 300 bits/s; BEh is the misprint."""
    fitted = _fit(DELAYS)
    assert (round(fitted.slope, 1), round(fitted.offset)) == (Fraction(161, 10), 85)
    (found,) = check_document(_read(DELAYS))
    assert found.words == "row 2: word 180 = 180, word hex BE = 190"
    assert found.evidence == (
        "the other rows predict 180.0",
        "180 would give rate 300.0",
        "190 would give rate 284.6",
    )
    assert [(e.key, e.old, e.new) for e in found.edits] == [("word hex", "BE", "B4"), ("word", "180", "190")]
    assert fitted.worst.index == 6
    assert round(fitted.worst.predicted, 1) == Fraction(1, 2)


@pytest.mark.parametrize(
    ("old", "new", "row", "best"),
    [
        ('"87"', '"37"', 3, ("37", "87")),
        ('"458"', '"453"', 1, ("453", "458")),
        ('"180"', '"130"', 2, ("130", "180")),
        ('"41"', '"47"', 4, ("47", "41")),
    ],
)
def test_misprint_is_found_on_the_line(old: str, new: str, row: int, best: tuple[str, str]) -> None:
    """A misprinted digit puts its row off the line, and the edit that mends it comes first."""
    clean = DELAYS.replace(', "BE"', ', ""')
    assert old in clean
    found = check_document(_read(clean.replace(old, new)))
    off = [one for one in found if "off the line" in one.words]
    assert [one.words.split(":")[0] for one in off] == [f"row {row}"]
    assert (off[0].edits[0].old, off[0].edits[0].new) == best


def test_straight_line_is_clean() -> None:
    """A table that follows its line exactly has nothing to report, and the line is exact."""
    rows = ",".join(f'["{x}", "{7 * x - 3}"]' for x in range(1, 9))
    text = HEAD + (
        '[[table]]\nname = "t"\ncolumns = ["x", "y"]\nrising = ["x", "y"]\n'
        f'line = {{ value = "y", by = "x" }}\nrows = [{rows}]\n'
    )
    assert check_document(_read(text)) == ()
    fitted = _fit(text)
    assert all(row.off == 0 for row in fitted.rows)
    assert fitted.slope == Fraction(1, 7)


def test_unreadable_cell() -> None:
    """A letter in a decimal number is read as the digit it looks like."""
    text = HEAD + '[[table]]\nname = "t"\ncolumns = ["x"]\nrows = [["1O"], ["l2"], ["3?"]]\n'
    found = check_document(_read(text))
    assert [(one.words, [edit.new for edit in one.edits]) for one in found] == [
        ("x: '1O' is no decimal number", ["10"]),
        ("x: 'l2' is no decimal number", ["12", "72"]),
        ("x: '3?' is no decimal number", []),
    ]


def test_unsorted_column() -> None:
    """Two neighbours out of order: either may be wrong, and the edits say how."""
    text = HEAD + '[[table]]\nname = "t"\ncolumns = ["x"]\nrising = ["x"]\nrows = [["10"],["71"],["30"],["40"]]\n'
    (found,) = check_document(_read(text))
    assert found.words == "row 2: x 71 breaks the rising order"
    assert (found.edits[0].old, found.edits[0].new, found.edits[0].unlike) == ("71", "11", 0)
    (pair,) = check_document(_read(text.replace('"71"', '"35"')))
    assert pair.words == "rows 2, 3: x 35, 30 break the rising order"


@given(st.lists(st.integers(0, 12), max_size=8))
def test_in_every_rising(numbers: list[int]) -> None:
    """A place is in every longest rising choice exactly when leaving it out shortens the longest one."""

    def longest(values: list[int]) -> int:
        best = 0
        for mask in range(1 << len(values)):
            chosen = [n for i, n in enumerate(values) if mask >> i & 1]
            if all(a < b for a, b in pairwise(chosen)):
                best = max(best, len(chosen))
        return best

    whole = longest(numbers)
    wanted = {i for i in range(len(numbers)) if longest(numbers[:i] + numbers[i + 1 :]) < whole}
    assert _in_every_rising(numbers) == wanted


def test_code_in_three_notations() -> None:
    """Two notations against one: the one that stands alone is to be mended, look-alikes first."""
    text = HEAD + '[[command]]\npattern = "18 4B n"\nmeaning = "dots"\ndecimal = "27 75"\nkeys = "ESC K"\n'
    (found,) = check_document(_read(text))
    assert found.words == "byte 1 of 'dots': pattern 18 = 18, decimal 27 = 1B, keys ESC = 1B"
    assert (found.edits[0].key, found.edits[0].old, found.edits[0].new) == ("pattern", "18", "1B")
    assert found.edits[0].reason == "2 of 3 notations say 1B; the others agree"
    assert found.edits[0].unlike == 0


def test_code_taken_already() -> None:
    """An edit that would give a row the code of another says so."""
    text = (
        HEAD
        + '[[command]]\npattern = "1B 4B"\nmeaning = "dots"\ndecimal = "27 72"\n'
        + '[[command]]\npattern = "1B 48"\nmeaning = "home"\ndecimal = "27 72"\n'
    )
    (found,) = check_document(_read(text))
    assert [(e.key, e.new, "but 'home' has that code" in e.reason) for e in found.edits] == [
        ("pattern", "48", True),
        ("decimal", "75", False),
    ]


SWITCH = (
    HEAD
    + """
[[switch]]
name = "rate"
levers = ["1", "2"]
settings = [
    { levers = "off off", is = "300" },
    { levers = "off on", is = "600" },
    { levers = "on off", is = "1200" },
    { levers = "off on", is = "2400" },
]
"""
)


def test_switch_row_twice() -> None:
    """A position in two rows while another stands nowhere: one lever mends it."""
    (found,) = check_document(_read(SWITCH))
    assert found.words == "switch 'rate': off on stands in 2 rows and means '600' or '2400'"
    assert found.evidence == ("on on stands in no row",)
    assert [(e.origin.number, e.old, e.new, e.reason) for e in found.edits] == [
        (10, "off on", "on on", "every position stands once then"),
        (12, "off on", "on on", "every position stands once then"),
    ]


def test_switch_row_missing() -> None:
    """A position that no row explains is reported; a full table is clean."""
    text = SWITCH.replace('    { levers = "off on", is = "2400" },\n', "")
    (found,) = check_document(_read(text))
    assert found.words == "switch 'rate': no row says what on on means"
    assert check_document(_read(SWITCH.replace('"off on", is = "2400"', '"on on", is = "2400"'))) == ()
    assert check_document(_read(text.replace('"on off"', '"on any"'))) == ()


def test_pin_twice() -> None:
    """A pin number with two signals while another is missing."""
    pins = [("1", "STROBE"), ("2", "D1"), ("2", "D2"), ("4", "D3")]
    text = HEAD + "".join(f'[[pin]]\nnumber = "{n}"\nsignal = "{s}"\n' for n, s in pins)
    (found,) = check_document(_read(text))
    assert found.words == "connector pin 2 is 'D1' in line 7 and 'D2' here"
    assert [(edit.origin.number, edit.new) for edit in found.edits] == [(7, "3"), (10, "3")]


PAPER = (
    HEAD
    + '[paper]\nhead_dots = 144\ndot_x = "0.33 mm"\ndot_y = "0.36 mm"\ncolumns = 24\ncell_dots = 6\nline_feed = 10\n'
)
ROWS = (
    '[[command]]\npattern = "16 d*{n}"\nmeaning = "row"\ndoes = "rows"\n[command.graphics]\ndata = "d"\nleft = "high"\n'
)


def test_bytes_against_dots() -> None:
    """A row of 13 bytes does not fill 144 dots; 18 does, and 3 is an 8 of a scan."""
    assert check_document(_read(PAPER + ROWS.replace("{n}", "18"))) == ()
    (found,) = check_document(_read(PAPER + ROWS.replace("{n}", "13")))
    assert found.words == "a row of 13 bytes is 104 dots; the head has 144 dots, which 18 bytes fill"
    assert (found.edits[0].old, found.edits[0].new, found.edits[0].unlike) == ("13", "18", 0)


def test_cells_against_head() -> None:
    """Twenty cells where twenty-four would fit."""
    (found,) = check_document(_read(PAPER.replace("columns = 24", "columns = 20")))
    assert found.words == "20 cells of 6 dots leave 24 of 144 dots unused: 24 cells would fit"


def test_lookalikes() -> None:
    """The pairs that transcribers name are alike, others are not."""
    assert all(looks_alike(a, b) for a, b in [("8", "B"), ("0", "D"), ("O", "C"), ("1", "l"), ("I", "1"), ("7", "1")])
    assert not looks_alike("4", "8")
    assert not looks_alike("8", "8")
    assert distance("21", "27") == (1, 0)
    assert distance("21", "211") is None
    assert near_readings("1", "078")[0] == "7"
