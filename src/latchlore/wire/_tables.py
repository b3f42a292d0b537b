"""Reads captures that are tables: samples or changes as text with separators, and packed binary samples.

What a column or a bit is, the unit of the times, the sampling rate and the thresholds are stated by the user: such
files do not say it, and nothing of it is guessed.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING, Any, NoReturn

import numpy as np

from latchlore.base import BadInput, Clock, Origin, Span, no_progress
from latchlore.wire import _tablekernel as kernel
from latchlore.wire import _tablewording as words
from latchlore.wire._capture import ChannelKind
from latchlore.wire._places import line_at, skip_mark
from latchlore.wire._store import describe_channel, keep_columns
from latchlore.wire._vcdkernel import sort_by_channel

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path
    from typing import IO

    from latchlore.base import Progress
    from latchlore.wire._capture import Capture
    from latchlore.wire._store import Columns

PIECE = 1 << 20
ROOM = 1 << 20
STEP_ROWS, STEP_EVEN = 1000, (9, 10)
"""By so many rows the usual step is told, where so many of ten keep it within a factor of two."""
HOLES_ROOM = 4096
TITLES_MOST = 1 << 16
"""So many bytes of the first row are looked at for titles."""
POWERS = {"s": 12, "ms": 9, "us": 6, "ns": 3, "ps": 0}
_PS = 10**12
SEPARATORS = (",", ";", "\t", "|")
_LINE = re.compile(rb"[^\r\n]*(?:\r\n|\r|\n|\Z)")


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Volts, exact: at or below `low` a line is 0, at or above `high` it is 1, between them it stays as it was."""

    low: Fraction
    high: Fraction

    def __post_init__(self) -> None:
        if self.low > self.high:
            raise ValueError(words.THRESHOLDS.format(low=float(self.low), high=float(self.high)))


@dataclass(frozen=True, slots=True)
class TableMap:
    """What the columns of a text file are, by the names of its first row or by number (1, 2, ...).

    `channels`: channel → column.  `time`: the column of the times in `unit`; None: the rows are samples taken at
    `rate`.  `samples`: whether rows are samples (an edge then lies somewhere before the row that shows it) or
    changes (a row is written when something changes).  `thresholds`: for channels that are voltages.  `titles_line`,
    `rows_line`: where the titles and the first row of values stand, counted from 1; None: in the first row, and behind.
    """

    channels: Mapping[str, str | int]
    time: str | int | None = None
    unit: str = "s"
    rate: Clock | None = None
    samples: bool = True
    thresholds: Mapping[str, Thresholds] = field(default_factory=dict)
    separator: str = ","
    titles_line: int | None = None
    rows_line: int | None = None

    def __post_init__(self) -> None:
        if not self.channels:
            raise ValueError(words.NO_CHANNELS)
        if (self.time is None) == (self.rate is None):
            raise ValueError(words.TIME_OR_RATE)
        if self.time is None and not self.samples:
            raise ValueError(words.CHANGES_NEED_TIMES)
        if self.unit not in POWERS:
            raise ValueError(words.UNIT.format(unit=self.unit))
        for line in (self.titles_line, self.rows_line):
            if line is not None and line < 1:
                raise ValueError(words.LINE_NUMBER.format(line=line))
        if self.titles_line is not None and self.rows_line is not None and self.rows_line <= self.titles_line:
            raise ValueError(words.ROWS_FIRST.format(rows=self.rows_line, titles=self.titles_line))
        if self.separator not in SEPARATORS:
            raise ValueError(words.SEPARATOR.format(separator=self.separator))
        for name in self.thresholds:
            if name not in self.channels:
                raise ValueError(words.THRESHOLD_OF.format(name=name))


@dataclass(frozen=True, slots=True)
class PackedMap:
    """What the bits of a packed sample are: `channels` name → bit, `size` bytes a sample (1, 2, 4 or 8)."""

    channels: Mapping[str, int]
    rate: Clock
    size: int = 1
    high_byte_first: bool = False

    def __post_init__(self) -> None:
        if not self.channels:
            raise ValueError(words.NO_CHANNELS)
        if self.size not in {1, 2, 4, 8}:
            raise ValueError(words.SAMPLE_SIZE.format(size=self.size))
        for name, bit in self.channels.items():
            if not 0 <= bit < 8 * self.size:
                raise ValueError(words.SAMPLE_BIT.format(name=name, bit=bit, most=8 * self.size - 1))


