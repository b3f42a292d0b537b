"""Byte logs: what cheap listeners write down, as runs of bytes with the line of each.  The format: docs/byte-log.md."""

from __future__ import annotations

import bisect
import itertools
import re
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import BadInput, Origin, Span
from latchlore.wire import _logwording as words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

MAX_LOG_BYTES = 4 * 2**20
"""A byte log may have this many bytes; longer recordings are captures."""
MAX_MISTAKES = 50
MANY_NUMBERS = 24
"""So many bytes in hexadecimal without one letter do not happen by chance (text included: 1 in 60,000)."""
UNITS = {"ps": 1, "ns": 10**3, "us": 10**6, "µs": 10**6, "ms": 10**9, "s": 10**12}

_HEADER = re.compile(r"\s*(numbers|runs|times)\s*:\s*(.*?)\s*", re.IGNORECASE)
_TIME_FIRST = re.compile(r"\s*([+-]?\d+(?:\.\d+)?)\s*(ps|ns|us|µs|ms|s)\b\s*[:,;]?\s*")
_TIME = re.compile(r"([+-]?\d+(?:\.\d+)?)(ps|ns|us|µs|ms|s)?")
_SPLIT = re.compile(r"[\s,;]+")
_HEX = re.compile(r"(?:0[xX]|\$)?([0-9A-Fa-f]{1,2})|([0-9A-Fa-f]{1,2})[hH]")
_HEX_STRING = re.compile(r"(?:[0-9A-Fa-f]{2}){2,}")
_DECIMAL = re.compile(r"\d{1,3}")
_HEARD = re.compile(r"\d+us(?: [0-9A-F]{2})+(?![0-9A-F])")
"""A line as `listen` writes it."""
TOKENS_MIN = 8
_CONTROL = re.compile(rb"[\x00-\x08\x0e-\x1a\x1c-\x1f\x7f]")


class Numbers(StrEnum):
    """How the bytes are written."""

    HEX = "hex"
    DECIMAL = "decimal"


class Layout(StrEnum):
    """What a run is: each line; a block up to an empty line or a line of comment; or the whole file."""

    LINE = "line"
    BLOCK = "block"
    FILE = "file"


@dataclass(frozen=True, slots=True)
class Run:
    """One repetition of what a listener heard.

    `times`: None where the log has none, else one entry a byte (None for a byte without its own time); they never
    fall.  `places`: pairs (index of the first byte, line) of each line that gave bytes, rising.  `label`: the comment
    on its line or just above it.  A run may be empty (nothing was heard).
    """

    data: bytes
    file: str
    places: tuple[tuple[int, int], ...]
    times: tuple[Span | None, ...] | None = None
    label: str = ""

    @classmethod
    def of(cls, data: bytes, file: str = "typed", line: int = 1, times: Sequence[Span | None] | None = None) -> Run:
        """A run that stands in one line."""
        return cls(data, file, ((0, line),), None if times is None else tuple(times))

    def origin(self, index: int = 0) -> Origin:
        """The line of a byte; of the run for index 0."""
        at = bisect.bisect_right(self.places, index, key=lambda place: place[0]) - 1
        return Origin.at_line(self.file, self.places[max(0, at)][1])


@dataclass(frozen=True, slots=True)
class Log:
    """A byte log.  `numbers_why` and `layout_why` say what was stated or concluded, in words.

    `comments`: (line, text) of every comment, so that nothing of the file is lost.
    """

    file: str
    numbers: Numbers
    layout: Layout
    numbers_why: str
    layout_why: str
    runs: tuple[Run, ...]
    comments: tuple[tuple[int, str], ...]

    @property
    def read_as(self) -> str:
        """How it was read, in words."""
        return f"numbers {self.numbers_why}; {self.layout_why}"


class _Line(NamedTuple):
    """A line of the file that holds bytes, the mark of an empty run, or nothing (a break between blocks)."""

    number: int
    tokens: tuple[str, ...]
    times: tuple[int | None, ...]
    comment: str
    is_empty_run: bool

    @property
    def is_break(self) -> bool:
        return not self.tokens and not self.is_empty_run


