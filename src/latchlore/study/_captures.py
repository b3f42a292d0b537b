"""A capture file to be read alone, with what is stated beside it as it was typed; its columns are kept in the cache."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Clock, Origin, Span, UnknownName, no_progress
from latchlore.study._cache import cache_folder

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from latchlore.base import Progress, SpanLimit, StudyError
    from latchlore.study._layout import CaptureTable
    from latchlore.study._study import CapturePart
    from latchlore.wire import BusLines, Capture, Framing, Log, PackedMap, ParallelLines, Run, SerialReading, TableMap

UTF8_MARK = b"\xef\xbb\xbf"
UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")
EMPTY = "the file is empty"
NOT_STATED = (
    "what the file holds is not stated: a VCD file begins with a $ keyword; of a table state each column with "
    "--column NAME=COLUMN, of packed samples each bit with --bit NAME=BIT"
)


@dataclass(frozen=True, slots=True)
class StatedCapture:
    """What the command says of a capture file, as it was typed (docs/capture.md).

    `column`: ``NAME=COLUMN``, a title or a number from 1; `bit`: ``NAME=BIT``; `volts`: ``NAME=LOW..HIGH``;
    `titles`, `rows`: lines of a table, counted from 1.
    """

    column: tuple[str, ...] = ()
    bit: tuple[str, ...] = ()
    volts: tuple[str, ...] = ()
    time: str = ""
    unit: str = "s"
    rate: str = ""
    changes: bool = False
    separator: str = ","
    sample_bytes: int = 1
    high_byte_first: bool = False
    titles: int | None = None
    rows: int | None = None


@dataclass(frozen=True, slots=True)
class StatedLines:
    """Which lines of a capture are what, as it was typed; `low`, `high`: lines and their active level."""

    data: tuple[str, ...] = ()
    strobe: str = ""
    busy: str = ""
    ack: str = ""
    low: tuple[str, ...] = ()
    high: tuple[str, ...] = ()
    latch: str = ""


def stated_capture(row: CaptureTable, path: Path, sequence: str, origin: Origin) -> CapturePart:
    """A row of study.toml, in the form of what a command states."""
    from latchlore.study._study import CapturePart

    stated = StatedCapture(
        column=tuple(f"{name}={column}" for name, column in row.columns.items()),
        bit=tuple(f"{name}={bit}" for name, bit in row.bits.items()),
        volts=tuple(f"{name}={limits}" for name, limits in row.volts.items()),
        time="" if row.time is None else str(row.time),
        unit=row.unit,
        rate=row.rate,
        changes=row.changes,
        separator=row.separator,
        sample_bytes=row.sample_bytes,
        high_byte_first=row.high_byte_first,
        titles=row.titles,
        rows=row.rows,
    )
    lines = StatedLines(
        tuple(row.data), row.strobe, row.busy, row.acknowledge, tuple(row.low), tuple(row.high), row.latch or ""
    )
    serial = (row.serial, row.framing, row.bit_time, row.idle or "")
    return CapturePart(path, row.file, sequence, stated, lines, *serial, origin)


_KEYS = {"--column": "columns", "--bit": "bits", "--ack": "acknowledge", "--bit-time": "bit_time"}


def in_study(error: StudyError, origin: Origin) -> StudyError:
    """The same refusal, with the row of study.toml in the place of an option."""
    if isinstance(error, BadInput):
        mistakes: list[tuple[Origin, str]] = []
        for place, words in error.mistakes:
            if place.file.startswith("--"):
                key = _KEYS.get(place.file, place.file.removeprefix("--"))
                mistakes.append((origin, f"key {key!r} {words}"))
            else:
                mistakes.append((place, words))
        return BadInput.of_all(mistakes)
    return BadInput(origin, str(error)) if isinstance(error, UnknownName) else error


def open_capture(path: Path, stated: StatedCapture, progress: Progress = no_progress, file: str = "") -> Capture:
    """The capture of a file; read once, then opened from the columns kept in the cache folder.

    `file`: how it is called in origins; its own name where empty.
    """
    from latchlore.wire import read_packed, read_table, read_vcd

    if not path.is_file():
        raise FileNotFoundError(2, "no such file", str(path))
    file = file or path.name
    name = f"{path.resolve()} {stated!r}".encode()
    folder = cache_folder() / "captures" / hashlib.sha256(name).hexdigest()[:32]
    folder.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    if not path.stat().st_size:
        raise BadInput(Origin(file), EMPTY)
    if stated.column:
        return read_table(path, file, _table(stated), folder, progress)
    if stated.bit:
        return read_packed(path, file, _packed(stated), folder, progress)
    with path.open("rb") as source:
        begins = source.read(4096)
    # a mark of UTF-16 goes on to the reader, which says what to do
    if begins[:2] not in UTF16_MARKS and begins.removeprefix(UTF8_MARK).lstrip()[:1] != b"$":
        raise BadInput(Origin(file), NOT_STATED)
    return read_vcd(path, file, folder, progress)


def _pairs(option: str, texts: tuple[str, ...]) -> dict[str, str]:
    found: dict[str, str] = {}
    for text in texts:
        name, mark, value = text.partition("=")
        if not mark or not name.strip() or not value.strip():
            raise BadInput(Origin(option), f"takes NAME=VALUE, not {text!r}")
        if name.strip() in found:
            raise BadInput(Origin(option), f"names {name.strip()!r} twice")
        found[name.strip()] = value.strip()
    return found


def _number(option: str, text: str) -> int:
    if not text.isdecimal():
        raise BadInput(Origin(option), f"takes a whole number, not {text!r}")
    return int(text)


def _rate(stated: StatedCapture) -> Clock | None:
    if not stated.rate:
        return None
    try:
        return Clock.parse(stated.rate)
    except ValueError as error:
        raise BadInput(Origin("--rate"), str(error)) from error


def _table(stated: StatedCapture) -> TableMap:
    from latchlore.wire import TableMap, Thresholds

    thresholds = {}
    for name, text in _pairs("--volts", stated.volts).items():
        low, mark, high = text.partition("..")
        try:
            if not mark:
                raise ValueError
            thresholds[name] = Thresholds(Fraction(low), Fraction(high))
        except (ValueError, ZeroDivisionError) as error:
            words = str(error) if "threshold" in str(error) else f"takes NAME=LOW..HIGH in volts, not {text!r}"
            raise BadInput(Origin("--volts"), words) from error
    columns = {name: _column(text) for name, text in _pairs("--column", stated.column).items()}
    time = _column(stated.time) if stated.time else None
    lines = (stated.titles, stated.rows)
    try:
        return TableMap(
            columns, time, stated.unit, _rate(stated), not stated.changes, thresholds, stated.separator, *lines
        )
    except ValueError as error:
        raise BadInput(Origin("--column"), str(error)) from error


def _column(text: str) -> str | int:
    return int(text) if text.isdecimal() else text


def _packed(stated: StatedCapture) -> PackedMap:
    from latchlore.wire import PackedMap

    rate = _rate(stated)
    if rate is None:
        raise BadInput(Origin("--bit"), "packed samples need a sampling rate; state --rate")
    bits = {name: _number("--bit", text) for name, text in _pairs("--bit", stated.bit).items()}
    try:
        return PackedMap(bits, rate, stated.sample_bytes, stated.high_byte_first)
    except ValueError as error:
        raise BadInput(Origin("--bit"), str(error)) from error


def lines_of(stated: StatedLines) -> ParallelLines | None:
    """The lines as they were stated; None where no strobe is named, so that they have to be proposed."""
    from latchlore.wire import Latch, ParallelLines

    if not stated.strobe:
        if stated.data or stated.busy or stated.ack:
            raise BadInput(Origin("--strobe"), "is missing: data, busy and acknowledge lines need the strobe")
        return None
    if not stated.data:
        raise BadInput(Origin("--data"), "is missing: name the data lines, D0 first, or the bus")
    levels: dict[str, int] = {}
    for option, names, level in (("--low", stated.low, 0), ("--high", stated.high, 1)):
        for name in names:
            if name not in {stated.strobe, stated.busy, stated.ack}:
                raise BadInput(Origin(option), f"names {name!r}, which is not the strobe, busy or acknowledge line")
            if levels.setdefault(name, level) != level:
                raise BadInput(Origin(option), f"names {name!r}, which the other option names as well")
    names = tuple(name.strip() for text in stated.data for name in text.split(","))
    try:
        return ParallelLines(
            tuple(None if name == "-" else name for name in names),
            stated.strobe,
            levels.get(stated.strobe),
            stated.busy or None,
            levels.get(stated.busy),
            stated.ack or None,
            levels.get(stated.ack),
            Latch(stated.latch) if stated.latch else None,
        )
    except ValueError as error:
        raise BadInput(Origin("--data"), str(error)) from error


def bus_lines_of(options: Mapping[str, str], address: tuple[str, ...], data: tuple[str, ...]) -> BusLines:
    """The lines of a bus as they were stated; `address` and `data` names, commas between several."""
    from latchlore.wire import BusLines

    def names(option: str, texts: tuple[str, ...]) -> tuple[str, ...]:
        found = tuple(name.strip() for text in texts for name in text.split(",") if name.strip())
        if not found:
            raise BadInput(Origin(option), "is missing: name the lines, lowest first, or the bus")
        return found

    try:
        return BusLines(
            names("--address", address),
            names("--data", data),
            **{name: options[name] or None for name in ("clock", "read_high", "read", "write", "memory", "ports")},
        )
    except ValueError as error:
        if isinstance(error, BadInput):
            raise
        raise BadInput(Origin("the bus"), str(error)) from error


def read_stated_serial(capture: Capture, part: CapturePart) -> SerialReading:
    """The serial line of a capture, as study.toml states it."""
    from latchlore.wire import read_serial

    idle = {"low": 0, "high": 1}.get(part.idle)
    return read_serial(capture, part.serial, span_of("--bit-time", part.bit_time), idle, framing_of(part.framing))


def framing_of(text: str) -> Framing | None:
    """A framing as the trade writes it, ``8N1``; None for nothing."""
    from latchlore.wire import Framing, Parity

    if not text:
        return None
    parities = {parity.value[0].upper(): parity for parity in Parity}
    upper = text.upper()
    if len(upper) != 3 or upper[0] not in "5678" or upper[1] not in parities or upper[2] not in "12":
        raise BadInput(Origin("--framing"), f"is data bits, parity and stop bits, such as 8N1 or 7E2, not {text!r}")
    return Framing(int(upper[0]), parities[upper[1]], int(upper[2]))


def addresses_of(option: str, texts: tuple[str, ...]) -> frozenset[int]:
    """Addresses written in hexadecimal, commas between several."""
    found: set[int] = set()
    for text in (part.strip() for whole in texts for part in whole.split(",")):
        try:
            found.add(int(text, 16))
        except ValueError:
            raise BadInput(Origin(option), f"takes addresses in hexadecimal, not {text!r}") from None
    return frozenset(found)


def span_of(option: str, text: str) -> Span | None:
    """A time such as ``104 us``; None for nothing."""
    if not text:
        return None
    try:
        return Span.parse(text)
    except ValueError as error:
        raise BadInput(Origin(option), str(error)) from error


def limits_of(against: str, stated: tuple[str, ...]) -> tuple[dict[str, SpanLimit], str]:
    """The limits to test times against, by figure, and where they are from.

    `against`: a part of a published row's document; `stated`: ``FIGURE=LEAST..MOST``, either end may be left out.
    """
    from latchlore.base import SpanLimit
    from latchlore.wire import FIGURES, TIMING_ROWS

    limits: dict[str, SpanLimit] = {}
    source = ""
    if against:
        rows = [row for row in TIMING_ROWS if against.lower() in row.document.lower()]
        if len(rows) != 1:
            raise UnknownName(f"--against {against!r} names {len(rows)} rows", [row.document for row in TIMING_ROWS])
        source = f"{rows[0].document}, {rows[0].page}"
        for name, (least, most) in rows[0].figures.items():
            spans = [None if bound is None else Span.of(ns=bound) for bound in (least, most)]
            limits[name] = SpanLimit(*spans)
    for name, text in _pairs("--limit", stated).items():
        if name not in FIGURES:
            raise UnknownName(f"--limit names no figure: {name!r}", FIGURES)
        low, mark, high = text.partition("..")
        if not mark:
            raise BadInput(Origin("--limit"), f"takes FIGURE=LEAST..MOST, not {text!r}")
        try:
            limits[name] = SpanLimit(span_of("--limit", low.strip()), span_of("--limit", high.strip()))
        except ValueError as error:
            if isinstance(error, BadInput):
                raise
            raise BadInput(Origin("--limit"), str(error)) from error
    return limits, source


def read_logs(paths: Sequence[Path], base: str = "") -> list[Log]:
    """Byte logs, in order.  `base`: hex or decimal, where it is stated.  Refuses logs without a run."""
    from latchlore.wire import Numbers, read_log

    numbers = Numbers(base) if base else None
    logs = [read_log(path, path.name, numbers) for path in paths]
    if not any(log.runs for log in logs):
        raise BadInput(Origin(paths[0].name), "the logs have no run")
    return logs


def read_runs(paths: Sequence[Path], base: str = "") -> list[Run]:
    """The runs of byte logs, as `read_logs` reads them."""
    return [run for log in read_logs(paths, base) for run in log.runs]


def read_one_run(path: Path, base: str = "") -> Run:
    """The one run of a byte log.  Refuses a log of several."""
    runs = read_runs([path], base)
    if len(runs) > 1:
        raise BadInput(Origin(path.name), f"one run is compared at a time; the log has {len(runs)}")
    return runs[0]