def read_table(
    path: Path, file: str, table: TableMap, folder: Path | None = None, progress: Progress = no_progress
) -> Capture:
    """The capture of a text file of samples or changes, its columns in `folder` or, without one, in memory.

    Refuses, with line and column: fields that are no number or level, rows too short, times that fall, names that
    the first row does not have.  A last line without a line end is left out where it is not whole, and said.
    """

    def read(columns: Columns, stamp: str) -> Capture:
        return _TableReader(path, file, table, columns, progress).read(stamp)

    return keep_columns(path, file, folder, repr(table), progress, read)


def read_packed(
    path: Path, file: str, packed: PackedMap, folder: Path | None = None, progress: Progress = no_progress
) -> Capture:
    """The capture of a file of packed samples.  A last sample that is cut off is left out, and said."""

    def read(columns: Columns, stamp: str) -> Capture:
        return _read_packed(path, file, packed, columns, progress).finish(stamp)

    return keep_columns(path, file, folder, repr(packed), progress, read)


class _Changes:
    """Changes of level as they are put out, and what the capture's head needs to know of them."""

    def __init__(self, file: str, names: tuple[str, ...], columns: Columns) -> None:
        self.file, self.names, self.columns = file, names, columns
        self.levels = np.full(len(names), kernel.FREE, np.uint8)
        room = max(ROOM, 4 * len(names))
        self.room = (np.zeros(room, np.int32), np.zeros(room, np.int64), np.zeros(room, np.uint8))
        self.counts = np.zeros(len(names), np.int64)
        self.begin = self.end = 0
        self.step: int | None = None
        self.notes: list[str] = []
        self.breaks_off = False
        self.gaps: list[list[int]] = []

    def collect(self, num: int) -> None:
        if not num:
            return
        channel, times, level = (column[:num] for column in self.room)
        order, begins = sort_by_channel(channel, len(self.names))
        for c in np.flatnonzero(np.diff(begins)):
            part = order[begins[c] : begins[c + 1]]
            self.columns.append(int(c), "times", times[part])
            self.columns.append(int(c), "levels", level[part])
        self.counts += np.diff(begins)

    def finish(self, stamp: str) -> Capture:
        rows = [
            describe_channel([name], ChannelKind.LOGIC, 1, "", int(count))
            for name, count in zip(self.names, self.counts, strict=True)
        ]
        head = {"file": self.file, "channels": rows, "begin": self.begin, "end": self.end, "gaps": self.gaps}
        return self.columns.finish(
            {**head, "notes": self.notes, "step": self.step, "breaks_off": self.breaks_off}, stamp
        )


