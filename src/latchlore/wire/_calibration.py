"""From the model's own number for a whole sequence to the rate at which such sequences turn out right."""

from __future__ import annotations


def calibrated(whole: float) -> float:
    """The probability (0 to 1) that a whole sequence is right, from the model's own number."""
    return whole
