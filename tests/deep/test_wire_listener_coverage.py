"""The listener's intervals over many random cases."""

from __future__ import annotations

from tests.test_wire_listener import count_held


def test_coverage() -> None:
    """90 % intervals hold the truth in 85 to 95 % of 600 random cases (three figures each)."""
    held = count_held(600, 77) / (3 * 600)
    print(f"held: {held:.3f}")
    assert 0.85 <= held <= 0.95
