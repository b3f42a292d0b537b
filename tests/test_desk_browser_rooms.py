"""Every room of the desk in a real browser on the demonstration: no error, accessible, narrow, main tasks by keyboard.

Pictures are kept where LATCHLORE_PICTURES names a folder.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.axe import violations
from tests.browser import Visit, browsing, fits
from tests.demos import lay_demo
from tests.desks import running_desk

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

PAGES = (
    "",
    "board",
    "wire-listen",
    "board-trace",
    "board-trace?ready=yes",
    "program",
    "program-tree?entry=print a character",
    "program-listing",
    "wire",
    "wire-capture?file=wire/plug.vcd",
    "paper",
    "paper?sequence=tide-line&byte=8",
    "devices",
    "record",
    "place?file=wire/power-on.log&as=line&at=6",
)


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a running desk on the demonstration."""
    study = lay_demo(tmp_path_factory.mktemp("rooms") / "study")
    with running_desk(study) as address:
        yield address


@pytest.fixture(scope="module")
def browser() -> Iterator[Visit]:
    """One browser with an empty profile for all pages: starting it costs more than a page."""
    with browsing() as opened:
        yield opened


@pytest.fixture
def visit(browser: Visit) -> Visit:
    """The browser, with nothing gone wrong and nothing asked for yet."""
    browser.page.goto("about:blank")
    browser.page.set_viewport_size({"width": 1280, "height": 900})
    browser.page.emulate_media(color_scheme="light")
    browser.errors.clear()
    browser.asked.clear()
    return browser


def _open(visit: Visit, address: str) -> Page:
    """The page, once the study has been weighed."""
    visit.page.goto(address)
    visit.page.locator("[data-unfinished]").wait_for(state="detached", timeout=60_000)
    visit.page.wait_for_load_state()
    return visit.page


def _wait_told(page: Page, words: str) -> None:
    """Wait until the drawing says `words` of what it shows."""
    page.locator("#told", has_text=words).wait_for()


def _keep(page: Page, name: str) -> None:
    folder = os.environ.get("LATCHLORE_PICTURES")
    if folder:
        Path(folder).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=Path(folder) / f"{name}.png")


@pytest.mark.parametrize("asked", PAGES)
def test_room(asked: str, desk: str, visit: Visit) -> None:
    """Each page opens without an error or a request that leaves the machine, is accessible in light and dark (axe-core,
    WCAG 2.2 AA), and at 320 pixels nothing makes it scroll sideways.
    """
    page = _open(visit, desk + asked)
    name = "".join(letter if letter.isalnum() else "-" for letter in asked) or "table"
    assert violations(page) == []
    _keep(page, f"{name}-light")
    page.emulate_media(color_scheme="dark")
    _keep(page, f"{name}-dark")
    page.set_viewport_size({"width": 320, "height": 640})
    page.wait_for_timeout(100)
    assert fits(page)
    assert violations(page) == []
    _keep(page, f"{name}-320")
    assert visit.errors == []
    assert {url.split("/")[2] for url in visit.asked} == {desk.split("/")[2]}


def test_rooms_by_digits(desk: str, visit: Visit) -> None:
    """A digit leads to each room, from any other."""
    page = _open(visit, desk)
    for digit, title in enumerate(("The board", "The program", "The wire", "The paper", "The devices"), 2):
        with page.expect_navigation():
            page.keyboard.press(str(digit))
        assert page.locator("h1").inner_text() == title
    assert visit.errors == []


def test_trace_by_keyboard(desk: str, visit: Visit) -> None:
    """From the cautions to the first answer by keys alone, and back by Undo."""
    page = _open(visit, f"{desk}board-trace")
    with page.expect_navigation():
        page.keyboard.press("Enter")  # the button that says that all of that is so has the focus
    asked = page.locator("h2.action").inner_text()
    page.keyboard.press("Space")  # the first pin of the row
    with page.expect_navigation():
        page.keyboard.press("y")
    assert page.locator("h2.action").inner_text() != asked
    assert "1 read" in page.locator("[role=status]").first.inner_text() + page.locator(".lead").first.inner_text()
    page.get_by_role("button", name="Undo").focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    _open(visit, f"{desk}board-trace?ready=yes")
    assert page.locator("h2.action").inner_text() == asked
    assert visit.errors == []


def test_net_by_keyboard(desk: str, visit: Visit) -> None:
    """Stepping to a net and pressing Enter lights it on the board."""
    page = _open(visit, f"{desk}board")
    net = page.locator("ul.nets a").first
    lit = page.locator(f"[id='{(net.get_attribute('href') or '')[1:]}']")
    assert not lit.is_visible()
    net.focus()
    page.keyboard.press("Enter")
    lit.wait_for(state="visible")
    assert visit.errors == []


def test_capture_by_keyboard(desk: str, visit: Visit) -> None:
    """The drawing goes nearer, later and back by keys, and says what it shows; a byte leads to its moment."""
    page = _open(visit, f"{desk}wire-capture?file=wire/plug.vcd")
    _wait_told(page, "edges")
    whole = page.locator("#told").inner_text()
    assert whole.startswith("From 0 ps, 3.2377 ms long, ")
    page.keyboard.press("+")
    _wait_told(page, "From 809.425 us, 1.61885 ms long")
    page.locator("canvas").focus()
    page.keyboard.press("ArrowRight")
    _wait_told(page, "From 1.2141375 ms, 1.61885 ms long")
    page.keyboard.press("Home")
    _wait_told(page, whole)
    byte = page.locator(".bytes button").first
    byte.focus()
    page.keyboard.press("Enter")
    _wait_told(page, f"mark at {int(byte.get_attribute('data-at') or 0) / 1e6:g} us")
    assert visit.errors == []


def test_capture_awaited(desk: str, visit: Visit) -> None:
    """Until the first stretch is there, the page says that it is being read."""
    visit.page.route("**/wire-stretch?*", lambda _: None)  # never answered
    visit.page.goto(f"{desk}wire-capture?file=wire/plug.vcd")
    _wait_told(visit.page, "The capture is being read.")
    assert visit.errors == []


def test_paper_by_keyboard(desk: str, visit: Visit) -> None:
    """From byte to byte by keys, each with its frame; a click on a mark leads to its byte."""
    page = _open(visit, f"{desk}paper?sequence=tide-line&byte=0")
    assert "Byte 0, 54, struck" in page.locator(".strip-bytes .note").inner_text()
    box = page.locator("rect.lit").bounding_box()
    assert box is not None
    with page.expect_navigation():
        page.keyboard.press("f")
    assert "Byte 1, 49, struck" in page.locator(".strip-bytes .note").inner_text()
    with page.expect_navigation():
        page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert "Byte 0, 54, struck" in page.locator(".strip-bytes .note").inner_text()
    assert visit.errors == []
