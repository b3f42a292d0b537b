"""The dossier in a real browser: opened from disk, without scripts, by keyboard, on a narrow screen, on paper."""

from __future__ import annotations

import shutil
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from latchlore.cli import run
from latchlore.dossier import Parts, write_dossier
from latchlore.study import add_finding, withdraw_finding
from tests.axe import CONTRAST, violations
from tests.browser import Visit, browsing, fits
from tests.marram import ROM, lay_study, marram_table

if TYPE_CHECKING:
    from collections.abc import Iterator

pytestmark = pytest.mark.browser

DAY = "2026-11-26"
EXAM = Path(__file__).resolve().parent.parent / "exams" / "pc-parallel-1981" / "study"
FIGURES = """() => [...document.querySelectorAll('figure')].filter(figure => {
  const links = [...figure.querySelectorAll('figcaption a')].map(a => a.getAttribute('href'));
  return !links.some(link => /^#(place|file)-/.test(link));
}).map(figure => figure.textContent.trim().slice(0, 80))"""
BACK = """() => [...document.querySelectorAll('#subjects a.place')].filter(a => {
  const row = a.closest('tbody'), names = [row.id, ...[...row.querySelectorAll('span[id]')].map(span => span.id)];
  const back = document.querySelector(a.getAttribute('href')).querySelectorAll('a');
  return ![...back].some(link => names.includes(link.getAttribute('href').slice(1)));
}).map(a => a.textContent)"""
TEXT_BEYOND = """() => [...document.querySelectorAll('p, li, h2, h3, h4, td, th, dd, dt, caption, figcaption, pre')]
  .filter(one => one.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5)
  .filter(one => one.checkVisibility() && !one.matches('.unsaid')).map(one => one.textContent.trim().slice(0, 60))"""


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The dossier of the demonstration with two findings, of which one was taken back: no section is missing."""
    place = tmp_path_factory.mktemp("dossier")
    shutil.copytree(str(resources.files("latchlore") / "demo"), place / "study")
    add_finding(place / "study", ("busy", "The code waits while BUSY is high."), ["signal BUSY"], {}, DAY)
    add_finding(place / "study", ("curve", "No curve was drawn."), ["finding busy"], {}, DAY)
    withdraw_finding(place / "study", "curve", DAY, "a strip was found")
    assert run(["dossier", str(place / "study"), "-o", str(place / "out")]) == 0
    return place / "out" / "index.html"


@pytest.fixture
def visit(written: Path) -> Iterator[Visit]:
    """The demonstration's dossier in a browser."""
    with browsing() as opened:
        opened.page.goto(written.as_uri())
        yield opened


def test_dossier(tmp_path: Path) -> None:
    """The dossier opens from disk without an error or a request of its own, fits 320 pixels, and prints on A4."""
    parts = Parts(loads={ROM: 0xF000})
    write_dossier(lay_study(tmp_path / "study"), marram_table(), tmp_path / "out", parts)
    address = (tmp_path / "out" / "index.html").as_uri()
    with browsing() as visit:
        page = visit.page
        page.goto(address)
        assert visit.asked == [address]
        assert page.locator("figure svg.picture").count() == 5
        page.set_viewport_size({"width": 320, "height": 640})
        assert fits(page)
        printed = page.pdf(prefer_css_page_size=True)
        # A4 is 210 mm × 297 mm (ISO 216), which is 595.3 × 841.9 points of 1/72 inch.
        assert b"/MediaBox [0 0 594.95" in printed or b"/MediaBox [0 0 595" in printed
        assert visit.errors == []


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 1280), ("light", 320)])
def test_accessible(scheme: str, width: int, visit: Visit) -> None:
    """The whole page of the demonstration keeps the rules of WCAG 2.2 AA that an engine can check."""
    page = visit.page
    page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    page.set_viewport_size({"width": width, "height": 900})
    assert violations(page, without=(CONTRAST,) if width == 320 else ()) == []


def test_nothing_sideways(visit: Visit) -> None:
    """At 320 pixels no text needs sideways scrolling (WCAG 2.2, 1.4.10); pictures scroll in frames of their own."""
    page = visit.page
    page.set_viewport_size({"width": 320, "height": 640})
    assert fits(page)
    assert page.evaluate(TEXT_BEYOND) == []


def test_sections(written: Path, visit: Visit) -> None:
    """Every section is there, in the order of the contents, and nothing but the page is asked for."""
    page = visit.page
    there = page.locator("main > section").evaluate_all("all => all.map(one => '#' + one.id)")
    assert page.locator("nav a").evaluate_all("all => all.map(one => one.getAttribute('href'))") == there
    assert {"#findings", "#grades", "#questions", "#matings", "#registers", "#trees", "#commands"} <= set(there)
    assert {"#variants", "#paper", "#errata", "#cautions", "#cite", "#sources"} <= set(there)
    assert visit.asked == [written.as_uri()]
    assert visit.errors == []


def test_one_step_to_the_origin(visit: Visit) -> None:
    """Each caption leads to a place or a file among the sources, and each cited place leads back to its subject."""
    page = visit.page
    assert page.locator("figure").count() > 10
    assert page.evaluate(FIGURES) == []
    assert page.locator("#subjects a.place").count() > 100
    assert page.evaluate(BACK) == []


def test_by_keyboard_without_script(written: Path) -> None:
    """By keys alone, with scripts forbidden: from the contents to the trees, to a place in the image, into view."""
    with browsing(has_script=False) as visit:
        page = visit.page
        page.goto(written.as_uri())
        page.locator('nav a[href="#trees"]').focus()
        page.keyboard.press("Enter")
        page.wait_for_url("**#trees")
        page.keyboard.press("Tab")  # from the section's beginning: the first tree's subject
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        page.wait_for_url("**#place-*")
        anchor = page.url.partition("#")[2]
        box = page.locator(f"#{anchor}").bounding_box()
        assert box is not None
        assert -1 < box["y"] < 900  # the browser scrolls by whole pixels


def test_board_page(tmp_path: Path) -> None:
    """The page of a board alone has the same frame: accessible, nothing asked for, no wider than a narrow screen."""
    assert run(["board", "picture", str(EXAM), "-o", str(tmp_path / "board.html")]) == 0
    with browsing() as visit:
        visit.page.set_viewport_size({"width": 320, "height": 640})
        visit.page.goto((tmp_path / "board.html").as_uri())
        assert fits(visit.page)
        assert visit.page.evaluate(TEXT_BEYOND) == []
        assert violations(visit.page) == []
        assert visit.asked == [(tmp_path / "board.html").as_uri()]
        assert visit.errors == []


def test_on_paper(visit: Visit) -> None:
    """On paper everything that is folded is open, and no contents and no summaries are printed."""
    page = visit.page
    page.emulate_media(media="print")
    hidden = page.locator("details > :not(summary)").evaluate_all(
        "all => all.filter(one => !one.checkVisibility({contentVisibilityAuto: true})).length"
    )
    assert hidden == 0
    assert not page.locator("nav").is_visible()
    assert page.locator("summary:visible").count() == 0
