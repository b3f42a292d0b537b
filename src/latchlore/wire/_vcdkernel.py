"""Compiled reading of the value changes of a VCD file (IEEE 1364-2005, clause 18.2).

Packed arrays, used by every function here:

* `raw` uint8: a piece of the file; a record that it holds in part only is left for the next piece.
* `state` int64, by the numbers below: where reading stands, how much was put out, why it stopped.
* `codes` uint64, `slots` int32: a hash table from identifier codes to channels, open addressing, its length a power
  of two; a free slot holds -1.  Codes longer than 8 characters are hashed to 64 bits by `_mix`; the reader of the
  header refuses two codes of one file that fall together.
* `single` int32 (256): the channel of each code of one character, -1 where there is none.
* `kinds` uint8, `widths` int64: of each channel, by `LOGIC`, `VECTOR`, `REAL`.
* changes of single bits, `bit_times` int64 (picoseconds) and `bit_levels` uint8, in chunks of `mask` + 1 places (a
  power of two): `owners` int32, the channel of each chunk taken; `fill` int64, the place behind a channel's last
  change, at a border of chunks where it needs a new one.
* bits: 0, 1, 2 unknown, 3 high impedance.  Of a vector, two planes of 64-bit words, lowest word first: `value` and
  `unknown`; (unknown, value) = (0, 0) is 0, (0, 1) is 1, (1, 0) is x, (1, 1) is z.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numba import int64, njit, uint64

from latchlore.wire._barekernel import bare

if TYPE_CHECKING:
    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]
    Counts = npt.NDArray[np.int64]
    Words = npt.NDArray[np.uint64]
    Channels = npt.NDArray[np.int32]

LOGIC, VECTOR, REAL = 0, 1, 2

POS, TICKS, NUM_CHUNKS, NUM_VECTORS, NUM_WORDS, NUM_REALS, AT, ROUNDED, STATE_SIZE = range(9)
"""Of `state`: the next byte to read; the time in force; how many chunks of bits, vectors, words of vectors and reals
were put out; the byte at which reading stopped; how many times of bits had to be rounded."""

MORE, FULL, KEYWORD, STRANGER, BACKWARDS, NO_RECORD, TOO_WIDE, TOO_LATE, WRONG_KIND = range(9)
"""Why reading stopped: the piece is used up; an output array is full; a ``$`` keyword; an identifier that the header
does not name; a time before the one in force; no record starts like this; more digits than bits; a time after the
latest; a real value for a channel of bits, or bits for a real."""

MOST_TICKS = 10**18 - 1
"""No time has more than 18 digits, zeros in front of it left out."""
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


@bare()
def _mix(code: int, byte: int) -> int:
    """One more character of an identifier code; exact for up to 8 of them."""
    mixed: int = uint64((code << uint64(8)) ^ (code >> uint64(56)) * uint64(0x9E3779B97F4A7C15)) ^ uint64(byte)
    return mixed


@bare()
def hash_code(text: Bytes) -> int:
    """The number under which an identifier code is found."""
    code: int = uint64(0)
    for byte in text:
        code = _mix(code, byte)
    return code


@bare()
def _word(raw: Bytes, at: int) -> int:
    """Eight bytes from `at` on as one number, the first of them lowest."""
    k = uint64(at)  # an index without a sign, so that no wrap-around is looked for and the loads become one
    low: int = (
        uint64(raw[k])
        | uint64(raw[k + uint64(1)]) << uint64(8)
        | uint64(raw[k + uint64(2)]) << uint64(16)
        | uint64(raw[k + uint64(3)]) << uint64(24)
        | uint64(raw[k + uint64(4)]) << uint64(32)
        | uint64(raw[k + uint64(5)]) << uint64(40)
        | uint64(raw[k + uint64(6)]) << uint64(48)
        | uint64(raw[k + uint64(7)]) << uint64(56)
    )
    return low


@bare()
def _add_up(figures: int) -> int:
    """The number that eight decimal digits make, one a byte, the first one lowest: neighbours, pairs, then fours."""
    figures = figures * uint64(10) + (figures >> uint64(8))
    even, odd = figures & uint64(0x000000FF000000FF), (figures >> uint64(16)) & uint64(0x000000FF000000FF)
    total: int = (even * uint64(0x000F424000000064) + odd * uint64(0x0000271000000001)) >> uint64(32)
    return total


@bare()
def _find(code: int, codes: Words, slots: Channels) -> int:
    mask = uint64(codes.shape[0] - 1)
    slot = (code * uint64(0x9E3779B97F4A7C15) >> uint64(40)) & mask
    while slots[slot] >= 0:
        if codes[slot] == code:
            channel: int = slots[slot]
            return channel
        slot = (slot + uint64(1)) & mask
    return -1


@bare()
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


@bare()
def _read_code(raw: Bytes, at: int, end: int) -> tuple[int, int]:
    """The number of the identifier code that begins at a byte, and where it ends."""
    code = uint64(0)
    while at < end and _byte(raw, at) > _BLANK:
        code = _mix(code, _byte(raw, at))
        at += 1
    return code, at


@bare()
def _read_time(raw: Bytes, at: int, end: int) -> tuple[int, int]:
    """The number whose digits begin at a byte, of which 18 at most are read, and where they end."""
    stop = min(end, at + 18)
    total = 0
    if end - at >= 8:
        figures = _word(raw, at) ^ uint64(0x3030303030303030)
        # Bit 7 of a byte is set where it is above 9; a carry can only reach bytes behind the first of these.
        others = ((figures + uint64(0x7676767676767676)) | figures) & uint64(0x8080808080808080)
        if not others:  # where it ends does not depend on what they are, so the next record need not wait for it
            total = int64(_add_up(figures))  # signed again: with one without a sign numba goes on in floats
            at += 8
    while at < stop and 48 <= _byte(raw, at) <= 57:
        total = total * 10 + (int(_byte(raw, at)) - 48)
        at += 1
    return total, at


@bare()
def _end_of_token(raw: Bytes, at: int, end: int) -> int:
    """The place of the first blank from a byte on, or the end."""
    while end - at >= 8:
        word = _word(raw, at)
        # Bit 7 of a byte is set where it is no blank: above 32, or above 127.
        others = ((word & uint64(0x7F7F7F7F7F7F7F7F)) + uint64(0x5F5F5F5F5F5F5F5F)) | word
        if ~others & uint64(0x8080808080808080):
            break
        at += 8
    while at < end and _byte(raw, at) > _BLANK:
        at += 1
    return at


@bare()
def _scale(ticks: int, scale: int, divisor: int) -> int:
    """A time in picoseconds, to the nearest."""
    return ticks * scale if divisor == 1 else (ticks + divisor // 2) // divisor


@bare()
def _next_place(channel: int, mask: int, chunks: int, owners: Channels, fill: Counts) -> int:
    """Where the next bit of a channel is put, in a chunk of its own, begun where it has none with room; -1: no more."""
    into: int = fill[channel]
    if into & mask == 0:
        if chunks >= owners.shape[0]:
            return -1
        owners[chunks] = channel
        into = chunks * (mask + 1)
    fill[channel] = into + 1
    return into


@bare()
def _put_digits(raw: Bytes, first: int, last: int, value: Words, unknown: Words, at: int) -> bool:
    """Write up to 64 digits as the lowest word of the planes, eight at a time; False where some is neither 0 nor 1."""
    total = uint64(0)
    odd = uint64(0)
    while first < last:
        count = uint64(min(8, last - first))
        drop = uint64(64) - (count << uint64(3))
        word = (_word(raw, first) << drop) ^ (uint64(0x3030303030303030) << drop)
        odd |= word & uint64(0xFEFEFEFEFEFEFEFE)
        # The k-th byte's lowest bit comes to bit 63 - k; no two products meet, so nothing is carried.
        total = (total << count) | ((word & uint64(0x0101010101010101)) * uint64(0x8040201008040201)) >> uint64(56)
        first += 8
    value[at], unknown[at] = total, uint64(0)
    plain: bool = odd == uint64(0)
    return plain


@bare()
def _put_vector(
    raw: Bytes, first: int, last: int, words: int, width: int, value: Words, unknown: Words, at: int
) -> int:
    """Write the digits of raw[first:last] as planes of so many words; 0, or why not."""
    if (
        words == 1
        and last - first <= width
        and raw.shape[0] - last >= 8
        and _put_digits(raw, first, last, value, unknown, at)
    ):
        return 0
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


@bare()
def _byte(raw: Bytes, at: int) -> int:
    """One byte; its place is never below 0, so no wrap-around is looked for."""
    byte: int = raw[uint64(at)]
    return byte


@bare(nogil=True)
def has_controls(words: Words) -> bool:
    """Whether any byte, eight of them in a word, is a control character that lays out no text: below 9, or 14 to 31."""
    found = uint64(0)
    for word in words:
        # Bit 7 of a byte is set where its lower seven bits are 9, 14, 32 or more; where it was set, it is no control.
        lower = word & uint64(0x7F7F7F7F7F7F7F7F)
        from_9, from_14 = lower + uint64(0x7777777777777777), lower + uint64(0x7272727272727272)
        from_32 = lower + uint64(0x6060606060606060)
        found |= (~from_9 | (from_14 & ~from_32)) & ~word
    some: bool = found & uint64(0x8080808080808080) != uint64(0)
    return some


@bare(nogil=True)
def read_changes(
    raw: Bytes,
    state: Counts,
    single: Channels,
    codes: Words,
    slots: Channels,
    kinds: Bytes,
    widths: Counts,
    scale: int,
    divisor: int,
    latest: int,
    mask: int,
    owners: Channels,
    fill: Counts,
    bit_times: Counts,
    bit_levels: Bytes,
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

    `state[POS]` ends behind the last whole record.  A record counts as whole when a blank follows it.  `latest`: no
    time may be more, in ticks; `MOST_TICKS` at most, and in picoseconds below 2^63.
    """
    end = raw.shape[0]
    pos = state[POS]
    ticks = state[TICKS]
    now = _scale(ticks, scale, divisor)
    chunks = state[NUM_CHUNKS]
    nv = state[NUM_VECTORS]
    nw = state[NUM_WORDS]
    nr = state[NUM_REALS]
    rounded = state[ROUNDED]
    between = int(divisor != 1 and ticks % divisor != 0)
    reason = MORE
    at = pos
    while True:
        while pos < end and _byte(raw, pos) <= _BLANK:
            pos += 1
        at = pos
        if pos >= end:
            break
        lead = _LEAD[_byte(raw, pos)]
        if lead == _BIT:
            k = pos + 2
            if k < end and _byte(raw, k) <= _BLANK:  # codes of one character, which most files have, need no search
                channel = int(single[_byte(raw, k - 1)])
            else:
                code, k = _read_code(raw, pos + 1, end)
                if k >= end:
                    break
                channel = _find(code, codes, slots)
            if channel < 0:
                reason = STRANGER
                break
            kind = _byte(kinds, channel)
            if kind == REAL:
                reason = WRONG_KIND
                break
            if kind == LOGIC:
                into = _next_place(channel, mask, chunks, owners, fill)
                if into < 0:
                    reason = FULL
                    break
                chunks += into & mask == 0
                rounded += between
                bit_times[into] = now
                bit_levels[into] = LEVEL[_byte(raw, pos)]
                pos = k + 1
                continue
            words = (widths[channel] + 63) >> 6
            if nv >= vector_channel.shape[0] or nw + words > value.shape[0]:
                reason = FULL
                break
            _put_vector(raw, pos, pos + 1, words, widths[channel], value, unknown, nw)
            vector_channel[nv] = channel
            vector_ticks[nv] = ticks
            nv += 1
            nw += words
            pos = k + 1
        elif lead == _TIME:
            total, k = _read_time(raw, pos + 1, end)
            if k < end and _byte(raw, k) > _BLANK:
                first = pos + 1
                while first < end and _byte(raw, first) == 48:  # zeros in front do not count
                    first += 1
                total, k = _read_time(raw, first, end)
                if k < end and _byte(raw, k) > _BLANK:
                    reason = TOO_LATE if 48 <= _byte(raw, k) <= 57 else NO_RECORD
                    break
            if k >= end:
                break
            if total > latest:
                reason = TOO_LATE
                break
            if k == pos + 1:
                reason = NO_RECORD
                break
            if total < ticks:
                reason = BACKWARDS
                break
            ticks = total
            now = _scale(ticks, scale, divisor)
            between = int(divisor != 1 and ticks % divisor != 0)
            pos = k + 1
        elif _BITS <= lead <= _QUANTITY:
            last = _end_of_token(raw, pos + 1, end)
            begin = last
            while begin < end and _byte(raw, begin) <= _BLANK:
                begin += 1
            k = begin + 1
            if k < end and _byte(raw, k) <= _BLANK:
                channel = int(single[_byte(raw, begin)])
            else:
                code, k = _read_code(raw, begin, end)
                if k >= end:
                    break
                channel = _find(code, codes, slots)
            if last == pos + 1:
                reason = NO_RECORD
                break
            if channel < 0:
                reason = STRANGER
                break
            kind = _byte(kinds, channel)
            if (lead == _QUANTITY) != (kind == REAL):
                reason = WRONG_KIND
                break
            if kind == REAL:
                if nr >= real_channel.shape[0]:
                    reason = FULL
                    break
                real_channel[nr] = channel
                real_ticks[nr] = ticks
                real_first[nr] = pos + 1
                real_last[nr] = last
                nr += 1
            elif kind == LOGIC:
                level = LEVEL[_byte(raw, last - 1)]
                if last - pos != 2:
                    reason = TOO_WIDE
                    break
                if level == NO_LEVEL:
                    reason = NO_RECORD
                    break
                into = _next_place(channel, mask, chunks, owners, fill)
                if into < 0:
                    reason = FULL
                    break
                chunks += into & mask == 0
                rounded += between
                bit_times[into] = now
                bit_levels[into] = level
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
            pos = k + 1
        elif lead == _KEYWORD:
            reason = KEYWORD
            break
        else:
            reason = NO_RECORD
            break
    state[POS] = pos
    state[TICKS] = ticks
    state[NUM_CHUNKS] = chunks
    state[NUM_VECTORS] = nv
    state[NUM_WORDS] = nw
    state[NUM_REALS] = nr
    state[AT] = at
    state[ROUNDED] = rounded
    return reason


