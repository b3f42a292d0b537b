"""Byte logs: every form that docs/byte-log.md allows, and one clear refusal for everything else."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.base import BadInput, Span
from latchlore.wire import MAX_LOG_BYTES, Layout, Numbers, parse_log, read_log

if TYPE_CHECKING:
    from pathlib import Path

FILE = "a.log"


def refusal(raw: bytes, **stated: Numbers | Layout) -> str:
    """The words of the refusal."""
    with pytest.raises(BadInput) as caught:
        parse_log(raw, FILE, **stated)  # type: ignore[arg-type]  # the key says which of the two it is
    return str(caught.value)


def data_of(raw: bytes) -> list[bytes]:
    """The bytes of every run."""
    return [run.data for run in parse_log(raw, FILE).runs]


ACCEPTED = {
    "blanks": (b"1B 40 0D\n1B 40\n", [b"\x1b@\r", b"\x1b@"]),
    "commas": (b"1B,40, 0D;41\n", [b"\x1b@\rA"]),
    "marks of hexadecimal": (b"0x1B $40 0Dh\n", [b"\x1b@\r"]),
    "no gaps": (b"1B400D\n", [b"\x1b@\r"]),
    "decimal": (b"27 64 13\n255\n", [b"\x1b@\r", b"\xff"]),
    "one byte a line": (b"1B\n40\n\n0D\n", [b"\x1b@", b"\r"]),
    "comment as a break": (b"1B\n40\n# again\n0D\n", [b"\x1b@", b"\r"]),
    "mixed line ends": (b"1B\r\n40\r0D\n", [b"\x1b@\r"]),
    "empty run": (b"1B 40\n-\n0D 41\n", [b"\x1b@", b"", b"\rA"]),
    "stated hexadecimal": (b"numbers: hex\n10 20\n", [b"\x10\x20"]),
    "stated decimal": (b"Numbers: Decimal\n10 20\n", [b"\x0a\x14"]),
    "whole file": (b"runs: file\n1B 40\n\n# on\n0D\n", [b"\x1b@\r"]),
    "blocks of lines": (b"runs: block\n1B 40\n0D\n\n1B\n", [b"\x1b@\r", b"\x1b"]),
    "byte order mark": (b"\xef\xbb\xbf1B 40\n", [b"\x1b@"]),
    "leading zero": (b"07 12\n", [b"\x07\x12"]),
    "digit beside digits": (b"7 12\n", [b"\x07\x0c"]),
}


@pytest.mark.parametrize("name", ACCEPTED)
def test_parse_log(name: str) -> None:
    """Every form of the page gives its runs."""
    raw, runs = ACCEPTED[name]
    assert data_of(raw) == runs


REFUSED = {
    "mixed": (
        b"1B 40\n27 255\n",
        "a.log:2: '255' can only be decimal, but '1B' in line 1 can only be hexadecimal; a log has one kind of number",
    ),
    "either": (
        b"12 34\n",
        "a.log:1: every number of this log could be hexadecimal or decimal; say which in a line 'numbers: hex' or"
        " 'numbers: decimal' before the first byte",
    ),
    "too big": (
        b"300 12\n",
        "a.log:1: '300' is not a byte; a byte is 00 to FF in hexadecimal or 0 to 255 in decimal",
    ),
    "two mistakes": (
        b"1B zz\n40\nhello 0D\n",
        "a.log:1: 'zz' is not a byte; a byte is 00 to FF in hexadecimal or 0 to 255 in decimal\n"
        "a.log:3: 'hello' is not a byte; a byte is 00 to FF in hexadecimal or 0 to 255 in decimal",
    ),
    "binary": (b"1B\n\x00\x01", "a.log:2: byte 3 is 00h; a byte log is text, this file looks binary"),
    "not UTF-8": (b"1B # caf\xe9\n", "a.log:1: byte 8 is E9h; a byte log is UTF-8 text"),
    "UTF-16": ("1B".encode("utf-16"), "a.log:1: the file is UTF-16 text; save it as UTF-8"),
    "empty": (b"# nothing yet\n", "a.log: the log holds no byte and no run"),
    "late header": (b"1B\nnumbers: hex\n", "a.log:2: 'numbers' must stand before the first byte"),
    "header twice": (b"runs: line\nruns: file\n1B\n", "a.log:2: 'runs' is stated a second time; first in line 1"),
    "unknown value": (
        b"runs: page\n1B\n",
        "a.log:1: 'runs' is 'page'; it must be one of 'line', 'block', 'file'",
    ),
    "time falls": (
        b"5us 1B\n4us 40\n",
        "a.log:2: time 4 us is before 5 us in line 1; times of one run never fall",
    ),
    "no unit": (
        b"1B@12\n",
        "a.log:1: the time '12' has no unit; say it in a line 'times: us', or write it behind the number",
    ),
    "no time": (b"times: us\nx 1B\n", "a.log:2: 'x' is not a time"),
    "time alone": (b"1B\n12us\n", "a.log:2: a time stands here without a byte"),
    "too fine": (b"0.5ps 1B\n", "a.log:1: the time '0.5' ps is not a whole number of picoseconds"),
    "mark beside bytes": (b"1B -\n", "a.log:1: '-' means a run without a byte and stands alone in its line"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_parse_log_wrong(name: str) -> None:
    """Every broken log is refused with the place, the rule and what stands there."""
    raw, text = REFUSED[name]
    assert refusal(raw) == text


def test_parse_log_stated_wrong() -> None:
    """A number of the other kind than stated is refused."""
    assert refusal(b"1B 40\n", numbers=Numbers.DECIMAL) == (
        "a.log:1: '1B' is not a decimal byte; the log is stated to be decimal"
    )


def test_parse_log_many_wrong() -> None:
    """A file full of mistakes is not answered with a page for each."""
    text = refusal(b"zz\n" * 200)
    assert len(text.splitlines()) == 51
    assert text.endswith("a.log:51: and 150 more mistakes")


def test_parse_log_said() -> None:
    """What was concluded is said, with the number it was concluded from."""
    log = parse_log(b"# by hand\n12 1B\n40 41\n", FILE)
    assert (log.numbers, log.layout) == (Numbers.HEX, Layout.LINE)
    assert log.numbers_why == "hexadecimal, concluded from '1B' in line 2"
    assert log.layout_why == "each line is a run, concluded: lines hold several bytes"
    assert log.comments == ((1, "by hand"),)
    assert log.runs[0].label == "by hand"


def test_parse_log_wrapped() -> None:
    """Sixteen bytes a line that do not repeat each other are one listing; sixteen that do are runs."""
    listing = "\n".join(" ".join(f"{(i * 37 + k * 11) % 251:02X}" for k in range(16)) for i in range(4))
    assert len(parse_log(listing.encode(), FILE).runs) == 1
    again = "\n".join(" ".join(f"{k * 11:02X}" for k in range(16)) for _ in range(4))
    assert len(parse_log(again.encode(), FILE).runs) == 4


def test_parse_log_times() -> None:
    """Times stand first in the line or behind the byte, with the unit there or in the header; never as floats."""
    for raw in (b"0.5us 1B\n47.25 us: 40\n", b"1B@0.5us 40@47250ns\n", b"times: us\n0.5 1B\n47.25, 40\n"):
        run = parse_log(raw, FILE).runs[0]
        assert run.data == b"\x1b@"
        assert run.times == (Span.of(ns=500), Span.of(ns=47250))


def test_parse_log_times_partly() -> None:
    """One time before several bytes belongs to the first; such lines are one run."""
    log = parse_log(b"1us 1B 40\n9us 0D 41\n", FILE)
    assert [run.data for run in log.runs] == [b"\x1b@\rA"]
    assert log.runs[0].times == (Span.of(us=1), None, Span.of(us=9), None)


def test_origin() -> None:
    """Every byte of a run knows its line."""
    run = parse_log(b"runs: block\n1B 40\n0D\n\n41\n", FILE).runs[0]
    assert [str(run.origin(i)) for i in range(3)] == ["a.log:2", "a.log:2", "a.log:3"]


def test_read_log_wrong(tmp_path: Path) -> None:
    """A file of 200 MB is refused by its size, before it is read."""
    path = tmp_path / "big.log"
    with path.open("wb") as file:
        file.truncate(200 * 10**6)
    with pytest.raises(BadInput, match=r"^big\.log: the file has 200000000 bytes; a byte log may have 4194304; split"):
        read_log(path, "big.log")


def test_parse_log_large_wrong() -> None:
    """The limit holds for bytes at hand as well."""
    with pytest.raises(BadInput, match=rf"^a\.log: the file has {MAX_LOG_BYTES + 1} bytes; a byte log may have"):
        parse_log(b" " * (MAX_LOG_BYTES + 1), FILE)


@given(st.lists(st.binary(min_size=1, max_size=40), min_size=1, max_size=6), st.sampled_from(["\n", "\r\n", "\r"]))
def test_parse_log_round_trip(runs: list[bytes], end: str) -> None:
    """Whatever is written down in either kind of number is read back."""
    hexadecimal = "numbers: hex" + end + end.join(run.hex(" ") for run in runs)
    decimal = "numbers: decimal" + end + end.join(" ".join(map(str, run)) for run in runs)
    for text in (hexadecimal, decimal):
        assert [run.data for run in parse_log(text.encode(), FILE, layout=Layout.LINE).runs] == runs


@given(st.binary(max_size=200))
def test_parse_log_rubbish(raw: bytes) -> None:
    """Any bytes are read or refused with a place; nothing else happens."""
    with contextlib.suppress(BadInput):
        assert parse_log(raw, FILE).runs


@given(st.text(alphabet="0123456789ABCDEFabcdefx$h@us.-,;: \t\r\n#numberstihexdc", max_size=120))
def test_parse_log_near_miss(text: str) -> None:
    """Text made of the format's own signs is read or refused."""
    with contextlib.suppress(BadInput):
        assert parse_log(text.encode(), FILE).runs


