"""The desk in a real browser: no error, no request that leaves the machine, keyboard, narrow screens."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.browser import Visit, fits
from tests.desks import TABLE_OF_TESTS, running_desk
from tests.marram import LOG, lay_study

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Page

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """The address of a running desk, and its study."""
    study = lay_study(tmp_path_factory.mktemp("desk") / "study")
    with running_desk(study, TABLE_OF_TESTS) as address:
        yield address, study


def _has_focus(page: Page) -> str:
    """The id, or else the words, of what has the focus."""
    return str(page.evaluate("document.activeElement.id || document.activeElement.textContent.trim()"))


def test_desk_by_keyboard(desk: tuple[str, Path], visit: Visit) -> None:
    """By keys alone: tick a standing, show it, step through the subjects, open a place, and go back to the subject."""
    page = visit.page
    page.goto(desk[0])
    page.keyboard.press("Tab")
    assert _has_focus(page) == "To the content"
    page.keyboard.press("Enter")
    assert _has_focus(page) == "content"
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    page.wait_for_url("**/?standing=contradicted")
    assert page.locator("tbody.row").count() == 2
    page.keyboard.press("n")
    assert _has_focus(page) == "on-code-1b-4b"
    page.keyboard.press("n")
    assert _has_focus(page) == "on-dot-drawing"
    page.keyboard.press("p")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_url("**/place?*")
    assert page.locator("pre.cited").inner_text().endswith('meaning = "draw n dot columns"')
    page.get_by_role("link", name="code 1B 4B", exact=True).press("Enter")
    page.wait_for_url("**/#on-code-1b-4b")
    assert visit.errors == []
    assert {url.split("/")[2] for url in visit.asked} == {desk[0].split("/")[2]}


def test_desk_tells_of_changes(desk: tuple[str, Path], visit: Visit) -> None:
    """The open page says that files have changed, and showing the new state takes the word away."""
    address, study = desk
    page = visit.page
    page.goto(address)
    word = page.get_by_role("status")
    assert not word.is_visible()
    (study / LOG).write_text("1B 40 0D 0A\n")
    word.wait_for(state="visible", timeout=10_000)
    with page.expect_navigation():
        page.get_by_role("link", name="Show the new state").click()
    assert not page.get_by_role("status").is_visible()
    assert visit.errors == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_desk_on_a_narrow_screen(scheme: str, desk: tuple[str, Path], visit: Visit) -> None:
    """At 320 pixels nothing scrolls sideways, in light and dark, and the two schemes differ."""
    page = visit.page
    page.set_viewport_size({"width": 320, "height": 640})
    page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    page.goto(desk[0])
    assert fits(page)
    lit = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    assert (sum(int(part) for part in lit[4:-1].split(",")) > 600) == (scheme == "light")
    with page.expect_navigation():  # otherwise the size may be asked of a page that is not there yet
        page.locator("a.place").first.click()
    assert fits(page)
    assert visit.errors == []
