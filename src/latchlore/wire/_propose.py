"""Proposes what the lines of a capture are from what they do: strobe, busy, acknowledge, data and their order.

What is looked for is the order of events of a byte: data moves, then the strobe pulses, then busy and acknowledge
answer, once each.  Names are not looked at, except to put data lines in order where they end in numbers.  A proposal
is a guess with its reasons; the user states what the lines are.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import permutations
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import Span
from latchlore.wire import _edgekernel as kernel
from latchlore.wire import _proposewording as words
from latchlore.wire._activity import describe_lines
from latchlore.wire._capture import Capture
from latchlore.wire._handshake import has_long_line, read_parallel
from latchlore.wire._lines import ParallelLines, channel_of, conclude_by_counts, count_high
from latchlore.wire._longhandshake import part_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from latchlore.wire._activity import Activity, Line, Stretch
    from latchlore.wire._capture import Times

NEVER = -(2**62)
PULSES_MIN = 4
"""A line must pulse so often to be taken for a strobe, busy or acknowledge."""
ONCE = 0.9
"""A line answers a strobe where it pulses once between it and the next, in so large a part of the cases."""
NAMED = re.compile(r".*?(\d+)\]?")
NUMBER = re.compile(r"\d+\]?$")
TEXT_LETTERS = b" etaoinshrdlucmfwypvbgkqjxz"
"""Letters by how often English text has them: *common practice*; only the order is used."""
DECIDED = 20.0
"""Nats by which the best order of data lines must lead the next, over all bytes."""
LIKE_TEXT = 4.5
"""Nats a byte above which bytes are no text in any order."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """What the lines may be.  `lines` None: no line behaves like a strobe.  `order_decided`: whether the order of the
    data lines is known from their names or their text.  `reasons`: sentences, one a line; `activity` of all lines.
    """

    lines: ParallelLines | None
    order_decided: bool
    reasons: tuple[str, ...]
    activity: tuple[Activity, ...]


@dataclass(slots=True)
class _Match:
    """How the edges and pulses of a line lie to the strobes of another.

    `edges`, and how many are `inside` a strobe; `spaces` from strobe to strobe, with that before the first and after
    the last, and how many are `calm`: two edges at most; `cycles`, the spaces between two strobes, and how many are
    `answered` by one pulse.
    """

    edges: int = 0
    inside: int = 0
    spaces: int = 0
    calm: int = 0
    cycles: int = 0
    answered: int = 0

    @property
    def answers(self) -> bool:
        """Whether the line pulses once after each strobe before the next."""
        return bool(self.cycles) and self.answered / self.cycles >= ONCE

    @property
    def is_data(self) -> bool:
        """Whether the line moves at most a few times between two strobes, and seldom within one."""
        inside = self.inside / self.edges if self.edges else 0.0
        return inside < 0.1 and bool(self.spaces) and self.calm / self.spaces >= ONCE and not self.answers


def propose_lines(capture: Capture) -> Proposal:
    """What the single lines of a capture may be; vectors are taken apart.

    What each line does is counted over the whole capture, part by part.  Where any line has more than `LONG` changes
    (see `read_parallel`), what the lines are is judged by stretches of each line that may be the strobe: `STRETCHES` of
    `STRETCH_EDGES` of its edges each, spread evenly from its begin to its end; by all of them where it has no more.
    The last reason then says by how many parts.  Memory does not grow with a long capture, time grows with its edges.
    """
    return _Judge(capture).propose()


class _Judge:
    """Judges the lines of one capture against each other."""

    def __init__(self, capture: Capture) -> None:
        self.capture = capture
        self.lines = describe_lines(capture)
        self.in_parts = has_long_line(capture)
        self.matches: dict[tuple[str, int, str], _Match] = {}

    def propose(self) -> Proposal:
        """The proposal."""
        activity = tuple(line.activity() for line in self.lines)
        moving = [line for line in self.lines if line.num_edges > 1]
        pulsing = [line for line in moving if line.pulses[line.counted] >= PULSES_MIN]
        strobe = self._find_strobe(pulsing, moving)
        if strobe is None:
            looked_at = max((self._num_parts(line) for line in pulsing), default=1)
            why = words.NO_STROBE if looked_at <= 1 else words.NO_STROBE_PARTS.format(count=looked_at)
            return Proposal(None, False, (why,), activity)
        reasons = [words.STROBE.format(name=strobe.name, count=strobe.pulses[strobe.counted])]
        busy, ack = self._find_answers(strobe, [line for line in moving if line is not strobe], reasons)
        left = [line for line in self.lines if line not in {strobe, busy, ack}]
        data = [line for line in left if line.num_edges > 1 and self._match(line, strobe).is_data]
        stems = {NUMBER.sub("", line.name) for line in data}
        if len(stems) == 1:  # a line that never moves is data all the same where its name continues theirs
            data += [line for line in left if line.num_edges == 1 and NUMBER.sub("", line.name) in stems]
        reasons.append(words.DATA.format(count=len(data), names=", ".join(line.name for line in data) or words.NONE))
        rest = [line.name for line in left if line not in data]
        if rest:
            reasons.append(words.REST.format(names=", ".join(rest)))
        found, decided = None, False
        if 1 <= len(data) <= 8:
            names, decided, why = self._order([line.name for line in data], strobe)
            reasons.append(why)
            busy_name, ack_name = (None if line is None else line.name for line in (busy, ack))
            found = ParallelLines(names, strobe.name, None, busy_name, None, ack_name)
        count = self._num_parts(strobe)
        if count > 1:
            seen, num = sum(len(one.leads) for one in strobe.stretches), strobe.pulses[strobe.counted]
            reasons.append(words.PARTS.format(count=count, seen=seen, num=num, name=strobe.name))
        return Proposal(found, decided, tuple(reasons), activity)

    def _num_parts(self, line: Line) -> int:
        """In how many parts a line is looked at."""
        return line.num_parts if self.in_parts else 1

    def _stretches(self, line: Line) -> tuple[Stretch, ...]:
        """The pulses of a line that others are compared with."""
        return line.stretches if self.in_parts else line.whole

    def _find_strobe(self, pulsing: Sequence[Line], moving: Sequence[Line]) -> Line | None:
        """The pulsing line that comes first after other lines have moved, in most cases, and has one rare level."""
        scores: list[tuple[float, int, str, Line]] = []
        for line in pulsing:
            if line.active is None:
                continue
            others = [other for other in moving if other is not line and self._match(other, line).is_data]
            if others:
                scores.append((self._wait(line, others), -len(others), line.name, line))
        return min(scores, key=lambda score: score[:3])[3] if scores else None

    def _wait(self, line: Line, others: Sequence[Line]) -> float:
        """The median time from the last change of the others to a pulse; a strobe follows its data at once."""
        waits: list[Times] = []
        for stretch in self._stretches(line):
            latest = np.full(len(stretch.leads), NEVER, np.int64)
            for other in others:
                for times, _, known in other.parts(stretch.since, stretch.until):
                    kernel.last_change(times[known - 1 :], stretch.leads, latest)
            before = np.concatenate([[NEVER], stretch.leads[:-1]])
            judged = slice(0 if stretch.first else 1, None if stretch.last else -1)
            waits.append((stretch.leads - latest)[judged][(latest > before)[judged]])
        every = np.concatenate(waits) if waits else np.zeros(0, np.int64)
        return float(np.median(every)) if len(every) else float("inf")

    def _match(self, line: Line, strobe: Line, active: int | None = None) -> _Match:
        """How a line's edges, and its pulses to a level, lie to the pulses of another."""
        active = line.counted if active is None else active
        key = line.name, active, strobe.name
        if key not in self.matches:
            match = self.matches[key] = _Match()
            for stretch in self._stretches(strobe):
                _add(match, line, active, stretch)
        return self.matches[key]

    def _find_answers(
        self, strobe: Line, others: Sequence[Line], reasons: list[str]
    ) -> tuple[Line | None, Line | None]:
        """Busy and acknowledge: lines that answer each strobe once, the longer one first; their reasons are added."""
        answers: list[tuple[int, str, Line]] = []
        for line in others:
            active = self._counted_from_idle(line, strobe)
            if line.pulses[active] >= PULSES_MIN and self._match(line, strobe, active).answers:
                answers.append((-line.middle_width(active), line.name, line))
        answers.sort(key=lambda answer: answer[:2])
        found: list[tuple[int, str, Line] | None] = [*answers[:2], None, None][:2]
        if len(answers) == 1:
            periods = np.concatenate([np.diff(stretch.leads) for stretch in self._stretches(strobe)])
            if -answers[0][0] < int(np.median(periods)) // 10:
                found.reverse()  # a lone short answer is an acknowledge
        for answer, text in zip(found, (words.BUSY, words.ACK), strict=True):
            if answer is not None:
                reasons.append(text.format(name=answer[1], width=Span(-answer[0])))
        busy, ack = (None if answer is None else answer[2] for answer in found)
        return busy, ack

    def _counted_from_idle(self, line: Line, strobe: Line) -> int:
        """The level to which pulses count: not that which strobes begin at, where that hardly ever differs."""
        high = num = 0
        for stretch in self._stretches(strobe):
            done, last = 0, (np.zeros(0, np.int64), np.zeros(0, np.uint8))
            for times, levels, known in line.parts(stretch.since, stretch.until):
                up_to = int(np.searchsorted(stretch.leads, times[-1], "right"))
                more = count_high((times[known - 1 :], levels[known - 1 :]), stretch.leads[done:up_to])
                high, num, done = high + more[0], num + more[1], up_to
                last = times[-1:], levels[-1:]
            more = count_high(last, stretch.leads[done:])
            high, num = high + more[0], num + more[1]
        level = conclude_by_counts(high, num).value
        return line.counted if level is None else level

    def _order(self, names: list[str], strobe: Line) -> tuple[tuple[str, ...], bool, str]:
        """The data lines, D0 first: by the numbers their names end in, else by what makes the bytes look like text."""
        found = [channel_of(self.capture, name) for name in names]
        if found[0][1] is not None and all(channel is found[0][0] for channel, _ in found):
            ordered = tuple(name for name in found[0][0].bit_names if name in names)
            return ordered, True, words.ORDER_BUS.format(name=found[0][0].name, names=", ".join(ordered))
        numbers = [NAMED.fullmatch(name) for name in names]
        if all(numbers):
            keys = [int(match[1]) for match in numbers if match]
            if len(set(keys)) == len(keys):
                ordered = tuple(name for _, name in sorted(zip(keys, names, strict=True)))
                return ordered, True, words.ORDER_NAMES.format(names=", ".join(ordered))
        data = self._read(ParallelLines(tuple(names), strobe.name, strobe.active), strobe)
        best, cost, lead = _text_order(data, len(names))
        ordered = tuple(names[k] for k in best)
        decided = lead >= DECIDED and cost <= LIKE_TEXT * len(data)
        text = words.ORDER_TEXT if decided else words.ORDER_OPEN
        return ordered, decided, text.format(names=", ".join(ordered), lead=lead)

    def _read(self, lines: ParallelLines, strobe: Line) -> bytes:
        """The bytes of the handshake, those of each stretch read by themselves."""
        if self._num_parts(strobe) == 1:
            return read_parallel(self.capture, lines).data
        named = {id(channel_of(self.capture, name)[0]) for name in (*lines.data, lines.strobe) if name is not None}
        channels = [channel for channel in self.capture.channels if id(channel) in named]
        found = b""
        for stretch in strobe.stretches:
            since, until = stretch.since, stretch.until
            cut = tuple(part_of(channel, NEVER if since is None else since, until) for channel in channels)
            begin = self.capture.begin if since is None else Span(since)
            end = self.capture.end if until is None else Span(until - 1)
            found += read_parallel(Capture(self.capture.file, cut, begin, end, step=self.capture.step), lines).data
        return found


