"""Sentences of the board wing."""

from __future__ import annotations

DECODED = "all addresses evaluated through the traced nets"
FOLLOWED = "the way of the bit followed through the parts: {way}"
CONNECTOR = "connector table of the net file"
COUNTED = "numbered signals of the connector counted that one register drives"
STRAPPED = "the strap's position as stated in the net file"
NO_WAY = "no way from the bit leads anywhere"

AS_SEEN_FROM_DEVICE = {"in": "out", "out": "in", "both": "both", "ground": "ground", "power": "supply", "none": "none"}
"""A connector pin's direction turned to the device's side, which documents speak from."""


def way_words(way: tuple[object, ...]) -> str:
    """The pins of a way, data side first."""
    return " - ".join(str(at) for at in way) or NO_WAY


STRAP_LEVEL = "the level of the strap's net in its stated position, through its rail or its pull"


def strap_when(joined: tuple[int, ...] | None) -> str:
    """Under which position a strap's level holds."""
    return f"with the strap {strap_words(joined)}, as stated"


def strap_words(joined: tuple[int, ...] | None) -> str:
    """A strap's position."""
    if joined is None:
        return "position not known"
    if not joined:
        return "open"
    return "joined" if joined == (1, 2) else f"{joined[0]}-{joined[1]}"
