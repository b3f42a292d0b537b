"""Entering in a real browser: by keys alone, with a conflict, narrow, light and dark, accessible."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from latchlore.study import new_study
from tests.axe import violations
from tests.browser import Visit, browsing, fits, tab_to
from tests.desks import running_desk
from tests.test_desk_enter import MANUAL, NETS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

PAGES = (
    "",
    "enter",
    "enter-run",
    "enter-document",
    "enter-row?file=documents/manual.toml&number=1",
    "enter-row-out?file=documents/plain.toml&number=1",
    "enter-row-out?file=documents/manual.toml&number=1",
    "enter-readings",
    "enter-note",
    "enter-about",
    "enter-file",
    "edit?file=study.toml",
    "edit?file=new.txt",
    "enter-row?file=nothing",
)

PLAIN = """\
title = "Label (invented)"
device = "Quill"
kind = "label"

[[command]]
pattern = "0A"
meaning = "a line"

[[command]]
pattern = "0B"
meaning = "typed by mistake, and with many words in one line so that a narrow page would have to scroll"
"""
"""A table as the desk writes it."""


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[tuple[str, Path]]:
    """The address of a running desk, and its study: a new one with a parts list and a manual."""
    study = tmp_path / "found"
    new_study(study)
    (study / "board/card.nets").write_text(NETS)
    (study / "documents/manual.toml").write_text(MANUAL)
    (study / "documents/plain.toml").write_text(PLAIN)
    with running_desk(study) as address:
        yield address, study


def _weighed(page: Page, address: str) -> None:
    page.goto(address)
    page.locator("h1", has_not_text="The study is being weighed").wait_for(timeout=120_000)
    page.wait_for_load_state()


def test_run_and_undo_by_keyboard(desk: tuple[str, Path], visit: Visit) -> None:
    """By keys alone: from the room's list to the form, paste a run, see it refused, mend it, and take it back."""
    address, study = desk
    page = visit.page
    page.goto(f"{address}enter")
    page.keyboard.press("n")  # the first thing that can be entered
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Paste a run"
    page.keyboard.press("Enter")
    page.wait_for_url("**/enter-run")
    tab_to(page, "Name of the sequence, for a new log")
    page.keyboard.type("power-on")
    tab_to(page, "The bytes")
    page.keyboard.type("16 5A 0D\n16 zz\n")
    tab_to(page, "Keep the run")
    page.keyboard.press("Enter")
    page.get_by_role("alert").wait_for()
    assert "what you pasted:2: 'zz' is not a byte" in " ".join(page.get_by_role("alert").inner_text().split())
    assert not list((study / "wire").glob("*.log"))
    tab_to(page, "The bytes")
    page.keyboard.press("Control+a")
    page.keyboard.type("16 5A 0D\n16 0D")
    tab_to(page, "Keep the run")
    page.keyboard.press("Enter")
    page.wait_for_url("**/enter")
    assert (study / "wire/power-on.log").read_text() == "16 5A 0D\n16 0D\n"
    tab_to(page, "Undo")
    page.keyboard.press("Enter")
    page.locator(".undo").wait_for(state="detached")
    assert not (study / "wire/power-on.log").exists()
    assert [one for one in visit.errors if "422" not in one] == []  # the browser names the refused form
    assert {url.split("/")[2] for url in visit.asked} == {address.split("/")[2]}


def test_reading_by_keyboard(desk: tuple[str, Path], visit: Visit) -> None:
    """By keys alone: enter readings of a meter, with the caution above the form."""
    address, study = desk
    page = visit.page
    page.goto(f"{address}enter")
    tab_to(page, "Enter readings of a meter")
    page.keyboard.press("Enter")
    page.wait_for_url("**/enter-readings")
    assert "Before a probe touches the board" in page.get_by_role("note").inner_text()
    tab_to(page, "The readings")
    page.keyboard.type("joined u1.3 u2.5\napart u1.3 u2.6")
    tab_to(page, "Keep the readings")
    page.keyboard.press("Enter")
    page.wait_for_url("**/enter")
    assert (study / "board/trace.readings").read_text() == "joined u1.3 u2.5\napart u1.3 u2.6\n"
    assert visit.errors == []


