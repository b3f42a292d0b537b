"""The listener model; bench case "predictable listener loss" and its kinds; simulation as the reference."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from latchlore.base import Span, SpanRange
from latchlore.wire import (
    Belief,
    HostTimes,
    Listener,
    Poller,
    Search,
    least_delay,
    least_depth,
    most_service,
    next_setting,
    predict_misses,
    propose_settings,
    simulate_listener,
    weigh_listeners,
)


def us(value: float) -> Span:
    return Span(round(value * 10**6))


CASE = Listener(us(0), us(61), reads=us(5), depth=1)


def uneven(seed: int, count: int = 40, low: float = 25, high: float = 110) -> HostTimes:
    """A host with pauses between these microseconds, data put 2 us before each strobe."""
    rng = np.random.default_rng(seed)
    strobes = tuple(int(t) for t in np.cumsum(rng.uniform(low, high, count)) * 10**6)
    return HostTimes(tuple(t - 2 * 10**6 for t in strobes), strobes, (10**6,) * count)


def test_predict_misses() -> None:
    """Strobe every 47 us, an edge flag one deep, service 61 us, port read 5 us after entry: bytes 3 8 12 17 21 25."""
    host = HostTimes.regular(30, us(47))
    log = simulate_listener(host, CASE, 1)
    assert log == (0, 1, 2, 4, 5, 6, 7, 9, 10, 11, 13, 14, 15, 16, 18, 19, 20, 22, 23, 24, 26, 27, 28, 29)
    assert predict_misses(host, CASE).surely_missed == (3, 8, 12, 17, 21, 25)
    long_run = predict_misses(HostTimes.regular(6000, us(47)), CASE).loss
    assert abs(long_run - (1 - 47 / 61)) < 0.0005


@pytest.mark.parametrize(("period", "service"), [(83, 61), (47, 40)])
def test_predict_misses_none(period: float, service: float) -> None:
    """At 83 us a byte, or with 40 us of service, nothing is lost and nothing doubled."""
    told = predict_misses(HostTimes.regular(30, us(period)), replace(CASE, service=us(service)))
    assert (told.loss, max(told.doubled)) == (0, 0)


def test_least_delay() -> None:
    """What ends the loss, and by how much: just so is enough, a picosecond less is not."""
    host = HostTimes.regular(400, us(47))
    delay = least_delay(host, CASE)
    assert delay is not None
    assert predict_misses(host.stretched(delay), CASE).loss == 0
    assert predict_misses(host.stretched(delay - Span(1)), CASE).loss > 0
    assert abs(delay.picoseconds - us(14).picoseconds) < us(0.3).picoseconds  # 61 - 47, but for the ends of the run
    service = most_service(host, CASE)
    assert service is not None
    assert predict_misses(host, replace(CASE, service=service)).loss == 0
    assert predict_misses(host, replace(CASE, service=service + Span(1))).loss > 0
    slow = Listener(us(50), us(5), reads=us(5))  # reacts too late, whatever its service
    assert most_service(host, slow) is None


def test_least_depth() -> None:
    """A burst of 4 bytes, faster than they are served, needs 3 remembered, as long as each stands until it is read;
    where the port has moved on before it is read no memory helps.
    """
    strobes = (0, 10_000_000, 20_000_000, 30_000_000)
    held = HostTimes((-1_000_000, 60_000_000, 120_000_000, 180_000_000), strobes, (10**6,) * 4)
    quick = Listener(us(0), us(61), reads=us(5))
    assert least_depth(held, quick) == 3
    assert predict_misses(held, replace(quick, depth=3)).loss == 0
    assert predict_misses(held, replace(quick, depth=2)).loss > 0
    assert least_depth(HostTimes.regular(30, us(47)), CASE) is None


def test_propose_settings() -> None:
    """Other paces and uneven pauses, as many bytes each; the most telling one narrows the belief in simulation."""
    host = HostTimes.regular(12, us(60), setup=us(2), width=us(1))
    settings = propose_settings(host)
    assert [words for words, _ in settings] == [
        "a strobe every 30 us",
        "a strobe every 45 us",
        "a strobe every 75 us",
        "a strobe every 90 us",
        "a strobe every 120 us",
        "pauses of 30 us, 45 us, 60 us, 75 us, 90 us, 120 us by turns",
    ]
    assert {len(setting.strobes) for _, setting in settings} == {12}
    assert all(t - p == 2 * 10**6 for _, one in settings for t, p in zip(one.strobes, one.puts, strict=True))
    truth = Listener(us(9), us(48), jitter=us(4), reads=us(2))
    search = Search(truth, SpanRange(us(2), us(30)), SpanRange(us(20), us(90)))
    runs = [simulate_listener(host, truth, seed) for seed in range(8)]
    alone = weigh_listeners([(host, runs)], search)
    best, gains = next_setting(alone, [setting for _, setting in settings])
    assert gains[best] > 0.1
    more = [simulate_listener(settings[best][1], truth, 50 + seed) for seed in range(8)]
    both = weigh_listeners([(host, runs), (settings[best][1], more)], search)

    def width(belief: Belief) -> int:
        turn = belief.interval("turn")
        return (turn.most - turn.least).picoseconds

    assert width(both) < width(alone)


@pytest.mark.parametrize("depth", [0, 1, 3])
def test_predict_misses_simulated(depth: int) -> None:
    """Chances of misses and doubles within .01 of 30,000 simulated runs, with a latency that varies."""
    host = uneven(depth)
    listener = Listener(us(8), us(55), jitter=us(12), reads=us(4), depth=depth)
    told = predict_misses(host, listener)
    num = 30_000
    missed, doubled = np.zeros(40), np.zeros(40)
    for seed in range(num):
        counts = np.bincount(simulate_listener(host, listener, seed), minlength=40)
        missed += counts == 0
        doubled += counts > 1
    assert np.abs(missed / num - told.missed).max() < 0.01
    assert np.abs(doubled / num - told.doubled).max() < 0.01


def test_predict_misses_filter() -> None:
    """A strobe too short to be noticed is missed for certain."""
    host = uneven(1, 6)
    narrow = HostTimes(host.puts, host.strobes, (10**6, 10**6, 10**5, 10**6, 10**5, 10**6))
    listener = Listener(us(1), us(5), shortest=us(0.5))
    assert predict_misses(narrow, listener).surely_missed == (2, 4)


def test_poller() -> None:
    """Looks every 3 us at strobes of 1 us: each is seen once in three; one that does not wait doubles long strobes."""
    host = HostTimes.regular(50, us(103), width=us(1))
    poller = Poller(us(3), us(3))
    told = predict_misses(host, poller)
    assert all(abs(chance - 2 / 3) < 0.01 for chance in told.missed)
    assert max(told.doubled) == 0
    long = HostTimes.regular(50, us(103), width=us(40))
    assert predict_misses(long, poller).loss == 0
    assert max(predict_misses(long, poller).doubled) == 0
    assert min(predict_misses(long, replace(poller, waits=False)).doubled) == 1


def count_held(num: int, seed: int) -> int:
    """In how many of `num` random cases, three figures each, the 90 % interval holds the truth."""
    rng = np.random.default_rng(seed)
    held = 0
    for case in range(num):
        host = uneven(1000 + case, 14)
        latency, service = us(rng.uniform(2, 30)), us(rng.uniform(30, 90))
        truth = Listener(latency, service, jitter=us(6), reads=us(3), depth=case % 2)
        runs = [simulate_listener(host, truth, int(rng.integers(1 << 30))) for _ in range(rng.integers(3, 20))]
        search = Search(truth, SpanRange(us(2), us(30)), SpanRange(us(30), us(90)))
        belief = weigh_listeners([(host, runs)], search)
        for figure, value in (("latency", latency), ("service", service), ("turn", latency + service)):
            interval = belief.interval(figure)
            held += interval.least <= value <= interval.most
    return held


def test_weigh_listeners_coverage() -> None:
    """90 % intervals hold the truth in 85 to 95 % of 160 random cases; tests/deep has 600."""
    assert 0.85 <= count_held(160, 5) / (3 * 160) <= 0.95


def test_weigh_listeners_two_settings() -> None:
    """Equal pauses tell latency and service together only; a second pace narrows both, and is the one proposed."""
    truth = Listener(us(12), us(52), jitter=us(3), reads=us(2))
    search = Search(truth, SpanRange(us(2), us(40)), SpanRange(us(20), us(90)))
    even = HostTimes.regular(12, us(70), width=us(1))
    runs = [simulate_listener(even, truth, seed) for seed in range(12)]
    alone = weigh_listeners([(even, runs)], search)
    settings = [even, even.stretched(us(400)), uneven(3, 12, 10, 70)]
    best, gains = next_setting(alone, settings)
    assert best == 2
    assert gains[1] < 0.01  # with so long pauses nothing is missed and nothing learnt
    more = [simulate_listener(settings[best], truth, 100 + seed) for seed in range(12)]
    both = weigh_listeners([(even, runs), (settings[best], more)], search)
    for figure in ("latency", "service"):
        before, after = alone.interval(figure), both.interval(figure)
        assert (after.most - after.least).picoseconds < 0.7 * (before.most - before.least).picoseconds


def test_weigh_listeners_depth() -> None:
    """The kind of listener is told by how well each explains the same runs."""
    host = uneven(9, 30, 20, 90)
    fits = {}
    truth = Listener(us(5), us(60), jitter=us(2), reads=us(3), depth=1)
    runs = [simulate_listener(host, truth, seed) for seed in range(6)]
    for depth in (0, 1):
        search = Search(replace(truth, depth=depth), SpanRange(us(1), us(20)), SpanRange(us(30), us(90)))
        fits[depth] = weigh_listeners([(host, runs)], search).fit
    assert fits[1] > fits[0] + 10


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (
            lambda: HostTimes((0,), (0, 1), (1, 1)),
            "a host's times are as many puts as strobes and widths, and not none: (1, 2, 2)",
        ),
        (lambda: HostTimes((0, 0), (5, 5), (1, 1)), "strobes come one after the other; these do not rise"),
        (lambda: Listener(Span(-1), us(1)), "the latency of a listener is not negative: -1 ps"),
        (
            lambda: Listener(us(1), us(1), depth=-1),
            "a listener remembers 0 to 4096 strobes and its jitter has a shape of 1 to 20, not -1 and 2",
        ),
        (
            lambda: Listener(us(1), us(1), reads=us(2)),
            "a listener reads the port before it is ready again: reads after 2 us, ready after 1 us",
        ),
        (
            lambda: Poller(us(0), us(1)),
            "a polling listener looks every 1 ps or more and reads before it looks again: "
            "looks every 0 ps, reads after 0 ps, ready after 1 us",
        ),
        (
            lambda: Search(CASE, SpanRange(us(1), us(2)), SpanRange(us(1), us(2))),
            "no listener to weigh: the service time 1 us to 2 us ends before the moment of reading, 5 us",
        ),
        (
            lambda: weigh_listeners(
                [(HostTimes.regular(3, us(1)), [(3,)])], Search(CASE, SpanRange(us(1), us(2)), SpanRange(us(9), us(20)))
            ),
            "a run holds indices of bytes sent, 0 to 2, not 3",
        ),
    ],
)
def test_listener_wrong(make: object, words: str) -> None:
    """Figures that cannot be are refused."""
    with pytest.raises(ValueError) as caught:
        make()  # type: ignore[operator]
    assert str(caught.value) == words
