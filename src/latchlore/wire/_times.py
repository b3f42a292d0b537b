"""Times as evidence of a merge: the runs brought onto one clock, and cut into columns by it.

Every run has its own zero, and where a handshake runs free its pauses drift; so a run's offset to the common clock is
taken from the bytes that a merge without times has placed, for the whole run or, where that fits clearly better,
around each byte.  The spread of the times about their columns tells how far they can be trusted.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from latchlore.wire import _timekernel as kernel

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    Counts = npt.NDArray[np.int64]
    Floats = npt.NDArray[np.float64]

ROUNDS = 6
WINDOW = 5
"""Bytes to each side that tell the offset around a byte."""
FITS_BETTER = 0.7
"""Offsets around each byte are taken where they leave less than this part of the spread."""
FALL_TOGETHER = 0.5
"""Of the bytes that two runs can share, so large a part must fall together at the best shift."""
FINEST = 0.8
CUTS = 3
"""So often runs are cut and put on the clock again."""
MOST_SPREAD = 0.34
"""Times that spread by more than this part of the usual pause tell no order and are left out."""


@dataclass(frozen=True, slots=True)
class Clock:
    """Runs on one clock.  `when[r]`: the time of each byte of run r, `columns` and `values` a first draft of the
    sequence; all times in units of `spread_ps`, the spread about a column.
    """

    when: tuple[Floats, ...]
    values: tuple[int, ...]
    columns: Floats
    spread_ps: float


def placed_clock(runs: Sequence[bytes], times: Sequence[Floats], where: Counts, drop: float) -> Clock | None:
    """Bring runs onto one clock by the bytes that a merge without times has placed; None where that tells nothing.

    `times[r]` picoseconds, one a byte; `where[r, i]`: the byte of run r that was taken for column i, or -1; `drop`:
    the loss rate so far.
    """
    aligned = _align(times, where)
    return None if aligned is None else cut_columns(runs, *aligned, drop)[0]


def paced_clock(runs: Sequence[bytes], times: Sequence[Floats], drop: float) -> Clock | None:
    """Bring runs onto one clock by their times: the shift at which most equal bytes of two runs fall together.

    This needs no placing, and so stands where many equal neighbours let a merge place them anywhere; it needs runs
    of one pace.  None where a run shares nothing with the others.
    """
    longest = max(range(len(runs)), key=lambda r: (len(runs[r]), -r))
    if len(runs[longest]) < 2:
        return None
    window = 0.25 * float(np.median(np.diff(times[longest])))
    when: list[Floats] = []
    left: list[Floats] = []
    for run, moments in zip(runs, times, strict=True):
        shift = _best_shift(run, moments, runs[longest], times[longest], window)
        if shift is None or len(shift[1]) < FALL_TOGETHER * (1 - drop) * len(run):
            return None
        when.append(moments - shift[0])
        left.append(shift[1])
    others = np.concatenate([one for r, one in enumerate(left) if r != longest])
    spread = 1.4826 * float(np.median(np.abs(others))) / 2**0.5 if len(others) else 0.0
    first = spread
    clock: Clock | None = None
    for _ in range(CUTS):
        clock, owners = cut_columns(runs, when, max(spread, 1.0), drop)
        if clock is None:
            return None
        columns = clock.columns * clock.spread_ps
        # against all columns, not one run: a run of nothing but equal bytes may have come to lie a pause off
        held = np.bincount(np.concatenate(owners), minlength=len(columns))
        for r, run in enumerate(runs):
            # what two other runs have is as good as what many have; what this run alone has proves nothing
            others = np.clip((held - np.bincount(owners[r], minlength=len(columns))) / 2, 0, 1)
            again = _best_shift(run, when[r], bytes(clock.values), columns, 4 * clock.spread_ps, others)
            if again is not None and abs(again[0]) > 2 * clock.spread_ps:
                when[r] = when[r] - again[0]
                owners[r] = np.abs(columns[None, :] - when[r][:, None]).argmin(axis=1)
        rest = [when[r] - columns[owners[r]] for r in range(len(runs))]
        when = [moments - (np.median(one) if len(one) else 0.0) for moments, one in zip(when, rest, strict=True)]
        # never much below what two runs alone show: columns cut too fine make the rest look too small
        spread = max(FINEST * first, _pooled(rest, len(columns)))
    return clock


def _pooled(rest: Sequence[Floats], columns: int) -> float:
    """The standard deviation about the columns, each of which has taken its own middle from the bytes."""
    every = np.concatenate([one - np.median(one) for one in rest if len(one)])
    limit = 4 * 1.4826 * float(np.median(np.abs(every)))
    inside = np.clip(every, -limit, limit) if limit else every
    return float(np.sqrt((inside**2).sum() / max(1, len(every) - columns)))


def _best_shift(
    run: bytes, moments: Floats, other: bytes, theirs: Floats, window: float, support: Floats | None = None
) -> tuple[float, Floats] | None:
    """The shift of a run against another at which the rarest equal bytes fall together, and what is left there.

    `support`: how much each byte of the other counts; alike where not given.
    """
    mine, yours = np.frombuffer(run, np.uint8), np.frombuffer(other, np.uint8)
    k, j = np.nonzero(mine[:, None] == yours[None, :])
    if not len(k):
        return None
    shifts = moments[k] - theirs[j]
    counts = np.bincount(mine, minlength=256)[mine[k]] * np.bincount(yours, minlength=256)[mine[k]]
    rarity = 1 / np.sqrt(counts) if support is None else support[j] / np.sqrt(counts)
    order = np.argsort(shifts, kind="stable")
    shifts, weights = shifts[order], rarity[order]
    ends = np.searchsorted(shifts, shifts + window, "right")
    totals = np.concatenate([[0.0], np.cumsum(weights)])
    best = int(np.argmax(totals[ends] - totals[: len(shifts)]))
    inside = shifts[best : ends[best]]
    middle = float(np.median(inside))
    return middle, inside - middle


def cut_columns(
    runs: Sequence[bytes], when: Sequence[Floats], spread: float, drop: float
) -> tuple[Clock | None, list[Counts]]:
    """Cut runs on one clock into columns; None where they lie too close for the spread.  Also each byte's column."""
    order = sorted(((t, r, j) for r, run in enumerate(when) for j, t in enumerate(run)), key=lambda one: one)
    scaled = np.array([t for t, _, _ in order]) / spread
    values = np.array([runs[r][j] for _, r, j in order], np.uint8)
    owners = np.array([r for _, r, _ in order], np.int64)
    begins = np.zeros(len(order) + 1, np.int64)
    most = 2 * len(runs) + 2
    count = kernel.cut(scaled - scaled[0], values, owners, len(runs), min(0.9, max(0.02, drop)), most, begins)
    edges = [*begins[:count].tolist(), len(order)]
    columns = np.array([float(np.median(scaled[a:b])) for a, b in itertools.pairwise(edges)])
    places = [np.zeros(len(run), np.int64) for run in runs]
    for column, (a, b) in enumerate(itertools.pairwise(edges)):
        for _, r, j in order[a:b]:
            places[r][j] = column
    if count > 1 and MOST_SPREAD * float(np.median(np.diff(columns))) < 1.0:
        return None, places
    data = tuple(int(np.bincount(values[a:b], minlength=256).argmax()) for a, b in itertools.pairwise(edges))
    return Clock(tuple(run / spread for run in when), data, columns, spread), places


