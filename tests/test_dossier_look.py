"""The look: enough contrast in light, dark and print, marks for all witnesses and standings, nothing from elsewhere."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from latchlore.base import Witness
from latchlore.dossier import look_file
from latchlore.evidence import Standing

TEXT = (
    ("ink", "paper"),
    ("ink", "sheet"),
    ("ink", "fill"),
    ("ink", "mute-wash"),
    ("soft", "paper"),
    ("soft", "sheet"),
    ("soft", "fill"),
    ("soft", "mute-wash"),
    ("soft", "lone-wash"),
    ("link", "paper"),
    ("link", "sheet"),
    ("link", "fill"),
    ("good", "good-wash"),
    ("bad", "bad-wash"),
    ("lone", "lone-wash"),
    ("mute", "mute-wash"),
    ("bad", "paper"),
)
DRAWN = (("bar", "mute-wash"), ("bar-two", "mute-wash"), ("bar", "fill"), ("bad", "sheet"), ("lone", "lone-wash"))


def _colours() -> dict[str, dict[str, str]]:
    """The named colours of each scheme; dark and print override light."""
    blocks = re.findall(r":root \{([^}]*)\}", look_file("look.css"))
    assert len(blocks) == 3
    light, dark, printed = (dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{3,6});", block)) for block in blocks)
    assert set(light) == set(dark) == set(printed)
    return {"light": light, "dark": dark, "print": printed}


def _luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition of that name)."""
    digits = colour[1:] if len(colour) == 7 else "".join(digit * 2 for digit in colour[1:])
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one: str, two: str) -> float:
    """Contrast ratio (WCAG 2.2, definition of that name)."""
    bright, dark = sorted((_luminance(one), _luminance(two)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def test_contrast_of_known_pairs() -> None:
    """Black on white is 21 to 1, and #767676 on white just passes 4.5 to 1 (the ends of the scale in WCAG 2.2)."""
    assert _contrast("#000", "#ffffff") == pytest.approx(21)
    assert 4.5 <= _contrast("#767676", "#fff") < 4.6
    assert _contrast("#777777", "#fff") < 4.5


@pytest.mark.parametrize("scheme", ["light", "dark", "print"])
def test_contrast(scheme: str) -> None:
    """Text has 4.5 to 1 (WCAG 2.2, 1.4.3), what is drawn 3 to 1 (1.4.11), on every ground that it stands on."""
    colours = _colours()[scheme]
    wrong = {
        (front, ground): round(_contrast(colours[front], colours[ground]), 2)
        for pairs, least in ((TEXT, 4.5), (DRAWN, 3.0))
        for front, ground in pairs
        if _contrast(colours[front], colours[ground]) < least
    }
    assert wrong == {}


def test_marks() -> None:
    """Every witness and every standing has a mark of its own, and no two marks are drawn alike."""
    symbols = list(ET.fromstring(look_file("shapes.svg")).iter("symbol"))
    wanted = {f"w-{witness.value}" for witness in Witness} | {f"s-{standing.value}" for standing in Standing}
    assert {symbol.get("id") for symbol in symbols} == wanted
    drawn = [b"".join(ET.tostring(part) for part in symbol) for symbol in symbols]
    assert len(set(drawn)) == len(wanted)


def test_look_fetches_nothing() -> None:
    """The style sheet names no file and no address, and the marks none but the page's own."""
    assert not re.search(r"url\(|@import|https?:", look_file("look.css"))
    assert not re.search(r"url\(|https?:|<script|<image", look_file("shapes.svg"))
