"""The sentences of hearing the witnesses."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import Leaf

NO_DEVICES = "the program was not followed: no address belongs to a device; give the board, or [devices] in study.toml"


def unread(files: Sequence[str]) -> str:
    """Files that no rule of the study picks up."""
    return f"not read, because no rule of the study picks them up: {', '.join(files)}"


def following(entry: str) -> str:
    """Work in hand."""
    return f"following the program from {entry!r}"


def merging(sequence: str) -> str:
    """Work in hand."""
    return f"merging the runs of {sequence!r}"


def leaf(entry: str, one: Leaf) -> str:
    """A place where the program was not followed further."""
    return f"from {entry!r} the program {one.kind.value} at {one.address:04X}: {one.reason}"


def emission_method(entry: str, pattern: Sequence[frozenset[int]]) -> str:
    """How it was found out whether a code is sent."""
    return f"every path from {entry!r} followed, looking for {pattern_text(pattern)} in what is written to the data register"


def pattern_text(pattern: Sequence[frozenset[int]]) -> str:
    """A byte pattern in words: hex for a single byte, ``any`` or a count for several."""
    parts = []
    for wanted in pattern:
        if len(wanted) == 1:
            parts.append(f"{min(wanted):02X}")
        elif len(wanted) == 256:
            parts.append("any")
        else:
            parts.append(f"{min(wanted):02X}..{max(wanted):02X}" if _is_run(wanted) else f"one of {len(wanted)}")
    return " ".join(parts)


def _is_run(wanted: frozenset[int]) -> bool:
    return max(wanted) - min(wanted) + 1 == len(wanted)


def no_document(stem: str) -> str:
    """A look-for row that names a document that is not there."""
    return f"there is no document {stem!r} in documents/"
