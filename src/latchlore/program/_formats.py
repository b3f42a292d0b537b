"""ROM files read into stretches of bytes: raw, Intel HEX, Motorola S-records.

Records are unpacked by the `bincopy` library, line by line, so that every mistake of a file has its line.  Decided
on purpose: a bad checksum, a truncated or overlong record, a line that is no record, and an address given twice are
refused, even where the bytes agree; a missing end record is read, with a note; lower case and blank lines are read.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from latchlore.base import BadInput, Origin
from latchlore.program import _formatswords as words

FileKind = Literal["raw", "Intel HEX", "S-records"]
_HEX = frozenset("0123456789abcdefABCDEF")


@dataclass(frozen=True, slots=True)
class Stretch:
    """Bytes at consecutive addresses; `address` as the file states it, 0 in a raw file."""

    address: int
    data: bytes

    @property
    def last(self) -> int:
        """The address of the last byte."""
        return self.address + len(self.data) - 1


@dataclass(frozen=True, slots=True)
class RomFile:
    """What a ROM file holds: stretches by rising address, never touching or overlapping.

    `entry`: the start address where the file states one.  `header`: the text of an S0 record.  `notes`: what the
    reader should know, in words, such as a missing end record.
    """

    file: str
    kind: FileKind
    stretches: tuple[Stretch, ...]
    entry: int | None = None
    header: str = ""
    notes: tuple[str, ...] = ()

    @property
    def size(self) -> int:
        """How many bytes it holds."""
        return sum(len(stretch.data) for stretch in self.stretches)

    def filled(self, fill: int = 0xFF) -> Stretch:
        """One stretch from the first to the last byte, gaps filled."""
        first = self.stretches[0].address
        data = bytearray([fill]) * (self.stretches[-1].last - first + 1)
        for stretch in self.stretches:
            data[stretch.address - first : stretch.last + 1 - first] = stretch.data
        return Stretch(first, bytes(data))

    def __str__(self) -> str:
        parts = [
            f"{stretch.address:04X}-{stretch.last:04X} ({len(stretch.data):,} bytes)" for stretch in self.stretches
        ]
        text = f"{self.file}: {self.kind}, {', '.join(parts) if self.kind != 'raw' else f'{self.size:,} bytes'}"
        if self.entry is not None:
            text += f"; start {self.entry:04X}"
        return "\n".join([text, *(f"{self.file}: {note}" for note in self.notes)])


def guess_kind(raw: bytes) -> FileKind:
    """The kind of a file by its first characters: records only where a whole record could stand there."""
    head = raw.lstrip(b"\r\n\t ")[:11]
    text = head.decode("ascii", "replace")
    if text[:1] == ":" and len(text) == 11 and set(text[1:]) <= _HEX:
        return "Intel HEX"
    if text[:1] in ("S", "s") and len(text) >= 10 and text[1:2].isdigit() and set(text[2:10]) <= _HEX:
        return "S-records"
    return "raw"


def parse_rom(raw: bytes, file: str, kind: FileKind | None = None) -> RomFile:
    """Read a ROM file; `kind` None looks at its first characters.  Refuses an empty file and, all at once with their
    lines, the mistakes named at the head of this module.
    """
    if not raw:
        raise BadInput(Origin(file), "the file is empty")
    kind = kind or guess_kind(raw)
    if kind == "raw":
        return RomFile(file, "raw", (Stretch(0, bytes(raw)),))
    return _Records(file, kind).read(raw)


class _Records:
    """One file of records while it is read."""

    def __init__(self, file: str, kind: FileKind) -> None:
        self.file, self.kind = file, kind
        self.mistakes: list[tuple[Origin, str]] = []
        self.given: dict[int, tuple[int, int]] = {}  # address → byte, line
        self.base = 0  # what Intel HEX adds to the address of a data record
        self.is_segment = False
        self.entry: int | None = None
        self.header = ""
        self.end_line = 0
        self.records = 0

    def read(self, raw: bytes) -> RomFile:
        for number, line in enumerate(raw.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n"), 1):
            text = line.decode("ascii", "replace").strip(" \t\x1a\x00")
            if text:
                words_ = self._take(number, text)
                if words_:
                    self.mistakes.append((Origin.at_line(self.file, number), words_))
        if not self.given and not self.mistakes:
            self.mistakes.append((Origin.at_line(self.file, 1), words.NO_DATA))
        if self.mistakes:
            raise BadInput.of_all(self.mistakes)
        missing = words.NO_END_INTEL if self.kind == "Intel HEX" else words.NO_END_MOTOROLA
        notes = () if self.end_line else (missing,)
        return RomFile(self.file, self.kind, self._stretches(), self.entry, self.header, notes)

    def _take(self, number: int, text: str) -> str:
        """Read one record; words of the mistake, or nothing."""
        import bincopy

        is_intel = self.kind == "Intel HEX"
        text = text.upper()
        wrong = _check_frame(text, is_intel=is_intel)
        if wrong:
            return wrong
        if self.end_line:
            return words.behind_end(self.end_line)
        try:
            mark, address, _, data = bincopy.unpack_ihex(text) if is_intel else bincopy.unpack_srec(text)
        except (bincopy.Error, ValueError) as error:
            return words.reader_refused(str(error))
        return self._intel(number, mark, address, data) if is_intel else self._motorola(number, mark, address, data)

    def _intel(self, number: int, mark: int, address: int, data: bytes) -> str:
        wanted = {1: 0, 2: 2, 3: 4, 4: 2, 5: 4}.get(mark)
        if wanted is not None and len(data) != wanted:
            return words.wrong_payload(f"{mark:02X}", len(data), wanted)
        value = int.from_bytes(data, "big")
        match mark:
            case 0:
                return self._data(number, address, data)
            case 1:
                self.end_line = number
            case 2:
                self.base, self.is_segment = value << 4, True
            case 3:
                self.entry = (value >> 16 << 4) + (value & 0xFFFF)
            case 4:
                self.base, self.is_segment = value << 16, False
            case 5:
                self.entry = value
            case _:
                return words.unknown_type(self.kind, f"{mark:02X}")
        return ""

    def _motorola(self, number: int, mark: str, address: int, data: bytes) -> str:
        match mark:
            case "0":
                self.header = data.rstrip(b"\x00").decode("ascii", "backslashreplace")
            case "1" | "2" | "3":
                self.records += 1
                return self._data(number, address, data)
            case "5" | "6":
                return words.wrong_count(address, self.records) if address != self.records else ""
            case _:
                self.end_line = number
                self.entry = address or None  # most writers put 0 where they know no start address
        return ""

    def _data(self, number: int, address: int, data: bytes) -> str:
        # A segment of 64 KB wraps within itself, as the standard asks for.
        places = [
            self.base + ((address + index) & 0xFFFF if self.is_segment else address + index)
            for index in range(len(data))
        ]
        clash = next((place for place in places if place in self.given), None)
        if clash is not None:
            return words.again(clash, self.given[clash][1])
        self.given.update((place, (byte, number)) for place, byte in zip(places, data, strict=True))
        return ""

    def _stretches(self) -> tuple[Stretch, ...]:
        found: list[tuple[int, bytearray]] = []
        for address in sorted(self.given):
            if not found or address != found[-1][0] + len(found[-1][1]):
                found.append((address, bytearray()))
            found[-1][1].append(self.given[address][0])
        return tuple(Stretch(address, bytes(data)) for address, data in found)


def _check_frame(text: str, *, is_intel: bool) -> str:
    """What is wrong with a record's frame, in the order in which a reader would notice it."""
    head = 1 if is_intel else 2
    if text[0] != (":" if is_intel else "S"):
        return words.not_a_record("Intel HEX" if is_intel else "S-records", text)
    if "\ufffd" in text:
        return words.NOT_ASCII
    if not is_intel and (len(text) < 2 or text[1] not in "012356789"):
        return words.unknown_type("S-records", text[:2])
    digits = text[head:]
    if not digits or len(digits) % 2 or set(digits) - _HEX:
        return words.broken_digits(text)
    values = bytes.fromhex(digits)
    stated = values[0] + (4 if is_intel else 0)
    if len(values) - 1 != stated or stated < (4 if is_intel else 3):
        return words.wrong_length(stated, len(values) - 1)
    total = sum(values[:-1])
    wanted = -total & 0xFF if is_intel else ~total & 0xFF
    return words.wrong_sum(values[-1], wanted) if values[-1] != wanted else ""
