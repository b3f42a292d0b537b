"""Which of the single losses that explain a complaint is the likeliest: by how usual the mended stream is.

What is usual is learnt from the spans of the stream that do not complain: which row follows which, and which values a
byte of a row takes.  A loss is as likely as the rows that come out when its byte is put back; before anything is
seen, every row, every value that the table allows, and every place of a loss are equally likely.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING, NamedTuple

from latchlore.device._patterns import DIGIT_BYTES, Digits, OneByte, Until
from latchlore.device._plain import match_pattern
from latchlore.device._wording import describe_candidate

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.device._device import Command
    from latchlore.device._walk import Walk

ROW_SHARE, BYTE_SHARE = 0.5, 0.25
"""What a row, and a value of a byte, count before they are seen (a judgement, as in `_losssearch`)."""

LIKELY_VALUES = 4
NO_ROW = -1

Slot = tuple[int, int]  # row and part of its pattern


class Mend(NamedTuple):
    """A byte put back: the span from `start` in `env` reads to `behind` (a place in the stream as it is) in `after`.

    Each of `values` in front of each of `places` mends alike; `byte` and `place` are one of them.
    """

    start: int
    env: int
    place: int
    byte: int
    behind: int
    after: int
    places: tuple[int, ...]
    values: frozenset[int]


@dataclass(frozen=True, slots=True)
class Candidate:
    """One way to mend a complaint: a byte of `values` in front of any byte from `first` up to `end` makes one row.

    `command`: the row that the byte belongs to.  `share`: how likely it is among all ways to mend the same complaint, 0
    to 1.  `likely`: the likeliest values, up to four, each with how often it stands there elsewhere in the stream.
    `num_row` of `num_spans`: how many spans that do not complain are this row; `num_behind` of `num_before`: how many
    of those behind the row in front are.
    """

    first: int
    end: int
    values: frozenset[int]
    command: Command
    share: float
    likely: tuple[tuple[int, int], ...]
    num_row: int
    num_spans: int
    num_behind: int
    num_before: int

    def __str__(self) -> str:
        return describe_candidate(self)


def candidate_key(one: Candidate) -> tuple[float, int, int]:
    """Best first.

    1. The likeliest, by the bits that the stream takes when it is mended so: rows that follow one another as they do
       elsewhere, made of the values that stand there elsewhere.  What is left unexplained is the same for all ways to
       mend one complaint (nothing of it), so it is no term.
    2. The first place, and 3. the least value, so that the order is total.
    """
    return (-round(one.share, 9), one.first, min(one.values))


def rank_mends(usual: Usual, mends: Sequence[Mend]) -> tuple[Candidate, ...]:
    """The ways to mend one complaint, best first (`candidate_key`).  The shares sum to 1."""
    weighed = [(mend, *usual.weigh(mend)) for mend in mends]
    if not weighed:
        return ()
    least = min(bits for _, bits, _, _ in weighed)
    weights = [2.0 ** (least - bits) for _, bits, _, _ in weighed]
    total = sum(weights)
    found = [
        usual.candidate(mend, row, slot, weight / total)
        for (mend, _, row, slot), weight in zip(weighed, weights, strict=True)
    ]
    return tuple(sorted(found, key=candidate_key))


class Usual:
    """What is usual in a stream, in bits: the fewer, the more usual.  Spans that complain teach nothing."""

    def __init__(self, walk: Walk) -> None:
        self.walk, self.commands = walk, walk.table.device.commands
        self.follows: dict[int, Counter[int]] = defaultdict(Counter)
        self.values: dict[Slot, Counter[int]] = defaultdict(Counter)
        self.num_rows = len(walk.table.valid_rows)
        before = NO_ROW
        for index, start in enumerate(walk.starts):
            if walk.complains[index]:
                before = NO_ROW
                continue
            row = walk.rows[index]
            self.follows[before][row] += 1
            before = row
            for slot, byte, _ in _slots(self.commands[row], walk.data, start):
                self.values[slot][byte] += 1
        self.seen: Counter[int] = Counter()
        for counts in self.follows.values():
            self.seen.update(counts)
        prices = [self._span(index) for index in range(len(walk.starts))]
        self.before = [0.0, *accumulate(prices)]
        self.index_at = {start: index for index, start in enumerate((*walk.starts, len(walk.data)))}
        self.rest: dict[tuple[int, int, int], float] = {}

    # -- prices

    def _span(self, index: int) -> float:
        """A span of the stream as it is; complaints cost nothing, since every way to mend ends the same ones."""
        if self.walk.complains[index]:
            return 0.0
        return self._step(self._row(index - 1), self.walk.rows[index]) + self._bytes(
            self.walk.rows[index], self.walk.data, self.walk.starts[index]
        )

    def _row(self, index: int) -> int:
        return NO_ROW if index < 0 or self.walk.complains[index] else self.walk.rows[index]

    def _step(self, before: int, row: int) -> float:
        """A row behind another; behind none, or behind a complaint, by how often it stands in the stream at all."""
        seen = self.seen if before == NO_ROW else self.follows[before]
        return math.log2((seen.total() + ROW_SHARE * self.num_rows) / (seen[row] + ROW_SHARE))

    def _bytes(self, row: int, data: bytes, start: int) -> float:
        return sum(self._byte(slot, byte) for slot, byte, _ in _slots(self.commands[row], data, start))

    def _byte(self, slot: Slot, byte: int) -> float:
        seen, size = self.values[slot], _size(self.commands[slot[0]], slot[1])
        return math.log2((seen.total() + BYTE_SHARE * size) / (seen[byte] + BYTE_SHARE))

    # -- mending

    def weigh(self, mend: Mend) -> tuple[float, int, Slot | None]:
        """Bits of the stream so mended against the stream as it is, the row of the byte, and its part of the row.

        All the mend's places and values together: as many as there are of them, so much likelier.
        """
        data = self.walk.data[: mend.place] + bytes([mend.byte]) + self.walk.data[mend.place :]
        _, _, row, _ = self.walk.one_span(data, mend.start, mend.env)
        index = self.index_at[mend.start]
        slots = list(_slots(self.commands[row], data, mend.start))
        bits = self._step(self._row(index - 1), row) + sum(self._byte(slot, byte) for slot, byte, _ in slots)
        own = next((slot for slot, _, place in slots if place == mend.place), None)
        if own is not None:
            chances = sum(2.0 ** -self._byte(own, value) for value in mend.values)
            bits += -math.log2(chances) - self._byte(own, mend.byte)
        bits += self._from(mend.behind, mend.after, row) + self.before[index]
        return bits - math.log2(len(mend.places)), row, own

    def _from(self, place: int, env: int, row: int) -> float:
        """The bits from a place on, read on in `env` behind `row`, less those of the stream as it is up to there."""
        chain: list[tuple[tuple[int, int, int], float]] = []
        while True:
            key = (place, env, row)
            if key in self.rest:
                bits = self.rest[key]
                break
            if place == len(self.walk.data) or self.walk.env_at(place) == env:
                bits = self._joined(place, row)
                break
            end, after, new, _ = self.walk.one_span(self.walk.data, place, env)
            chain.append((key, self._step(row, new) + self._bytes(new, self.walk.data, place)))
            place, env, row = end, after, new
        for key, price in reversed(chain):
            bits += price
            self.rest[key] = bits
        return bits

    def _joined(self, place: int, row: int) -> float:
        """Where the mended reading meets the stream's own: only the step from row to row is another."""
        index = self.index_at[place]
        bits = -self.before[index]
        if place < len(self.walk.data) and not self.walk.complains[index]:
            own = self.walk.rows[index]
            bits += self._step(row, own) - self._step(self._row(index - 1), own)
        return bits

    def candidate(self, mend: Mend, row: int, slot: Slot | None, share: float) -> Candidate:
        """The mend with its likelihood and what speaks for it."""
        seen = self.values[slot] if slot is not None else Counter[int]()
        likely = sorted(mend.values, key=lambda value: (-seen[value], value))[:LIKELY_VALUES]
        behind = self.follows[self._row(self.index_at[mend.start] - 1)]
        return Candidate(
            mend.places[0],
            mend.places[-1] + 1,
            mend.values,
            self.commands[row],
            share,
            tuple((value, seen[value]) for value in likely),
            self.seen[row],
            self.seen.total(),
            behind[row],
            behind.total(),
        )


def _size(command: Command, part: int) -> int:
    """How many values a byte of a part can have."""
    one = command.pattern.parts[part]
    if isinstance(one, OneByte):
        return len(one.values)
    return len(DIGIT_BYTES) if isinstance(one, Digits) else 256


def _slots(command: Command, data: bytes, start: int) -> Iterator[tuple[Slot, int, int]]:
    """Each byte of a whole span: the part of the row it belongs to, its value, its place."""
    match = match_pattern(command.pattern, data, start)
    assert match is not None  # the scanner has read it so
    place = start
    for number, part in enumerate(command.pattern.parts):
        slot = (command.index, number)
        if isinstance(part, OneByte):
            end = place + 1
        elif isinstance(part, Digits):
            end = place
            while end < len(data) and data[end] in DIGIT_BYTES:
                end += 1
        else:
            end = match.data[part.name][1] + isinstance(part, Until)
        for k in range(place, min(end, match.end)):
            yield slot, data[k], k
        place = end
