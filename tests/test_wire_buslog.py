"""Bus logs: which writes are data comes from the decode, not from the log."""

from __future__ import annotations

import pytest

from latchlore.base import AddressSet, BadInput, Span
from latchlore.wire import parse_bus_log, written_bytes

WRITES = b"C090 48\nC092 00\nC090 49\nC092 00\nC090 0D\nC092 00\n"


def test_written_bytes() -> None:
    """Bench case "writes beside the data register": a strobe's writes are no bytes.  Offset 0 data, offset 2 strobe."""
    log = parse_bus_log(WRITES, "bus.log")
    run = written_bytes(log, AddressSet.parse("1100 0000 1001 xx00"))
    assert run.data == bytes.fromhex("48 49 0D")
    assert [str(run.origin(k)) for k in range(3)] == ["bus.log:1", "bus.log:3", "bus.log:5"]


def test_written_bytes_mirrors() -> None:
    """A write through a mirror of the register counts, one to another register does not."""
    log = parse_bus_log(b"W C094 48\nW C095 49\nR C090 FF\n1.5 us W $C090,$0D\n", "bus.log")
    run = written_bytes(log, AddressSet.parse("1100 0000 1001 xx00"))
    assert run.data == b"H\r"
    assert run.times == (None, Span.of(ns=1500))


def test_parse_bus_log_wrong() -> None:
    """A line that is no access is refused, all such lines at once."""
    with pytest.raises(BadInput) as caught:
        parse_bus_log(b"C090 48\nC090\nC090 1FF\n", "bus.log")
    assert str(caught.value) == (
        "bus.log:2: 'C090' is no bus access; a line is '[time] [R or W] address value', in hexadecimal\n"
        "bus.log:3: 'C090 1FF' is no bus access; a line is '[time] [R or W] address value', in hexadecimal"
    )


def test_parse_bus_log_empty_wrong() -> None:
    """A log without an access is refused."""
    with pytest.raises(BadInput, match=r"^bus\.log: the log holds no bus access$"):
        parse_bus_log(b"# nothing\n", "bus.log")
