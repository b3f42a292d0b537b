"""A listing: every byte of the images as code, text, data, within reach of an indexed read, a filling, or unexplained.

What is code comes from the code map.  Of the rest, a byte counts as the first of these that fits: text (a run of
letters), data (read at a known address, or a vector of the processor), a filling (one byte over and over), within reach
(an indexed read may come there); what is left is not explained, and is shown.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from latchlore.program import _findwords as wording
from latchlore.program._cpu import get_cpu
from latchlore.program._loadfacts import LANDMARKS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from latchlore.program._codemap import CodeMap, Instruction
    from latchlore.program._drivers import Drivers
    from latchlore.program._image import Image

MIN_TEXT = 6
"""A shorter run of printable bytes is no text: random bytes hold many of five."""

MIN_LETTERS = 0.6
MIN_FILL = 16


class PartKind(StrEnum):
    """What a part of an image is; the order is that of the shares."""

    CODE = "code"
    TEXT = "text"
    DATA = "data read at a known address"
    REACH = "within reach of an indexed read"
    FILL = "one byte repeated"
    UNKNOWN = "not known: a bank nobody named, or bytes on which reads disagree"
    REST = "not explained"


@dataclass(frozen=True, slots=True)
class Part:
    """One line or block of the listing: bytes from `address` on, all of one kind.

    `instruction`: for code.  `text`: for text, what it says (bit 7 left out).  `called_from`,
    `jumped_from`, `read_by`: addresses of instructions, rising.  `notes`: touches of registers named, and whatever
    else belongs to the line, in words.
    """

    kind: PartKind
    address: int
    data: bytes
    instruction: Instruction | None = None
    text: str = ""
    entry: str = ""
    called_from: tuple[int, ...] = ()
    jumped_from: tuple[int, ...] = ()
    read_by: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def last(self) -> int:
        """The address of its last byte."""
        return self.address + len(self.data) - 1


@dataclass(frozen=True, slots=True)
class Listing:
    """Parts of every image by rising address.  `shares`: kind → bytes; their sum is the size of the images.

    An instruction that begins inside of another one stands behind it, with a note; its bytes count once.
    """

    code: CodeMap
    images: tuple[tuple[Image, tuple[Part, ...]], ...]
    shares: Mapping[PartKind, int]

    @property
    def size(self) -> int:
        """Bytes of all images."""
        return sum(self.shares.values())

    def only(self, ranges: Sequence[tuple[int, int]]) -> Listing:
        """The parts that reach into ranges (first, last); the shares stay those of the whole."""
        kept = tuple(
            (
                image,
                tuple(one for one in parts if any(one.address <= last and first <= one.last for first, last in ranges)),
            )
            for image, parts in self.images
        )
        return replace(self, images=kept)

    @property
    def undocumented(self) -> tuple[Instruction, ...]:
        """Reached opcodes that the maker's table leaves blank."""
        return tuple(one for one in self.code.instructions.values() if not one.is_documented)


def make_listing(code: CodeMap, drivers: Drivers) -> Listing:
    """Sort every byte of the images."""
    touched = _touch_words(drivers)
    reads, reach = _reads(code)
    shares = dict.fromkeys(PartKind, 0)
    images = []
    for image in code.images:
        parts = tuple(_Sorter(code, image, touched, reads, reach).parts())
        covered = -1
        for part in parts:
            shares[part.kind] += max(0, part.last - max(covered, part.address - 1))
            covered = max(covered, part.last)
        images.append((image, parts))
    return Listing(code, tuple(images), shares)


def _touch_words(drivers: Drivers) -> dict[int, list[str]]:
    """Instruction → its touches of registers in words."""
    found: dict[int, list[str]] = {}
    for driver in drivers.found:
        for touch in driver.touches:
            words = wording.touch_words(touch, driver.register)
            notes = found.setdefault(touch.instruction.address, [])
            if words not in notes:
                notes.append(words)
    return found


def _reads(code: CodeMap) -> tuple[dict[int, set[int]], dict[int, set[int]]]:
    """Address → instructions that read it for sure; and those that may read it by an index."""
    sure: dict[int, set[int]] = {}
    may: dict[int, set[int]] = {}
    for one in code.instructions.values():
        for access in one.accesses:
            if access.kind != "rd" or access.addresses is None or one.is_on_stack:
                continue
            into = sure if len(access.addresses) == 1 else may
            for address in access.addresses:
                into.setdefault(address, set()).add(one.address)
    return sure, may


