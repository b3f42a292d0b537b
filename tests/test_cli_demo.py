"""The demonstration from the command: copied, weighed and shown, and never over what is the user's."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from latchlore.cli import run
from latchlore.cli._demo import copy_demo
from latchlore.demo import demo_folder
from latchlore.evidence import Table

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cache of this module's own, empty at first."""
    return tmp_path_factory.mktemp("cache")


@pytest.fixture(autouse=True)
def own_cache(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing that an earlier run of the tests computed is used."""
    monkeypatch.setenv("LATCHLORE_CACHE", str(cache))


def _files(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_demo(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The study is copied whole, its table printed, and the status is 0 although it holds contradictions."""
    folder = tmp_path / "tide"
    assert run(["demo", str(folder), "--no-desk"]) == 0
    shown = capsys.readouterr().out
    assert "Invented for demonstration: people, makers, machines and data." in shown
    assert "Contradicted (2)" in shown
    assert shown.endswith(f"Open its desk with:  latchlore desk {folder}\n")
    packaged = {
        name: data for name, data in _files(demo_folder()).items() if not name.startswith("__") and "/__" not in name
    }
    assert _files(folder) == packaged
    assert "study.toml" in packaged


def test_demo_json(tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """The copy weighed twice gives the same bytes and status 4, and the files stay as they were."""
    folder = tmp_path / "tide"
    assert copy_demo(folder)
    before = _files(folder)
    assert run(["weigh", str(folder), "--json"]) == 4
    first = capsysbinary.readouterr().out
    assert run(["weigh", str(folder), "--json"]) == 4
    assert capsysbinary.readouterr().out == first
    assert _files(folder) == before
    assert json.loads(first)["counts"]["contradicted"] == 2  # docs/demo.md: the manuals' code 06h, and the dot curve


def test_demo_dossier(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The whole dossier of the demonstration, the strips among it, is the same to the byte when written twice."""
    folder = tmp_path / "tide"
    copy_demo(folder)
    for name in ("one", "two"):
        assert run(["dossier", str(folder), "-o", str(tmp_path / name)]) == 0
    assert _files(tmp_path / "one") == _files(tmp_path / "two")
    assert capsys.readouterr().err == ""
    assert b"data:image/png;base64," in _files(tmp_path / "one")["index.html"]


def test_copy_demo_again(tmp_path: Path) -> None:
    """An untouched copy, or an empty folder, is taken as it is."""
    folder = tmp_path / "tide"
    folder.mkdir()
    assert copy_demo(folder)
    assert not copy_demo(folder)


@pytest.mark.parametrize("spoil", ["edited", "added", "removed", "file"])
def test_copy_demo_wrong(spoil: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A copy that was worked in, or anything else of the user's, is refused and left as it is."""
    folder = tmp_path / "tide"
    if spoil == "file":
        folder.write_text("mine")
    else:
        copy_demo(folder)
    if spoil == "edited":
        (folder / "study.toml").write_text("title = 'mine'\n")
    if spoil == "added":
        (folder / "notes.txt").write_text("mine")
    if spoil == "removed":
        (folder / "study.toml").unlink()
    before = _files(tmp_path)
    assert run(["demo", str(folder), "--no-desk"]) == 2
    assert f"latchlore: {folder}: exists and is not" in capsys.readouterr().err
    assert _files(tmp_path) == before


def test_demo_stays_out_of_the_way(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nobody sits at a terminal the desk is not opened, so that a script comes to its end."""

    def weigh_study(folder: Path, progress: object) -> Table:
        return Table("", True, (), ())

    monkeypatch.setattr("latchlore.study.weigh_study", weigh_study)
    monkeypatch.setattr(
        "latchlore.desk.serve", lambda *given, **named: pytest.fail("the desk was opened"), raising=False
    )
    assert run(["demo", str(tmp_path / "tide")]) == 0
