"""Compiled reading of the value changes of a VCD file (IEEE 1364-2005, clause 18.2).

Packed arrays, used by every function here:

* `raw` uint8: a piece of the file; a record that it holds in part only is left for the next piece.
* `state` int64, by the numbers below: where reading stands, how much was put out, why it stopped.
* `codes` uint64, `slots` int32: a hash table from identifier codes to channels, open addressing, its length a power
  of two; a free slot holds -1.  Codes longer than 8 characters are hashed to 64 bits by `_mix`; the reader of the
  header refuses two codes of one file that fall together.
* `single` int32 (256): the channel of each code of one character, -1 where there is none.
* `kinds` uint8, `widths` int64: of each channel, by `LOGIC`, `VECTOR`, `REAL`.
* bits: 0, 1, 2 unknown, 3 high impedance.  Of a vector, two planes of 64-bit words, lowest word first: `value` and
  `unknown`; (unknown, value) = (0, 0) is 0, (0, 1) is 1, (1, 0) is x, (1, 1) is z.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import njit, uint64

if TYPE_CHECKING:
    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]
    Counts = npt.NDArray[np.int64]
    Words = npt.NDArray[np.uint64]
    Channels = npt.NDArray[np.int32]

LOGIC, VECTOR, REAL = 0, 1, 2

POS, TICKS, NUM_BITS, NUM_VECTORS, NUM_WORDS, NUM_REALS, AT, STATE_SIZE = range(8)
"""Of `state`: the next byte to read; the time in force (-1 before the first); how many changes of each kind, and
words of vectors, were put out; the byte at which reading stopped."""

MORE, FULL, KEYWORD, STRANGER, BACKWARDS, NO_RECORD, TOO_WIDE, TOO_LATE, WRONG_KIND = range(9)
"""Why reading stopped: the piece is used up; an output array is full; a ``$`` keyword; an identifier that the header
does not name; a time before the one in force; no record starts like this; more digits than bits; a time of more than
18 digits; a real value for a channel of bits, or bits for a real."""

MOST_TICKS = 10**18
_BLANK = 32  # this and all codes below it part tokens
NO_LEVEL = 9
"""In `LEVEL`: a character that is no level."""
_BIT, _TIME, _BITS, _QUANTITY, _KEYWORD = range(1, 6)


def _per_byte(rest: int, **sets: int) -> Bytes:
    """A value a byte: of the characters named, and of all others."""
    table = np.full(256, rest, np.uint8)
    for letters, value in sets.items():
        for letter in letters.strip("_"):
            table[ord(letter)] = value
    return table


LEVEL = _per_byte(NO_LEVEL, _0=0, _1=1, xX=2, zZ=3)
"""The level a character stands for."""
_LEAD = _per_byte(0, _01xXzZ=_BIT, bB=_BITS, rR=_QUANTITY)
_LEAD[ord("#")], _LEAD[ord("$")] = _TIME, _KEYWORD


@njit(cache=True, inline="always")
def _mix(code: int, byte: int) -> int:
    """One more character of an identifier code; exact for up to 8 of them."""
    mixed: int = uint64((code << uint64(8)) ^ (code >> uint64(56)) * uint64(0x9E3779B97F4A7C15)) ^ uint64(byte)
    return mixed


@njit(cache=True)
def hash_code(text: Bytes) -> int:
    """The number under which an identifier code is found."""
    code: int = uint64(0)
    for byte in text:
        code = _mix(code, byte)
    return code


@njit(cache=True, inline="always")
def _find(code: int, codes: Words, slots: Channels) -> int:
    mask = uint64(codes.shape[0] - 1)
    slot = (code * uint64(0x9E3779B97F4A7C15) >> uint64(40)) & mask
    while slots[slot] >= 0:
        if codes[slot] == code:
            channel: int = slots[slot]
            return channel
        slot = (slot + uint64(1)) & mask
    return -1


@njit(cache=True)
def fill_table(wanted: Words, codes: Words, slots: Channels) -> int:
    """Put the channels' codes into an empty table; the number of a channel whose code is there already, or -1."""
    mask = uint64(codes.shape[0] - 1)
    for channel in range(wanted.shape[0]):
        if _find(wanted[channel], codes, slots) >= 0:
            return channel
        slot = (wanted[channel] * uint64(0x9E3779B97F4A7C15) >> uint64(40)) & mask
        while slots[slot] >= 0:
            slot = (slot + uint64(1)) & mask
        codes[slot], slots[slot] = wanted[channel], channel
    return -1