class _Sorter:
    """Sorts the bytes of one image."""

    def __init__(
        self,
        code: CodeMap,
        image: Image,
        touched: Mapping[int, list[str]],
        reads: Mapping[int, set[int]],
        reach: Mapping[int, set[int]],
    ) -> None:
        self.code, self.image, self.touched, self.reads, self.reach = code, image, touched, reads, reach
        self.vectors = LANDMARKS[code.cpu].vectors if code.cpu in LANDMARKS else {}
        self.mine = [one for at, one in code.instructions.items() if at in image]
        self.kinds = self.sort()

    def sort(self) -> list[PartKind]:
        """The kind of each byte."""
        size, load = len(self.image.data), self.image.load
        kinds = [PartKind.REST] * size
        for address in self.reach:
            if address in self.image:
                kinds[address - load] = PartKind.REACH
        for first, last in _fills(self.image.data):
            kinds[first : last + 1] = [PartKind.FILL] * (last + 1 - first)
        for address in (*self.reads, *(cell for vector in self.vectors for cell in (vector, vector + 1))):
            if address in self.image:
                kinds[address - load] = PartKind.DATA
        covered = [False] * size
        for one in self.mine:
            for k in range(one.address - load, min(one.end - load, size)):
                covered[k] = True
        for first, last in _texts(self.image.data, covered):
            kinds[first : last + 1] = [PartKind.TEXT] * (last + 1 - first)
        for first, last in self.image.unknown:
            kinds[first - load : last - load + 1] = [PartKind.UNKNOWN] * (last + 1 - first)
        return [PartKind.CODE if code else kind for code, kind in zip(covered, kinds, strict=True)]

    def parts(self) -> Iterator[Part]:
        """Everything in order."""
        load = self.image.load
        starts = {one.address for one in self.mine}
        at = load
        covered = load
        while at <= self.image.last:
            if at in starts:
                yield self.code_part(self.code.instructions[at], overlaps=at < covered)
                covered = max(covered, self.code.instructions[at].end)
                at += 1
                continue
            if at < covered:
                at += 1
                continue
            kind = self.kinds[at - load]
            end = at + 1
            while end <= self.image.last and self.kinds[end - load] is kind and not self.is_border(kind, end):
                end += 1
            yield self.data_part(kind, at, end)
            at = end

    def is_border(self, kind: PartKind, at: int) -> bool:
        """Whether a part of this kind ends in front of an address: other instructions read it, or a text ended."""
        if kind is PartKind.DATA:
            return at in self.vectors or self.reads.get(at) != self.reads.get(at - 1)
        if kind is PartKind.REACH:
            return self.reach[at] != self.reach[at - 1]
        before, here = (self.image.data[k - self.image.load] >= 0x80 for k in (at - 1, at))
        return kind is PartKind.TEXT and before and not here

    def code_part(self, one: Instruction, *, overlaps: bool) -> Part:
        """A line of code."""
        notes = list(self.touched.get(one.address, ()))
        notes += [spot.reason for spot in self.code.not_followed if spot.address == one.address]
        if overlaps:
            notes.append(wording.OVERLAPS)
        if one.address in self.code.takes_inline:
            notes.append(wording.TAKES_INLINE)
        return Part(
            PartKind.CODE,
            one.address,
            one.data,
            one,
            entry=self.code.entries.get(one.address, ""),
            called_from=self.code.called_from.get(one.address, ()),
            jumped_from=self.code.jumped_from.get(one.address, ()),
            read_by=tuple(sorted(self.reads.get(one.address, ()))),
            notes=tuple(dict.fromkeys(notes)),
        )

    def data_part(self, kind: PartKind, at: int, end: int) -> Part:
        """A block that is no code."""
        data = self.image.data[at - self.image.load : end - self.image.load]
        text = bytes(byte & 0x7F for byte in data).decode("ascii") if kind is PartKind.TEXT else ""
        readers = {one for k in range(at, end) for one in (*self.reads.get(k, ()), *self.reach.get(k, ()))}
        jumped = {site for k in range(at, end) for site in self.code.jumped_from.get(k, ())}
        called = {site for k in range(at, end) for site in self.code.called_from.get(k, ())}
        return Part(
            kind,
            at,
            data,
            text=text,
            called_from=tuple(sorted(called)),
            jumped_from=tuple(sorted(jumped)),
            read_by=tuple(sorted(readers)),
            notes=(self.vector_words(at, data),) if at in self.vectors and len(data) == 2 else (),
        )

    def vector_words(self, at: int, data: bytes) -> str:
        """Which vector, and where it leads."""
        high_first = get_cpu(self.code.cpu).is_high_first
        return wording.vector(self.vectors[at], int.from_bytes(data, "big" if high_first else "little"))


def _texts(data: bytes, covered: list[bool]) -> Iterator[tuple[int, int]]:
    """Runs of letters outside of the code: plain with bit 7 at most on the last one, or with bit 7 on all of them."""
    at = 0
    while at < len(data):
        end = _run_end(data, covered, at, 0x00)
        if end - at >= MIN_TEXT - 1 and end < len(data) and not covered[end] and 0xA1 <= data[end] < 0xFF:
            end += 1  # a last letter marked by bit 7
        end = max(end, _run_end(data, covered, at, 0x80))
        letters = sum(1 for byte in data[at:end] if chr(byte & 0x7F).isalpha() or byte & 0x7F == 0x20)
        size = end - at
        if size >= MIN_TEXT and letters >= MIN_LETTERS * size and len(set(data[at:end])) > 2:
            yield at, end - 1
        at = max(end, at + 1)


def _run_end(data: bytes, covered: list[bool], at: int, marked: int) -> int:
    """Where a run of printable bytes ends; `marked` is added to each."""
    end = at
    while end < len(data) and not covered[end] and 0x20 + marked <= data[end] < 0x7F + marked:
        end += 1
    return end


def _fills(data: bytes) -> Iterator[tuple[int, int]]:
    """Stretches of one byte over and over."""
    at = 0
    while at < len(data):
        end = at + 1
        while end < len(data) and data[end] == data[at]:
            end += 1
        if end - at >= MIN_FILL:
            yield at, end - 1
        at = end
