"""Compiled model of a listener that is busy for a while after each strobe it reacts to.

A listener at rest reacts to strobe j after a latency and is then busy for its service time; it reads the port at a
fixed moment of that time and so gets whatever byte stands there.  Strobes that come while it is busy are forgotten
(depth 0) or remembered up to `depth` of them and served at once when it is ready.  All times are picoseconds.

What makes the model exact: only a listener at rest waits for a strobe, and only then is the latency drawn.  From
there to the next rest (a *spell*) everything follows, so a run is a chain of spells, each named by the strobe that
began it, and the latency is integrated over `nodes`, equally likely.

* `strobes` int64: when each strobe that can be noticed begins; `puts` int64: when each byte is put on the port.
* `settings` int64: (service, read after reaction, depth).
* `reads` int64: indices of the bytes read, in order.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

if TYPE_CHECKING:
    import numpy.typing as npt

    Counts = npt.NDArray[np.int64]
    Chances = npt.NDArray[np.float64]


@njit(cache=True, nogil=True)
def spell(strobes: Counts, puts: Counts, first: int, latency: int, settings: Counts, reads: Counts) -> tuple[int, int]:
    """Serve from strobe `first` until at rest: how many reads were put out, and the strobe that begins the next spell.

    A read before the first byte stands on the port gives -1.
    """
    service, read_after, depth = settings[0], settings[1], settings[2]
    num = strobes.shape[0]
    entry = strobes[first] + latency
    k = first + 1  # the next strobe not yet noticed
    pending = min(1, depth)
    count = 0
    at = 0
    while True:
        while k < num and strobes[k] <= entry:
            pending = min(pending + 1, depth)
            k += 1
        pending = max(pending - 1, 0)
        moment = entry + read_after
        while at < puts.shape[0] and puts[at] <= moment:
            at += 1
        reads[count] = at - 1
        count += 1
        ready = entry + service
        while k < num and strobes[k] <= ready:
            pending = min(pending + 1, depth)
            k += 1
        if pending == 0 or count >= reads.shape[0]:
            return count, k
        entry = ready


@njit(cache=True, nogil=True)
def chances(strobes: Counts, puts: Counts, nodes: Counts, settings: Counts, missed: Chances, doubled: Chances) -> None:
    """Take from `missed` the chance that each byte is read, add to `doubled` that it is read twice or more.

    A spell begins in one of two states: the byte on the port at its strobe was the last one read before, or not.
    """
    num = strobes.shape[0]
    begins = np.zeros((num + 1, 2))
    if num:
        begins[0, 0] = 1.0
    weight = 1.0 / nodes.shape[0]
    reads = np.zeros(num + 2, np.int64)
    standing = np.searchsorted(puts, strobes, side="right") - 1
    for j in range(num):
        for known in range(2):
            if begins[j, known] == 0.0:
                continue
            for latency in nodes:
                count, after = spell(strobes, puts, j, latency, settings, reads)
                chance = begins[j, known] * weight
                last = standing[j] if known else -1
                times = 1
                for r in range(count):
                    byte = reads[r]
                    if byte < 0:
                        continue
                    if byte != last:
                        missed[byte] -= chance
                        times = 1
                    else:
                        times += 1
                        if times == 2:
                            doubled[byte] += chance
                    last = byte
                begins[after, 1 if after < num and last == standing[after] else 0] += chance


@njit(cache=True, nogil=True)
def log_likelihood(
    strobes: Counts, puts: Counts, nodes: Counts, settings: Counts, heard: Counts, floor: float
) -> float:
    """Logarithm of the chance that a run reads just these bytes; `floor`: the chance left for what the model forbids.

    `heard` int64: the indices of the bytes in the order they were read.
    """
    num = strobes.shape[0]
    wanted = heard.shape[0]
    ways = np.zeros((num + 1, wanted + 1))
    ways[0, 0] = 1.0
    weight = 1.0 / nodes.shape[0]
    reads = np.zeros(num + 2, np.int64)
    for j in range(num):
        for p in range(wanted + 1):
            if ways[j, p] == 0.0:
                continue
            for latency in nodes:
                count, after = spell(strobes, puts, j, latency, settings, reads)
                if p + count > wanted:
                    continue
                same = True
                for r in range(count):
                    if reads[r] != heard[p + r]:
                        same = False
                        break
                if same:
                    ways[after, p + count] += ways[j, p] * weight
    return math.log(ways[num, wanted] + floor)


@njit(cache=True, nogil=True)
def simulate(strobes: Counts, puts: Counts, latencies: Counts, settings: Counts, reads: Counts) -> int:
    """One run with a latency for every spell; how many bytes were read into `reads`."""
    j = 0
    total = 0
    drawn = 0
    while j < strobes.shape[0]:
        count, j = spell(strobes, puts, j, latencies[drawn % latencies.shape[0]], settings, reads[total:])
        total += count
        drawn += 1
    return total


@njit(cache=True, nogil=True)
def poll(strobes: Counts, widths: Counts, puts: Counts, phase: int, settings: Counts, reads: Counts) -> int:
    """One run of a listener that looks at the strobe's level: how many bytes were read into `reads`.

    `settings`: (service, read after the look, period of the looks, 1 where it waits for the strobe to end before it
    looks for the next one).  The first look is `phase` after the first strobe begins.
    """
    service, read_after, period, waits = settings[0], settings[1], settings[2], settings[3]
    num = strobes.shape[0]
    now = strobes[0] - period + phase if num else 0
    k = 0
    at = 0
    count = 0
    armed = True
    while k < num:
        while k < num and strobes[k] + widths[k] <= now:
            k += 1
        if k >= num:
            break
        if now < strobes[k]:  # the line is at rest; pass over looks that see nothing
            armed = True
            now += max(1, -(-(strobes[k] - now) // period)) * period
            continue
        if not armed:
            now += period
            continue
        moment = now + read_after
        while at < puts.shape[0] and puts[at] <= moment:
            at += 1
        if count >= reads.shape[0]:
            break
        reads[count] = at - 1
        count += 1
        armed = waits == 0
        now += service
    return count
