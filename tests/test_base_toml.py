"""TOML with the line of every key: against the standard library's reader and against lines known by construction."""

from __future__ import annotations

import re
import tomllib
from typing import Annotated, Any

import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel, ConfigDict, Field, field_validator

from latchlore.base import BadInput, KeyPath, Origin, check_toml, key_text, read_toml

SAMPLE = """\
# a comment
title = "x"

[program]
cpu = "6502"          # line 5
ram = [
    "0000-07FF",      # line 7
    # between
    "2000-2FFF",      # line 9
]
spec.deep.value = 1   # line 11

[[image]]             # line 13
file = "a"
"quoted key" = 1

[[image]]             # line 17
file = "b"
at = { low = 1, high = [2,
  3] }                # line 20

[[image.patch]]       # line 22
byte = 1
[[image.patch]]       # line 24
byte = 2

[image.patch.note]    # line 27
by = "me"
"""


def test_lines() -> None:
    """Every key, array element and table of a sample stands on the line written beside it."""
    toml = read_toml(SAMPLE.encode(), "s.toml")
    assert toml.data == tomllib.loads(SAMPLE)
    wanted: dict[KeyPath, int] = {
        ("title",): 2,
        ("program",): 4,
        ("program", "cpu"): 5,
        ("program", "ram"): 6,
        ("program", "ram", 0): 7,
        ("program", "ram", 1): 9,
        ("program", "spec", "deep", "value"): 11,
        ("image",): 13,
        ("image", 0): 13,
        ("image", 0, "file"): 14,
        ("image", 0, "quoted key"): 15,
        ("image", 1): 17,
        ("image", 1, "file"): 18,
        ("image", 1, "at", "low"): 19,
        ("image", 1, "at", "high", 0): 19,
        ("image", 1, "at", "high", 1): 20,
        ("image", 1, "patch", 0): 22,
        ("image", 1, "patch", 0, "byte"): 23,
        ("image", 1, "patch", 1): 24,
        ("image", 1, "patch", 1, "byte"): 25,
        ("image", 1, "patch", 1, "note"): 27,
        ("image", 1, "patch", 1, "note", "by"): 28,
    }
    assert {path: toml.line(path) for path in wanted} == wanted


def test_line_of_what_is_not_there() -> None:
    """A key that is not written has the line of the nearest key above it, the file's first in the end."""
    toml = read_toml(SAMPLE.encode(), "s.toml")
    assert toml.line(("image", 1, "size")) == 17
    assert toml.line(("nothing", "here")) == 1
    assert toml.origin(("image", 1, "size")) == Origin.at_line("s.toml", 17, "image[2].size")


names = st.text("abcd", min_size=1, max_size=3) | st.sampled_from(["odd name", "ü", "9", "x.y", "quote'd"])
scalars = st.integers(-5, 5) | st.text("ab\n\"'é", max_size=4) | st.booleans()
values = st.recursive(
    scalars, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(names, inner, max_size=3), max_leaves=5
)
documents = st.dictionaries(
    names, values | st.lists(st.dictionaries(names, values, max_size=3), min_size=1, max_size=3)
)


def _paths(value: Any, path: KeyPath = ()) -> list[KeyPath]:
    found: list[KeyPath] = [path] if path else []
    if isinstance(value, dict):
        for key, inner in value.items():
            found += _paths(inner, (*path, key))
    elif isinstance(value, list):
        for i, inner in enumerate(value):
            found += _paths(inner, (*path, i))
    return found


@settings(max_examples=150, deadline=None)
@given(documents)
def test_random_files(data: dict[str, Any]) -> None:
    """Files written by tomlkit read back with a line for every path, and each key stands on its line."""
    text = tomlkit.dumps(data)
    toml = read_toml(text.encode(), "s.toml")
    assert toml.data == data
    lines = text.split("\n")
    for path in _paths(data):
        assert path in toml.lines
        step = path[-1]
        if isinstance(step, str) and re.fullmatch("[abcd]+", step):
            assert step in lines[toml.lines[path] - 1]


