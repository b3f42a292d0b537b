"""Bytes lost inside counted data: where a stream reads better if some are missing.

A plain reading of a stream with a loss takes what follows the data for data and shows no error.  Here every reading of
the stream competes by the number of bits it takes to write it down: a row by how often it follows the row before, a
byte of data by whether it repeats the byte above it in the row before, a byte that no row explains and a loss by fixed
prices.  What wins is a conclusion with its margin in bits, not a measurement.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import ByteSequence, Origin, Progress, Unsupported, no_progress
from latchlore.device._alignment import Gap, find_gap
from latchlore.device._automaton import compile_table
from latchlore.device._losssearch import LOSS_BITS, START, Search, State, Step, counted_part
from latchlore.device._plain import match_pattern
from latchlore.device._reading import choose_switches
from latchlore.device._wording import describe_loss, describe_other

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from latchlore.device._device import Command, Device

MAX_BYTES = 65_536
MAX_OTHERS = 6
_EAGER_BITS = 1.0
_WINDOW = 1024
"""Other readings of a span are compared over the span and this many bytes behind it."""


@dataclass(frozen=True, slots=True)
class OtherReading:
    """Another reading of a span: `missing` bytes lacking (0: nothing is lost here), worse by `bits`."""

    missing: int
    bits: float

    def __str__(self) -> str:
        return describe_other(self)


@dataclass(frozen=True, slots=True)
class Loss:
    """Bytes that seem to be missing inside the data of one span.

    `start`, `end`: the span as it stands in the stream.  `number`: the how-manieth of its row, from 1.  `data_start`:
    where its data begin.  `present` of `count` bytes are there.  `absorbed`: the bytes behind that a plain reading
    takes for the missing ones.  `gap`: where they are missing, worked out from a neighbouring row; None where no row
    of the same kind is near or the comparison was not asked for.  `marked`: places in the stream in front of which the
    merge says a byte may be missing.  `others`: the other readings of the span, best first.
    """

    start: int
    end: int
    number: int
    data_start: int
    command: Command
    present: int
    count: int
    absorbed: bytes
    gap: Gap | None
    marked: tuple[int, ...]
    others: tuple[OtherReading, ...]

    @property
    def missing(self) -> int:
        """How many bytes are missing."""
        return self.count - self.present

    @property
    def bits(self) -> float:
        """By how much the nearest other reading is worse; infinite where there is none."""
        return self.others[0].bits if self.others else float("inf")

    def __str__(self) -> str:
        return describe_loss(self)


@dataclass(frozen=True, slots=True)
class LossReport:
    """The losses that the best reading contains, in stream order, and the spans of that reading.

    `spans`: (start, end, row index or -1, bytes missing).  `num_seen`: bytes in the stream.
    """

    losses: tuple[Loss, ...]
    spans: tuple[tuple[int, int, int, int], ...]
    num_seen: int

    @property
    def num_sent(self) -> int:
        """How many bytes were sent if the losses found are all."""
        return self.num_seen + sum(loss.missing for loss in self.losses)


def find_losses(
    device: Device,
    stream: bytes | ByteSequence,
    switches: Mapping[str, str] | None = None,
    progress: Progress = no_progress,
    *,
    compare_rows: bool = True,
) -> LossReport:
    """The reading of a stream that needs the fewest bits, losses inside counted data allowed.

    A merged sequence's own doubt about missing bytes counts.  `compare_rows`: rows of graphics resemble the row before
    (turn it off where they need not); without it the place of the missing bytes is not told, only their number.
    Refuses more than 65,536 bytes.
    """
    data, marks = (stream.data, _marks(stream)) if isinstance(stream, ByteSequence) else (stream, ())
    if len(data) > MAX_BYTES:
        words = f"losses are sought in up to {MAX_BYTES} bytes; cut the stream ({len(data)} bytes) into parts"
        raise Unsupported(Origin.at_line(device.file, 1), words)
    search = Search(compile_table(device, choose_switches(device, switches)), data, compare_rows, marks)
    path = _best_path(search, progress)
    losses, spans = [], []
    start, state = 0, START
    for index, step in enumerate(path):
        if step.missing:
            losses.append(_loss(search, path, index, start, state))
        spans.append((start, step.end, step.row, step.missing))
        start, state = step.end, (step.env, step.row, step.data or state[2])
    return LossReport(tuple(losses), tuple(spans), len(data))


def _best_path(search: Search, progress: Progress) -> list[Step]:
    """The reading that is cheapest when what is usual is learnt from itself.

    Learning starts once from the reading without losses and once from one in which losses cost next to nothing: a
    loss that passes for the rule in the first is seen as the exception in the second.
    """
    plain = search.best(allow_losses=False)[0]
    if not any(step.row >= 0 and counted_part(search.device.commands[step.row]) for step in plain):
        return plain
    found: list[tuple[float, list[Step]]] = []
    for turn, start_bits in enumerate((None, _EAGER_BITS)):
        search.learn(plain)
        if start_bits is not None:
            search.loss_bits = start_bits
            search.learn(search.best(allow_losses=True)[0])
            search.loss_bits = LOSS_BITS
        for again in range(2):
            progress(3 * turn + again, 6, "looking for losses")
            path, bits = search.best(allow_losses=True)
            search.learn(path)
        found.append((bits, path))
    _, path = min(found, key=lambda pair: pair[0])
    search.learn(path)
    return path


def _marks(sequence: ByteSequence) -> tuple[float, ...]:
    return (*(min(1.0, item.missing_before) for item in sequence.items), min(1.0, sequence.missing_after))


def _loss(search: Search, path: Sequence[Step], index: int, start: int, state: State) -> Loss:
    step = path[index]
    command = search.device.commands[step.row]
    part = counted_part(command)
    assert part is not None  # only such rows are read short
    present, count = len(step.data), len(step.data) + step.missing
    near = [_neighbour(path[:index][::-1], step.row, count), _neighbour(path[index + 1 :], step.row, count)]
    gap = find_gap(step.data, [data for data in near if data]) if search.compare else None
    data_start = _data_start(search, step, start)
    data_end = data_start + present
    marked = tuple(p for p in range(data_start, data_end + 1) if search.marks and search.marks[p] > 0)
    return Loss(
        start,
        step.end,
        sum(1 for before in path[: index + 1] if before.row == step.row),
        data_start,
        command,
        present,
        count,
        search.data[data_end : data_start + count],
        gap,
        marked,
        _others(search, step, start, state, count),
    )


def _data_start(search: Search, step: Step, start: int) -> int:
    """Where the data of a short row begin: behind the parts that stand before them."""
    command = search.device.commands[step.row]
    part = counted_part(command)
    assert part is not None
    match = match_pattern(search.head(command, part), search.data, start)
    assert match is not None  # the search has matched it there
    return match.data[part.name][0]


def _neighbour(steps: Sequence[Step], row: int, count: int) -> bytes:
    """The data of the first whole span of the same row and length."""
    return next((s.data for s in steps if s.row == row and not s.missing and len(s.data) == count), b"")


def _others(search: Search, step: Step, start: int, state: State, count: int) -> tuple[OtherReading, ...]:
    """What the stream costs when this span lacks another number of bytes, the reading in front of it unchanged."""
    stop = min(len(search.data), start + count + _WINDOW)
    chosen = search.best(start, state, allow_losses=True, forced=step.missing, stop=stop)[1]
    found = []
    for missing in range(count + 1):
        if missing != step.missing:
            bits = search.best(start, state, allow_losses=True, forced=missing, stop=stop)[1]
            if bits != float("inf"):
                found.append(OtherReading(missing, bits - chosen))
    return tuple(sorted(found, key=lambda other: (other.bits, other.missing))[:MAX_OTHERS])
