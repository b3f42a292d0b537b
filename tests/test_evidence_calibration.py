"""A sample of the calibration of weighing; all 500 studies are in tests/deep and in `scripts/bench weigh`.

The seeds here (from 7000 on) are none of those that the calibration reports (`REPORTED`), nor of those that weighing
and generator were developed with (from 9000 on).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from latchlore.base import no_progress
from latchlore.evidence import Standing
from latchlore.study import Cache, set_aside, weigh_study
from tests.generated_plants import PLANTS, draw
from tests.generated_studies import Drawn
from tests.generated_truth import Score

SAMPLE = range(7000, 7024)


def lay(seed: int, folder: Path) -> Drawn:
    """Draw a study and write it."""
    study = draw(seed)
    folder.mkdir()
    study.write(folder)
    return study


def test_sample(tmp_path: Path) -> None:
    """Of a few studies: nearly all agreed subjects are true, every contradiction is found, most are mended first."""
    score, cache = Score(), Cache(tmp_path / "cache")
    for seed in SAMPLE:
        study = lay(seed, tmp_path / str(seed))
        score.add(study, weigh_study(tmp_path / str(seed), cache=cache))
    assert score.agreed > 10 * len(SAMPLE)
    assert score.planted.total() > len(SAMPLE) // 2
    assert score.right_share >= 0.98, score.agreed_wrong
    assert score.found_share >= 0.9, score.missed
    assert score.mended_share >= 0.75, score.unmended


def test_same_seed_same_bytes(tmp_path: Path) -> None:
    """A seed gives one study, byte for byte."""
    for name in ("one", "other"):
        lay(7001, tmp_path / name)
    files = sorted(path.relative_to(tmp_path / "one") for path in (tmp_path / "one").rglob("*") if path.is_file())
    assert files
    assert all((tmp_path / "one" / name).read_bytes() == (tmp_path / "other" / name).read_bytes() for name in files)


def test_nothing_planted_nothing_contradicted(tmp_path: Path) -> None:
    """Studies without a mistake hold no contradiction."""
    whole = [seed for seed in SAMPLE if not draw(seed).plants]
    assert len(whole) >= 4
    for seed in whole[:6]:
        lay(seed, tmp_path / str(seed))
        table = weigh_study(tmp_path / str(seed), cache=Cache(tmp_path / "cache"))
        assert [str(row.subject) for row in table.iter_standing(Standing.CONTRADICTED)] == []


def test_kinds_are_drawn() -> None:
    """Every kind of mistake is planted by some seed."""
    kinds = {plant.kind for seed in range(7000, 7600) for plant in draw(seed).plants}
    assert len(kinds) == len(PLANTS)


@pytest.mark.parametrize("seed", range(7024, 7036))
def test_repairs_hold(seed: int, tmp_path: Path) -> None:
    """A listed repair of single statements, done, ends its contradiction (the first one of each subject is tried)."""
    cache = Cache(tmp_path / "cache")
    lay(seed, tmp_path / "study")
    rows = list(weigh_study(tmp_path / "study", cache=cache).iter_standing(Standing.CONTRADICTED))
    for k, row in enumerate(rows):
        folder = tmp_path / f"study-{k}"
        lay(seed, folder)
        for statement in row.repairs[0].statements:
            set_aside(folder, str(statement), "2026-11-26", "tried", no_progress, cache, again=False)
        left = {str(one.subject) for one in weigh_study(folder, cache=cache).iter_standing(Standing.CONTRADICTED)}
        assert str(row.subject) not in left, row.repairs[0]
