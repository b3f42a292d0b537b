"""The compiled arithmetic of the merge against plain Python, and plain Python against counting every possibility."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from latchlore.wire import _search
from latchlore.wire._climbs import search
from latchlore.wire._plain import Listener, log_likelihood
from latchlore.wire._rates import FOREIGN, Model
from latchlore.wire._search import Edit, Problem, Tables

SENT = st.lists(st.integers(0, 3), min_size=0, max_size=7).map(bytes)
RUNS = st.lists(st.lists(st.integers(0, 4), max_size=8).map(bytes), min_size=1, max_size=4)


def model(drop: float = 0.2, double: float = 0.03, burst: float = 2.0) -> Model:
    """A listener with all its faults."""
    flips = np.full((8, 2), 0.01)
    flips[0] = (0.02, 0.1)
    return Model(drop=drop, double=double, burst=burst, flip=flips)


def listener(m: Model, drops: np.ndarray[tuple[int], np.dtype[np.float64]]) -> Listener:
    """The same listener for plain Python."""
    return Listener(drops.tolist(), m.after_drop(drops).tolist(), m.reads().tolist(), m.double, FOREIGN)


def every_story(sent: bytes, run: bytes, who: Listener) -> float:
    """Chance of a run as the sum over every story: which columns are dropped, what is read between them."""
    leave_r, leave_d = 1 - who.double - who.foreign, 1 - who.foreign
    total = 0.0
    for kept in itertools.product((False, True), repeat=len(sent)):
        # After the start and after each column any number of bytes may be extra; share the rest out in every way.
        spare = len(run) - sum(kept)
        if spare < 0:
            continue
        for extras in itertools.product(range(spare + 1), repeat=len(sent) + 1):
            if sum(extras) != spare:
                continue
            chance, j, got = (who.foreign / 256) ** extras[0], extras[0], True
            for i, keep in enumerate(kept):
                drop = who.drop_r[i] if got else who.drop_d[i]
                chance *= (leave_r if got else leave_d) * (1 - drop if keep else drop)
                if keep:
                    chance *= who.reads[sent[i]][run[j]]
                    j += 1
                for _ in range(extras[i + 1]):
                    again = who.double * who.reads[sent[i]][run[j]] if keep else 0.0
                    chance *= again + who.foreign / 256
                    j += 1
                got = keep
            total += chance * (leave_r if got else leave_d)
    return total


@given(SENT.filter(lambda s: len(s) <= 4), st.lists(st.integers(0, 3), max_size=4).map(bytes))
@settings(max_examples=40, deadline=None)
def test_plain(sent: bytes, run: bytes) -> None:
    """Plain Python sums over exactly the stories the model allows."""
    m = model()
    drops = np.linspace(0.1, 0.5, len(sent)) if sent else np.empty(0)
    who = listener(m, drops)
    assert math.exp(log_likelihood(sent, run, who)) == pytest.approx(every_story(sent, run, who), rel=1e-9)


@given(SENT, RUNS)
@settings(max_examples=100, deadline=None)
def test_likelihoods(sent: bytes, runs: list[bytes]) -> None:
    """Compiled and plain agree on the likelihood of every run."""
    m = model()
    drops = np.linspace(0.1, 0.5, len(sent)) if sent else np.empty(0)
    tables = Tables(Problem.of(runs), sent, m, drops)
    expected = [log_likelihood(sent, run, listener(m, drops)) for run in runs]
    assert tables.per_run.tolist() == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(SENT.filter(len), RUNS, st.data())
@settings(max_examples=100, deadline=None)
def test_score(sent: bytes, runs: list[bytes], data: st.DataObject) -> None:
    """The score of an edit, joined from tables, is the likelihood of the edited sequence, computed anew."""
    m = model()
    at = data.draw(st.integers(0, len(sent)))
    taken = data.draw(st.integers(0, min(3, len(sent) - at)))
    new = tuple(data.draw(st.lists(st.integers(0, 3), max_size=4)))
    tables = Tables(Problem.of(runs), sent, m, np.full(len(sent), 0.2))
    edit = Edit(at, taken, new, (-1,) * len(new))
    edited = bytes(edit.apply(sent))
    who = listener(m, np.full(len(edited), 0.2))
    expected = sum(log_likelihood(edited, run, who) for run in runs)
    assert tables.score([edit])[0] == pytest.approx(expected, rel=1e-9)


@given(SENT.filter(len), RUNS)
@settings(max_examples=60, deadline=None)
def test_expect(sent: bytes, runs: list[bytes]) -> None:
    """Every byte of a run is received, a double or foreign; the drop counts follow from the likelihood's slope."""
    m = model(burst=1.0)
    drops = np.full(len(sent), 0.2)
    tables = Tables(Problem.of(runs), sent, m, drops)
    found = tables.expect()
    received = len(sent) - found.dropped.sum(axis=1)
    explained = received + found.doubles.sum(axis=1) + found.foreigns
    before_all = [len(run) for run in runs]
    assert (explained <= np.array(before_all) + 1e-9).all()  # foreign bytes before the first column are not counted
    step = 1e-6
    for i in range(len(sent)):
        moved = drops.copy()
        moved[i] += step
        for r, run in enumerate(runs):
            slope = (log_likelihood(sent, run, listener(m, moved)) - tables.per_run[r]) / step
            d = found.dropped[r, i]
            assert slope == pytest.approx(d / 0.2 - (1 - d) / 0.8, abs=1e-3)


def test_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    """The windows for long runs lose nothing: the likelihood is that of the whole table, and so is the merge."""
    rng = np.random.default_rng(3)
    sent = rng.integers(0, 256, 300).astype(np.uint8)
    runs = [bytes(sent[rng.random(300) > 0.3]) for _ in range(6)]
    runs.append(bytes(sent[:100]) + bytes(sent[150:]))  # a long gap in one piece
    m = model()
    monkeypatch.setattr(_search, "FULL_WIDTH", 1000)
    whole = Tables(Problem.of(runs), sent.tolist(), m, np.full(300, 0.3))
    monkeypatch.setattr(_search, "FULL_WIDTH", 1)
    windowed = Tables(Problem.of(runs), sent.tolist(), m, np.full(300, 0.3))
    assert (windowed.width, whole.width) == (64, 251)
    assert windowed.per_run == pytest.approx(whole.per_run, abs=1e-3)
    best = search(Problem.of(runs), [list(range(7))])
    assert bytes(best.tables.data) == bytes(sent)
