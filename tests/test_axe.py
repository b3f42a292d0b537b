"""The accessibility engine finds what it should, so that a page without violations means something."""

from __future__ import annotations

import pytest

from tests.axe import unclear, violations
from tests.browser import browsing

pytestmark = pytest.mark.browser

PAGE = (
    '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Tide</title>'
    "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\"></head>"
    "<body><main><h1>Tide</h1>{}</main></body></html>"
)
# Each breaks one success criterion of WCAG 2.2, named beside it.
BREACHES = {
    "image-alt": '<img src="data:,">',  # 1.1.1 Non-text Content
    "color-contrast": '<p style="color: #aaa; background: #fff">Low tide</p>',  # 1.4.3 Contrast (Minimum): 2.3 to 1
    "label": '<input type="text">',  # 4.1.2 Name, Role, Value
    "link-name": '<a href="#x"></a>',  # 2.4.4 Link Purpose
}


def test_violations() -> None:
    """A page that keeps the rules has no violation, though it forbids scripts."""
    with browsing() as visit:
        visit.page.set_content(PAGE.format('<p style="color: #767676; background: #fff">High tide</p>'))
        assert violations(visit.page) == []
        assert unclear(visit.page) == []


@pytest.mark.parametrize("rule", BREACHES)
def test_violations_wrong(rule: str) -> None:
    """One breach is found, and named by its rule."""
    with browsing() as visit:
        visit.page.set_content(PAGE.format(BREACHES[rule]))
        assert [told.partition(":")[0] for told in violations(visit.page)] == [rule]
