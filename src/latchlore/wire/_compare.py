"""Compares what arrived with what was sent: lost, extra and changed bytes, and what a host adds to a ramp."""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from latchlore.wire import _comparewording as words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from latchlore.base import Span


class Step(StrEnum):
    """What happened to a byte."""

    LOST = "lost"
    EXTRA = "extra"
    CHANGED = "changed"


@dataclass(frozen=True, slots=True)
class Difference:
    """One step from what was sent to what arrived.

    `sent_at` and `got_at`: where in the two streams (of a lost byte `got_at` is the byte that follows it, of an extra
    one `sent_at` likewise).  `sent`, `got`: the bytes, None where there is none.  `first`, `last`: between which
    places of the longer stream the step may lie just as well, since equal bytes stand side by side.  `why`: what the
    times say of it, or empty.
    """

    step: Step
    sent_at: int
    got_at: int
    sent: int | None
    got: int | None
    first: int
    last: int
    why: str = ""

    def __str__(self) -> str:
        sent, got = (None if byte is None else f"{byte:02X}" for byte in (self.sent, self.got))
        text = words.STEPS[self.step].format(sent=sent, got=got, sent_at=self.sent_at, got_at=self.got_at)
        if self.first != self.last:
            text += words.ANYWHERE.format(first=self.first, last=self.last)
        return text + (f"; {self.why}" if self.why else "")


def compare_streams(sent: bytes, got: bytes, times: Sequence[Span | None] | None = None) -> tuple[Difference, ...]:
    """The fewest steps from what was sent to what arrived, in order.

    `times`: of each byte that arrived.  Where a byte is lost among equal ones, the place with the longest pause is
    named.  Refuses times of another number than bytes.
    """
    if times is not None and len(times) != len(got):
        raise ValueError(words.TIMES.format(times=len(times), got=len(got)))
    from rapidfuzz.distance import Levenshtein

    found: list[Difference] = []
    for op in Levenshtein.editops(sent, got):
        tag, a, b = op.tag, op.src_pos, op.dest_pos
        if tag == "replace":
            found.append(Difference(Step.CHANGED, a, b, sent[a], got[b], a, a))
        elif tag == "delete":
            first, last = _reach(sent, a)
            found.append(Difference(Step.LOST, a, b, sent[a], None, first, last))
        else:
            first, last = _reach(got, b)
            found.append(Difference(Step.EXTRA, a, b, None, got[b], first, last))
    return tuple(_with_time(step, times) if step.step is Step.LOST and times else step for step in found)


def _reach(data: bytes, at: int) -> tuple[int, int]:
    """The run of equal bytes around a place."""
    first = last = at
    while first and data[first - 1] == data[at]:
        first -= 1
    while last + 1 < len(data) and data[last + 1] == data[at]:
        last += 1
    return first, last