def _add(match: _Match, line: Line, active: int, stretch: Stretch) -> None:
    """Count the edges and pulses of a line against those of a stretch."""
    leads, trails = stretch.leads, stretch.trails
    edges_in, pulses_in = np.zeros((2, len(leads) + 1), np.int64)
    for times, levels, known in line.parts(stretch.since, stretch.until):
        edges = times[known:]
        space = kernel.next_edge(leads, edges, True)
        edges_in += np.bincount(space, minlength=len(edges_in))
        match.edges += len(edges)
        match.inside += int(np.count_nonzero((space > 0) & (edges < trails[np.maximum(space - 1, 0)])))
        begins, _ = kernel.find_pulses(times, levels, active)
        pulses_in += np.bincount(kernel.next_edge(leads, begins, True), minlength=len(pulses_in))
    spaces = edges_in[0 if stretch.first else 1 : None if stretch.last else -1]
    match.spaces += len(spaces)
    match.calm += int(np.count_nonzero(spaces <= 2))
    match.cycles += len(pulses_in[1:-1])
    match.answered += int(np.count_nonzero(pulses_in[1:-1] == 1))


def _letter_costs() -> npt.NDArray[np.float64]:
    """Nats of surprise of each byte in a text, roughly."""
    costs = np.full(256, 9.0)
    costs[0x20:0x7F] = 6.0
    for byte in b"0123456789.,\r\n":
        costs[byte] = 4.0
    for rank, byte in enumerate(TEXT_LETTERS):
        costs[byte] = 2.0 + rank * 0.15
        upper = byte - 0x20 if byte >= 0x61 else byte
        costs[upper] = min(costs[upper], 2.5 + rank * 0.15)
    return costs


def _text_order(data: bytes, count: int) -> tuple[tuple[int, ...], float, float]:
    """The order of lines in which the bytes are likeliest text, its cost, and its lead over the next, in nats."""
    if not data:
        return tuple(range(count)), 0.0, 0.0
    values, numbers = np.unique(np.frombuffer(data, np.uint8), return_counts=True)
    costs = _letter_costs()
    orders = np.array(list(permutations(range(count))), np.int64)
    mapped = np.zeros((len(orders), len(values)), np.int64)
    for place in range(count):
        mapped |= (values[None, :].astype(np.int64) >> orders[:, place, None] & 1) << place
    totals = (costs[mapped] * numbers).sum(axis=1)
    # orders that differ only in lines that always agree give the same bytes; they are no rivals
    ranked = np.argsort(totals, kind="stable")
    best = ranked[0]
    unlike = (mapped[ranked] != mapped[best]).any(axis=1)
    lead = float(totals[ranked[unlike.argmax()]] - totals[best]) if unlike.any() else 0.0
    return tuple(int(k) for k in orders[best]), float(totals[best]), lead
