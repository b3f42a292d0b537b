"""From the model's own number for a whole sequence to the rate at which such sequences turn out right.

The model's number is too sure in the middle, since what it weighs against a sequence are single changes of it.  The
curve runs through the rates seen in 5,600 merges of the grid in tests/mergegrid.py (seeds 20000 to 25599), made to
rise; tests/deep/test_wire_calibration.py checks it on others.
"""

from __future__ import annotations

import math

CURVE = (
    *((1e-6, 1e-6), (0.0016, 0.0012), (0.043, 0.043), (0.186, 0.185), (0.352, 0.280), (0.465, 0.365), (0.547, 0.475)),
    *((0.655, 0.585), (0.755, 0.645), (0.856, 0.675), (0.929, 0.785), (0.9665, 0.915), (0.9858, 0.955)),
    *((0.993, 0.968), (0.9968, 0.976), (0.99855, 0.982), (0.99928, 0.990), (0.9997, 0.9948), (0.99999, 0.9999)),
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
