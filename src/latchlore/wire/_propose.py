"""Proposes what the lines of a capture are from what they do: strobe, busy, acknowledge, data and their order.

What is looked for is the order of events of a byte: data moves, then the strobe pulses, then busy and acknowledge
answer, once each.  Names are not looked at, except to put data lines in order where they end in numbers.  A proposal
is a guess with its reasons; the user states what the lines are.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import permutations
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from latchlore.wire import _edgekernel as kernel
from latchlore.wire import _proposewording as words
from latchlore.wire._capture import ChannelKind
from latchlore.wire._handshake import read_parallel
from latchlore.wire._lines import ParallelLines, clean_line, conclude_by_idle, conclude_by_share

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from latchlore.wire._capture import Capture, Levels, Times

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
class Activity:
    """What a line does: edges, the share of time at 1, pulses to the rarer level and their middle width."""

    name: str
    edges: int
    high: float
    pulses: int
    width_ps: int


@dataclass(frozen=True, slots=True)
class Proposal:
    """What the lines may be.  `lines` None: no line behaves like a strobe.  `order_decided`: whether the order of the
    data lines is known from their names or their text.  `reasons`: sentences, one a line; `activity` of all lines.
    """

    lines: ParallelLines | None
    order_decided: bool
    reasons: tuple[str, ...]
    activity: tuple[Activity, ...]


class _Line(NamedTuple):
    name: str
    times: Times
    levels: Levels
    lead: Times
    trail: Times
    active: int | None


def propose_lines(capture: Capture) -> Proposal:
    """What the single lines of a capture may be; vectors are taken apart."""
    lines = [_describe(capture, name) for name in _names(capture)]
    activity = tuple(_activity(line, capture.end.picoseconds) for line in lines)
    moving = [line for line in lines if len(line.times) > 1]
    pulsing = [line for line in moving if len(line.lead) >= PULSES_MIN]
    strobe = _find_strobe(pulsing, moving)
    if strobe is None:
        return Proposal(None, False, (words.NO_STROBE,), activity)
    others = [_from_idle(line, strobe) for line in moving if line is not strobe]
    answers = [line for line in others if len(line.lead) >= PULSES_MIN and _answers(line, strobe)]
    reasons = [words.STROBE.format(name=strobe.name, count=len(strobe.lead))]
    answers.sort(key=lambda line: (-int(np.median(line.trail - line.lead)), line.name))
    busy = ack = None
    if answers:
        busy = answers[0]
        if len(answers) > 1:
            ack = answers[1]
        elif int(np.median(busy.trail - busy.lead)) < int(np.median(np.diff(strobe.lead))) // 10:
            busy, ack = None, busy  # a lone short answer is an acknowledge
    for line, text in ((busy, words.BUSY), (ack, words.ACK)):
        if line is not None:
            reasons.append(text.format(name=line.name, width=_width(line)))
    taken = {line.name for line in (strobe, busy, ack) if line is not None}
    left = [line for line in lines if line.name not in taken]
    data = [line for line in left if len(line.times) > 1 and _is_data(line, strobe)]
    stems = {NUMBER.sub("", line.name) for line in data}
    if len(stems) == 1:  # a line that never moves is data all the same where its name continues theirs
        data += [line for line in left if len(line.times) == 1 and NUMBER.sub("", line.name) in stems]
    reasons.append(words.DATA.format(count=len(data), names=", ".join(line.name for line in data) or words.NONE))
    rest = [line.name for line in left if line not in data]
    if rest:
        reasons.append(words.REST.format(names=", ".join(rest)))
    if not data or len(data) > 8:
        return Proposal(None, False, tuple(reasons), activity)
    names, decided, why = _order(capture, [line.name for line in data], strobe)
    reasons.append(why)
    found = ParallelLines(
        names,
        strobe.name,
        None,
        busy.name if busy else None,
        None,
        ack.name if ack else None,
    )
    return Proposal(found, decided, tuple(reasons), activity)


def _names(capture: Capture) -> list[str]:
    names: list[str] = []
    for channel in capture.channels:
        if channel.kind is ChannelKind.LOGIC:
            names.append(channel.name)
        elif channel.kind is ChannelKind.VECTOR:
            names += [f"{channel.name}[{k}]" for k in range(channel.width)]
    return names


def _describe(capture: Capture, name: str) -> _Line:
    times, levels = clean_line(capture, name)
    active = conclude_by_share((times, levels), capture.end.picoseconds).value
    lead, trail = kernel.find_pulses(times, levels, 1 if active is None else active)
    return _Line(name, times, levels, lead, trail, active)


def _from_idle(line: _Line, strobe: _Line) -> _Line:
    """The line with its pulses counted from the level it has when strobes begin, where that hardly ever differs."""
    level = conclude_by_idle((line.times, line.levels), strobe.lead).value
    if level is None or level == line.active:
        return line
    lead, trail = kernel.find_pulses(line.times, line.levels, level)
    return line._replace(lead=lead, trail=trail, active=level)


def _activity(line: _Line, end: int) -> Activity:
    high, low = kernel.time_held(line.times, line.levels, end)
    width = int(np.median(line.trail - line.lead)) if len(line.lead) else 0
    share = high / (high + low) if high + low else 0.0
    return Activity(line.name, max(0, len(line.times) - 1), share, len(line.lead), width)


def _find_strobe(pulsing: Sequence[_Line], moving: Sequence[_Line]) -> _Line | None:
    """The pulsing line that comes first after other lines have moved, in most cases, and itself has one rare level."""
    candidates = [line for line in pulsing if line.active is not None]
    if not candidates:
        return None
    scores: list[tuple[float, int, str, _Line]] = []
    for line in candidates:
        others = [other for other in moving if other is not line and _is_data(other, line)]
        if not others:
            continue
        changes = np.unique(np.concatenate([other.times[1:] for other in others]))
        mine = kernel.next_edge(line.lead, changes, False)
        known = mine < len(line.lead)
        waits = line.lead[mine[known]] - changes[known]
        # a strobe follows the data it takes at once; an answer comes much later
        last = np.concatenate([mine[known][1:] != mine[known][:-1], [True]]) if known.any() else np.zeros(0, bool)
        middle = float(np.median(waits[last])) if last.any() else float("inf")
        scores.append((middle, -len(others), line.name, line))
    return min(scores, key=lambda score: score[:3])[3] if scores else None


def _answers(line: _Line, strobe: _Line) -> bool:
    """Whether a line pulses once after each strobe before the next."""
    window = np.searchsorted(strobe.lead, line.lead, "right")
    counts = np.bincount(window, minlength=len(strobe.lead) + 1)[1:]
    return float((counts[:-1] == 1).mean()) >= ONCE if len(counts) > 1 else False


def _is_data(line: _Line, strobe: _Line) -> bool:
    """Whether a line moves at most a few times between two strobes, and seldom within one."""
    edges = line.times[1:]
    window = np.searchsorted(strobe.lead, edges, "right")
    inside = (window > 0) & (edges < strobe.trail[np.maximum(window - 1, 0)])
    per_strobe = np.bincount(window, minlength=len(strobe.lead) + 1)
    return bool(inside.mean() < 0.1 and (per_strobe <= 2).mean() >= ONCE and not _answers(line, strobe))


def _width(line: _Line) -> str:
    from latchlore.base import Span

    return str(Span(int(np.median(line.trail - line.lead))))


def _order(capture: Capture, names: list[str], strobe: _Line) -> tuple[tuple[str, ...], bool, str]:
    """The data lines, D0 first: by the numbers their names end in, else by what makes the bytes look like text."""
    numbers = [NAMED.fullmatch(name) for name in names]
    if all(numbers):
        keys = [int(match[1]) for match in numbers if match]
        if len(set(keys)) == len(keys):
            ordered = tuple(name for _, name in sorted(zip(keys, names, strict=True)))
            return ordered, True, words.ORDER_NAMES.format(names=", ".join(ordered))
    reading = read_parallel(capture, ParallelLines(tuple(names), strobe.name, strobe.active))
    best, cost, lead = _text_order(reading.data, len(names))
    ordered = tuple(names[k] for k in best)
    decided = lead >= DECIDED and cost <= LIKE_TEXT * len(reading.data)
    text = words.ORDER_TEXT if decided else words.ORDER_OPEN
    return ordered, decided, text.format(names=", ".join(ordered), lead=lead)


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
