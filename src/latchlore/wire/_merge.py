"""Merging: from several lossy runs of one transmission to what was most probably sent."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import ByteSequence, SequenceByte, Unsupported, no_progress
from latchlore.wire import _mergewording as words
from latchlore.wire._assess import Assessment, _groups, assess
from latchlore.wire._calibration import calibrated
from latchlore.wire._climbs import search, search_timed
from latchlore.wire._freemend import free_clock, weigh_counts
from latchlore.wire._linefaults import find_hints
from latchlore.wire._members import goes_on, split
from latchlore.wire._needed import MISS, MOST_RUNS, runs_needed
from latchlore.wire._positions import Placed, place_known
from latchlore.wire._rates import EVEN, Model
from latchlore.wire._results import AlignedRun, Alternative, Extra, ExtraKind, Flip, Merge, Outlier, Rates
from latchlore.wire._search import Problem, Search, Tables
from latchlore.wire._times import paced_clock, placed_clock

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from latchlore.base import Progress
    from latchlore.wire._bytelog import Run
    from latchlore.wire._times import Clock

    Floats = npt.NDArray[np.float64]

MOST_RUN_BYTES = 20_000
"""A run may have this many bytes to be merged."""
MOST_CELLS = 60_000_000
"""Bound of the tables' size: runs × bytes × window."""
SMALL = 24
"""Runs shorter than this are merged from several orders, since a climb can end beside the top."""
FLIP_SHOWN = 0.001
EARLY_CHANCE = 1e-4
FREE_TURNS = 3
MOST_LOOSE = 4
"""So many bytes that the result does not explain are named."""
FOREIGN_KIND = 2  # of `_kernel.best_path`
LEAST_UNLIKE = 8
"""Lines that stand still are named where the result has so many unlike bytes."""
TWO_KINDS = 10.0
"""Two sequences must explain the runs better than one by so many nats."""


def merge(
    runs: Sequence[Run],
    progress: Progress = no_progress,
    missed: Sequence[float] = (),
    only: Sequence[int] | None = None,
) -> Merge:
    """The most probable sequence of all runs together, with the doubts that remain.

    `missed`: where host and listener are known, the chance (0 to 1) that a run misses each byte sent, as
    `predict_misses` gives it; runs that do not fit it are merged as if it were not known, and that is said.

    `only`: indices of the runs that take part, where some are known to be of another transmission; the others are
    not looked at, and all keep their indices.

    Each run repeats one transmission.  One run is valid and is returned as it is, with its doubts.  The result does
    not depend on the order of the runs but for their indices.  Refuses an empty list (ValueError) and runs too long
    to be merged (Unsupported).
    """
    if not runs:
        raise ValueError("a merge needs at least one run")
    asked = range(len(runs)) if only is None else sorted(set(only))
    if not asked:
        raise ValueError("a merge needs at least one run")
    heard = [r for r in asked if runs[r].data]
    empty = [r for r in asked if not runs[r].data]
    notes = [words.EMPTY_RUNS.format(runs=_name_runs(empty))] if empty else []
    if len(heard) <= 1:
        return _single(runs, heard, notes, len(asked))
    _check_size(runs)
    members, outliers, best = _without_outliers(runs, heard, progress)
    placed = place_known(best, missed) if missed else None
    if placed is not None:
        best = placed.search
    found = assess(best)
    data = best.tables.data
    rates = _rates(best)
    groups = [n for _, n in _groups(data) if n > 1]
    whole = calibrated(found.whole)
    needed = runs_needed(len(data), groups, rates.loss)
    if whole >= 1 - MISS:
        needed = min(needed, len(members))  # the formula looks ahead from the rates alone; these runs have settled it
    items, after = found.items, found.missing_after
    if placed is not None:
        items, after = _with_missed(items, after, placed, [rate ** len(members) for rate in missed])
    sequence = ByteSequence(items, whole, len(members), after)
    aligned = tuple(sorted((_aligned(best.tables, k, r) for k, r in enumerate(members)), key=lambda a: a.run))
    truncated = _truncated(runs, members, best)
    notes += _notes(best, members, found, rates, needed)
    if truncated:
        notes.insert(0, truncated)
    if missed:
        notes.insert(0, _known_note(placed, missed))
    notes = list(dict.fromkeys(outlier.words for outlier in outliers)) + notes
    return Merge(
        sequence, rates, aligned, found.repeats, _in_step(found, whole), outliers, truncated,
        max(0, needed - len(members)), tuple(notes),
    )  # fmt: skip