@pytest.mark.parametrize(
    ("text", "data", "cut"),
    [
        ("numbers: hex\nruns: file\n0us 41 42\n1000us 43 4", "41 42 43", "'4' in line 4"),
        ("numbers: hex\nruns: file\n0us 41 42\n1000us 43", "41 42 43", ""),
        ("numbers: hex\nruns: file\n0us 41 42\n1000us", "41 42", "'1000us' in line 4"),
        ("numbers: hex\nruns: file\n0us 41 42\n10", "41 42", "'10' in line 4"),
        ("numbers: hex\nruns: file\n0us 41 42\n# 2 bytes; st", "41 42", ""),
        ("1B 40 41 42\n1B 40 41 42 4", "1B 40 41 42 1B 40 41 42", "'4' in line 2"),
        ("1B 40 41 42\n1B 40 41 42 4\n", "1B 40 41 42 1B 40 41 42 04", ""),
        ("1B 40 41 4\n1B 40 41 42 4", "1B 40 41 04 1B 40 41 42 04", ""),
        ("1B 4", "1B 04", ""),
    ],
)
def test_parse_log_cut_off(text: str, data: str, cut: str) -> None:
    """A log that breaks off is read to its last whole byte, and says so; a digit typed alone elsewhere is a byte."""
    log = parse_log(text.encode(), "a.log")
    assert b"".join(run.data for run in log.runs) == bytes.fromhex(data)
    said = f"; the file ends in the middle of a line: {cut} was left out, all before it was read"
    assert log.numbers_why.endswith(said) == bool(cut)