def test_row_out_by_keyboard(desk: tuple[str, Path], visit: Visit) -> None:
    """By keys alone: from the table's rows to what would go, take it out, and take that back."""
    address, study = desk
    page = visit.page
    _weighed(page, f"{address}enter-row-out?file=documents/plain.toml&number=2")
    page.goto(f"{address}enter-row?file=documents/plain.toml")
    tab_to(page, "Take row 2 out")
    page.keyboard.press("Enter")
    page.wait_for_url("**/enter-row-out?*")
    goes = page.get_by_label("These lines go").text_content()
    assert goes == PLAIN[PLAIN.index('\n[[command]]\npattern = "0B"') :]
    tab_to(page, "Take these lines out")
    page.keyboard.press("Enter")
    page.wait_for_url("**/enter-row?*")
    assert (study / "documents/plain.toml").read_text() == PLAIN.replace(goes, "")
    tab_to(page, "Undo")
    page.keyboard.press("Enter")
    page.locator(".undo").wait_for(state="detached")
    assert (study / "documents/plain.toml").read_text() == PLAIN
    assert visit.errors == []


def test_conflict(desk: tuple[str, Path], visit: Visit, tmp_path: Path) -> None:
    """A file changed in an editor meanwhile: both texts are on the page, ours in the form, theirs on the disk."""
    address, study = desk
    page = visit.page
    page.goto(f"{address}edit?file=documents/manual.toml")
    page.get_by_label("The text of the file").fill(MANUAL + "# ours\n")
    (study / "documents/manual.toml").write_text(MANUAL + "# theirs\n")
    page.get_by_role("button", name="Keep the text").last.click()
    page.get_by_role("alert").wait_for()
    assert "# theirs" in page.get_by_label("The file as it is now").inner_text()
    assert "# ours" in page.get_by_label("What you were about to write").inner_text()
    assert page.get_by_label("The text of the file").input_value() == MANUAL + "# ours\n"
    assert (study / "documents/manual.toml").read_text() == MANUAL + "# theirs\n"
    assert violations(page) == []
    page.screenshot(path=Path(os.environ.get("LATCHLORE_PICTURES") or tmp_path) / "conflict.png", full_page=True)
    page.get_by_label("The text of the file").fill(MANUAL + "# theirs\n# ours\n")
    page.get_by_role("button", name="Keep the text").last.click()
    page.wait_for_url("**/enter")
    assert (study / "documents/manual.toml").read_text() == MANUAL + "# theirs\n# ours\n"


def test_without_script(desk: tuple[str, Path]) -> None:
    """Everything works in a browser that runs no scripts."""
    address, study = desk
    with browsing(has_script=False) as visit:
        page = visit.page
        page.goto(f"{address}enter-document")
        page.get_by_label("Name of the file").fill("letter")
        page.get_by_role("button", name="More rows").click()
        assert page.get_by_label("pattern, row 10", exact=True).count() == 1
        assert page.get_by_label("Name of the file").input_value() == "letter"
        page.get_by_label("Title, as printed").fill("Letter")
        page.get_by_label("The device it speaks of").fill("Quill")
        page.get_by_label("It is a").select_option("letter")
        page.get_by_label("pattern, row 10", exact=True).fill("0C")
        page.get_by_label("meaning, row 10", exact=True).fill("feed")
        page.get_by_role("button", name="Keep the table").last.click()
        page.wait_for_url("**/enter")
    assert 'pattern = "0C"\nmeaning = "feed"\n' in (study / "documents/letter.toml").read_text()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_are_accessible(scheme: str, desk: tuple[str, Path], visit: Visit, tmp_path: Path) -> None:
    """No page of the room has a breach, and none scrolls sideways at 320 pixels."""
    page = visit.page
    page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    for name in PAGES:
        page.set_viewport_size({"width": 1280, "height": 900})
        _weighed(page, desk[0] + name)
        assert violations(page) == [], name
        page.set_viewport_size({"width": 320, "height": 640})
        assert fits(page), name
        shown = name.partition("?")[0] or "table"
        folder = Path(os.environ.get("LATCHLORE_PICTURES") or tmp_path)
        page.screenshot(path=folder / f"{shown}-{scheme}-320.png", full_page=True)
