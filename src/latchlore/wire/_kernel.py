"""Compiled arithmetic of the merge: how likely a run is when a given sequence was sent.

The model, row by row.  A draft of L columns is walked from left to right; column i is *received* (its byte is read
through lines that may flip) or *dropped*.  After a received column the same byte may be read again (a double), and
anywhere a foreign byte may appear (hardly ever).  A path's state after column i is R (received) or D (dropped);
the chance to drop column i is `drop_r[i]` after R and `drop_d[i]` after D.

Packed arrays, used by every function here:

* `ys` uint8: the bytes of all runs, one after the other; run r is ``ys[starts[r]:starts[r + 1]]``.
* `lo[r, i]`: the number of run bytes at which the window of row i begins; the window holds `width` counts.
* `fore[r, i, k, s]`: probability of the paths that have passed i columns and used ``lo[r, i] + k`` bytes, state s
  (0 R, 1 D), divided by ``exp(fore_log[r, i])``; doubles and foreign bytes after column i are included.
* `back[r, i, k, s]`: probability of the rest from there, divided by ``exp(back_log[r, i])``.  So for every row i
  the sum over k and s of fore times back is the same likelihood.
* `reads[x, y]`: probability to read y where x was sent.
* `rates` = (double, foreign).
* times: `ts` float64 beside `ys`, in units of the time spread, NaN where unknown; `tcol[i]` when column i was sent on
  the same clock; `clock` = (the density given to a byte far off its time, how late a double may be).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from latchlore.wire._barekernel import bare

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Counts = npt.NDArray[np.int64]
    Bytes = npt.NDArray[np.uint8]

STEP_MOST = 2
"""A window moves by at most this many counts a row."""
EXTRA_MOST = 4
"""So many doubles and foreign bytes are followed behind the columns of an edit."""
HOPELESS = -1e6
"""Stands for the logarithm of nothing."""
MARGIN = 8
"""Counts to each side of those that matter that an edit may bring into play."""
NEGLIGIBLE = 1e-15


@bare()
def _time_factor(t: float, tc: float, clock: Floats) -> float:
    """Density of the time of a byte relative to a byte at its very time; 1 where either time is unknown."""
    d = t - tc
    if math.isnan(d):  # NaN: a time is not known
        return 1.0
    factor: float = math.exp(-0.5 * d * d) + clock[0]
    return factor


@bare()
def _echo_factor(t: float, tc: float, clock: Floats) -> float:
    """The same for a byte read again: it comes soon after its column's time; 1 where either time is unknown."""
    d = (t - tc) / clock[1]
    if math.isnan(d):
        return 1.0
    factor: float = math.exp(-0.5 * d * d) + clock[0]
    return factor


@bare()
def _row(
    prev: Floats,
    prev_lo: int,
    prev_n: int,
    out: Floats,
    out_lo: int,
    out_n: int,
    y: Bytes,
    t: Floats,
    read: Floats,
    tc: float,
    clock: Floats,
    drop_r: float,
    drop_d: float,
    double: float,
    foreign: float,
) -> float:
    """One column: `out` from `prev` (arrays of shape (k, 2), not scaled).  Returns the sum of `out`."""
    exit_r = 1.0 - double - foreign
    exit_d = 1.0 - foreign
    keep_r, keep_d = exit_r * (1.0 - drop_r), exit_d * (1.0 - drop_d)
    lose_r, lose_d = exit_r * drop_r, exit_d * drop_d
    any_byte = foreign / 256.0
    total = 0.0
    before_r = before_d = 0.0
    n = y.shape[0]
    for k in range(out_n):
        j = out_lo + k
        if j > n:
            out[k, 0] = out[k, 1] = 0.0
            continue
        q = j - prev_lo
        value_d = 0.0
        if 0 <= q < prev_n:
            value_d = prev[q, 0] * lose_r + prev[q, 1] * lose_d
        value_r = 0.0
        if j > 0:
            e = read[y[j - 1]] * _time_factor(t[j - 1], tc, clock)
            q -= 1
            if 0 <= q < prev_n:
                value_r = (prev[q, 0] * keep_r + prev[q, 1] * keep_d) * e
            value_r += before_r * (double * read[y[j - 1]] * _echo_factor(t[j - 1], tc, clock) + any_byte)
            value_d += before_d * any_byte
        out[k, 0] = value_r
        out[k, 1] = value_d
        before_r, before_d = value_r, value_d
        total += value_r + value_d
    return total


