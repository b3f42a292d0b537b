"""A stream read with a device's table: spans with meaning, modes in force, and what no row explains."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any, overload

from latchlore.base import Progress, UnknownName, no_progress
from latchlore.device._plain import match_pattern
from latchlore.device._wording import describe_span

if TYPE_CHECKING:
    from collections.abc import Callable

    from latchlore.device._automaton import CompiledTable
    from latchlore.device._device import Command, Device

PLAIN_LIMIT = 4096
"""Streams up to this many bytes are read without compiling: that is faster than loading the compiler."""

_ROOM = 1 << 18


class SpanState(StrEnum):
    """How a span of the stream stands."""

    COMPLETE = "complete"
    INCOMPLETE = "incomplete"  # the stream ends inside it
    UNEXPLAINED = "unexplained"  # no row of the table fits


@dataclass(frozen=True, slots=True)
class StreamSpan:
    """Bytes of the stream that belong together, from `start` up to `end`.

    `command`: the row that explains them; None where none does (or several still could, at the end of the stream).
    `values`: its parameters; `data`: (first, end) of each part of data, in the stream.  `missing`: how many bytes are
    lacking at least (INCOMPLETE).  `modes`: the modes in force at the beginning; `changes`: those it changes.
    `remarks`: values the document does not allow, doubts of the transcriber.
    """

    start: int
    end: int
    state: SpanState
    raw: bytes
    command: Command | None
    values: Mapping[str, int]
    data: Mapping[str, tuple[int, int]]
    missing: int
    modes: Mapping[str, str]
    changes: Mapping[str, str]
    remarks: tuple[str, ...]

    def __str__(self) -> str:
        return describe_span(self)


class Reading(Sequence[StreamSpan]):
    """All spans of a stream in order; they cover it without gap, and neighbouring printed bytes are one span."""

    def __init__(self, table: CompiledTable, data: bytes, spans: tuple[Any, Any, Any], missing: int) -> None:
        self.device: Device = table.device
        self.data = data
        self.switches: Mapping[str, str] = table.switches
        self.table = table
        self._starts, self._rows, self._envs = spans
        self._missing = missing
        self._modes: list[Mapping[str, str]] = [dict(zip(table.modes, env, strict=True)) for env in table.envs]

    def __len__(self) -> int:
        return len(self._starts)

    @overload
    def __getitem__(self, index: int) -> StreamSpan: ...
    @overload
    def __getitem__(self, index: slice) -> list[StreamSpan]: ...
    def __getitem__(self, index: int | slice) -> StreamSpan | list[StreamSpan]:
        if isinstance(index, slice):
            return [self._span(i) for i in range(*index.indices(len(self)))]
        if not -len(self) <= index < len(self):
            raise IndexError(f"the reading has {len(self)} spans; there is no span {index}")
        return self._span(index % len(self))

    def __iter__(self) -> Iterator[StreamSpan]:
        return (self._span(i) for i in range(len(self)))

    def bounds(self, index: int) -> tuple[int, int]:
        """First byte of a span and the one behind its last."""
        end = int(self._starts[index + 1]) if index + 1 < len(self) else len(self.data)
        return int(self._starts[index]), end

    def row_index(self, index: int) -> int:
        """The row of a span as a number; -1 where no single row explains it."""
        return int(self._rows[index])

    def is_cut(self, index: int) -> bool:
        """Whether the stream ends inside this span."""
        return bool(self._missing) and index == len(self) - 1

    def modes(self, index: int) -> Mapping[str, str]:
        """The modes in force at the beginning of a span."""
        return self._modes[int(self._envs[index])]

    def find_span(self, offset: int) -> int:
        """The index of the span that holds a byte.  Refuses an offset outside the stream."""
        if not 0 <= offset < len(self.data):
            raise IndexError(f"the stream has {len(self.data)} bytes; there is no byte {offset}")
        return int(self._starts.searchsorted(offset, side="right")) - 1

    def _span(self, index: int) -> StreamSpan:
        start, end = self.bounds(index)
        row = self.row_index(index)
        cut = self.is_cut(index)
        command = self.device.commands[row] if row >= 0 else None
        state = SpanState.INCOMPLETE if cut else SpanState.COMPLETE if command else SpanState.UNEXPLAINED
        match = match_pattern(command.pattern, self.data, start) if command else None
        before = self.modes(index)
        changes: dict[str, str] = {}
        if state is SpanState.COMPLETE and index + 1 < len(self):
            changes = {name: value for name, value in self.modes(index + 1).items() if before[name] != value}
        values = match.values if match else {}
        return StreamSpan(
            start,
            end,
            state,
            self.data[start:end],
            command,
            values,
            match.data if match else {},
            self._missing if cut else 0,
            before,
            changes,
            _remarks(command, values) if command else (),
        )

    @property
    def unexplained(self) -> tuple[StreamSpan, ...]:
        """The spans that no row explains, in order."""
        return tuple(self._span(i) for i in range(len(self)) if self._rows[i] < 0 and not self.is_cut(i))

    @property
    def num_unexplained(self) -> int:
        """How many bytes no row explains."""
        return sum(end - start for start, end in map(self.bounds, self._unexplained_indices()))

    def _unexplained_indices(self) -> list[int]:
        return [int(i) for i in (self._rows < 0).nonzero()[0] if not self.is_cut(int(i))]

    @property
    def first_unexplained(self) -> StreamSpan | None:
        """The first span that no row explains, or None."""
        indices = self._unexplained_indices()
        return self._span(indices[0]) if indices else None

    @property
    def never_used(self) -> tuple[Command, ...]:
        """Rows of the table that explain nothing in this stream, in table order."""
        used = {int(row) for row in set(self._rows.tolist())}
        return tuple(command for command in self.device.commands if command.index not in used)

    @property
    def not_valid(self) -> tuple[Command, ...]:
        """Rows that the choice of switches rules out."""
        return tuple(c for c in self.device.commands if c.index not in self.table.valid_rows)


def _remarks(command: Command, values: Mapping[str, int]) -> tuple[str, ...]:
    remarks = []
    for name, value in values.items():
        parameter = command.parameters.get(name)
        if parameter is not None and not parameter.allows(value):
            least = "any" if parameter.least is None else parameter.least
            most = "any" if parameter.most is None else parameter.most
            remarks.append(f"{name} = {value} is outside {least} to {most}")
    if command.citation.doubt:
        remarks.append(f"doubtful row: {command.citation.doubt}")
    if command.pattern.others:
        remarks.append(f"doubtful digits: may also be {', '.join(str(one) for one in command.pattern.others)}")
    return tuple(remarks)


def choose_switches(device: Device, switches: Mapping[str, str] | None) -> dict[str, str]:
    """The factory settings with the given ones over them.  Refuses a switch or setting that is not in the table."""
    chosen = device.factory_settings()
    for name, value in (switches or {}).items():
        known = device.get_switch(name).values
        if value not in known:
            raise UnknownName(f"switch {name!r} has no setting {value!r}", known)
        chosen[name] = value
    return chosen


def read_stream(
    device: Device,
    data: bytes,
    switches: Mapping[str, str] | None = None,
    progress: Progress = no_progress,
    *,
    compiled: bool | None = None,
) -> Reading:
    """Read a stream from power-on with a device's table; what `switches` does not name stands as the factory set it.

    Where no row goes on, the bytes so far and the byte that broke them off are unexplained; but a byte that begins a
    row of its own is read again.  A row that depends on a switch that is neither given nor set in the factory is not
    valid.  `compiled` forces the compiled (or the plain) scanner; by default long streams are read compiled.
    """
    from latchlore.device._automaton import compile_table

    table = compile_table(device, choose_switches(device, switches))
    use_compiled = len(data) > PLAIN_LIMIT if compiled is None else compiled
    spans, missing = _scan_all(table, data, use_compiled, progress)
    return Reading(table, data, spans, missing)


def _scan_all(
    table: CompiledTable, data: bytes, use_compiled: bool, progress: Progress
) -> tuple[tuple[Any, Any, Any], int]:
    import numpy as np

    from latchlore.device._automaton import working_space
    from latchlore.device._kernel import scan, scan_compiled

    run: Callable[..., Any] = scan_compiled() if use_compiled else scan
    octets = np.frombuffer(data, dtype=np.uint8) if use_compiled else data
    slots, stack = working_space()
    room = min(len(data), _ROOM)
    starts = np.empty(room, dtype=np.int64)
    rows = np.empty(room, dtype=np.int32)
    envs = np.empty(room, dtype=np.int32)
    pieces: list[tuple[Any, Any, Any]] = [(starts[:0], rows[:0], envs[:0])]
    position, env, last, missing = 0, 0, -2, 0
    while position < len(data):
        position, env, last, count, missing = run(
            octets, position, env, last, *table.arrays, slots, stack, starts, rows, envs
        )
        pieces.append((starts[:count].copy(), rows[:count].copy(), envs[:count].copy()))
        progress(position, len(data), "reading the stream")
    joined = tuple(np.concatenate([piece[i] for piece in pieces]) for i in range(3))
    return (joined[0], joined[1], joined[2]), int(missing)
