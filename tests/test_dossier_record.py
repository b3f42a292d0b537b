"""The dossier's findings: sentence, grade, links to what they rest on, errata; escaped, and the same to programs."""

from __future__ import annotations

import json
import re
import shutil
from html.parser import HTMLParser
from pathlib import Path

import pytest

from latchlore.cli import run
from latchlore.study import accept_changes, add_finding, withdraw_finding

EXAM = Path(__file__).parent.parent / "exams" / "polarity-agreement" / "study"
DAY = "2026-11-26"


class _Page(HTMLParser):
    """Anchors, links, tags and text of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: set[str] = set()
        self.links: set[str] = set()
        self.tags: set[str] = set()
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note where it leads and where it can be led to."""
        named = dict(attrs)
        self.tags.add(tag)
        self.ids.add(named.get("id") or "")
        self.links.add((named.get("href") or "")[1:] if (named.get("href") or "").startswith("#") else "")

    def handle_data(self, data: str) -> None:
        """Note the text."""
        self.words += data


@pytest.fixture
def study(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The bench case of an inverter."""
    monkeypatch.setenv("LATCHLORE_CACHE", str(tmp_path / "cache"))
    folder = tmp_path / "study"
    shutil.copytree(EXAM, folder)
    return folder


def test_findings(study: Path, tmp_path: Path) -> None:
    """Findings stand first, lead to their subjects and to one another, and carry their errata with old and new."""
    add_finding(study, ("busy", "It waits <b>while</b> BUSY & co."), ["signal BUSY"], {}, DAY)
    add_finding(study, ("top", "So it is."), ["finding busy"], {}, DAY)
    shutil.copy(EXAM.parent.parent / "polarity-without-inverter" / "study" / "board" / "card.nets", study / "board")
    accept_changes(study, DAY, "measured <i>again</i>")
    withdraw_finding(study, "busy", DAY, "another card")
    assert run(["dossier", str(study), "-o", str(tmp_path / "out")]) == 0
    text = (tmp_path / "out" / "index.html").read_text()
    page = _Page(text)
    assert {"findings", "finding-busy", "finding-top"} <= page.ids
    assert page.links - {""} <= page.ids
    assert "finding-busy" in page.links
    assert "i" not in page.tags
    assert "It waits <b>while</b> BUSY & co." in page.words
    assert "measured <i>again</i>" in page.words
    words = re.sub(r"\s+", " ", page.words)
    assert "grade: was “established”, is “disputed”, because signal BUSY is contradicted" in words
    assert "unfounded: finding 'busy' is withdrawn changed, and not yet accepted" in words
    record = json.loads((tmp_path / "out" / "dossier.json").read_text())["record"]
    assert [(one["name"], one["grade"], len(one["errata"])) for one in record["findings"]] == [
        ("busy", "withdrawn", 3),
        ("top", "unfounded", 2),
    ]


def test_findings_wrong(study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No record: no section, no key.  A record that breaks its rules: no page is written."""
    out = tmp_path / "out"
    assert run(["dossier", str(study), "-o", str(out)]) == 0
    assert "findings" not in _Page((out / "index.html").read_text()).ids
    assert "record" not in json.loads((out / "dossier.json").read_text())
    shutil.rmtree(out)
    (study / "findings.toml").write_text('[[finding]]\nname = "a"\nsentence = "A."\nrests_on = ["signal BUS"]\n')
    capsys.readouterr()
    assert run(["dossier", str(study), "-o", str(out)]) == 2
    assert capsys.readouterr().err.splitlines()[-1] == (
        "latchlore: findings.toml:4 (finding[1].rests_on[1]): the table has no subject 'signal BUS'; "
        "near it: 'signal BUSY'"
    )
    assert not out.exists()