def _with_time(step: Difference, times: Sequence[Span | None]) -> Difference:
    """Move a loss among equal bytes to the longest pause beside one of them, and say how long that pause is."""
    shift = step.sent_at - step.got_at
    low = max(1, step.first - shift)
    high = min(len(times) - 1, step.last - shift)
    pauses: list[tuple[int, int]] = []
    for at in range(low, high + 1):
        before, here = times[at - 1], times[at]
        if before is not None and here is not None:
            pauses.append((here.picoseconds - before.picoseconds, -at))
    known = [t.picoseconds for t in times if t is not None]
    gaps = sorted(b - a for a, b in itertools.pairwise(known))
    if not pauses or not gaps:
        return step
    longest, at = max(pauses)
    usual = gaps[len(gaps) // 2]
    why = words.PAUSE.format(times=longest / usual) if usual else ""
    place = -at + shift
    return Difference(step.step, place, -at, step.sent, step.got, step.first, step.last, why)


@dataclass(frozen=True, slots=True)
class HostRule:
    """Something a host does to the bytes sent through it; `explains` counts the differences it accounts for."""

    words: str
    explains: int


@dataclass(frozen=True, slots=True)
class RampReport:
    """What a host made of a known stream: rules in words, and the differences that no rule explains."""

    rules: tuple[HostRule, ...]
    unexplained: tuple[Difference, ...]


@dataclass(frozen=True, slots=True)
class _Inserted:
    """Bytes that stand together in what arrived and were not sent: in front of sent byte `before`."""

    before: int
    got_at: int
    data: bytes


_COUNTS: tuple[tuple[str, Callable[[int], bool]], ...] = (
    (words.COUNT_ALL, lambda _: True),
    (words.COUNT_PRINTING, lambda byte: byte >= 0x20),
    (words.COUNT_PRINTING_7, lambda byte: byte & 0x7F >= 0x20 and byte != 0x7F),
)


def explain_host(sent: bytes, got: bytes) -> RampReport:
    """What a host adds to, changes in and keeps back from a stream, such as the ramp 00 to FF.

    Looks for bytes put in after every so many bytes (all, or printing ones only), bytes put before certain codes,
    codes that always arrive as others, and codes that never arrive.
    """
    differences = compare_streams(sent, got)
    inserted = _group(d for d in differences if d.step is Step.EXTRA)
    rules: list[HostRule] = []
    left: list[Difference] = []
    by_data: dict[bytes, list[_Inserted]] = {}
    for piece in inserted:
        by_data.setdefault(piece.data, []).append(piece)
    for data, pieces in by_data.items():
        if len(pieces) == 1:
            rule = _once(sent, pieces[0])
        else:
            rule = _counted(sent, data, pieces) or _prefixed(sent, data, pieces)
        if rule is None:
            extra = {at for piece in pieces for at in range(piece.got_at, piece.got_at + len(piece.data))}
            left += [d for d in differences if d.step is Step.EXTRA and d.got_at in extra]
        else:
            rules.append(rule)
    rules += _changes(sent, differences, left)
    return RampReport(tuple(rules), tuple(sorted(left, key=lambda d: (d.sent_at, d.got_at))))


def _group(extras: Iterable[Difference]) -> list[_Inserted]:
    pieces: list[_Inserted] = []
    for extra in extras:
        assert extra.got is not None
        last = pieces[-1] if pieces else None
        if last is not None and last.before == extra.sent_at and last.got_at + len(last.data) == extra.got_at:
            pieces[-1] = _Inserted(last.before, last.got_at, last.data + bytes([extra.got]))
        else:
            pieces.append(_Inserted(extra.sent_at, extra.got_at, bytes([extra.got])))
    return pieces


def _once(sent: bytes, piece: _Inserted) -> HostRule | None:
    """A line end put in once: likely the first of many, but one place tells no rule."""
    if not set(piece.data) <= {0x0D, 0x0A}:
        return None
    printing = sum(byte >= 0x20 for byte in sent[: piece.before])
    text = words.ONCE.format(data=_hex(piece.data), number=piece.before, printing=printing)
    return HostRule(text, len(piece.data))


def _counted(sent: bytes, data: bytes, pieces: list[_Inserted]) -> HostRule | None:
    """Whether the pieces stand after every so many counted bytes, and nowhere is one missing."""
    for name, counts in _COUNTS:
        numbers = [sum(map(counts, sent[: piece.before])) for piece in pieces]
        step = numbers[0]
        total = sum(map(counts, sent))
        # a full line at the very end may or may not get its line end
        if step and numbers == [step * (k + 1) for k in range(len(pieces))] and total <= step * (len(pieces) + 1):
            text = words.EVERY.format(data=_hex(data), step=step, name=name, count=len(pieces))
            return HostRule(text, len(pieces) * len(data))
    return None


def _prefixed(sent: bytes, data: bytes, pieces: list[_Inserted]) -> HostRule | None:
    """Whether the pieces stand before every occurrence of certain codes."""
    codes = sorted({sent[piece.before] for piece in pieces if piece.before < len(sent)})
    places = {at for at, byte in enumerate(sent) if byte in codes}
    if codes and {piece.before for piece in pieces} == places:
        text = words.BEFORE.format(data=_hex(data), codes=_hex(bytes(codes)), count=len(pieces))
        return HostRule(text, len(pieces) * len(data))
    return None


def _changes(sent: bytes, differences: Sequence[Difference], left: list[Difference]) -> list[HostRule]:
    """Rules on single codes: always changed to the same other, or never arriving."""
    total = Counter(sent)
    rules: list[HostRule] = []
    changed = [d for d in differences if d.step is Step.CHANGED and d.sent is not None and d.got is not None]
    pairs = Counter((d.sent, d.got) for d in changed)
    always = {pair: count for pair, count in pairs.items() if pair[0] is not None and count == total[pair[0]]}
    masks: dict[int, list[int]] = {}
    for source, target in always:
        if source is not None and target is not None:
            masks.setdefault(source ^ target, []).append(source)
    for mask, codes in sorted(masks.items()):
        text = words.CHANGED.format(codes=_hex(bytes(sorted(codes))), mask=mask)
        rules.append(HostRule(text, sum(total[code] for code in codes)))
    left += [d for d in changed if (d.sent, d.got) not in always]
    lost = [d for d in differences if d.step is Step.LOST and d.sent is not None]
    counts = Counter(d.sent for d in lost)
    never = sorted(code for code, count in counts.items() if code is not None and count == total[code])
    for text, codes in (
        (words.NEVER, [code for code in never if total[code] > 1]),
        (words.NEVER_ONCE, [code for code in never if total[code] == 1]),
    ):
        if codes:
            rules.append(HostRule(text.format(codes=_hex(bytes(codes))), sum(total[code] for code in codes)))
    left += [d for d in lost if d.sent not in never]
    return rules


def _hex(data: bytes) -> str:
    return data.hex(" ").upper() if len(data) <= 16 else f"{data[:16].hex(' ').upper()} ..."