@bare()
def forward(
    ys: Bytes,
    ts: Floats,
    starts: Counts,
    xs: Bytes,
    tcol: Floats,
    clock: Floats,
    reads: Floats,
    drop_r: Floats,
    drop_d: Floats,
    double: float,
    foreign: float,
    lo: Counts,
    fore: Floats,
    fore_log: Floats,
    follow: Floats,
) -> None:
    """Fill `fore`, `fore_log` and, unless `follow` is empty, `lo`.

    The windows follow the likeliest count.  `follow[y]` is one over the chance of y in bytes of no relation: without
    it a path that has used few bytes, and has yet to pay for the rest, would look likelier than it is.
    """
    num_runs, length, width = starts.shape[0] - 1, xs.shape[0], fore.shape[2]
    for r in range(num_runs):
        y = ys[starts[r] : starts[r + 1]]
        t = ts[starts[r] : starts[r + 1]]
        n = y.shape[0]
        highest = max(0, n + 1 - width)
        if len(follow):
            lo[r, 0] = min(highest, max(0, n + 1 - width - STEP_MOST * length))
        value = 1.0
        for k in range(width):
            fore[r, 0, k, 0] = value if lo[r, 0] + k <= n else 0.0
            fore[r, 0, k, 1] = 0.0
            value *= foreign / 256.0
        fore_log[r, 0] = 0.0
        for i in range(length):
            if len(follow):
                best, at = -1.0, 0
                worth = 1.0
                for k in range(width):
                    if k > 0 and lo[r, i] + k <= n:
                        worth *= follow[y[lo[r, i] + k - 1]]
                    mass = (fore[r, i, k, 0] + fore[r, i, k, 1]) * worth
                    if mass > best:
                        best, at = mass, k
                wish = lo[r, i] + at - width // 2
                wish = max(wish, n + 1 - width - STEP_MOST * (length - i - 1))
                lo[r, i + 1] = min(highest, max(lo[r, i], min(lo[r, i] + STEP_MOST, wish)))
            total = _row(
                fore[r, i],
                lo[r, i],
                width,
                fore[r, i + 1],
                lo[r, i + 1],
                width,
                y,
                t,
                reads[xs[i]],
                tcol[i],
                clock,
                drop_r[i],
                drop_d[i],
                double,
                foreign,
            )
            if total > 0.0:
                for k in range(width):
                    fore[r, i + 1, k, 0] /= total
                    fore[r, i + 1, k, 1] /= total
                fore_log[r, i + 1] = fore_log[r, i] + math.log(total)
            else:
                fore_log[r, i + 1] = -math.inf


@njit(cache=True)
def backward(
    ys: Bytes,
    ts: Floats,
    starts: Counts,
    xs: Bytes,
    tcol: Floats,
    clock: Floats,
    reads: Floats,
    drop_r: Floats,
    drop_d: Floats,
    double: float,
    foreign: float,
    lo: Counts,
    back: Floats,
    back_log: Floats,
) -> None:
    """Fill `back` and `back_log` in the windows `lo`."""
    num_runs, length, width = starts.shape[0] - 1, xs.shape[0], back.shape[2]
    exit_r, exit_d, any_byte = 1.0 - double - foreign, 1.0 - foreign, foreign / 256.0
    inner = np.zeros((width + STEP_MOST + 1, 2))
    for r in range(num_runs):
        y = ys[starts[r] : starts[r + 1]]
        t = ts[starts[r] : starts[r + 1]]
        n = y.shape[0]
        for k in range(width):
            at_end = lo[r, length] + k == n
            back[r, length, k, 0] = exit_r if at_end else 0.0
            back[r, length, k, 1] = exit_d if at_end else 0.0
        back_log[r, length] = 0.0
        for i in range(length - 1, -1, -1):
            x, tc = xs[i], tcol[i]
            base = lo[r, i + 1]
            after_r = after_d = 0.0
            for k in range(width - 1, -1, -1):
                j = base + k
                if j < n:
                    again = double * reads[x, y[j]] * _echo_factor(t[j], tc, clock)
                    after_r = back[r, i + 1, k, 0] + (again + any_byte) * after_r
                    after_d = back[r, i + 1, k, 1] + any_byte * after_d
                else:
                    after_r, after_d = back[r, i + 1, k, 0], back[r, i + 1, k, 1]
                inner[k, 0], inner[k, 1] = after_r, after_d
            keep_r, keep_d = exit_r * (1.0 - drop_r[i]), exit_d * (1.0 - drop_d[i])
            lose_r, lose_d = exit_r * drop_r[i], exit_d * drop_d[i]
            total = 0.0
            for k in range(width):
                j = lo[r, i] + k
                got = gone = 0.0
                q = j - base
                if j <= n and 0 <= q < width:
                    gone = inner[q, 1]
                if j < n and 0 <= q + 1 < width:
                    got = inner[q + 1, 0] * reads[x, y[j]] * _time_factor(t[j], tc, clock)
                back[r, i, k, 0] = keep_r * got + lose_r * gone
                back[r, i, k, 1] = keep_d * got + lose_d * gone
                total += back[r, i, k, 0] + back[r, i, k, 1]
            if total > 0.0:
                for k in range(width):
                    back[r, i, k, 0] /= total
                    back[r, i, k, 1] /= total
                back_log[r, i] = back_log[r, i + 1] + math.log(total)
            else:
                back_log[r, i] = -math.inf


