"""How the lines of a chip reached the dump: which line carries which, and which are inverted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from latchlore.program import _repairwords as words

if TYPE_CHECKING:
    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]  # one byte an element

MAX_LINES = 24


def num_lines(size: int) -> int:
    """How many address lines an image of `size` bytes has.  Refuses a size that is not a power of two."""
    if size < 1 or size & (size - 1):
        raise ValueError(f"a scrambled image has a power of two of bytes, not {size}")
    return size.bit_length() - 1


@dataclass(frozen=True, slots=True)
class Wiring:
    """How to get the image back from the dump.

    Line i of the image's address is carried by line ``address[i]`` of the dump's address, the other way up where
    bit i of `address_inverted` is 1.  Bit i of an image byte is bit ``data[i]`` of the dump's byte, the other way
    up where bit i of `data_inverted` is 1.  Both tuples are permutations; refuses anything else.
    """

    address: tuple[int, ...]
    address_inverted: int = 0
    data: tuple[int, ...] = (0, 1, 2, 3, 4, 5, 6, 7)
    data_inverted: int = 0

    def __post_init__(self) -> None:
        for what, lines, width in (("address", self.address, len(self.address)), ("data", self.data, 8)):
            if sorted(lines) != list(range(width)):
                raise ValueError(f"{what} lines are {width} different numbers from 0, not {lines!r}")
        if len(self.address) > MAX_LINES:
            raise ValueError(f"an image has at most {MAX_LINES} address lines, not {len(self.address)}")
        if self.address_inverted >> len(self.address) or self.data_inverted >> 8:
            raise ValueError("an inverted line must be one of the lines")

    @classmethod
    def straight(cls, lines: int) -> Wiring:
        """Every line in its place."""
        return cls(tuple(range(lines)))

    @property
    def is_straight(self) -> bool:
        """Whether the dump is the image."""
        return self == Wiring.straight(len(self.address))

    def undo(self, dump: bytes) -> bytes:
        """The image behind a dump.  Refuses a dump of another size."""
        if len(dump) != 1 << len(self.address):
            raise ValueError(f"this wiring is for {1 << len(self.address)} bytes, not {len(dump)}")
        return self.data_table()[np.frombuffer(dump, np.uint8)[self.places()]].tobytes()

    def apply(self, image: bytes) -> bytes:
        """The dump that a chip holding `image` gives through this wiring; `undo` takes it back."""
        if len(image) != 1 << len(self.address):
            raise ValueError(f"this wiring is for {1 << len(self.address)} bytes, not {len(image)}")
        dump = np.zeros(len(image), np.uint8)
        back = np.argsort(self.data_table(), kind="stable").astype(np.uint8)
        dump[self.places()] = back[np.frombuffer(image, np.uint8)]
        return dump.tobytes()

    def places(self) -> npt.NDArray[np.int64]:
        """For every address of the image, the address of the dump at which its byte stands."""
        here = np.arange(1 << len(self.address), dtype=np.int64) ^ self.address_inverted
        there = np.zeros_like(here)
        for line, source in enumerate(self.address):
            there |= (here >> line & 1) << source
        return there

    def data_table(self) -> Bytes:
        """For every byte of the dump, the byte of the image."""
        values = np.arange(256, dtype=np.int64)
        table = np.zeros(256, np.int64)
        for line, source in enumerate(self.data):
            table |= (values >> source & 1) << line
        return (table ^ self.data_inverted).astype(np.uint8)

    def __str__(self) -> str:
        """``A6 inverted``; ``D0 and D3 swapped``; ``A2 is read at A5, A5 at A7, A7 at A2``; or that all is well."""
        parts = [*words.moved_lines("A", self.address), *words.inverted_lines("A", self.address_inverted)]
        parts += [*words.moved_lines("D", self.data), *words.inverted_lines("D", self.data_inverted)]
        return "; ".join(parts) or words.STRAIGHT
