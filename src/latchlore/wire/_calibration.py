"""From the model's own number for a whole sequence to the rate at which such sequences turn out right.

The model's number is too sure in the middle, since what it weighs against a sequence are single changes of it.  The
curve runs through the rates seen in 20,000 merges of the grid in tests/mergegrid.py (seeds 50000 to 69999),
made to rise; tests/deep/test_wire_calibration.py checks it on others.
"""

from __future__ import annotations

import math

CURVE = (
    *((1e-6, 1e-6), (0.0016, 0.0012), (0.045, 0.032), (0.185, 0.119), (0.344, 0.224), (0.463, 0.340), (0.552, 0.385)),
    *((0.650, 0.500), (0.757, 0.640), (0.855, 0.680), (0.929, 0.817), (0.967, 0.874), (0.9855, 0.919)),
    *((0.9927, 0.956), (0.9968, 0.969), (0.99855, 0.9855), (0.99929, 0.9885), (0.99974, 0.9953), (0.99998, 0.9993)),
    (1 - 1e-9, 1 - 1e-8),
)
"""The model's number, and the rate seen; between them a straight line of log-odds."""


def calibrated(whole: float) -> float:
    """The probability (0 to 1) that a whole sequence is right, from the model's own number."""
    if not CURVE[0][0] < whole < CURVE[-1][0]:
        return whole
    place = next(k for k, (said, _) in enumerate(CURVE) if whole <= said)
    (low, low_seen), (high, high_seen) = CURVE[place - 1], CURVE[place]
    part = (_log_odds(whole) - _log_odds(low)) / (_log_odds(high) - _log_odds(low))
    odds = _log_odds(low_seen) + part * (_log_odds(high_seen) - _log_odds(low_seen))
    return 1 / (1 + math.exp(-odds))


def _log_odds(chance: float) -> float:
    return math.log(chance / (1 - chance))
