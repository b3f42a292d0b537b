"""Repeated reads of one chip: simulated contacts and cells with known truth, fixed seeds."""

from __future__ import annotations

import random

import pytest

from latchlore.base import BadInput
from latchlore.program._repairreads import Rule, merge_reads

CHIP = random.Random(1).randbytes(1024)


def noisy(rate: float, seed: int) -> bytes:
    """A read in which every bit may flip."""
    chooser = random.Random(seed)
    return bytes(byte ^ sum((chooser.random() < rate) << bit for bit in range(8)) for byte in CHIP)


def fading(cells: dict[tuple[int, int], float], seed: int) -> bytes:
    """A read in which weak zeros may read as ones."""
    chooser = random.Random(seed)
    read = bytearray(CHIP)
    for (offset, bit), chance in sorted(cells.items()):
        if not CHIP[offset] >> bit & 1 and chooser.random() < chance:
            read[offset] |= 1 << bit
    return bytes(read)


def weak_cells(count: int) -> dict[tuple[int, int], float]:
    """Weak cells, each with its own chance of reading 1."""
    chooser = random.Random(3)
    return {(chooser.randrange(1024), chooser.randrange(8)): chooser.uniform(0.1, 0.9) for _ in range(count)}


def test_same() -> None:
    """Equal reads need no rule."""
    merged = merge_reads([CHIP, CHIP])
    assert (merged.image, merged.rule, merged.weak, merged.dropped) == (CHIP, Rule.SAME, (), ())


@pytest.mark.parametrize("reads", [5, 8])
def test_noise_takes_the_majority(reads: int) -> None:
    """Flips both ways, seldom twice in one place: the majority, and it is the truth."""
    merged = merge_reads([noisy(0.002, seed) for seed in range(reads)])
    assert merged.rule is Rule.MAJORITY
    assert merged.image == CHIP
    assert merged.why.startswith("zeros and ones flip alike and seldom twice, as a noisy contact makes them (")


def test_three_reads_cannot_tell() -> None:
    """Of three reads, flips and weak cells give the same counts; the majority is shown and the doubt with it."""
    merged = merge_reads([noisy(0.002, seed) for seed in range(3)])
    assert (merged.rule, merged.image) == (Rule.UNDECIDED, CHIP)
    assert merged.open_bits


@pytest.mark.parametrize("reads", [5, 8])
def test_fading_takes_and(reads: int) -> None:
    """Weak zeros that waver: AND, though some of them read 1 more often than 0, where the majority would be wrong."""
    dumps = [fading(weak_cells(120), seed) for seed in range(reads)]
    merged = merge_reads(dumps)
    assert merged.rule is Rule.AND
    expected = bytes(CHIP)
    for dump in dumps:
        expected = bytes(a & b for a, b in zip(expected, dump, strict=True))
    assert expected == CHIP
    # a cell that read 1 every time cannot be told from a one: the image is the AND of the reads and no better
    by_and = dumps[0]
    for dump in dumps[1:]:
        by_and = bytes(a & b for a, b in zip(by_and, dump, strict=True))
    assert merged.image == by_and
    wrong_by_majority = sum(
        (sum(dump[offset] >> bit & 1 for dump in dumps) * 2 > reads) != bool(CHIP[offset] >> bit & 1)
        for offset in range(1024)
        for bit in range(8)
    )
    wrong_by_and = sum((a ^ b).bit_count() for a, b in zip(by_and, CHIP, strict=True))
    assert wrong_by_and < wrong_by_majority


def test_bad_contact_is_dropped() -> None:
    """The read whose data line made no contact is found, named and left out."""
    reads = [noisy(0.0005, seed) for seed in range(4)]
    reads[2] = bytes(byte | 0x20 for byte in reads[2])
    merged = merge_reads(reads)
    assert [index for index, _ in merged.dropped] == [2]
    assert merged.dropped[0][1].startswith("bad contact: D5 reads 1 where the others read 0 (")
    assert merged.image == CHIP


def test_bad_contact_of_two() -> None:
    """Of two reads that differ on one line only, the one in which that line never moves is left out."""
    merged = merge_reads([bytes(byte & 0x7F for byte in CHIP), CHIP])
    assert [index for index, _ in merged.dropped] == [0]
    assert merged.image == CHIP


def test_two_reads_cannot_tell() -> None:
    """Two reads that differ here and there decide nothing; the bits are listed."""
    merged = merge_reads([CHIP, noisy(0.001, 5)])
    assert merged.rule is Rule.UNDECIDED
    assert merged.open_bits == merged.weak != ()
    assert merged.why.endswith("bits differ, and two reads cannot tell noise from fading; read the chip again")


def test_few_bits_cannot_tell() -> None:
    """One wavering bit is too little evidence; it is left open and shown."""
    other = bytes([CHIP[0] ^ 1]) + CHIP[1:]
    merged = merge_reads([CHIP, CHIP, other])
    assert merged.rule is Rule.UNDECIDED
    assert [(bit.offset, bit.bit) for bit in merged.weak] == [(0, 0)]


def test_merge_wrong() -> None:
    """One read, and reads of different sizes, are refused."""
    with pytest.raises(BadInput, match=r"^reads: merging takes two reads or more, not 1$"):
        merge_reads([CHIP])
    with pytest.raises(BadInput, match=r"^reads: reads of one chip have one size, not 512, 1024 bytes$"):
        merge_reads([CHIP, CHIP[:512]])
