"""Whether a listener explains its misses at all: against losses by pure chance; and the indices of a long ramp."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import Span, no_progress
from latchlore.wire import _listenerkernel as kernel
from latchlore.wire import _listenerwording as words
from latchlore.wire._listener import FLOOR, NODES_OF_FIT, arrays_of, least_delay, weigh_listeners

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import Progress
    from latchlore.wire._listener import Belief, HostTimes, Listener, Search, Trials

NO_LISTENER, TOO_SURE = words.NO_BETTER, words.TOO_SURE
BETTER = 3.0
"""A listener must explain its runs better than pure chance by so many nats, for its figures to be worth a word."""

SAMPLES = 40
"""So many listeners, as likely each, stand for what is believed of one."""
FIRST_BYTES = 200
"""By so many bytes of a transmission it is told whether a pause ends the loss."""
LITTLE_LOSS = 0.001
"""A pause ends the loss where no more than this part is lost: with jitter without bounds nothing ends it wholly."""


def ramp_indices(data: bytes, count: int) -> tuple[int, ...]:
    """Which byte of a ramp each byte heard is, where byte k has the value k modulo 256.

    Beyond 256 bytes the values come again: each byte heard is taken for the next one sent that has its value, so a
    run that misses 255 bytes on end is read wrong.  Refuses more bytes than were sent (ValueError).
    """
    if count <= 256:
        return tuple(data)
    found: list[int] = []
    now = 0
    for value in data:
        now += (value - now) % 256
        if now >= count:
            raise ValueError(words.INDEX.format(last=count - 1, index=now))
        found.append(now)
    return tuple(found)


def weigh_either_way(trials: Trials, search: Search, progress: Progress = no_progress) -> Belief:
    """What runs tell of a listener, with the jitter of `search.like` or with one in `search.jitter`: what fits better.

    A listener without jitter is a corner of the range that the cells of three figures are too coarse to find.  For one
    that remembers strobes they are too coarse altogether: its jitter has to be stated.
    """
    plain = weigh_listeners(trials, replace(search, jitter=None), progress)
    if search.jitter is None or search.like.depth:
        return plain
    free = weigh_listeners(trials, search, progress)
    return max(plain, free, key=lambda belief: belief.fit)


def over_chance(trials: Trials, belief: Belief) -> float:
    """By how many nats the likeliest listener explains the runs better than losses and doubles by pure chance.

    Pure chance: each byte is missed, and each byte read is read again, at one rate over all runs.
    """
    return _log_likelihood(trials, belief.best) - _log_chance(trials)


def ending_pause(belief: Belief, host: HostTimes, sure: float = 0.95) -> Span | None:
    """By how much longer pauses between bytes end the loss, with that probability (0 to 1); None where no pause does.

    Taken over what is believed of the listener; each cell counts as its far corner, so that the pause is rather too
    long.  The loss counts as ended at `LITTLE_LOSS` of the bytes.
    """
    host = replace(host, **{name: getattr(host, name)[:FIRST_BYTES] for name in ("puts", "strobes", "widths")})
    order = sorted(
        range(len(belief.listeners)),
        key=lambda k: (belief.listeners[k].latency + belief.listeners[k].service, belief.listeners[k].jitter, k),
    )
    reached = np.cumsum(np.array(belief.weights)[order])
    half = {name: Span(size // 2) for name, size in belief.cell.items()}
    delays: dict[int, int | None] = {}
    found: list[float] = []
    for part in (np.arange(SAMPLES) + 0.5) / SAMPLES:
        k = order[min(int(np.searchsorted(reached, part * reached[-1])), len(order) - 1)]
        if k not in delays:
            far = {name: getattr(belief.listeners[k], name) + more for name, more in half.items()}
            delay = least_delay(host, replace(belief.listeners[k], **far), LITTLE_LOSS)
            delays[k] = None if delay is None else delay.picoseconds
        one = delays[k]
        found.append(math.inf if one is None else one)
    enough = sorted(found)[min(SAMPLES - 1, math.ceil(sure * SAMPLES) - 1)]
    return None if math.isinf(enough) else Span(int(enough))


def _log_likelihood(trials: Trials, listener: Listener) -> float:
    total = 0.0
    nodes, settings = listener.nodes(NODES_OF_FIT), listener.settings()
    for host, runs in trials:
        strobes, puts = arrays_of(host, listener)
        for run in runs:
            total += kernel.log_likelihood(strobes, puts, nodes, settings, np.array(run, np.int64), FLOOR)
    return total


def _log_chance(trials: Trials) -> float:
    sent = sum(len(host.puts) * len(runs) for host, runs in trials)
    heard = sum(len(set(run)) for _, runs in trials for run in runs)
    again = sum(len(run) - len(set(run)) for _, runs in trials for run in runs)
    return _split((heard, sent - heard)) + _split((again, heard))


def _split(counts: Sequence[int]) -> float:
    """Log-likelihood of so many of either kind at the rate seen."""
    whole = sum(counts)
    return sum(count * math.log(count / whole) for count in counts if count)
