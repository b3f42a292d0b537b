"""What every test takes for granted."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def _same_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal of 100 columns, whatever the tests are run in."""
    monkeypatch.setenv("COLUMNS", "100")
