"""`latchlore standin`: the specification with its cautions, the vectors written, and what is refused."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import pytest

from latchlore.cli import run
from latchlore.evidence import stand_in_cautions
from tests.demos import lay_demo

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cache for all tests here."""
    return tmp_path_factory.mktemp("cache")


@pytest.fixture
def study(tmp_path: Path, kept: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The demonstration."""
    monkeypatch.setenv("LATCHLORE_CACHE", str(kept))
    return lay_demo(tmp_path / "study")


def test_standin(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The page says the byte, the times, who is quick enough, and every caution; it says how each point stands."""
    assert run(["standin", str(study)]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "Invented for demonstration" in text
    assert "1100 1xxx, such as CE" in text
    assert "bit 6 the stand-in, BUSY low at the pin; must read 1 (reset, power-on" in text
    assert "BUSY must be high no later than 39.992001 us (50 cycles of the host's clock)" in text
    assert "39 at 1 MHz, 159 at 4 MHz, 639 at 16 MHz" in text
    assert "to settle it: a capture of the line while the program waits for it" in text
    assert "On the wire it came 1 us behind the strobe at the latest." in text
    for before, words in stand_in_cautions():
        assert f"{before}: {' '.join(words.split())}" in text


def test_standin_vectors(study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The files are written and counted; with --json the output holds nothing else."""
    assert run(["standin", str(study), "--vectors", str(tmp_path / "out"), "--json"]) == 0
    printed = capsys.readouterr()
    assert json.loads(printed.out)["format"] == "latchlore-stand-in"
    assert printed.err == f"Wrote 13 files of 11 vectors to {tmp_path / 'out'}\n"
    assert json.loads((tmp_path / "out" / "vectors.json").read_text("utf-8"))["format"] == "latchlore-stand-in-vectors"


def test_standin_wrong(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Vectors are never written into the study."""
    assert run(["standin", str(study), "--vectors", str(study / "out")]) == 2
    words = "vectors are not written into the study's own folder; name another folder"
    assert capsys.readouterr().err == f"latchlore: {study / 'out'}: {words}\n"
    assert not (study / "out").exists()


def test_standin_contradicted(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A point that rests on a contradiction gives the exit status of one."""
    nets = study / "board" / "card.nets"
    text = nets.read_text("utf-8").replace("net busy     j2.10 u10.3", "net busy     j2.10 u10.3 u9.15")
    nets.write_text(text.replace("net nbusy    u10.4 u9.15", "open u10.4"), "utf-8")
    assert run(["standin", str(study)]) == 4
    assert "[contradicted]" in capsys.readouterr().out


def test_dossier_shows_it(study: Path, tmp_path: Path) -> None:
    """The dossier has the section with its cautions first, links that lead to rows, and the same for programs."""
    assert run(["dossier", str(study), "-o", str(tmp_path / "out")]) == 0
    page = (tmp_path / "out" / "index.html").read_text("utf-8")
    section = page[page.index("A stand-in for it</h2>") :]
    section = section[: section.index("</section>")]
    assert section.index("Before it is plugged in") < section.index("Idle status byte")
    assert "must be high no later than 39.992001 us" in section
    for link in re.findall(r'href="#(on-[^"]+)"', section):
        assert f'id="{link}"' in page
    twin = json.loads((tmp_path / "out" / "dossier.json").read_text("utf-8"))
    assert twin["stand_in"]["status"][0]["care_mask"] == 0b11111000
