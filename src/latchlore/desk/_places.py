"""The page of a cited place: its address, and the place that an address asks for."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import urlencode

from latchlore.base import Origin, Place

if TYPE_CHECKING:
    from collections.abc import Mapping


def origin_address(origin: Origin) -> str:
    """The page of a cited place, relative to any page of the desk."""
    place = {"file": origin.file, "as": origin.place.value, "at": str(origin.number), "detail": origin.detail}
    return "place?" + urlencode(place, errors="surrogateescape")


def file_address(file: str) -> str:
    """The page of a text file's beginning."""
    return origin_address(Origin.at_line(file, 1))


def drawing_address(origin: Origin) -> str:
    """Where a moment of a capture is drawn."""
    return "wire-capture?" + urlencode({"file": origin.file, "at": str(origin.number)}, errors="surrogateescape")


def asked_origin(asked: Mapping[str, str]) -> Origin | None:
    """The place that an address asks for; None where it names none."""
    try:
        return Origin(asked["file"], Place(asked["as"]), int(asked["at"]), asked.get("detail", ""))
    except (KeyError, ValueError):
        return None
