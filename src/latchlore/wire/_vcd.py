"""Reads VCD files (IEEE 1364-2005, clause 18) of any size into captures, a piece at a time."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, NoReturn

import numpy as np

from latchlore.base import BadInput, Origin, Span, Unsupported, no_progress
from latchlore.wire import _capturewording as words
from latchlore.wire import _vcdkernel as kernel
from latchlore.wire._capture import ChannelKind
from latchlore.wire._places import line_at, skip_mark
from latchlore.wire._store import describe_channel, keep_columns
from latchlore.wire._vcdhead import END_OF_HEAD, HEAD_MOST, Head, parse_head

if TYPE_CHECKING:
    from pathlib import Path
    from typing import BinaryIO

    from latchlore.base import Progress
    from latchlore.wire._capture import Capture
    from latchlore.wire._store import Columns

PIECE = 1 << 19
"""Bytes read at a time, so that they are still in the processor's own memory when they are looked at."""
ROOM = 1 << 22
"""Changes of single bits, at most, that are brought together by channel at once (9 bytes each)."""
VECTOR_ROOM = 1 << 20
"""Of vectors (12 bytes each, and 16 for each 64 bits)."""
LAST_PS = 2**63 - 1
_LAID_OUT = b" \t\n\v\f\r"
_FILL, _END_MARK = 0, 26
"""What a power cut leaves where data was to be written, and what old systems put behind a text."""
_KINDS = {ChannelKind.LOGIC: kernel.LOGIC, ChannelKind.VECTOR: kernel.VECTOR, ChannelKind.REAL: kernel.REAL}
_REAL = re.compile(rb"[+-]?(?:\d+(?:\.\d*)?(?:[eE][+-]?\d+)?|\.\d+(?:[eE][+-]?\d+)?|inf|nan)", re.IGNORECASE)
"""What C's ``%.16g``, by which the standard has reals written, can give."""
_TOKEN = re.compile(rb"\S+")
_COMMENT_END = re.compile(rb"(?<!\S)\$end(?!\S)")
_PLAIN_KEYWORDS = {b"$dumpvars", b"$dumpall", b"$dumpon", b"$dumpoff", b"$end"}
_KEYWORDS = (*_PLAIN_KEYWORDS, b"$comment")


def read_vcd(path: Path, file: str, folder: Path | None = None, progress: Progress = no_progress) -> Capture:
    """The capture of a VCD file, its columns in `folder` (memory mapped) or, without one, in memory.

    Columns that `folder` holds already are opened where they are still the file's.  With a folder the memory in use
    does not grow with the file.  A file that breaks off is read to its last whole
    record, and the capture's notes say so.  Refuses, with the line: identifiers that are not declared, times that
    fall, values that do not suit their variable, anything that is no record.
    """

    def read(columns: Columns, stamp: str) -> Capture:
        with path.open("rb") as source:
            return _Reader(path, file, source, columns, progress).read(stamp)

    return keep_columns(path, file, folder, "", progress, read)


