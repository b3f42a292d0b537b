"""The search for the most probable sequence: a draft, and edits that make all runs together likelier."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from latchlore.wire import _kernel
from latchlore.wire._rates import DOUBLE_PRIOR, FOREIGN, ODD, ODD_DROP, Model

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Counts = npt.NDArray[np.int64]
    Bytes = npt.NDArray[np.uint8]

FULL_WIDTH = 160
"""Runs shorter than this are compared in full; longer ones in a window that follows the alignment."""
WINDOW = 64
MOST_NEW = 5
"""Columns that one edit may put in."""
MOST_SWEEPS = 60
REACH = 7
"""Columns to each side of an edit that are looked at again."""
GARBLED_TIME = 1e-3
"""Density of a byte whose time is far off its column's, beside that of one whose time is right."""
ECHO = 0.2
"""A byte read again comes within so much of a pause, as a standard deviation."""
MOVED = 0.7
"""Where the logarithm of a rate has moved by this much, every position is looked at again."""
SETTLED = -12.0
"""A position is settled where the best edit would lose this many nats."""

AHEAD = 6.0
"""A change that loses less than this many nats is tried, to see whether another beside it more than makes good."""
MOST_AHEAD = 12
"""So many such changes are tried, the least bad first."""
AHEAD_GAIN = 0.01
"""Two changes together must gain this many nats."""


class Edit(NamedTuple):
    """Replace `taken` columns from `at` by `new`.

    `sources[c]` is the old column whose rates new column c keeps, or -1.
    """

    at: int
    taken: int
    new: tuple[int, ...]
    sources: tuple[int, ...]

    def apply(self, data: Sequence[int]) -> tuple[int, ...]:
        """The sequence after the edit."""
        return (*data[: self.at], *self.new, *data[self.at + self.taken :])


class Problem(NamedTuple):
    """All runs, packed as `_kernel` reads them."""

    ys: Bytes
    ts: Floats
    starts: Counts

    @property
    def num_runs(self) -> int:
        """How many runs there are."""
        return len(self.starts) - 1

    @classmethod
    def of(cls, runs: Sequence[bytes], times: Sequence[Floats] | None = None) -> Problem:
        """Pack runs; `times` of every byte in units of their spread, or none."""
        starts = np.zeros(len(runs) + 1, dtype=np.int64)
        starts[1:] = np.cumsum([len(run) for run in runs])
        ys = np.frombuffer(b"".join(runs), dtype=np.uint8).copy()
        return cls(ys, np.full(len(ys), np.nan) if times is None else np.concatenate(times), starts)

    def run(self, r: int) -> Bytes:
        """The bytes of run r."""
        return self.ys[self.starts[r] : self.starts[r + 1]]


