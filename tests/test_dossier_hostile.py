"""Script in every text field and every file name of a study: the page stays what it was, and shows it as text."""

from __future__ import annotations

import re
import shutil
from html.parser import HTMLParser
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import tomlkit

from latchlore.dossier import gather_parts, render_dossier
from latchlore.study import weigh_study

if TYPE_CHECKING:
    from collections.abc import Iterator

RUDE = "</p></td></style></svg></pre><script>alert(1)</script><img src=x onerror=alert(2)>\"'&"
RECORD = """[[finding]]
name = "busy"
sentence = "The code waits."
rests_on = ["signal BUSY"]
"""
HISTORY = "2026-11-26\tbusy\tsentence\told words\tThe code waits.\twhy not\tevidence here\n"
OUTCOME = """
[[outcome]]
trial = "meter on W2"
saw = "apart"
sure = 90
on = "2026-11-27"
note = "quiet"
"""


FORMS = {
    "file",
    "load",
    "cpu",
    "clock",
    "address",
    "role",
    "signal",
    "runs",
    "sequence",
    "document",
    "command",
    "name",
    "pattern",
    "does",
    "amount",
    "active",
    "direction",
    "number",
    "connector",
    "least",
    "most",
    "date",
    "on",
    "data",
    "left",
    "set",
    "dot_x",
    "dot_y",
    "step",
    "width",
    "look",
    "at_edge",
    "codes",
    "hazard",
    "saw",
    "trial",
    "send",
    "bit",
    "latency",
    "jitter",
    "service",
    "period",
    "wide",
    "underlined",
    "kind",
    "strobe",
    "busy",
    "what",
}
"""Keys whose text has a fixed form, or is a name that other places refer to."""

NAMES = (
    "draw one row of 144 dots",
    "print a character",
    "dot-drawn tide curve",
    "meter on W2",
    "tide-line",
    "inverter",
    "remembers one",
)
"""Names that are free words: changed wherever they stand."""


class _Page(HTMLParser):
    """Every kind of tag with the names of its attributes, and everything that could run or fetch."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.shapes: set[tuple[str, tuple[str, ...]]] = set()
        self.addresses: set[str] = set()
        self.words: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note the tag's shape."""
        self.shapes.add((tag, tuple(sorted(name for name, _ in attrs))))
        self.addresses |= {value or "" for name, value in attrs if name in {"href", "src"}}

    def handle_data(self, data: str) -> None:
        """Note the text."""
        self.words.append(data)


@pytest.fixture
def study(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The demonstration with a record and an outcome."""
    monkeypatch.setenv("LATCHLORE_CACHE", str(tmp_path / "cache"))
    folder = tmp_path / "study"
    shutil.copytree(str(resources.files("latchlore") / "demo"), folder)
    (folder / "findings.toml").write_text(RECORD)
    (folder / "history.txt").write_text(HISTORY)
    with (folder / "questions.toml").open("a") as stream:
        stream.write(OUTCOME)
    return folder


def _page(folder: Path) -> _Page:
    table = weigh_study(folder)
    return _Page(render_dossier(folder, table, gather_parts(folder, table))["index.html"].decode("utf-8"))


def _texts(value: Any) -> Iterator[tuple[Any, str | int]]:
    """(container, key) of every text of a TOML document, tables and lists gone through."""
    pairs = value.items() if isinstance(value, dict) else enumerate(value)
    for key, inner in pairs:
        if isinstance(inner, str):
            yield value, key
        elif isinstance(inner, dict | list):
            yield from _texts(inner)


def _spoil(folder: Path) -> int:
    """Write `RUDE` behind every text of every TOML file, but for those of a fixed form; how many that are.

    A key that is not among `FORMS` is taken for free words: a new one is tried without being named here.
    """
    count = 0
    for file in sorted(folder.rglob("*.toml")):
        document = tomlkit.parse(file.read_text("utf-8"))
        for container, key in list(_texts(document)):
            if container[key] in NAMES or (isinstance(key, str) and key not in FORMS):
                container[key] = f"{container[key]}{RUDE}"
                count += 1
        file.write_text(tomlkit.dumps(document), "utf-8")
    return count


def test_hostile_fields(study: Path) -> None:
    """No field of any file adds a tag, an attribute or an address to the page; the words are there to be read."""
    plain = _page(study)
    assert _spoil(study) > 80
    for file in ("wire/power-on.log", "board/card.nets"):
        path = study / file
        path.write_text(f"# {RUDE}\n{path.read_text('utf-8')}", "utf-8")
    history = study / "history.txt"
    history.write_text(history.read_text("utf-8").replace("why not", RUDE).replace("evidence here", RUDE), "utf-8")
    rude = _page(study)
    assert rude.shapes <= plain.shapes
    assert all(re.fullmatch(r"#[\w.-]+|data:image/png;base64,.*|[a-z.]+\.json", one) for one in rude.addresses)
    assert sum(text.count("<script>alert(1)</script>") for text in rude.words) > 100


def test_hostile_file_names(study: Path) -> None:
    """A file may be called what the system allows: its name is text on the page, and no address."""
    plain = _page(study)
    rude = "<img src=x onerror=alert(3)>\"'&.log"
    shutil.copy(study / "wire" / "tide-line.log", study / "wire" / rude)
    shutil.copy(study / "documents" / "quill-24.toml", study / "documents" / rude.replace(".log", ".toml"))
    found = _page(study)
    assert found.shapes <= plain.shapes
    assert sum(text.count("<img src=x onerror=alert(3)>") for text in found.words) > 20
