"""What the wire witness says of a study's logs."""

from __future__ import annotations

from latchlore.base import ByteSequence, Span, Strength, Subject, SubjectKind, Witness
from latchlore.wire import Framing, Parity, parse_log, read_serial
from latchlore.wire import testify as wire_door
from latchlore.wire.testify import Material
from tests.handshakes import make_capture

LOG = b"1B 40 48 49 0D\n1B 48 49 0D\n1B 40 48 0D\n1B 40 49 0D\n"


def test_testify() -> None:
    """A merge speaks about the sequence, with the line of each run; notes say what the listener lost."""
    said = wire_door.testify(Material("power-on", (parse_log(LOG, "logs/a.log"),)))
    first = said[0]
    assert first.subject == Subject(SubjectKind.SEQUENCE, ("power-on",))
    assert isinstance(first.value, ByteSequence)
    assert first.value.data == b"\x1b@HI\r"
    assert [str(origin) for origin in first.origins] == [f"logs/a.log:{n}" for n in (1, 2, 3, 4)]
    assert first.method == "the most probable sequence of 4 runs under a model of losses, doubles and line errors"
    assert first.strength is Strength.COMPUTED
    assert {t.witness for t in said} == {Witness.WIRE}
    assert {t.subject.kind for t in said[1:]} == {SubjectKind.NOTE}
    assert [str(t.subject) for t in said[1:]] == [
        "power-on: what the listener lost",
        "logs/a.log: how it was read",
    ]


def test_testify_two_logs() -> None:
    """Runs of one transmission may lie in several files."""
    logs = tuple(parse_log(b"1B 40 48 0D\n", name) for name in ("a.log", "b.log", "c.log"))
    assert [str(origin) for origin in wire_door.testify(Material("hello", logs))[0].origins] == [
        "a.log:1",
        "b.log:1",
        "c.log:1",
    ]


def test_testify_single() -> None:
    """A single run is a measurement, with the caution that there is nothing to compare it with."""
    said = wire_door.testify(Material("power-on", (parse_log(b"1B 40 0D\n", "a.log"),)))
    assert said[0].strength is Strength.MEASURED
    assert said[0].method == "one run, as logged"
    assert said[0].note.startswith("one run only: there is nothing to compare it with")
    assert len(said) == 2


def test_testify_outlier() -> None:
    """A run that was left out is no origin of the sequence, and has a note of its own."""
    raw = b"1B 40 48 49 4A 4B\n" * 4 + b"00 FF 31 32 33 34 35\n"
    said = wire_door.testify(Material("power-on", (parse_log(raw, "a.log"),)))
    assert [origin.number for origin in said[0].origins] == [1, 2, 3, 4]
    note = next(t for t in said if str(t.subject) == "power-on: run 5")
    assert [origin.number for origin in note.origins] == [5]


def test_testify_nothing() -> None:
    """No run, no testimony."""
    assert wire_door.testify(Material("power-on", ())) == ()


def test_testify_no_run() -> None:
    """A log that holds no byte yet says how it was read, and nothing else."""
    (said,) = wire_door.testify(Material("power-on", (parse_log(b"numbers: hex\nruns: file\n", "a.log"),)))
    assert str(said.subject) == "a.log: how it was read"
    assert str(said.value) == (
        "numbers hexadecimal, as stated; the whole file is one run, as stated; it holds no byte, so it tells nothing "
        "(where nothing was heard, a line that holds only '-' says so)"
    )


def test_serial_log() -> None:
    """What cannot be told of a serial line, and of its capture, goes with its bytes."""
    wave = [(0, 1), (20_000_000, 0), (21_000_000, 1), (40_000_000, 0)]
    reading = read_serial(make_capture({"TX": wave}, 41_000_000), "TX", Span(1_000_000), 1, Framing(8, Parity.NONE, 1))
    log = wire_door.serial_log(reading, ("the file breaks off",))
    assert log.layout_why.endswith("; ".join(("; the file breaks off", *reading.notes)))
    assert reading.notes[-1].startswith("1 of 2 bytes were not recorded whole")
