"""The calibration of weighing on 500 generated studies whose truth is known; goals as in docs/design.md.

`REPORTED` are the seeds of the figures that are published; nothing was ever fitted to them.
"""

from __future__ import annotations

from pathlib import Path

from latchlore.study import Cache, weigh_study
from tests.generated_plants import draw
from tests.generated_truth import Score

REPORTED = range(1500, 2000)


def test_calibration(tmp_path: Path) -> None:
    """Agreed is right in 99.5 %, contradictions are found in 95 %, the true repair is among three in 80 %."""
    score, cache = Score(), Cache(tmp_path / "cache")
    for seed in REPORTED:
        folder = tmp_path / str(seed)
        folder.mkdir()
        study = draw(seed)
        study.write(folder)
        score.add(study, weigh_study(folder, cache=cache))
    assert score.right_share >= 0.995, score.agreed_wrong
    assert score.found_share >= 0.95, score.missed
    assert score.mended_share >= 0.80, score.unmended