@njit(cache=True)
def _put_vector(
    raw: Bytes, first: int, last: int, words: int, width: int, value: Words, unknown: Words, at: int
) -> int:
    """Write the digits of raw[first:last] as planes of so many words; 0, or why not."""
    for k in range(words):
        value[at + k] = uint64(0)
        unknown[at + k] = uint64(0)
    if last - first > width:
        return TOO_WIDE
    for bit in range(last - first):
        level = LEVEL[raw[last - 1 - bit]]
        if level == NO_LEVEL:
            return NO_RECORD
        value[at + (bit >> 6)] |= uint64(level & 1) << uint64(bit & 63)
        unknown[at + (bit >> 6)] |= uint64(level >> 1) << uint64(bit & 63)
    lead = LEVEL[raw[first]]
    if lead >= 2:  # left extension: x and z repeat; after 0 and 1 comes 0, which is there already
        for bit in range(last - first, width):
            value[at + (bit >> 6)] |= uint64(lead & 1) << uint64(bit & 63)
            unknown[at + (bit >> 6)] |= uint64(1) << uint64(bit & 63)
    return 0


@njit(cache=True, nogil=True)
def read_changes(
    raw: Bytes,
    state: Counts,
    single: Channels,
    codes: Words,
    slots: Channels,
    kinds: Bytes,
    widths: Counts,
    bit_channel: Channels,
    bit_ticks: Counts,
    bit_level: Bytes,
    vector_channel: Channels,
    vector_ticks: Counts,
    value: Words,
    unknown: Words,
    real_channel: Channels,
    real_ticks: Counts,
    real_first: Counts,
    real_last: Counts,
) -> int:
    """Read records from ``state[POS]`` on until something stops it; one of the reasons above.

    `state[POS]` ends behind the last whole record.  A record counts as whole when a blank follows it.
    """
    end = raw.shape[0]
    pos = state[POS]
    ticks = state[TICKS]
    nb = state[NUM_BITS]
    nv = state[NUM_VECTORS]
    nw = state[NUM_WORDS]
    nr = state[NUM_REALS]
    most_bits = bit_channel.shape[0]
    reason = MORE
    at = pos
    while True:
        while pos < end and raw[pos] <= _BLANK:
            pos += 1
        at = pos
        if pos >= end:
            break
        lead = _LEAD[raw[pos]]
        if lead == _BIT:
            k = pos + 2
            if k < end and raw[k] <= _BLANK:  # codes of one character, which most files have, need no search
                channel = int(single[raw[k - 1]])
            else:
                k = pos + 1
                code = uint64(0)
                while k < end and raw[k] > _BLANK:
                    code = _mix(code, raw[k])
                    k += 1
                if k >= end:
                    break
                channel = _find(code, codes, slots)
            if channel < 0:
                reason = STRANGER
                break
            if kinds[channel] == LOGIC:
                if nb >= most_bits:
                    reason = FULL
                    break
                bit_channel[nb] = channel
                bit_ticks[nb] = ticks
                bit_level[nb] = LEVEL[raw[pos]]
                nb += 1
                pos = k
                continue
            if kinds[channel] == REAL:
                reason = WRONG_KIND
                break
            words = (widths[channel] + 63) >> 6
            if nv >= vector_channel.shape[0] or nw + words > value.shape[0]:
                reason = FULL
                break
            _put_vector(raw, pos, pos + 1, words, widths[channel], value, unknown, nw)
            vector_channel[nv] = channel
            vector_ticks[nv] = ticks
            nv += 1
            nw += words
            pos = k
        elif lead == _TIME:
            k = pos + 1
            total = 0
            stop = min(end, pos + 20)  # 19 digits stay below 2^63
            while k < stop and 48 <= raw[k] <= 57:
                total = total * 10 + (int(raw[k]) - 48)
                k += 1
            if k < end and raw[k] > _BLANK:
                reason = TOO_LATE if k == stop and 48 <= raw[k] <= 57 else NO_RECORD
                break
            if total > MOST_TICKS:
                reason = TOO_LATE
                break
            if k >= end:
                break
            if k == pos + 1:
                reason = NO_RECORD
                break
            if total < ticks:
                reason = BACKWARDS
                break
            ticks = total
            pos = k
        elif _BITS <= lead <= _QUANTITY:
            k = pos + 1
            while k < end and raw[k] > _BLANK:
                k += 1
            last = k
            while k < end and raw[k] <= _BLANK:
                k += 1
            code = uint64(0)
            begin = k
            while k < end and raw[k] > _BLANK:
                code = _mix(code, raw[k])
                k += 1
            if k >= end:
                break
            if last == pos + 1 or k == begin:
                reason = NO_RECORD
                break
            channel = _find(code, codes, slots)
            if channel < 0:
                reason = STRANGER
                break
            is_real = lead == _QUANTITY
            if is_real != (kinds[channel] == REAL):
                reason = WRONG_KIND
                break
            if is_real:
                if nr >= real_channel.shape[0]:
                    reason = FULL
                    break
                real_channel[nr] = channel
                real_ticks[nr] = ticks
                real_first[nr] = pos + 1
                real_last[nr] = last
                nr += 1
            elif kinds[channel] == LOGIC:
                if nb >= most_bits:
                    reason = FULL
                    break
                if last - pos != 2:
                    reason = TOO_WIDE
                    break
                if LEVEL[raw[last - 1]] == NO_LEVEL:
                    reason = NO_RECORD
                    break
                bit_level[nb] = LEVEL[raw[last - 1]]
                bit_channel[nb] = channel
                bit_ticks[nb] = ticks
                nb += 1
            else:
                words = (widths[channel] + 63) >> 6
                if nv >= vector_channel.shape[0] or nw + words > value.shape[0]:
                    reason = FULL
                    break
                reason = _put_vector(raw, pos + 1, last, words, widths[channel], value, unknown, nw)
                if reason:
                    break
                vector_channel[nv] = channel
                vector_ticks[nv] = ticks
                nv += 1
                nw += words
            pos = k
        elif lead == _KEYWORD:
            reason = KEYWORD
            break
        else:
            reason = NO_RECORD
            break
    state[POS] = pos
    state[TICKS] = ticks
    state[NUM_BITS] = nb
    state[NUM_VECTORS] = nv
    state[NUM_WORDS] = nw
    state[NUM_REALS] = nr
    state[AT] = at
    return reason


