"""The competition of readings of a stream that may have lost bytes: which needs the fewest bits to write down."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from heapq import heappop, heappush
from typing import TYPE_CHECKING

from latchlore.device._counts import Count
from latchlore.device._patterns import Counted, OneByte, Pattern, Until
from latchlore.device._plain import Match, match_pattern

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.device._automaton import CompiledTable
    from latchlore.device._device import Command

LOSS_BITS, LOST_BYTE_BITS = 7.0, 2.0
UNEXPLAINED_BITS = 14.0
CUT_BITS = 8.0
DATA_BITS = 8.0
"""Prices in bits, set by judgement: a loss is as rare as one span in 128, and each byte more costs little."""

_ROW_SHARE, _BYTE_SHARE = 0.5, 0.25
"""What a row and a byte of data count before they are seen."""

NOTHING = -1
_STATES = 12
_BEAM = 64.0
"""Readings that are this many bits behind one that has come further are not followed."""


@dataclass(frozen=True, slots=True)
class Step:
    """One span of a reading: where it ends, its row (-1: none), the env behind it, bytes missing, price, its data."""

    end: int
    row: int
    env: int
    missing: int
    bits: float
    data: bytes


State = tuple[int, int, bytes]  # env, row before, data of the last counted row
START: State = (0, NOTHING, b"")
_Front = dict[State, tuple[float, tuple[int, State] | None, Step | None]]


class Search:
    """The competition of readings over one stream.

    `marks`: for each byte the probability (0 to 1) that one is missing in front of it; empty where nothing is known.
    """

    def __init__(self, table: CompiledTable, data: bytes, compare: bool, marks: Sequence[float] = ()) -> None:
        self.table, self.device, self.data, self.compare, self.marks = table, table.device, data, compare, marks
        self.follows: dict[int, Counter[int]] = defaultdict(Counter)
        self.forget()
        self.loss_bits = LOSS_BITS
        self.usual_bits = DATA_BITS
        self.rows: dict[tuple[int, int], list[Command]] = {}
        self.heads: dict[int, Pattern] = {}
        self.num_rows = len(self.device.commands) + 1

    def forget(self) -> None:
        """Know nothing of how rows follow each other and what data look like."""
        self.follows = defaultdict(Counter)
        self.equal, self.compared = 1, 2
        self.bytes_seen: Counter[int] = Counter()
        self.num_bytes = 0

    def learn(self, path: Sequence[Step]) -> None:
        """Learn from a reading anew how often rows follow each other and what their data look like."""
        self.forget()
        last, previous = NOTHING, b""
        for step in path:
            self.follows[last][step.row] += 1
            last = step.row
            if step.data and len(step.data) == len(previous) and not step.missing:
                self.equal += sum(a == b for a, b in zip(step.data, previous, strict=True))
                self.compared += len(previous)
            self.bytes_seen.update(step.data)
            self.num_bytes += len(step.data)
            previous = step.data or previous
        self.usual_bits = sum(step.bits for step in path) / max(1, len(self.data))

    def best(
        self,
        start: int = 0,
        state: State = START,
        *,
        allow_losses: bool,
        forced: int | None = None,
        stop: int | None = None,
    ) -> tuple[list[Step], float]:
        """The cheapest reading from a place on, and its bits; empty where none keeps to `forced`.

        A state is (env, row before, data of the last counted row) at a place; the cheapest way into each is kept, and
        of each place the dozen cheapest states are followed.  `forced`: the first span lacks just so many bytes.
        `stop`: the stream is taken to end there.
        """
        size = len(self.data) if stop is None else stop
        fronts: dict[int, _Front] = {start: {state: (0.0, None, None)}}
        ahead: list[tuple[float, int]] = []
        for position in range(start, size):
            while ahead and ahead[0][1] <= position:
                heappop(ahead)
            limit = ahead[0][0] + _BEAM + self.usual_bits * position if ahead else math.inf
            ranked = sorted(fronts.get(position, {}).items(), key=lambda item: (item[1][0], item[0]))[:_STATES]
            for now, (bits, _, _) in ranked:
                if bits > limit:
                    break
                first = forced is not None and position == start
                for step in self._steps(position, now, size, allow_losses or first):
                    if first and (step.missing != forced or step.row == NOTHING):
                        continue
                    after = (step.env, step.row, step.data or now[2])
                    front = fronts.setdefault(step.end, {})
                    total = bits + step.bits
                    if after not in front or total < front[after][0]:
                        front[after] = (total, (position, now), step)
                        heappush(ahead, (total - self.usual_bits * step.end, step.end))
        return _trace_back(fronts, size)

    def _steps(self, position: int, state: State, size: int, losses: bool) -> Iterator[Step]:
        env, last, previous = state
        for command in self.candidates(env, self.data[position]):
            match = match_pattern(command.pattern, self.data, position)
            price = self._transition(last, command.index)
            if match is not None and match.is_complete and match.end <= size:
                yield self._step(command, match, env, price, previous, 0)
            elif match is not None:
                cut = CUT_BITS + DATA_BITS * (size - position)
                yield Step(size, command.index, env, 0, price + cut, b"")
            if losses:
                yield from self._short_steps(command, position, size, env, price, previous)
        yield Step(position + 1, NOTHING, env, 0, self._transition(last, NOTHING) + UNEXPLAINED_BITS, b"")

    def _step(self, command: Command, match: Match, env: int, price: float, previous: bytes, missing: int) -> Step:
        data = b""
        for part in command.pattern.parts:
            if isinstance(part, OneByte):
                price += math.log2(len(part.values))
            elif isinstance(part, Counted):
                first, last = match.data[part.name]
                data = self.data[first:last]
                price += self._data_bits(data, previous, len(data) + missing)
            elif isinstance(part, Until):
                first, last = match.data[part.name]
                price += DATA_BITS * (last - first)
        after = self._env_after(command, match, env)
        return Step(match.end, command.index, after, missing, price, data)

    def _short_steps(
        self, command: Command, position: int, size: int, env: int, price: float, previous: bytes
    ) -> Iterator[Step]:
        """The row with bytes of its counted data missing; only where a row that usually follows can follow."""
        part = counted_part(command)
        if part is None:
            return
        head = self.head(command, part)
        match = match_pattern(head, self.data, position)
        if match is None or part.name not in match.data:
            return
        first = match.data[part.name][0]
        count = max(0, part.count.value(match.values))
        usual = self.follows[command.index]
        for data_end in range(first, min(first + count, size + 1)):
            short = _shorten(command.pattern, part, self.data, position, data_end - first, match)
            if short is None or short.end > size:
                continue
            after = self._env_after(command, short, env)
            if short.end < size and not any(usual[row.index] for row in self.candidates(after, self.data[short.end])):
                continue
            missing = first + count - data_end
            loss = self._loss_bits(first, data_end, missing)
            yield self._step(command, short, env, price + loss, previous, missing)

    def head(self, command: Command, part: Counted) -> Pattern:
        """The row up to its counted data."""
        if command.index not in self.heads:
            parts = command.pattern.parts
            self.heads[command.index] = Pattern(command.pattern.text, parts[: parts.index(part) + 1])
        return self.heads[command.index]

    def _loss_bits(self, first: int, end: int, missing: int) -> float:
        """The price of a loss in the data from `first` to `end`; cheap where a merge says that a byte is missing."""
        known = max(self.marks[first : end + 1], default=0.0)
        price = min(self.loss_bits, -math.log2(known)) if known else self.loss_bits
        return price + LOST_BYTE_BITS * missing

    def _data_bits(self, data: bytes, previous: bytes, count: int) -> float:
        """The price of data of `count` bytes, `len(data)` of them there, beside the row before (which may be short)."""
        plain = sum(self._byte_bits(byte) for byte in data)
        if not self.compare or not count / 2 <= len(previous) <= count or len(data) < len(previous) != count:
            return plain
        matched = _most_equal(data, previous) if len(previous) == count else _most_equal(previous, data[:count])
        same = -math.log2(self.equal / self.compared)
        other = -math.log2(1 - self.equal / self.compared) + (plain / len(data) if data else 0)
        return min(plain, same * matched + other * (len(data) - matched))

    def _byte_bits(self, byte: int) -> float:
        return math.log2((self.num_bytes + 256 * _BYTE_SHARE) / (self.bytes_seen[byte] + _BYTE_SHARE))

    def _transition(self, last: int, row: int) -> float:
        seen = self.follows[last]
        return math.log2((seen.total() + _ROW_SHARE * self.num_rows) / (seen[row] + _ROW_SHARE))

    def candidates(self, env: int, byte: int) -> list[Command]:
        """The rows that a byte may begin in an env; rows that give way only where there is no other."""
        key = (env, byte)
        if key not in self.rows:
            modes = dict(zip(self.table.modes, self.table.envs[env], strict=True))
            fit = [
                row
                for row in self.device.commands
                if row.index in self.table.valid_rows
                and byte in row.pattern.head[0]
                and all(modes[name] == value for name, value in row.when.items())
            ]
            self.rows[key] = [row for row in fit if not row.otherwise] or fit
        return self.rows[key]

    def _env_after(self, command: Command, match: Match, env: int) -> int:
        if not (command.sets or command.sets_from or command.effect == "reset"):
            return env
        modes = dict(zip(self.table.modes, self.table.envs[0 if command.effect == "reset" else env], strict=True))
        modes.update(command.sets)
        for name, parameter in command.sets_from.items():
            value = command.parameters[parameter].values.get(match.values.get(parameter, -1))
            if value is not None:
                modes[name] = value
        return self.table.envs.index(tuple(modes.values()))


def counted_part(command: Command) -> Counted | None:
    """The row's counted data, where it has just one part of it."""
    found = [part for part in command.pattern.parts if isinstance(part, Counted)]
    return found[0] if len(found) == 1 else None


