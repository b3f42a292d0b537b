"""Values and places in words for people."""

from __future__ import annotations

import pytest

from latchlore.base import AddressSet, ByteSequence, Emission, Origin, SequenceByte, Span, Value, Words
from latchlore.evidence import address_text, describe_places, describe_value


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (AddressSet.of([0xC800]), "C800"),
        (AddressSet.parse("1011 xx01"), "1011 xx01 (B1 is the lowest of 4 addresses: 3 mirrors)"),
        (AddressSet.parse("1011 000x"), "1011 000x (B0 is the lowest of 2 addresses: 1 mirror)"),
        (AddressSet.of([0xB810, 0xAA17]), "AA17, B810"),
        (AddressSet.parse("none of 16"), "no address"),
        (ByteSequence.certain(b"\x1b@"), "1B 40 (2 bytes, 100.0% from 1 run)"),
        (ByteSequence((SequenceByte(0x40, 0.5),), 0.5, 3), "40? (1 byte, 50.0% from 3 runs)"),
        (Words("as it stands"), "as it stands"),
    ],
)
def test_describe_value(value: Value, words: str) -> None:
    """Address sets tell their mirrors, sequences their doubts; everything else its own text."""
    assert describe_value(value) == words


def test_describe_value_cut() -> None:
    """A sequence that is too long says how many bytes are left out."""
    assert describe_value(ByteSequence.certain(bytes(5)), 2) == "00 00 … 3 more (5 bytes, 100.0% from 1 run)"


def test_describe_value_says_bounds_once() -> None:
    """Bounds that differ in the entry's name and in numbers alone are one sentence, and no name or number is lost."""
    bounds = (
        "reset: every path from F800 was followed to its end (374 nodes)",
        "bytes below the stack pointer are lost",
        "power-on: every path from F820 was followed to its end (5 nodes)",
        "print a line: every path from FADE was followed to its end (5 nodes)",
        "power-on: reads at B800 give the same bit 0 every time",
    )
    assert describe_value(Emission(False, bounds)) == (
        "never sent (reset, power-on and print a line: every path from F800, F820 and FADE was followed to its end "
        "(374, 5 and 5 nodes); bytes below the stack pointer are lost; "
        "power-on: reads at B800 give the same bit 0 every time)"
    )


def test_describe_value_keeps_bounds_apart() -> None:
    """Bounds with different words, or without a name in front, stay as they are; so does a value without bounds."""
    bounds = (
        "a: not followed: a bound of 10 nodes",
        "b: not followed: a bound of 10 events",
        "more than 9",
        "more than 8",
    )
    assert describe_value(Emission(None, bounds)) == f"cannot be told ({'; '.join(bounds)})"
    assert describe_value(Emission(True)) == "sent"


def test_address_text() -> None:
    """As many hexadecimal digits as the lines need: 8 lines two, 10 and 12 three, 16 four."""
    assert [address_text(0x3, width) for width in (8, 10, 12, 16)] == ["03", "003", "003", "0003"]


def test_describe_places() -> None:
    """A second place in the same file leaves the file's name out; another file or kind of place has it."""
    origins = (
        Origin.at_line("a.log", 6),
        Origin.at_line("a.log", 7, "run 2"),
        Origin.at_byte("a.log", 16),
        Origin.at_byte("a.log", 17),
        Origin.at_address("rom.bin", 0xF012),
        Origin.at_address("rom.bin", 0xF015),
        Origin.at_time("a.vcd", Span.of(us=1)),
        Origin.at_time("a.vcd", Span.of(us=2)),
        Origin.on_page("b.toml", "page 1"),
        Origin.on_page("b.toml", "page 2"),
        Origin("c"),
        Origin("c"),
    )
    assert describe_places(origins) == (
        "a.log:6",
        ":7 (run 2)",
        "a.log byte 0010h",
        "0011h",
        "rom.bin at F012",
        "F015",
        "a.vcd at 1 us",
        "2 us",
        "b.toml (page 1)",
        "(page 2)",
        "c",
        "c",
    )
