"""The table as text: readable from 80 to 200 columns, with and without colours and letters beyond ASCII."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from latchlore.base import Origin, Subject, SubjectKind, Witness, Words
from latchlore.cli._terminal import Terminal
from latchlore.cli._text import SHOWN_PLACES, table_text
from latchlore.evidence import Row, Standing, Table, describe_places
from tests.marram import marram_table

WIDTHS = (40, 80, 100, 129, 130, 160, 200)
ESCAPE = re.compile(r"\x1b\[[0-9;]*m")


def _squeezed(text: str) -> str:
    """All that is not white space, so that line breaks do not count."""
    return "".join(text.split())


@pytest.mark.parametrize("width", WIDTHS)
def test_table_text_keeps_the_width(width: int) -> None:
    """No line is wider than the terminal, at any width, unless a single word is."""
    for line in table_text(marram_table(), Terminal(width)).splitlines():
        assert len(line) <= width or len(max(line.split(), key=len)) >= width - 16, line


@pytest.mark.parametrize("width", WIDTHS)
def test_table_text_holds_everything(width: int) -> None:
    """Every subject, reason, conclusion, repair, note and thing not done is there, whatever the layout."""
    table = marram_table()
    text = table_text(table, Terminal(width))
    for row in table.rows:
        assert _squeezed(str(row.subject)) in _squeezed(text)
        assert _squeezed(row.reason) in _squeezed(text)
        for words in (*row.follows, *(repair.words for repair in row.repairs)):
            assert _squeezed(words) in _squeezed(text)
    assert _squeezed(table.not_done[0]) in _squeezed(text)
    assert "Invented for demonstration" in " ".join(text.split())


def test_table_text_names_every_origin() -> None:
    """Each value is followed by each of its places (side by side, columns interleave, so the narrow layout is read)."""
    table = marram_table()
    text = _squeezed(table_text(table, Terminal(80)))
    for row in table.rows:
        for one in row.testimonies:
            assert len(one.origins) <= SHOWN_PLACES
            assert all(_squeezed(place) in text for place in describe_places(one.origins))


def test_table_text_cuts_what_is_long() -> None:
    """A long value and a long list of places are cut, and say so and where the rest is."""
    row = next(row for row in marram_table().rows if row.subject.kind is SubjectKind.EMISSION)
    origins = tuple(Origin.at_line("a.log", line) for line in range(1, 20))
    said = replace(row.testimonies[0], value=Words("word " * 1000), origins=origins)
    text = table_text(
        Table("", False, (replace(row, testimonies=(said,), repairs=()),), (Witness.PROGRAM,)), Terminal(80)
    )
    assert "word … (all in --json)" in " ".join(text.split())
    assert "a.log:1; :2; :3; :4; :5; :6; and 13 more" in text
    assert len(text.splitlines()) < 40


def test_table_text_puts_contradictions_first() -> None:
    """Every contradicted subject stands before every other one, and each carries its word."""
    table = marram_table()
    lines = table_text(table, Terminal(80)).splitlines()
    heads = [line.split()[-1] for line in lines if line[:3] in {"●─●", "●╱●", "●─ ", " ─ "}]
    expected = [row.standing.value for row in table.rows]
    assert heads == sorted(expected, key=lambda word: word != "contradicted")


def test_table_text_plain() -> None:
    """Without colours there is no escape; without letters beyond ASCII there are none, and standings keep shapes."""
    assert not ESCAPE.search(table_text(marram_table(), Terminal(100)))
    plain = table_text(marram_table(), Terminal(100, marks=False))
    assert plain.isascii()
    assert "o/o code 1B 4B" in plain


def test_table_text_colours_only_repeat() -> None:
    """With the colours taken out, the coloured text is the plain one: nothing is told by tint alone."""
    for width in WIDTHS:
        coloured = table_text(marram_table(), Terminal(width, tinted=True))
        assert ESCAPE.search(coloured)
        assert ESCAPE.sub("", coloured) == table_text(marram_table(), Terminal(width))


def test_table_text_escapes_terminal_codes() -> None:
    """What stands in a file cannot speak to the terminal: control characters are shown, not sent."""
    row = marram_table().rows[-1]
    rude = Row(row.subject, (), Standing.SILENT, "a\x1b[2Jb\x07\x9bc")
    text = table_text(Table("t\x1b]0;x\x07", False, (rude,), ()), Terminal(80, tinted=True))
    assert not set(ESCAPE.sub("", text)) & {"\x1b", "\x07", "\x9b"}


def test_table_text_doubtful_bytes() -> None:
    """A byte with a confidence below 99 % carries a question mark, the others do not (12h has 87 % in the table)."""
    assert "1B 40 12? 0D (4 bytes, 86.0% from 9 runs)" in table_text(marram_table(), Terminal(100))


def test_table_text_empty() -> None:
    """A table without rows is still a page, and says how to begin, unless it says why nothing was done."""
    assert table_text(Table("Nothing yet", False, (), ()), Terminal(80)) == (
        "Nothing yet\nWitnesses heard: none\n0 subjects: ●╱● 0 contradicted, ●─● 0 agreed, ●─ 0 single, ─ 0 silent\n\n"
        "Nothing to weigh yet: a byte log in wire/, a net file in board/, a device table\n"
        "  in documents/ or an image named in study.toml makes a beginning.\n"
    )
    not_done = table_text(Table("Nothing yet", False, (), (), ("the program was not followed",)), Terminal(80))
    assert "Nothing to weigh yet" not in not_done
    assert "the program was not followed" in not_done


@pytest.mark.parametrize("width", [80, 160])
def test_table_text_folds_bits(width: int) -> None:
    """Bits of one register that say the same are one line; the count still counts each."""
    one = next(row for row in marram_table().rows if row.subject.kind is SubjectKind.BIT)
    space, address, direction, _ = one.subject.key
    bits = [Subject(SubjectKind.BIT, (space, address, direction, str(bit))) for bit in range(8)]
    rows = tuple(
        replace(one, subject=bit, testimonies=tuple(replace(said, subject=bit) for said in one.testimonies))
        for bit in bits
    )
    text = table_text(Table("", False, rows, (Witness.BOARD, Witness.PROGRAM)), Terminal(width))
    assert "8 subjects:" in text
    assert text.count("B481 (read) bit") == 1
    assert "B481 (read) bits 0-7" in text