def read_log(path: Path, file: str, numbers: Numbers | None = None, layout: Layout | None = None) -> Log:
    """Read a byte log from disk, never more of it than a byte log may have.  Refusals as `parse_log`."""
    size = path.stat().st_size
    if size > MAX_LOG_BYTES:
        raise BadInput(Origin(file), words.TOO_LARGE.format(size=size, most=MAX_LOG_BYTES))
    return parse_log(path.read_bytes(), file, numbers, layout)


def parse_log(raw: bytes, file: str, numbers: Numbers | None = None, layout: Layout | None = None) -> Log:
    """The runs of a byte log, in file order.

    `numbers` and `layout` overrule what the file states; where neither states it, it is concluded and said.  Refuses
    (with all mistakes and their lines): more than `MAX_LOG_BYTES`, what is not UTF-8 text, hexadecimal mixed with
    decimal, numbers that could be either, what is no byte, times that fall or have no unit.  Where a file breaks off in
    the middle of a byte, that is left out, and said with the numbers; so are the zero bytes that a power cut leaves at
    its end.  A file that is stated to be one run may hold no byte yet: then it has no run.
    """
    raw, num_zeros = _without_fill(raw)
    texts, cut = _without_cut(split_lines(decode_log(raw, file)))
    mistakes: list[tuple[Origin, str]] = []
    reader = _Reader(file, mistakes)
    lines = [reader.line(number, line) for number, line in enumerate(texts, 1)]
    if numbers is None and "numbers" in reader.stated:
        numbers = Numbers(reader.stated["numbers"][0])
    if layout is None and "runs" in reader.stated:
        layout = Layout(reader.stated["runs"][0])
    found, numbers_why = _conclude_numbers(file, lines, numbers, mistakes)
    if found is Numbers.HEX and not cut:
        cut = _half_byte(lines)
    if cut:
        numbers_why += words.CUT_OFF.format(text=cut, line=len(texts))
    if num_zeros:
        numbers_why += words.FILLED_UP.format(count=num_zeros)
    values = [_values(file, line, found, numbers is not None, mistakes) for line in lines]
    is_empty = not any(line.tokens or line.is_empty_run for line in lines)
    if is_empty and not mistakes and layout is not Layout.FILE:
        mistakes.append((Origin(file), words.EMPTY))
    _raise(mistakes)
    chosen, layout_why = _conclude_layout(lines, values, layout)
    layout_why += words.NO_RUN if is_empty else ""
    runs = _runs(file, lines, values, chosen, mistakes)
    _raise(mistakes)
    comments = tuple((line.number, line.comment) for line in lines if line.comment)
    return Log(file, found, chosen, numbers_why, layout_why, runs, comments)


def _without_fill(raw: bytes) -> tuple[bytes, int]:
    """A text without the zero bytes at its end, and how many these are; what is nothing else is left as it is."""
    text = raw.rstrip(b"\0")
    return (text, len(raw) - len(text)) if text else (raw, 0)


def _without_cut(texts: list[str]) -> tuple[list[str], str]:
    """The lines of a file without what was cut off a last one that `listen` was writing; what was cut off."""
    last = texts[-1]
    heard = len(texts) > 1 and _HEARD.fullmatch(texts[-2]) and not _HEARD.fullmatch(last)
    if not last or last.startswith("#") or not heard:
        return texts, ""
    whole = _HEARD.match(last)
    kept = whole[0] if whole else ""
    return [*texts[:-1], kept], last[len(kept) :].strip()


def _half_byte(lines: list[_Line]) -> str:
    """Take away a last digit without a line end where all other bytes of the file are written with two or more."""
    *others, last = [token for line in lines for token in line.tokens] or [""]
    if len(last) != 1 or len(others) < TOKENS_MIN or not lines[-1].tokens or any(len(token) < 2 for token in others):
        return ""
    lines[-1] = lines[-1]._replace(tokens=lines[-1].tokens[:-1], times=lines[-1].times[:-1])
    return last