class _Reader:
    """One reading: the buffer, what the kernel puts out, and what is known so far."""

    def __init__(self, path: Path, file: str, source: BinaryIO, columns: Columns, progress: Progress) -> None:
        self.path, self.file, self.source, self.columns, self.progress = path, file, source, columns, progress
        self.size = path.stat().st_size
        self.before = 0  # bytes of the file in front of the buffer
        head_raw, rest = self._head_bytes()
        self.head: Head = parse_head(head_raw, file)
        self.variables = self.head.variables
        self.latest = min(kernel.MOST_TICKS, LAST_PS * self.head.divisor // self.head.scale)
        self.buffer = np.zeros(PIECE, np.uint8)
        self.filled = 0
        self.notes = list(self.head.notes)
        self.breaks_off = False
        self._put(rest)
        self._end_at_fill(0)
        self.state = np.zeros(kernel.STATE_SIZE, np.int64)
        self.changes = np.zeros(len(self.variables), np.int64)
        self.first: int | None = None
        self.rounded = 0
        self.gaps: list[list[int | None]] = []
        self._make_tables()

    def _head_bytes(self) -> tuple[bytes, bytes]:
        raw = b""
        while True:
            piece = self.source.read(PIECE)
            if not raw:
                piece = piece[skip_mark(piece, self.file) :]
            begin = max(0, len(raw) - 32)
            raw += piece
            at = raw.find(END_OF_HEAD, begin)
            end = raw.find(b"$end", at + len(END_OF_HEAD)) if at >= 0 else -1
            if end >= 0:
                self.before = self.source.tell() - len(raw) + end + 4
                return raw[:at], raw[end + 4 :]
            if not piece or len(raw) > HEAD_MOST:
                raise BadInput(Origin(self.file), words.NO_DEFINITIONS.format(count=len(raw)))

    def _make_tables(self) -> None:
        num = len(self.variables)
        size = 1 << max(4, (4 * num).bit_length())
        self.codes = np.zeros(size, np.uint64)
        self.slots = np.full(size, -1, np.int32)
        self.single = np.full(256, -1, np.int32)
        for channel, variable in enumerate(self.variables):
            if len(variable.code) == 1:
                self.single[variable.code[0]] = channel
        wanted = np.array([kernel.hash_code(np.frombuffer(v.code, np.uint8)) for v in self.variables], np.uint64)
        twice = kernel.fill_table(wanted, self.codes, self.slots)
        if twice >= 0:
            first = next(v for v, code in zip(self.variables, wanted, strict=True) if code == wanted[twice])
            pair = {"first": first.code.decode(), "second": self.variables[twice].code.decode()}
            raise BadInput(Origin(self.file), words.SAME_HASH.format(**pair))
        self.kinds = np.array([_KINDS[v.kind] for v in self.variables], np.uint8)
        self.widths = np.array([v.width for v in self.variables], np.int64)
        self._make_room()

    def _make_room(self) -> None:
        """Make room for changes; of what is not used no memory is taken.  Bits go into chunks of one channel each."""
        num = len(self.variables)
        bits = min(ROOM, self.size // 3 + 1)  # a change takes three bytes at least
        self.chunk = 1 << min(10, max(4, (bits // (4 * num)).bit_length()))
        chunks = bits // self.chunk + num
        self.owners, self.fill = np.zeros(chunks, np.int32), np.zeros(num, np.int64)
        self.bits = np.empty(chunks * self.chunk, np.int64), np.empty(chunks * self.chunk, np.uint8)
        vectors = min(VECTOR_ROOM, self.size // 3 + 1) if (self.kinds == kernel.VECTOR).any() else 1
        self.vectors = np.empty(vectors, np.int32), np.empty(vectors, np.int64)
        most_words: int = vectors + (int(self.widths.max()) + 63) // 64
        self.planes = np.empty(most_words, np.uint64), np.empty(most_words, np.uint64)
        reals = PIECE // 5 + 16 if (self.kinds == kernel.REAL).any() else 1
        self.reals = np.empty(reals, np.int32), np.empty(reals, np.int64)
        self.real_texts = np.empty(reals, np.int64), np.empty(reals, np.int64)

    def _put(self, raw: bytes) -> None:
        if self.filled + len(raw) > len(self.buffer):
            self.buffer = np.concatenate([self.buffer, np.zeros(len(raw), np.uint8)])
        self.buffer[self.filled : self.filled + len(raw)] = np.frombuffer(raw, np.uint8)
        self.filled += len(raw)

    def _refill(self) -> bool:
        """Drop what was read from the buffer and fill it up; False at the end of the file."""
        pos = int(self.state[kernel.POS])
        rest = self.filled - pos
        if rest == len(self.buffer):  # one record fills it: make room
            self.buffer = np.concatenate([self.buffer, np.zeros(len(self.buffer), np.uint8)])
        self.buffer[:rest] = self.buffer[pos : self.filled].copy()
        self.before += pos
        self.state[kernel.POS] = 0
        self.filled = rest
        got = self.source.readinto(self.buffer[rest:].data)  # type: ignore[attr-defined]  # typed too narrowly
        self.filled += got
        self._end_at_fill(rest)
        self.progress(self.before + self.filled, self.size, words.READING.format(file=self.file))
        return bool(got)

    def _end_at_fill(self, begin: int) -> None:
        """Let the file end where nothing but zero bytes follows.  Refuses other bytes that are no text.

        `begin`: of what the buffer holds, what was not looked at yet.
        """
        first, last = begin // 8 * 8, self.filled // 8 * 8
        ends = np.full(8, ord(" "), np.uint8)
        ends[: self.filled - last] = self.buffer[last : self.filled]
        if not any(kernel.has_controls(part.view(np.uint64)) for part in (self.buffer[first:last], ends)):
            return
        new = self.buffer[begin : self.filled]
        at = begin + int(np.flatnonzero((new < 32) & ~np.isin(new, list(_LAID_OUT)))[0])
        tail = self.buffer[at : self.filled]
        count = zeros = 0
        while len(tail):
            if not np.isin(tail, (_FILL, _END_MARK, *_LAID_OUT)).all():
                value = int(self.buffer[at])
                raise BadInput(self._place(at), words.NO_TEXT.format(value=value, at=self.before + at))
            count += len(tail)
            zeros += int(np.count_nonzero(tail == _FILL))
            tail = np.frombuffer(self.source.read(PIECE), np.uint8)
        if zeros:
            self.breaks_off = True
            self.notes.append(words.FILLED_UP.format(count=count, at=self.before + at))
        self.filled = at

    def read(self, stamp: str) -> Capture:
        at_end = False
        while True:
            reason = kernel.read_changes(
                self.buffer[: self.filled],
                *(self.state, self.single, self.codes, self.slots, self.kinds, self.widths),
                *(self.head.scale, self.head.divisor, self.latest, self.chunk - 1, self.owners, self.fill),
                *(*self.bits, *self.vectors, *self.planes, *self.reals, *self.real_texts),
            )
            self._collect_reals()
            if reason == kernel.FULL:
                self._collect()
            if reason == kernel.MORE:
                if at_end:
                    break
                if not self._refill():
                    at_end = True
                    self._end_cleanly()
            elif reason == kernel.KEYWORD:
                at_end = self._keyword(at_end)
            elif reason != kernel.FULL:
                self._refuse(reason)
        return self._finish(stamp)

    def _end_cleanly(self) -> None:
        """At the end of the file: a last record without a line end counts where it can only be whole."""
        rest = self._token_onwards()
        parts = rest.split()
        if not parts:
            return
        code = parts[0][1:] if len(parts) == 1 and parts[0][:1] in b"01xXzZ" else b"".join(parts[1:2])
        known = {variable.code for variable in self.variables}
        if code in known and not any(other != code and other.startswith(code) for other in known):
            self._put(b"\n")
        elif parts[0][:1] != b"$":  # a keyword is looked at by itself
            self._cut_off(rest)

    def _keyword(self, at_end: bool) -> bool:
        """Take a keyword from the buffer; whether the end of the file was reached meanwhile."""
        raw = self._token_onwards()
        match = _TOKEN.match(raw)
        assert match is not None
        if match.end() == len(raw) and not at_end:  # it may go on in the next piece
            return not self._refill()
        keyword, end = match[0], match.end()
        if end == len(raw) and keyword not in _PLAIN_KEYWORDS and any(k.startswith(keyword) for k in _KEYWORDS):
            return self._cut_off(keyword)
        if keyword == b"$comment":
            found = _COMMENT_END.search(raw, end)
            while found is None or (found.end() == len(raw) and not at_end):  # more may follow in the next piece
                at_end = at_end or not self._refill()
                raw = self._token_onwards()
                found = _COMMENT_END.search(raw, end)
                if found is None and at_end:
                    return self._cut_off(raw)
            end = found.end()
        elif keyword not in _PLAIN_KEYWORDS:
            shown = keyword[:40].decode("utf-8", "replace")
            if keyword.startswith(b"$dumpports"):
                raise Unsupported(self._place(int(self.state[kernel.POS])), words.EXTENDED.format(what=shown))
            raise BadInput(self._place(int(self.state[kernel.POS])), words.KEYWORD.format(keyword=shown))
        now = self._picoseconds(int(self.state[kernel.TICKS]))
        if keyword == b"$dumpoff":
            if not self.gaps or self.gaps[-1][1] is not None:
                self.gaps.append([now, None])
        elif keyword == b"$dumpon" and self.gaps and self.gaps[-1][1] is None:
            self.gaps[-1][1] = now
        self.state[kernel.POS] += end
        return at_end

    def _token_onwards(self) -> bytes:
        return self.buffer[int(self.state[kernel.POS]) : self.filled].tobytes()

    def _cut_off(self, rest: bytes) -> bool:
        """Note that the file breaks off inside a record, and pass over what is there of it."""
        text = rest.split(b"\n")[0].strip()[:40].decode("utf-8", "replace")
        self.notes.append(words.CUT_OFF.format(text=text, at=self.before + int(self.state[kernel.POS])))
        self.state[kernel.POS] = self.filled
        self.breaks_off = True
        return True

    def _picoseconds(self, ticks: int) -> int:
        return (ticks * self.head.scale + self.head.divisor // 2) // self.head.divisor

    def _collect(self) -> None:
        """Move the bits and vectors that the kernel put out into the columns."""
        chunks = int(self.state[kernel.NUM_CHUNKS])
        most = chunks * self.chunk
        times, levels = np.empty(most, np.int64), np.empty(most, np.uint8)
        begins = kernel.gather_bits(self.owners[:chunks], self.fill, self.chunk, *self.bits, times, levels)
        self._append(begins, times[: begins[-1]], ("levels", levels))
        num = int(self.state[kernel.NUM_VECTORS])
        if num:
            channel, ticks = self.vectors[0][:num], self.vectors[1][:num]
            order, begins = kernel.sort_by_channel(channel, len(self.variables))
            index, ends = order, begins
            if (self.widths > 64).any():
                widths = (self.widths[channel] + 63) // 64
                starts = np.concatenate([[0], np.cumsum(widths)[:-1]])
                index = kernel.spread(starts, widths, order)
                ends = np.concatenate([[0], np.cumsum(widths[order])])[begins]
            planes = ("value", self.planes[0][index]), ("unknown", self.planes[1][index])
            self._append(begins, self._times(ticks[order]), *planes, ends=ends)
        self.state[[kernel.NUM_CHUNKS, kernel.NUM_VECTORS, kernel.NUM_WORDS]] = 0

    def _collect_reals(self) -> None:
        """Move the reals, whose texts are still in the buffer, into the columns."""
        num = int(self.state[kernel.NUM_REALS])
        if num:
            channel, ticks = self.reals[0][:num], self.reals[1][:num]
            first, last = (column[:num] for column in self.real_texts)
            raw = self.buffer.tobytes()
            numbers = np.array([self._real(raw, int(a), int(b)) for a, b in zip(first, last, strict=True)])
            order, begins = kernel.sort_by_channel(channel, len(self.variables))
            self._append(begins, self._times(ticks[order]), ("reals", numbers[order]))
            self.state[kernel.NUM_REALS] = 0

    def _real(self, raw: bytes, first: int, last: int) -> float:
        if _REAL.fullmatch(raw, first, last):
            return float(raw[first:last])
        text = raw[first:last][:40].decode("utf-8", "replace")
        raise BadInput(self._place(first), words.NO_REAL.format(text=text))

    def _times(self, ticks: Any) -> Any:
        divisor = self.head.divisor
        if divisor == 1:
            return ticks * self.head.scale
        self.rounded += int(np.count_nonzero(ticks % divisor))
        return (ticks + divisor // 2) // divisor

    def _append(self, begins: Any, times: Any, *columns: tuple[str, Any], ends: Any = None) -> None:
        at = begins if ends is None else ends
        changed = np.flatnonzero(np.diff(begins))
        if len(changed):
            first = int(times[begins[changed]].min())  # times never fall
            self.first = first if self.first is None else min(self.first, first)
        for channel in changed:
            self.columns.append(int(channel), "times", times[begins[channel] : begins[channel + 1]])
            for name, column in columns:
                self.columns.append(int(channel), name, column[at[channel] : at[channel + 1]])
        self.changes += np.diff(begins)

    def _note_gaps(self, end: int) -> None:
        """Say how long recording was switched off."""
        spans = [(since or 0, end if until is None else until) for since, until in self.gaps]
        spans = [(since, until) for since, until in spans if since < until]
        if not spans:
            return
        times = words.ONCE if len(spans) == 1 else words.TIMES.format(count=len(spans))
        off = Span(sum(until - since for since, until in spans))
        self.notes.append(words.SWITCHED_OFF.format(times=times, off=off, since=Span(spans[0][0])))

    def _place(self, at: int) -> Origin:
        """The line of a byte of the buffer; the file is read again up to it, since nobody counts lines otherwise."""
        return Origin.at_line(self.file, line_at(self.path, self.before + at))

    def _refuse(self, reason: int) -> NoReturn:
        at = int(self.state[kernel.AT])
        tokens = _TOKEN.findall(self.buffer[at : min(self.filled, at + 4096)].tobytes())
        text = tokens[0][:40].decode("utf-8", "replace")
        code = tokens[0][1:] if tokens[0][:1] in b"01xXzZ" else b"".join(tokens[1:2])
        if reason == kernel.STRANGER and not code:
            raise BadInput(self._place(at), words.NO_CODE.format(text=text))
        shown = code.decode("utf-8", "replace")
        variable = next((v for v in self.variables if v.code == code), None)
        name = variable.names[0] if variable else ""
        said = {
            kernel.STRANGER: words.STRANGER.format(code=shown),
            kernel.BACKWARDS: words.BACKWARDS.format(time=text[1:], before=int(self.state[kernel.TICKS])),
            kernel.NO_RECORD: words.NO_RECORD.format(text=text),
            kernel.TOO_WIDE: words.TOO_WIDE.format(text=text, name=name, width=variable.width if variable else 0),
            kernel.TOO_LATE: words.TOO_LATE.format(text=text, seconds=self._picoseconds(self.latest + 1) // 10**12),
            kernel.WRONG_KIND: words.WRONG_KIND.format(
                text=text, name=name, kind=words.CARRIES[variable.kind] if variable else ""
            ),
        }[reason]
        raise BadInput(self._place(at), said)

    def _finish(self, stamp: str) -> Capture:
        self._collect()
        self.rounded += int(self.state[kernel.ROUNDED])
        if self.rounded:
            self.notes.append(words.ROUNDED.format(count=self.rounded))
        rows = [
            describe_channel(v.names, v.kind, v.width, v.bits, int(n))
            for v, n in zip(self.variables, self.changes, strict=True)
        ]
        end = self._picoseconds(int(self.state[kernel.TICKS]))
        self._note_gaps(end)
        begin = Span(end if self.first is None else self.first)
        head = {
            "file": self.file,
            "channels": rows,
            "begin": begin.picoseconds,
            "end": end,
            "notes": self.notes,
            "gaps": self.gaps,
            "step": None,
            "breaks_off": self.breaks_off,
        }
        return self.columns.finish(head, stamp)
