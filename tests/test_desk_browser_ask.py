"""Asking in a real browser: the whole way by keys alone, without scripts, narrow, light and dark, accessible."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.axe import violations
from tests.browser import Visit, browsing, fits, keep_picture, tab_to
from tests.desks import TABLE_OF_TESTS, running_desk
from tests.marram import lay_study
from tests.test_desk_record import QUESTIONS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Page

pytestmark = pytest.mark.browser


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[tuple[str, Path]]:
    """The address of a running desk, and its study, which has a question."""
    study = lay_study(tmp_path / "study")
    (study / "questions.toml").write_text(QUESTIONS)
    with running_desk(study, TABLE_OF_TESTS) as address:
        yield address, study


def _type(page: Page, *fields: tuple[str, str]) -> None:
    """Go to each field by the tabulator, in the order of the page, and type."""
    for label, text in fields:
        tab_to(page, label)
        page.keyboard.press("Control+a")
        page.keyboard.type(text)


def test_question_by_keyboard(desk: tuple[str, Path], visit: Visit, tmp_path: Path) -> None:
    """By keys alone: ask, be refused with the reason beside the field, mend it, see what the trial will show, undo."""
    address, study = desk
    page = visit.page
    page.goto(f"{address}enter")
    tab_to(page, "Ask a question")
    page.keyboard.press("Enter")
    page.wait_for_url("**/record-question")
    _type(
        page,
        ("The question: one sentence", "Was W3 joined?"),
        ("Its name", "W3"),
        ("rival, row 1", "open"),
        ("weight, row 1", "3"),
        ("rival, row 2", "joined"),
        ("Name of the trial", "look at W3"),
    )
    tab_to(page, "no trial yet")
    page.keyboard.press("ArrowDown")
    assert page.evaluate("document.activeElement.value") == "power-off"
    note = page.evaluate("document.getElementById(document.activeElement.getAttribute('aria-describedby')).innerText")
    assert "capacitors discharged" in note
    _type(
        page,
        ("outcome, row 1", "solder"),
        ("if rival 1, row 1", "10"),
        ("if rival 2, row 1", "80"),
        ("outcome, row 2", "no solder"),
        ("if rival 1, row 2", "90"),
        ("if rival 2, row 2", "10"),
    )
    page.keyboard.press("Enter")  # sends the form, and not the first of its other buttons
    page.get_by_role("alert").wait_for()
    told = "the chances of rival 'joined' add up to 1 or to 100, not to 90"
    assert told in page.get_by_role("alert").inner_text()
    assert page.locator("#outcome-if-rival-2-0-error").inner_text() == told
    assert violations(page) == []
    keep_picture(page, "question-refused", tmp_path)
    tab_to(page, "outcome 1 (if rival 2)")
    page.keyboard.press("Enter")
    assert page.evaluate("location.hash") == "#outcome-if-rival-2-0"
    assert (study / "questions.toml").read_text() == QUESTIONS
    _type(page, ("if joined, row 2", "20"))  # the way goes on from the field that was named
    page.keyboard.press("Enter")
    page.wait_for_url("**/record#question-2")
    page.wait_for_selector("#question-2 .trial")
    shown = page.locator("#question-2").inner_text()
    assert "Next: look at W3" in shown
    assert "open 27.3%, joined 72.7%" in shown
    assert (study / "questions.toml").read_text().startswith(QUESTIONS)
    tab_to(page, "Undo")
    page.keyboard.press("Enter")
    page.locator(".undo").wait_for(state="detached")
    assert (study / "questions.toml").read_text() == QUESTIONS
    assert [one for one in visit.errors if "422" not in one] == []  # the browser names the refused form
    assert {url.split("/")[2] for url in visit.asked} == {address.split("/")[2]}


def test_trial_by_keyboard(desk: tuple[str, Path], visit: Visit) -> None:
    """By keys alone: from a question of the record to one more trial of it."""
    address, study = desk
    page = visit.page
    page.goto(f"{address}record")
    page.wait_for_selector(".trial")
    tab_to(page, "Add a trial to w2")
    page.keyboard.press("Enter")
    page.wait_for_url("**/record-trial?*")
    _type(page, ("Name of the trial", "weigh W2"))
    tab_to(page, "power off")
    page.keyboard.press("Space")
    _type(
        page,
        ("outcome, row 1", "heavy"),
        ("if open, row 1", "30"),
        ("if joined, row 1", "60"),
        ("outcome, row 2", "light"),
        ("if open, row 2", "70"),
        ("if joined, row 2", "40"),
    )
    tab_to(page, "Keep the trial")
    page.keyboard.press("Enter")
    page.wait_for_url("**/record#question-1")
    page.get_by_role("heading", name="weigh W2").wait_for()
    added = 'outcomes = ["heavy", "light"]\nchances = { open = [30, 70], joined = [60, 40] }\n'
    assert (study / "questions.toml").read_text().endswith(added)
    assert visit.errors == []


def test_without_script(desk: tuple[str, Path]) -> None:
    """More rivals, and a question, in a browser that runs no scripts."""
    address, study = desk
    with browsing(has_script=False) as visit:
        page = visit.page
        page.goto(f"{address}record-question")
        page.get_by_label("Its name").fill("W3")
        page.get_by_role("button", name="More rows (The rivals").click()
        assert page.get_by_label("if rival 5, row 1").count() == 1
        assert page.get_by_label("Its name").input_value() == "W3"
        page.get_by_label("The question: one sentence").fill("Was W3 joined?")
        page.get_by_label("rival, row 1", exact=True).fill("open")
        page.get_by_label("rival, row 5", exact=True).fill("joined")
        page.get_by_role("button", name="Keep the question").last.click()
        page.wait_for_url("**/record#question-2")
    assert '[[question.rival]]\nname = "joined"\n' in (study / "questions.toml").read_text()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_forms_are_accessible(scheme: str, desk: tuple[str, Path], visit: Visit, tmp_path: Path) -> None:
    """No breach, and no sideways scrolling at 320 pixels: empty, with many rivals, and refused."""
    address, _ = desk
    page = visit.page
    page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")

    def look(name: str) -> None:
        page.set_viewport_size({"width": 1280, "height": 900})
        assert violations(page) == [], name
        keep_picture(page, f"{name}-{scheme}-1280", tmp_path)
        page.set_viewport_size({"width": 320, "height": 640})
        assert fits(page), name
        keep_picture(page, f"{name}-{scheme}-320", tmp_path)

    for name in ("record-trial?question=w2", "record-trial?question=x", "record-question"):
        page.goto(address + name)
        look(name.replace("?", "-"))
    for _ in range(4):
        page.get_by_role("button", name="More rows (The rivals").click()
        page.wait_for_load_state()
    assert page.get_by_label("if rival 11, row 1").count() == 1
    look("record-question-rivals")
    page.get_by_label("The question: one sentence").fill("W" * 300)
    page.get_by_label("Its name").fill("w2")
    page.get_by_label("Cost", exact=True).fill("-" * 200)
    for label in ("weight, row 11", "if rival 11, row 1", "What decides it"):
        page.get_by_label(label, exact=True).fill("many")
    page.get_by_role("button", name="Keep the question").last.click()
    page.get_by_role("alert").wait_for()
    assert page.locator(".field-error").count() > 6
    look("record-question-refused")