@bare()
def likelihoods(starts: Counts, fore: Floats, fore_log: Floats, back: Floats, out: Floats) -> None:
    """Natural logarithm of each run's likelihood, from the last row."""
    length = fore.shape[1] - 1
    for r in range(starts.shape[0] - 1):
        total = 0.0
        for k in range(fore.shape[2]):
            for s in range(2):
                total += fore[r, length, k, s] * back[r, length, k, s]
        out[r] = fore_log[r, length] + math.log(total) if total > 0.0 else -math.inf


@bare()
def spans(fore: Floats, back: Floats, span: Counts) -> None:
    """The part of each window that matters: `span[r, i]` is (first, end) with a margin for what an edit may change."""
    num_runs, rows, width = fore.shape[0], fore.shape[1], fore.shape[2]
    for r in range(num_runs):
        for i in range(rows):
            total = 0.0
            for k in range(width):
                total += fore[r, i, k, 0] * back[r, i, k, 0] + fore[r, i, k, 1] * back[r, i, k, 1]
            first, end = width, 0
            for k in range(width):
                here = fore[r, i, k, 0] * back[r, i, k, 0] + fore[r, i, k, 1] * back[r, i, k, 1]
                if here > NEGLIGIBLE * total:
                    first = min(first, k)
                    end = k + 1
            if end == 0:
                first, end = 0, width
            span[r, i, 0] = max(0, first - MARGIN)
            span[r, i, 1] = min(width, end + MARGIN)


@njit(cache=True)
def score_edits(
    ys: Bytes,
    ts: Floats,
    starts: Counts,
    clock: Floats,
    reads: Floats,
    double: float,
    foreign: float,
    lo: Counts,
    fore: Floats,
    fore_log: Floats,
    back: Floats,
    back_log: Floats,
    span: Counts,
    at: Counts,
    taken: Counts,
    new_x: Bytes,
    new_t: Floats,
    new_drop_r: Floats,
    new_drop_d: Floats,
    new_num: Counts,
    out: Floats,
) -> None:
    """Log-likelihood of all runs after each edit alone.

    Edit e replaces the `taken[e]` columns from `at[e]` by the first `new_num[e]` of row e of `new_x`, `new_t`,
    `new_drop_r`, `new_drop_d`.  `span`: see `spans`.  `out[e]` is the sum over the runs.
    """
    num_runs, width = starts.shape[0] - 1, fore.shape[2]
    most = new_x.shape[1]
    wide = width + most + EXTRA_MOST
    rows = np.zeros((2, wide, 2))
    for e in range(at.shape[0]):
        total = 0.0
        i, after = at[e], at[e] + taken[e]
        for r in range(num_runs):
            y = ys[starts[r] : starts[r + 1]]
            t = ts[starts[r] : starts[r + 1]]
            first, num = span[r, i, 0], span[r, i, 1] - span[r, i, 0]
            base = lo[r, i] + first
            reach = num + new_num[e] + EXTRA_MOST
            now = 0
            for c in range(new_num[e]):
                prev = fore[r, i, first : first + num] if c == 0 else rows[1 - now, :reach]
                _row(
                    prev,
                    base,
                    prev.shape[0],
                    rows[now],
                    base,
                    reach,
                    y,
                    t,
                    reads[new_x[e, c]],
                    new_t[e, c],
                    clock,
                    new_drop_r[e, c],
                    new_drop_d[e, c],
                    double,
                    foreign,
                )
                now = 1 - now
            last = fore[r, i, first : first + num] if new_num[e] == 0 else rows[1 - now, :reach]
            joined = 0.0
            shift = base - lo[r, after]
            for k in range(last.shape[0]):
                q = k + shift
                if 0 <= q < width:
                    joined += last[k, 0] * back[r, after, q, 0] + last[k, 1] * back[r, after, q, 1]
            if joined > 0.0:
                total += fore_log[r, i] + back_log[r, after] + math.log(joined)
            else:
                total += HOPELESS
        out[e] = total


