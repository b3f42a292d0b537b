"""Puts runs that lost or doubled bytes beside what was sent, though their lines are bent, so that lines can be judged.

A stuck, bridged or crossed line changes many bytes, so bytes are matched by how few lines differ, first as they are
and all inverted; what the lines then seem to do is applied to the bytes sent, and they are matched again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from latchlore.wire import _faultwording as words
from latchlore.wire import _kernel
from latchlore.wire._linefaults import BITS, LineFaults, compare_lines, likeliest_levels

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]
    Floats = npt.NDArray[np.float64]

MOST_CELLS = 100_000_000
"""Bytes sent times bytes logged, at most."""
ALIKE = 4.0
"""What two bytes gain by standing side by side, less 1 for each line in which they differ; two of no relation: 0."""
GAP = 1.5
"""What a byte without a partner costs."""
NEAR = 2
"""Pairs so near to a byte without a partner are not judged by."""
MOST_TURNS = 5


class Paired(NamedTuple):
    """Bytes sent and bytes logged, side by side, those beside a gap left out.

    `pairs`: how many bytes have a partner, over all runs; `lost` and `extra`: bytes sent and logged that have none.
    """

    sent: bytes
    logged: bytes
    pairs: int
    lost: int
    extra: int


class _Try(NamedTuple):
    gain: float
    paired: Paired


def judge_lines(sent: bytes, runs: Sequence[bytes]) -> tuple[LineFaults, Paired]:
    """What the lines did, from one or several runs of a known text that may lack bytes or hold some twice.

    Runs as long as the text are first taken byte for byte.  Refuses empty ones (ValueError), and texts too long.
    """
    if not sent or not any(runs):
        raise ValueError(words.NOTHING)
    if all(len(run) == len(sent) for run in runs):
        plain = Paired(sent * len(runs), b"".join(runs), len(sent) * len(runs), 0, 0)
        found = compare_lines(plain.sent, plain.logged)
        if not found.unexplained:
            return found, plain
    if max(len(sent) * len(run) for run in runs) > MOST_CELLS:
        raise ValueError(words.TOO_LONG.format(sent=len(sent), logged=max(map(len, runs))))
    values: Bytes = np.arange(256, dtype=np.uint8)
    paired = max(
        (_pair_again(sent, runs, table) for table in (values, values ^ np.uint8(0xFF))), key=lambda one: one.gain
    ).paired
    if paired.sent:
        table, steady = likeliest_levels(paired.sent, paired.logged)
        paired = _pair(sent, runs, table, steady).paired
    if not paired.sent:
        raise ValueError(words.NO_PAIR)
    return compare_lines(paired.sent, paired.logged), paired


def _pair_again(sent: bytes, runs: Sequence[bytes], table: Bytes) -> _Try:
    """Match, see what the lines do, and match again, until nothing changes."""
    best = _pair(sent, runs, table)
    for _ in range(MOST_TURNS):
        if not best.paired.sent:
            break
        table, _ = likeliest_levels(best.paired.sent, best.paired.logged)
        other = _pair(sent, runs, table)
        if other.gain <= best.gain:
            break
        best = other
    return best


def _pair(sent: bytes, runs: Sequence[bytes], table: Bytes, steady: int | None = None) -> _Try:
    """`table[x]`: what is read where x is sent; `steady`: the lines for which that is known to hold, nearly always.

    Without it, bytes side by side gain the more lines are alike.  With it, two steady lines that differ part them.
    """
    differ = table[:, None] ^ np.arange(256, dtype=np.uint8)[None, :]
    match: Floats = ALIKE - _count(differ)
    if steady is not None:
        wrong = _count(differ & np.uint8(steady))
        loose = 0.2 * _count(differ & np.uint8(~steady & 0xFF))
        match = np.where(wrong == 0, ALIKE - loose, np.where(wrong == 1, -GAP, -3 * GAP))
    xs = np.frombuffer(sent, np.uint8)
    support = np.full(len(sent), GAP)
    gain, lost, extra, pairs = 0.0, 0, 0, 0
    given, got = bytearray(), bytearray()
    for run in runs:
        ys = np.frombuffer(run, np.uint8)
        where = np.zeros(len(ys), np.int64)
        _kernel.align_to_draft(ys, xs, support, match, GAP, where)
        held = np.flatnonzero(where >= 0)
        sure = held[_far_from_gaps(where, held, len(xs))]
        given += xs[where[sure]].tobytes()
        got += ys[sure].tobytes()
        pairs += len(held)
        missing, over = len(xs) - len(held), len(ys) - len(held)
        lost, extra = lost + missing, extra + over
        gain += float(match[xs[where[held]], ys[held]].sum()) - GAP * (missing + over)
    return _Try(gain, Paired(bytes(given), bytes(got), pairs, lost, extra))


def _count(bits: Bytes) -> Floats:
    """How many bits are set, of each."""
    total: Floats = sum((((bits >> k) & 1).astype(np.float64) for k in range(BITS)), np.zeros(bits.shape))
    return total


def _far_from_gaps(where: npt.NDArray[np.int64], held: npt.NDArray[np.int64], num_sent: int) -> npt.NDArray[np.bool_]:
    """Of pairs, those with no byte without a partner near: beside one, a pair may be off by a place."""
    steps = np.diff(np.concatenate([[-1], held, [len(where)]])) + np.diff(
        np.concatenate([[-1], where[held], [num_sent]])
    )
    gaps = np.flatnonzero(steps > 2)  # before pair k
    near = np.zeros(len(held) + 2 * NEAR, np.bool_)
    for shift in range(-NEAR, NEAR):
        near[gaps + NEAR + shift] = True
    return ~near[NEAR : NEAR + len(held)]


def describe_pairing(paired: Paired, num_sent: int, num_runs: int) -> tuple[str, ...]:
    """Sentences on how runs were put beside what was sent; nothing where they go byte for byte."""
    if not paired.lost and not paired.extra:
        return ()
    runs = f"{num_runs} run{'s' * (num_runs != 1)}"
    said = [
        words.PAIRED.format(
            pairs=paired.pairs, judged=len(paired.sent), lost=paired.lost, extra=paired.extra, runs=runs
        )
    ]
    if paired.pairs * 2 < num_sent * num_runs:
        said.append(words.HARDLY)
    return tuple(said)
