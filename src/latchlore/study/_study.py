"""A study as it was read: every part with its origin, nothing concluded yet."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from latchlore.base import Origin

if TYPE_CHECKING:
    from pathlib import Path

    from latchlore.base import AddressSet, Clock, InputBit, Span
    from latchlore.study._captures import StatedCapture, StatedLines
    from latchlore.study._notation import BitPlace
    from latchlore.study._withdrawn import Withdrawn


@dataclass(frozen=True, slots=True)
class StudyFile:
    """A file of the study as it was when it was read; `file` is the path from the study's folder."""

    file: str
    raw: bytes = field(repr=False)

    @property
    def text(self) -> str:
        """The content as UTF-8 text (checked on reading for the kinds that are text), line ends as they are."""
        return self.raw.decode("utf-8")

    @property
    def stem(self) -> str:
        """The name without folder and last ending: ``quill-a`` for ``documents/quill-a.toml``."""
        return self.file.rpartition("/")[2].rpartition(".")[0]

    @property
    def origin(self) -> Origin:
        """The file as a whole."""
        return Origin(self.file)


@dataclass(frozen=True, slots=True)
class ImagePart:
    """Bytes of the program's memory, the first at address `load`.

    `data`: what the processor sees, which differs from the file's own bytes where the file holds records, or was
    merged from several reads, or was repaired.  `window` and `bank`: of the images of one window those of one bank
    are there at a time; both empty for what is always there.  `unknown`: stretches (first, last address) on which
    the reads of the chip disagree.
    """

    file: StudyFile
    load: int
    data: bytes = field(repr=False)
    origin: Origin
    window: str = ""
    bank: str = ""
    is_writable: bool = False
    unknown: tuple[tuple[int, int], ...] = ()

    @property
    def last(self) -> int:
        """The address of the last byte."""
        return self.load + len(self.data) - 1

    @property
    def is_as_filed(self) -> bool:
        """Whether the file's bytes are the memory's, one by one from `load` on."""
        return self.data == self.file.raw


@dataclass(frozen=True, slots=True)
class ImageNote:
    """Something concluded while the images were read: where one lies, whose code it is, how reads were merged.

    `subject` is a few words, `words` the conclusion (empty: it stays open), `why` what it rests on.
    """

    subject: str
    words: str
    why: str
    origin: Origin
    is_stated: bool = False


@dataclass(frozen=True, slots=True)
class Held:
    """A bit stated to be the same at every read."""

    bit: InputBit
    origin: Origin


@dataclass(frozen=True, slots=True)
class Given:
    """What is known at an entry: memory from `address` on, or a register or flag `name` (high byte first)."""

    name: str
    address: int | None
    data: bytes
    origin: Origin


@dataclass(frozen=True, slots=True)
class EntryPart:
    """A place where the program is entered; `sequence` names the logs of what it sends, empty where none are.

    `banks`: (window, bank that is there); a window that it does not name shows nobody knows which bank.
    """

    name: str
    address: int
    sequence: str
    held: tuple[Held, ...]
    given: tuple[Given, ...]
    origin: Origin
    banks: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class ProgramPart:
    """The program; `ram` are ranges (first, last) that read back what was written; `held` holds for every entry.

    `cpu`: empty where it was to be found and could not be.  `notes`: what was concluded while the images were read.
    `interrupts`: where routines begin that may interrupt the program anywhere.
    """

    cpu: str
    clock: Clock | None
    ram: tuple[tuple[int, int], ...]
    held: tuple[Held, ...]
    images: tuple[ImagePart, ...]
    entries: tuple[EntryPart, ...]
    origin: Origin
    notes: tuple[ImageNote, ...] = ()
    interrupts: tuple[int, ...] = ()

    @property
    def windows(self) -> dict[str, dict[str, tuple[ImagePart, ...]]]:
        """Window → bank → its images, in the order of study.toml."""
        found: dict[str, dict[str, tuple[ImagePart, ...]]] = {}
        for image in self.images:
            if image.window:
                banks = found.setdefault(image.window, {})
                banks[image.bank] = (*banks.get(image.bank, ()), image)
        return found

    def held_at(self, entry: EntryPart) -> tuple[Held, ...]:
        """Bits held at this entry: those of the program, then those of the entry."""
        return (*self.held, *entry.held)


