"""The curve from the model's number for a whole sequence to the rate that is seen."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from latchlore.wire._calibration import CURVE, calibrated


@given(st.floats(0, 1), st.floats(0, 1))
def test_calibrated(first: float, second: float) -> None:
    """It rises, stays between 0 and 1, and runs through its points."""
    low, high = sorted((first, second))
    assert 0 <= calibrated(low) <= calibrated(high) + 1e-12 <= 1 + 1e-12


def test_calibrated_points() -> None:
    """At its points the curve gives the rates that were seen, and never promises more than the model does there."""
    for said, seen in CURVE[:-1]:
        assert abs(calibrated(said) - seen) < 1e-9
        assert seen <= said