@njit(cache=True, nogil=True)
def sort_by_channel(channel: Channels, num_channels: int) -> tuple[Counts, Counts]:
    """The order that brings changes together by channel and keeps their own order inside, and where each begins."""
    begins = np.zeros(num_channels + 1, np.int64)
    for c in channel:
        begins[c + 1] += 1
    for c in range(num_channels):
        begins[c + 1] += begins[c]
    fill = begins[:num_channels].copy()
    order = np.empty(channel.shape[0], np.int64)
    for k in range(channel.shape[0]):
        order[fill[channel[k]]] = k
        fill[channel[k]] += 1
    return order, begins


@njit(cache=True, nogil=True)
def pick_bits(
    ticks: Counts, level: Bytes, order: Counts, times: Counts, levels: Bytes, scale: int, divisor: int
) -> int:
    """Changes in the order given, with times in picoseconds; how many times had to be rounded."""
    rounded = 0
    for k in range(order.shape[0]):
        at = ticks[order[k]]
        if divisor == 1:
            times[k] = at * scale
        else:
            times[k] = (at + divisor // 2) // divisor
            if at % divisor:
                rounded += 1
        levels[k] = level[order[k]]
    return rounded


@njit(cache=True, nogil=True)
def spread(starts: Counts, widths: Counts, order: Counts) -> Counts:
    """Indices of the words of vectors of several words, in the order given of the vectors."""
    total = 0
    for k in range(widths.shape[0]):
        total += widths[k]
    index = np.empty(total, np.int64)
    at = 0
    for k in range(order.shape[0]):
        for word in range(widths[order[k]]):
            index[at] = starts[order[k]] + word
            at += 1
    return index
