"""Numbers of bytes by their pauses: whether a free-running handshake had a byte more or less at one place.

A byte that every run of a draft takes for another one's neighbour stretches or squeezes the pauses around it.  So
columns are taken out or put in, the runs are put on the changed part again, its pauses are fitted again, and what
all runs together say is compared.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from latchlore.wire import _gapkernel as kernel
from latchlore.wire._freeclock import ROUNDS, FreeDraft, find_spans, fit_columns

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from latchlore.wire._times import Clock

    Bytes = npt.NDArray[np.uint8]
    Counts = npt.NDArray[np.int64]
    Floats = npt.NDArray[np.float64]

FOREIGN = 8.0
"""Nats for a byte that no column explains."""
COLUMN = 2.0
"""Nats that a column costs: its pause is fitted to the very runs it explains."""
FEW = 0.8
"""Columns that fewer than this part of the expected runs hold are doubted."""
SHARE = 0.5
"""Part of a gain that counts as odds: the likeliest placing alone is weighed, its pauses fitted to what it explains."""
PASSES = 3
WINDOW = 10
"""Columns to each side of a change that are fitted again."""
FITS = 4
"""So often runs are put on the part, and the part fitted to them."""


def free_clock(runs: Sequence[bytes], times: Sequence[Floats], drop: float) -> Clock | None:
    """Bring runs onto one clock by their pauses; None where they share too little, or pauses spread too much.

    `times[r]` picoseconds, one a byte; `drop`: the loss rate so far.
    """
    draft = FreeDraft(runs, times, drop)
    if not draft.usual > 0:
        return None
    draft.take_in_all()
    for _ in range(ROUNDS):
        draft.fit()
        if draft.cut() is None:
            return None
        draft.place_all()
    return _finish(draft)


def _finish(draft: FreeDraft) -> Clock | None:
    draft.fit()
    _mend(draft)
    draft.place_all()
    draft.fit()
    return draft.cut() if draft.holds() else None


class Counted(NamedTuple):
    """What pauses say of the numbers of equal bytes in a sequence.

    `gains`: keys (start, change): by how much, in nats, a byte more (1) or less (-1) in the run of equal bytes from
    `start` is likelier than the sequence.  `again`: the clock for a sequence that is likelier, None where none is.
    """

    gains: dict[tuple[int, int], float]
    again: Clock | None


def weigh_counts(
    runs: Sequence[bytes], times: Sequence[Floats], data: Sequence[int], columns: Floats, drop: float
) -> Counted:
    """Weigh every number of equal bytes in `data` against one more and one less.

    `columns`: when each byte of `data` was sent, in picoseconds on a common clock; the rest as in `free_clock`.
    """
    draft = FreeDraft(runs, times, drop)
    draft.columns, draft.drafted = columns.copy(), np.array(data, np.uint8)
    draft.spread = max(draft.spread, 1.0)
    for _ in range(2):
        draft.place_all()
        draft.fit()
    gains: dict[tuple[int, int], float] = {}
    for start, num in _groups(draft):
        gains[start, 1] = SHARE * _change(draft, _widest(draft, start, num), 1).gain
        gains[start, -1] = SHARE * max(_change(draft, at, -1).gain for at in _narrowest(draft, start, num))
    return Counted(gains, _finish(draft) if max(gains.values(), default=0.0) > 0 else None)


def _groups(draft: FreeDraft) -> list[tuple[int, int]]:
    """(start, number) of every run of two or more equal columns."""
    edges = np.flatnonzero(np.diff(draft.drafted.astype(np.int16)) != 0) + 1
    starts = [0, *edges.tolist(), len(draft.drafted)]
    return [(a, b - a) for a, b in itertools.pairwise(starts) if b - a > 1]


def _widest(draft: FreeDraft, start: int, num: int) -> int:
    """The column of a run of equal ones before which there is most room."""
    return start + 1 + int(np.argmax(np.diff(draft.columns[start : start + num])))


def _narrowest(draft: FreeDraft, start: int, num: int) -> list[int]:
    """The columns of a run of equal ones that could best be missed: fewest runs hold it, or least room."""
    support = np.zeros(len(draft.columns), np.int64)
    for owner in draft.owners:
        support[np.unique(owner[owner >= 0])] += 1
    room = np.diff(draft.columns[start : start + num])
    return sorted({start + int(np.argmin(support[start : start + num])), start + 1 + int(np.argmin(room))})


class _Part(NamedTuple):
    """Bytes `low` to `high` of run `r`."""

    r: int
    low: int
    high: int


class _Changed(NamedTuple):
    """A changed part, columns `first` to `end` of the draft before; `gain` in nats."""

    gain: float
    change: int
    first: int
    end: int
    parts: list[_Part]
    columns: Floats
    drafted: Bytes
    owners: list[Counts]


def _mend(draft: FreeDraft) -> None:
    """Take columns out, and put columns into runs of equal ones, as long as that makes all runs likelier."""
    few = FEW * (1 - draft.drop) * len(draft.runs)
    for _ in range(PASSES):
        size = len(draft.columns), 0
        at = 0
        while at < len(draft.columns) > 2:
            support = sum(int((owner == at).any()) for owner in draft.owners)
            if not (support < few and _take(draft, _change(draft, at, -1))):
                at += 1
        put = 0
        for start, num in _groups(draft):
            put += _take(draft, _change(draft, _widest(draft, start + put, num), 1))
        if (len(draft.columns), put) == size:
            break


def _take(draft: FreeDraft, changed: _Changed) -> bool:
    """Make a change where it gains."""
    if changed.gain <= 0:
        return False
    first, end = changed.first, changed.end
    shift = changed.columns[-1] - draft.columns[end - 1]
    draft.columns = np.concatenate([draft.columns[:first], changed.columns, draft.columns[end:] + shift])
    draft.drafted = np.concatenate([draft.drafted[:first], changed.drafted, draft.drafted[end:]])
    for part, owner in zip(changed.parts, changed.owners, strict=True):
        mine = draft.owners[part.r]
        mine[mine >= end] += changed.change
        mine[part.low : part.high] = np.where(owner >= 0, owner + first, -1)
    return True


def _change(draft: FreeDraft, at: int, change: int) -> _Changed:
    """The draft's part around column `at` without it (-1), or with one more like it before it (1)."""
    first, end = max(0, at - WINDOW), min(len(draft.columns), at + WINDOW + 1)
    parts = []
    for r, owner in enumerate(draft.owners):
        held = np.flatnonzero((owner >= first) & (owner < end))
        parts.append(_Part(r, int(held[0]), int(held[-1]) + 1) if len(held) else _Part(r, 0, 0))
    columns, drafted, k = draft.columns[first:end], draft.drafted[first:end], at - first
    before, _, _ = _fit_part(draft, parts, columns, drafted)
    if change < 0:
        columns, drafted = np.delete(columns, k), np.delete(drafted, k)
    else:
        columns = np.insert(columns, k, (columns[k - 1] + columns[k]) / 2)
        drafted = np.insert(drafted, k, drafted[k])
    after, columns, owners = _fit_part(draft, parts, columns, drafted)
    return _Changed(after - before - change * COLUMN, change, first, end, parts, columns, drafted, owners)


def _fit_part(
    draft: FreeDraft, parts: Sequence[_Part], columns: Floats, drafted: Bytes
) -> tuple[float, Floats, list[Counts]]:
    """How likely the runs' parts are under these columns (in nats), with the pauses fitted to them; their columns."""
    scale = 1 / draft.spread
    now = columns * scale
    times = [draft.times[p.r][p.low : p.high] * scale for p in parts]
    passed, gain = np.full(len(now), -np.log(draft.drop)), np.full(256, np.log(1 - draft.drop))
    owners = [np.full(len(moments), -1, np.int64) for moments in times]
    total = 0.0
    for turn in range(FITS):
        if turn:
            now = fit_columns(now, find_spans(times, owners))
        total = 0.0
        for p, moments, owner in zip(parts, times, owners, strict=True):
            own = moments, draft.values[p.r][p.low : p.high]
            total += kernel.place(*own, now, drafted, passed, gain, FOREIGN, owner)
    return total, now * draft.spread, owners