def _in_step(found: Assessment, whole: float) -> tuple[Alternative, ...]:
    """The other sequences, with what recalibration takes from the result shared out among them as they stand."""
    if not 0 < found.whole < 1:
        return found.alternatives
    more = (1 - whole) / (1 - found.whole)
    return tuple(replace(one, probability=min(whole, more * one.probability)) for one in found.alternatives)


def _with_missed(
    items: tuple[SequenceByte, ...], after: float, placed: Placed, silent: Sequence[float]
) -> tuple[tuple[SequenceByte, ...], float]:
    """The result, the chance of a byte missing at each place raised by the bytes sent that hardly any run can hold."""
    ends = [*placed.places, len(silent)]
    begins = [-1, *placed.places]
    unheard = [max(silent[a + 1 : b], default=0.0) for a, b in zip(begins, ends, strict=True)]
    raised = tuple(
        replace(item, missing_before=max(item.missing_before, chance))
        for item, chance in zip(items, unheard, strict=False)
    )
    return raised, max(after, unheard[-1])


def _known_note(placed: Placed | None, missed: Sequence[float]) -> str:
    if placed is None:
        return words.NOT_KNOWN.format(num=len(missed))
    absent = sorted(set(range(len(missed))) - set(placed.places))
    if not absent:
        return words.KNOWN.format(num=len(missed))
    shown = ", ".join(str(k) for k in absent[:12]) + (" and more" if len(absent) > 12 else "")
    return words.KNOWN_ABSENT.format(num=len(missed), count=len(absent), shown=shown)


def _check_size(runs: Sequence[Run]) -> None:
    longest = max(runs, key=lambda run: len(run.data))
    cells = len(runs) * len(longest.data) * 64
    if len(longest.data) > MOST_RUN_BYTES or cells > MOST_CELLS:
        raise Unsupported(
            longest.origin(),
            f"{len(runs)} runs of up to {len(longest.data)} bytes are too many to merge at once; a merge takes runs of"
            f" up to {MOST_RUN_BYTES} bytes and {MOST_CELLS // 64} bytes in all; split the runs at a byte they share",
        )


def _single(runs: Sequence[Run], heard: Sequence[int], notes: list[str], num_asked: int) -> Merge:
    """One run, with what the model believes of a listener before it has seen two runs."""
    data = runs[heard[0]].data if heard else b""
    model = Model()
    lost = model.drop
    kept = 1 - model.double
    items = tuple(
        SequenceByte(v, kept if i and v == data[i - 1] else 1 - float(model.flip.sum()) / 2, (), lost)
        for i, v in enumerate(data)
    )
    # The loss rate itself is unknown: the mean of (1 - p)^n under Beta(1, 9) is 9 / (9 + n).
    whole = 9 / (9 + len(data) + 1)
    sequence = ByteSequence(items, whole, 1, lost)
    columns = tuple(range(len(data)))
    aligned = (AlignedRun(heard[0], columns, (), 0),) if heard else ()
    rates = Rates(0.0, 0.0, 1.0, True, (0.0,) * len(data), ())
    said = words.SINGLE if num_asked == 1 else words.SINGLE_HEARD
    if not heard:
        return Merge(replace(sequence, confidence=0.0), rates, (), (), (), (), "", None, (words.NOTHING_HEARD,))
    return Merge(sequence, rates, aligned, (), (), (), "", None, (said, *notes))


def _orders(runs: Sequence[bytes]) -> list[list[int]]:
    """Orders in which the draft takes the runs: longest first; for short runs some others as well.

    Equal bytes keep the order total whatever the order of the runs given.
    """
    longest = sorted(range(len(runs)), key=lambda r: (-len(runs[r]), runs[r]))
    orders = [longest]
    if len(runs[longest[0]]) < SMALL and len(runs) > 2:
        orders.append([longest[1], longest[0], *longest[2:]])
        orders.append(list(reversed(longest)))
    return orders


