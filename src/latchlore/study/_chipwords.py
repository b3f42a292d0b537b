"""The sentences about a ROM's lines on a board."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


def no_such_chip(chip: str, pins: int, size: int, known: Sequence[int]) -> str:
    """A chip whose lines are not known."""
    sizes = " and ".join(str(one) for one in known)
    return (
        f"the pins of a ROM are known for chips of {sizes} pins and a power of two of bytes that they can address; "
        f"{chip!r} has {pins} pins and {size} bytes"
    )


def not_reached(line: str, chip: str, pin: int, letter: str, reached: Sequence[int]) -> str:
    """A line that leads nowhere, or to several places."""
    where = " and ".join(f"{letter.lower()}{one}" for one in sorted(reached)) or "none"
    return (
        f"{line} of {chip} (pin {pin}) must lead to one line of the host, through buffers at most; it leads to {where}"
    )


def lines_meet(chip: str, letter: str, first: int, second: int, line: int) -> str:
    """Two lines of a chip at one of the host."""
    return f"{letter}{first} and {letter}{second} of {chip} both lead to {letter.lower()}{line}"