def _align(times: Sequence[Floats], where: Counts) -> tuple[list[Floats], float] | None:
    """Times less each run's offset, and their spread about the columns in picoseconds."""
    num_runs, length = where.shape
    held = np.full((num_runs, length), np.nan)
    for r in range(num_runs):
        placed = np.flatnonzero(where[r] >= 0)
        held[r, placed] = times[r][where[r, placed]]
    offsets = np.full(num_runs, np.nan)
    first = int(np.argmax((~np.isnan(held)).sum(axis=1)))
    offsets[first] = 0.0
    columns = held[first].copy()
    for _ in range(ROUNDS):
        for r in range(num_runs):
            shared = held[r] - columns
            if not np.isnan(shared).all():
                offsets[r] = np.nanmedian(shared)
        shifted = held - offsets[:, None]
        known = ~np.isnan(shifted).all(axis=0)
        columns = np.full(length, np.nan)
        columns[known] = np.nanmedian(shifted[:, known], axis=0)
    if np.isnan(offsets).any():
        return None
    shared = held - offsets[:, None] - columns
    constant = _spread(shared)
    when = [times[r] - offsets[r] for r in range(num_runs)]
    local = [_local(shared[r]) for r in range(num_runs)]
    left = _spread(np.array([shared[r] - np.interp(np.arange(length), *local[r]) for r in range(num_runs)]))
    if left < FITS_BETTER * constant:
        for r in range(num_runs):
            placed = np.flatnonzero(where[r] >= 0)
            drift = np.interp(placed, *local[r])
            when[r] = when[r] - np.interp(np.arange(len(when[r])), where[r, placed], drift)
        constant = left
    if not constant > 0:
        constant = 1.0  # a clock without any jitter, such as whole microseconds of a simulation
    return when, constant


def _local(shared: Floats) -> tuple[Floats, Floats]:
    """Column numbers, and the middle of what is left around each."""
    placed = np.flatnonzero(~np.isnan(shared))
    values = shared[placed]
    middle = [float(np.median(values[max(0, k - WINDOW) : k + WINDOW + 1])) for k in range(len(values))]
    return placed.astype(np.float64), np.array(middle)


def _spread(shared: Floats) -> float:
    """The standard deviation of what is left, from its median size, which a few misplaced bytes do not move."""
    return 1.4826 * float(np.nanmedian(np.abs(shared)))
