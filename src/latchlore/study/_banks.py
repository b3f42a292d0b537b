"""Which images are there at an entry: what is always there, the stated bank of each window, and the unknown rest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.study import _imagewords as words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.program import Image
    from latchlore.study._study import EntryPart, ImagePart, ProgramPart


@dataclass(frozen=True, slots=True)
class Memory:
    """What the processor sees at one entry.

    `images`: those that are there, and for each window of unknown bank one of unknown bytes.  `assumptions`: what is
    taken for granted about the windows.  `not_done`: what nobody knows, in words.  `is_known`: whether the entry's
    own bytes are.
    """

    images: tuple[Image, ...]
    assumptions: tuple[str, ...]
    not_done: tuple[str, ...]
    is_known: bool


def memory_at(program: ProgramPart, entry: EntryPart) -> Memory:
    """The images at an entry, in the order of study.toml, unknown windows last."""
    banks = dict(entry.banks)
    chosen = [part for part in program.images if not part.window or banks.get(part.window) == part.bank]
    images = [as_image(part) for part in chosen]
    is_known = any(part.load <= entry.address <= part.last for part in chosen)
    assumptions, not_done = [], []
    for window, named in program.windows.items():
        if window in banks:
            assumptions.append(words.bank_assumed(window, banks[window]))
            continue
        stretches = [part for parts in named.values() for part in parts]
        images += _unknown(stretches)
        assumptions.append(words.window_unknown(window))
        if not is_known and any(part.load <= entry.address <= part.last for part in stretches):
            not_done.append(words.entry_in_unknown_bank(entry.name, entry.address, window, list(named)))
        else:
            not_done.append(words.bank_unknown(entry.name, window, list(named)))
    if not is_known and not not_done:
        not_done.append(words.entry_unplaced(entry.name, entry.address))
    return Memory(tuple(images), tuple(assumptions), tuple(not_done), is_known)


def images_seen(program: ProgramPart) -> tuple[Image, ...]:
    """The images that are there at some entry, or that nobody rules out; all where there is no entry."""
    named = [dict(entry.banks) for entry in program.entries] or [{}]
    seen = [part for part in program.images if any(banks.get(part.window, part.bank) == part.bank for banks in named)]
    return tuple(as_image(part) for part in seen or program.images)


def as_image(part: ImagePart) -> Image:
    """An image as the engines take it."""
    from latchlore.program import Image

    return Image.from_bytes(part.data, part.load, part.file.file, writable=part.is_writable, unknown=part.unknown)


def _unknown(parts: Sequence[ImagePart]) -> list[Image]:
    """Images of unknown bytes that cover the banks of a window."""
    from latchlore.program import Image

    found: list[tuple[int, int, str]] = []
    for part in sorted(parts, key=lambda one: (one.load, one.last)):
        if found and part.load <= found[-1][1] + 1:
            first, last, file = found[-1]
            found[-1] = (first, max(last, part.last), file)
        else:
            found.append((part.load, part.last, part.file.file))
    return [
        Image.from_bytes(bytes(last - first + 1), first, file, unknown=((first, last),)) for first, last, file in found
    ]
