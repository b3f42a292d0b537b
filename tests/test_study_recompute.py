"""Weighing after a change recomputes what the change touches and nothing else; the compiler stays away where it can."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import pytest

from latchlore.study import Cache, weigh_study
from tests.demos import lay_demo

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

ResultT = TypeVar("ResultT")


class Counting(Cache):
    """A cache that counts what had to be computed, by kind."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.computed: Counter[str] = Counter()

    def remember(
        self, kind: str, parts: Iterable[bytes | str], compute: Callable[[], ResultT], packages: Iterable[str] = ()
    ) -> ResultT:
        """As the cache does, counted."""

        def counted() -> ResultT:
            self.computed[kind] += 1
            return compute()

        return super().remember(kind, parts, counted, packages)


def _edit(name: str, old: str, new: str) -> Callable[[Path], None]:
    """A change of one file of the study, which must hold the old text."""

    def change(study: Path) -> None:
        raw = (study / name).read_bytes()
        assert old.encode() in raw
        (study / name).write_bytes(raw.replace(old.encode(), new.encode(), 1))

    return change


@pytest.fixture(scope="module")
def weighed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration and a cache that knows it."""
    place = tmp_path_factory.mktemp("weighed")
    lay_demo(place / "study")
    weigh_study(place / "study", cache=Cache(place / "cache"))
    return place


@pytest.mark.parametrize(
    ("change", "computed"),
    [
        (lambda _: None, {}),
        (_edit("documents/quill-24.toml", "coffee on page 19", "tea on page 19"), {"table": 1}),
        (_edit("board/card.nets", "traced with", "read with"), {"table": 1}),
        (_edit("wire/tide-line.log", "34", "35"), {"table": 1, "wire": 1}),
        # the last letter of a text that no routine reads: trees see all of the memory that the processor sees
        (_edit("program/marram.bin", "INVENTED FOR A DEMONSTRATION", "invented for a demonstration"), {
            "table": 1, "tree": 5, "program": 1
        }),
    ],
    ids=["nothing", "manual", "remark", "log", "image"],
)  # fmt: skip
def test_recomputed(weighed: Path, tmp_path: Path, change: Callable[[Path], None], computed: dict[str, int]) -> None:
    """Trees, merges and captures are computed anew only where what they rest on has changed."""
    for name in ("study", "cache"):
        shutil.copytree(weighed / name, tmp_path / name, copy_function=shutil.copy2)
    change(tmp_path / "study")
    cache = Counting(tmp_path / "cache")
    weigh_study(tmp_path / "study", cache=cache)
    assert cache.computed == computed


def test_no_compiler(weighed: Path, tmp_path: Path) -> None:
    """With a manual changed, weighing loads no compiler: loading alone takes longer than all the rest."""
    for name in ("study", "cache"):
        shutil.copytree(weighed / name, tmp_path / name, copy_function=shutil.copy2)
    _edit("documents/quill-24.toml", "coffee on page 19", "tea on page 19")(tmp_path / "study")
    code = (
        "import sys\nfrom pathlib import Path\nfrom latchlore.study import Cache, weigh_study\n"
        "weigh_study(Path(sys.argv[1]), cache=Cache(Path(sys.argv[2])))\nprint('numba' in sys.modules)\n"
    )
    arguments = [sys.executable, "-c", code, str(tmp_path / "study"), str(tmp_path / "cache")]
    done = subprocess.run(arguments, check=True, capture_output=True, text=True, timeout=300)
    assert done.stdout == "False\n"
