"""Other cards that a net file states: the words of a ``card`` statement."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import AddressSet
from latchlore.board._board import Card

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import Origin
    from latchlore.board._board import Cycle

_WAYS = {"read": ("read",), "write": ("write",), "both": ("read", "write")}


class CardMistake(Exception):
    """One mistake of one statement; collected by the reader, never shown as it is."""


def read_card(words: Sequence[str], before: Sequence[Card], cycles: Sequence[Cycle], origin: Origin) -> Card:
    """The card of ``NAME SPACE read|write|both ADDRESS... [drives LINE...]``; addresses as in `read_addresses`."""
    lower = [word.lower() for word in words]
    drives: tuple[str, ...] = ()
    if "drives" in lower[3:]:
        at = lower.index("drives", 3)
        words, drives = words[:at], tuple(lower[at + 1 :])
        if not drives or at == 3:
            raise CardMistake("a card has an address, and behind `drives` the host's lines that it drives")
    name, space, way = (word.lower() for word in words[:3])
    had = next((card for card in before if card.name == name), None)
    if had is not None:
        raise CardMistake(f"card {name!r} is stated here and at {had.origin}")
    if way not in _WAYS:
        raise CardMistake(f"a card answers read, write or both, not {words[2]!r}")
    widths = {cycle.width for cycle in cycles if cycle.space == space}
    if not widths:
        known = " or ".join(sorted({cycle.space for cycle in cycles})) or "none; state the host first"
        raise CardMistake(f"a card's space is one of the host's, {known}, not {words[1]!r}")
    if len(widths) > 1:
        raise CardMistake(f"the {space} accesses have different numbers of address lines; a card cannot be stated")
    addresses = AddressSet.of((), next(iter(widths)))
    for word in words[3:]:
        addresses |= read_addresses(word.lower(), addresses.width)
    return Card(name, space, _WAYS[way], addresses, origin, drives)


def read_addresses(word: str, width: int) -> AddressSet:
    """A hexadecimal address, a range of two such as b0-b7, or a pattern of 0, 1 and x with one digit a line."""
    if "x" in word:
        if len(word) != width or set(word) - set("01x"):
            raise CardMistake(f"a pattern has {width} digits 0, 1 or x here, not {word!r}")
        care = int(word.replace("0", "1").replace("x", "0"), 2)
        return AddressSet.of_cubes([(care, int(word.replace("x", "0"), 2))], width)
    ends = word.split("-")
    if len(ends) > 2 or any(not end or set(end) - set("0123456789abcdef") for end in ends):
        raise CardMistake(f"an address is hexadecimal, a range such as b0-b7, or a pattern with x, not {word!r}")
    first, end, last = int(ends[0], 16), int(ends[-1], 16), (1 << width) - 1
    if not first <= end <= last:
        raise CardMistake(f"addresses run from 0 to {last:X}, lowest first, not {word!r}")
    return AddressSet.of_range(first, end, width)
