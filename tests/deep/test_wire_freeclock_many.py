"""Free-running handshakes over many transmissions: how often the merge is right, and whether it says so."""

from __future__ import annotations

from latchlore.wire import merge
from latchlore.wire._simulate import KINDS
from tests.test_wire_freeclock import free_trial

CASES = ((0.2, 8, 0.15), (0.4, 20, 0.15), (0.2, 8, 0.3), (0.4, 20, 0.3))
NUM = 20


def test_merge_free_running_many() -> None:
    """Pauses of 50 to 200 us that stray by 15 and 30 % of the shortest: right in 97 % and more of 240; hardly ever
    sure and wrong.
    """
    right = surely_wrong = count = 0
    for loss, num_runs, jitter in CASES:
        for kind in KINDS:
            good = 0
            for seed in range(NUM):
                sent, runs = free_trial(kind, loss, num_runs, jitter, 1000 + seed)
                found = merge(runs).sequence
                good += found.data == sent
                surely_wrong += found.confidence > 0.99 and found.data != sent
            print(f"{loss:.0%} lost, {num_runs} runs, jitter {jitter:.0%}, {kind}: {good} of {NUM}", flush=True)
            right, count = right + good, count + NUM
    print(f"{right} of {count} right; sure of more than 99 % and wrong: {surely_wrong}")
    assert right >= 0.97 * count
    assert surely_wrong <= 0.01 * count
