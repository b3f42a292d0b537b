"""How addresses, bits, codes and sizes are written."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.base import AddressSet, InputKind
from latchlore.study import BitPlace
from latchlore.study._notation import (
    parse_address,
    parse_address_set,
    parse_code,
    parse_given,
    parse_held,
    parse_place,
    parse_range,
    parse_size,
)

MEMORY, PORT = InputKind.MEMORY, InputKind.PORT


@given(st.integers(0, 0xFFFF))
def test_address(address: int) -> None:
    """Four ways of writing an address mean the same."""
    digits = f"{address:X}"
    ways = [digits, f"${digits}", f"0x{digits.lower()}", f"{digits}h", f" 00{digits}"]
    assert {parse_address(way) for way in ways} == {address}


def test_address_set() -> None:
    """Addresses, ranges and patterns, of the memory and of ports."""
    wanted = {
        "C800": (MEMORY, AddressSet.of((0xC800,))),
        "C800-C803": (MEMORY, AddressSet.parse("1100 1000 0000 00xx")),
        "1100 1xxx xxxx xx01": (MEMORY, AddressSet.parse("11001xxxxxxxxx01")),
        "11001xxxxxxxxx01": (MEMORY, AddressSet.parse("11001xxxxxxxxx01")),
        "1100": (MEMORY, AddressSet.of((0x1100,))),
        "port 84": (PORT, AddressSet.of((0x84,), 8)),
        "port 80-8F": (PORT, AddressSet.of_range(0x80, 0x8F, 8)),
        "port xxxx x0xx": (PORT, AddressSet.parse("xxxx x0xx")),
        "port 0378": (PORT, AddressSet.of((0x378,), 16)),
        "port 378-37A": (PORT, AddressSet.of_range(0x378, 0x37A, 16)),
    }
    assert {text: parse_address_set(text) for text in wanted} == wanted


def test_place() -> None:
    """A place reads back from its own text; the direction is the one said, or else the one expected."""
    wanted = {
        "C801 bit 7": BitPlace("read", MEMORY, 0xC801, (7,)),
        "write C802 bit 0": BitPlace("write", MEMORY, 0xC802, (0,)),
        "read port 84 bits 0-3": BitPlace("read", PORT, 0x84, (0, 1, 2, 3)),
        "write C800": BitPlace("write", MEMORY, 0xC800),
        "$C801 bits 3-1": BitPlace("read", MEMORY, 0xC801, (1, 2, 3)),
    }
    assert {text: parse_place(text, "read") for text in wanted} == wanted
    assert {parse_place(str(place), "write") for place in wanted.values()} == set(wanted.values())
    assert parse_place("C800", "write").access == "write"


def test_place_words() -> None:
    """A place is written as the subjects are: a port up to FF has two digits, also where it was stated with four."""
    wanted = {
        "port 0090 bit 1": "read port 90 bit 1",
        "write port 378 bits 0-7": "write port 0378 bits 0-7",
        "90": "read 0090",
    }
    assert {text: str(parse_place(text, "read")) for text in wanted} == wanted


def test_held_and_given() -> None:
    """Held bits; registers, flags and memory known at an entry."""
    assert parse_held("C801 bits 0-1") == BitPlace("read", MEMORY, 0xC801, (0, 1))
    wanted = {
        "A = 41": ("A", None, b"\x41"),
        "hl=C000": ("HL", None, b"\xc0\x00"),
        "C = 1": ("C", None, b"\x01"),
        "0200 = 1B 40": ("", 0x200, b"\x1b\x40"),
        "FACE = 00": ("", 0xFACE, b"\x00"),
    }
    assert {text: parse_given(text) for text in wanted} == wanted


def test_size() -> None:
    """Bytes, or KB of 1024."""
    assert [parse_size(size) for size in (2048, "2048", "2 KB", "2K", 1)] == [2048, 2048, 2048, 2048, 1]


def test_code() -> None:
    """Bytes, letters, ranges, choices, any."""
    assert parse_code("1B 'K' any 00..02 0A|0D|'a'..'c'") == (
        frozenset({0x1B}),
        frozenset({0x4B}),
        frozenset(range(256)),
        frozenset({0, 1, 2}),
        frozenset({10, 13, 97, 98, 99}),
    )
    assert parse_code(" ' ' '|' ''' ") == (frozenset({0x20}), frozenset({0x7C}), frozenset({0x27}))


@pytest.mark.parametrize(
    ("read", "text", "message"),
    [
        (parse_address, "G000", "an address is hexadecimal digits, such as 'C800', not 'G000'"),
        (parse_address, "", "an address is hexadecimal digits, such as 'C800', not ''"),
        (parse_address, "0x", "an address is hexadecimal digits, such as 'C800', not '0x'"),
        (parse_address, "-1", "an address is hexadecimal digits, such as 'C800', not '-1'"),
        (parse_address, "10000", "an address of 16 lines is at most FFFF, not '10000'"),
        (parse_range, "C803-C800", "a range goes from the lower to the higher address, not 'C803-C800'"),
        (parse_range, "C800..C803", "an address is hexadecimal digits, such as 'C800', not 'C800..C803'"),
        (parse_address_set, "1100 1xxx", "an address pattern has 16 digits, not '1100 1xxx'"),
        (parse_address_set, "port 1x", "an address pattern has 8 or 16 digits, not 'port 1x'"),
        (parse_address_set, "C800, C801", "an address is hexadecimal digits, such as 'C800', not 'C800, C801'"),
        (parse_held, "C801", "held bits name the bits, such as 'C801 bits 0-1', not 'C801'"),
        (parse_held, "C801 bit 8", "a register has bits 0 to 7, not 'C801 bit 8'"),
        (parse_held, "write C801 bit 1", "held bits are read, never written, not 'write C801 bit 1'"),
        (parse_held, "bit 7", "a place is an address and perhaps a bit, such as 'C801 bit 7', not 'bit 7'"),
        (parse_given, "A", "what is given is 'A = 41' or '0200 = 1B 40', not 'A'"),
        (parse_given, "A = XY", "what is given is 'A = 41' or '0200 = 1B 40', not 'A = XY'"),
        (parse_given, "0200 = 123", "bytes of memory have two hexadecimal digits each, not '0200 = 123'"),
        (parse_given, "A = 1 2", "a register holds one value of up to four hexadecimal digits, not 'A = 1 2'"),
        (parse_size, "2 MB", "a size is a number of bytes, such as 2048 or '2 KB', not '2 MB'"),
        (parse_size, 0, "a size is 1 byte or more, not 0"),
        (parse_code, "1B K", None),
        (parse_code, "", None),
        (parse_code, "1", None),
        (parse_code, "1B4B", None),
        (parse_code, "00..01..02", None),
        (parse_code, "10..0F", "a range goes from the lower to the higher byte, not '10..0F'"),
    ],
)
def test_wrong(read: Callable[[Any], object], text: object, message: str | None) -> None:
    """What breaks a rule is refused with the rule and the text."""
    code_rule = "a code is bytes of two hexadecimal digits, ranges 00..7F, choices 0A|0D, 'K' or any, not"
    with pytest.raises(ValueError, match=f"^{re.escape(message or f'{code_rule} {text!r}')}$"):
        read(text)
