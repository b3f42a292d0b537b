"""Compiled reading of tables of samples: text with separators, and packed binary words.

Arrays: `raw` uint8, a piece of the file; `wants` int64 a column: -1 not wanted, -2 the time, else the channel.
`state` int64 by the numbers below.  `levels` uint8 a channel: its level so far (`FREE`, 9, before the first).
`low`, `high` int64 a channel: thresholds in nanovolts; a value at or below `low` is 0, at or above `high` is 1,
between them the level stays.  Where `low` is above `high` the column holds levels: 0, 1, x, z.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from latchlore.wire._vcdkernel import LEVEL

if TYPE_CHECKING:
    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]
    Counts = npt.NDArray[np.int64]
    Channels = npt.NDArray[np.int32]

POS, ROWS, TIME, NUM, COLUMN, AT, ROUNDED, LONGEST, FIRST, HOLES, STATE_SIZE = range(11)
"""Of `state`: the next byte; rows read; the last time (picoseconds, -1 before the first row); changes put out; where
a refused field stands; times rounded; the longest step between two rows, holes apart; the first time; holes put out."""
HOLE_STEPS = 4
"""Two rows so many usual steps apart have a hole between them: rows that were lost."""
MORE, FULL, NO_NUMBER, NOT_A_LEVEL, TOO_SHORT, BACKWARDS, TOO_LARGE = range(7)
"""Why reading stopped: the piece is used up; the output is full; a field that is no number; a field that is no level;
a row with too few fields; a time before the one above; a number too large."""
MOST = 9 * 10**18
_DIGITS_MOST = 17
_POINTS = (44, 46)  # a decimal comma is a point where the comma does not part fields
FREE = 9
_STAYS = 8  # a voltage between the thresholds


@njit(cache=True)
def parse_number(raw: Bytes, first: int, last: int, power: int) -> tuple[int, int, int]:
    """The number in raw[first:last] times 10 to the `power`: (whole number, 1 where it was rounded, or why not).

    Takes ``-1.5e-3`` and the like.  Exact as long as 17 digits are enough; more digits count as rounding.
    """
    while first < last and (raw[first] == 32 or raw[first] == 34):
        first += 1
    while last > first and (raw[last - 1] == 32 or raw[last - 1] == 34):
        last -= 1
    sign = 1
    k = first
    if k < last and (raw[k] == 43 or raw[k] == 45):
        sign = -1 if raw[k] == 45 else 1
        k += 1
    value = digits = 0
    shift = power
    seen = point = False
    lost = 0
    while k < last:
        byte = raw[k]
        if 48 <= byte <= 57:
            seen = True
            if digits < _DIGITS_MOST:
                value = value * 10 + (byte - 48)
                digits += value > 0
                if point:
                    shift -= 1
            else:
                lost |= byte != 48
                if not point:
                    shift += 1
        elif byte in _POINTS and not point:
            point = True
        else:
            break
        k += 1
    if not seen:
        return 0, 0, NO_NUMBER
    if k < last and (raw[k] == 69 or raw[k] == 101):
        k += 1
        down = False
        if k < last and (raw[k] == 43 or raw[k] == 45):
            down = raw[k] == 45
            k += 1
        exponent = 0
        if k >= last:
            return 0, 0, NO_NUMBER
        while k < last:
            if raw[k] < 48 or raw[k] > 57 or exponent > 999:
                return 0, 0, NO_NUMBER
            exponent = exponent * 10 + (raw[k] - 48)
            k += 1
        shift += -exponent if down else exponent
    if k < last:
        return 0, 0, NO_NUMBER
    while shift > 0 and value:
        if value > MOST // 10:
            return 0, 0, TOO_LARGE
        value *= 10
        shift -= 1
    if shift < 0 and value:
        if shift < -_DIGITS_MOST - 1:
            return 0, 1, 0
        scale = 1
        for _ in range(-shift):
            scale *= 10
        if value % scale:
            lost = 1
        value = (value + scale // 2) // scale
    return sign * value, lost, 0


@njit(cache=True, inline="always")
def sample_time(index: int, numerator: int, denominator: int) -> int:
    """When a sample was taken, in picoseconds rounded down; in two parts, so that the product stays below 2^63."""
    return index * (numerator // denominator) + index * (numerator % denominator) // denominator


@njit(cache=True, nogil=True)
def read_rows(
    raw: Bytes,
    state: Counts,
    separator: int,
    wants: Counts,
    power: int,
    per_row: Counts,
    usual: int,
    holes: Counts,
    levels: Bytes,
    low: Counts,
    high: Counts,
    channel: Channels,
    times: Counts,
    level: Bytes,
) -> int:
    """Read whole lines from ``state[POS]`` on; changes of level are put out.  One of the reasons above.

    `per_row` (numerator, denominator): without a time column row k is at k * numerator / denominator picoseconds.
    Lines end in LF, CR LF or CR.  Empty lines and lines that begin with ``#`` or ``;`` are passed over.  A separator
    between quotes parts nothing.  `usual`: the step by which holes are told, 0 where none are; each is put out as a row
    of `holes`, from where a row is missing to the next one, and in it no line has a level.
    """
    end = raw.shape[0]
    pos = state[POS]
    num = state[NUM]
    num_columns = wants.shape[0]
    fresh = np.zeros(levels.shape[0], np.uint8)
    while True:
        stop = pos
        while stop < end and (raw[stop] > 13 or (raw[stop] != 10 and raw[stop] != 13)):
            stop += 1
        if stop >= end:
            state[POS], state[NUM] = pos, num
            return MORE
        line_end = stop  # of CR LF the LF is an empty line
        first = pos
        while first < line_end and raw[first] == 32:
            first += 1
        if first == line_end or raw[first] == 35 or raw[first] == 59:
            pos = stop + 1
            continue
        if num + 2 * levels.shape[0] > times.shape[0] or state[HOLES] >= holes.shape[0]:
            state[POS], state[NUM] = pos, num
            return FULL
        now = sample_time(state[ROWS], per_row[0], per_row[1])
        column = 0
        begin = pos
        reason = 0
        quoted = False
        for k in range(pos, line_end + 1):
            if k < line_end and raw[k] != separator:
                quoted ^= raw[k] == 34
                continue
            if quoted and k < line_end:
                continue
            if column < num_columns:
                want = wants[column]
                if want == -2:
                    now, rounded, reason = parse_number(raw, begin, k, power)
                    state[ROUNDED] += rounded
                elif want >= 0:
                    a = begin
                    b = k
                    while a < b and (raw[a] == 32 or raw[a] == 34):
                        a += 1
                    while b > a and (raw[b - 1] == 32 or raw[b - 1] == 34):
                        b -= 1
                    if low[want] > high[want]:
                        fresh[want] = LEVEL[raw[a]] if b - a == 1 else FREE
                        if fresh[want] == FREE:
                            reason = NOT_A_LEVEL
                    else:
                        volts, _, reason = parse_number(raw, a, b, 9)
                        if volts <= low[want]:
                            fresh[want] = 0
                        elif volts >= high[want]:
                            fresh[want] = 1
                        else:
                            fresh[want] = _STAYS
                if reason:
                    state[COLUMN], state[AT] = column, begin
                    state[POS], state[NUM] = pos, num
                    return reason
            column += 1
            begin = k + 1
        if column < num_columns:
            state[COLUMN], state[AT], state[POS], state[NUM] = column, pos, pos, num
            return TOO_SHORT
        if state[ROWS] and now < state[TIME]:
            state[AT], state[POS], state[NUM] = pos, pos, num
            return BACKWARDS
        if not state[ROWS]:
            state[FIRST] = now
        elif usual and now - state[TIME] > HOLE_STEPS * usual:
            holes[state[HOLES], 0] = state[TIME] + usual
            holes[state[HOLES], 1] = now
            state[HOLES] += 1
            for c in range(levels.shape[0]):
                if levels[c] != 2:
                    levels[c] = 2
                    channel[num] = c
                    times[num] = state[TIME] + usual
                    level[num] = 2
                    num += 1
        else:
            state[LONGEST] = max(state[LONGEST], now - state[TIME])
        state[TIME] = now
        state[ROWS] += 1
        for c in range(levels.shape[0]):
            if fresh[c] == _STAYS:
                fresh[c] = levels[c] if levels[c] < FREE else 2
            if fresh[c] != levels[c]:
                levels[c] = fresh[c]
                channel[num] = c
                times[num] = now
                level[num] = fresh[c]
                num += 1
        pos = stop + 1


@njit(cache=True, nogil=True)
def read_words(
    words: Counts,
    first: int,
    per_word: Counts,
    bits: Counts,
    levels: Bytes,
    channel: Channels,
    times: Counts,
    level: Bytes,
) -> tuple[int, int]:
    """Changes among packed samples; `bits` is the bit of each channel.  Returns words read and changes put out."""
    num = 0
    for k in range(words.shape[0]):
        word = words[k]
        if k and word == words[k - 1]:
            continue
        if num + levels.shape[0] > times.shape[0]:
            return k, num
        now = sample_time(first + k, per_word[0], per_word[1])
        for c in range(levels.shape[0]):
            fresh = np.uint8(word >> bits[c] & 1)
            if fresh != levels[c]:
                levels[c] = fresh
                channel[num] = c
                times[num] = now
                level[num] = fresh
                num += 1
    return words.shape[0], num
