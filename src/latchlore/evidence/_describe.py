"""Values in words for people, the same on every face."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from latchlore.base import AddressSet, ByteSequence, Emission, Origin, Place, is_doubtful

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import Value

FEW = 8
"""Up to so many addresses that make no pattern are named one by one."""


def describe_value(value: Value, max_bytes: int | None = None) -> str:
    """What is said, on one line.

    An address set with its number of mirrors; a sequence with its doubtful bytes marked, and cut after `max_bytes`
    bytes with the number left out.  An emission with the bounds that differ in names and numbers alone said once.
    Every other value in its own text.
    """
    if isinstance(value, AddressSet):
        return _describe_addresses(value)
    if isinstance(value, ByteSequence):
        return _describe_sequence(value, max_bytes)
    if isinstance(value, Emission):
        return str(replace(value, bounds=_said_once(value.bounds)))
    return str(value)


def describe_places(origins: Sequence[Origin]) -> tuple[str, ...]:
    """A text for each place, in order; one in the same file as the place before leaves the file's name out."""
    texts = []
    before: Origin | None = None
    for origin in origins:
        near = before is not None and (before.file, before.place) == (origin.file, origin.place)
        texts.append(_near_text(origin) if near else str(origin))
        before = origin
    return tuple(texts)


def _near_text(origin: Origin) -> str:
    own = str(Origin("", origin.place, origin.number, origin.detail)).strip()
    if origin.place is Place.LINE:
        return own
    return own.removeprefix("at ").removeprefix("byte ") or str(origin)


def address_text(address: int, width: int) -> str:
    """An address in as many hexadecimal digits as its `width` lines need."""
    return f"{address:0{(width + 3) // 4}X}"


def _describe_addresses(value: AddressSet) -> str:
    if not value:
        return "no address"
    lowest = address_text(value.lowest, value.width)
    if value.count == 1:
        return lowest
    if len(value.cubes) > 1 and value.count <= FEW:
        return ", ".join(address_text(address, value.width) for address in sorted(value.iter_addresses()))
    mirrors = value.count - 1
    return f"{value} ({lowest} is the lowest of {value.count:,} addresses: {mirrors:,} mirror{'s' * (mirrors > 1)})"


def _describe_sequence(value: ByteSequence, max_bytes: int | None) -> str:
    items = value.items[:max_bytes]
    shown = " ".join(f"{item.value:02X}{'?' if is_doubtful(item.confidence) else ''}" for item in items)
    rest = len(value.items) - len(items)
    more = f" … {rest:,} more" if rest else ""
    runs = f"{value.num_runs} run{'s' * (value.num_runs != 1)}"
    count = f"{len(value.items):,} byte{'s' * (len(value.items) != 1)}"
    return f"{shown}{more} ({count}, {value.confidence:.1%} from {runs})"


_NUMBER = re.compile(r"\b(?:[0-9A-F]{4}|[0-9]+)\b")
_OF_ENTRIES = re.compile(r"(?P<names>[^:]+): (?P<words>.+)")


def _said_once(bounds: Sequence[str]) -> tuple[str, ...]:
    """Sentences such as "reset: every path from F800 ..." with the same words put together where the first one stands.

    Only those that name whom they are about ("reset: ") are touched; no name and no number is lost.
    """
    groups: dict[str, list[str]] = {}
    for bound in bounds:
        named = _OF_ENTRIES.fullmatch(bound)
        groups.setdefault(_NUMBER.sub("#", named["words"]) + ":" if named else bound, []).append(bound)
    return tuple(_put_together(same) if len(same) > 1 else same[0] for same in groups.values())


def _put_together(same: list[str]) -> str:
    found = [named for bound in same if (named := _OF_ENTRIES.fullmatch(bound))]
    if not found:
        return same[0]
    names = _and_words([named["names"] for named in found])
    between = _NUMBER.split(found[0]["words"])
    numbers = zip(*(_NUMBER.findall(named["words"]) for named in found), strict=True)
    texts = [each[0] if len(set(each)) == 1 else _and_words(each) for each in numbers]
    words = between[0] + "".join(text + after for text, after in zip(texts, between[1:], strict=True))
    return f"{names}: {words}"


def _and_words(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} and {words[-1]}"
