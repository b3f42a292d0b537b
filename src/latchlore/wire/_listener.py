"""What a listener must miss or double, and the reverse: what its misses tell of it.

The model is in `_listenerkernel.py`; docs/listener.md explains it.  Two kinds: one that reacts to the strobe's edge,
with or without a memory for strobes that come while it is busy, and one that looks at the strobe's level now and then.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import Span, SpanRange, no_progress
from latchlore.wire import _listenerkernel as kernel
from latchlore.wire import _listenerwording as words

if TYPE_CHECKING:
    import numpy.typing as npt

    from latchlore.base import Progress

    Counts = npt.NDArray[np.int64]

NO_TIME = Span(0)
NODES = 256
"""Equally likely latencies, or phases, by which a prediction is integrated: it is off by half a part at most."""
NODES_OF_FIT = 64
"""The same for the likelihood of runs."""
DEPTH_MOST = 4096
FLOOR = 1e-9
"""The chance left for a run that the model forbids, so that one odd run does not end the search."""
INSIDE = 0.90
"""An interval holds the true figure with this chance, if the model and the range searched hold it at all."""
CELLS, CELLS_OF_THREE = 32, 14
"""Cells along each figure, where two or three are looked for."""
TURNS = 6
"""So often the ranges are narrowed at most."""
NARROW_ENOUGH = 0.5
"""Narrowing goes on while it leaves less than this part of the ranges."""
NEGLIGIBLE = 1e-5
"""A cell with so small a part of the best one's weight is left out when ranges are narrowed."""
FINER, FINER_OF_THREE = 8, 3
"""So many times as many cells of service, where little else than the service decides which bytes are missed."""
MARGIN_FINE = {"latency": 9, "service": 32, "jitter": 5}
"""Half cells that are kept beside those with weight, then."""
MOST_GROWTHS, FEW_KEPT = 16, 12
"""So often a window grows at most; with so few cells in it, it is moved to their middle."""
DEEPER = 16
"""So much more memory is tried."""
PACES = ((1, 2), (3, 4), (5, 4), (3, 2), (2, 1))
"""Paces to try next, as parts of the one that was tried."""
SWEEP = (2, 3, 4, 5, 6, 8)
"""Uneven pauses to try next, in quarters of the pace that was tried."""
_MANY = 10**15


@dataclass(frozen=True, slots=True)
class HostTimes:
    """When a host puts each byte on the port and strobes it, in whole picoseconds, rising.

    `widths`: how long each strobe lasts.  A byte stands until the next one is put.
    """

    puts: tuple[int, ...]
    strobes: tuple[int, ...]
    widths: tuple[int, ...]

    def __post_init__(self) -> None:
        if not len(self.puts) == len(self.strobes) == len(self.widths) or not self.strobes:
            raise ValueError(words.UNEQUAL.format(counts=(len(self.puts), len(self.strobes), len(self.widths))))
        if any(b <= a for a, b in zip(self.strobes, self.strobes[1:], strict=False)):
            raise ValueError(words.RISING)

    @classmethod
    def regular(cls, count: int, period: Span, setup: Span = NO_TIME, width: Span = NO_TIME) -> HostTimes:
        """A host that keeps one pace: `count` bytes, the first strobe at 0."""
        strobes = tuple(k * period.picoseconds for k in range(count))
        puts = tuple(time - setup.picoseconds for time in strobes)
        return cls(puts, strobes, (width.picoseconds,) * count)

    @classmethod
    def by_turns(cls, count: int, pauses: Sequence[Span], setup: Span = NO_TIME, width: Span = NO_TIME) -> HostTimes:
        """A host that goes through several pauses from strobe to strobe again and again: `count` bytes."""
        turns = [pauses[k % len(pauses)].picoseconds for k in range(count)]
        strobes = tuple(int(t) for t in np.cumsum([0, *turns[:-1]], dtype=np.int64))
        return cls(tuple(t - setup.picoseconds for t in strobes), strobes, (width.picoseconds,) * count)

    def stretched(self, delay: Span) -> HostTimes:
        """The same with a longer pause between bytes."""
        more = [k * delay.picoseconds for k in range(len(self.strobes))]
        puts = tuple(a + b for a, b in zip(self.puts, more, strict=True))
        return HostTimes(puts, tuple(a + b for a, b in zip(self.strobes, more, strict=True)), self.widths)