class Tables:
    """Forward and backward tables of one draft, and what they say."""

    def __init__(
        self, problem: Problem, data: Sequence[int], model: Model, drops: Floats, times: Floats | None = None
    ) -> None:
        self.problem, self.data, self.model, self.drops = problem, list(data), model, drops
        self.xs = np.array(self.data, dtype=np.uint8)
        self.is_timed = times is not None
        self.times = np.full(len(self.data), np.nan) if times is None else times
        pause = float(np.median(np.diff(self.times))) if self.is_timed and len(self.times) > 1 else 1.0
        self.clock = np.array([GARBLED_TIME if self.is_timed else 0.0, max(1.0, ECHO * pause)])
        self.reads = model.reads()
        longest = int(np.diff(problem.starts).max(initial=0))
        self.drops_after = model.after_drop(drops)
        self.per_run = np.empty(problem.num_runs)
        width = longest + 1 if longest < FULL_WIDTH else min(WINDOW, longest + 1)
        self._fill(width, longest)
        while not np.isfinite(self.per_run).all() and self.width <= longest:
            self._fill(min(4 * self.width, longest + 1), longest)  # a window has lost its run
        self.loglik = float(self.per_run.sum())
        self.expected: Expected | None = None
        self.gap_times: Floats | None = None
        self.saved: dict[int, float] | None = None
        self.span: Counts | None = None

    def _fill(self, width: int, longest: int) -> None:
        problem, length = self.problem, len(self.data)
        num_runs = problem.num_runs
        self.width = width
        self.lo = np.zeros((num_runs, length + 1), dtype=np.int64)
        self.fore = np.empty((num_runs, length + 1, width, 2))
        self.back = np.empty((num_runs, length + 1, width, 2))
        self.fore_log = np.zeros((num_runs, length + 1))
        self.back_log = np.zeros((num_runs, length + 1))
        follow = np.minimum(256.0, 1 / self.model.symbols) if width <= longest else np.empty(0)
        common = (problem.ys, problem.ts, problem.starts, self.xs, self.times, self.clock, self.reads, self.drops,
                  self.drops_after, self.model.double, FOREIGN, self.lo)  # fmt: skip
        _kernel.forward(*common, self.fore, self.fore_log, follow)
        _kernel.backward(*common, self.back, self.back_log)
        _kernel.likelihoods(problem.starts, self.fore, self.fore_log, self.back, self.per_run)

    def expect(self) -> Expected:
        """Expected counts; computed once."""
        if self.expected is None:
            self.expected = Expected.of(self)
        return self.expected

    def new_time(self, edit: Edit, c: int) -> float:
        """When a new column of an edit was sent: at the time of the column it replaces, else in the gap.

        In a gap: the middle of the unplaced bytes there, else the middle between its neighbours.
        """
        if c < edit.taken:
            return float(self.times[edit.at + c])
        if self.gap_times is None:
            self.gap_times = self._find_gap_times()
        return float(self.gap_times[edit.at + edit.taken])

    def widest_gap(self, start: int, num: int) -> int:
        """Where among `num` columns from `start`, both ends included, another one has the most room."""
        best, place = -np.inf, start
        for at in range(start, start + num + 1):
            if 0 < at < len(self.times):
                room = float(self.times[at] - self.times[at - 1])
                if room > best:
                    best, place = room, at
        return place

    def doubles_saved(self, i: int) -> float:
        """Nats by which the doubles seen in the run of equal bytes from column i are charged too little.

        The rate of doubles is learnt from those very doubles, so that each true double would explain itself; a
        sequence with one byte more, which needs none of them, is compared with what they cost without themselves.
        """
        if self.saved is None:
            every = self.expect().doubles.sum(axis=0)
            edges = np.flatnonzero(np.diff(self.xs.astype(np.int16)) != 0) + 1
            starts = np.concatenate([[0], edges]).astype(np.int64)
            own, whole = np.add.reduceat(every, starts), float(every.sum()) + DOUBLE_PRIOR[0]
            rest = np.array([math.lgamma(max(whole - one, DOUBLE_PRIOR[0])) for one in own])
            costs = own * math.log(whole) - math.lgamma(whole) + rest
            self.saved = dict(zip(starts.tolist(), np.maximum(0.0, costs).tolist(), strict=True))
        return self.saved.get(i, 0.0)

    def _find_gap_times(self) -> Floats:
        where, problem, length = self.expect().where, self.problem, len(self.data)
        found: list[list[float]] = [[] for _ in range(length + 1)]
        for r in range(problem.num_runs):
            first, end = int(problem.starts[r]), int(problem.starts[r + 1])
            placed = {int(j): i for i, j in enumerate(where[r]) if j >= 0}
            before = 0
            for j in range(end - first):
                if j in placed:
                    before = placed[j] + 1
                else:
                    found[before].append(float(problem.ts[first + j]))
        padded = np.concatenate(([self.times[0] - 1], self.times, [self.times[-1] + 1])) if length else np.zeros(2)
        between = (padded[:-1] + padded[1:]) / 2
        return np.array([float(np.median(one)) if one else float(b) for one, b in zip(found, between, strict=True)])

    def _span(self) -> Counts:
        if self.span is None:
            self.span = np.empty((*self.lo.shape, 2), dtype=np.int64)
            _kernel.spans(self.fore, self.back, self.span)
        return self.span

    def story(self, r: int) -> tuple[Counts, Counts]:
        """The likeliest story of run r: for each byte its column and its kind, see `_kernel.best_path`."""
        p = self.problem
        y, t = p.run(r), p.ts[p.starts[r] : p.starts[r + 1]]
        column, kind = np.full(len(y), -1, dtype=np.int64), np.full(len(y), 2, dtype=np.int64)
        _kernel.best_path(
            y, t, self.xs, self.times, self.clock, self.reads, self.drops, self.drops_after, self.model.double,
            FOREIGN, self.lo[r], self.width, column, kind,
        )  # fmt: skip
        return column, kind

    def score(self, edits: Sequence[Edit], drops: Floats | None = None) -> Floats:
        """Log-likelihood of all runs after each edit alone; new columns take `drops` (one rate for each edit)."""
        num = len(edits)
        at = np.array([e.at for e in edits], dtype=np.int64)
        taken = np.array([e.taken for e in edits], dtype=np.int64)
        new_num = np.array([len(e.new) for e in edits], dtype=np.int64)
        new_x = np.zeros((num, MOST_NEW), dtype=np.uint8)
        new_t = np.full((num, MOST_NEW), np.nan)
        new_drop = np.full((num, MOST_NEW), self.model.drop)
        for k, edit in enumerate(edits):
            for c, (value, source) in enumerate(zip(edit.new, edit.sources, strict=True)):
                new_x[k, c] = value
                if source >= 0:
                    new_drop[k, c] = self.drops[source]
                    new_t[k, c] = self.times[source]
                    continue
                if self.is_timed:
                    new_t[k, c] = self.new_time(edit, c)
                if drops is not None:
                    new_drop[k, c] = drops[k]
        out = np.empty(num)
        p = self.problem
        _kernel.score_edits(
            p.ys, p.ts, p.starts, self.clock, self.reads, self.model.double, FOREIGN, self.lo, self.fore,
            self.fore_log, self.back, self.back_log, self._span(), at, taken, new_x, new_t, new_drop,
            self.model.after_drop(new_drop), new_num, out,
        )  # fmt: skip
        return out

    def score_odd(self, edits: Sequence[Edit]) -> Floats:
        """As `score`, times the chance that a new column is an odd one that nearly every run loses.

        A byte that one run holds alone is such a one, or it was never sent.
        """
        return self.score(edits, np.full(len(edits), ODD_DROP)) + math.log(ODD)

    def score_with_unknown_drops(self, edits: Sequence[Edit]) -> Floats:
        """As `score`, the drop rate of a new column integrated over what is believed about drop rates."""
        points, weights = self.model.drop_grid()
        scores = np.stack([self.score(edits, np.full(len(edits), p)) for p in points])
        top = scores.max(axis=0)
        result: Floats = top + np.log((weights[:, None] * np.exp(scores - top)).sum(axis=0))
        return result


