"""Digits and letters that scans and poor print confuse.

Common practice of people who transcribe printed tables; no published counts.
"""

from __future__ import annotations

from itertools import product

GROUPS = ("8B3", "0CDOQ", "1lI7", "5S", "2Z", "6Gb", "9gq", "4A", "EF", "UV", "CG")


def looks_alike(one: str, other: str) -> bool:
    """Whether two characters are often taken for each other; a character is not its own double."""
    return one != other and any(one in group and other in group for group in GROUPS)


def distance(one: str, other: str) -> tuple[int, int] | None:
    """(characters that differ, those of them that do not look alike) for texts of one length; None otherwise."""
    if len(one) != len(other):
        return None
    different = [(a, b) for a, b in zip(one, other, strict=True) if a != b]
    return len(different), sum(not looks_alike(a, b) for a, b in different)


def near_readings(text: str, digits: str) -> tuple[str, ...]:
    """Texts one character away, those by look-alike characters first, then the others; all made of `digits`."""
    alike: list[str] = []
    unlike: list[str] = []
    for place, new in product(range(len(text)), digits):
        if text[place] != new:
            target = alike if looks_alike(text[place], new) else unlike
            target.append(text[:place] + new + text[place + 1 :])
    return (*alike, *unlike)