@dataclass(frozen=True, slots=True)
class DevicePart:
    """Addresses stated to be a device's; None where none of that space are stated."""

    memory: AddressSet | None
    ports: AddressSet | None
    origins: tuple[Origin, ...]


@dataclass(frozen=True, slots=True)
class RolePart:
    """What a signal is for, and, where it is stated, the register bit that shows it (`inverted`: its opposite)."""

    role: str
    signal: str
    place: BitPlace | None
    inverted: bool
    origin: Origin


@dataclass(frozen=True, slots=True)
class ListenerTimes:
    """The figures of a listener (docs/listener.md), as stated with its log."""

    latency: Span
    service: Span
    jitter: Span
    reads: Span
    depth: int
    shortest: Span


@dataclass(frozen=True, slots=True)
class LogPart:
    """A byte log; `base` is ``hex`` or ``decimal``, `runs` ``line``, ``block``, ``file`` or ``bus``.

    Both are empty where not stated.
    """

    file: StudyFile
    sequence: str
    base: str
    runs: str
    listener: str
    origin: Origin
    listener_times: ListenerTimes | None = None


@dataclass(frozen=True, slots=True)
class CapturePart:
    """A capture: where it lies, what it holds and what its lines are, as stated.

    `serial` empty: a parallel handshake of `lines`; else the serial line's name, with `framing`, `bit_time` and `idle`
    as they were written, empty where not stated.
    """

    path: Path
    file: str
    sequence: str
    stated: StatedCapture
    lines: StatedLines
    serial: str
    framing: str
    bit_time: str
    idle: str
    origin: Origin


@dataclass(frozen=True, slots=True)
class LookFor:
    """Something whose emission is asked: a byte pattern, or a command of a document; `entry` empty for all."""

    name: str
    pattern: tuple[frozenset[int], ...] | None
    document: str
    command: str
    entry: str
    origin: Origin


@dataclass(frozen=True, slots=True)
class QuestionPart:
    """An open question in the researcher's words."""

    text: str
    about: tuple[str, ...]
    origin: Origin


@dataclass(frozen=True, slots=True)
class SwitchPart:
    """How a switch of which documents speak was found set on the machine."""

    name: str
    value: str
    origin: Origin


@dataclass(frozen=True, slots=True)
class Study:
    """A study folder, read and checked.

    `nets`, `readings`, `matings` and `documents` are by file name, `logs` by sequence and file name, everything else
    in the order of study.toml.  `unread` names the files that no rule picks up.  `date`: year, month and day as far
    as it is stated.  `withdrawn`: single statements that do not count; images hold them as bytes that nobody knows
    already, all else is left to the hearing.
    """

    folder: Path
    title: str
    about: str
    is_invented: bool
    nets: tuple[StudyFile, ...]
    program: ProgramPart | None
    devices: DevicePart
    roles: tuple[RolePart, ...]
    logs: tuple[LogPart, ...]
    documents: tuple[StudyFile, ...]
    look_for: tuple[LookFor, ...]
    questions: tuple[QuestionPart, ...]
    unread: tuple[str, ...]
    matings: tuple[StudyFile, ...] = ()
    captures: tuple[CapturePart, ...] = ()
    readings: tuple[StudyFile, ...] = ()
    authors: tuple[str, ...] = ()
    date: str = ""
    withdrawn: tuple[Withdrawn, ...] = ()
    switches: tuple[SwitchPart, ...] = ()

    def logs_by_sequence(self) -> dict[str, tuple[LogPart, ...]]:
        """The logs of each sequence, sequences in alphabetical order."""
        found: dict[str, list[LogPart]] = {}
        for log in self.logs:
            found.setdefault(log.sequence, []).append(log)
        return {name: tuple(found[name]) for name in sorted(found)}
