"""A picture as a file of its own: the drawing with the look's colours for light, dark and print."""

from __future__ import annotations

import re

from latchlore.dossier._render import look_file

_SHAPES = (
    ".picture",
    ".cell",
    ".lane",
    ".reach",
    ".axis",
    ".branch",
    ".guide",
    ".sure",
    ".wedge",
    ".event",
    ".level",
    ".time",
    ".limit",
)
_ROOT = re.compile(r":root \{.*?\}", re.DOTALL)
_SIZE = re.compile(r'viewBox="0 0 (\d+) ([\d.]+)" width="\d+"')
MARGIN = 14


def _with_margin(size: re.Match[str]) -> str:
    """The drawing's size with room around it."""
    width, height = int(size[1]) + 2 * MARGIN, float(size[2]) + 2 * MARGIN
    return f'viewBox="{-MARGIN} {-MARGIN} {width} {height:g}" width="{width}"'


def stand_alone(drawing: str) -> str:
    """The drawing as a whole SVG file; the same drawing gives the same bytes."""
    light, dark, paper = _ROOT.findall(look_file("look.css"))
    rules = [line for line in look_file("look.css").splitlines() if line.startswith(_SHAPES)]
    style = "\n".join(
        (
            light,
            f"@media (prefers-color-scheme: dark) {{ {dark} }}",
            f"@media print {{ {paper} }}",
            "svg { background: var(--sheet); }",
            *rules,
        )
    )
    head, _, rest = drawing.partition(">")
    named = _SIZE.sub(_with_margin, head.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{named}><style>\n{style}\n</style>\n{rest}\n'
