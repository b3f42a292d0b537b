"""The images of a study made ready: records read, reads merged, lines put back, places and processor found.

The files stay as they are; what was done to their bytes, and why, is noted.  Decided on purpose: a file of records
without an end record is read, with a note; stated addresses that contradict the records are refused; bytes on which
the reads of a chip disagree with no rule to tell are unknown to the program, and not guessed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, UnknownName
from latchlore.study import _imagewords as words
from latchlore.study._notation import INFER
from latchlore.study._study import ImageNote, ImagePart

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from latchlore.program import CpuReport, MergedReads, RomFile
    from latchlore.study._layout import ImageTable
    from latchlore.study._study import StudyFile

    Read = Callable[[str, Origin], StudyFile | None]
    At = Callable[..., Origin]

MEMORY_END = 1 << 16  # the processors read so far have 16 address lines
MOST_WEAK = 24  # weak bits that a note lists


@dataclass(frozen=True, slots=True)
class Content:
    """The bytes of one row: stretches (address, bytes), by rising address; of a raw file one, at 0.

    `unknown`: offsets into the first stretch.
    """

    file: StudyFile
    kind: str
    stretches: tuple[tuple[int, bytes], ...]
    unknown: tuple[int, ...] = ()

    @property
    def size(self) -> int:
        """How many bytes it holds."""
        return sum(len(data) for _, data in self.stretches)


class ImageReader:
    """Reads the rows of ``[[image]]``; collects mistakes and notes and goes on.

    `read` gives a file of the study or None where it is not there; `at` gives a key's place in study.toml.
    """

    def __init__(self, read: Read, at: At) -> None:
        self.read, self.at = read, at
        self.mistakes: list[tuple[Origin, str]] = []
        self.notes: list[ImageNote] = []

    def images(self, rows: Sequence[ImageTable], cpu: str) -> tuple[str, tuple[ImagePart, ...], bool]:
        """The processor (found where `cpu` is ``infer``, empty where that failed), the images, and whether all
        of them were placed.
        """
        contents = [self.content(row, i) for i, row in enumerate(rows)]
        named = self.processor([content for content in contents if content is not None]) if cpu == INFER else cpu
        found: list[ImagePart] = []
        for i, (row, content) in enumerate(zip(rows, contents, strict=True)):
            if content is None:
                continue
            for part in self.placed(row, i, content, named):
                if self.fits(part, row, i):
                    self.check_overlap(part, found)
                    found.append(part)
        return named, tuple(found), len({part.origin for part in found}) == len(rows)

    # --- bytes

    def content(self, row: ImageTable, i: int) -> Content | None:
        """The bytes of one row, merged and repaired; None where it has mistakes."""
        before = len(self.mistakes)
        named = [(row.file, self.at("image", i, "file"))] if row.file is not None else []
        named += [(name, self.at("image", i, "reads", k)) for k, name in enumerate(row.reads)]
        files = [self.read(name, place) for name, place in named]
        roms = [self.rom(file, row, i, place) for file, (_, place) in zip(files, named, strict=True) if file]
        if len(self.mistakes) > before or None in files or None in roms:
            return None
        first = files[0]
        assert first is not None
        known = [rom for rom in roms if rom is not None]
        content = self.merged(row, i, [file for file in files if file is not None], known) if row.reads else None
        if content is None and not row.reads:
            content = Content(first, known[0].kind, tuple((one.address, one.data) for one in known[0].stretches))
        return None if content is None else self.repaired(row, i, content)

    def rom(self, file: StudyFile, row: ImageTable, i: int, place: Origin) -> RomFile | None:
        """One file, read by its kind and as long as it must be."""
        from latchlore.program import parse_rom

        if not file.raw:
            self.mistakes.append((place, words.empty(file.file)))
            return None
        try:
            rom = parse_rom(file.raw, file.file, row.format)
        except BadInput as error:
            self.mistakes += error.mistakes
            return None
        if row.size is not None and rom.size != row.size:
            self.mistakes.append((self.at("image", i, "size"), words.wrong_size(file.file, rom.size, row.size)))
            return None
        self.notes += [ImageNote(words.end_of(file.file), "", note, Origin(file.file)) for note in rom.notes]
        return rom

    def merged(self, row: ImageTable, i: int, files: Sequence[StudyFile], roms: Sequence[RomFile]) -> Content | None:
        """Several reads of one chip as one image, with a note of how and why."""
        from latchlore.program import Rule, merge_reads

        first = roms[0]
        places = [[(one.address, len(one.data)) for one in rom.stretches] for rom in roms]
        for k, (rom, place) in enumerate(zip(roms, places, strict=True)):
            if place != places[0]:
                sentence = words.other_read(rom.file, _extent(rom), first.file, _extent(first))
                self.mistakes.append((self.at("image", i, "reads", k), sentence))
        if any(place != places[0] for place in places):
            return None
        if len(places[0]) > 1:
            self.mistakes.append((self.at("image", i, "reads"), words.reads_with_gaps(first.file)))
            return None
        stated = None if row.merge in (None, "automatic") else Rule(row.merge)
        merged = merge_reads([rom.stretches[0].data for rom in roms], first.file, stated)
        self.note_reads(i, row, merged, stated is not None)
        dropped = {index for index, _ in merged.dropped}
        kept = next(file for k, file in enumerate(files) if k not in dropped)
        unknown = tuple(sorted({bit.offset for bit in merged.open_bits}))
        return Content(kept, first.kind, ((first.stretches[0].address, merged.image),), unknown)

    def note_reads(self, i: int, row: ImageTable, merged: MergedReads, is_stated: bool) -> None:
        """What was done to the reads, which were dropped, which bits are weak."""
        name = row.reads[0]
        dropped = [words.dropped(row.reads[index], why) for index, why in merged.dropped]
        weak = [str(bit) for bit in merged.weak[:MOST_WEAK]]
        why = words.merged_why(merged.why, dropped, weak, len(merged.weak), len({b.offset for b in merged.open_bits}))
        rule = words.merged_rule(merged.rule.value, len(row.reads), len(merged.dropped))
        subject = words.reads_of(name)
        self.notes.append(ImageNote(subject, rule, why, self.at("image", i), is_stated))
        if merged.open_bits:
            self.notes.append(ImageNote(words.open_bytes(name), "", why, self.at("image", i)))

    def repaired(self, row: ImageTable, i: int, content: Content) -> Content | None:
        """The bytes with the stated lines put back."""
        if not row.repair:
            return content
        from latchlore.program import Wiring

        place = self.at("image", i, "repair")
        (address, data), *more = content.stretches
        if more:
            self.mistakes.append((place, words.repair_with_gaps(content.file.file)))
            return None
        lines = len(data).bit_length() - 1 if len(data) & (len(data) - 1) == 0 else 0
        try:
            wiring = Wiring.parse(row.repair, lines, place)
        except BadInput as error:
            self.mistakes += error.mistakes
            return None
        if lines:
            image = wiring.undo(data)
            back = {int(there): here for here, there in enumerate(wiring.places())}
        else:  # no address line can be named, so that only the data lines are put back
            image = wiring.data_table()[list(data)].tobytes()
            back = {here: here for here in range(len(data))}
        why = words.repair_why(content.file.file, row.repair_from or "")
        self.notes.append(ImageNote(words.lines_of(content.file.file), str(wiring), why, place, True))
        unknown = tuple(sorted(back[offset] for offset in content.unknown))
        return replace(content, stretches=((address, image),), unknown=unknown)

    # --- processor and place

    def processor(self, contents: Sequence[Content]) -> str:
        """Whose code the images are; empty, with a note, where that stays open."""
        from latchlore.program import infer_cpu

        place = self.at("program", "cpu")
        reports: list[CpuReport] = [infer_cpu(_flat(content), content.file.file) for content in contents]
        named = sorted({report.cpu for report in reports if report.cpu is not None})
        reasons = [str(report) for report in reports] or [words.NO_IMAGE]
        if len(named) == 1:
            self.notes.append(ImageNote(words.CPU, named[0], "; ".join(_one_line(reasons)), place))
            return named[0]
        if len(named) > 1:
            reasons.insert(0, words.several_cpus(named))
        self.notes.append(ImageNote(words.CPU, "", "; ".join(_one_line(reasons)), place))
        return ""

    def placed(self, row: ImageTable, i: int, content: Content, cpu: str) -> list[ImagePart]:
        """The images of one row at their addresses; none, with a note or a mistake, where the place is not known."""
        first = content.stretches[0][0]
        has_addresses = content.kind != "raw"
        place = self.at("image", i, "load")
        shift, skip = 0, 0
        if row.load is None:
            if not has_addresses:
                self.mistakes.append((self.at("image", i), words.no_load(content.file.file)))
                return []
        elif row.load == INFER:
            if has_addresses:
                self.mistakes.append((place, words.load_is_recorded(content.file.file, content.kind, first)))
                return []
            found = self.inferred(content, cpu, place)
            if found is None:
                return []
            shift, skip = found
        elif has_addresses and first not in (0, row.load):
            sentence = words.load_differs(content.file.file, content.kind, first, row.load)
            self.mistakes.append((place, sentence))
            return []
        else:
            shift = row.load - first
        parts = []
        for k, (address, data) in enumerate(content.stretches):
            load = address + shift
            unknown = [load + offset - skip for offset in content.unknown if offset >= skip] if k == 0 else []
            stretches = tuple(_runs(unknown))
            where = (row.window or "", row.bank or "", row.writable, stretches)
            parts.append(ImagePart(content.file, load, data[skip:], self.at("image", i), *where))
        return parts

    def inferred(self, content: Content, cpu: str, place: Origin) -> tuple[int, int] | None:
        """Load address and bytes of a header to skip; None, with a note, where nothing is decided."""
        from latchlore.program import infer_load

        subject = words.place_of(content.file.file)
        if not cpu:
            self.notes.append(ImageNote(subject, "", words.NO_CPU_NO_PLACE, place))
            return None
        try:
            report = infer_load(_flat(content), cpu, content.file.file)
        except (UnknownName, BadInput) as error:
            self.mistakes.append((place, words.cannot_infer(content.file.file, str(error))))
            return None
        best = report.places[0]
        reasons = [str(one) for one in report.places[:3]]
        if not report.is_decided:
            self.notes.append(ImageNote(subject, "", words.place_open(reasons), place))
            return None
        self.notes.append(ImageNote(subject, words.loads_at(best.load, best.skip), "; ".join(reasons), place))
        return best.load, best.skip

    # --- checks

    def fits(self, part: ImagePart, row: ImageTable, i: int) -> bool:
        """Whether it lies in the memory."""
        if part.last < MEMORY_END:
            return True
        place = self.at("image", i, "load" if row.load is not None else "file")
        self.mistakes.append((place, words.past_the_end(part.file.file, len(part.data), part.last)))
        return False

    def check_overlap(self, image: ImagePart, before: Sequence[ImagePart]) -> None:
        """Note where the image lies over one that can be there at the same time."""
        for other in before:
            first, last = max(image.load, other.load), min(image.last, other.last)
            if image.window and image.window == other.window and image.bank != other.bank:
                continue
            if first <= last:
                sentence = words.overlap(image.file.file, other.file.file, first, last, str(other.origin))
                self.mistakes.append((image.origin, sentence))


def _extent(rom: RomFile) -> tuple[int, int]:
    """How many bytes, from which address on."""
    return rom.size, rom.stretches[0].address


def _flat(content: Content) -> bytes:
    first = content.stretches[0][0]
    last = content.stretches[-1][0] + len(content.stretches[-1][1])
    data = bytearray(b"\xff") * min(last - first, MEMORY_END)
    for address, stretch in content.stretches:
        data[address - first : address - first + len(stretch)] = stretch
    return bytes(data[:MEMORY_END])


def _one_line(texts: Sequence[str]) -> list[str]:
    return ["; ".join(line.strip() for line in text.split("\n")) for text in texts]


def _runs(addresses: Sequence[int]) -> list[tuple[int, int]]:
    """Neighbouring addresses as stretches."""
    found: list[tuple[int, int]] = []
    for address in addresses:
        if found and found[-1][1] == address - 1:
            found[-1] = (found[-1][0], address)
        else:
            found.append((address, address))
    return found
