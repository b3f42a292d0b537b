"""What the readers of ROM files say, in words."""

from __future__ import annotations

INTEL, MOTOROLA, RAW = "Intel HEX", "S-records", "raw"
NO_END_INTEL = "there is no end record (type 01), so the file may have been cut off; it was read as far as it goes"
NO_END_MOTOROLA = (
    "there is no end record (S7, S8 or S9), so the file may have been cut off; it was read as far as it goes"
)
NO_DATA = "no record holds data"
NOT_ASCII = "not text: a record consists of ASCII characters"


def not_a_record(kind: str, line: str) -> str:
    """A line that is something else."""
    start = "':'" if kind == INTEL else "'S'"
    return f"a record of {kind} starts with {start}, not {line[:20]!r}"


def broken_digits(line: str) -> str:
    """Characters that are no hexadecimal digits, or half a byte."""
    return f"a record consists of pairs of hexadecimal digits, not {line[:80]!r}"


def wrong_length(stated: int, actual: int) -> str:
    """Truncated, or with something behind it."""
    kind = "is cut off" if actual < stated else "goes on too long"
    return f"the record {kind}: it states {stated} bytes behind its count and has {actual}"


def wrong_sum(stated: int, actual: int) -> str:
    """A checksum that does not fit."""
    return f"the checksum is {stated:02X}h; the record's bytes give {actual:02X}h"


def unknown_type(kind: str, mark: str) -> str:
    """A record of a type that the standard does not have."""
    return f"{kind} has no record type {mark!r}"


def wrong_payload(mark: str, size: int, wanted: int) -> str:
    """An address record that is not as long as it must be."""
    return f"a record of type {mark} holds {wanted} data bytes, not {size}"


def again(address: int, line: int) -> str:
    """The same addresses twice."""
    return f"address {address:04X} is given again; it was given in line {line}"


def behind_end(line: int) -> str:
    """A record behind the end record."""
    return f"a record stands behind the end record in line {line}"


def wrong_count(stated: int, actual: int) -> str:
    """A count record that does not fit."""
    return f"the count record states {stated} data records; {actual} were read"


def reader_refused(message: str) -> str:
    """Something the reader library refuses and none of the rules above names."""
    return f"not a record: {message}"
