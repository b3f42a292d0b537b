"""Command tables out of CSV transcriptions (RFC 4180)."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from latchlore.base import BadInput
from latchlore.device import import_table, read_device

HEADING: dict[str, str | int | bool] = {"title": "Guide", "device": "Quill", "kind": "manual", "pages": 48}
FILE = "documents/quill.csv"


def test_import_table() -> None:
    """Each cell becomes the key of its column; quoted cells may hold separators, quotes and line ends."""
    text = (
        "pattern,meaning,does,amount,page,row,quote,doubt,limits,sets,otherwise\r\n"
        "20..7E,print,print,,11,1,,,,,\r\n"
        '1B 41 n,line step,line step,n,12,B-3,"ESC ""A"", n:\nstep of n",smudged,n 1..85,,\r\n'
        "0E,wide,,,A-1,,,,,wide = on; underlined = off,\r\n"
        "\r\n"
        "1B x,other,,,,,,,,,yes\r\n"
    )
    device = read_device(import_table(text.encode(), FILE, HEADING).encode(), "documents/quill.toml")
    assert [c.meaning for c in device.commands] == ["print", "line step", "wide", "other"]
    step = device.commands[1]
    assert (step.amount, step.citation.quote, step.citation.doubt) == ("n", 'ESC "A", n:\nstep of n', "smudged")
    assert step.parameters["n"].least == 1
    assert step.parameters["n"].most == 85
    assert step.citation.origin.detail == "page 12, row B-3"
    assert dict(device.commands[2].sets) == {"wide": "on", "underlined": "off"}
    assert device.commands[3].otherwise
    assert device.pages == 48


def test_import_table_separator() -> None:
    """Another separator, and a byte order mark in front."""
    toml = import_table("\ufeffpattern;meaning\n0A;feed, one line\n".encode(), FILE, HEADING, ";")
    assert read_device(toml.encode(), "t.toml").commands[0].meaning == "feed, one line"


@settings(deadline=None, max_examples=60)
@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=30))
def test_import_table_any_words(words: str) -> None:
    """Whatever stands in a cell stands in the table, spaces at its ends apart."""
    if not words.strip() or "\0" in words:
        return
    out = io.StringIO(newline="")
    csv.writer(out).writerows([["pattern", "meaning", "quote"], ["0A", "feed", words]])
    toml = import_table(out.getvalue().encode(), FILE, HEADING)
    assert read_device(toml.encode(), "t.toml").commands[0].citation.quote == words.strip()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("pattern,meaning,colour\n", r"documents/quill\.csv:1: column 'colour' is not known; known are pattern, .*"),
        ("pattern\n0A\n", r"documents/quill\.csv:1: column 'meaning' stands 0 times, not once"),
        ("", r"documents/quill\.csv:1: column 'pattern' stands 0 times, not once"),
        (
            "pattern,meaning\n0A,feed\n1b,x\n",
            r"documents/quill\.csv:3 \(pattern\): part '1b' is not understood; "
            r"a byte is two upper-case hexadecimal digits, not '1b'",
        ),
        (
            'pattern,meaning\n0A,"feed\none"\n0D,x\n0A,y\n',
            r"documents/quill\.csv:5 \(pattern\): pattern '0A' overlaps '0A' in line 2: both fit 0A; "
            r"'04' in line 2 \(4 for A\) or .* would not",
        ),
        (
            "pattern,meaning,page\n0A,feed,49\n",
            r"documents/quill\.csv:2 \(page\): page 49 does not exist; the document has 48 pages",
        ),
        ("pattern,meaning\n0A,feed,x\n", r"documents/quill\.csv:2: the row has 3 cells for 2 columns"),
        (
            "pattern,meaning,limits\n1B n,x,n up to 3\n",
            r"documents/quill\.csv:2: limits are written 'n 1\.\.144; m 0\.\.', not 'n up to 3'",
        ),
        (
            "pattern,meaning,sets\n0A,x,wide\n",
            r"documents/quill\.csv:2: sets is written 'mode = value; mode = value', not 'wide'",
        ),
        ("pattern,meaning,otherwise\n0A,x,1\n", r"documents/quill\.csv:2: otherwise is 'yes' or 'no', not '1'"),
        ('pattern,meaning\n0A,"feed\n', r"documents/quill\.csv:2: this is not CSV: unexpected end of data"),
    ],
)
def test_import_table_wrong(text: str, words: str) -> None:
    """What is wrong is named with the line of the transcription and its column."""
    with pytest.raises(BadInput, match=f"^{words}$"):
        import_table(text.encode(), FILE, HEADING)


def test_import_table_wrong_letters() -> None:
    """Bytes that are no UTF-8 are refused with their place."""
    with pytest.raises(BadInput, match=r"^documents/quill\.csv byte 0010h: the transcription is not UTF-8$"):
        import_table(b"pattern,meaning\n\xff", FILE, HEADING)


def test_import_table_wrong_heading() -> None:
    """What is wrong with the heading is named as such."""
    with pytest.raises(BadInput, match=r"^documents/quill\.csv \(kind\): this is one of manual, .*, note, not 'book'$"):
        import_table(b"pattern,meaning\n0A,feed\n", FILE, {**HEADING, "kind": "book"})
