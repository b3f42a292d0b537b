"""What the wire's pages show; every figure comes from the wire wing."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any, NamedTuple

from markupsafe import Markup

from latchlore.base import Origin, Span, StudyError, UnknownName, is_doubtful
from latchlore.desk import wording
from latchlore.desk._places import origin_address

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from latchlore.study import CapturePart, Hearing
    from latchlore.wire import Capture, Figure, Log, Merge, ParallelReading, Run, SerialReading

REFUSED = (StudyError, OSError)
MOST_ALTERNATIVES = 8
MOST_BYTES = 2_000
"""Bytes listed below a capture; the drawing shows all."""

ROW_BYTES = 16
MOST_BROKEN = 20


class ByteShown(NamedTuple):
    """A byte of a sequence: its digits, how sure it is in per cent, the place of its evidence, its letter."""

    digits: str
    sure: str
    is_doubtful: bool
    letter: str


class RunShown(NamedTuple):
    """A run: its number of bytes, where it stands, and its address."""

    words: str
    place: str


@dataclass(frozen=True, slots=True)
class SequenceShown:
    """A sequence with its runs aligned under their merge."""

    name: str
    words: str
    drawing: Markup
    bytes: tuple[ByteShown, ...]
    runs: tuple[RunShown, ...]
    notes: tuple[str, ...]
    others: tuple[str, ...]
    more: str


class CaptureLink(NamedTuple):
    """A capture in the list."""

    file: str
    words: str


@dataclass(frozen=True, slots=True)
class Overview:
    """The room's first page."""

    sequences: tuple[SequenceShown, ...]
    captures: tuple[CaptureLink, ...]


class ReadByte(NamedTuple):
    """A byte read from a capture: its number, digits, letter, whether it is certain, when (in words, in ps)."""

    number: int
    digits: str
    letter: str
    is_certain: bool
    when: str
    at_ps: int


class Broken(NamedTuple):
    """A limit that was not kept, and when."""

    words: str
    at_ps: int


@dataclass(frozen=True, slots=True)
class CapturePage:
    """One capture."""

    file: str
    words: str
    begin_ps: int
    end_ps: int
    lines: tuple[str, ...]
    activity: tuple[tuple[str, str], ...]
    bytes: tuple[ReadByte, ...]
    more: int
    how: tuple[str, ...]
    times: Markup
    against: str
    broken: tuple[Broken, ...]
    place: str


class Opened(NamedTuple):
    """A capture of the study with how it is stated."""

    part: CapturePart
    capture: Capture


