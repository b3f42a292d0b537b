"""Reading a study folder: its files by place, study.toml by its rules, and what must agree between them."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from latchlore.base import AddressSet, BadInput, Clock, InputBit, InputKind, Origin, check_toml, read_toml
from latchlore.study import _imagewords as imagewords
from latchlore.study._paths import FINDINGS, HISTORY, NOTES, QUESTIONS, WITHDRAWN, StudyFolder, read_text
from latchlore.study._study import (
    DevicePart,
    EntryPart,
    Given,
    Held,
    ListenerTimes,
    LogPart,
    LookFor,
    ProgramPart,
    QuestionPart,
    RolePart,
    Study,
    StudyFile,
    SwitchPart,
)
from latchlore.study._withdrawn import read_withdrawn, unread_images
from latchlore.study.starter import FILES

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from latchlore.base import TomlText
    from latchlore.study._layout import EntryTable, ProgramTable, StudyTable
    from latchlore.study._study import CapturePart, ImagePart

    PartT = TypeVar("PartT")

STUDY_FILE = "study.toml"
FIGURES = ("latency", "service", "jitter", "reads", "depth", "shortest")
"""Of a listener, in study.toml and in `ListenerTimes`."""


def load_study(folder: Path) -> Study:
    """Read and check a study folder; nothing is written.

    Refuses (`BadInput`) with every mistake found in its files, in the order of the files' names and lines.  What the
    net files, logs and device tables say is left to the readers of their wings.
    """
    reader = _Reader(StudyFolder(folder))
    study = reader.read()
    if reader.mistakes:
        raise BadInput.of_all(sorted(set(reader.mistakes), key=lambda pair: (pair[0].file, pair[0].number, pair[1])))
    return study


class _Reader:
    """One reading of one folder; collects mistakes and goes on."""

    def __init__(self, folder: StudyFolder) -> None:
        self.folder = folder
        self.mistakes: list[tuple[Origin, str]] = []
        self.withdrawn = self.attempt(lambda: read_withdrawn(folder)) or ()
        own = {STUDY_FILE, FINDINGS, HISTORY, NOTES, QUESTIONS, WITHDRAWN, *FILES}  # our words: no evidence
        self.used: set[str] = own

    def attempt(self, action: Callable[[], PartT]) -> PartT | None:
        """What the action gives, or None with its mistakes kept."""
        try:
            return action()
        except BadInput as error:
            self.mistakes += error.mistakes
            return None

    def read(self) -> Study:
        """The study as far as it could be read."""
        toml, table = self.read_table()
        nets = self.read_texts("board", ".nets", "net file") + self.read_texts("board", ".v", "Verilog file")
        readings = self.read_texts("board", ".readings", "readings file")
        if readings and not nets:
            words = "readings are taken against the parts of a net file; write one: board/NAME.nets (docs/net-file.md)"
            self.mistakes.append((readings[0].origin, words))
        matings = self.read_texts("mating", ".nets", "net file")
        documents = self.read_texts("documents", ".toml", "device table")
        logs = self.read_logs(toml, table)
        captures = self.read_captures(toml, table)
        program = self.read_program(toml, table)
        everything = self.attempt(lambda: sorted(self.folder.iter_all())) or []
        if toml is None and not (nets or matings or documents or logs or self.mistakes):
            words = "is empty" if not everything else "holds nothing that a study is made of"
            more = (
                "a study holds at least one byte log (*.log), net file (board/*.nets), Verilog file (board/*.v),"
                " device table (documents/*.toml)"
            )
            self.mistakes.append((Origin(self.folder.name), f"{words}; {more} or a study.toml"))
        self.check_roles(
            toml,
            table,
            has_board=bool(nets)
            or any(file.startswith("board/") and file.endswith((".nets", ".v")) for file in everything),
        )
        look_for = self.read_look_for(toml, table, program, documents)
        return Study(
            folder=self.folder.root,
            title=table.title or self.folder.name,
            about=table.about,
            is_invented=table.invented,
            nets=nets,
            program=program,
            devices=_devices(toml, table),
            roles=tuple(
                RolePart(row.role, row.signal, row.place, row.inverted, _at(toml, "role", i))
                for i, row in enumerate(table.role)
            ),
            logs=logs,
            documents=documents,
            look_for=look_for,
            questions=tuple(
                QuestionPart(row.text, tuple(row.about), _at(toml, "question", i))
                for i, row in enumerate(table.question)
            ),
            unread=tuple(file for file in everything if file not in self.used),
            matings=matings,
            readings=readings,
            captures=captures,
            authors=tuple(table.authors),
            date=table.date,
            withdrawn=self.withdrawn,
            switches=tuple(
                SwitchPart(name, value, _at(toml, "switches", name)) for name, value in table.switches.items()
            ),
        )

    def read_table(self) -> tuple[TomlText | None, StudyTable]:
        """study.toml, or an empty table where there is none or it is broken."""
        from latchlore.study._layout import StudyTable

        if STUDY_FILE not in self.folder.list_files("", ".toml"):
            return None, StudyTable()
        toml = self.attempt(lambda: read_toml(self.folder.read(STUDY_FILE, "study file").raw, STUDY_FILE))
        table = None if toml is None else self.attempt(lambda: check_toml(StudyTable, toml))
        return (None, StudyTable()) if table is None else (toml, table)

    def read_texts(self, sub: str, ending: str, what: str) -> tuple[StudyFile, ...]:
        """The text files of a folder, by name."""
        names = self.attempt(lambda: self.folder.list_files(sub, ending)) or []
        self.used |= set(names)
        found = (self.attempt(lambda name=name: read_text(self.folder.read(name, what))) for name in names)  # type: ignore[misc]
        return tuple(file for file in found if file is not None)

    def read_logs(self, toml: TomlText | None, table: StudyTable) -> tuple[LogPart, ...]:
        """Logs that are listed, and logs found by their place, by sequence and file."""
        found: list[LogPart] = []
        places: dict[str, Origin] = {}
        for i, row in enumerate(table.log):
            origin = _at(toml, "log", i)
            named_at = _at(toml, "log", i, "file")
            if row.file in places:
                self.mistakes.append((named_at, f"byte log {row.file!r} is listed twice; first at {places[row.file]}"))
                continue
            places[row.file] = named_at
            file = self.attempt(lambda name=row.file, at=named_at: self.read_log(name, at))  # type: ignore[misc]
            if file is not None:
                sequence = row.sequence or _sequence_by_place(row.file)
                parts = (row.base or "", row.runs or "", row.listener or "")
                stated = row.listener_times
                times = None if stated is None else ListenerTimes(**{name: getattr(stated, name) for name in FIGURES})
                found.append(LogPart(file, sequence, *parts, origin, times))
        for name in self.find_logs():
            if name not in places:
                file = self.attempt(lambda name=name: self.read_log(name, None))  # type: ignore[misc]
                if file is not None:
                    found.append(LogPart(file, _sequence_by_place(name), "", "", "", file.origin))
        self.used |= set(places) | {log.file.file for log in found}
        return tuple(sorted(found, key=lambda log: (log.sequence, log.file.file)))

    def read_captures(self, toml: TomlText | None, table: StudyTable) -> tuple[CapturePart, ...]:
        """Captures that are listed; their files may be large and are only looked for here."""
        from latchlore.study._captures import stated_capture

        found: list[CapturePart] = []
        for i, row in enumerate(table.capture):
            named_at = _at(toml, "capture", i, "file")
            path = self.attempt(lambda name=row.file, at=named_at: self.folder.find(name, "capture", at))  # type: ignore[misc]
            self.used.add(row.file)
            if path is not None:
                sequence = row.sequence or _sequence_by_place(row.file)
                found.append(stated_capture(row, path, sequence, _at(toml, "capture", i)))
        return tuple(sorted(found, key=lambda one: (one.sequence, one.file, one.serial)))

    def find_logs(self) -> list[str]:
        """Logs by place: in the study's folder, in wire/, and in the folders of wire/."""
        names: list[str] = []
        for sub in ("", "wire"):
            names += self.attempt(lambda sub=sub: self.folder.list_files(sub, ".log")) or []  # type: ignore[misc]
        for sub in self.attempt(lambda: self.folder.list_folders("wire")) or []:
            names += self.attempt(lambda sub=sub: self.folder.list_files(sub, ".log")) or []  # type: ignore[misc]
        return names

    def read_log(self, name: str, named_at: Origin | None) -> StudyFile:
        """One log.  Refuses an empty one, and text that is not UTF-8."""
        file = read_text(self.folder.read(name, "byte log", named_at))
        if not file.raw.strip():
            raise BadInput(file.origin, "holds no byte; a byte log has at least one")
        return file

    def read_program(self, toml: TomlText | None, table: StudyTable) -> ProgramPart | None:
        """Images and entries with the processor that runs them."""
        from latchlore.study._images import ImageReader

        if not (table.program or table.image or table.entry):
            return None

        def read(name: str, named_at: Origin) -> StudyFile | None:
            self.used.add(name)
            return self.attempt(lambda: self.folder.read(name, "image", named_at))

        reader = ImageReader(read, lambda *path: _at(toml, *path))
        cpu, images, all_placed = reader.images(table.image, table.program.cpu if table.program else "")
        self.mistakes += reader.mistakes
        if table.program is None:
            for kind, rows in (("image", table.image), ("entry", table.entry)):
                if rows:
                    words = f"an [[{kind}]] needs a [program] that names the cpu"
                    self.mistakes.append((_at(toml, kind, 0), words))
            return None
        entries = self.read_entries(toml, table, images, all_placed=all_placed)
        spec: ProgramTable = table.program
        return ProgramPart(
            cpu=cpu,
            clock=None if spec.clock is None else Clock.parse(spec.clock, spec.tolerance_ppm),
            ram=tuple(spec.ram),
            held=_held(toml, spec, "program"),
            images=unread_images(images, self.withdrawn),
            entries=entries,
            origin=_at(toml, "program"),
            notes=tuple(reader.notes),
            interrupts=self.read_interrupts(toml, spec, images, all_placed=all_placed),
        )

    def read_interrupts(
        self, toml: TomlText | None, spec: ProgramTable, images: tuple[ImagePart, ...], *, all_placed: bool
    ) -> tuple[int, ...]:
        """Entries of interrupt routines, each inside an image."""
        for k, address in enumerate(spec.interrupts):
            inside = any(image.load <= address <= image.last for image in images)
            if not inside and all_placed:
                words = imagewords.interrupt_outside(address)
                self.mistakes.append((_at(toml, "program", "interrupts", k), words))
        return tuple(spec.interrupts)

    def read_entries(
        self, toml: TomlText | None, table: StudyTable, images: tuple[ImagePart, ...], *, all_placed: bool
    ) -> tuple[EntryPart, ...]:
        """Entries with a name of their own, each inside an image that may be there."""
        found: list[EntryPart] = []
        self.check_unique(toml, "entry", "name", [row.name for row in table.entry])
        for i, row in enumerate(table.entry):
            banks = self.read_banks(toml, row, i, images) if all_placed else {}
            there = [image for image in images if banks.get(image.window, image.bank) == image.bank]
            if all_placed and not any(image.load <= row.address <= image.last for image in there):
                where = ", ".join(f"{image.load:04X}-{image.last:04X}" for image in there) or "none"
                self.mistakes.append(
                    (_at(toml, "entry", i, "address"), imagewords.entry_nowhere(row.name, row.address, where))
                )
            found.append(
                EntryPart(
                    row.name,
                    row.address,
                    row.sequence or "",
                    _held(toml, row, "entry", i),
                    _given(toml, row, i),
                    _at(toml, "entry", i),
                    tuple(banks.items()),
                )
            )
        return tuple(found)

    def read_banks(
        self, toml: TomlText | None, row: EntryTable, i: int, images: tuple[ImagePart, ...]
    ) -> dict[str, str]:
        """Window → bank that is there, each of which an image names."""
        known: dict[str, list[str]] = {}
        for image in images:
            if image.window and image.bank not in known.setdefault(image.window, []):
                known[image.window].append(image.bank)
        banks: dict[str, str] = {}
        stated: list[tuple[str, str]] = row.banks
        for k, (window, bank) in enumerate(stated):
            place = _at(toml, "entry", i, "banks", k)
            if window not in known:
                self.mistakes.append((place, imagewords.no_window(window, list(known))))
            elif bank not in known[window]:
                self.mistakes.append((place, imagewords.no_bank(window, bank, known[window])))
            elif window in banks:
                self.mistakes.append((place, imagewords.bank_again(window)))
            else:
                banks[window] = bank
        return banks

    def read_look_for(
        self,
        toml: TomlText | None,
        table: StudyTable,
        program: ProgramPart | None,
        documents: tuple[StudyFile, ...],
    ) -> tuple[LookFor, ...]:
        """What to look for, each naming an entry and a document that are there."""
        self.check_unique(toml, "look_for", "name", [row.name for row in table.look_for])
        entries = [entry.name for entry in program.entries] if program else []
        stems = [document.stem for document in documents]
        found = []
        for i, row in enumerate(table.look_for):
            for key, name, known in (("entry", row.entry, entries), ("document", row.document, stems)):
                if name is not None and name not in known:
                    hint = f"; there are {', '.join(map(repr, known))}" if known else "; there is none"
                    self.mistakes.append((_at(toml, "look_for", i, key), f"there is no {key} {name!r}{hint}"))
            names = (row.document or "", row.command or "", row.entry or "")
            found.append(LookFor(row.name, row.code, *names, _at(toml, "look_for", i)))
        return tuple(found)

    def check_roles(self, toml: TomlText | None, table: StudyTable, has_board: bool) -> None:
        """A signal has one role, and without a board the place where the program sees it."""
        self.check_unique(toml, "role", "signal", [row.signal for row in table.role])
        for i, row in enumerate(table.role):
            if row.at is None and not has_board:
                words = f"role {row.role!r} needs `at`, the register bit of {row.signal!r}, since there is no board"
                self.mistakes.append((_at(toml, "role", i), words))

    def check_unique(self, toml: TomlText | None, kind: str, key: str, names: list[str]) -> None:
        """Note each name that stands in two rows."""
        first: dict[str, int] = {}
        for i, name in enumerate(names):
            if first.setdefault(name, i) != i:
                words = f"{kind} {name!r} is there twice; first at {_at(toml, kind, first[name], key)}"
                self.mistakes.append((_at(toml, kind, i, key), words))