class Expected(NamedTuple):
    """Expected counts, see `_kernel.expect`."""

    dropped: Floats
    after_drop: Floats
    pairs: Floats
    doubles: Floats
    foreigns: Floats
    where: Counts

    @classmethod
    def of(cls, tables: Tables) -> Expected:
        """Count under the tables."""
        p, num, length = tables.problem, tables.problem.num_runs, len(tables.data)
        found = cls(
            np.zeros((num, length)), np.zeros((length, 2)), np.zeros((256, 256)), np.zeros((num, length)),
            np.zeros(num), np.full((num, length), -1, dtype=np.int64),
        )  # fmt: skip
        _kernel.expect(
            p.ys, p.ts, p.starts, tables.xs, tables.times, tables.clock, tables.reads, tables.drops,
            tables.drops_after, tables.model.double, FOREIGN, tables.lo, tables.fore, tables.fore_log, tables.back,
            tables.back_log, *found,
        )  # fmt: skip
        return found


def draft(problem: Problem, order: Sequence[int]) -> list[int]:
    """A sequence that holds nearly every byte of every run, run after run in this order put in where it fits best."""
    match = np.full((256, 256), -4.0)
    values = np.arange(256)
    for k in range(8):
        match[values, values ^ (1 << k)] = -1.0
    match[values, values] = 1.0
    columns: list[int] = []
    support: list[int] = []
    for count, r in enumerate(order):
        y = problem.run(r)
        xs = np.array(columns, dtype=np.uint8)
        cost = np.array([0.25 * s / max(1, count) for s in support])
        where = np.zeros(len(y), dtype=np.int64)
        _kernel.align_to_draft(y, xs, cost, match, 0.4, where)
        before: dict[int, list[int]] = {}
        for j, place in enumerate(where.tolist()):
            if place >= 0:
                support[place] += 1
            else:
                before.setdefault(-1 - place, []).append(int(y[j]))
        if before:
            columns, support = _put_in(columns, support, before)
    return columns


