"""Several images in one address space: what is always there, and banks of which one is there at a time."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, UnknownName

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from latchlore.program._image import Image


@dataclass(frozen=True, slots=True)
class Space:
    """An address space.

    `fixed`: images that are always there.  `slots`: slot name → bank name → images; of each slot one bank is there
    at a time (a bank of a switched ROM, an overlay).  Build it with `of`.
    """

    fixed: tuple[Image, ...]
    slots: Mapping[str, Mapping[str, tuple[Image, ...]]]

    @classmethod
    def of(
        cls, fixed: Sequence[Image], slots: Mapping[str, Mapping[str, Sequence[Image]]] = MappingProxyType({})
    ) -> Space:
        """A space from its images.  Refuses, all at once, images that overlap and can be there at the same time, even
        where their bytes agree, and a slot without banks.
        """
        mistakes: list[tuple[Origin, str]] = []
        banks = {
            slot: MappingProxyType({bank: tuple(images) for bank, images in named.items()})
            for slot, named in slots.items()
        }
        groups: list[tuple[str, str, tuple[Image, ...]]] = [("", "", tuple(fixed))]
        groups += [(slot, bank, images) for slot, named in banks.items() for bank, images in named.items()]
        for slot, named in banks.items():
            if not named:
                mistakes.append((Origin(slot), f"slot {slot!r} has no bank"))
        for (slot, bank, images), (other_slot, other_bank, others) in itertools.combinations_with_replacement(
            groups, 2
        ):
            is_same = (slot, bank) == (other_slot, other_bank)
            if slot == other_slot and not is_same:
                continue
            pairs = itertools.combinations(images, 2) if is_same else itertools.product(images, others)
            mistakes += [_overlap(a, b) for a, b in pairs if a.load <= b.last and b.load <= a.last]
        if mistakes:
            raise BadInput.of_all(mistakes)
        return cls(tuple(fixed), MappingProxyType(banks))

    def select(self, banks: Mapping[str, str]) -> tuple[Image, ...]:
        """The images that are there with one bank named for each slot, by address.

        Refuses an unknown slot or bank, and a slot without a choice.
        """
        for slot in banks:
            if slot not in self.slots:
                raise UnknownName(f"there is no slot {slot!r}", sorted(self.slots))
        chosen = list(self.fixed)
        for slot, named in self.slots.items():
            if slot not in banks:
                raise UnknownName(f"slot {slot!r} needs a bank", sorted(named))
            if banks[slot] not in named:
                raise UnknownName(f"slot {slot!r} has no bank {banks[slot]!r}", sorted(named))
            chosen += named[banks[slot]]
        return tuple(sorted(chosen, key=lambda image: (image.load, image.file)))

    def iter_selections(self) -> Iterator[tuple[Mapping[str, str], tuple[Image, ...]]]:
        """Every way to choose banks, with the images that are then there, in the order in which they were given."""
        names = list(self.slots)
        for choice in itertools.product(*(self.slots[slot] for slot in names)):
            banks = dict(zip(names, choice, strict=True))
            yield MappingProxyType(banks), self.select(banks)


def _overlap(one: Image, other: Image) -> tuple[Origin, str]:
    first, last = max(one.load, other.load), min(one.last, other.last)
    words = f"{other.load:04X} to {other.last:04X} overlaps {one.file} at {one.load:04X} to {one.last:04X}"
    return Origin(other.file), f"{words} in {first:04X} to {last:04X}"
