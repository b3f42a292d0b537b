"""A stream read span by span, and read again with a few bytes changed until both readings are the same again."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING, Any

from latchlore.device._automaton import CompiledTable, working_space
from latchlore.device._kernel import scan

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

    def __init__(self, table: CompiledTable, data: bytes) -> None:
        self.table, self.data = table, data
        self._slots, self._stack = working_space()
        self.starts: list[int] = []
        self.envs: list[int] = []
        self.rows: list[int] = []
        complaints = [0] * (len(data) + 1)
        position, env = 0, 0
        while position < len(data):
            self.starts.append(position)
            self.envs.append(env)
            end, after, row, complaint = self._one_span(data, position, env)
            self.rows.append(row)
            complaints[position] = complaint
            position, env = end, after
        self._env_at = dict(zip(self.starts, self.envs, strict=True))
        self._env_at[len(data)] = env
        self._index_at = {start: index for index, start in enumerate((*self.starts, len(data)))}
        self._rest = list(accumulate(reversed(complaints)))[::-1]

    def _one_span(self, data: bytes, position: int, env: int) -> tuple[int, int, int, int]:
        """(end, env behind, row, complaints)."""
        single = self.table.solo_row(env, data[position])
        if single >= 0:
            return position + 1, env, single, 0
        out: list[list[int]] = [[0], [0], [0]]
        end, after, row, _, missing = _SCAN(data, position, env, -2, *self.table.arrays, self._slots, self._stack, *out)
        complaints = 1 if missing else int(end) - position if row < 0 else 0
        return int(end), int(after), int(row), complaints

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
            position, env, row, complaint = self._one_span(data, position, env)
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