def _put_in(columns: list[int], support: list[int], before: dict[int, list[int]]) -> tuple[list[int], list[int]]:
    new_columns: list[int] = []
    new_support: list[int] = []
    for i in range(len(columns) + 1):
        added = before.get(i, [])
        new_columns += added
        new_support += [1] * len(added)
        if i < len(columns):
            new_columns.append(columns[i])
            new_support.append(support[i])
    return new_columns, new_support


def _rearrangements(data: Sequence[int], i: int) -> Iterable[Edit]:
    """Edits at i that change only the order of a few neighbours."""
    for size in (2, 3, 4, 5):
        if i + size > len(data):
            return
        here = tuple(range(i, i + size))
        orders = [(*here[1:], here[0])]
        if size > 2:
            orders.append((here[-1], *here[:-1]))
        if size == 4:
            orders.append((*here[2:], *here[:2]))
        for order in orders:
            new = tuple(data[c] for c in order)
            if new != tuple(data[i : i + size]):
                yield Edit(i, size, new, order)


def _gap_bytes(tables: Tables, i: int) -> dict[int, bool]:
    """Values that could stand before column i: the neighbours, and unplaced bytes there (True)."""
    data, where = tables.data, tables.expect().where
    near = {data[k] for k in (i - 2, i - 1, i, i + 1) if 0 <= k < len(data)}
    found: set[int] = set()
    if i > 0 and i < len(data):
        for r in range(tables.problem.num_runs):
            left, right = int(where[r, i - 1]), int(where[r, i])
            if left >= 0 and right > left + 1:
                found.update(int(v) for v in tables.problem.run(r)[left + 1 : right])
    else:
        for r in range(tables.problem.num_runs):
            run = tables.problem.run(r)
            placed = [int(w) for w in where[r] if w >= 0]
            if placed:
                found.update(int(v) for v in (run[: min(placed)] if i == 0 else run[max(placed) + 1 :])[:8])
            else:
                found.update(int(v) for v in run[:8])
    if i > 0:
        found.discard(data[i - 1])  # a byte read twice, rather
    return {value: value in found for value in sorted(near | found)}


def _other_values(tables: Tables, i: int) -> set[int]:
    """Values that some run read at column i, or has unplaced beside it."""
    where, found = tables.expect().where, set()
    for r in range(tables.problem.num_runs):
        j, run = int(where[r, i]), tables.problem.run(r)
        if j >= 0:
            found.add(int(run[j]))
    found.discard(tables.data[i])
    return found


class Change(NamedTuple):
    """An edit and by how much (in nats) it makes everything likelier."""

    gain: float
    edit: Edit


def weigh_edits(tables: Tables, positions: Iterable[int]) -> list[Change]:
    """Every edit worth a thought at these positions (0 to length, both included), in order of place."""
    data, model = tables.data, tables.model
    length = len(data)
    moves: list[Edit] = []
    inserts: list[Edit] = []
    loose: list[bool] = []
    deletes: list[Edit] = []
    stays: list[Edit] = []
    for i in positions:
        for value, unplaced in _gap_bytes(tables, i).items():
            if i > 0 and value == data[i - 1] and not tables.is_timed:
                continue  # the same as putting it before column i - 1, but for its time
            inserts.append(Edit(i, 0, (value,), (-1,)))
            loose.append(unplaced)
        if i >= length:
            continue
        moves.extend(_rearrangements(data, i))
        moves.extend(Edit(i, 1, (value,), (i,)) for value in sorted(_other_values(tables, i)))
        if i == 0 or data[i] != data[i - 1] or tables.is_timed:
            deletes.append(Edit(i, 1, (), ()))
            stays.append(Edit(i, 1, (data[i],), (-1,)))
    changes: list[Change] = []
    if moves:
        gains = tables.score(moves) - tables.loglik
        changes += [Change(float(g) + _prior_gain(model, data, e), e) for g, e in zip(gains, moves, strict=True)]
    if inserts:
        gains = tables.score_with_unknown_drops(inserts) - tables.loglik
        if any(loose):
            odd = tables.score_odd([e for e, unplaced in zip(inserts, loose, strict=True) if unplaced])
            gains[loose] = np.logaddexp(gains[loose], odd - tables.loglik)
        again = [tables.doubles_saved(e.at) if data[e.at : e.at + 1] == list(e.new) else 0.0 for e in inserts]
        changes += [
            Change(float(g) + more + _prior_gain(model, data, e), e)
            for g, more, e in zip(gains, again, inserts, strict=True)
        ]
    if deletes:
        gains = tables.score(deletes) - tables.score_with_unknown_drops(stays)
        changes += [Change(float(g) + _prior_gain(model, data, e), e) for g, e in zip(gains, deletes, strict=True)]
    return sorted(changes, key=lambda c: (c.edit.at, c.edit.taken, c.edit.new))


