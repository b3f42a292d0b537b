"""Several reads of one chip made into one image, with the read that went wrong and the weak bits named."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any

import numpy as np

from latchlore.base import BadInput, Origin
from latchlore.program import _repairwords as words

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    Array = npt.NDArray[Any]

MARGIN_BITS = 10.0  # evidence for fading against noise, or back, below which neither is said
BAD_READ_FACTOR = 8.0  # a read that differs this many times as often as the others' middle had a bad contact
BAD_READ_LEAST = 8  # bits that a read must differ in before it can be bad


class Rule(StrEnum):
    """How the image was made from the reads."""

    SAME = "all reads equal"
    MAJORITY = "majority"
    AND = "AND"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True, order=True)
class WeakBit:
    """One bit that the kept reads disagree on: address in the image, bit 0 to 7, how many reads gave 1."""

    offset: int
    bit: int
    ones: int
    reads: int

    def __str__(self) -> str:
        return f"{self.offset:04X} bit {self.bit}: 1 in {self.ones} of {self.reads} reads"


@dataclass(frozen=True, slots=True)
class MergedReads:
    """One image from several reads.

    `image`: by the rule; where `rule` is UNDECIDED, by majority with ties 0, and `open_bits` lists the bits on which
    AND and majority differ or that are tied.  `dropped`: (index of the read, why).  `weak`: every bit on which kept
    reads disagree, by address.  `why`: the sentence that says why this rule.
    """

    image: bytes
    rule: Rule
    why: str
    dropped: tuple[tuple[int, str], ...]
    weak: tuple[WeakBit, ...]
    open_bits: tuple[WeakBit, ...]

    def __str__(self) -> str:
        lines = [f"{self.rule}: {self.why}"]
        lines += [f"read {index + 1} dropped: {why}" for index, why in self.dropped]
        lines += [f"weak: {bit}" for bit in self.weak[:20]]
        if len(self.weak) > 20:
            lines.append(f"weak: {words.count(len(self.weak) - 20, 'further bit')}")
        lines += [f"open: {bit}" for bit in self.open_bits[:20]]
        return "\n".join(lines)


def merge_reads(reads: Sequence[bytes], file: str = "reads", rule: Rule | None = None) -> MergedReads:
    """Merge reads of one chip.  Refuses fewer than two and reads of different sizes.

    A read that differs far more often than the others is dropped first.  The rest is explained in two ways: noise of
    the contacts, which flips zeros and ones alike and rarely the same bit twice, calls for the majority; an EPROM
    that fades reads some zeros as ones, again and again the same, and never a one as zero, calls for AND (a zero read
    once is a zero).  The explanation with `MARGIN_BITS` more evidence decides; two reads can never decide.  `rule`:
    AND or MAJORITY as stated; then nothing is weighed, but a read with a bad contact is dropped all the same.
    """
    if len(reads) < 2:
        raise BadInput(Origin(file), f"merging takes two reads or more, not {len(reads)}")
    sizes = sorted({len(read) for read in reads})
    if len(sizes) > 1 or sizes[0] == 0:
        raise BadInput(Origin(file), f"reads of one chip have one size, not {', '.join(map(str, sizes))} bytes")
    bits = np.unpackbits(np.array([list(read) for read in reads], np.uint8), axis=1, bitorder="little")
    dropped = _bad_reads(bits)
    kept = np.delete(bits, [index for index, _ in dropped], axis=0)
    ones, count = kept.sum(axis=0, dtype=np.int64), len(kept)
    weak = _weak(np.nonzero((ones > 0) & (ones < count))[0], ones, count)
    stated = rule
    rule, why = _choose_rule(ones, count)
    if stated is not None and rule is not Rule.SAME:
        rule, why = stated, words.stated_rule(stated.value, len(weak))
    majority = ones * 2 > count
    by_and = ones == count
    chosen = by_and if rule is Rule.AND else majority
    unsure = (majority != by_and) | (ones * 2 == count)
    open_bits = _weak(np.nonzero(unsure & (ones < count) & (ones > 0))[0], ones, count)
    if rule in (Rule.AND, Rule.SAME):
        open_bits = ()
    elif rule is Rule.MAJORITY:
        open_bits = tuple(bit for bit in open_bits if bit.ones * 2 == bit.reads)
    image = np.packbits(chosen.astype(np.uint8), bitorder="little").tobytes()
    return MergedReads(image, rule, why, tuple(dropped), weak, open_bits)


def _weak(places: Array, ones: Array, count: int) -> tuple[WeakBit, ...]:
    return tuple(WeakBit(int(p) // 8, int(p) % 8, int(ones[p]), count) for p in places)


def _bad_reads(bits: Array) -> list[tuple[int, str]]:
    """Reads to drop, with the reason; at least two reads stay."""
    if len(bits) < 3:
        return _stuck_of_two(bits)
    dropped: list[tuple[int, str]] = []
    left = list(range(len(bits)))
    while len(left) > 2:
        kept = bits[left]
        ones = kept.sum(axis=0, dtype=np.int64)
        # compared with the majority of the others, or a bad read would be half of its own judge
        others = ones[None, :] - kept
        differs = ((others * 2 > len(left) - 1) != kept.astype(bool)) & (others * 2 != len(left) - 1)
        errors = differs.sum(axis=1)
        worst = int(np.argmax(errors))
        rest = np.delete(errors, worst)
        if errors[worst] < BAD_READ_LEAST or errors[worst] <= BAD_READ_FACTOR * max(1.0, float(np.median(rest))):
            break
        dropped.append((left[worst], _why_bad(differs[worst], kept[worst], int(errors[worst]))))
        left.pop(worst)
    return sorted(dropped)


def _stuck_of_two(bits: Array) -> list[tuple[int, str]]:
    """Of two reads the one whose data line never moves, where all their differences lie on that line."""
    differs = bits[0] != bits[1]
    lines = sorted(set((np.nonzero(differs)[0] % 8).tolist()))
    if len(lines) != 1 or int(differs.sum()) < BAD_READ_LEAST:
        return []
    moving = [len(set(read[lines[0] :: 8].tolist())) > 1 for read in bits]
    if moving[0] == moving[1]:
        return []
    bad = moving.index(False)
    return [(bad, words.bad_line(lines[0], int(bits[bad][lines[0]]), int(differs.sum())))]


def _why_bad(differs: Array, read: Array, errors: int) -> str:
    places = np.nonzero(differs)[0]
    lines = np.bincount(places % 8, minlength=8)
    line = int(np.argmax(lines))
    if lines[line] >= 0.95 * errors:
        values = read[places[places % 8 == line]]
        level = int(np.bincount(values, minlength=2).argmax())
        if (values == level).mean() >= 0.95:
            return words.bad_line(line, level, errors)
    first, last = int(places[0]) // 8, int(places[-1]) // 8
    return words.bad_stretch(errors, first, last)


def _choose_rule(ones: Array, count: int) -> tuple[Rule, str]:
    counts = np.bincount(ones, minlength=count + 1).astype(float)
    unstable = int(counts[1:count].sum())
    if unstable == 0:
        return Rule.SAME, words.SAME_READS
    if count == 2:
        return Rule.UNDECIDED, words.two_reads(unstable)
    noise, fading = _noise_bits(counts, count), _fading_bits(counts, count)
    if noise - fading > MARGIN_BITS:
        return Rule.AND, words.fading(unstable, int(counts[count // 2 + 1 : count].sum()), round(noise - fading))
    if fading - noise > MARGIN_BITS:
        return Rule.MAJORITY, words.noise(unstable, round(fading - noise))
    return Rule.UNDECIDED, words.no_rule(unstable, round(abs(noise - fading)))


def _noise_bits(counts: Array, count: int) -> float:
    """Bits that the counts of ones take if every bit flips with one small chance at every read; the best chance."""
    return min(_noise_cost(counts, count, 2.0**-k) for k in range(2, 24))


def _noise_cost(counts: Array, count: int, rate: float) -> float:
    high = _share(counts[count // 2 + 1 :].sum(), counts.sum())
    bits = 0.0
    for k, number in enumerate(counts):
        if number:
            ways = math.comb(count, k)
            chance = ways * (
                high * (1 - rate) ** k * rate ** (count - k) + (1 - high) * rate**k * (1 - rate) ** (count - k)
            )
            bits -= number * math.log2(max(chance, 1e-300))
    return bits


def _fading_bits(counts: Array, count: int) -> float:
    """Bits if some zeros are weak, each with its own chance of a one, and ones never read as zero.

    A weak cell gives every count of ones with the same chance; so some cells show all ones, but they cannot be told.
    """
    total = counts.sum()
    weak = _share(counts[1:count].sum() * (count + 1) / max(count - 1, 1), total)
    high = _share(counts[count], total)
    bits = 0.0
    for k, number in enumerate(counts):
        if number:
            chance = weak / (count + 1)
            chance += high if k == count else 0.0
            chance += max(1.0 - weak - high, 1e-12) if k == 0 else 0.0
            bits -= number * math.log2(chance)
    return bits


def _share(part: float, whole: float) -> float:
    return min(max(part / whole, 1e-12), 1 - 1e-12)