def test_depth() -> None:
    """Down to 64 keys a file is read."""
    text = ".".join(["a"] * 64) + " = 1"
    assert read_toml(text.encode(), "s.toml").line(("a",) * 64) == 1


def test_key_text() -> None:
    """Indices count from 1 in words."""
    assert key_text(("part", 2, "pins", 0)) == "part[3].pins[1]"
    assert key_text(()) == ""


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        (b"a = 1\nb = \xff\n", "s.toml:2: byte 10 is FFh; the file must be UTF-8 text"),
        (b"\xef\xbb\xbfa = 1\n", "s.toml:1: not TOML: invalid statement"),
        (b"a = 1\na = 2\n", "s.toml:2: not TOML: cannot overwrite a value"),
        (b"a = \n", "s.toml:1: not TOML: invalid value"),
        (b"x = 1\n[a]\n[b]\n[a]\n", "s.toml:4: not TOML: cannot declare ('a',) twice"),
        (b"a = [1,\n", "s.toml:2: not TOML: invalid value"),
        (b"x" * 10, "s.toml:1: not TOML: expected '=' after a key in a key/value pair"),
        (b"a = " + b"[" * 5000, "s.toml:1: not a table for people: nested deeper than 64"),
        (b"\n" + b".".join([b"a"] * 5000) + b" = 1", "s.toml:1: not a table for people: nested deeper than 64"),
        (b"\n" + b".".join([b"a"] * 65) + b" = 1", "s.toml:2: not a table for people: nested deeper than 64"),
        (b"\na = " + b"[" * 65 + b"]" * 65, "s.toml:2: not a table for people: nested deeper than 64"),
        (b"a\0b = 1", "s.toml:1: not TOML: expected '=' after a key in a key/value pair"),
    ],
)
def test_read_wrong(raw: bytes, message: str) -> None:
    """What is not TOML is refused with file and line."""
    with pytest.raises(BadInput, match=f"^{re.escape(message)}$"):
        read_toml(raw, "s.toml")


class _Row(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)
    file: str
    size: Annotated[int, Field(ge=1)] = 1

    @field_validator("file")
    @classmethod
    def _short(cls, value: str) -> str:
        if len(value) > 3:
            raise ValueError(f"a name has at most 3 letters, not {value!r}")
        return value


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)
    title: str
    row: list[_Row] = []


def test_check() -> None:
    """Data that keep the rules come back as the model."""
    found = check_toml(_File, read_toml(b'title = "t"\n[[row]]\nfile = "a"\nsize = 2\n', "s.toml"))
    assert found == _File(title="t", row=[_Row(file="a", size=2)])


def test_check_wrong() -> None:
    """All mistakes come at once, by line, each with key path, rule and value."""
    text = '\n[[row]]\nfile = "long name"\n[[row]]\nsize = 0\ncolour = "red"\n[[row]]\nfile = 7\n[other]\n'
    with pytest.raises(BadInput) as error:
        check_toml(_File, read_toml(text.encode(), "s.toml"))
    assert str(error.value).splitlines() == [
        "s.toml:1: key 'title' is missing",
        "s.toml:3 (row[1].file): a name has at most 3 letters, not 'long name'",
        "s.toml:4 (row[2]): key 'file' is missing",
        "s.toml:5 (row[2].size): input should be greater than or equal to 1, not 0",
        "s.toml:6 (row[2].colour): key 'colour' is not known here",
        "s.toml:8 (row[3].file): input should be a valid string, not 7",
        "s.toml:9 (other): key 'other' is not known here",
    ]
    assert len(error.value.mistakes) == 7


class _Many(BaseModel):
    model_config = ConfigDict(extra="forbid")
    zeta: int
    beta: int
    omega: int
    alpha: int
    kappa: int
    delta: int


def test_check_order() -> None:
    """Mistakes of one line come in the order of the model's keys, in every process."""
    with pytest.raises(BadInput) as error:
        check_toml(_Many, read_toml(b"", "s.toml"))
    keys = ["zeta", "beta", "omega", "alpha", "kappa", "delta"]
    assert str(error.value).splitlines() == [f"s.toml:1: key {key!r} is missing" for key in keys]
