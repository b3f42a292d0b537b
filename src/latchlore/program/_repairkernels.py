"""The inner loops of the repair, compiled; `_repairtwins.py` says the same plainly.

What the arguments mean:

- `image`: uint8, the bytes in address order.
- `code`, `text`: float64[256, 256], the chance of the second byte after the first.
- `gain`: float32[256, 256], log2 of the chance of a pair in code (or text), without any baseline.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

if TYPE_CHECKING:
    import numpy.typing as npt

    Array = npt.NDArray[Any]

EXPERTS = 7
SWITCH = 0.03  # how readily an image changes between code, text, tables and fill
RUN = 0.95  # chance of one more byte of a run, for the expert in runs


@njit(cache=True)
def description_bits(image: Array, code: Array, text: Array, ahead: bool) -> float:
    """Bits that describe the image byte by byte under a mixture of experts whose weights follow their success.

    The experts: any byte; the code table; the text table; a run of the last byte; the frequencies; the steps (byte
    less last byte); what follows the last byte.  The last three know what came before; with `ahead` they know the
    whole image but for the byte in question.  Orders of blocks are compared with `ahead`, or else the order that
    brings like to like would win; meanings of bits without, or else the image would explain itself.
    """
    size = image.shape[0]
    if size < 2:
        return float(8 * size)
    counts = np.zeros(256)
    steps = np.zeros(256)
    follow = np.zeros((256, 256), np.float32)
    after = np.zeros(256)
    counts[image[0]] = 1.0
    if ahead:
        for i in range(1, size):
            _learn(image[i - 1], image[i], counts, steps, follow, after, 1.0)
    weights = np.full(EXPERTS, 1.0 / EXPERTS)
    chance = np.zeros(EXPERTS)
    bits = 8.0
    last = image[0]
    for i in range(1, size):
        here = image[i]
        if ahead:
            _learn(last, here, counts, steps, follow, after, -1.0)
        known = float(size - 1 if ahead else i)
        own = (counts[here] + 0.25) / (known + 64.0)
        chance[0] = 1.0 / 256.0
        chance[1] = code[last, here]
        chance[2] = text[last, here]
        chance[3] = RUN if here == last else (1.0 - RUN) / 255.0
        chance[4] = own
        chance[5] = (steps[(int(here) - int(last)) & 255] + 0.05) / (known - 1.0 + 12.8)
        chance[6] = (follow[last, here] + 2.0 * own) / (after[last] + 2.0)
        total = 0.0
        for k in range(EXPERTS):
            total += weights[k] * chance[k]
        bits -= math.log2(total)
        for k in range(EXPERTS):
            weights[k] = (1.0 - SWITCH) * weights[k] * chance[k] / total + SWITCH / EXPERTS
        _learn(last, here, counts, steps, follow, after, 1.0)
        last = here
    return float(bits)


@njit(cache=True)
def _learn(last: int, here: int, counts: Array, steps: Array, follow: Array, after: Array, times: float) -> None:
    counts[here] += times
    steps[(int(here) - int(last)) & 255] += times
    follow[last, here] += times
    after[last] += times


@njit(cache=True)
def window_gains(image: Array, gain: Array, base: Array, width: int, least: float, tables: Array) -> Array:
    """For each of the byte tables (uint8[k, 256]) the bits won in windows that win more than `least`.

    `base`: float32[256], log2 of the frequency of each byte of the dump, which a pair must beat.
    """
    size = image.shape[0]
    result = np.zeros(tables.shape[0])
    for k in range(tables.shape[0]):
        table = tables[k]
        total = 0.0
        start = 0
        while start + 1 < size:
            stop = min(start + width, size)
            won = 0.0
            first = table[image[start]]
            for i in range(start + 1, stop):
                second = table[image[i]]
                won += gain[first, second] - base[image[i]]
                first = second
            if won > least:
                total += won - least
            start = stop
        result[k] = total
    return result


@njit(cache=True)
def climb_data(
    pairs: Array, numbers: Array, image: Array, base: Array, width: int, gain: Array, lines: Array, flips: bool
) -> float:
    """Improve a wiring of the data lines in place by swaps, and by inversions where `flips`, until nothing helps.

    `lines`: int64[9], the source of each bit and, last, the inverted bits.  What counts is the sum over the pairs
    (their number times `gain`) where there are any, else over the windows of `image` (see `window_gains`, least 0).
    Returns the sum reached.
    """
    table = np.zeros(256, np.uint8)
    best = _climb_sum(pairs, numbers, image, base, width, gain, lines, table)
    while True:
        found = best
        kind, at, other = 0, 0, 0
        for i in range(8):
            for j in range(i + 1, 8):
                _swap(lines, i, j)
                total = _climb_sum(pairs, numbers, image, base, width, gain, lines, table)
                _swap(lines, i, j)
                if total > found + 1e-6:
                    found, kind, at, other = total, 1, i, j
            if flips:
                lines[8] ^= 1 << i
                total = _climb_sum(pairs, numbers, image, base, width, gain, lines, table)
                lines[8] ^= 1 << i
                if total > found + 1e-6:
                    found, kind, at, other = total, 2, i, 0
        if kind == 0:
            return float(best)
        best = found
        if kind == 1:
            _swap(lines, at, other)
        else:
            lines[8] ^= 1 << at


@njit(cache=True)
def _swap(lines: Array, i: int, j: int) -> None:
    lines[i], lines[j] = lines[j], lines[i]
    differ = (lines[8] >> i ^ lines[8] >> j) & 1  # an inversion goes with its line
    lines[8] ^= differ << i | differ << j


@njit(cache=True)
def _climb_sum(
    pairs: Array, numbers: Array, image: Array, base: Array, width: int, gain: Array, lines: Array, table: Array
) -> float:
    for value in range(256):
        result = 0
        for i in range(8):
            result |= (value >> lines[i] & 1) << i
        table[value] = result ^ lines[8]
    total = 0.0
    for p in range(pairs.shape[0]):
        total += numbers[p] * gain[table[pairs[p, 0]], table[pairs[p, 1]]]
    for start in range(0, image.shape[0] - 1, width):
        won = 0.0
        first = table[image[start]]
        for i in range(start + 1, min(start + width, image.shape[0])):
            second = table[image[i]]
            won += gain[first, second] - base[image[i]]
            first = second
        if won > 0.0:
            total += won
    return float(total)


@njit(cache=True)
def count_pairs(first: Array, second: Array) -> Array:
    """How often each pair occurs: float32[256, 256]."""
    table = np.zeros((256, 256), np.float32)
    for i in range(first.shape[0]):
        table[first[i], second[i]] += 1.0
    return table


@njit(cache=True)
def landing_bits(image: Array, kinds: Array, is_big_endian: bool, share: float) -> float:
    """Bits for calls whose target follows an end of code, under the best load address, a multiple of the size.

    `kinds`: uint8[256], see `opcode_kinds`.  The image's size is a power of two.  Targets with other high bits
    than the load address are no calls into this image and count nothing, and each target counts once: a pattern
    of three bytes that occurs often is one coincidence and not many.
    """
    size = image.shape[0]
    if size < 8:
        return 0.0
    hits = 0
    for at in range(size):
        if _follows_end(image, kinds, at):
            hits += 1
    rate = (hits + 0.5) / (size + 1.0)
    won = math.log2((share + (1.0 - share) * rate) / rate)
    lost = math.log2(1.0 - share)
    bases = max(65536 // size, 1)
    sums = np.zeros(bases)
    seen = np.zeros(65536, np.uint8)
    for at in range(size - 2):
        if kinds[image[at]] & 1:
            low, high = int(image[at + 1]), int(image[at + 2])
            target = (low << 8 | high) if is_big_endian else (high << 8 | low)
            if seen[target]:
                continue
            seen[target] = 1
            base = target // size % bases
            sums[base] += won if _follows_end(image, kinds, target & (size - 1)) else lost
    return max(0.0, float(sums.max()) - math.log2(bases))


@njit(cache=True)
def _follows_end(image: Array, kinds: Array, at: int) -> bool:
    if at >= 1 and kinds[image[at - 1]] & 4:
        return True
    return at >= 3 and kinds[image[at - 3]] & 2 != 0
