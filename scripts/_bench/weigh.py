"""Calibration of weighing on 500 generated studies: what is called right is right, what is wrong is found and mended.

Needs the tests beside the sources (the generator and its referee are theirs).  `LATCHLORE_SEEDS=FIRST-LAST` takes other
seeds than those of the published figures; `LATCHLORE_MISSES=1` prints every miss.
"""

from __future__ import annotations

import os
import pathlib
import sys
import tempfile
import time
from typing import TYPE_CHECKING

from _bench import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

REPORTED = "1500-1999"
GOAL_RIGHT, GOAL_FOUND, GOAL_MENDED = 99.5, 95.0, 80.0


def rows() -> Iterator[Row]:
    """Draw, weigh and judge every study; then one row a figure, and one a kind of mistake that was missed."""
    sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2]))
    from latchlore.study import Cache, weigh_study
    from tests.generated_plants import draw
    from tests.generated_truth import Score

    first, last = map(int, os.environ.get("LATCHLORE_SEEDS", REPORTED).split("-"))
    score, start = Score(), time.process_time()
    with tempfile.TemporaryDirectory() as place:
        cache = Cache(pathlib.Path(place) / "cache")
        for seed in range(first, last + 1):
            study, folder = draw(seed), pathlib.Path(place) / str(seed)
            folder.mkdir()
            study.write(folder)
            score.add(study, weigh_study(folder, cache=cache))
    spent = time.process_time() - start
    right, found, mended = (100 * share for share in (score.right_share, score.found_share, score.mended_share))
    yield Row("weigh.studies", score.studies, "studies")
    yield Row("weigh.agreed", score.agreed, "subjects")
    yield Row("weigh.planted", score.planted.total(), "mistakes")
    yield Row("weigh.agreed-right", right, "%", "", None, ">= 99.5 %", right >= GOAL_RIGHT)
    bare = 100 * score.bare_right_share
    yield Row("weigh.agreed-right-leaning-on-nothing", bare, "%")
    yield Row("weigh.leaning", score.leaning, "subjects")
    yield Row("weigh.planted-found", found, "%", "", None, ">= 95 %", found >= GOAL_FOUND)
    yield Row("weigh.repair-in-three", mended, "%", "", None, ">= 80 %", mended >= GOAL_MENDED)
    yield Row("weigh.repair-first", 100 * score.first / max(1, score.planted.total()), "%")
    yield Row("weigh.false-alarms", len(score.false_alarms), "subjects")
    yield Row("weigh.seconds-a-study", spent / max(1, score.studies), "s")
    for kind, count in sorted(score.planted.items()):
        name = f"weigh.repaired.{kind.replace(' ', '-')}"
        yield Row(name, 100 * score.mended[kind] / count, f"% of {count}")
    if os.environ.get("LATCHLORE_MISSES"):
        for name in ("agreed_wrong", "missed", "unmended", "false_alarms"):
            for text in getattr(score, name):
                print(f"{name}: {text}", file=sys.stderr)