def _sequence_by_place(file: str) -> str:
    """``wire/NAME/x.log`` belongs to NAME, any other log to the sequence of its own name."""
    parts = file.split("/")
    if len(parts) == 3 and parts[0] == "wire":
        return parts[1]
    return parts[-1].rpartition(".")[0] or parts[-1]


def _at(toml: TomlText | None, *path: str | int) -> Origin:
    return toml.origin(path) if toml else Origin(STUDY_FILE)


def _held(toml: TomlText | None, spec: ProgramTable | EntryTable, *path: str | int) -> tuple[Held, ...]:
    return tuple(
        Held(InputBit(place.kind, place.address, bit), _at(toml, *path, "held", k))
        for k, place in enumerate(spec.held)
        for bit in place.bits
    )


def _given(toml: TomlText | None, row: EntryTable, i: int) -> tuple[Given, ...]:
    found: list[tuple[str, int | None, bytes]] = row.given
    return tuple(
        Given(name, address, data, _at(toml, "entry", i, "given", k)) for k, (name, address, data) in enumerate(found)
    )


def _devices(toml: TomlText | None, table: StudyTable) -> DevicePart:
    """The stated addresses of each space as one set; port sets of 8 lines do not care for the upper 8."""
    if table.devices is None:
        return DevicePart(None, None, ())
    sets: dict[InputKind, list[AddressSet]] = {InputKind.MEMORY: [], InputKind.PORT: []}
    for kind, addresses in table.devices.addresses:
        sets[kind].append(addresses)
    origins = tuple(_at(toml, "devices", "addresses", k) for k in range(len(table.devices.addresses)))
    return DevicePart(_union(sets[InputKind.MEMORY]), _union(sets[InputKind.PORT]), origins)


def _union(sets: list[AddressSet]) -> AddressSet | None:
    if not sets:
        return None
    width = max(one.width for one in sets)
    return AddressSet.of_cubes((cube for one in sets for cube in one.cubes), width)
