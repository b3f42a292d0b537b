"""TOML changed in place: what is asked for changes, every other byte stays."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.base import BadInput, Unsupported, append_table, append_tables, find_comment, set_keys, take_table_out
from latchlore.demo import demo_folder

FILE = "documents/quill.toml"
TEXT = b"""\
# kept: the head of the file
title = "Guide"   # kept: beside the title

[[command]]   # kept: the first row
pattern = "16"
meaning = "start"   # kept: beside the meaning

# kept: belongs to the second row
[[command]]
pattern = "0C"
meaning = "feed"
  page = 11
[command.parameters]
n = { least = 7, most = 36 }   # kept: braces

[paper]
columns = 24
pin = [
    { number = "1", signal = "STROBE" },   # kept: in an array
    { number = "2" },
]
"""


def test_set_keys() -> None:
    """A key is changed, added behind the last of its table, or taken out; comments stay where they are."""
    changed = set_keys(TEXT, FILE, ("command", 0), {"meaning": "start of a line", "page": 11})
    assert changed == TEXT.replace(
        b'meaning = "start"   # kept: beside the meaning\n',
        b'meaning = "start of a line"   # kept: beside the meaning\npage = 11\n',
    )
    assert set_keys(TEXT, FILE, ("command", 1), {"page": None, "meaning": "f", "row": 2}) == TEXT.replace(
        b'meaning = "feed"\n  page = 11\n', b'meaning = "f"\nrow = 2\n'
    )
    assert set_keys(TEXT, FILE, (), {"title": "A \"B\" \\ 'C'"}) == TEXT.replace(b'"Guide"', b'"A \\"B\\" \\\\ \'C\'"')
    assert set_keys(TEXT, FILE, ("paper", "pin", 0), {"page": 3}) == TEXT.replace(
        b'signal = "STROBE" }', b'signal = "STROBE", page = 3 }'
    )
    assert set_keys(TEXT, FILE, ("paper", "pin", 0), {"number": None}) == TEXT.replace(b'number = "1", ', b"")


def test_set_keys_edges() -> None:
    """A file that holds nothing, no line end at its end, other line ends, and a comment behind what is taken out."""
    assert set_keys(b"", FILE, (), {"title": "x"}) == b'title = "x"\n'
    assert set_keys(b'a = "x"', FILE, (), {"b": 1}) == b'a = "x"\nb = 1\n'
    assert set_keys(b'a = "x"\r\n\r\n[t]\r\n', FILE, ("t",), {"b": 1}) == b'a = "x"\r\n\r\n[t]\r\nb = 1\r\n'
    assert set_keys(b"a = 1  # why\nb = 2\n", FILE, (), {"a": None}) == b"  # why\nb = 2\n"
    assert set_keys(b"a = 1\n", FILE, (), {"c": None}) == b"a = 1\n"
    several = set_keys(b"", FILE, (), {"about": "one\ntwo"})
    assert tomllib.loads(several.decode()) == {"about": "one\ntwo"}
    assert several.count(b"\n") >= 3


def test_set_keys_wrong() -> None:
    """What is no table is refused, and so is a file that is not TOML."""
    with pytest.raises(BadInput, match=r"^documents/quill\.toml: there is no table \"\('command', 2\)\" in the file$"):
        set_keys(TEXT, FILE, ("command", 2), {"page": 1})
    with pytest.raises(BadInput, match=r"^documents/quill\.toml:1: not TOML: "):
        set_keys(b"a = = 1\n", FILE, (), {"page": 1})


def test_append_table() -> None:
    """A row goes behind the last of its kind, in the manner in which the others are written."""
    row: dict[str, object] = {"pattern": "07", "meaning": "bell"}
    block = b'\n[[command]]\npattern = "07"\nmeaning = "bell"\n'
    line = b"n = { least = 7, most = 36 }   # kept: braces\n"
    assert append_table(TEXT, FILE, "command", row) == TEXT.replace(line, line + block)
    assert append_table(b'title = "x"', FILE, "command", row) == b'title = "x"\n' + block
    assert append_table(b"", FILE, "command", row) == block[1:]
    assert append_table(b"pin = []\n", FILE, "pin", {"number": "1"}) == b'pin = [{ number = "1" }]\n'
    assert append_table(b"pin = [{ a = 1 }]\n", FILE, "pin", {"a": 2}) == b"pin = [{ a = 1 }, { a = 2 }]\n"
    tall = b"pin = [\n    { a = 1 },  # one\n]\n"
    assert append_table(tall, FILE, "pin", {"a": 2}) == b"pin = [\n    { a = 1 },\n    { a = 2 },  # one\n]\n"


def test_append_table_wrong() -> None:
    """A name that stands for something else is refused."""
    with pytest.raises(BadInput, match=r"^documents/quill\.toml: there is no table 'title' in the file$"):
        append_table(TEXT, FILE, "title", {"a": 1})


QUESTIONS = b"""\
[[question]]   # kept: the first
name = "a"

