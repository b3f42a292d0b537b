"""A common clock for runs of a handshake that runs free: their pauses are alike, their times drift apart.

Runs are put on a draft one after the other by their pauses (`_gapkernel.place`); the draft's pauses are then fitted
to all runs, and each byte's time is moved by how far its neighbours in the run are off.  What a byte's own time says
about its column is kept: it takes no part in its own correction.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from latchlore.wire import _gapkernel as kernel
from latchlore.wire._times import Clock, cut_columns

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]
    Counts = npt.NDArray[np.int64]
    Floats = npt.NDArray[np.float64]

FIRST_SPREAD = 0.12
"""Part of the usual pause by which a pause is taken to spread, before anything is known."""
LEAST_SPREAD = 0.01
ROUNDS = 4
"""So often all runs are put on the draft again."""
TURNS = 12
"""Turns of fitting the pauses."""
SHORTEST = 1e-3
"""A pause is at least so many spreads: columns keep their order."""
GAIN = (1.5, 4.0)
"""Nats for a byte that fits: by how rare it is, within these bounds."""
NEW = 1.5
"""Nats for a byte that the draft lacks, as long as runs are put together."""
HOLDS = 0.6
"""Of the bytes of each run so large a part must have a column."""


class FreeDraft:
    """Columns with their times in picoseconds, and which of them each byte of each run is (-1: none).

    Runs and times as in `free_clock`; `drop`: the loss rate so far.
    """

    def __init__(self, runs: Sequence[bytes], times: Sequence[Floats], drop: float) -> None:
        self.runs, self.times = runs, times
        self.values = [np.frombuffer(run, np.uint8) for run in runs]
        self.drop = min(0.9, max(0.02, drop))
        self.longest = max(range(len(runs)), key=lambda r: (len(runs[r]), -r))
        pauses = np.diff(times[self.longest])
        self.usual = float(np.median(pauses)) if len(pauses) else 0.0
        self.spread = FIRST_SPREAD * self.usual
        counts = np.bincount(np.concatenate(self.values), minlength=256) + 1.0
        self.gain = np.clip(np.log(counts.sum() / counts), *GAIN)
        self.columns: Floats = times[self.longest].copy()
        self.drafted: Bytes = self.values[self.longest].copy()
        self.owners: list[Counts] = [np.full(len(run), -1, np.int64) for run in runs]

    def take_in_all(self) -> None:
        """Put all runs on a draft that begins as the longest one and takes in what it lacks."""
        self.owners[self.longest] = np.arange(len(self.columns))
        for r in sorted(range(len(self.runs)), key=lambda r: (-len(self.runs[r]), r)):
            if r != self.longest:
                self._place(r)
                self._take_in(r)

    def place_all(self) -> None:
        """Put all runs on the draft as it is."""
        for r in range(len(self.runs)):
            self._place(r)

    def _place(self, r: int) -> None:
        scale = 1 / self.spread
        passed = np.full(len(self.columns), -np.log(self.drop))
        own = self.times[r] * scale, self.values[r]
        kernel.place(*own, self.columns * scale, self.drafted, passed, self.gain, NEW, self.owners[r])

    def _take_in(self, r: int) -> None:
        """New columns for the bytes of a run that the draft lacks."""
        owner = self.owners[r]
        fresh = np.flatnonzero(owner < 0)
        held = np.flatnonzero(owner >= 0)
        if not len(fresh) or not len(held):
            return
        # between the columns of its neighbours in the run, whatever their times say
        after = np.searchsorted(held, fresh)
        low = np.where(after > 0, self.columns[owner[held[np.maximum(after - 1, 0)]]], -np.inf)
        high = np.where(after < len(held), self.columns[owner[held[np.minimum(after, len(held) - 1)]]], np.inf)
        when = np.clip(self.moved(r)[fresh], np.nextafter(low, np.inf), np.nextafter(high, -np.inf))
        every = np.concatenate([self.columns, when])
        order = np.argsort(every, kind="stable")
        place = np.empty(len(order), np.int64)
        place[order] = np.arange(len(order))
        for other in self.owners:
            other[other >= 0] = place[other[other >= 0]]
        owner[fresh] = place[len(self.columns) :]
        self.columns = every[order]
        self.drafted = np.concatenate([self.drafted, self.values[r][fresh]])[order]

    def holds(self) -> bool:
        """Whether every run has enough of its bytes on the draft."""
        return all(float((owner >= 0).mean()) >= HOLDS for owner in self.owners if len(owner))

    def fit(self) -> None:
        """Fit the draft's pauses and their spread to all runs."""
        scale = 1 / self.spread
        spans = find_spans([moments * scale for moments in self.times], self.owners)
        if not len(spans[2]):
            return
        now = fit_columns(self.columns * scale, spans)
        since, until, measured = spans
        rest = (measured - (now[until] - now[since])) / np.sqrt(until - since)
        # as many pauses were fitted as there are columns, so what is left looks smaller than it is
        free = max(0.2, 1 - (len(now) - 1) / len(measured))
        found = 1.4826 * float(np.median(np.abs(rest))) / free**0.5 * self.spread
        self.columns = now * self.spread
        self.spread = max(found, LEAST_SPREAD * self.usual, 1.0)

    def moved(self, r: int) -> Floats:
        """The times of a run on the draft's clock, each moved by its neighbours' offsets but not by its own."""
        owner, moments = self.owners[r], self.times[r]
        held = np.flatnonzero(owner >= 0)
        if not len(held):
            return moments
        column = owner[held]
        off = moments[held] - self.columns[column]
        offsets = np.interp(np.arange(len(moments)), held, off)
        if len(held) > 1:
            before, after = np.concatenate([off[1:2], off[:-1]]), np.concatenate([off[1:], off[-2:-1]])
            left, right = np.diff(column, prepend=column[0]), np.diff(column, append=column[-1])
            offsets[held] = (before * right + after * left) / np.maximum(1, left + right)
        return np.asarray(np.maximum.accumulate(moments - offsets), np.float64)

    def cut(self) -> Clock | None:
        """Cut the moved times into columns, which become the draft; None where they lie too close."""
        clock, owners = cut_columns(self.runs, [self.moved(r) for r in range(len(self.runs))], self.spread, self.drop)
        if clock is not None:
            self.columns = clock.columns * clock.spread_ps
            self.drafted = np.frombuffer(bytes(clock.values), np.uint8)
            self.owners = owners
        return clock


def find_spans(times: Sequence[Floats], owners: Sequence[Counts]) -> tuple[Counts, Counts, Floats]:
    """From column, to column, and how long it took, for every two neighbours in a run that have columns."""
    since, until, spans = [], [], []
    for owner, moments in zip(owners, times, strict=True):
        held = np.flatnonzero(owner >= 0)
        rising = np.flatnonzero(np.diff(owner[held]) > 0)
        since.append(owner[held[rising]])
        until.append(owner[held[rising + 1]])
        spans.append(moments[held[rising + 1]] - moments[held[rising]])
    return np.concatenate(since), np.concatenate(until), np.concatenate(spans)


def fit_columns(columns: Floats, spans: tuple[Counts, Counts, Floats]) -> Floats:
    """The columns with their pauses fitted to the spans; all times in units of a pause's spread."""
    pauses = np.diff(columns)
    room = np.zeros(len(pauses)), np.zeros(len(pauses))
    for _ in range(TURNS):
        kernel.fit_pauses(*room, *spans, pauses)
    return np.asarray(columns[0] + np.concatenate([[0.0], np.cumsum(np.maximum(pauses, SHORTEST))]), np.float64)
