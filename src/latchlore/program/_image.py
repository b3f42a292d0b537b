"""A stretch of program bytes with the address at which the processor sees them."""

from __future__ import annotations

from dataclasses import dataclass

from latchlore.base import BadInput, Origin

SPACE = 0x10000


@dataclass(frozen=True, slots=True)
class Image:
    """Bytes seen by the processor from `load` on; `file` is where they come from.

    `writable`: RAM that was loaded; otherwise writes to its addresses have no effect.  `unknown`: stretches (first,
    last address) of which it is known that something lies there, and not what: a bank that nobody names, bytes on
    which the reads of a chip disagree.  Their `data` is not looked at.
    """

    data: bytes
    load: int
    file: str
    writable: bool = False
    unknown: tuple[tuple[int, int], ...] = ()

    @classmethod
    def from_bytes(
        cls, data: bytes, load: int, file: str, *, writable: bool = False, unknown: tuple[tuple[int, int], ...] = ()
    ) -> Image:
        """An image of raw bytes.  Refuses an empty one, one that does not fit into the address space, and unknown
        stretches outside of it.
        """
        place = Origin(file)
        if not 0 <= load < SPACE:
            raise BadInput(place, f"a load address lies within 0000 and FFFF, not {load!r}")
        if not data:
            raise BadInput(place, "an image holds at least one byte; the file is empty")
        if load + len(data) > SPACE:
            raise BadInput(
                place, f"{len(data)} bytes from {load:04X} on reach past FFFF; at most {SPACE - load} fit there"
            )
        for first, last in unknown:
            if not load <= first <= last < load + len(data):
                raise BadInput(place, f"an unknown stretch lies in its image, not at {first:04X} to {last:04X}")
        return cls(bytes(data), load, file, writable, tuple(unknown))

    @property
    def last(self) -> int:
        """The address of the last byte."""
        return self.load + len(self.data) - 1

    def __contains__(self, address: object) -> bool:
        return isinstance(address, int) and self.load <= address <= self.last

    def origin(self, address: int, detail: str = "") -> Origin:
        """The place of one of its bytes."""
        return Origin.at_address(self.file, address, detail)


def check_overlaps(images: tuple[Image, ...]) -> None:
    """Refuse images of which two claim one address with different bytes."""
    ordered = sorted(images, key=lambda image: (image.load, image.last, image.file))
    for k, first in enumerate(ordered):
        for second in ordered[k + 1 :]:
            if second.load > first.last:
                break
            size = min(first.last, second.last) + 1 - second.load
            start = second.load - first.load
            if first.data[start : start + size] != second.data[:size]:
                raise BadInput(
                    Origin(second.file),
                    f"its bytes from {second.load:04X} on differ from those of {first.file} at the same addresses",
                )
