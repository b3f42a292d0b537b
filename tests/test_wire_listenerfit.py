"""A listener's figures are worth a word only where it explains the misses; long ramps are read past 256."""

from __future__ import annotations

import random
import re

import pytest

from latchlore.base import Span, SpanRange
from latchlore.wire import (
    BETTER,
    Belief,
    HostTimes,
    Listener,
    Search,
    ending_pause,
    least_delay,
    over_chance,
    ramp_indices,
    simulate_listener,
    weigh_either_way,
    weigh_listeners,
)

HOST = HostTimes.regular(30, Span.of(us=47), width=Span.of(us=1))


def us(number: int) -> Span:
    """So many microseconds."""
    return Span.of(us=number)


def search(jitter: SpanRange | None = None) -> Search:
    """Up to twice and four times the pace."""
    return Search(Listener(us(0), us(0)), SpanRange(us(0), us(94)), SpanRange(us(0), us(188)), jitter)


def test_over_chance() -> None:
    """Runs of a slow listener are explained by one, and not by pure chance."""
    true = Listener(us(5), us(50), jitter=us(6))
    runs = [simulate_listener(HOST, true, seed) for seed in range(8)]
    belief = weigh_listeners([(HOST, runs)], search(SpanRange(us(0), us(47))))
    assert over_chance([(HOST, runs)], belief) > BETTER
    turn = belief.interval("turn")
    assert turn.least < us(55) < turn.most


@pytest.mark.parametrize("seed", range(4))
def test_over_chance_wrong(seed: int) -> None:
    """Bytes lost by pure chance are no listener's: its figures are not told as if they were."""
    rng = random.Random(f"chance {seed}")
    runs = [tuple(k for k in range(30) if rng.random() > 0.3) for _ in range(8)]
    for jitter in (None, SpanRange(us(0), us(47))):
        belief = weigh_listeners([(HOST, runs)], search(jitter))
        assert over_chance([(HOST, runs)], belief) < BETTER


def test_ending_pause() -> None:
    """The pause that the runs call for ends the true listener's loss with 95 %: in 7 of 8 at least, two paces too."""
    enough = 0
    for seed in range(8):
        true = Listener(us(seed), us(70 + 3 * seed), jitter=us(seed % 4))
        hosts = (HOST, HostTimes.by_turns(30, [us(60), us(75), us(90), us(50), us(80)], width=us(1)))
        trials = [(host, [simulate_listener(host, true, 10 * seed + k) for k in range(8)]) for host in hosts]
        asked, better = (
            ending_pause(weigh_either_way(some, search(SpanRange(us(0), us(47)))), HOST)
            for some in (trials[:1], trials)
        )
        needed = least_delay(HOST, true, 0.001)
        assert needed is not None
        assert asked is not None
        assert better is not None
        assert needed <= asked < needed + us(50)
        enough += needed <= better < needed + us(35)
    assert enough >= 7


def test_ending_pause_wrong() -> None:
    """Where the likeliest listeners cannot be helped by pauses, none is named: they do not notice the strobe."""
    belief = Belief((Listener(us(0), us(1), shortest=us(5)),), (1.0,), {"latency": 2, "service": 2}, 0.0)
    assert ending_pause(belief, HOST) is None


def test_ramp_indices() -> None:
    """Past 256 a value is the next byte sent that has it; a byte read twice stays the same."""
    sent = range(700)
    rng = random.Random("ramp")
    kept = [k for k in sent if rng.random() > 0.5]
    assert ramp_indices(bytes(k & 0xFF for k in kept), 700) == tuple(kept)
    assert ramp_indices(bytes([254, 255, 255, 0, 0, 1]), 300) == (254, 255, 255, 256, 256, 257)
    assert ramp_indices(bytes([3, 2]), 256) == (3, 2)


def test_ramp_indices_wrong() -> None:
    """More bytes than were sent."""
    words = "a run holds indices of bytes sent, 0 to 299, not 301"
    with pytest.raises(ValueError, match=f"^{re.escape(words)}$"):
        ramp_indices(bytes([255, 45]), 300)


def test_by_turns() -> None:
    """Pauses by turns, from strobe to strobe."""
    host = HostTimes.by_turns(5, [us(10), us(30)], setup=us(2), width=us(1))
    assert [Span(t) for t in host.strobes] == [us(0), us(10), us(40), us(50), us(80)]
    assert host.puts[1] == us(8).picoseconds