[[question.trial]]
chances = { x = [1, 0] }   # kept: braces
[question.trial.more]
y = 1

# kept: belongs to the second
[[question]]
name = "b"

[[outcome]]
saw = "x"
"""


def test_append_tables() -> None:
    """A table goes behind all that belongs to its array, its own arrays of tables under headers, texts in braces."""
    trial: dict[str, object] = {"name": "t", "chances": {"x": [1, 0], "no one": [0.5, 0.5]}}
    block = b'\n[[question.trial]]\nname = "t"\nchances = { x = [1, 0], "no one" = [0.5, 0.5] }\n'
    assert append_tables(QUESTIONS, FILE, ("question", 0, "trial"), trial) == QUESTIONS.replace(
        b"y = 1\n", b"y = 1\n" + block
    )
    assert append_tables(QUESTIONS, FILE, ("question", 1, "trial"), trial) == QUESTIONS.replace(
        b'name = "b"\n', b'name = "b"\n' + block
    )
    whole = append_tables(QUESTIONS, FILE, ("question",), {"name": "c", "trial": [trial, {"name": "u"}]})
    added = b'\n[[question]]\nname = "c"\n' + block + b'\n[[question.trial]]\nname = "u"\n'
    assert whole == QUESTIONS.replace(b'name = "b"\n', b'name = "b"\n' + added)
    assert append_tables(b"", FILE, ("question",), {"name": "c"}) == b'[[question]]\nname = "c"\n'
    assert append_tables(b"a = 1\r\n", FILE, ("q",), {"b": "c"}) == b'a = 1\r\n\r\n[[q]]\r\nb = "c"\r\n'


def test_append_tables_wrong() -> None:
    """What is not there, is something else, or is written in braces is refused."""
    with pytest.raises(BadInput, match=r"^documents/quill\.toml: there is no table \"\('question', 2\)\" in the file$"):
        append_tables(QUESTIONS, FILE, ("question", 2, "trial"), {"a": 1})
    with pytest.raises(BadInput, match=r"^documents/quill\.toml: there is no table 'name' in the file$"):
        append_tables(QUESTIONS, FILE, ("question", 0, "name"), {"a": 1})
    told = (
        r"^documents/quill\.toml: cannot be changed here without touching more than was asked; change the file as text$"
    )
    with pytest.raises(Unsupported, match=told):
        append_tables(b'question = [{ name = "a" }]\n', FILE, ("question", 0, "trial"), {"a": 1})


ROWS = b"""\
title = "x"

[[command]]
pattern = "0D"

[[command]]
pattern = "0A"
quote = \"\"\"
two
lines\"\"\"