@dataclass(frozen=True, slots=True)
class Listener:
    """A listener driven by the strobe's edge.

    `latency`: the least time from strobe to reaction; `jitter`: the mean of what comes on top (a gamma distribution of
    `shape`; 0: always the same).  `reads`: from reaction to the moment it reads the port.  `service`: from reaction
    until it is ready again.  `depth`: how many strobes it remembers meanwhile (an edge flag: 1).  `shortest`: a
    strobe shorter than this is not noticed.
    """

    latency: Span
    service: Span
    jitter: Span = NO_TIME
    shape: int = 2
    reads: Span = NO_TIME
    depth: int = 0
    shortest: Span = NO_TIME

    def __post_init__(self) -> None:
        for name in ("latency", "service", "jitter", "reads", "shortest"):
            if getattr(self, name) < Span(0):
                raise ValueError(words.NEGATIVE.format(name=name, value=getattr(self, name)))
        if not 0 <= self.depth <= DEPTH_MOST or not 1 <= self.shape <= 20:
            raise ValueError(words.DEPTH.format(depth=self.depth, shape=self.shape))
        if self.reads > self.service:
            raise ValueError(words.READS.format(reads=self.reads, service=self.service))

    def nodes(self, count: int = NODES) -> Counts:
        """Equally likely latencies: the middles of equal parts of the distribution."""
        parts = np.array(_gamma_parts(self.shape, count if self.jitter.picoseconds else 1))
        on_top = parts * (self.jitter.picoseconds / self.shape)
        return self.latency.picoseconds + np.round(on_top).astype(np.int64)

    def settings(self) -> Counts:
        """The kernel's settings."""
        return np.array([self.service.picoseconds, self.reads.picoseconds, self.depth], np.int64)


