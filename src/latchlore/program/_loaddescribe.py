"""One look at an image file: what it holds, whether the dump is sound, whose code it is and where it lies."""

from __future__ import annotations

from dataclasses import dataclass

from latchlore.base import BadInput, Origin
from latchlore.program import _loadwords as words
from latchlore.program._formats import FileKind, RomFile, parse_rom
from latchlore.program._glance import Fill, Text, find_fills, find_texts
from latchlore.program._image import Image
from latchlore.program._load import CpuReport, LoadReport, infer_cpu, infer_load
from latchlore.program._repairfaults import Fault, find_faults

SHOWN_TEXTS = 6


@dataclass(frozen=True, slots=True)
class ImageReport:
    """What one file holds and what was concluded.

    `cpu`: stated or decided, else None.  `load`: stated by the user, stated by the records, or decided, else None;
    `skip`: bytes of a header in front.  `fills` and `texts` are at offsets from the first byte.  `cpu_report` and
    `load_report` are None where nothing had to be inferred.
    """

    rom: RomFile
    faults: tuple[Fault, ...]
    cpu: str | None
    load: int | None
    skip: int
    load_source: str
    cpu_report: CpuReport | None
    load_report: LoadReport | None
    fills: tuple[Fill, ...] = ()
    texts: tuple[Text, ...] = ()

    def images(self) -> tuple[Image, ...]:
        """The images as the engines take them, one a stretch.  Refuses a file whose load address is not known."""
        if self.load is None:
            raise BadInput(Origin(self.rom.file), words.NO_LOAD)
        shift = self.load - self.rom.stretches[0].address
        return tuple(
            Image.from_bytes(stretch.data[self.skip :], stretch.address + shift, self.rom.file)
            for stretch in self.rom.stretches
        )

    def __str__(self) -> str:
        lines = [str(self.rom), *(f"{self.rom.file}: {fault}" for fault in self.faults)]
        lines += [f"{self.rom.file}: {fill}" for fill in self.fills]
        lines.append(f"{self.rom.file}: {words.texts(len(self.texts))}")
        longest = sorted(self.texts, key=lambda one: (-len(one.text), one.offset))[:SHOWN_TEXTS]
        lines += [f"  {text}" for text in sorted(longest, key=lambda one: one.offset)]
        if self.cpu_report is not None:
            lines.append(str(self.cpu_report))
        if self.load_report is not None:
            lines.append(str(self.load_report))
        lines.append(words.summary(self.rom.file, self.cpu, self.load, self.load_source))
        return "\n".join(lines)


def describe_image(
    raw: bytes, file: str, *, cpu: str | None = None, load: int | None = None, kind: FileKind | None = None
) -> ImageReport:
    """Read a ROM file and say what can be said of it; what is stated is taken and not inferred.

    A file of records states its addresses.  A raw file's place is inferred for the stated processor, or for the one
    that was found; where neither is decided it stays unknown.  Refuses what `parse_rom` and `infer_load` refuse, and
    an image that does not fit at the stated address.
    """
    rom = parse_rom(raw, file, kind)
    data = rom.filled().data
    cpu_report = None if cpu is not None else infer_cpu(data, file)
    named = cpu if cpu_report is None else cpu_report.cpu
    likely = named or (cpu_report.guesses[0].cpu if cpu_report and cpu_report.why != words.NO_CPU else None)
    load_report, skip, source = None, 0, words.STATED_LOAD
    if load is None and rom.kind != "raw":
        load, source = rom.stretches[0].address, words.RECORDED_LOAD
    elif load is None and likely is not None:
        load_report = infer_load(data, likely, file)
        source = words.INFERRED_LOAD
        if load_report.is_decided:
            load, skip = load_report.places[0].load, load_report.places[0].skip
    if load is not None:
        Image.from_bytes(data[skip:], load, file)  # refuses what does not fit
    glance = (find_fills(data), find_texts(data))
    return ImageReport(rom, find_faults(data), named, load, skip, source, cpu_report, load_report, *glance)