def _prior_gain(model: Model, data: Sequence[int], edit: Edit) -> float:
    """Change of the log-probability of what is sent."""
    before = data[edit.at - 1] if edit.at > 0 else -1
    tail = data[edit.at + edit.taken : edit.at + edit.taken + 1]

    def chain(middle: Sequence[int]) -> float:
        total, last = 0.0, before
        for value in (*middle, *tail):
            total += model.log_next(last, value)
            last = value
        return total

    return chain(edit.new) - chain(data[edit.at : edit.at + edit.taken])


def strength(change: Change) -> tuple[float, int, int, tuple[int, ...]]:
    """Best first: largest gain; place, size and bytes only make the order total."""
    return (-change.gain, change.edit.at, change.edit.taken, change.edit.new)


class Search:
    """One hill climb from one draft."""

    def __init__(self, problem: Problem, data: Sequence[int], model: Model, times: Floats | None = None) -> None:
        self.problem, self.model = problem, model
        self.drops = np.full(len(data), model.drop)
        self.margins = [math.inf] * (len(data) + 1)  # best gain known of an edit at each position
        self.gist = model.gist()  # the rates for which the margins hold
        self.tables = Tables(problem, data, model, self.drops, times)
        self.counts: dict[tuple[int, int], float] = {}  # see `_freemend.Counted.gains`

    @property
    def total(self) -> float:
        """Log-probability of runs and sequence together."""
        return self._weigh(self.tables)

    @property
    def fair_total(self) -> float:
        """`total`, to compare climbs by: rates learnt for each place fit the runs they were learnt from too well."""
        if not self.tables.data:
            return self.total
        return self.total - self.model.overfit(self.tables.expect().dropped, self.drops)

    def _weigh(self, tables: Tables) -> float:
        return tables.loglik + self.model.log_prior(tables.data)

    def learn(self, *, spread: bool) -> None:
        """One step of learning the rates from the tables."""
        tables = self.tables
        if not tables.data:
            return
        found = tables.expect()
        data = np.array(tables.data)
        alone = np.ones(len(data), dtype=np.bool_)
        alone[1:] &= data[1:] != data[:-1]
        alone[:-1] &= data[1:] != data[:-1]
        self.model.learn_symbols(tables.data)
        self.model.learn_lines(found.pairs)
        received = found.dropped.size - float(found.dropped.sum())
        self.model.learn_doubles(float(found.doubles.sum()), received)
        self.drops = self.model.learn_drops(found.dropped, found.after_drop, alone, spread=spread)
        times = _middles(self.problem, found.where, tables.times) if tables.is_timed else None
        self.tables = Tables(self.problem, tables.data, self.model, self.drops, times)

    def _with(self, edits: Sequence[Edit]) -> Tables:
        """Tables after several edits that do not overlap."""
        tables = self.tables
        data, drops, times = list(tables.data), list(self.drops), list(tables.times)
        for edit in sorted(edits, key=lambda e: -e.at):
            new = [self.drops[s] if s >= 0 else self.model.drop for s in edit.sources]
            data[edit.at : edit.at + edit.taken] = edit.new
            drops[edit.at : edit.at + edit.taken] = new
            if tables.is_timed:
                when = [tables.times[s] if s >= 0 else tables.new_time(edit, c) for c, s in enumerate(edit.sources)]
                times[edit.at : edit.at + edit.taken] = when
        kept = np.array(times, dtype=np.float64) if tables.is_timed else None
        return Tables(self.problem, data, self.model, np.array(drops, dtype=np.float64), kept)

    def climb(self) -> None:
        """Take edits as long as they gain; positions where nothing came near to gaining are not looked at again."""
        seen = {tuple(self.tables.data)}
        gist = self.model.gist()
        if np.abs(gist - self.gist).max() > MOVED:
            self.margins, self.gist = [math.inf] * len(self.margins), gist
        for _ in range(MOST_SWEEPS):
            active = [i for i, margin in enumerate(self.margins) if margin > SETTLED]
            changes = weigh_edits(self.tables, active)
            for i in active:
                self.margins[i] = -math.inf
            for change in changes:
                self.margins[change.edit.at] = max(self.margins[change.edit.at], change.gain)
            changes = [c for c in changes if c.gain > 1e-6]
            if not changes:
                return
            chosen = _apart(changes)
            tables = self._with([c.edit for c in chosen])
            gained = self._weigh(tables) - self.total
            if gained < 0.5 * sum(c.gain for c in chosen) and len(chosen) > 1:
                chosen = chosen[:1]
                tables = self._with([chosen[0].edit])
            if tuple(tables.data) in seen:
                return
            seen.add(tuple(tables.data))
            self._move_margins(chosen)
            self.tables, self.drops = tables, tables.drops

    def look_ahead(self) -> bool:
        """Take pairs of changes beside each other that gain together, though neither gains alone; whether any was.

        Such as a byte that stands doubled some places from where it was sent: taken out here it is missed, put in
        there it is one too many.
        """
        tried: set[tuple[int, ...]] = set()
        taken = False
        while True:
            data = self.tables.data
            near = [i for i, margin in enumerate(self.margins) if margin > -AHEAD]
            firsts = [c for c in weigh_edits(self.tables, near) if c.gain > -AHEAD]
            firsts = [c for c in firsts if c.edit.apply(data) not in tried]
            for first in sorted(firsts, key=strength)[:MOST_AHEAD]:
                tried.add(first.edit.apply(data))
                if self._follow(first):
                    taken = True
                    break
            else:
                return taken

    def _follow(self, first: Change) -> bool:
        """Take this change and the best one beside it where they gain together, and climb on from there."""
        before, margins, total = self.tables, list(self.margins), self.total
        between = self._with([first.edit])
        at, end = first.edit.at, first.edit.at + len(first.edit.new)
        reach = range(max(0, at - REACH), min(len(between.data), end + REACH) + 1)
        back = tuple(before.data)
        seconds = [c for c in weigh_edits(between, reach) if c.edit.apply(between.data) != back]
        if not seconds:
            return False
        second = min(seconds, key=strength)
        if self._weigh(between) + second.gain <= total + AHEAD_GAIN:
            return False
        for change in (first, second):
            self.tables = self._with([change.edit])
            self.drops = self.tables.drops
            self._move_margins([change])
        self.climb()
        if self.total > total + AHEAD_GAIN:
            return True
        self.tables, self.drops, self.margins = before, before.drops, margins
        return False

    def _move_margins(self, chosen: Sequence[Change]) -> None:
        """After edits: positions near them must be looked at again."""
        for change in sorted(chosen, key=lambda c: -c.edit.at):
            edit = change.edit
            first = max(0, edit.at - REACH)
            last = min(len(self.margins) - 1, edit.at + edit.taken + REACH)
            new = last - first + 1 - edit.taken + len(edit.new)
            self.margins[first : last + 1] = [math.inf] * new


def _middles(problem: Problem, where: Counts, times: Floats) -> Floats:
    """When each column was sent: the middle of its bytes' times; as before where it has none."""
    held = np.full(where.shape, np.nan)
    for r in range(problem.num_runs):
        placed = np.flatnonzero(where[r] >= 0)
        held[r, placed] = problem.ts[int(problem.starts[r]) + where[r, placed]]
    known = ~np.isnan(held).all(axis=0)
    middles = times.copy()
    middles[known] = np.nanmedian(held[:, known], axis=0)
    return middles


def _apart(changes: Sequence[Change]) -> list[Change]:
    """The strongest changes that leave three columns between one another."""
    chosen: list[Change] = []
    used: set[int] = set()
    for change in sorted(changes, key=strength):
        reach = range(change.edit.at - 3, change.edit.at + change.edit.taken + 4)
        if used.isdisjoint(reach):
            chosen.append(change)
            used.update(reach)
    return chosen


def likely(gain: float) -> float:
    """Odds from a gain in nats, held within what a float can carry."""
    return math.exp(min(50.0, max(-700.0, gain)))
