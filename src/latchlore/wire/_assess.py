"""How sure a merge is: every change that could be made to its result, with the odds that it is the truth."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import SequenceByte
from latchlore.wire._results import Alternative, Repeat
from latchlore.wire._search import MOST_NEW, Edit, Search, likely, weigh_edits

if TYPE_CHECKING:
    from collections.abc import Sequence

LEAST_ODDS = 1e-6
LONE = math.log(0.05)
"""A byte that one run alone holds, against all expectation, is a slip in the log in so many cases at least."""
UNEXPECTED = 1e-3
MOST_ALTERNATIVES = 12


class Rival(NamedTuple):
    """One other sequence: `taken` columns from `at` replaced by `new`; `odds` against the result."""

    at: int
    taken: int
    new: tuple[int, ...]
    odds: float


class Assessment(NamedTuple):
    """`items`, `whole` and `missing_after` as in `base.ByteSequence`, before recalibration of `whole`."""

    items: tuple[SequenceByte, ...]
    whole: float
    missing_after: float
    repeats: tuple[Repeat, ...]
    alternatives: tuple[Alternative, ...]


def assess(search: Search) -> Assessment:
    """Confidences of the result of a search."""
    data = search.tables.data
    silent = silent_odds(search)
    repeats, more = _repeats(search)
    rivals = _distinct(data, [*_rivals(search), *more])
    against = [0.0] * len(data)
    missing = [silent] * (len(data) + 1)
    values: list[dict[int, float]] = [{} for _ in data]
    log_whole = -(len(data) + 1) * math.log1p(silent)
    for rival in rivals:
        log_whole -= math.log1p(rival.odds)
        if not rival.taken:
            missing[rival.at] += rival.odds
            continue
        for k in range(rival.taken):
            i = rival.at + k
            against[i] += rival.odds
            if len(rival.new) == rival.taken and rival.new[k] != data[i]:
                values[i][rival.new[k]] = values[i].get(rival.new[k], 0.0) + rival.odds
    items = []
    for i, value in enumerate(data):
        whole = 1 + against[i]
        others = sorted(((v, o / whole) for v, o in values[i].items()), key=lambda pair: (-pair[1], pair[0]))
        shown = tuple((v, o) for v, o in others if o >= 0.001)
        items.append(SequenceByte(value, 1 / whole, shown, missing[i] / (1 + missing[i])))
    after = missing[len(data)]
    return Assessment(
        tuple(items), math.exp(log_whole), after / (1 + after), repeats, _alternatives(data, rivals, log_whole)
    )


def silent_odds(search: Search) -> float:
    """Odds that a byte, at one given place, was dropped in every run and so left no trace."""
    model, num_runs = search.model, search.problem.num_runs
    points, weights = model.drop_grid()
    return float((weights * points**num_runs).sum())


def _rivals(search: Search) -> list[Rival]:
    tables = search.tables
    changes = weigh_edits(tables, range(len(tables.data) + 1))
    floor = math.log(LEAST_ODDS)
    alone = _held_alone(search)
    gains = [max(c.gain, LONE) if not c.edit.new and c.edit.at in alone else c.gain for c in changes]
    return [
        Rival(c.edit.at, c.edit.taken, c.edit.new, likely(min(0.0, gain)))
        for c, gain in zip(changes, gains, strict=True)
        if gain > floor
    ]


def _held_alone(search: Search) -> set[int]:
    """Bytes that one run alone holds, though the loss rate does not make one expect such a thing."""
    num_runs = search.problem.num_runs
    if search.model.everywhere ** (num_runs - 1) > UNEXPECTED:
        return set()
    received = num_runs - search.tables.expect().dropped.sum(axis=0)
    return {i for i, num in enumerate(received.tolist()) if num < 1.5}


def _repeats(search: Search) -> tuple[tuple[Repeat, ...], list[Rival]]:
    """Every run of equal bytes with the distribution of its number; and the counts two off, as rivals."""
    tables, model = search.tables, search.model
    data = tables.data
    found: list[Repeat] = []
    rivals: list[Rival] = []
    groups = [(i, n) for i, n in _groups(data) if n > 1]
    edits: list[Edit] = []
    index: list[tuple[int, int]] = []
    for g, (start, n) in enumerate(groups):
        for change in range(-min(3, n - 1), 4):
            if change == 0:
                continue
            new = (data[start],) * max(0, change)
            at = tables.widest_gap(start, n) if tables.is_timed and change > 0 else start
            edits.append(Edit(at, max(0, -change), new, (-1,) * len(new)))
            index.append((g, change))
    assert all(len(e.new) <= MOST_NEW for e in edits)
    scores = tables.score(edits) - tables.loglik
    odds: list[dict[int, float]] = [{0: 1.0} for _ in groups]
    for (g, change), edit, gain in zip(index, edits, scores, strict=True):
        start, n = groups[g]
        prior = change * model.log_next(data[start], data[start])
        if change > 0:
            prior += tables.doubles_saved(start)
        paused = search.counts.get((start, change), -math.inf)
        odds[g][change] = likely(min(0.0, max(float(gain) + prior, paused)))
        if (abs(change) > 1 or paused > gain + prior) and odds[g][change] > LEAST_ODDS:
            rivals.append(Rival(edit.at, edit.taken, edit.new, odds[g][change]))
    for (start, n), table in zip(groups, odds, strict=True):
        whole = sum(table.values())
        counts = sorted(((n + d, o / whole) for d, o in table.items()), key=lambda pair: (-pair[1], pair[0]))
        found.append(Repeat(start, data[start], tuple((k, p) for k, p in counts if p >= 0.001)))
    return tuple(found), rivals


def _groups(data: Sequence[int]) -> list[tuple[int, int]]:
    """(start, number) of every run of equal bytes."""
    groups: list[tuple[int, int]] = []
    for i, value in enumerate(data):
        if i and value == data[i - 1]:
            groups[-1] = (groups[-1][0], groups[-1][1] + 1)
        else:
            groups.append((i, 1))
    return groups


def _distinct(data: Sequence[int], rivals: Sequence[Rival]) -> list[Rival]:
    """Each other sequence once, in a form that says where it first and last differs; best odds kept."""
    best: dict[tuple[int, int, tuple[int, ...]], float] = {}
    for rival in rivals:
        key = _normal(data, rival)
        best[key] = max(best.get(key, 0.0), rival.odds)
    return [Rival(*key, odds) for key, odds in sorted(best.items())]


def _normal(data: Sequence[int], rival: Rival) -> tuple[int, int, tuple[int, ...]]:
    """The edit with everything left out that stays the same; a change of number stands at the end of its group."""
    tail = rival.at + rival.taken
    reach = min(len(data), tail + 400)
    old = list(data[rival.at : reach])
    new = [*rival.new, *data[tail:reach]]
    head = 0
    while head < min(len(old), len(new)) and old[head] == new[head]:
        head += 1
    end = 0
    while end < min(len(old), len(new)) - head and old[-1 - end] == new[-1 - end]:
        end += 1
    return rival.at + head, len(old) - head - end, tuple(new[head : len(new) - end])


def _alternatives(data: Sequence[int], rivals: Sequence[Rival], log_whole: float) -> tuple[Alternative, ...]:
    """The likeliest other sequences, best first."""
    whole = math.exp(log_whole)
    found = []
    for rival in sorted(rivals, key=lambda r: (-r.odds, r.at, r.taken, r.new))[:MOST_ALTERNATIVES]:
        if rival.odds * whole < 0.0005:
            break
        other = bytes([*data[: rival.at], *rival.new, *data[rival.at + rival.taken :]])
        found.append(Alternative(other, rival.odds * whole, describe_rival(data, rival)))
    return tuple(found)


def describe_rival(data: Sequence[int], rival: Rival) -> str:
    """Where another sequence differs, in words; bytes are counted from 0."""
    old = " ".join(f"{v:02X}" for v in data[rival.at : rival.at + rival.taken])
    new = " ".join(f"{v:02X}" for v in rival.new)
    if not rival.taken:
        return f"{new} more before byte {rival.at}" if rival.at < len(data) else f"{new} more at the end"
    if not rival.new:
        return f"without {old} at byte {rival.at}"
    return f"{new} instead of {old} at byte {rival.at}"