class _TableReader:
    def __init__(self, path: Path, file: str, table: TableMap, columns: Columns, progress: Progress) -> None:
        self.path, self.file, self.table, self.progress = path, file, table, progress
        self.changes = _Changes(file, tuple(table.channels), columns)
        self.state = np.zeros(kernel.STATE_SIZE, np.int64)
        rate = Fraction(1) if table.rate is None else table.rate.hertz
        per_row = Fraction(_PS) / rate
        self.per_row = np.array([per_row.numerator, per_row.denominator], np.int64)
        limits = [table.thresholds.get(name) for name in table.channels]
        self.low = np.array([1 if t is None else int(t.low * 10**9) for t in limits], np.int64)
        self.high = np.array([0 if t is None else int(t.high * 10**9) for t in limits], np.int64)

    def read(self, stamp: str) -> Capture:
        separator = ord(self.table.separator)
        size = self.path.stat().st_size
        with self.path.open("rb") as opened:
            source: IO[bytes] = opened
            begin, wants = self._columns(source.read(PIECE))
            source.seek(begin)
            self.before, rest = begin, b""
            power = POWERS[self.table.unit]
            holes = np.zeros((HOLES_ROOM, 2), np.int64)
            usual = self._usual_step(source.read(PIECE), wants, power) if self.table.samples else 0
            source.seek(begin)
            while True:
                piece = source.read(PIECE)
                raw = np.frombuffer(rest + piece, np.uint8)
                self.state[kernel.POS] = 0
                while True:
                    reason = kernel.read_rows(
                        *(raw, self.state, separator, wants, power, self.per_row, usual, holes),
                        *(self.changes.levels, self.low, self.high, *self.changes.room),
                    )
                    self.changes.collect(int(self.state[kernel.NUM]))
                    self.changes.gaps += holes[: self.state[kernel.HOLES]].tolist()
                    self.state[[kernel.NUM, kernel.HOLES]] = 0
                    if reason == kernel.MORE:
                        break
                    if reason != kernel.FULL:
                        self._refuse(reason, raw)
                at = int(self.state[kernel.POS])
                rest = raw[at:].tobytes()
                self.before += at
                self.progress(self.before, size, words.READING.format(file=self.file))
                if not piece:
                    if not self._is_whole(rest):
                        break
                    source = io.BytesIO(b"\n")
                    self.num_fields = 0
        self._end(rest)
        return self.changes.finish(stamp)

    def _usual_step(self, raw: bytes, wants: Any, power: int) -> int:
        """The step from row to row, by the first rows; 0 where they keep none, so that no row is missed."""
        if self.table.time is None:
            return 0
        column = int(np.flatnonzero(wants == -2)[0])
        times: list[int] = []
        for line in re.split(rb"[\r\n]+", raw)[: STEP_ROWS + 1][:-1]:  # the last one may be cut
            field = line.split(self.table.separator.encode())[column : column + 1]
            if line.strip()[:1] in b"#;" or not field:
                continue
            text = np.frombuffer(field[0], np.uint8)
            value, _, wrong = kernel.parse_number(text, 0, len(text), power)
            if not wrong:
                times.append(value)
        steps = np.diff(np.array(times, np.int64))
        usual = int(np.median(steps)) if len(steps) else 0
        even = np.count_nonzero((steps * 2 >= usual) & (steps <= usual * 2))
        return usual if usual > 0 and even * STEP_EVEN[1] >= len(steps) * STEP_EVEN[0] else 0

    def _is_whole(self, rest: bytes) -> bool:
        """Whether a last line without a line end can only be whole: all fields, the last one a single level."""
        parts = rest.decode("utf-8", "replace").split(self.table.separator)
        return len(parts) == self.num_fields and parts[-1].strip() in {"0", "1", "x", "z", "X", "Z"}

    def _end(self, rest: bytes) -> None:
        changes, state = self.changes, self.state
        zeros = len(rest) - len(rest.rstrip(b"\0"))
        if rest.strip():
            changes.breaks_off = True
        if zeros:
            changes.notes.append(words.FILLED_UP.format(count=zeros))
        if text := rest.rstrip(b"\0").strip():
            shown = text[:40].decode("utf-8", "replace")
            changes.notes.append(words.CUT_OFF.format(text=shown, at=self.before))
        if not state[kernel.ROWS]:
            raise BadInput(Origin(self.file), words.NO_ROWS)
        if state[kernel.ROUNDED]:
            changes.notes.append(words.ROUNDED.format(count=int(state[kernel.ROUNDED])))
        if changes.gaps:
            lost = Span(sum(until - since for since, until in changes.gaps))
            times = words.ONCE if len(changes.gaps) == 1 else words.TIMES.format(count=len(changes.gaps))
            since = Span(changes.gaps[0][0])
            changes.notes.append(words.HOLES.format(times=times, lost=lost, since=since))
        changes.begin, changes.end = int(state[kernel.FIRST]), int(state[kernel.TIME])
        if self.table.samples:
            whole = -(-self.per_row[0] // self.per_row[1])
            changes.step = int(whole if self.table.time is None else state[kernel.LONGEST])

    def _columns(self, raw: bytes) -> tuple[int, Any]:
        """Where the rows begin, and what each of their columns is."""
        line, fields, begin, after = self._first_row(raw)
        self.num_fields = len(fields)
        place = Origin.at_line(self.file, line)
        names = [name for name in (self.table.time, *self.table.channels.values()) if name is not None]
        titled = any(isinstance(name, str) for name in names)
        if titled or not any(_is_number(field) for field in fields):
            begin = after
        if self.table.rows_line is not None:
            begin = self._place_of(raw, self.table.rows_line)
        numbers: dict[str | int, int] = {}
        for name in names:
            if isinstance(name, int):
                if not 1 <= name <= len(fields):
                    raise BadInput(place, words.NO_COLUMN_NUMBER.format(number=name, count=len(fields)))
                numbers[name] = name - 1
            elif fields.count(name) > 1:
                raise BadInput(place, words.SAME_TITLE.format(count=fields.count(name), name=name))
            elif name in fields:
                numbers[name] = fields.index(name)
            else:
                further = "" if self.table.titles_line else words.TITLES_FURTHER_DOWN
                shown = ", ".join(repr(field) for field in fields) or "nothing"
                raise BadInput(place, words.NO_COLUMN.format(name=name, fields=shown, further=further))
        taken: dict[int, str] = {}
        for what, column in ((words.THE_TIME, self.table.time), *self.table.channels.items()):
            if column is not None:
                first = taken.setdefault(numbers[column], what)
                if first != what:
                    said = words.SAME_COLUMN.format(first=first, second=what, number=numbers[column] + 1)
                    raise BadInput(place, said)
        wants = np.full(max(numbers.values()) + 1, -1, np.int64)
        for c, name in enumerate(self.table.channels.values()):
            wants[numbers[name]] = c
        if self.table.time is not None:
            wants[numbers[self.table.time]] = -2
        return begin, wants

    def _first_row(self, raw: bytes) -> tuple[int, list[str], int, int]:
        """The row of the titles, or of the first values where none is: its line, fields, begin and end."""
        wanted = self.table.titles_line
        columns = (self.table.time, *self.table.channels.values())
        if wanted is None and not any(isinstance(name, str) for name in columns):
            wanted = self.table.rows_line
        begin = after = skip_mark(raw, self.file) if wanted is None else self._place_of(raw, wanted)
        line = 0 if wanted is None else wanted - 1
        for text in _LINE.finditer(raw, begin):
            line += 1
            after = text.end()
            stripped = text[0].strip()
            if wanted is not None or (stripped and stripped[:1] not in b"#;"):
                return line, self._fields(stripped), begin, after
            begin = after
        return line, [], begin, after

    def _place_of(self, raw: bytes, wanted: int) -> int:
        """Where a line begins.  Refuses one that is not among the first `PIECE` bytes."""
        begin = skip_mark(raw, self.file)
        for number, text in enumerate(_LINE.finditer(raw, begin), 1):
            if number == wanted and text[0]:
                return text.start()
            if number >= wanted or not text[0]:
                break
        raise BadInput(Origin(self.file), words.NO_LINE.format(line=wanted, most=PIECE))

    def _fields(self, line: bytes) -> list[str]:
        """The titles of a row, without quotes."""
        text = line[:TITLES_MOST].decode("utf-8", "replace")
        (row,) = csv.reader([text], delimiter=self.table.separator, skipinitialspace=True)
        return [part.strip() for part in row]

    def _refuse(self, reason: int, raw: Any) -> NoReturn:
        at = int(self.state[kernel.AT])
        text = raw[at : at + 400].tobytes().replace(b"\r", b"\n").split(b"\n")[0]
        shown = text.split(self.table.separator.encode())[0].strip()[:40].decode("utf-8", "replace")
        column = int(self.state[kernel.COLUMN]) + 1
        line = line_at(self.path, self.before + int(self.state[kernel.POS]))
        is_first = not self.state[kernel.ROWS] and reason in {kernel.NO_NUMBER, kernel.NOT_A_LEVEL, kernel.TOO_SHORT}
        further = words.FURTHER_DOWN if is_first else ""
        said = {
            kernel.NO_NUMBER: words.NO_NUMBER.format(text=shown, column=column),
            kernel.NOT_A_LEVEL: words.NO_LEVEL.format(text=shown, column=column),
            kernel.TOO_SHORT: words.TOO_SHORT.format(count=column - 1),
            kernel.BACKWARDS: words.BACKWARDS.format(text=text[:60].strip().decode("utf-8", "replace")),
            kernel.TOO_LARGE: words.TOO_LARGE.format(text=shown, column=column),
        }[reason]
        raise BadInput(Origin.at_line(self.file, line), said + further)


def _is_number(text: str) -> bool:
    raw = np.frombuffer(text.encode(), np.uint8)
    return bool(len(raw)) and kernel.parse_number(raw, 0, len(raw), 0)[2] == 0


def _read_packed(path: Path, file: str, packed: PackedMap, columns: Columns, progress: Progress) -> _Changes:
    changes = _Changes(file, tuple(packed.channels), columns)
    bits = np.array(list(packed.channels.values()), np.int64)
    per_word = Fraction(_PS) / packed.rate.hertz
    pair = np.array([per_word.numerator, per_word.denominator], np.int64)
    kind = f"{'>' if packed.high_byte_first else '<'}u{packed.size}"
    size = path.stat().st_size
    read = 0
    with path.open("rb") as source:
        while piece := source.read(PIECE * packed.size):
            whole = len(piece) // packed.size
            if whole * packed.size < len(piece):
                changes.breaks_off = True
                changes.notes.append(words.CUT_SAMPLE.format(count=len(piece) % packed.size, size=packed.size))
            samples = np.frombuffer(piece, kind, whole).astype(np.int64)
            at = 0
            while at < whole:
                done, num = kernel.read_words(samples[at:], read + at, pair, bits, changes.levels, *changes.room)
                changes.collect(num)
                at += done
            read += whole
            progress(read * packed.size, size, words.READING.format(file=file))
    if not read:
        raise BadInput(Origin(file), words.NO_SAMPLES.format(size=packed.size))
    changes.end = kernel.sample_time(read - 1, per_word.numerator, per_word.denominator)
    changes.step = -(-per_word.numerator // per_word.denominator)
    return changes
