"""How many further runs a merge asks for, over many transmissions."""

from __future__ import annotations

from latchlore.wire._simulate import KINDS
from tests.test_wire_needed import right_after_asking

NUM = 40
CASES = ((24, 0.05, 4), (24, 0.2, 6), (64, 0.2, 8))


def test_further_runs_many() -> None:
    """Given as many further runs as it asked for, a merge is right in at least 98 % of 360 (aim: 99 %; two standard
    deviations of 360 are 1 %).
    """
    right = 0
    for kind in KINDS:
        for length, loss, begin_with in CASES:
            good = sum(right_after_asking(kind, length, loss, begin_with, 1000 + seed) for seed in range(NUM))
            print(f"{kind}, {length} bytes, {loss:.0%} lost, {begin_with} runs first: {good} of {NUM}", flush=True)
            right += good
    print(f"{right} of {NUM * len(KINDS) * len(CASES)}")
    assert right >= 0.98 * NUM * len(KINDS) * len(CASES)
