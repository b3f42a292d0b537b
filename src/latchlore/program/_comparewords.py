"""The sentences of comparing two versions."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.base import Leaf, Wait

SAME = "the same in everything, cycles too"
OTHER_TIMES = "the same bytes under the same conditions, in other times"
DIFFERENT = "not the same"
OPEN = "no difference where both were followed; the rest cannot be told"
NO_FURTHER = "further differences were not looked for"
SIDES = ("first", "second")


def too_many(states: int) -> str:
    """A search that was given up."""
    return f"the comparison stopped after {states} pairs of places"


def not_followed(which: int, leaf: Leaf) -> str:
    """A path that was not followed."""
    return f"the {SIDES[which]} version was not followed at {leaf.address:04X}: {leaf.reason}"


def too_wide(first: int, second: int) -> str:
    """Bytes that depend on too many bits together."""
    return f"the bytes written at {first:04X} and {second:04X} depend on too many bits to be compared"


def period_of(wait: Wait) -> str:
    """A polling period."""
    return f"period of: {wait}"