def _best(runs: Sequence[bytes], times: Sequence[Floats] | None) -> Search:
    # Runs in a canonical order, so that rounding is the same whatever the order given.
    plain = search(Problem.of(runs), _orders(runs))
    if times is None or len(runs) < 2:
        return plain
    drop = plain.model.everywhere
    clocks = [placed_clock(runs, times, plain.tables.expect().where, drop), paced_clock(runs, times, drop)]
    found = [_timed(runs, clock, plain) for clock in clocks if clock is not None]
    free = free_clock(runs, times, drop)
    if free is not None:
        found.append(_free(runs, times, free, plain))
    if not found:
        return plain
    # times are densities: what a narrower spread explains as well is explained better
    count = sum(len(run) for run in runs)
    return max(found, key=lambda pair: pair[0].total - count * math.log(pair[1].spread_ps))[0]


def _timed(runs: Sequence[bytes], clock: Clock, plain: Search) -> tuple[Search, Clock]:
    return search_timed(Problem.of(runs, clock.when), clock.values, clock.columns, plain.model.copy()), clock


def _free(runs: Sequence[bytes], times: Sequence[Floats], clock: Clock, plain: Search) -> tuple[Search, Clock]:
    """The search on a clock of pauses, with what the pauses say of numbers of equal bytes; again while they object."""
    for turn in range(FREE_TURNS):
        best, clock = _timed(runs, clock, plain)
        columns = best.tables.times * clock.spread_ps
        counted = weigh_counts(runs, times, best.tables.data, columns, best.model.everywhere)
        best.counts = counted.gains
        if counted.again is None or turn == FREE_TURNS - 1:
            break
        clock = counted.again
    return best, clock


def _times(runs: Sequence[Run]) -> list[Floats] | None:
    """Times of every byte in picoseconds, where all bytes of all runs have one."""
    found: list[Floats] = []
    for run in runs:
        known = [time.picoseconds for time in run.times or () if time is not None]
        if len(known) != len(run.data):
            return None
        found.append(np.array(known, np.float64))
    return found


def _without_outliers(
    runs: Sequence[Run], heard: Sequence[int], progress: Progress
) -> tuple[list[int], tuple[Outlier, ...], Search]:
    """Search, and search again without runs that do not fit the others, as long as there are some."""
    members = sorted(heard, key=lambda r: (-len(runs[r].data), runs[r].data, r))
    progress(0, 0, "merging runs")
    best = _best_of(runs, members)
    outliers: list[Outlier] = []
    while (parted := _parted(runs, members, best, progress)) is not None:
        members, best, others = parted
        outliers += others
    most = len(outliers) + len(members) // 2
    while len(members) >= 3 and len(outliers) < most:
        lonely = _lonely(best)
        k = max(range(len(members)), key=lambda m: (lonely[m], -m))
        usual = best.model.drop ** (len(members) - 1)
        if lonely[k] <= 0.25 + 2.5 * usual:
            break
        rest = members[:k] + members[k + 1 :]
        progress(len(outliers) + 1, 0, "merging runs without one that does not fit")
        other = _best_of(runs, rest)
        share, fits = _fit(runs[members[k]].data, other)
        if fits:
            break
        outliers.append(Outlier(members[k], words.OUTLIER.format(run=members[k] + 1, share=share)))
        members, best = rest, other
    return members, tuple(sorted(outliers, key=lambda o: o.run)), best


def _best_of(runs: Sequence[Run], members: Sequence[int]) -> Search:
    return _best([runs[r].data for r in members], _times([runs[r] for r in members]))


def _weigh_plain(runs: Sequence[Run], members: Sequence[int], best: Search | None = None) -> float:
    """How well one sequence explains these runs without their times, whose densities are not to be compared."""
    if best is None or best.tables.is_timed:
        data = [runs[r].data for r in members]
        best = search(Problem.of(data), _orders(data))
    return best.fair_total


