"""From the model's own number for a whole sequence to the rate at which such sequences turn out right.

The model's number is too sure in the middle, since what it weighs against a sequence are single changes of it.  The
curve runs through the rates seen in 5,100 merges of the grid in tests/mergegrid.py (seeds 0 to 1499, 2000 to 3599 and
4000 to 5999), made to rise; tests/deep/test_wire_calibration.py checks it on others.
"""

from __future__ import annotations

import math

CURVE = (
    *((1e-6, 1e-6), (0.035, 0.030), (0.145, 0.140), (0.243, 0.185), (0.345, 0.235), (0.466, 0.300), (0.547, 0.360)),
    *((0.650, 0.480), (0.745, 0.570), (0.855, 0.650), (0.927, 0.745), (0.960, 0.840), (0.976, 0.880), (0.9855, 0.930)),
    *((0.993, 0.962), (0.997, 0.985), (0.9985, 0.990), (0.9993, 0.993), (0.9997, 0.996), (0.99999, 0.9998)),
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
