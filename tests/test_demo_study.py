"""The demonstration's files: marked as invented wherever a reader lands, and telling the story of docs/demo.md."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from latchlore.demo import demo_folder

FOLDER = demo_folder()
FILES = sorted(path for path in FOLDER.rglob("*") if path.is_file() and "__" not in str(path.relative_to(FOLDER)))
SOURCES = sorted((Path(__file__).parent.parent / "demo-source").glob("*.*"))
BURST = bytes.fromhex("16 5A 16 4C 0C 06 4D 41 52 52 41 4D 0D 0A")  # both straps' words: docs/demo.md


def document(name: str) -> dict[str, Any]:
    """A document as plain TOML."""
    return tomllib.loads((FOLDER / "documents" / f"{name}.toml").read_text())


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(FOLDER).as_posix())
def test_invented(path: Path) -> None:
    """Every file of the study says that it is invented."""
    assert b"invented" in path.read_bytes().lower()


@pytest.mark.parametrize(
    "path", [*SOURCES, Path(__file__).parent.parent / "docs" / "demo.md"], ids=lambda path: path.name
)
def test_invented_source(path: Path) -> None:
    """So does everything that it is made from."""
    assert "invented" in path.read_text().lower()


def test_invented_documents() -> None:
    """Each document carries the mark that the pages show."""
    names = [path.stem for path in (FOLDER / "documents").glob("*.toml")]
    assert sorted(names) == ["keepers-letter", "museum-label", "quill-24", "quill-24g"]
    assert all(document(name)["invented"] is True for name in names)


def test_manuals() -> None:
    """The two manuals share seven codes and disagree about one."""
    first, second = (
        {row["pattern"]: (row["meaning"], row.get("does"), row.get("sets")) for row in document(name)["command"]}
        for name in ("quill-24", "quill-24g")
    )
    shared = first.keys() & second.keys()
    assert len(shared) == 7
    assert {pattern for pattern in shared if first[pattern] != second[pattern]} == {"06"}
    assert second.keys() - first.keys() == {"16 'P' n"}


def test_manuals_pins() -> None:
    """Their pin tables agree but for the page and a stain of coffee."""
    first, second = (
        [(row["number"], row["signal"], row["direction"], row.get("active")) for row in document(name)["pin"]]
        for name in ("quill-24", "quill-24g")
    )
    assert first == second


def runs(name: str) -> list[bytes]:
    """The runs of a log, without the product's own reader."""
    lines = (FOLDER / "wire" / name).read_text().splitlines()
    rows = [line.split() for line in lines if line and not line.startswith("#") and ":" not in line]
    return [bytes(int(field.split("@")[0], 16) for field in row) for row in rows]


def is_subsequence(part: bytes, whole: bytes) -> bool:
    """Whether bytes of `whole` left out give `part`."""
    rest = iter(whole)
    return all(byte in rest for byte in part)


def test_burst_log() -> None:
    """Twelve runs, of which most lost bytes, never the same, and none holds a byte that was not sent in its place."""
    found = runs("power-on.log")
    assert len(found) == 12
    assert all(is_subsequence(run, BURST) for run in found)
    assert sum(run != BURST for run in found) == 11
    assert len(set(found)) >= 11


def test_reading_log() -> None:
    """One run of one reading, complete."""
    assert runs("tide-line.log") == [b"TIDE 04.37 M RISING \r\n"]
