"""Many planted errors of each kind, with what is counted of them."""

from __future__ import annotations

import pytest

from tests.test_device_planted import KINDS, score_kind

NUMBER = 400


@pytest.mark.parametrize("kind", KINDS)
def test_planted_errors_are_found_many(kind: str) -> None:
    """All are found; how often the right edit is proposed, is as good as the first, and is the only one so good."""
    score = score_kind(kind, NUMBER)
    print(f"{kind}: {score}")
    assert score.found == NUMBER
    assert score.first >= 0.98 * NUMBER
