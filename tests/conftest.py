"""What every test takes for granted."""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, settings

# Times are measured in scripts/bench alone: a busy machine must not fail a test.
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
if "CI" not in os.environ:  # there hypothesis takes a profile of its own, which is untimed too
    settings.load_profile("untimed")


@pytest.fixture(autouse=True)
def _same_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal of 100 columns, whatever the tests are run in."""
    monkeypatch.setenv("COLUMNS", "100")
