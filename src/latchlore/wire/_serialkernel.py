"""Compiled reading of asynchronous serial frames.

Arrays: `times` int64 picoseconds and `levels` uint8 of one line, cleaned (each change to another level).  A bit lasts
`bit` / 1024 picoseconds, so that rounding does not add up over a frame.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import njit

if TYPE_CHECKING:
    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]
    Times = npt.NDArray[np.int64]
    Words = npt.NDArray[np.uint16]


@njit(cache=True, nogil=True)
def read_frames(
    times: Times, levels: Bytes, idle: int, bit: int, num_bits: int, starts: Times, frames: Words, ends: Times
) -> tuple[int, int, int]:
    """Frames of a start bit, `num_bits` bits and a stop bit, each bit looked at in its middle.

    `frames`: the bits, first one lowest, with bit `num_bits` set where the stop bit is at the idle level; bits are 1
    at the idle level.  `ends`: when the stop bit was looked at.  Returns the number of frames, of edges that began no
    frame (the line is idle again at the middle of the start bit), and of frames without a stop bit.
    """
    num = times.shape[0]
    n = false_starts = unstopped = 0
    free = times[0] if num else 0
    k = 1
    while k < num:
        if levels[k] != 1 - idle or levels[k - 1] != idle or times[k] < free:
            k += 1
            continue
        start = times[k]
        j = k
        middle = start + (bit >> 11)
        while j + 1 < num and times[j + 1] <= middle:
            j += 1
        if levels[j] == idle:
            false_starts += 1
            k += 1
            continue
        word = 0
        for b in range(num_bits + 1):
            middle = start + ((2 * b + 3) * bit >> 11)
            while j + 1 < num and times[j + 1] <= middle:
                j += 1
            if levels[j] == idle:
                word |= 1 << b
        starts[n] = start
        frames[n] = word
        ends[n] = middle
        n += 1
        if word >> num_bits & 1:
            free = middle
        else:  # wait for the line to be idle again
            unstopped += 1
            while j + 1 < num and levels[j] != idle:
                j += 1
            if levels[j] != idle:  # it never is
                break
            free = times[j]
        k += 1
        while k < num and times[k] < free:
            k += 1
    return n, false_starts, unstopped


@njit(cache=True, nogil=True)
def fit_bit(lengths: Times, guess: int, most: int) -> tuple[float, float, int]:
    """The bit time that fits lengths between edges of 1 to `most` bits best, its spread, and how many were used.

    Least squares through the origin over whole numbers of bits; the spread is the root of the mean square of what is
    left, as a part of a bit.
    """
    bit = float(guess)
    spread = 1.0
    used = 0
    for _ in range(8):
        over = under = left = 0.0
        used = 0
        for length in lengths:
            count = int(length / bit + 0.5)
            if count < 1 or count > most:
                continue
            used += 1
            over += float(length) * count
            under += float(count) * count
            left += (length / bit - count) ** 2
        if not used:
            return bit, 1.0, 0
        spread = (left / used) ** 0.5
        bit = over / under
    return bit, spread, used