@njit(cache=True, nogil=True)
def _copy(source: npt.NDArray[Any], target: npt.NDArray[Any], count: int) -> None:
    """Copy so many values; a loop, since assigning slices takes seconds to compile."""
    for k in range(count):
        target[k] = source[k]


@njit(cache=True, nogil=True)
def gather_bits(
    owners: Channels, fill: Counts, chunk: int, bit_times: Counts, bit_levels: Bytes, times: Counts, levels: Bytes
) -> Counts:
    """Bring the chunks of each channel together, in their order; where each channel begins, and where the last ends.

    `owners`: of the chunks in use.  `fill` is set back to none.
    """
    num = fill.shape[0]
    begins = np.zeros(num + 1, np.int64)
    sizes = np.empty(owners.shape[0], np.int64)
    for k in range(owners.shape[0]):
        sizes[k] = min(chunk, fill[owners[k]] - k * chunk)  # the last of a channel may be filled in part
        begins[owners[k] + 1] += sizes[k]
    for c in range(num):
        begins[c + 1] += begins[c]
        fill[c] = begins[c]
    for k in range(owners.shape[0]):
        into = fill[owners[k]]
        _copy(bit_times[k * chunk :], times[into:], sizes[k])
        _copy(bit_levels[k * chunk :], levels[into:], sizes[k])
        fill[owners[k]] = into + sizes[k]
    fill[:] = 0
    return begins


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