def _parted(
    runs: Sequence[Run], members: list[int], best: Search, progress: Progress
) -> tuple[list[int], Search, list[Outlier]] | None:
    """The larger of two kinds of runs, where two sequences explain them better than one; and the other kind."""
    kinds = split([runs[r].data for r in members])
    if kinds is None:
        return None
    kept, left = ([members[k] for k in kind] for kind in kinds)
    progress(0, 0, "merging two kinds of runs apart")
    one = _best_of(runs, kept)
    apart = _weigh_plain(runs, kept, one) + _weigh_plain(runs, left)
    if apart < _weigh_plain(runs, members, best) + TWO_KINDS:
        return None
    shares = {r: _fit(runs[r].data, one)[0] for r in left}
    said = words.OTHER_KIND.format(
        runs=_name_runs(sorted(left)), least=min(shares.values()), most=max(shares.values())
    ) + (words.AS_MANY if len(left) == len(kept) else "")
    outliers = [Outlier(r, said) for r in left]
    return kept, one, outliers


def _lonely(best: Search) -> list[float]:
    """For each run, the part of its bytes that no other run holds or that nothing explains."""
    found = best.tables.expect()
    received = 1 - found.dropped
    others = received.sum(axis=0)[None, :] - received
    alone = (received * (others < 0.5)).sum(axis=1) + found.foreigns
    return [float(a) / max(1, len(best.problem.run(r))) for r, a in enumerate(alone)]


def _fit(data: bytes, best: Search) -> tuple[float, bool]:
    """Share of a run's bytes that the result holds in order; and whether it fits better than bytes of no relation."""
    alone = Tables(Problem.of([data]), best.tables.data, best.model, best.drops)
    model = Model()
    model.learn_symbols(best.tables.data)
    unrelated = float(np.log(model.symbols[np.frombuffer(data, dtype=np.uint8)]).sum())
    where = alone.expect().where[0]
    right = sum(1 for i, j in enumerate(where) if j >= 0 and data[j] == best.tables.data[i])
    return right / len(data), alone.loglik > unrelated or goes_on(bytes(best.tables.data), data)


def _rates(best: Search) -> Rates:
    found, model = best.tables.expect(), best.model
    flips = [
        Flip(bit, level, float(model.flip[bit, level]))
        for bit in range(8)
        for level in range(2)
        if model.flip[bit, level] > FLIP_SHOWN
    ]
    flips.sort(key=lambda f: (-f.rate, f.bit, f.level))
    losses = tuple(round(float(v), 6) for v in found.dropped.mean(axis=0))
    loss = model.everywhere
    return Rates(loss, model.double, model.burst, model.concentration >= EVEN, losses, tuple(flips))


def _aligned(tables: Tables, k: int, run: int) -> AlignedRun:
    column, kind = tables.story(k)
    data = tables.problem.run(k)
    columns: list[int | None] = [None] * len(tables.data)
    extras: list[Extra] = []
    flipped = 0
    for j, (i, what) in enumerate(zip(column.tolist(), kind.tolist(), strict=True)):
        if what == 0:
            columns[i] = j
            flipped += int(data[j]) != tables.data[i]
        else:
            extras.append(Extra(j, i, ExtraKind.DOUBLE if what == 1 else ExtraKind.FOREIGN))
    return AlignedRun(run, tuple(columns), tuple(extras), flipped)


def _name_runs(runs: Sequence[int]) -> str:
    numbers = [str(r + 1) for r in runs]
    if len(numbers) == 1:
        return f"run {numbers[0]}"
    return f"runs {', '.join(numbers[:-1])} and {numbers[-1]}"


def _truncated(runs: Sequence[Run], members: Sequence[int], best: Search) -> str:
    sizes = {len(runs[r].data) for r in members}
    lost = float(best.tables.expect().dropped.sum())
    if len(members) >= 3 and len(sizes) == 1 and lost >= len(members):
        size = sizes.pop()
        where = best.tables.expect().where
        last = min(int(np.max(np.nonzero(where[k] >= 0)[0], initial=0)) for k in range(len(members)))
        return words.FULL.format(size=size, last=last)
    return ""