def _raise(mistakes: list[tuple[Origin, str]]) -> None:
    if not mistakes:
        return
    mistakes.sort(key=lambda pair: pair[0].number)
    if len(mistakes) > MAX_MISTAKES:
        rest = len(mistakes) - MAX_MISTAKES
        place = mistakes[MAX_MISTAKES][0]
        mistakes[MAX_MISTAKES:] = [(place, words.MORE.format(count=rest))]
    raise BadInput.of_all(mistakes)


def decode_log(raw: bytes, file: str) -> str:
    """The text of a log.  Refuses one that is too large, not UTF-8, or binary."""
    if len(raw) > MAX_LOG_BYTES:
        raise BadInput(Origin(file), words.TOO_LARGE.format(size=len(raw), most=MAX_LOG_BYTES))
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise BadInput(Origin.at_line(file, 1), words.UTF16)
    match = _CONTROL.search(raw)
    if match:
        line = _line_at(raw, match.start())
        text = words.RUBBISH.format(offset=match.start(), value=raw[match.start()])
        raise BadInput(Origin.at_line(file, line), text)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = _line_at(raw, error.start)
        text = words.NOT_UTF8.format(offset=error.start, value=raw[error.start])
        raise BadInput(Origin.at_line(file, line), text) from error


def _line_at(raw: bytes, offset: int) -> int:
    """The line that holds a byte offset, counted from 1."""
    return len((raw[:offset] + b"x").splitlines())


def split_lines(text: str) -> list[str]:
    """Lines whatever they end in."""
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


class _Reader:
    """Splits lines into numbers and times, and keeps what header lines state."""

    def __init__(self, file: str, mistakes: list[tuple[Origin, str]]) -> None:
        self.file, self.mistakes = file, mistakes
        self.stated: dict[str, tuple[str, int]] = {}
        self.has_data = False

    def _wrong(self, number: int, text: str) -> None:
        self.mistakes.append((Origin.at_line(self.file, number), text))

    def line(self, number: int, text: str) -> _Line:
        """One line."""
        body, mark, comment = text.partition("#")
        comment = comment.strip() if mark else ""
        header = _HEADER.fullmatch(body)
        if header:
            self._header(number, header[1].lower(), header[2])
            return _Line(number, (), (), comment, False)
        tokens: list[str] = []
        times: list[int | None] = []
        first: int | None = None
        unit = self.stated.get("times", ("none", 0))[0]
        match = _TIME_FIRST.match(body)
        if match:
            first = self._time(number, match[1], match[2])
            body = body[match.end() :]
        fields = [field for field in _SPLIT.split(body) if field]
        if not match and unit != "none" and fields and "@" not in fields[0] and fields != ["-"]:
            first = self._column_time(number, fields.pop(0).removesuffix(":"), unit)
        if (match or first is not None) and not fields:
            self._wrong(number, words.TIME_ALONE)
        if fields == ["-"]:
            self.has_data = True
            return _Line(number, (), (), comment, True)
        for field in fields:
            token, at, time = field.partition("@")
            if token == "-":
                self._wrong(number, words.EMPTY_MARK)
                continue
            tokens.append(token)
            times.append(self._column_time(number, time, unit) if at else None)
        if first is not None and times and times[0] is None:
            times[0] = first
        self.has_data = self.has_data or bool(tokens)
        return _Line(number, tuple(tokens), tuple(times), comment, False)

    def _header(self, number: int, key: str, value: str) -> None:
        known = {"numbers": [*Numbers], "runs": [*Layout], "times": [*UNITS, "none"]}[key]
        if self.has_data:
            self._wrong(number, words.HEADER_LATE.format(key=key))
        elif key in self.stated:
            self._wrong(number, words.HEADER_TWICE.format(key=key, line=self.stated[key][1]))
        elif value.lower() not in known:
            listed = ", ".join(repr(str(name)) for name in known)
            self._wrong(number, words.HEADER_VALUE.format(key=key, value=value, known=listed))
        else:
            self.stated[key] = (value.lower(), number)

    def _column_time(self, number: int, text: str, unit: str) -> int | None:
        match = _TIME.fullmatch(text)
        if match is None:
            self._wrong(number, words.TIME_TEXT.format(this=text))
            return None
        if match[2] is None and unit == "none":
            self._wrong(number, words.TIME_UNIT.format(this=text))
            return None
        return self._time(number, match[1], match[2] or unit)

    def _time(self, number: int, text: str, unit: str) -> int | None:
        exact = Fraction(text) * UNITS[unit]
        if exact.denominator != 1:
            self._wrong(number, words.TIME_FRACTION.format(this=text, unit=unit))
            return None
        return int(exact)


