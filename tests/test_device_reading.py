"""Reading streams with a command table."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from latchlore.base import UnknownName
from latchlore.device import Device, SpanState, read_device, read_stream
from latchlore.device._plain import match_pattern, match_rows
from tests.device_writer import tables, write_row

TABLE = """
title = "Guide"
device = "Quill"
kind = "manual"
[[mode]]
name = "font"
values = ["text", "dots"]
start = "text"
[[command]]
pattern = "20..7E"
meaning = "print"
does = "print"
when = { font = "text" }
[[command]]
pattern = "00..0F|20..FF"
meaning = "one column"
when = { font = "dots" }
[[command]]
pattern = "0D"
meaning = "carriage return"
when = { font = "text" }
[[command]]
pattern = "1B 4B n data*n"
meaning = "dot columns"
[command.parameters]
n = { least = 1, most = 144 }
[[command]]
pattern = "1B 47 m"
meaning = "choose font"
sets_from = { font = "m" }
[command.parameters]
m = { values = { 0 = "text", 1 = "dots" } }
[[command]]
pattern = "1B '[' n# 'm'"
meaning = "style"
[[command]]
pattern = "1B 54 text->00"
meaning = "title"
[[command]]
pattern = "1B 4C"
meaning = "long lines"
when_switch = { width = "wide" }
[[command]]
pattern = "1B x"
meaning = "some escape sequence"
otherwise = true
when_switch = { width = "wide" }
[[switch]]
name = "width"
levers = ["1"]
factory = "narrow"
settings = [{ levers = "off", is = "narrow" }, { levers = "on", is = "wide" }]
"""


@pytest.fixture(scope="module")
def device() -> Device:
    return read_device(TABLE.encode(), "documents/quill.toml")


def test_read_stream(device: Device) -> None:
    """Every span has its meaning, values, data and modes; runs of print are one span."""
    data = b"AB\x1bK\x02\x81\x42\r\x1b[12mC\x1bTxy\0\x1bG\x01\x41\r"
    reading = read_stream(device, data)
    shown = [(s.start, s.end, s.command.meaning if s.command else "", dict(s.values)) for s in reading]
    assert shown == [
        (0, 2, "print", {}),
        (2, 7, "dot columns", {"n": 2}),
        (7, 8, "carriage return", {}),
        (8, 13, "style", {"n": 12}),
        (13, 14, "print", {}),
        (14, 19, "title", {}),
        (19, 22, "choose font", {"m": 1}),
        (22, 23, "one column", {}),
        (23, 24, "one column", {}),
    ]
    assert reading[1].data == {"data": (5, 7)}
    assert reading[5].data == {"text": (16, 18)}
    assert reading[6].changes == {"font": "dots"}
    assert (reading[5].modes["font"], reading[8].modes["font"]) == ("text", "dots")
    assert [c.meaning for c in reading.never_used] == ["long lines", "some escape sequence"]
    assert [c.meaning for c in reading.not_valid] == ["long lines", "some escape sequence"]


def test_read_stream_switch(device: Device) -> None:
    """A switch makes rows valid; a row that gives way explains what no other row does."""
    reading = read_stream(device, b"\x1bL\x1bQ\x1bK\x01\x01", {"width": "wide"})
    assert [s.command.meaning for s in reading if s.command] == ["long lines", "some escape sequence", "dot columns"]


def test_read_stream_switch_wrong(device: Device) -> None:
    """An unknown switch or setting is refused."""
    with pytest.raises(UnknownName, match=r"^switch 'width' has no setting 'huge'; known are 'narrow', 'wide'$"):
        read_stream(device, b"", {"width": "huge"})
    with pytest.raises(UnknownName, match=r"^document 'quill' has no switch 'depth'; known are 'width'$"):
        read_stream(device, b"", {"depth": "wide"})


def test_read_stream_unexplained(device: Device) -> None:
    """What no row explains is kept raw; the byte that breaks a row off belongs to it unless it begins a row."""
    reading = read_stream(device, b"A\x1b\x99B\x1b\x1b[1m\x90\x91")
    assert [(s.raw, s.state) for s in reading] == [
        (b"A", SpanState.COMPLETE),
        (b"\x1b\x99", SpanState.UNEXPLAINED),
        (b"B", SpanState.COMPLETE),
        (b"\x1b", SpanState.UNEXPLAINED),
        (b"\x1b[1m", SpanState.COMPLETE),
        (b"\x90\x91", SpanState.UNEXPLAINED),
    ]
    assert reading.num_unexplained == 5
    first = reading.first_unexplained
    assert first is not None
    assert first.start == 1


@pytest.mark.parametrize(
    ("data", "meaning", "missing"),
    [(b"\x1bK\x05ab", "dot columns", 3), (b"\x1bTab", "title", 1), (b"\x1b", None, 1), (b"\x1b[1", "style", 1)],
)
def test_read_stream_cut(device: Device, data: bytes, meaning: str | None, missing: int) -> None:
    """A stream that ends inside a row says so, with the row where only one is possible and the bytes that lack."""
    (span,) = read_stream(device, data)
    assert (span.state, span.missing) == (SpanState.INCOMPLETE, missing)
    assert (span.command.meaning if span.command else None) == meaning


def test_read_stream_remarks(device: Device) -> None:
    """A value that the document does not allow is read and flagged."""
    (span,) = read_stream(device, b"\x1bK\x00")
    assert span.remarks == ("n = 0 is outside 1 to 144",)
    assert str(span) == "0000: 1B 4B 00: dot columns (n = 0); n = 0 is outside 1 to 144"


def test_find_span(device: Device) -> None:
    """Each byte leads to its span."""
    reading = read_stream(device, b"AB\x1bK\x02\x81\x42\r")
    assert [reading.find_span(i) for i in range(8)] == [0, 0, 1, 1, 1, 1, 1, 2]
    with pytest.raises(IndexError, match=r"^the stream has 8 bytes; there is no byte 8$"):
        reading.find_span(8)


# -- random tables


@settings(deadline=None, max_examples=150)
@given(tables(), st.integers(0, 2**32))
def test_random_tables_read_back(device: Device, seed: int) -> None:
    """What a writer makes from a table is read back the same, and the plain match of each row agrees."""
    rng = random.Random(seed)
    wanted = []
    data = b""
    for _ in range(30):
        row = rng.randrange(len(device.commands))
        wanted.append((len(data), row))
        data += write_row(device.commands[row].pattern, rng)[0]
    reading = read_stream(device, data)
    assert [(s.start, s.command.index if s.command else -1) for s in reading] == wanted
    assert all(span.state is SpanState.COMPLETE for span in reading)
    for span in reading:
        found = match_rows(device.commands, data, span.start)
        assert found is not None
        assert (found[0], found[1].end) == (span.command, span.end)


@settings(deadline=None, max_examples=40)
@given(tables(), st.binary(max_size=300), st.integers(0, 2**32))
def test_compiled_equals_plain(device: Device, noise: bytes, seed: int) -> None:
    """The compiled scanner and its plain twin make the same spans of noise and rows mixed."""
    rng = random.Random(seed)
    data = noise[:150]
    for _ in range(10):
        data += write_row(rng.choice(device.commands).pattern, rng)[0][: rng.randrange(1, 9)]
    data += noise[150:]
    plain, fast = (read_stream(device, data, compiled=compiled) for compiled in (False, True))
    assert list(plain) == list(fast)


@settings(deadline=None, max_examples=100)
@given(tables(), st.binary(max_size=200))
def test_noise_is_covered(device: Device, data: bytes) -> None:
    """Spans cover any stream without gap, and a complete span is a row that fits there."""
    reading = read_stream(device, data)
    assert b"".join(span.raw for span in reading) == data
    for span in reading:
        if span.state is SpanState.COMPLETE:
            assert span.command is not None
            match = match_pattern(span.command.pattern, data, span.start)
            assert match is not None
            assert (match.is_complete, match.end) == (True, span.end)
        elif span.state is SpanState.UNEXPLAINED:
            assert match_rows(device.commands, data, span.start) is None


def test_long_stream_joins_over_blocks(device: Device) -> None:
    """A long stream is read in blocks; a run of print over their border is one span."""
    data = b"A" * 700_000 + b"\r" * 300_000 + b"B" * 10
    reading = read_stream(device, data)
    assert (len(reading), reading.bounds(0), reading.bounds(len(reading) - 1)) == (
        300_002,
        (0, 700_000),
        (1_000_000, 1_000_010),
    )