@pytest.mark.parametrize(
    ("text", "runs"),
    [
        ("1B 40 0D\n1B 40\n", [b"\x1b\x40\x0d", b"\x1b\x40"]),
        ("1B 40 0D 41 42 43 44 45\n1B 4", [b"\x1b\x40\x0d\x41\x42\x43\x44\x45", b"\x1b"]),
        ("numbers: hex\nruns: file\n", []),
    ],
)
def test_parse_log_filled_up(text: str, runs: list[bytes]) -> None:
    """Zero bytes at the end, as a power cut leaves them, are left out, and said; so is half a byte before them."""
    log = parse_log(text.encode() + bytes(77), "a.log")
    assert [run.data for run in log.runs] == runs
    said = "; the last 77 bytes of the file are zero: writing broke off there, all before it was read"
    assert log.numbers_why.endswith(said)
    assert ("was left out" in log.numbers_why) == text.endswith("4")


def test_parse_log_no_byte_yet() -> None:
    """A log that is stated to be one run may hold no byte yet: listening began and nothing came."""
    log = parse_log(b"# power-on\nnumbers: hex\nruns: file\n# 0 bytes; stopped by the user\n", "a.log")
    assert log.runs == ()
    assert log.layout_why.startswith("the whole file is one run, as stated; it holds no byte, so it tells nothing")
