"""A drawing under construction: shapes with classes, laid down as one SVG element."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


class Drawing:
    """An SVG picture of `width` user units whose height grows with what is drawn.

    Colours and fonts come from classes in the page's style sheet, so that light, dark and print each have theirs.
    All coordinates are whole numbers or tenths; all text is escaped.
    """

    def __init__(self, width: int, name: str) -> None:
        self.width = width
        self._name = name
        self._height = 0.0
        self._has_links = False
        self._parts: list[str] = []

    def box(self, x: float, y: float, w: float, h: float, classes: str, title: str = "") -> None:
        """A rectangle; `title` is shown when it is pointed at."""
        inner = f"<title>{escape(title)}</title></rect>" if title else "</rect>"
        self._parts.append(f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(w)}" height="{_n(h)}" class="{classes}">{inner}')
        self._grow(y + h)

    def line(self, x1: float, y1: float, x2: float, y2: float, classes: str) -> None:
        """A straight line."""
        self._parts.append(f'<line x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}" class="{classes}"/>')
        self._grow(max(y1, y2))

    def path(self, points: Sequence[tuple[float, float]], classes: str) -> None:
        """A line through points."""
        steps = " ".join(f"{'L' if i else 'M'}{_n(x)} {_n(y)}" for i, (x, y) in enumerate(points))
        self._parts.append(f'<path d="{steps}" class="{classes}"/>')
        self._grow(max(y for _, y in points))

    def dot(self, x: float, y: float, radius: float, classes: str) -> None:
        """A circle."""
        self._parts.append(f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}" class="{classes}"/>')
        self._grow(y + radius)

    def text(self, x: float, y: float, words: str, classes: str = "", anchor: str = "start") -> None:
        """Words whose baseline is at y."""
        named = f' class="{classes}"' if classes else ""
        placed = f' text-anchor="{anchor}"' if anchor != "start" else ""
        self._parts.append(f'<text x="{_n(x)}" y="{_n(y)}"{named}{placed}>{escape(words)}</text>')
        self._grow(y + 4)

    def use(self, x: float, y: float, shape: str, size: float = 16) -> None:
        """One of the page's shapes, by its id."""
        self._parts.append(f'<use href="#{shape}" x="{_n(x)}" y="{_n(y)}" width="{_n(size)}" height="{_n(size)}"/>')
        self._grow(y + size)

    def open_link(self, href: str, *, by_tab: bool = True) -> None:
        """What follows, up to `close_link`, leads to `href`.  `by_tab` false: the keyboard has another way there."""
        self._has_links = True
        skipped = "" if by_tab else ' tabindex="-1"'
        self._parts.append(f'<a href="{escape(href)}"{skipped}>')

    def close_link(self) -> None:
        """End what `open_link` began."""
        self._parts.append("</a>")

    def open_group(self, classes: str, anchor: str = "", name: str = "") -> None:
        """What follows, up to `close_group`, belongs together; `anchor` can be linked to, `name` says what it is."""
        placed = f' id="{escape(anchor)}"' if anchor else ""
        told = f"<title>{escape(name)}</title>" if name else ""
        self._parts.append(f'<g class="{classes}"{placed}>{told}')

    def close_group(self) -> None:
        """End what `open_group` began."""
        self._parts.append("</g>")

    def _grow(self, y: float) -> None:
        self._height = max(self._height, y)

    def __str__(self) -> str:
        size = f'viewBox="0 0 {self.width} {_n(self._height + 4)}" width="{self.width}"'
        label = escape(self._name)
        role = "group" if self._has_links else "img"  # an image may hold nothing that can be chosen
        return f'<svg {size} class="picture" role="{role}" aria-label="{label}">{"".join(self._parts)}</svg>'


def _n(value: float) -> str:
    """Tenths at most, so that the same picture is the same bytes everywhere."""
    rounded = round(value, 1)
    return str(int(rounded)) if rounded == int(rounded) else str(rounded)


def fold(text: str, letters: int, max_lines: int) -> list[str]:
    """Words broken into at most `max_lines` lines of about `letters`; an ellipsis where something is left out."""
    import textwrap

    lines = textwrap.wrap(text, letters) or [""]
    if len(lines) <= max_lines:
        return lines
    kept = lines[:max_lines]
    kept[-1] = kept[-1][: letters - 1] + "…"
    return kept