def _shorten(pattern: Pattern, part: Counted, data: bytes, start: int, present: int, match: Match) -> Match | None:
    """The pattern at `start` with only `present` bytes of its counted data; None where the rest does not fit."""
    first = match.data[part.name][0]
    if pattern.parts[-1] is part:
        return Match(first + present, True, 0, match.values, {**match.data, part.name: (first, first + present)})
    short = replace(part, count=Count(str(present), (present,)))
    parts = tuple(short if one is part else one for one in pattern.parts)
    found = match_pattern(Pattern(pattern.text, parts), data, start)
    return found if found is not None and found.is_complete else None


def _trace_back(fronts: dict[int, _Front], size: int) -> tuple[list[Step], float]:
    ends = fronts.get(size, {})
    if not ends:
        return [], math.inf
    state = min(ends, key=lambda s: (ends[s][0], s))
    total = ends[state][0]
    path: list[Step] = []
    place = size
    while True:
        _, origin, taken = fronts[place][state]
        if origin is None or taken is None:
            return path[::-1], total
        path.append(taken)
        place, state = origin


def _most_equal(data: bytes, previous: bytes) -> int:
    """How many bytes repeat the row above if what is missing is missing in one place."""
    short = len(previous) - len(data)
    best = matched = sum(a == b for a, b in zip(data, previous[short:], strict=True))
    for k, byte in enumerate(data):
        matched += (byte == previous[k]) - (byte == previous[k + short])
        best = max(best, matched)
    return best
