"""What counts as doubtful, in one place."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import latchlore
from latchlore.base import is_doubtful


@pytest.mark.parametrize(("confidence", "doubtful"), [(0.0, True), (0.98, True), (0.99, False), (1.0, False)])
def test_is_doubtful(confidence: float, doubtful: bool) -> None:
    """Less than 99 in a hundred is doubtful; 99 is not."""
    assert is_doubtful(confidence) is doubtful


def test_is_doubtful_wrong() -> None:
    """No face has a limit of its own."""
    source = Path(latchlore.__file__).parent
    own = [
        str(path.relative_to(source))
        for part in ("cli", "desk", "dossier", "evidence", "wire")
        for path in sorted((source / part).glob("*.py"))
        if re.search(r"= 0\.99$", path.read_text("utf-8"), re.MULTILINE)
    ]
    assert own == []