[paper]
columns = 24
"""


def test_take_table_out() -> None:
    """The lines of one table go, with one empty line in front of them, and are named."""
    text, start, end = take_table_out(ROWS, FILE, "command", 0)
    assert ROWS[start:end] == b'\n[[command]]\npattern = "0D"\n'
    assert text == ROWS.replace(ROWS[start:end], b"", 1)
    text, start, end = take_table_out(ROWS, FILE, "command", 1)
    assert ROWS[start:end] == b'\n[[command]]\npattern = "0A"\nquote = """\ntwo\nlines"""\n'
    assert text == b'title = "x"\n\n[[command]]\npattern = "0D"\n\n[paper]\ncolumns = 24\n'
    only = b"[[command]]\r\na = 1\r\n\r\n[[command]]\r\na = 2"
    assert take_table_out(only, FILE, "command", 1)[0] == b"[[command]]\r\na = 1\r\n"
    assert take_table_out(b"[[command]]\na = 1", FILE, "command", 0) == (b"", 0, 17)


@given(
    rows=st.lists(st.sampled_from([b"a = 1\n", b"b = [\n 2,\n]\n", b""]), min_size=1, max_size=6), at=st.integers(0, 5)
)
def test_take_table_out_again(rows: list[bytes], at: int) -> None:
    """What was appended is taken out with the very bytes that it brought (`append_table` is the referee)."""
    raw = b"".join(b"[[command]]\n" + row + b"\n" for row in rows)[:-1]
    more = append_table(raw, FILE, "command", {"c": "x"})
    assert take_table_out(more, FILE, "command", len(rows))[0] == raw
    k = at % len(rows)
    kept = tomllib.loads(take_table_out(raw, FILE, "command", k)[0].decode()).get("command", [])
    assert kept == [row for i, row in enumerate(tomllib.loads(raw.decode())["command"]) if i != k]


def test_take_table_out_wrong() -> None:
    """A table that is not there, in braces, or with tables of its own stays."""
    with pytest.raises(BadInput, match=r"^documents/quill\.toml: there is no table \"\('command', 2\)\" in the file$"):
        take_table_out(ROWS, FILE, "command", 2)
    told = (
        r"^documents/quill\.toml: cannot be changed here without touching more than was asked; change the file as text$"
    )
    with pytest.raises(Unsupported, match=told):
        take_table_out(b"command = [{ a = 1 }]\n", FILE, "command", 0)
    with pytest.raises(Unsupported, match=told):
        take_table_out(TEXT, FILE, "command", 1)


def test_find_comment() -> None:
    """The first comment's line; a sign in a text is none."""
    assert find_comment(TEXT) == 1
    assert find_comment(b'a = "# no"\nb = [\n 1, # yes\n]\n# and\n') == 3
    assert find_comment(b'a = """\n# no\n"""\n') is None
    assert find_comment(b"") is None


@given(
    text=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\r"), max_size=40),
    key=st.sampled_from(["pattern", "meaning", "page", "quote"]),
    row=st.integers(0, 1),
)
def test_set_keys_any_text(text: str, key: str, row: int) -> None:
    """Whatever the text, it is read back as it was given, and no comment is lost (tomllib is the referee)."""
    changed = set_keys(TEXT, FILE, ("command", row), {key: text})
    data: dict[str, Any] = tomllib.loads(changed.decode())
    assert data["command"][row][key] == text
    kept = [line[line.index(b"# kept") :] for line in TEXT.splitlines() if b"# kept" in line]
    assert [
        line[line.index(b"# kept") :]
        for line in changed.splitlines()
        if b"# kept" in line and b'"' not in line[line.index(b"# kept") :]
    ][: len(kept)] == kept


def _tables(data: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """The path of every table of a file, however it is written."""
    if isinstance(data, dict):
        yield path
        for key, value in data.items():
            yield from _tables(value, (*path, key))
    elif isinstance(data, list):
        for k, value in enumerate(data):
            yield from _tables(value, (*path, k))


DEMO = sorted(demo_folder().rglob("*.toml"))


@pytest.mark.parametrize("file", DEMO, ids=lambda file: file.name)
def test_set_keys_there_and_back(file: Path) -> None:
    """In every table of the demonstration: a key added and taken out again leaves the bytes as they were."""
    raw = file.read_bytes()
    paths = list(_tables(tomllib.loads(raw.decode())))
    assert paths
    for path in paths:
        added = set_keys(raw, file.name, path, {"another": 'a "quoted" word'})
        assert added != raw
        assert set_keys(added, file.name, path, {"another": None}) == raw