class OpenCaptures:
    """The captures of the study, each opened once as long as the files stay the same."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self._version = ""
        self._kept: dict[str, Opened] = {}

    def get(self, version: str, file: str) -> Opened:
        """The capture `file` of the study.  Refuses one that study.toml does not name."""
        from latchlore.study import load_study, open_capture, set_kernel_cache

        with self._lock:
            if version != self._version:
                self._kept.clear()
                self._version = version
            if file not in self._kept:
                parts = {part.file: part for part in load_study(self._folder).captures}
                if file not in parts:
                    raise UnknownName(f"the study names no capture {file!r}", parts)
                set_kernel_cache()
                part = parts[file]
                self._kept[file] = Opened(part, open_capture(part.path, part.stated, file=part.file))
            return self._kept[file]


def overview(hearing: Hearing) -> Overview:
    """Every sequence of the study, merged, and its captures."""
    from latchlore.study import sequence_logs

    logs = sequence_logs(hearing)
    captures = tuple(CaptureLink(part.file, f"sequence “{part.sequence}”") for part in hearing.study.captures)
    return Overview(tuple(_sequence(name, found) for name, found in logs.items()), captures)


def _sequence(name: str, logs: Sequence[Log]) -> SequenceShown:
    from latchlore.dossier import draw_runs
    from latchlore.wire import merge

    runs = [run for log in logs for run in log.runs]
    read_as = tuple(why for log in logs for why in (log.numbers_why, log.layout_why))
    if not runs:
        return SequenceShown(name, wording.NO_RUN, Markup(), (), (), tuple(dict.fromkeys(read_as)), (), "")
    merged = merge(runs)
    items = merged.sequence.items
    words = wording.SEQUENCE.format(
        runs=len(runs), s="s" * (len(runs) != 1), length=len(items), sure=merged.sequence.confidence
    )
    return SequenceShown(
        name,
        words,
        Markup(draw_runs(merged, runs)),
        tuple(
            ByteShown(f"{one.value:02X}", f"{one.confidence:.1%}", is_doubtful(one.confidence), _letter(one.value))
            for one in items
        ),
        tuple(
            RunShown(f"run {k + 1}: {len(run.data)} bytes, {_origin(run)}", origin_address(_origin(run)))
            for k, run in enumerate(runs)
        ),
        tuple(dict.fromkeys((*merged.notes, *read_as))),
        tuple(f"{one.probability:.1%}: {one.words}" for one in merged.alternatives[:MOST_ALTERNATIVES]),
        _more_runs(merged),
    )


def _origin(run: Run) -> Origin:
    return Origin.at_line(run.file, run.places[0][1]) if run.places else Origin(run.file)


def _more_runs(merged: Merge) -> str:
    if merged.further_runs is None:
        return wording.RUNS_UNKNOWN
    return wording.RUNS_MORE.format(count=merged.further_runs) if merged.further_runs else wording.RUNS_ENOUGH


def _letter(value: int) -> str:
    return chr(value) if 0x20 <= value < 0x7F else "·"


def published_rows() -> tuple[str, ...]:
    """The documents of the published timing rows."""
    from latchlore.wire import TIMING_ROWS

    return tuple(row.document for row in TIMING_ROWS)


def capture_page(opened: Opened, against: str) -> CapturePage:
    """One capture: its lines, the bytes of its handshake or serial line, its times against a published row."""
    from latchlore.dossier import draw_figures
    from latchlore.study import limits_of, lines_of, read_stated_serial
    from latchlore.wire import measure_activity, measure_handshake, read_parallel

    part, capture = opened
    activity = tuple(
        (one.name, wording.ACTIVITY.format(edges=one.edges, high=one.high, pulses=_pulses(one.pulses, one.width_ps)))
        for one in measure_activity(capture)
    )
    stated = None if part.serial else lines_of(part.lines)
    limits, source = limits_of(against, ())
    times, more = "", 0
    broken: tuple[Broken, ...] = ()
    read: tuple[ReadByte, ...] = ()
    how: tuple[str, ...] = ()
    if part.serial:
        serial = read_stated_serial(capture, part)
        read, how = _serial_bytes(serial), _how_serial(serial)
        more = max(0, len(serial.values) - MOST_BYTES)
    if stated is not None:
        reading = read_parallel(capture, stated)
        figures = measure_handshake(capture, stated, reading)
        times = draw_figures(figures, limits, source)
        broken = _broken(figures, limits)
        read, how = _bytes(reading), _how(reading)
        more = max(0, len(reading.data) - MOST_BYTES)
    return CapturePage(
        part.file,
        wording.CAPTURE.format(lines=len(capture.channels), edges=capture.num_changes, end=capture.end),
        capture.begin.picoseconds,
        capture.end.picoseconds,
        tuple(channel.name for channel in capture.channels),
        activity,
        read,
        more,
        (*capture.notes, *how),
        Markup(times),
        against,
        broken,
        origin_address(part.origin),
    )


def _pulses(count: int, width_ps: int) -> str:
    return f", {count} pulses of about {Span(width_ps)}" if count else ""


def _bytes(reading: ParallelReading) -> tuple[ReadByte, ...]:
    shown = []
    for k, row in enumerate(islice(reading.iter_rows(), MOST_BYTES)):
        value, when = int(reading.values[row]), reading.when(row)
        is_certain = not reading.doubt[row]
        shown.append(ReadByte(k, f"{value:02X}", _letter(value), is_certain, str(when), when.least.picoseconds))
    return tuple(shown)


def _serial_bytes(reading: SerialReading) -> tuple[ReadByte, ...]:
    doubtful = reading.doubtful
    return tuple(
        ReadByte(k, f"{value:02X}", _letter(value), not doubtful[k], str(Span(start)), start)
        for k, (value, start) in enumerate(
            zip(reading.values[:MOST_BYTES].tolist(), reading.starts[:MOST_BYTES].tolist(), strict=True)
        )
    )


def _how_serial(reading: SerialReading) -> tuple[str, ...]:
    framing = wording.SERIAL.format(line=reading.line, framing=reading.framing, rate=reading.rate_words)
    rests = wording.RESTS[reading.idle.value or 0]
    return (framing, f"{rests}: {reading.idle.why}", *reading.notes)


def _how(reading: ParallelReading) -> tuple[str, ...]:
    complete = wording.COMPLETE[reading.complete]
    latch = wording.LATCH[reading.latch.value]
    return (f"{complete}: {reading.complete_why}", f"{latch}: {reading.latch.why}", *reading.notes)


def _broken(figures: Mapping[str, Figure], limits: Mapping[str, Any]) -> tuple[Broken, ...]:
    found = (one for name, limit in limits.items() if name in figures for one in figures[name].violations(limit))
    return tuple(Broken(str(one), one.origin.number) for one in islice(found, MOST_BROKEN))


def stretch(opened: Opened, names: Sequence[str], start_ps: int, end_ps: int, width_px: int) -> dict[str, Any]:
    """A stretch of a capture for the drawing; all lines where none is named."""
    from latchlore.wire import view, view_to_plain

    lines = list(names) or [channel.name for channel in opened.capture.channels]
    return view_to_plain(view(opened.capture, lines, start_ps, end_ps, width_px))
