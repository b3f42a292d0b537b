"""The quick start, walked as it is printed: every block of docs/quick-start.md is used as the page says."""

from __future__ import annotations

import re
from pathlib import Path
from textwrap import dedent

import pytest

from latchlore.cli import run

PAGE = Path(__file__).parent.parent / "docs" / "quick-start.md"
FENCE = re.compile(r"^ *```(\w*)\n(.*?)^ *```$", re.MULTILINE | re.DOTALL)


def test_quick_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """A new study, the pasted log, the manual's table, a dossier: each step works and shows what the page promises."""
    monkeypatch.chdir(tmp_path)
    blocks = [(kind, dedent(text)) for kind, text in FENCE.findall(PAGE.read_text("utf-8"))]
    commands = [
        line.split("#")[0].split()[1:] for _, text in blocks for line in text.splitlines() if "latchlore" in line
    ]
    (log,) = (text for _, text in blocks if re.fullmatch(r"(?:[0-9A-F]{2}[ \n])+", text))
    (manual,) = (text for kind, text in blocks if kind == "toml")
    assert [command[0] for command in commands] == ["new", "desk", "weigh", "dossier"]  # the desk: test_desk_walk.py

    assert run(commands[0]) == 0
    Path("found/wire").mkdir(exist_ok=True)
    Path("found/wire/power-on.log").write_text(log, "utf-8")
    capsys.readouterr()
    assert run(commands[2]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    # The longest of the runs that the page shows, which holds every byte of the others in their order.
    assert re.search(
        r"wire 16\?? 5A\?? 16\?? 4C\?? 0C\?? 06\?? 4D\?? 41\?? 52\?? 52\?? 41\?? 4D\?? 0D\?? 0A\?? \(14", shown
    )

    Path("found/documents").mkdir(exist_ok=True)
    Path("found/documents/manual.toml").write_text(manual, "utf-8")
    assert run(commands[2]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    line = [number for number, text in enumerate(manual.splitlines(), 1) if text == "[[command]]"][1]
    place = f"documents/manual.toml:{line} (page 11, row 5)"
    assert f"code 0C single documents feed to the next tear mark {place}" in shown

    assert run(commands[3]) == 0
    assert Path("out/index.html").is_file()
