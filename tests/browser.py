"""A headless Chromium for tests: an empty profile each time, with what went wrong on a page and what it asked for."""

from __future__ import annotations

import os
import shutil
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Page

CHROMIUM = shutil.which("chromium")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


class Visit(NamedTuple):
    """A page with what went wrong on it and what it asked for."""

    page: Page
    errors: list[str]
    asked: list[str]


@contextmanager
def browsing(*, has_script: bool = True) -> Iterator[Visit]:
    """A browser with an empty profile of its own, closed at the end; skips the test where there is none.

    `has_script`: whether pages may run scripts.
    """
    if CHROMIUM is None:
        pytest.skip("no chromium on this machine: pages are not looked at in a browser")
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: as above")
    with tempfile.TemporaryDirectory() as profile, playwright.sync_playwright() as driver:
        context = driver.chromium.launch_persistent_context(
            profile,
            executable_path=CHROMIUM,
            headless=True,
            args=FLAGS,
            viewport={"width": 1280, "height": 900},
            java_script_enabled=has_script,
        )
        page = context.new_page()
        errors: list[str] = []
        asked: list[str] = []
        page.on("console", lambda message: errors.append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on("request", lambda request: asked.append(request.url))
        yield Visit(page, errors, asked)
        context.close()


def keep_picture(page: Page, name: str, folder: Path) -> None:
    """Keep what is seen of a page: in LATCHLORE_PICTURES where that is set, else in a folder."""
    page.screenshot(path=Path(os.environ.get("LATCHLORE_PICTURES") or folder) / f"{name}.png", full_page=True)


SPACED = "* { letter-spacing: 0.12em !important; word-spacing: 0.16em !important; line-height: 1.5 !important; }"
"""Text spacing as a reader may set it: WCAG 2.2, success criterion 1.4.12.  It stands for wide fonts as well."""


def fits(page: Page) -> bool:
    """Whether nothing makes the page scroll sideways, with the text set as it is and spaced out."""
    measure = "document.documentElement.scrollWidth <= document.documentElement.clientWidth"
    spaced = f"""sheet => {{
        const added = new CSSStyleSheet();
        added.replaceSync(sheet);
        document.adoptedStyleSheets = [...document.adoptedStyleSheets, added];
        const fits = {measure};
        document.adoptedStyleSheets = document.adoptedStyleSheets.slice(0, -1);
        return fits;
    }}"""
    return bool(page.evaluate(measure)) and bool(page.evaluate(spaced, SPACED))


def tab_to(page: Page, label: str) -> None:
    """Press the tabulator until what has this label, or these words, has the focus."""
    for _ in range(80):
        page.keyboard.press("Tab")
        found = page.evaluate(
            "(() => { const one = document.activeElement; return one.labels?.[0]?.textContent.trim() "
            "|| one.getAttribute('aria-label') || one.textContent.trim(); })()"
        )
        if found == label:
            return
    raise AssertionError(f"the keyboard does not reach {label!r}")
