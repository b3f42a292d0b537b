"""The record room in a real browser: its tasks by keys alone, narrow, light and dark, accessible, printed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.axe import violations
from tests.browser import Visit, fits, keep_picture, tab_to
from tests.desks import TABLE_OF_TESTS, running_desk
from tests.marram import lay_study
from tests.test_desk_record import QUESTIONS

if TYPE_CHECKING:
    from collections.abc import Iterator


pytestmark = pytest.mark.browser


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[tuple[str, Path]]:
    """The address of a running desk, and its study."""
    study = lay_study(tmp_path / "study")
    (study / "questions.toml").write_text(QUESTIONS)
    with running_desk(study, TABLE_OF_TESTS) as address:
        yield address, study


def test_finding_by_keyboard(desk: tuple[str, Path], visit: Visit, tmp_path: Path) -> None:
    """By keys alone: go to the record, add a finding, step to it, take it back with Undo."""
    address, study = desk
    page = visit.page
    page.goto(address)
    page.wait_for_selector("tbody.row")
    number = page.locator("nav.rooms a", has_text="record").get_attribute("data-digit")
    assert number is not None
    page.keyboard.press(number)
    page.wait_for_url("**/record")
    page.wait_for_selector(".trial")  # the questions are weighed
    tab_to(page, "Add a finding")
    page.keyboard.press("Enter")
    page.wait_for_url("**/record-add")
    tab_to(page, "Its name")
    page.keyboard.type("busy-low")
    tab_to(page, "The finding: one sentence")
    page.keyboard.type("The card sends while BUSY is low.")
    tab_to(page, "subject, or finding NAME, row 1")
    page.keyboard.type("code 1B 4B")
    page.keyboard.press("Enter")  # sends the form, and not the first of its other buttons
    page.wait_for_url("**/record#finding-busy-low")
    page.wait_for_selector(".trial")
    page.locator("#finding-busy-low").focus()  # as the address has it, unless the page followed the questions
    page.keyboard.press("n")
    assert page.evaluate("document.activeElement.id") == "question-1"
    page.keyboard.press("p")
    assert page.evaluate("document.activeElement.id") == "finding-busy-low"
    assert "disputed" in page.locator("#finding-busy-low").inner_text().lower()
    keep_picture(page, "record-1280", tmp_path)
    assert (study / "findings.toml").exists()
    tab_to(page, "Undo")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=No finding is written down yet")
    assert not (study / "findings.toml").exists()
    assert visit.errors == []
    assert {url.split("/")[2] for url in visit.asked} == {address.split("/")[2]}


def test_outcome_by_keyboard(desk: tuple[str, Path], visit: Visit) -> None:
    """By keys alone: open the sheet of the next trial, and enter what it showed."""
    address, study = desk
    page = visit.page
    page.goto(f"{address}record")
    page.wait_for_selector(".trial")
    tab_to(page, "Bench sheet of meter on W2, and its outcome")
    page.keyboard.press("Enter")
    page.wait_for_url("**/record-sheet?*")
    tab_to(page, "What it showed")
    page.keyboard.type("silence")
    tab_to(page, "Enter the outcome")
    page.keyboard.press("Enter")
    page.wait_for_url("**/record")
    assert 'saw = "silence"' in (study / "questions.toml").read_text()
    assert visit.errors == []


def test_sheet_is_printed(desk: tuple[str, Path], visit: Visit) -> None:
    """On paper the sheet stands alone: no form, no list of rooms, no footer."""
    page = visit.page
    page.goto(f"{desk[0]}record-sheet?trial=meter+on+W2")
    page.emulate_media(media="print")
    shown = page.locator("body").inner_text()
    assert shown.startswith("BENCH SHEET")
    assert shown.rstrip().endswith("_")
    assert "Enter the outcome" not in shown


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_record_is_accessible(scheme: str, desk: tuple[str, Path], visit: Visit, tmp_path: Path) -> None:
    """Every page of the room, with a finding that changed: no breach, and no sideways scrolling at 320 pixels."""
    address, study = desk
    page = visit.page
    page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    page.goto(f"{address}record-add?on=code+1B+4B")
    page.get_by_label("Its name").fill("busy")
    page.get_by_label("The finding: one sentence").fill("It waits.")
    page.get_by_role("button", name="Add the finding").click()
    page.wait_for_url("**/record#*")
    file = study / "findings.toml"
    file.write_text(file.read_text().replace("It waits.", "It waits long."))
    for name in ("record", "record-add", "record-filled", "record-sheet?trial=meter+on+W2", "record-sheet?trial=x"):
        page.set_viewport_size({"width": 1280, "height": 900})
        page.goto(address + name)
        if name == "record":
            page.wait_for_selector(".trial")
        assert violations(page) == [], name
        keep_picture(page, f"{name.split('?', maxsplit=1)[0]}-{scheme}-1280", tmp_path)
        page.set_viewport_size({"width": 320, "height": 640})
        assert fits(page), name
        keep_picture(page, f"{name.split('?', maxsplit=1)[0]}-{scheme}-320", tmp_path)