@njit(cache=True)
def expect(
    ys: Bytes,
    ts: Floats,
    starts: Counts,
    xs: Bytes,
    tcol: Floats,
    clock: Floats,
    reads: Floats,
    drop_r: Floats,
    drop_d: Floats,
    double: float,
    foreign: float,
    lo: Counts,
    fore: Floats,
    fore_log: Floats,
    back: Floats,
    back_log: Floats,
    dropped: Floats,
    after_drop: Floats,
    pairs: Floats,
    doubles: Floats,
    foreigns: Floats,
    where: Counts,
) -> None:
    """Expected counts under the model.

    `dropped[r, i]`: probability that run r dropped column i.  `after_drop[i, 0]` and `[i, 1]`: over all runs, column i
    entered from state D, and dropped as well.  `pairs[x, y]`: received x, read y.  `doubles[r, i]`,
    `foreigns[r]`: expected numbers.  `where[r, i]`: the index of the run's byte that most probably is column i,
    -1 where more probably dropped.
    """
    num_runs, length, width = starts.shape[0] - 1, xs.shape[0], fore.shape[2]
    exit_r, exit_d, any_byte = 1.0 - double - foreign, 1.0 - foreign, foreign / 256.0
    inner = np.zeros((width, 2))
    for r in range(num_runs):
        y = ys[starts[r] : starts[r + 1]]
        t = ts[starts[r] : starts[r + 1]]
        n = y.shape[0]
        whole = 0.0
        for k in range(width):
            whole += fore[r, length, k, 0] * back[r, length, k, 0] + fore[r, length, k, 1] * back[r, length, k, 1]
        log_whole = fore_log[r, length] + (math.log(whole) if whole > 0.0 else 0.0)
        for i in range(length):
            x, tc = xs[i], tcol[i]
            base = lo[r, i + 1]
            unit = math.exp(min(600.0, fore_log[r, i] + back_log[r, i + 1] - log_whole))
            here = math.exp(min(600.0, fore_log[r, i + 1] + back_log[r, i + 1] - log_whole))
            after_r = after_d = 0.0
            for k in range(width - 1, -1, -1):
                j = base + k
                if j < n:
                    again, strange = double * reads[x, y[j]] * _echo_factor(t[j], tc, clock), any_byte
                    if k + 1 < width:
                        doubles[r, i] += fore[r, i + 1, k, 0] * again * after_r * here
                        foreigns[r] += (
                            (fore[r, i + 1, k, 0] * after_r + fore[r, i + 1, k, 1] * after_d) * strange * here
                        )
                    after_r = back[r, i + 1, k, 0] + (again + strange) * after_r
                    after_d = back[r, i + 1, k, 1] + strange * after_d
                else:
                    after_r, after_d = back[r, i + 1, k, 0], back[r, i + 1, k, 1]
                inner[k, 0], inner[k, 1] = after_r, after_d
            keep_r, keep_d = exit_r * (1.0 - drop_r[i]), exit_d * (1.0 - drop_d[i])
            lose_r, lose_d = exit_r * drop_r[i], exit_d * drop_d[i]
            lost = lost_d = kept_d = best = 0.0
            best_at = -1
            for k in range(width):
                j = lo[r, i] + k
                q = j - base
                if j <= n and 0 <= q < width:
                    lost += fore[r, i, k, 0] * lose_r * inner[q, 1]
                    lost_d += fore[r, i, k, 1] * lose_d * inner[q, 1]
                if j < n and 0 <= q + 1 < width:
                    e = reads[x, y[j]] * _time_factor(t[j], tc, clock)
                    from_d = fore[r, i, k, 1] * keep_d * e * inner[q + 1, 0]
                    got = fore[r, i, k, 0] * keep_r * e * inner[q + 1, 0] + from_d
                    kept_d += from_d
                    pairs[x, y[j]] += got * unit
                    if got > best:
                        best, best_at = got, j
            dropped[r, i] = (lost + lost_d) * unit
            after_drop[i, 0] += (lost_d + kept_d) * unit
            after_drop[i, 1] += lost_d * unit
            where[r, i] = best_at if best * unit > dropped[r, i] else -1


