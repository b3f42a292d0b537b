"""A plain judgement of what lines are: every edge in one list, no part left out.  Beside `propose_lines` in tests."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median
from typing import TYPE_CHECKING, Any

from latchlore.base import Span
from latchlore.wire import ChannelKind, ParallelLines, Proposal, read_parallel
from latchlore.wire import _proposewording as words
from latchlore.wire._activity import Activity
from latchlore.wire._propose import DECIDED, LIKE_TEXT, _text_order

if TYPE_CHECKING:
    from latchlore.wire import Capture, Channel

    Edges = list[tuple[int, int]]


@dataclass(eq=False)
class Plain:
    """A line: its clean edges, with the level at the begin; the rare level, and the pulses to `counted`."""

    name: str
    edges: Edges
    high: int
    low: int
    active: int | None = None
    counted: int = 1

    @property
    def moves(self) -> list[int]:
        """Times of its edges."""
        return [time for time, _ in self.edges[1:]]

    @property
    def pulses(self) -> Edges:
        """Begin and end of each whole pulse."""
        wanted = [1 - self.counted, self.counted, 1 - self.counted]
        triples = zip(self.edges, self.edges[1:], self.edges[2:], strict=False)
        return [(b[0], c[0]) for a, b, c in triples if [a[1], b[1], c[1]] == wanted]

    @property
    def width(self) -> int:
        """The median length of a pulse, in picoseconds."""
        return int(median([off - on for on, off in self.pulses] or [0]))


def _changes(channel: Channel, bit: int | None) -> Edges:
    found = []
    for k, time in enumerate(channel.times.tolist()):
        text = channel.text(k)
        found.append((time, "01xz".index(text if bit is None else text[-1 - bit])))
    return found


def _line(name: str, changes: Edges, end: int) -> Plain:
    edges: Edges = []
    for time, level in sorted(dict(changes).items()):  # of several at one time the last
        if not edges or edges[-1][1] != level:
            edges.append((time, level))
    held = {0: 0, 1: 0, 2: 0, 3: 0}
    stops = [*(time for time, _ in edges[1:]), *(max(end, time) for time, _ in edges[-1:])]
    for (time, level), stop in zip(edges, stops, strict=True):
        held[level] += stop - time
    line = Plain(name, edges, held[1], held[0])
    share = held[1] / (held[1] + held[0]) if held[1] and held[0] else 0.5
    if share < 1 / 3 or share > 1 - 1 / 3:
        line.active = line.counted = int(share < 1 / 2)
    return line


def _spaces(leads: list[int], times: list[int]) -> list[int]:
    """How many of the times lie before the first lead, between each and the next, and from the last on."""
    counts = [0] * (len(leads) + 1)
    for time in times:
        counts[sum(lead <= time for lead in leads)] += 1
    return counts


def _answers(line: Plain, strobe: Plain) -> bool:
    counts = _spaces([on for on, _ in strobe.pulses], [on for on, _ in line.pulses])[1:-1]
    return bool(counts) and counts.count(1) / len(counts) >= 0.9


def _is_data(line: Plain, strobe: Plain) -> bool:
    inside = sum(any(on <= time < off for on, off in strobe.pulses) for time in line.moves)
    counts = _spaces([on for on, _ in strobe.pulses], line.moves)
    calm = sum(count <= 2 for count in counts)
    return inside / len(line.moves) < 0.1 and calm / len(counts) >= 0.9 and not _answers(line, strobe)


def _wait(line: Plain, others: list[Plain]) -> float:
    moves = [time for other in others for time in other.moves]
    waits = []
    before: float = float("-inf")
    for on, _ in line.pulses:
        mine = [time for time in moves if before < time <= on]
        waits += [on - max(mine)] if mine else []
        before = on
    return float(median(waits)) if waits else float("inf")


def _from_idle(line: Plain, strobe: Plain) -> Plain:
    sure = []
    for on, _ in strobe.pulses:
        level = next((level for time, level in reversed(line.edges) if time < on), 2)
        if level < 2 and on not in [time for time, _ in line.edges]:
            sure.append(level)
    if sure and sum(sure) * 10 <= len(sure):
        return replace(line, counted=1)
    if sure and sum(sure) * 10 >= 9 * len(sure):
        return replace(line, counted=0)
    return line


def propose_plainly(capture: Capture) -> Proposal:
    """What `propose_lines` gives, all edges in memory and each compared with each."""
    lines: list[Plain] = []
    for channel in capture.channels:
        bits: Any = [None] if channel.kind is ChannelKind.LOGIC else range(channel.width)
        for bit in bits:
            name = channel.name if bit is None else f"{channel.name}[{bit}]"
            lines.append(_line(name, _changes(channel, bit), capture.end.picoseconds))
    activity = tuple(
        Activity(
            one.name,
            len(one.moves),
            one.high / (one.high + one.low) if one.high + one.low else 0.0,
            len(one.pulses),
            one.width,
        )
        for one in lines
    )
    moving = [line for line in lines if line.moves]
    scores = []
    for line in moving:
        if line.active is None or len(line.pulses) < 4:
            continue
        others = [other for other in moving if other is not line and _is_data(other, line)]
        if others:
            scores.append((_wait(line, others), -len(others), line.name))
    if not scores:
        return Proposal(None, False, (words.NO_STROBE,), activity)
    strobe = next(line for line in lines if line.name == min(scores)[2])
    reasons = [words.STROBE.format(name=strobe.name, count=len(strobe.pulses))]
    others = [_from_idle(line, strobe) for line in moving if line is not strobe]
    answers = [line for line in others if len(line.pulses) >= 4 and _answers(line, strobe)]
    answers.sort(key=lambda line: (-line.width, line.name))
    roles: list[Plain | None] = [*answers[:2], None, None][:2]
    period = median([b[0] - a[0] for a, b in pairwise(strobe.pulses)])
    if len(answers) == 1 and answers[0].width < int(period) // 10:
        roles.reverse()
    for role, text in zip(roles, (words.BUSY, words.ACK), strict=True):
        if role is not None:
            reasons.append(text.format(name=role.name, width=Span(role.width)))
    names = [None if role is None else role.name for role in roles]
    left = [line for line in lines if line.name not in {strobe.name, *names}]
    data = [line.name for line in left if line.moves and _is_data(line, strobe)]
    stems = {re.sub(r"\d+\]?$", "", name) for name in data}
    if len(stems) == 1:
        data += [one.name for one in left if len(one.edges) == 1 and re.sub(r"\d+\]?$", "", one.name) in stems]
    reasons.append(words.DATA.format(count=len(data), names=", ".join(data) or words.NONE))
    rest = [line.name for line in left if line.name not in data]
    reasons += [words.REST.format(names=", ".join(rest))] if rest else []
    if not 1 <= len(data) <= 8:
        return Proposal(None, False, tuple(reasons), activity)
    buses = [channel for channel in capture.channels if channel.kind is ChannelKind.VECTOR]
    bus = next((one for one in buses if set(data) <= set(one.bit_names)), None)
    numbers = {name: match[1] for name in data if (match := re.fullmatch(r".*?(\d+)\]?", name))}
    if bus is not None:
        data.sort(key=bus.bit_names.index)
        decided, why = True, words.ORDER_BUS.format(name=bus.name, names=", ".join(data))
    elif len({int(number) for number in numbers.values()}) == len(data):
        data.sort(key=lambda name: int(numbers[name]))
        decided, why = True, words.ORDER_NAMES.format(names=", ".join(data))
    else:
        read = read_parallel(capture, ParallelLines(tuple(data), strobe.name, strobe.active)).data
        best, cost, lead = _text_order(read, len(data))
        data = [data[k] for k in best]
        decided = lead >= DECIDED and cost <= LIKE_TEXT * len(read)
        why = (words.ORDER_TEXT if decided else words.ORDER_OPEN).format(names=", ".join(data), lead=lead)
    found = ParallelLines(tuple(data), strobe.name, None, names[0], None, names[1])
    return Proposal(found, decided, (*reasons, why), activity)
