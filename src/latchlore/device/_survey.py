"""Where one byte may have been lost from a stream: in front of which bytes, and what would tell.

Put a byte of any value in front of any byte of the stream and read again: where a reading without complaint comes
out, a loss there is possible.  Either it explains a complaint of the stream as it is, or the stream reads as well
without the byte and nothing tells of the loss.  All places and all 256 values are covered; places and values that the
table cannot tell apart are read once.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from latchlore.base import Origin, Progress, Unsupported, no_progress
from latchlore.device import _kernel as k
from latchlore.device._automaton import CompiledTable, compile_table
from latchlore.device._losslikely import Candidate, Mend, Usual, rank_mends
from latchlore.device._reading import choose_switches
from latchlore.device._walk import Walk
from latchlore.device._wording import describe_hidden_loss, describe_trouble

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from latchlore.device._device import Device

MAX_BYTES = 20_000
PLAIN_LIMIT = 1024
"""Streams up to this many bytes are read without compiling: that is faster than loading the compiler."""

ANY = frozenset(range(256))


class LossWay(StrEnum):
    """Why a lost byte would leave no trace: what the stream with the byte reads as."""

    ALONE = "a row of one byte more"
    LONGER = "a row with one more byte of data or one more digit"
    IN_STEP = "other rows, until the bytes behind fall in step again"
    TO_THE_END = "other rows to the end of the stream"


@dataclass(frozen=True, slots=True)
class LostAt:
    """In front of any byte from `first` up to `end` one byte may have been lost, each of `values` alike.

    A place as large as the stream's length is its end.
    """

    first: int
    end: int
    values: frozenset[int]


@dataclass(frozen=True, slots=True)
class Trouble:
    """Complaints of a reading that one lost byte explains together, or that none explains (no `places`).

    `start`, `end`: from the first complaint's span to the last's.  `num`: how many spans complain.  `candidates`: the
    same places by what the byte would make there, the likeliest first (`candidate_key`).
    """

    start: int
    end: int
    num: int
    places: tuple[LostAt, ...]
    candidates: tuple[Candidate, ...] = ()

    def __str__(self) -> str:
        return describe_trouble(self)


@dataclass(frozen=True, slots=True)
class HiddenLoss:
    """A byte lost in front of any byte from `first` up to `end` would leave no trace.

    `ways`: what the stream with the byte would read as; `until`: up to where the two readings could differ.
    """

    first: int
    end: int
    ways: tuple[LossWay, ...]
    until: int

    def __str__(self) -> str:
        return describe_hidden_loss(self)


@dataclass(frozen=True, slots=True)
class LossSurvey:
    """What single losses explain, and which would not show, in stream order."""

    troubles: tuple[Trouble, ...]
    hidden: tuple[HiddenLoss, ...]

    @property
    def num_hidden(self) -> int:
        """In front of how many bytes (the stream's end counts as one) a byte may be missing without a trace."""
        return sum(one.end - one.first for one in self.hidden)


def survey_losses(
    device: Device, data: bytes, switches: Mapping[str, str] | None = None, progress: Progress = no_progress
) -> LossSurvey:
    """Say where one lost byte explains the complaints of a stream, and where one would leave no trace.

    If one byte was lost from a stream that its device's table explains wholly, then its place is among those named: in
    a trouble's places where the reading complains, else in a stretch of hidden losses.  (Where the byte equals its
    neighbours, each place that makes the same stream is named.)  Several losses are told apart where the reading is in
    step again between them; a trouble that no single loss explains is listed without places.  Refuses more than 20,000
    bytes.
    """
    if len(data) > MAX_BYTES:
        words = f"places of losses are sought in up to {MAX_BYTES} bytes; cut the stream ({len(data)} bytes) into parts"
        raise Unsupported(Origin.at_line(device.file, 1), words)
    return survey_with(compile_table(device, choose_switches(device, switches)), data, progress)


def survey_with(table: CompiledTable, data: bytes, progress: Progress = no_progress) -> LossSurvey:
    """The survey of a stream with a table that is compiled already."""
    search = _Survey(table, data)
    search.run(progress)
    return LossSurvey(search.troubles(), search.hidden())


_Way = tuple[LossWay, int]


class _Survey:
    """The search over one stream; see `CompiledTable` for the arrays."""

    def __init__(self, table: CompiledTable, data: bytes) -> None:
        self.table, self.data = table, data
        self.walk = Walk(table, data, compiled=len(data) > PLAIN_LIMIT)
        self.root, self.reread = table.arrays[0], table.arrays[5]
        self.kind, self.step, self.follower, self.argument, self.slot_of, self.stops = table.arrays[8:14]
        self.code: list[int] = table.arrays[14].tolist()
        self.telling = _telling_slots(table)
        self.complaints = [s for s, c in zip(self.walk.starts, self.walk.complains, strict=True) if c]
        self.fates: dict[tuple[int, int], tuple[int, bool] | None] = {}
        self.classes: dict[int, list[tuple[int, frozenset[int]]]] = {}
        self.mends: dict[tuple[int, int], list[Mend]] = {}  # by the complaints that they end: from, to
        self.unseen: dict[int, dict[LossWay, int]] = {}

    def run(self, progress: Progress) -> None:
        """Try every place; `allowed` are the bytes that would be read anew there and not by the span in front."""
        size = len(self.data)
        allowed = ANY
        for index, start in enumerate(self.walk.starts):
            if index % 512 == 0:
                progress(start, size, "looking for places of losses")
            broken = self._span(start, self.walk.envs[index], allowed)
            allowed = ANY
            if broken is not None and broken[0] == self.walk.end_of(start):
                refused = (self.step[broken[1]] < 0) & self.reread[self.walk.envs[index]]
                allowed = frozenset(refused.nonzero()[0].tolist())
        if not (self.walk.missing and self.walk.missing[-1]):
            self._at_node(int(self.root[self.walk.env_after]), size, self.walk.env_after, size, allowed)

    # -- places

    def _span(self, start: int, env: int, allowed: frozenset[int]) -> tuple[int, int] | None:
        """Every place in front of a byte of one span (and at the end, if the stream ends inside it).

        Returns the byte that breaks the span off, and the node where it does; None where it is not broken off.
        """
        node, place, size = int(self.root[env]), start, len(self.data)
        slots: dict[int, int] = {}
        while (kind := self.kind[node]) != k.ACCEPT:
            if kind in (k.COUNTED, k.UNTIL):
                last = self._data_end(node, place, slots)
                self._in_data(start, env, node, place, last)
                if last > size:
                    return None
                place = last + (kind == k.UNTIL)
                node = int(self.follower[node])
                continue
            self._at_node(node, start, env, place, allowed if place == start else ANY)
            if place == size:
                return None
            byte = self.data[place]
            target = int(self.step[node, byte])
            if target < 0:
                return (place, node) if place > start else None
            _store(slots, int(kind), int(self.slot_of[node]), byte)
            node = target
            place += 1
        return None

    def _data_end(self, node: int, place: int, slots: dict[int, int]) -> int:
        """Behind counted data, or at the byte that ends terminated data; beyond the stream where it ends before."""
        size = len(self.data)
        if self.kind[node] == k.COUNTED:
            end = place + max(0, count_value(self.code, int(self.argument[node]), slots))
            return end if end <= size else size + 1
        ends = self.stops[int(self.argument[node])]
        while place < size and not ends[self.data[place]]:
            place += 1
        return place if place < size else size + 1

    def _in_data(self, start: int, env: int, node: int, first: int, last: int) -> None:
        """Places in counted data are alike, and in terminated data those where the byte does not end it."""
        size = len(self.data)
        if self.kind[node] == k.COUNTED:
            self._try_alike(start, env, range(first, min(last, size + 1)), 0, ANY)
            return
        stops = frozenset(self.stops[int(self.argument[node])].nonzero()[0].tolist())
        places = range(first, min(last, size) + 1)
        if stops != ANY:
            self._try_alike(start, env, places, min(ANY - stops), ANY - stops)
        for one in places:
            self._try(start, env, one, min(stops), stops)

    def _at_node(self, node: int, start: int, env: int, place: int, allowed: frozenset[int]) -> None:
        for byte, values in self._classes(node):
            if allowed is ANY:
                self._try(start, env, place, byte, values)
            elif values & allowed:
                self._try(start, env, place, min(values & allowed), values & allowed)

    def _classes(self, node: int) -> list[tuple[int, frozenset[int]]]:
        """Bytes at a node that lead on, in groups that read alike: one of each group, and the group."""
        if node not in self.classes:
            told = int(self.slot_of[node]) in self.telling
            groups: dict[tuple[int, int], list[int]] = {}
            for byte, target in enumerate(self.step[node].tolist()):
                if target >= 0:
                    groups.setdefault((target, byte if told else -1), []).append(byte)
            self.classes[node] = [(values[0], frozenset(values)) for values in groups.values()]
        return self.classes[node]

    # -- one byte more

    def _try_alike(self, start: int, env: int, places: range, byte: int, values: frozenset[int]) -> None:
        if places:
            self._try(start, env, places[0], byte, values, places)

    def _try(
        self, start: int, env: int, place: int, byte: int, values: frozenset[int], places: Iterable[int] | None = None
    ) -> None:
        """Read the span from `start` with `byte` in front of `place`; what comes out holds for all the places."""
        alike = (place,) if places is None else tuple(places)
        alone = self.table.solo_row(env, byte) if start == place else -1
        if alone >= 0:  # what most places of a text come to
            self._settle(Mend(start, env, place, byte, place, env, alike, values))
            return
        data = self.data[:place] + bytes([byte]) + self.data[place:]
        end, after, _, complaint = self.walk.one_span(data, start, env)
        if not complaint and end > place:
            self._settle(Mend(start, env, place, byte, end - 1, after, alike, values))

    def _settle(self, mend: Mend) -> None:
        """Note what follows where the span with the byte ends well."""
        fate = self._fate(mend.behind, mend.after)
        if fate is None:
            return
        until, returns = fate
        first = bisect_left(self.complaints, mend.start)
        last = bisect_left(self.complaints, until if returns else until + 1)
        if last > first:
            self.mends.setdefault((first, last), []).append(mend)
            return
        for one in mend.places:
            ways = self.unseen.setdefault(one, {})
            way = self._way(mend.start, mend.place, mend.behind, until, returns)
            ways[way] = max(ways.get(way, 0), until)

    def _way(self, start: int, place: int, behind: int, until: int, returns: bool) -> LossWay:
        if not returns:
            return LossWay.TO_THE_END
        if start == place == behind:
            return LossWay.ALONE
        return LossWay.LONGER if until == behind == self.walk.end_of(start) else LossWay.IN_STEP

    def _fate(self, place: int, env: int) -> tuple[int, bool] | None:
        """Where a reading that goes on from a byte in an env meets the stream's own; None where it complains first.

        The second value: it does meet it, and does not only end with the stream.
        """
        path = []
        while True:
            key = (place, env)
            if key in self.fates:
                fate = self.fates[key]
                break
            if self.walk.env_at(place) == env:
                fate = (place, True)
                break
            if place == len(self.data):
                fate = (place, False)
                break
            path.append(key)
            place, env, _, complaint = self.walk.one_span(self.data, place, env)
            if complaint:
                fate = None
                break
        for key in path:
            self.fates[key] = fate
        return fate

    # -- what was found

    def troubles(self) -> tuple[Trouble, ...]:
        """The complaints, those together that one loss explains; the longest such row of complaints counts."""
        if not self.complaints:
            return ()
        found = []
        first, usual = 0, Usual(self.walk)
        while first < len(self.complaints):
            last = self._last_with(first)
            mends = self.mends.get((first, last), [])
            start, end = self.complaints[first], self.walk.end_of(self.complaints[last - 1])
            found.append(Trouble(start, end, last - first, _lost_at(mends), rank_mends(usual, mends)))
            first = last
        return tuple(found)

    def _last_with(self, first: int) -> int:
        """The complaint behind the last one that goes with a complaint: explained with it, or as little explained."""
        last = max((end for begin, end in self.mends if begin == first), default=0)
        if last:
            return last
        last, explained = first + 1, {begin for begin, _ in self.mends}
        while last < len(self.complaints) and last not in explained:
            if self.walk.end_of(self.complaints[last - 1]) != self.complaints[last]:
                break
            last += 1
        return last

    def hidden(self) -> tuple[HiddenLoss, ...]:
        """The places that leave no trace, neighbours with the same ways in one stretch."""
        rows = [(place, tuple(way for way in LossWay if way in ways)) for place, ways in sorted(self.unseen.items())]
        return tuple(
            HiddenLoss(low, high, ways, max(max(self.unseen[place].values()) for place in range(low, high)))
            for low, high, ways in _stretches(rows)
        )


def _lost_at(mends: Iterable[Mend]) -> tuple[LostAt, ...]:
    """Every place with the values that mend there, neighbours with the same values in one stretch."""
    places: dict[int, set[int]] = {}
    for mend in mends:
        for one in mend.places:
            places.setdefault(one, set()).update(mend.values)
    stretches = _stretches(sorted((place, frozenset(values)) for place, values in places.items()))
    return tuple(LostAt(low, high, values) for low, high, values in stretches)


def _store(slots: dict[int, int], kind: int, slot: int, byte: int) -> None:
    """What the scanner keeps of a byte; see `scan` in _kernel.py."""
    if kind == k.BYTE:
        slots[slot] = byte
    elif kind == k.DIGIT_FIRST:
        slots[slot] = byte - 48
    elif 48 <= byte <= 57:
        slots[slot] = min(slots[slot] * 10 + byte - 48, k.MAX_NUMBER)
    else:
        slots[slot + 1] = byte


def count_value(code: list[int], at: int, slots: Mapping[int, int]) -> int:
    """The count of data whose formula stands at `at`; see `scan` in _kernel.py."""
    stack: list[int] = []
    while code[at] != k.OP_END:
        op = code[at]
        at += 1
        if op == k.OP_CONST:
            stack.append(code[at])
            at += 1
        elif op == k.OP_FIELD:
            terms = [code[at + 1 + 4 * j : at + 5 + 4 * j] for j in range(code[at])]
            stack.append(sum(((slots[slot] & mask) >> right) << left for slot, mask, right, left in terms))
            at += 1 + 4 * len(terms)
        else:
            right_hand, left_hand = stack.pop(), stack.pop()
            stack.append(_calculate(op, left_hand, right_hand))
    return stack[0]


def _calculate(op: int, one: int, other: int) -> int:
    if op == k.OP_ADD:
        value = one + other
    elif op == k.OP_SUB:
        value = one - other
    else:
        value = one * other if op == k.OP_MUL else one // other
    return max(-k.MAX_NUMBER, min(value, k.MAX_NUMBER))


def _stretches(rows: list[tuple[int, Any]]) -> Iterator[tuple[int, int, Any]]:
    """Neighbouring places with equal values, as (first, end, value)."""
    low = 0
    for index in range(1, len(rows) + 1):
        if index == len(rows) or rows[index][0] != rows[index - 1][0] + 1 or rows[index][1] != rows[low][1]:
            yield rows[low][0], rows[index - 1][0] + 1, rows[low][1]
            low = index


def _telling_slots(table: CompiledTable) -> frozenset[int]:
    """Slots whose value decides how long a row is or which modes it sets."""
    found = set(table.arrays[3].tolist()) if (table.arrays[2] >= 0).any() else set()
    code = table.arrays[14].tolist()
    at = 0
    while at < len(code):
        op = code[at]
        at += 1
        if op == k.OP_CONST:
            at += 1
        elif op == k.OP_FIELD:
            terms = code[at]
            at += 1
            found.update(code[at : at + 4 * terms : 4])
            at += 4 * terms
    return frozenset(found)
