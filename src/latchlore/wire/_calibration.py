"""From the model's own number for a whole sequence to the rate at which such sequences turn out right.

The model's number is too sure in the middle, since what it weighs against a sequence are single changes of it.  The
curve is a straight line between log-odds, fitted to 3,100 merges of the grid in tests/mergegrid.py (seeds 0 to 1499
and 2000 to 3599); tests/deep/test_wire_calibration.py checks it on others.
"""

from __future__ import annotations

import math

OFFSET = -0.685
SLOPE = 0.807


def calibrated(whole: float) -> float:
    """The probability (0 to 1) that a whole sequence is right, from the model's own number."""
    if not 0 < whole < 1:
        return whole
    odds = OFFSET + SLOPE * math.log(whole / (1 - whole))
    return 1 / (1 + math.exp(-odds))