@lru_cache(maxsize=64)
def _gamma_parts(shape: int, count: int) -> tuple[float, ...]:
    """The middle quantiles of a gamma distribution of whole shape and scale 1 (an Erlang distribution)."""

    def below(x: float) -> float:
        return 1 - math.exp(-x) * sum(x**k / math.factorial(k) for k in range(shape))

    if count == 1:
        return (0.0,)
    found: list[float] = []
    for k in range(count):
        low, high = 0.0, shape + 60.0
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if below(middle) < (k + 0.5) / count else (low, middle)
        found.append((low + high) / 2)
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Poller:
    """A listener that looks at the strobe's level every `period` and reads the port when it finds it active.

    `waits`: whether it then waits for the strobe to end; one that does not doubles bytes whose strobe lasts longer
    than its service.  It may begin to look at any moment of its period.
    """

    period: Span
    service: Span
    reads: Span = NO_TIME
    waits: bool = True

    def __post_init__(self) -> None:
        if self.period < Span(1) or not NO_TIME <= self.reads <= self.service:
            raise ValueError(words.POLLER.format(period=self.period, reads=self.reads, service=self.service))

    def run(self, host: HostTimes, phase: int) -> tuple[int, ...]:
        """The bytes read when the first look is so many picoseconds after a period before the first strobe."""
        settings = [self.service, self.reads, self.period]
        numbers = np.array([*(span.picoseconds for span in settings), self.waits], np.int64)
        columns = (np.array(column, np.int64) for column in (host.strobes, host.widths, host.puts))
        turn = max(1, self.service.picoseconds)
        reads = np.zeros(4 * len(host.puts) + sum(host.widths) // turn + 8, np.int64)
        count = kernel.poll(*columns, phase, numbers, reads)
        return tuple(int(k) for k in reads[:count] if k >= 0)


@dataclass(frozen=True, slots=True)
class Prediction:
    """For each byte the chance that it is missed, and that it is read more than once."""

    missed: tuple[float, ...]
    doubled: tuple[float, ...]

    @property
    def loss(self) -> float:
        """The share of bytes that is lost."""
        return sum(self.missed) / len(self.missed)

    @property
    def surely_missed(self) -> tuple[int, ...]:
        """The bytes that cannot be heard."""
        return tuple(k for k, chance in enumerate(self.missed) if chance > 1 - 1e-9)


def arrays_of(host: HostTimes, listener: Listener) -> tuple[Counts, Counts]:
    """The strobes that the listener notices, and all puts."""
    seen = [t for t, w in zip(host.strobes, host.widths, strict=True) if w >= listener.shortest.picoseconds]
    return np.array(seen, np.int64), np.array(host.puts, np.int64)


def predict_misses(host: HostTimes, listener: Listener | Poller) -> Prediction:
    """Which bytes a listener misses and doubles; exact but for the 256 parts in which latency or phase are taken."""
    if isinstance(listener, Poller):
        return _predict_poller(host, listener)
    strobes, puts = arrays_of(host, listener)
    missed, doubled = np.ones(len(puts)), np.zeros(len(puts))
    kernel.chances(strobes, puts, listener.nodes(), listener.settings(), missed, doubled)
    return Prediction(tuple(np.clip(missed, 0, 1).tolist()), tuple(np.clip(doubled, 0, 1).tolist()))


def _predict_poller(host: HostTimes, poller: Poller) -> Prediction:
    counts = np.zeros((NODES, len(host.puts)), np.int64)
    for k in range(NODES):
        run = poller.run(host, (2 * k + 1) * poller.period.picoseconds // (2 * NODES))
        counts[k] = np.bincount(np.array(run, np.int64), minlength=len(host.puts))
    return Prediction(tuple((counts == 0).mean(0).tolist()), tuple((counts > 1).mean(0).tolist()))


def simulate_listener(host: HostTimes, listener: Listener, seed: int) -> tuple[int, ...]:
    """The indices of the bytes that one run reads, with latencies drawn at random."""
    rng = np.random.default_rng(seed)
    strobes, puts = arrays_of(host, listener)
    on_top = rng.gamma(listener.shape, listener.jitter.picoseconds / listener.shape, len(strobes) + 1)
    latencies = listener.latency.picoseconds + np.round(on_top).astype(np.int64)
    reads = np.zeros(4 * len(puts) + len(strobes) + 8, np.int64)
    count = kernel.simulate(strobes, puts, latencies, listener.settings(), reads)
    return tuple(int(k) for k in reads[:count] if k >= 0)


def least_delay(host: HostTimes, listener: Listener, most_loss: float = 0.0) -> Span | None:
    """The shortest extra pause between bytes that brings the loss down to `most_loss`; None where none does."""
    return _bisect(lambda delay: predict_misses(host.stretched(delay), listener).loss <= most_loss + 1e-12)


def most_service(host: HostTimes, listener: Listener, most_loss: float = 0.0) -> Span | None:
    """The longest service time that keeps the loss within `most_loss`; None where even the shortest is too long."""
    shortest = replace(listener, service=listener.reads)
    if predict_misses(host, shortest).loss > most_loss + 1e-12:
        return None

    def too_long(extra: Span) -> bool:
        return predict_misses(host, replace(listener, service=listener.reads + extra)).loss > most_loss + 1e-12

    found = _bisect(too_long)
    return None if found is None else listener.reads + found - Span(1)


def least_depth(host: HostTimes, listener: Listener, most_loss: float = 0.0) -> int | None:
    """How many strobes it must remember to bring the loss down to `most_loss`; None where no memory does.

    Where it reads late, a remembered strobe finds the next byte on the port, so that memory does not always help.
    """
    for depth in range(listener.depth + 1, listener.depth + 1 + DEEPER):
        if predict_misses(host, replace(listener, depth=depth)).loss <= most_loss + 1e-12:
            return depth
    return None


def propose_settings(host: HostTimes) -> tuple[tuple[str, HostTimes], ...]:
    """Transmissions that could be sent next to learn more of a listener, each in words: other paces, uneven pauses.

    `host`: one that keeps one pace; the others send as many bytes, with its set-up and strobe width.
    """
    count = len(host.strobes)
    period = host.strobes[1] - host.strobes[0] if count > 1 else 10**9
    setup, width = host.strobes[0] - host.puts[0], host.widths[0]
    found: list[tuple[str, HostTimes]] = []
    for part, whole in PACES:
        pace = Span(period * part // whole)
        if width < pace.picoseconds and setup < pace.picoseconds:
            even = HostTimes.regular(count, pace, Span(setup), Span(width))
            found.append((words.EVEN_PACE.format(pace=pace), even))
    pauses = [period * SWEEP[k % len(SWEEP)] // 4 for k in range(count)]
    pauses = [max(pause, width + setup + 1) for pause in pauses]
    swept = HostTimes.by_turns(count, [Span(pause) for pause in pauses], Span(setup), Span(width))
    shown = ", ".join(str(Span(max(period * part // 4, width + setup + 1))) for part in SWEEP)
    return (*found, (words.SWEPT_PACE.format(pauses=shown), swept))


def _bisect(test: Callable[[Span], bool]) -> Span | None:
    """The least span for which something holds that goes on holding above it."""
    low, high = -1, 1000
    while not test(Span(high)):
        low, high = high, high * 4
        if high > _MANY:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if test(Span(middle)) else (middle, high)
    return Span(high)


@dataclass(frozen=True, slots=True)
class Search:
    """Where a listener's figures are looked for: ranges, with the rest as in `like`.

    `jitter` None: as in `like`.  Every listener inside is as likely before; refuse a range that cannot hold one.
    """

    like: Listener
    latency: SpanRange
    service: SpanRange
    jitter: SpanRange | None = None

    def __post_init__(self) -> None:
        if self.service.most < self.like.reads:
            raise ValueError(words.EMPTY_SEARCH.format(service=self.service, reads=self.like.reads))

    @property
    def axes(self) -> dict[str, SpanRange]:
        """The figures that are looked for."""
        axes = {"latency": self.latency, "service": self.service}
        return axes if self.jitter is None else {**axes, "jitter": self.jitter}


@dataclass(frozen=True, slots=True)
class Belief:
    """What runs tell of a listener: weights over the cells of a grid, their sum being 1.

    `listeners`: the middle of each cell; `cell`: the size of a cell along each figure looked for, in picoseconds.
    `fit`: the logarithm of the mean likelihood over the whole search, by which kinds of listener (depths) are
    compared on the same runs.
    """

    listeners: tuple[Listener, ...]
    weights: tuple[float, ...]
    cell: dict[str, int]
    fit: float

    @property
    def best(self) -> Listener:
        """The likeliest one; of equals the first of the grid."""
        return self.listeners[int(np.argmax(self.weights))]

    def interval(self, figure: str, inside: float = INSIDE) -> SpanRange:
        """The range between the tails: below and above it lies half of what is not `inside`.

        `figure`: ``latency``, ``service``, ``jitter`` or ``turn`` (latency and service together, which is what equal
        pauses can tell at best).
        """
        values = np.array([_figure(listener, figure) for listener in self.listeners])
        weights = np.array(self.weights)
        if figure == "turn":
            # the sum of two even spreads over a cell; as steps of a quarter each
            offsets = np.add.outer(*((np.arange(4) - 1.5) * self.cell.get(name, 0) / 4 for name in _PAIR)).ravel()
            spread = (self.cell.get("latency", 0) + self.cell.get("service", 0)) // 8
        else:
            offsets = np.zeros(1)
            spread = self.cell.get(figure, 0)
        points = np.add.outer(values, offsets).ravel()
        shares = np.repeat(weights / len(offsets), len(offsets))
        low, high = (_quantile(points, shares, spread, part) for part in ((1 - inside) / 2, (1 + inside) / 2))
        return SpanRange(Span(max(0, low)), Span(max(0, high)))


_PAIR = ("latency", "service")


def _quantile(points: npt.NDArray[np.float64], shares: npt.NDArray[np.float64], spread: int, part: float) -> int:
    """The value below which that part of the weight lies, each point being spread evenly over so much."""
    values, index = np.unique(points, return_inverse=True)
    masses = np.bincount(index, shares)
    edges = np.repeat(values, 2) + np.tile([-spread / 2, spread / 2], len(values))
    steps = np.argsort(edges, kind="stable")
    slopes = np.tile([1.0, -1.0], len(values)) * np.repeat(masses / max(spread, 1), 2)
    if not spread:
        return int(values[min(int(np.searchsorted(np.cumsum(masses), part)), len(values) - 1)])
    at, slopes = edges[steps], np.cumsum(slopes[steps])
    totals = np.concatenate([[0.0], np.cumsum(np.diff(at) * slopes[:-1])])
    return round(float(np.interp(part, totals / totals[-1], at)))


def _figure(listener: Listener, figure: str) -> int:
    if figure == "turn":
        return listener.latency.picoseconds + listener.service.picoseconds
    if figure not in {"latency", "service", "jitter"}:
        raise ValueError(words.FIGURE.format(figure=figure))
    value: Span = getattr(listener, figure)
    return value.picoseconds


Trials = Sequence[tuple[HostTimes, Sequence[Sequence[int]]]]
"""Transmissions, each with its runs: for every run the indices of the bytes read, in order."""


def weigh_listeners(trials: Trials, search: Search, progress: Progress = no_progress) -> Belief:
    """What runs tell of a listener.  Several transmissions with their own timing tell latency and service apart.

    The ranges are narrowed to where the weight is until the cells are small beside it.  Refuses indices that a host
    did not send.
    """
    patterns: _Patterns = []
    for host, runs in trials:
        counts: dict[tuple[int, ...], int] = {}
        for run in runs:
            for index in run:
                if not 0 <= index < len(host.puts):
                    raise ValueError(words.INDEX.format(last=len(host.puts) - 1, index=index))
            counts[tuple(run)] = counts.get(tuple(run), 0) + 1
        patterns.append((host, counts))
    if search.jitter is None and not search.like.jitter.picoseconds:
        found = _seek(patterns, search, progress)
        if found is not None:
            return found
    return _narrowed(patterns, search, progress, spread=False)


def _narrowed(patterns: _Patterns, search: Search, progress: Progress, *, spread: bool) -> Belief:
    """The ranges narrowed to where the weight is."""
    now, share = search, 1.0
    for turn in range(TURNS):
        progress(turn, TURNS, words.WEIGHING)
        belief = _weigh(patterns, now, spread=spread)
        narrower, part = _narrow(now, belief)
        if turn == TURNS - 1 or part > NARROW_ENOUGH:
            break
        share *= part
        now = narrower
    # the mean over the whole search counts what was left out as nothing
    return replace(belief, fit=belief.fit + math.log(share))


def _seek(patterns: _Patterns, search: Search, progress: Progress) -> Belief | None:
    """Where listeners without jitter explain the runs; None where none is found.

    Such a listener explains a pattern or it does not, and those that do lie on a slope too narrow for a grid over the
    whole search.  Latencies spread over each cell lead to one of them; a window around it then grows as long as what
    it holds reaches its edges.
    """
    seed = _narrowed(patterns, search, progress, spread=True).best
    around = {"latency": seed.latency.picoseconds, "service": seed.service.picoseconds}
    nothing = math.log(FLOOR) * sum(sum(counts.values()) for _, counts in patterns)
    halves = {name: max(1000, (r.most.picoseconds - r.least.picoseconds) // 4096) for name, r in search.axes.items()}
    for _ in range(MOST_GROWTHS):
        ranges = {
            name: SpanRange(
                Span(max(limits.least.picoseconds, around[name] - halves[name])),
                Span(min(limits.most.picoseconds, around[name] + halves[name])),
            )
            for name, limits in search.axes.items()
        }
        now = Search(search.like, ranges["latency"], ranges["service"])
        belief = _weigh(patterns, now)
        weights = np.array(belief.weights)
        if belief.fit + math.log(float(weights.max()) * len(weights)) < nothing / 2:
            return None
        kept = weights > weights.max() * NEGLIGIBLE
        grown = False
        for name, limits in ranges.items():
            values = np.array([_figure(listener, name) for listener in belief.listeners])[kept]
            cell = belief.cell[name]
            edges = (limits.least.picoseconds, limits.most.picoseconds)
            whole = (search.axes[name].least.picoseconds, search.axes[name].most.picoseconds)
            reached = (int(values.min()) - cell <= edges[0] > whole[0], int(values.max()) + cell >= edges[1] < whole[1])
            if any(reached):
                halves[name] *= 2
                grown = True
            elif kept.sum() < FEW_KEPT and halves[name] > 1000:
                around[name] = int(values.mean())
        if not grown:
            break
    share = 1.0
    for name, limits in search.axes.items():
        part = ranges[name].most.picoseconds - ranges[name].least.picoseconds
        share *= part / max(1, limits.most.picoseconds - limits.least.picoseconds)
    return replace(belief, fit=belief.fit + math.log(share))


_Patterns = list[tuple[HostTimes, dict[tuple[int, ...], int]]]


def _weigh(patterns: _Patterns, search: Search, *, spread: bool = False) -> Belief:
    axes = search.axes
    count = CELLS if len(axes) == 2 else CELLS_OF_THREE
    counts_of = dict.fromkeys(axes, count)
    if _is_fine(search) and not spread:
        counts_of["service"] *= FINER if len(axes) == 2 else FINER_OF_THREE
    cell = {
        name: (limits.most.picoseconds - limits.least.picoseconds) // counts_of[name] for name, limits in axes.items()
    }
    centres = {
        name: [
            Span(limits.least.picoseconds + (2 * k + 1) * cell[name] // 2)
            for k in range(counts_of[name] if cell[name] else 1)
        ]
        for name, limits in axes.items()
    }
    jitters = centres.get("jitter", [search.like.jitter])
    listeners = [
        replace(search.like, latency=latency, service=service, jitter=jitter)
        for latency, service, jitter in product(centres["latency"], centres["service"], jitters)
        if service >= search.like.reads
    ]
    logs = np.zeros(len(listeners))
    for host, counts in patterns:
        for k, listener in enumerate(listeners):
            strobes, puts = arrays_of(host, listener)
            nodes, settings = listener.nodes(NODES_OF_FIT), listener.settings()
            if spread:
                nodes = _spread(listener, cell)
            for pattern, times in counts.items():
                heard = np.array(pattern, np.int64)
                logs[k] += times * kernel.log_likelihood(strobes, puts, nodes, settings, heard, FLOOR)
    top = float(logs.max())
    weights = np.exp(logs - top)
    return Belief(
        tuple(listeners), tuple((weights / weights.sum()).tolist()), cell, top + math.log(float(weights.mean()))
    )


def _spread(listener: Listener, cell: dict[str, int]) -> Counts:
    """Latencies all over a cell."""
    width = cell["latency"] + cell["service"]
    places = (np.arange(NODES_OF_FIT) + 0.5) / NODES_OF_FIT - 0.5
    return np.maximum(0, listener.latency.picoseconds + np.round(places * width).astype(np.int64))


def _is_fine(search: Search) -> bool:
    """Whether the service is to be looked for in finer steps.

    A listener that remembers strobes serves on without a rest, so that a small error adds up over many bytes.
    """
    return bool(search.like.depth) and bool(search.jitter is not None or search.like.jitter.picoseconds)


def _narrow(search: Search, belief: Belief) -> tuple[Search, float]:
    """The ranges that hold nearly all weight, a cell added on either side, and their part of the old ones."""
    weights = np.array(belief.weights)
    kept = weights > weights.max() * NEGLIGIBLE
    ranges: dict[str, SpanRange] = {}
    part = 1.0
    for name, limits in search.axes.items():
        values = np.array([_figure(listener, name) for listener in belief.listeners])[kept]
        cell = belief.cell[name]
        # where cells are fine, what explains the runs is a narrow slope across them, of which few cells hold a part
        margin = cell * (MARGIN_FINE[name] if _is_fine(search) else 3) // 2
        low = max(limits.least.picoseconds, int(values.min()) - margin)
        high = min(limits.most.picoseconds, int(values.max()) + margin)
        ranges[name] = SpanRange(Span(low), Span(max(low, high)))
        whole = limits.most.picoseconds - limits.least.picoseconds
        part *= (high - low) / whole if whole else 1.0
    return Search(search.like, ranges["latency"], ranges["service"], ranges.get("jitter")), part


def next_setting(belief: Belief, settings: Sequence[HostTimes]) -> tuple[int, tuple[float, ...]]:
    """Which of several transmissions to try next: the one whose misses tell the listeners apart best.

    Returns its index and, for each, the information in bits about the listener that the most telling single byte
    (heard or missed in one run) gives: a bound from below of what the run gives.
    """
    weights = np.array(belief.weights)
    keep = np.flatnonzero(weights > weights.max() * NEGLIGIBLE)
    share = weights[keep] / weights[keep].sum()
    gains: list[float] = []
    for host in settings:
        table = np.array([predict_misses(host, belief.listeners[k]).missed for k in keep])
        gains.append(float((_entropy(share @ table) - share @ _entropy(table)).max()))
    return int(np.argmax(gains)), tuple(gains)


def _entropy(p: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    clipped = np.clip(p, 1e-12, 1 - 1e-12)
    return np.asarray(-(clipped * np.log2(clipped) + (1 - clipped) * np.log2(1 - clipped)))
