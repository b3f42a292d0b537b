"""Accessibility of a page in the browser, by the axe-core engine (a general library; the package bundles its file).

The engine checks what can be decided by a program: the rules of WCAG 2.0, 2.1 and 2.2, levels A and AA, and the
engine's own good practice.  What it cannot decide (`unclear`) is for the eye.
"""

from __future__ import annotations

from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from playwright.sync_api import Page

TAGS = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
RUN = """([tags, left]) => axe.run(document, {runOnly: {type: 'tag', values: tags}, resultTypes: ['violations',
  'incomplete'], rules: Object.fromEntries(left.map(rule => [rule, {enabled: false}]))})"""
CONTRAST = "color-contrast"
"""The rule that takes longest: two thirds of the time; it finds the same on a page of another width."""


def violations(page: Page, without: Sequence[str] = ()) -> list[str]:
    """Every breach that the engine is sure of: ``rule: part of the page: what is wrong``; empty where there is none.

    `without`: rules left out, for a page that was checked for them already in another width.
    """
    return _told(page, "violations", without)


def unclear(page: Page) -> list[str]:
    """What the engine leaves to the eye, worded like `violations`."""
    return _told(page, "incomplete", ())


@cache
def _engine() -> str:
    return (resources.files("axe_playwright_python") / "axe.min.js").read_text("utf-8")


def _told(page: Page, key: str, without: Sequence[str]) -> list[str]:
    # Through the browser's own control, so that a page which forbids scripts is checked as it stands.
    page.evaluate(_engine())
    result: dict[str, Any] = page.evaluate(RUN, [list(TAGS), list(without)])
    return [_words(rule, node) for rule in result[key] for node in rule["nodes"]]


def _words(rule: dict[str, Any], node: dict[str, Any]) -> str:
    summary = " ".join(str(node.get("failureSummary") or rule["help"]).split())
    return f"{rule['id']}: {node['html'][:160]}: {summary}"