def _early(best: Search, members: Sequence[int]) -> list[str]:
    """Runs that lack so many of the last bytes that chance does not explain it."""
    where = best.tables.expect().where
    length = len(best.tables.data)
    chance = max(1e-3, float(best.model.after_drop(best.model.drop)))
    stops: dict[int, list[int]] = {}
    ends: dict[int, list[int]] = {}
    for k, r in enumerate(members):
        held = np.nonzero(where[k] >= 0)[0]
        last = int(held[-1]) if len(held) else -1
        tail = length - 1 - last
        if tail > 1:
            ends.setdefault(last, []).append(r)
            if chance**tail * len(members) < EARLY_CHANCE:
                stops.setdefault(last, []).append(r)
    begins = min(0.5, best.model.drop)
    for last, who in ends.items():
        # however long bursts are, they do not begin at the same byte run after run
        if len(who) > 2 and math.comb(len(members), len(who)) * begins ** len(who) < EARLY_CHANCE:
            stops[last] = who
    said = []
    for column, who in sorted(stops.items()):
        if len(who) == 1:
            said.append(words.EARLY.format(run=who[0] + 1, column=column, length=length))
        else:
            said.append(words.EARLY_ALL.format(runs=_name_runs(sorted(who)), column=column, length=length))
    return said


def _loose(best: Search, members: Sequence[int]) -> list[str]:
    """Bytes of runs that the result does not explain."""
    found = []
    for k, r in enumerate(members):
        column, kind = best.tables.story(k)
        data = best.problem.run(k)
        found += [(r, j, int(data[j]), int(column[j])) for j in np.flatnonzero(kind == FOREIGN_KIND).tolist()]
    if not found:
        return []
    shown = "; ".join(
        words.LOOSE_ONE.format(value=value, run=r + 1, place=words.AT_FRONT if after < 0 else f"after byte {after}")
        for r, _, value, after in sorted(found)[:MOST_LOOSE]
    )
    return [words.LOOSE.format(shown=shown + (" and more" if len(found) > MOST_LOOSE else ""))]


def _still(data: Sequence[int]) -> list[str]:
    """Lines that never move or always move together in the result: what all runs agree in, a merge cannot see."""
    if len(set(data)) < LEAST_UNLIKE:
        return []
    hints = find_hints(bytes(data))
    low = [k for k in hints.low if k != 7]
    said = [words.STILL.format(line=k, level=level) for level, lines in ((0, low), (1, hints.high)) for k in lines]
    return said + [words.TOGETHER.format(first=a, second=b) for a, b in hints.agree]


def _notes(
    best: Search,
    members: Sequence[int],
    found: Assessment,
    rates: Rates,
    needed: int,
) -> list[str]:
    notes = _early(best, members)
    if len(members) == 2:
        notes.append(words.TWO)
        both = int((best.tables.expect().where >= 0).all(axis=0).sum())
        share = both / max(1, min(len(best.problem.run(0)), len(best.problem.run(1))))
        if share < 0.5:
            notes.append(words.NOT_ALIKE.format(share=share))
    for flip in rates.flips:
        if flip.rate >= 0.05:
            said = words.STUCK.format(bit=flip.bit, read=1 - flip.level, rate=flip.rate, level=flip.level)
            notes.append(said)
    if not rates.even:
        notes.append(words.UNEVEN)
    if rates.burst > 1:
        notes.append(words.BURSTS.format(burst=rates.burst))
    unsure = [repeat for repeat in found.repeats if repeat.counts[0][1] < 0.95]
    if unsure:
        shown = "; ".join(f"at byte {repeat.start}: {repeat}" for repeat in unsure[:6])
        notes.append(words.REPEATS.format(shown=shown + (" and more" if len(unsure) > 6 else "")))
    notes += _loose(best, members)
    notes += _still(best.tables.data)
    more = needed - len(members)
    if needed >= MOST_RUNS:
        notes.append(words.MANY_RUNS)
    elif more > 0:
        notes.append(words.MORE_RUNS.format(more=more, s="" if more == 1 else "s"))
    return notes
