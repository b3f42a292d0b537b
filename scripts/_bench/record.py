"""The record: what it costs to tell what changed, with a finding for every subject of the demonstration."""

from __future__ import annotations

import json
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from _bench import Row, best_seconds

if TYPE_CHECKING:
    from collections.abc import Iterator


def rows() -> Iterator[Row]:
    """Weighing again without a change, and judging 3,000 findings in one chain."""
    from latchlore.demo import demo_folder
    from latchlore.study import Cache, accept_changes, judge_study, weigh_study

    with tempfile.TemporaryDirectory() as name:
        folder, cache = Path(name) / "study", Cache(Path(name) / "cache")
        shutil.copytree(demo_folder(), folder, ignore=shutil.ignore_patterns("__*"))
        subjects = dict.fromkeys(str(row.subject) for row in weigh_study(folder, cache=cache).rows)
        _put(folder, [[subject] for subject in subjects])
        accept_changes(folder, "2026-01-01", cache=cache)
        judge_study(folder, cache=cache)
        seconds = best_seconds(lambda: judge_study(folder, cache=cache))
        words = f"{len(subjects)} findings"
        yield Row("record.demo-again", seconds * 1000, "ms", words, goal="under 500 ms", met=seconds < 0.5)
        chain = Path(name) / "chain"
        chain.mkdir()
        (chain / "a.log").write_text("16 5A 4C\n")
        _put(chain, [["sequence a", *([f"finding f{k - 1}"] if k else [])] for k in range(3000)])
        accept_changes(chain, "2026-01-01", cache=cache)
        judge_study(chain, cache=cache)
        seconds = best_seconds(lambda: judge_study(chain, cache=cache), 3)
        yield Row("record.chain", seconds * 1000, "ms", "3,000 findings, 15,000 lines")


def _put(folder: Path, grounds: list[list[str]]) -> None:
    blocks = [
        f'[[finding]]\nname = "f{k}"\nsentence = "S."\nrests_on = {json.dumps(rests_on)}\n'
        for k, rests_on in enumerate(grounds)
    ]
    (folder / "findings.toml").write_text("\n".join(blocks))
