"""A stream read span by span, and read again with a few bytes changed until both readings are the same again."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING, Any

import numpy as np

from latchlore.device._automaton import CompiledTable, working_space
from latchlore.device._kernel import scan, scan_compiled

if TYPE_CHECKING:
    from collections.abc import Callable

_SCAN: Callable[..., Any] = scan


@dataclass(frozen=True, slots=True)
class Reread:
    """What a change does to the reading: from `first` up to `until` (places in the unchanged stream) it differs.

    `returns`: the reading is the same again at `until`, and not only because the stream ends there.  `more`: how many
    complaints more there are (a byte that no row explains, a row that is cut short).  `same_spans`: the spans begin,
    end and mean the same, and only the bytes in them differ.
    """

    first: int
    until: int
    returns: bool
    more: int
    same_spans: bool


class Walk:
    """The reading of a stream in single spans; a run of printed bytes counts byte by byte."""

    def __init__(self, table: CompiledTable, data: bytes, *, compiled: bool = False) -> None:
        self.table, self.data = table, data
        self._slots, self._stack = working_space()
        self._compiled = scan_compiled() if compiled else None
        self._out = (np.empty(1, dtype=np.int64), np.empty(1, dtype=np.int32), np.empty(1, dtype=np.int32))
        self.starts: list[int] = []
        self.envs: list[int] = []
        self.rows: list[int] = []
        self.complains: list[bool] = []
        self.missing: list[bool] = []
        complaints = [0] * (len(data) + 1)
        position, env = 0, 0
        while position < len(data):
            self.starts.append(position)
            self.envs.append(env)
            end, after, row, is_cut = self._scan_one(data, position, env)
            complaint = _num_complaints(end - position, row, is_cut)
            self.rows.append(row)
            self.complains.append(complaint > 0)
            self.missing.append(is_cut)
            complaints[position] = complaint
            position, env = end, after
        self.env_after = env
        self._env_at = dict(zip(self.starts, self.envs, strict=True))
        self._env_at[len(data)] = env
        self._index_at = {start: index for index, start in enumerate((*self.starts, len(data)))}
        self._rest = list(accumulate(reversed(complaints)))[::-1]

    def env_at(self, place: int) -> int | None:
        """The env in which a span begins at a place (or the stream ends there); None where none begins."""
        return self._env_at.get(place)

    def end_of(self, start: int) -> int:
        """The byte behind the span that begins at `start`."""
        index = self._index_at[start] + 1
        return self.starts[index] if index < len(self.starts) else len(self.data)

    def one_span(self, data: bytes, position: int, env: int) -> tuple[int, int, int, int]:
        """(end, env behind, row, complaints)."""
        end, after, row, is_cut = self._scan_one(data, position, env)
        return end, after, row, _num_complaints(end - position, row, is_cut)

    def _scan_one(self, data: bytes, position: int, env: int) -> tuple[int, int, int, bool]:
        """(end, env behind, row, whether the stream ends inside it)."""
        single = self.table.solo_row(env, data[position])
        if single >= 0:
            return position + 1, env, single, False
        run, octets = (_SCAN, data) if self._compiled is None else (self._compiled, np.frombuffer(data, dtype=np.uint8))
        end, after, _, _, missing = run(
            octets, position, env, -2, *self.table.arrays, self._slots, self._stack, *self._out
        )
        return int(end), int(after), int(self._out[1][0]), bool(missing)

    def change(self, place: int, cut: int, new: bytes) -> Reread:
        """Read again with `cut` bytes at `place` taken out and `new` put in.  Both readings are whole streams."""
        data = self.data[:place] + new + self.data[place + cut :]
        shift = cut - len(new)
        # A row that breaks off leaves the breaking byte to the next span, so the span in front may change as well.
        index = max(0, bisect_right(self.starts, place - 1) - 1)
        position, env = (self.starts[index], self.envs[index]) if self.starts else (0, 0)
        first, begun, complaints = position, position, 0
        spans: list[tuple[int, int]] = []
        while position < len(data):
            old = position + shift
            if position >= place + len(new) and self._env_at.get(old) == env:
                more = complaints + self._rest[old] - self._rest[begun]
                return Reread(first, old, True, more, cut == len(new) and self._same(spans, begun, old))
            start = position
            position, env, row, complaint = self.one_span(data, position, env)
            complaints += complaint
            spans.append((start, row))
            if position <= place and first == start and self._same([(start, row)], start, position):
                first = position
        same = cut == len(new) and self._same(spans, begun, len(self.data)) and self._env_at[len(self.data)] == env
        return Reread(first, len(self.data), False, complaints - self._rest[begun], same)

    def _same(self, spans: list[tuple[int, int]], start: int, end: int) -> bool:
        if end not in self._index_at:
            return False
        begin, stop = self._index_at[start], self._index_at[end]
        return spans == list(zip(self.starts[begin:stop], self.rows[begin:stop], strict=True))


def _num_complaints(size: int, row: int, is_cut: bool) -> int:
    """A span that is cut counts once, one that no row explains by its bytes."""
    return 1 if is_cut else size if row < 0 else 0
