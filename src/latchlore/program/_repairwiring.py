"""How the lines of a chip reached the dump: which line carries which, and which are inverted."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import BadInput, Origin
from latchlore.program import _repairwords as words

if TYPE_CHECKING:
    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]  # one byte an element

MAX_LINES = 24
_LINE = r"([AD])(\d{1,2})"
_INVERTED = re.compile(rf"\s*({_LINE}(?:\s*(?:,|and)\s*{_LINE})*)\s+inverted\s*")
_SWAPPED = re.compile(rf"\s*{_LINE}\s+and\s+{_LINE}\s+swapped\s*")
_MOVED = re.compile(rf"\s*{_LINE}\s+is\s+read\s+at\s+{_LINE}((?:\s*,\s*{_LINE}\s+at\s+{_LINE})*)\s*")
_STEP = re.compile(rf"{_LINE}\s+at\s+{_LINE}")


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

    @classmethod
    def parse(cls, statements: Sequence[str], lines: int, place: Origin | None = None) -> Wiring:
        """A wiring in the words in which one prints itself, for an image of `lines` address lines.

        A statement is ``A6 inverted`` (also several: ``D0 and D1 inverted``), ``A0 and A1 swapped`` or ``D3 is read
        at D4, D4 at D5, D5 at D3``; several may stand in one text with semicolons between them.  Refuses other words,
        a line that the chip does not have, a line stated twice, and lines that two others share.
        """
        reader = _Statements(lines, place or Origin("wiring"))
        for text in statements:
            for part in text.split(";"):
                reader.read(part)
        return reader.wiring()

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


class _Statements:
    """Statements about lines while they are read."""

    def __init__(self, lines: int, place: Origin) -> None:
        self.place = place
        self.sources: dict[str, dict[int, int]] = {"A": {}, "D": {}}
        self.inverted: dict[str, set[int]] = {"A": set(), "D": set()}
        self.count = {"A": lines, "D": 8}

    def refuse(self, sentence: str) -> None:
        raise BadInput(self.place, sentence)

    def line(self, letter: str, number: str) -> int:
        """A line's number.  Refuses one that the chip does not have."""
        if int(number) >= self.count[letter]:
            self.refuse(words.no_such_line(f"{letter}{number}", letter, self.count[letter]))
        return int(number)

    def carry(self, letter: str, line: str, other_letter: str, source: str) -> None:
        """A line of the image is read at another of the dump."""
        at, there = self.line(letter, line), self.line(other_letter, source)
        if letter != other_letter:
            self.refuse(words.mixed_lines(f"{letter}{line}", f"{other_letter}{source}"))
        if at in self.sources[letter]:
            self.refuse(words.line_again(f"{letter}{line}"))
        self.sources[letter][at] = there

    def read(self, text: str) -> None:
        """One statement."""
        if match := _INVERTED.fullmatch(text):
            for letter, number in re.findall(_LINE, match[1]):
                line = self.line(letter, number)
                if line in self.inverted[letter]:
                    self.refuse(words.line_again(f"{letter}{number}"))
                self.inverted[letter].add(line)
        elif match := _SWAPPED.fullmatch(text):
            self.carry(*match.groups())
            self.carry(*match.groups()[2:], *match.groups()[:2])
        elif match := _MOVED.fullmatch(text):
            self.carry(*match.groups()[:4])
            for step in _STEP.findall(match[5]):
                self.carry(*step)
        else:
            self.refuse(words.no_statement(text.strip()))

    def wiring(self) -> Wiring:
        """The wiring that the statements make together; lines that none names are in their place."""
        orders = {}
        for letter, moved in self.sources.items():
            order = [moved.get(line, line) for line in range(self.count[letter])]
            twice = next((line for line in order if order.count(line) > 1), None)
            if twice is not None:
                both = [f"{letter}{line}" for line, source in enumerate(order) if source == twice]
                self.refuse(words.shared_line(both, f"{letter}{twice}"))
            orders[letter] = tuple(order)
        masks = {letter: sum(1 << line for line in lines) for letter, lines in self.inverted.items()}
        return Wiring(orders["A"], masks["A"], orders["D"], masks["D"])