@lru_cache(maxsize=4096)
def _evidence(token: str) -> Numbers | None:
    """What a number can only be; None where it can be either or is no number at all."""
    if _DECIMAL.fullmatch(token):
        return Numbers.DECIMAL if len(token) == 3 else None
    if _HEX.fullmatch(token) or _HEX_STRING.fullmatch(token):
        return Numbers.HEX
    return None


def _conclude_numbers(
    file: str, lines: Sequence[_Line], stated: Numbers | None, mistakes: list[tuple[Origin, str]]
) -> tuple[Numbers, str]:
    if stated is not None:
        return stated, words.HEX_STATED if stated is Numbers.HEX else words.DECIMAL_STATED
    first: dict[Numbers, tuple[str, int]] = {}
    leading: tuple[str, int] | None = None
    short: tuple[str, int] | None = None
    count = 0
    for line in lines:
        for token in line.tokens:
            kind = _evidence(token)
            if kind is not None:
                first.setdefault(kind, (token, line.number))
            elif token.isdecimal():
                count += 1
                if len(token) == 2 and token[0] == "0":
                    leading = leading or (token, line.number)
                elif len(token) == 1:
                    short = short or (token, line.number)
    if len(first) == 2:
        (kind, (token, number)), (later, (other, later_number)) = sorted(
            first.items(), key=lambda kv: (kv[1][1], kv[0])
        )
        mistakes.append(
            (
                Origin.at_line(file, later_number),
                words.MIXED.format(this=other, kind=_name(later), other=token, line=number, other_kind=_name(kind)),
            )
        )
        return kind, ""
    if first:
        kind, (token, number) = next(iter(first.items()))
        said = words.HEX_LETTERS if kind is Numbers.HEX else words.DECIMAL_DIGITS
        return kind, said.format(this=token, line=number)
    if leading and not short:
        return Numbers.HEX, words.HEX_ZERO.format(this=leading[0], line=leading[1])
    if short and not leading and count > 1:
        return Numbers.DECIMAL, words.DECIMAL_SHORT.format(this=short[0], line=short[1])
    if count >= MANY_NUMBERS and not leading:
        return Numbers.DECIMAL, words.DECIMAL_MANY.format(count=count)
    if count:
        number = next(line.number for line in lines if line.tokens)
        mistakes.append((Origin.at_line(file, number), words.EITHER))
    return Numbers.HEX, words.NO_NUMBERS


def _name(kind: Numbers) -> str:
    return "hexadecimal" if kind is Numbers.HEX else "decimal"


def _values(
    file: str, line: _Line, numbers: Numbers, is_stated: bool, mistakes: list[tuple[Origin, str]]
) -> tuple[bytes, tuple[int | None, ...]]:
    """The bytes of a line, and their times."""
    out = bytearray()
    times: list[int | None] = []
    for token, time in zip(line.tokens, line.times, strict=True):
        values = _byte_values(token, numbers)
        if values is None:
            other = Numbers.DECIMAL if numbers is Numbers.HEX else Numbers.HEX
            if _byte_values(token, other) is None:
                mistakes.append((Origin.at_line(file, line.number), words.NOT_A_BYTE.format(this=token)))
            elif is_stated:
                said = words.STATED.format(this=token, kind=_name(numbers))
                mistakes.append((Origin.at_line(file, line.number), said))
            continue
        out += values
        times += [time, *[None] * (len(values) - 1)]
    return bytes(out), tuple(times)


