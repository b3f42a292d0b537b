"""The new user's walk: a study, one pasted log, one manual's table, the strip; by the steps of docs/quick-start.md.

The steps are read from the page, and every word set in bold there has to be on the desk, so that the two cannot drift
apart.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import time
from pathlib import Path
from textwrap import dedent
from typing import TYPE_CHECKING, NamedTuple

import pytest

from latchlore.device import read_device
from latchlore.wire import parse_log
from tests.browser import browsing

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

PAGE = Path(__file__).parent.parent / "docs" / "quick-start.md"
HEADING = "## From one log and one table to the strip"
ITEM = re.compile(r"^(\d+)\. (.*?)(?=^\d+\. |\Z)", re.MULTILINE | re.DOTALL)
FENCE = re.compile(r"^( *)```\n(.*?)^ *```$", re.MULTILINE | re.DOTALL)
FIELD = re.compile(r"^ *- \*\*(.+?)\*\*:(?: `(.*)`)?$", re.MULTILINE)
ROW = re.compile(r"^ *\|(.*)\|$", re.MULTILINE)
ACT = re.compile(r"(Choose|Press|You see) \*\*(.+?)\*\*")
BOLD = re.compile(r"\*\*(.+?)\*\*")
LIMIT_SECONDS = 300
LETTERS_A_SECOND = 33 * 5 / 60
"""Users who are no typists copy 33 words of five letters a minute (Karat, Halverson, Horn, Karat, CHI 1999; from
memory)."""


class Act(NamedTuple):
    """One thing to do: its verb, where, and what is typed or pasted."""

    verb: str
    name: str
    text: str = ""


def _acts(body: str) -> Iterator[Act]:
    """What an item of the list asks for, in the order of its text.  Refuses one that asks for nothing."""
    blocks = [dedent(text) for _, text in FENCE.findall(body)]
    plain = FENCE.sub("", body)
    found: list[tuple[int, Act]] = []
    for match in FIELD.finditer(plain):
        pasted = match[2] is None
        found.append(
            (match.start(), Act("paste" if pasted else "type", match[1], blocks.pop(0) if pasted else match[2]))
        )
    found += ((match.start(), Act(match[1], match[2])) for match in ACT.finditer(plain))
    rows = [[cell.strip().strip("`") for cell in match[1].split("|")] for match in ROW.finditer(plain)]
    for k, row in enumerate(rows[2:], 1):
        cells = ((f"{head}, row {k}", text) for head, text in zip(rows[0], row, strict=True) if text)
        found += ((len(plain) + k, Act("type", name, text)) for name, text in cells)
    commands = [Act("run", "", line) for block in blocks for line in block.splitlines()]
    named = [act.name for _, act in found]
    assert all(word in named for word in BOLD.findall(plain)), f"not understood: {body}"
    assert found or commands, f"asks for nothing: {body}"
    yield from commands
    yield from (act for _, act in sorted(found, key=lambda pair: pair[0]))


def read_steps() -> list[Act]:
    """Everything the page asks for, in order."""
    text = PAGE.read_text("utf-8")
    part = text[text.index(HEADING) + len(HEADING) :]
    part = part[: part.index("\nEverything lies in text files now")]
    items = ITEM.findall(part[part.index("\n1. ") + 1 :])
    assert [int(number) for number, _ in items] == list(range(1, len(items) + 1))
    return [act for _, body in items for act in _acts(body)]


def _do(page: Page, act: Act) -> None:
    if act.verb == "Choose":
        page.get_by_role("link", name=act.name).first.click()
    elif act.verb == "Press":
        page.get_by_role("button", name=act.name, exact=True).click()
    elif act.verb == "You see":
        page.get_by_text(act.name, exact=True).first.wait_for(timeout=120_000)
        page.wait_for_load_state()
    else:
        field = page.get_by_label(act.name, exact=True)
        if field.evaluate("one => one.tagName") == "SELECT":
            field.select_option(act.text)
        else:
            field.fill(act.text)


def test_walk(tmp_path: Path) -> None:
    """Each step works as the page has it, ends with the strip, and leaves nothing to be typed that takes too long."""
    steps = read_steps()
    commands = [shlex.split(act.text)[1:] for act in steps if act.verb == "run"]
    assert [command[0] for command in commands] == ["new", "desk"]
    latchlore = [sys.executable, "-c", "import latchlore.cli; latchlore.cli.main()"]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}
    subprocess.run([*latchlore, *commands[0]], cwd=tmp_path, env=environment, check=True, capture_output=True)
    desk = [*latchlore, *commands[1], "--no-browser"]
    with subprocess.Popen(desk, stdout=subprocess.PIPE, text=True, cwd=tmp_path, env=environment) as running:
        try:
            assert running.stdout is not None
            with browsing() as visit:
                page = visit.page
                page.goto(running.stdout.readline().split()[-1])
                page.get_by_text("This study holds nothing yet").wait_for(timeout=120_000)
                started = time.monotonic()
                for act in steps:
                    if act.verb != "run":
                        _do(page, act)
                        if act == Act("You see", "The paper"):
                            _see_strip(page, tmp_path)
                taken = time.monotonic() - started
                assert visit.errors == []
        finally:
            running.terminate()
    typed = sum(len(act.text) for act in steps if act.verb == "type")
    assert taken + typed / LETTERS_A_SECOND < LIMIT_SECONDS
    log = parse_log((tmp_path / "found/wire/power-on.log").read_bytes(), "wire/power-on.log")
    assert len(log.runs) == 4
    table = read_device((tmp_path / "found/documents/manual.toml").read_bytes(), "documents/manual.toml")
    assert len(table.commands) == 6


def _see_strip(page: Page, folder: Path) -> None:
    """The strip is a picture with dots on it, and beside it the printed letters have their meaning."""
    tile = page.locator('img[src^="paper-tile"]').first
    tile.wait_for(timeout=120_000)
    page.wait_for_function("document.querySelector('img[src^=\"paper-tile\"]').naturalWidth > 0")
    dark = tile.evaluate(
        "one => { const c = document.createElement('canvas'); c.width = one.naturalWidth; c.height = one.naturalHeight;"
        " const d = c.getContext('2d'); d.drawImage(one, 0, 0);"
        " const p = d.getImageData(0, 0, c.width, c.height).data; let n = 0;"
        " for (let i = 0; i < p.length; i += 4) n += p[i] < 128; return n; }"
    )
    assert dark > 50  # six letters of at least a dozen dots
    assert "print the character" in page.locator("main").inner_text()
    page.screenshot(path=Path(os.environ.get("LATCHLORE_PICTURES") or folder) / "walk-strip.png", full_page=True)


@pytest.mark.parametrize("body", ["Look at **nothing** that is there.\n", "Think about it.\n"])
def test_steps_wrong(body: str) -> None:
    """A step that the walk cannot take is no step."""
    with pytest.raises(AssertionError):
        list(_acts(body))
