"""Who wrote a study and when: `authors` and `date` of study.toml."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from latchlore.base import BadInput
from latchlore.study import load_study

if TYPE_CHECKING:
    from pathlib import Path


def _study(folder: Path, text: str) -> Path:
    (folder / "study.toml").write_text(text)
    (folder / "strip.log").write_text("1B 40\n")
    return folder


@pytest.mark.parametrize("date", ["1988", "1988-05", "1988-05-17"])
def test_date(date: str, tmp_path: Path) -> None:
    """A year, a year and month, or a day, as ISO 8601 writes them."""
    study = load_study(_study(tmp_path, f'authors = ["A. Keeper"]\ndate = "{date}"\n'))
    assert (study.authors, study.date) == (("A. Keeper",), date)


def test_date_nothing(tmp_path: Path) -> None:
    """Neither is needed."""
    study = load_study(_study(tmp_path, ""))
    assert (study.authors, study.date) == ((), "")


@pytest.mark.parametrize("date", ["88", "1988-13", "1988-02-30", "May 1988", "1988-5", ""])
def test_date_wrong(date: str, tmp_path: Path) -> None:
    """What is no date is refused with its place."""
    with pytest.raises(BadInput) as caught:
        load_study(_study(tmp_path, f'date = "{date}"\n'))
    ((origin, words),) = caught.value.mistakes
    assert str(origin) == "study.toml:1 (date)"
    assert words == f"a date is a year, a year and month, or a day, such as '1988-05', not {date!r}"