@lru_cache(maxsize=4096)
def _byte_values(token: str, numbers: Numbers) -> bytes | None:
    if numbers is Numbers.DECIMAL:
        return bytes([int(token)]) if _DECIMAL.fullmatch(token) and int(token) < 256 else None
    match = _HEX.fullmatch(token)
    if match:
        return bytes([int(match[1] or match[2], 16)])
    return bytes.fromhex(token) if _HEX_STRING.fullmatch(token) else None


_Values = tuple[bytes, tuple[int | None, ...]]


def _conclude_layout(lines: Sequence[_Line], values: Sequence[_Values], stated: Layout | None) -> tuple[Layout, str]:
    if stated is not None:
        return stated, words.LAYOUT_STATED.format(layout=words.LAYOUT[stated])
    rows = [(line, data, times) for line, (data, times) in zip(lines, values, strict=True) if not line.is_break]
    block, each = words.LAYOUT[Layout.BLOCK], words.LAYOUT[Layout.LINE]
    if len(rows) > 1 and all(times and times[0] is not None and None in times for _, _, times in rows):
        return Layout.BLOCK, words.LAYOUT_TIMES.format(layout=block)
    if all(len(data) == 1 for _, data, _ in rows):
        return Layout.BLOCK, words.LAYOUT_SINGLE.format(layout=block)
    size = len(rows[0][1])
    wrapped = len(rows) > 1 and all(len(data) == size for _, data, _ in rows[:-1]) and len(rows[-1][1]) <= size
    if wrapped and size in (8, 10, 16, 20, 24, 32) and not _are_alike([data for _, data, _ in rows]):
        return Layout.BLOCK, words.LAYOUT_WRAPPED.format(layout=block, size=size)
    return Layout.LINE, words.LAYOUT_LINES.format(layout=each)


def _are_alike(rows: Sequence[bytes]) -> bool:
    """Whether lines next to each other share half of their bytes in order: repetitions, not pieces of one listing."""
    pairs = list(itertools.pairwise(rows))[:32]
    return sum(_common(a, b) * 2 for a, b in pairs) >= sum(min(len(a), len(b)) for a, b in pairs)


def _common(a: bytes, b: bytes) -> int:
    """Length of the longest common subsequence."""
    row = [0] * (len(b) + 1)
    for x in a:
        corner = 0
        for j, y in enumerate(b, 1):
            corner, row[j] = row[j], corner + 1 if x == y else max(row[j], row[j - 1])
    return row[-1]


def _runs(
    file: str, lines: Sequence[_Line], values: Sequence[_Values], layout: Layout, mistakes: list[tuple[Origin, str]]
) -> tuple[Run, ...]:
    runs: list[Run] = []
    building: list[tuple[_Line, _Values]] = []
    label = ""

    def close() -> None:
        nonlocal label
        if building:
            runs.append(_run(file, building, label, mistakes))
            building.clear()
            label = ""

    for line, value in zip(lines, values, strict=True):
        if line.is_break:
            if layout is Layout.BLOCK:
                close()
            label = line.comment or label
            continue
        building.append((line, value))
        if layout is Layout.LINE or line.is_empty_run:
            close()
    close()
    return tuple(runs)


def _run(file: str, rows: Sequence[tuple[_Line, _Values]], label: str, mistakes: list[tuple[Origin, str]]) -> Run:
    data = bytearray()
    places: list[tuple[int, int]] = []
    times: list[int | None] = []
    last: tuple[int, int] | None = None
    for line, (piece, own) in rows:
        places.append((len(data), line.number))
        data += piece
        times += own
        for time in own:
            if time is None:
                continue
            if last is not None and time < last[0]:
                said = words.TIME_BACK.format(this=Span(time), last=Span(last[0]), line=last[1])
                mistakes.append((Origin.at_line(file, line.number), said))
            last = (time, line.number)
    spans = tuple(None if t is None else Span(t) for t in times) if last is not None else None
    label = " ".join(filter(None, [label, *[line.comment for line, _ in rows[:1]]]))
    return Run(bytes(data), file, tuple(places), spans, label)
