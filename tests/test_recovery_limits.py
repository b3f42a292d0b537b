"""What can be known at all of numbers of equal bytes, against exact probabilities worked out by hand."""

from __future__ import annotations

import pytest

from tests import recoverygrid
from tests.recoverygrid import find_blind_limit, find_limit


def test_limits() -> None:
    """Where nothing is lost everything is counted; who knows the rate counts better than who does not."""
    assert find_limit("command", 8, 1e-9, 3, 20) == find_blind_limit("command", 8, 1e-9, 3, 20) == 1.0
    known = find_limit("command", 8, 0.4, 12, 200)
    assert 0.5 < find_blind_limit("command", 8, 0.4, 12, 200) < known < 0.95


@pytest.mark.parametrize("loss", [0.1, 0.3])
def test_limits_one_run(loss: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """One or two equal bytes, as likely each, and one run: one byte heard was more likely one sent, since 1 - p exceeds
    2 p (1 - p).  So one is always counted right, and two where both are heard: 1/2 + (1 - p)^2 / 2 of all cases.
    """
    monkeypatch.setattr(recoverygrid, "transmission", lambda _kind, _length, rng: bytes(rng.choice((1, 2))))
    recoverygrid._number_chances.cache_clear()
    try:
        seen = find_limit("even", 2, loss, 1, 4000)
    finally:
        recoverygrid._number_chances.cache_clear()
    assert abs(seen - (1 + (1 - loss) ** 2) / 2) < 0.03