@njit(cache=True)
def align_to_draft(y: Bytes, xs: Bytes, support: Floats, match: Floats, gap: float, where: Counts) -> None:
    """The best placing of a run on a draft: `where[j]` is the column of byte j, or -1 - i for "new, before column i".

    `support[i]`: cost of passing over column i; `match[x, y]`: gain; `gap`: cost of a byte with no column.  Ties
    go to a match, then to passing over a column.
    """
    n, length = y.shape[0], xs.shape[0]
    steps = np.zeros((length + 1, n + 1), dtype=np.uint8)
    above = np.zeros(n + 1)
    row = np.zeros(n + 1)
    for j in range(1, n + 1):
        above[j] = above[j - 1] - gap
        steps[0, j] = 2
    for i in range(1, length + 1):
        x = xs[i - 1]
        row[0] = above[0] - support[i - 1]
        steps[i, 0] = 1
        for j in range(1, n + 1):
            best, step = above[j - 1] + match[x, y[j - 1]], 0
            skip = above[j] - support[i - 1]
            if skip > best:
                best, step = skip, 1
            new = row[j - 1] - gap
            if new > best:
                best, step = new, 2
            row[j] = best
            steps[i, j] = step
        above[:] = row
    i, j = length, n
    while i > 0 or j > 0:
        taken = steps[i, j]
        if taken == 0:
            i, j = i - 1, j - 1
            where[j] = i
        elif taken == 1:
            i -= 1
        else:
            j -= 1
            where[j] = -1 - i


@njit(cache=True)
def best_path(
    y: Bytes,
    t: Floats,
    xs: Bytes,
    tcol: Floats,
    clock: Floats,
    reads: Floats,
    drop_r: Floats,
    drop_d: Floats,
    double: float,
    foreign: float,
    lo: Counts,
    width: int,
    column: Counts,
    kind: Counts,
) -> None:
    """The likeliest single story of one run, in the windows `lo`.

    `kind[j]`: byte j is 0 the byte of column `column[j]`, 1 a double of it, 2 foreign, after it (-1: before all).
    """
    n, length = y.shape[0], xs.shape[0]
    exit_r, exit_d, any_byte = 1.0 - double - foreign, 1.0 - foreign, foreign / 256.0
    steps = np.zeros((length + 1, width, 2), dtype=np.uint8)
    prev, row = np.zeros((width, 2)), np.zeros((width, 2))
    value = 1.0
    for k in range(width):
        prev[k, 0] = value if lo[0] + k <= n else 0.0
        steps[0, k, 0] = 3
        value *= any_byte
    for i in range(length):
        x, shift = xs[i], lo[i + 1] - lo[i]
        top = 0.0
        for k in range(width):
            j = lo[i + 1] + k
            row[k, 0] = row[k, 1] = 0.0
            if j > n:
                continue
            q = k + shift
            if q < width:
                from_r, from_d = prev[q, 0] * exit_r * drop_r[i], prev[q, 1] * exit_d * drop_d[i]
                row[k, 1] = max(from_r, from_d)
                steps[i + 1, k, 1] = 0 if from_r >= from_d else 1
            if j > 0:
                q -= 1
                e = reads[x, y[j - 1]]
                if 0 <= q < width:
                    seen = e * _time_factor(t[j - 1], tcol[i], clock)
                    from_r = prev[q, 0] * exit_r * (1.0 - drop_r[i]) * seen
                    from_d = prev[q, 1] * exit_d * (1.0 - drop_d[i]) * seen
                    row[k, 0] = max(from_r, from_d)
                    steps[i + 1, k, 0] = 0 if from_r >= from_d else 1
                if k > 0:
                    twice = double * e * _echo_factor(t[j - 1], tcol[i], clock)
                    again = row[k - 1, 0] * max(twice, any_byte)
                    if again > row[k, 0]:
                        row[k, 0] = again
                        steps[i + 1, k, 0] = 2 if twice >= any_byte else 3
                    strange = row[k - 1, 1] * any_byte
                    if strange > row[k, 1]:
                        row[k, 1] = strange
                        steps[i + 1, k, 1] = 3
            top = max(top, row[k, 0], row[k, 1])
        if top > 0.0:
            for k in range(width):
                prev[k, 0], prev[k, 1] = row[k, 0] / top, row[k, 1] / top
    i, k = length, n - lo[length]
    s = 0 if prev[k, 0] * exit_r >= prev[k, 1] * exit_d else 1
    while i > 0 or lo[i] + k > 0:
        step, j = steps[i, k, s], lo[i] + k
        if step >= 2:
            column[j - 1], kind[j - 1] = i - 1, step - 1
            k -= 1
        else:
            if s == 0:
                column[j - 1], kind[j - 1] = i - 1, 0
                j -= 1
            i -= 1
            k, s = j - lo[i], step
