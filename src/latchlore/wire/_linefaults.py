"""Finds what is wrong with data lines from the bytes they gave: stuck, bridged, swapped, inverted, floating.

With a known text beside the log every line is explained by the simplest rule that fits all bytes: the line of its own
number, a constant, another line, an inverted line, two lines bridged (wired AND: low wins; wired OR: high wins).  Of
each rule it is said how many bytes could have proved it wrong: a byte that looks the same either way proves nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from latchlore.wire import _faultwording as words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy.typing as npt

    Bits = npt.NDArray[np.bool_]

BITS = 8
NEARLY = 0.05
"""A rule fits nearly all bytes where so large a part at most does not fit."""
STEADY = 0.15
"""The same while runs are put beside the text, when some pairs are still wrong."""
TESTED = 4
"""So many times as many bytes must have put it to the test."""
SLIPS = 2
"""A rule with so many more misfits is as good, if it is simpler."""
ENOUGH = 7
"""Two lines that could differ must agree in so many bytes before a bridge is named from bytes alone: 1 in 128."""


class Rule(IntEnum):
    """How a logged line follows from the lines sent, the simplest first."""

    TRUE = 0
    STUCK_LOW = 1
    STUCK_HIGH = 2
    SWAPPED = 3
    INVERTED = 4
    SWAPPED_INVERTED = 5
    WIRED_AND = 6
    WIRED_OR = 7


@dataclass(frozen=True, slots=True)
class LineRule:
    """A rule for one line: `sources` are the sent lines it is made of.  `tested`: bytes that could have refuted it.

    A byte tests a rule where the line of its own number would have given the other level; for the true line, every
    byte in which one of the other lines differs from it does.
    """

    line: int
    rule: Rule
    sources: tuple[int, ...]
    tested: int

    def apply(self, sent: int) -> int:
        """The level of the line when this byte is sent."""
        levels = [sent >> source & 1 for source in self.sources]
        match self.rule:
            case Rule.STUCK_LOW:
                return 0
            case Rule.STUCK_HIGH:
                return 1
            case Rule.TRUE | Rule.SWAPPED:
                return levels[0]
            case Rule.INVERTED | Rule.SWAPPED_INVERTED:
                return 1 - levels[0]
            case Rule.WIRED_AND:
                return levels[0] & levels[1]
            case _:
                return levels[0] | levels[1]

    def __str__(self) -> str:
        return words.RULES[self.rule].format(line=self.line, sources=[f"D{s}" for s in self.sources])


@dataclass(frozen=True, slots=True)
class NearRule:
    """A rule that fits nearly all bytes: all but `too_low` that should be 1 and `too_high` that should be 0.

    `first`: index of the first byte that it does not fit.
    """

    rule: LineRule
    too_low: int
    too_high: int
    first: int

    @property
    def misfits(self) -> int:
        """How many bytes it does not fit."""
        return self.too_low + self.too_high


@dataclass(frozen=True, slots=True)
class LineFaults:
    """What eight lines did to a known text.

    `rules[line]`: every rule of the simplest kind that fits all bytes, empty where none does (the line floats, or the
    text is not what was sent).  `unsure`: lines for which several rules fit, or whose rule was tested by no byte.
    `nearly[line]`: where none fits all bytes, those that fit nearly all.
    """

    num_bytes: int
    rules: tuple[tuple[LineRule, ...], ...]
    nearly: tuple[tuple[NearRule, ...], ...] = ((),) * BITS

    @property
    def faults(self) -> tuple[LineRule, ...]:
        """The decided rules of lines that are not their own."""
        return tuple(rules[0] for rules in self.rules if len(rules) == 1 and rules[0].rule is not Rule.TRUE)

    @property
    def unexplained(self) -> tuple[int, ...]:
        """Lines that follow no rule."""
        return tuple(line for line, rules in enumerate(self.rules) if not rules)

    @property
    def unsure(self) -> tuple[int, ...]:
        """Lines with several rules, or one that no byte has put to the test."""
        return tuple(line for line, rules in enumerate(self.rules) if rules and (len(rules) > 1 or not rules[0].tested))

    def preimages(self, logged: int) -> tuple[int, ...]:
        """Every byte that may have been sent where this one was logged, under the decided rules.

        Lines without a decided rule give no help and are left open.
        """
        decided = [rules[0] for rules in self.rules if len(rules) == 1]
        return tuple(
            sent for sent in range(256) if all(rule.apply(sent) == (logged >> rule.line & 1) for rule in decided)
        )

    def describe(self) -> tuple[str, ...]:
        """Sentences for people, the worst first."""
        said = [words.UNEXPLAINED.format(line=line) for line in self.unexplained if not self.nearly[line]]
        for line in self.unexplained:
            for near in self.nearly[line]:
                counts = ((words.TOO_LOW, near.too_low), (words.TOO_HIGH, near.too_high))
                shown = words.AND.join(text.format(num=num) for text, num in counts if num)
                said.append(
                    words.NEARLY.format(
                        rule=near.rule, misfits=near.misfits, num=self.num_bytes, shown=shown, first=near.first
                    )
                )
        for rule in self.faults:
            said.append(words.FAULT.format(rule=rule, tested=rule.tested, num=self.num_bytes))
        for line in self.unsure:
            rules = self.rules[line]
            if len(rules) > 1:
                said.append(words.SEVERAL.format(line=line, rules=words.OR.join(str(rule) for rule in rules)))
            else:
                said.append(words.UNTESTED.format(rule=rules[0]))
        return tuple(said)


def compare_lines(sent: bytes, logged: bytes) -> LineFaults:
    """How each logged line follows from what was sent.  Refuses texts of unequal length, and empty ones."""
    if len(sent) != len(logged):
        raise ValueError(words.LENGTHS.format(sent=len(sent), logged=len(logged)))
    if not sent:
        raise ValueError(words.NOTHING)
    given, got = _bits(sent), _bits(logged)
    rules = tuple(_explain(line, given, got[line]) for line in range(BITS))
    nearly = tuple(() if rules[line] else _nearly(line, given, got[line]) for line in range(BITS))
    return LineFaults(len(sent), rules, nearly)


def likeliest_levels(sent: bytes, logged: bytes) -> tuple[npt.NDArray[np.uint8], int]:
    """What is read for each byte value sent if every line follows the rule with the fewest misfits, the simplest.

    And the mask of the lines that follow theirs in nearly all bytes.
    """
    given, got = _bits(sent), _bits(logged)
    every = _bits(bytes(range(256)))
    table, steady = np.zeros(256, np.uint8), 0
    for line in range(BITS):
        misfits = [int((levels != got[line]).sum()) for _, _, levels in _candidates(line, given)]
        best = misfits.index(min(misfits))
        levels = next(levels for k, (_, _, levels) in enumerate(_candidates(line, every)) if k == best)
        table |= levels.astype(np.uint8) << np.uint8(line)
        steady |= int(misfits[best] <= STEADY * len(logged)) << line
    return table, steady


def _nearly(line: int, given: Bits, got: npt.NDArray[np.bool_]) -> tuple[NearRule, ...]:
    """The rules of the fewest misfits, where few bytes do not fit and many more would have shown the rule wrong."""
    found: list[NearRule] = []
    for rule, sources, levels in _candidates(line, given):
        wrong = np.flatnonzero(levels != got)
        if len(wrong) > NEARLY * len(got):
            continue
        tested = int((levels != given[line]).sum()) if rule is not Rule.TRUE else len(got)
        if rule is not Rule.TRUE and tested < TESTED * len(wrong):
            continue
        one = LineRule(line, rule, sources, tested)
        low = int((levels[wrong]).sum())
        found.append(NearRule(one, low, len(wrong) - low, int(wrong[0])))
    least = min((near.misfits for near in found), default=0)
    near_best = [near for near in found if near.misfits <= least + SLIPS]
    simplest = [near for near in near_best if near.rule.rule is near_best[0].rule.rule] if near_best else []
    return tuple(sorted(simplest, key=lambda near: near.misfits))


def _bits(data: bytes) -> Bits:
    """Shape (8, bytes): the level of each line."""
    raw = np.frombuffer(data, np.uint8)
    return np.array([(raw >> k & 1).astype(bool) for k in range(BITS)])


def _explain(line: int, given: Bits, got: Bits) -> tuple[LineRule, ...]:
    own = given[line]
    found: list[LineRule] = []
    for rule, sources, levels in _candidates(line, given):
        if found and rule != found[0].rule and not _as_simple(rule, found[0].rule):
            break
        if np.array_equal(levels, got):
            if rule is Rule.TRUE:
                tested = int(sum((given[k] != own).any() for k in range(BITS) if k != line) and len(got))
            else:
                tested = int((levels != own).sum())
            found.append(LineRule(line, rule, sources, tested))
            if rule is Rule.TRUE:
                break
    return tuple(found)


def _as_simple(one: Rule, other: Rule) -> bool:
    """Rules between which bytes alone must decide: two kinds of constants, of single lines, of bridges."""
    kinds = ({Rule.TRUE}, {Rule.STUCK_LOW, Rule.STUCK_HIGH}, {Rule.SWAPPED, Rule.INVERTED, Rule.SWAPPED_INVERTED})
    return any(one in kind and other in kind for kind in (*kinds, {Rule.WIRED_AND, Rule.WIRED_OR}))


def _candidates(line: int, given: Bits) -> Iterator[tuple[Rule, tuple[int, ...], Bits]]:
    """Every rule for a line, the simplest first."""
    own = given[line]
    yield Rule.TRUE, (line,), own
    yield Rule.STUCK_LOW, (), np.zeros_like(own)
    yield Rule.STUCK_HIGH, (), np.ones_like(own)
    others = [k for k in range(BITS) if k != line]
    for k in others:
        yield Rule.SWAPPED, (k,), given[k]
    yield Rule.INVERTED, (line,), ~own
    for k in others:
        yield Rule.SWAPPED_INVERTED, (k,), ~given[k]
    for k in others:  # a bridge joins the line with another; it does not invert
        yield Rule.WIRED_AND, tuple(sorted((line, k))), own & given[k]
        yield Rule.WIRED_OR, tuple(sorted((line, k))), own | given[k]


@dataclass(frozen=True, slots=True)
class LineHints:
    """What bytes alone show: lines that never move, and pairs of moving lines that always agree or always differ."""

    num_bytes: int
    low: tuple[int, ...]
    high: tuple[int, ...]
    agree: tuple[tuple[int, int], ...]
    differ: tuple[tuple[int, int], ...]
    bit_7: str

    def describe(self) -> tuple[str, ...]:
        """Sentences for people."""
        said = [words.NEVER_HIGH.format(line=k, num=self.num_bytes) for k in self.low if k != 7]
        said += [words.NEVER_LOW.format(line=k, num=self.num_bytes) for k in self.high if k != 7]
        said += [words.AGREE.format(first=a, second=b, num=self.num_bytes) for a, b in self.agree]
        for pair in self.differ:  # in columns 2 to 5 of ISO 646 bits 5 and 6 are unlike by themselves
            text = words.DIFFER_CAPITALS if pair == (5, 6) else words.DIFFER
            said.append(text.format(first=pair[0], second=pair[1], num=self.num_bytes))
        return (*said, self.bit_7)


def find_hints(logged: bytes, in_order: bytes | None = None) -> LineHints:
    """What can be seen without knowing what was sent.  Refuses an empty log.

    `in_order`: where `logged` is several runs joined, one of them, for what follows from neighbours.
    """
    if not logged:
        raise ValueError(words.NOTHING)
    bits = _bits(logged)
    low = tuple(k for k in range(BITS) if not bits[k].any())
    high = tuple(k for k in range(BITS) if bits[k].all())
    moving = [k for k in range(BITS) if k not in low and k not in high]
    agree = tuple((a, b) for a, b in combinations(moving, 2) if _surely(bits[a] == bits[b], bits[a]))
    differ = tuple((a, b) for a, b in combinations(moving, 2) if _surely(bits[a] != bits[b], bits[a]))
    return LineHints(
        len(logged),
        low,
        high,
        agree,
        differ,
        _describe_bit_7(logged, bits, bits if in_order is None else _bits(in_order)),
    )


def _surely(holds: Bits, first: Bits) -> bool:
    """Whether something holds for all bytes, and the rarer level of the line had enough chances to show it wrong."""
    return bool(holds.all()) and min(int(first.sum()), int((~first).sum())) * 2 >= ENOUGH


def _describe_bit_7(logged: bytes, bits: Bits, in_order: Bits) -> str:
    if not bits[7].any():
        return words.BIT_7_LOW
    if bits[7].all():
        return words.BIT_7_HIGH
    odd = np.bitwise_xor.reduce(bits[:7], axis=0)
    varied = len({byte & 0x7F for byte in logged})
    for parity, name in ((odd, "even"), (~odd, "odd")):
        if np.array_equal(bits[7], parity):
            text = words.BIT_7_PARITY if varied >= ENOUGH else words.BIT_7_PARITY_FEW
            return text.format(name=name, num=varied)
    if np.array_equal(in_order[7, 1:], ~in_order[7, :-1]):
        return words.BIT_7_STROBE
    return words.BIT_7_DATA


def find_text_convention(data: bytes) -> tuple[str, ...]:
    """How a text ends its lines and which codes it keeps to, in sentences.  Nothing for an empty text."""
    if not data:
        return ()
    pairs = data.count(b"\r\n")
    alone_cr, alone_lf = data.count(b"\r") - pairs, data.count(b"\n") - pairs
    kinds = [(pairs, "CR LF"), (alone_cr, "CR alone"), (alone_lf, "LF alone")]
    used = [words.LINE_END.format(count=count, name=name) for count, name in kinds if count]
    said = [words.LINE_ENDS.format(ends=", ".join(used)) if used else words.NO_LINE_END]
    letters = [byte for byte in data if chr(byte).isascii() and chr(byte).isalpha()]
    if letters and all(byte < 0x60 for byte in letters):
        said.append(words.UPPER_CASE.format(count=len(letters)))
    odd = sorted({byte for byte in data if byte >= 0x80})
    control = sorted({byte for byte in data if byte < 0x20 and byte not in b"\r\n"})
    if odd:
        said.append(words.ABOVE_7F.format(count=sum(byte >= 0x80 for byte in data), codes=_codes(odd)))
    if control:
        said.append(words.CONTROLS.format(codes=_codes(control)))
    return tuple(said)


def _codes(values: Sequence[int]) -> str:
    shown = " ".join(f"{value:02X}" for value in values[:12])
    return shown + (" ..." if len(values) > 12 else "")
