"""The large study that speed is measured on: it holds what it says, and weighs as the card that it was drawn from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from latchlore.base import SubjectKind
from latchlore.evidence import Standing
from latchlore.study import Cache, load_study, weigh_study
from tests.largestudy import DOCUMENTS, IMAGES, READINGS, write_large_study

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The study."""
    return write_large_study(tmp_path_factory.mktemp("large") / "study")


def test_size(large: Path, tmp_path: Path) -> None:
    """50 images, 20 manuals, 5,000 readings; the same seed gives the same bytes."""
    study = load_study(large)
    assert study.program is not None
    assert (len(study.program.images), len(study.documents)) == (IMAGES, DOCUMENTS) == (50, 20)
    (readings,) = study.readings
    assert len(readings.text.splitlines()) == READINGS == 5_000
    other = write_large_study(tmp_path / "again")
    files = sorted(path.relative_to(large) for path in large.rglob("*") if path.is_file())
    assert all((large / path).read_bytes() == (other / path).read_bytes() for path in files)


def test_weighs(large: Path, tmp_path: Path) -> None:
    """The registers read off by the meter agree with all programs; only the two manuals' quarrel is left."""
    table = weigh_study(large, cache=Cache(tmp_path))
    registers = [row for row in table.rows if row.subject.kind is SubjectKind.REGISTER]
    assert [str(row.subject) for row in registers] == [
        "register A808 (write)",
        "register A810 (read)",
        "register A810 (write)",
    ]
    assert {row.standing for row in registers} == {Standing.AGREED}
    assert [str(row.subject) for row in table.iter_standing(Standing.CONTRADICTED)] == ["code 06"]
    assert sum(row.subject.kind is SubjectKind.SEQUENCE for row in table.rows) == 2 * IMAGES + 1
