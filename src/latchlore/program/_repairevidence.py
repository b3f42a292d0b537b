"""How well an image reads as a program with text and tables: the one score by which wirings are compared."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from latchlore.program import _repairpairs as pairs
from latchlore.program._loadcode import get_landmarks, word_at

if TYPE_CHECKING:
    import numpy.typing as npt

    from latchlore.program._repairwiring import Wiring

    Array = npt.NDArray[Any]

# Shares of the mixture that the fast searches compare pairs with; the rest of 1 is "any byte".
CODE_SHARE, TEXT_SHARE = 0.75, 0.15
LANDS_BEHIND_AN_END = 0.3  # how often a call's target follows a return or jump, measured as 0.3 to 0.6 of calls


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What is known about the program in the chip, made ready for the searches.

    `cpu` None: text, tables and repetition only.  `top`: whether the image is known to end at the top of the
    address space (None: not known).  `gain` is log2 of the mixture's chance of a pair.
    """

    cpu: str | None
    code: Array
    text: Array
    gain: Array
    top: bool | None = None

    def score(self, image: bytes, *, ahead: bool = True) -> float:
        """Bits by which code, text, tables, calls and vectors describe the image better than its frequencies do.

        `ahead`: for comparing orders of blocks (address lines); not for comparing meanings of bits (data lines).
        """
        from latchlore.program._repairkernels import description_bits

        array = np.frombuffer(image, np.uint8)
        bits = plain_bits(array) - float(description_bits(array, self.code, self.text, ahead))
        return bits + self.calls(array) + self.vectors(image)

    def known_bits(self, image: bytes, *, ahead: bool = False) -> float:
        """Bits of `score` that are owed to the tables of code and text, calls and vectors, and to nothing else."""
        from latchlore.program._repairkernels import description_bits

        array, anything = np.frombuffer(image, np.uint8), np.full((256, 256), 1 / 256)
        with_tables = float(description_bits(array, self.code, self.text, ahead))
        bits = float(description_bits(array, anything, anything, ahead)) - with_tables
        return bits + self.calls(array) + self.vectors(image)

    def calls(self, array: Array) -> float:
        """Bits for calls that land behind a return or jump; 0 where the processor is not known."""
        from latchlore.program._repairkernels import landing_bits

        if self.cpu is None:
            return 0.0
        kinds, is_big_endian = opcode_kinds(self.cpu)
        return float(landing_bits(array, kinds, is_big_endian, LANDS_BEHIND_AN_END))

    def vectors(self, image: bytes) -> float:
        """Bits for vectors at the top of the space that lead into the image; 0 where that place is ruled out."""
        if self.cpu is None or self.top is False:
            return 0.0
        marks = get_landmarks(self.cpu)
        size = len(image)
        if not marks.vectors or not 64 <= size < 65536:
            return 0.0
        bits = 0.0
        for vector, name in marks.vectors.items():
            at = vector - 65536 + size
            target = word_at(marks, image, at) - 65536 + size
            bits += math.log2(65536 / size) * 0.8 if target >= 0 else -3.0
            if name == "reset" and target >= 0:
                bits += 3.0 if image[target] in marks.starts else -1.0
        return bits if self.top else max(0.0, bits - 1.0)


@cache
def make_evidence(cpu: str | None, top: bool | None = None, without: str = "") -> Evidence:
    """Evidence for a processor, or for none.  Refuses a processor whose pairs were not counted."""
    text = pairs.text_chances()
    code = text if cpu is None else pairs.code_chances(cpu, without)
    mixture = CODE_SHARE * code + TEXT_SHARE * text + (1.0 - CODE_SHARE - TEXT_SHARE) / 256.0
    return Evidence(cpu, code, text, np.log2(mixture).astype(np.float32), top)


def plain_bits(array: Array) -> float:
    """Bits that describe the bytes by their own frequencies alone; the same for every wiring of one dump."""
    counts = np.bincount(array, minlength=256)
    counts = counts[counts > 0]
    return float(-(counts * np.log2(counts / len(array))).sum())


def own_frequencies(array: Array) -> Array:
    """float32[256]: log2 of the frequency of each byte, a byte that does not occur counted as a quarter."""
    counts = np.maximum(np.bincount(array, minlength=256), 0.25)
    base: Array = np.log2(counts / len(array)).astype(np.float32)
    return base


@cache
def opcode_kinds(cpu: str) -> tuple[Array, bool]:
    """uint8[256] with 1 for calls, 2 for jumps that are always taken, 4 for one-byte ends; and the byte order."""
    marks = get_landmarks(cpu)
    kinds = np.zeros(256, np.uint8)
    for flag, opcodes in ((1, marks.calls), (2, marks.always), (4, marks.ends)):
        for code in opcodes:
            kinds[code] |= flag
    return kinds, marks.is_big_endian


def prior_bits(wiring: Wiring) -> float:
    """Bits that a wiring costs before any evidence: the more lines are out of place, the more.

    Among `n` lines there are C(n, d) times D(d) ways to displace just `d` and C(n, k) ways to invert `k`; naming
    one of them takes the logarithm.
    """
    bits = 0.0
    for lines, inverted in ((wiring.address, wiring.address_inverted), (wiring.data, wiring.data_inverted)):
        count = len(lines)
        moved = sum(line != source for line, source in enumerate(lines))
        flipped = inverted.bit_count()
        if moved:
            bits += math.log2(math.comb(count, moved) * _derangements(moved))
        if flipped:
            bits += math.log2(math.comb(count, flipped)) + 1
    return bits


def _derangements(count: int) -> int:
    """How many permutations leave none of `count` things in its place."""
    total = 1
    for i in range(1, count + 1):
        total = i * total + (-1) ** i
    return total
