"""A program to be asked alone: out of a study's folder, or out of image files with everything stated beside them."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from latchlore.base import AddressSet, BadInput, Clock, InputBit, InputKind, Origin, UnknownName, Write, no_progress
from latchlore.study import _askwords as wording
from latchlore.study import _notation
from latchlore.study._banks import images_seen, memory_at
from latchlore.study._cache import Cache
from latchlore.study._study import (
    DevicePart,
    EntryPart,
    Given,
    Held,
    ImageNote,
    ImagePart,
    ProgramPart,
    RolePart,
    Study,
    StudyFile,
)
from latchlore.study._weighing import ADDRESS_LINES, Hearing, _devices_of, _hear_together, _pattern, _tree

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from typing import Any, TypeVar

    from latchlore.base import ByteTree, Progress, SignalRole
    from latchlore.program import CodeMap, Image, NamedRegister, Seen

    ReadT = TypeVar("ReadT")


@dataclass(frozen=True, slots=True)
class Stated:
    """What the command says of image files, as it was typed; each is written as in study.toml (docs/program.md).

    `load`: one for each raw file, in the order of the files.  `entry`: ``ADDRESS`` or ``NAME=ADDRESS``.  `role`: a
    role and its place, such as ``strobe C802 bit 0``.
    """

    cpu: str = ""
    load: tuple[str, ...] = ()
    entry: tuple[str, ...] = ()
    devices: tuple[str, ...] = ()
    held: tuple[str, ...] = ()
    given: tuple[str, ...] = ()
    role: tuple[str, ...] = ()
    clock: str = ""
    tolerance_ppm: int = 0
    interrupt: tuple[str, ...] = ()

    def named(self) -> tuple[str, ...]:
        """The options in use, the entry left out."""
        values = {
            "--cpu": self.cpu,
            "--load": self.load,
            "--devices": self.devices,
            "--held": self.held,
            "--given": self.given,
            "--role": self.role,
            "--clock": self.clock,
            "--tolerance": self.tolerance_ppm,
            "--interrupt": self.interrupt,
        }
        return tuple(option for option, value in values.items() if value)


@dataclass(slots=True)
class AskedProgram:
    """A program with all that is stated and decoded around it; trees are made when they are asked for."""

    title: str
    is_invented: bool
    part: ProgramPart
    entries: tuple[EntryPart, ...]
    devices: tuple[AddressSet, AddressSet | None]
    roles: tuple[SignalRole, ...]
    registers: tuple[NamedRegister, ...]
    stated_devices: tuple[NamedRegister, ...]
    hearing: Hearing
    cache: Cache
    trees: dict[str, ByteTree] = field(default_factory=dict)

    @property
    def cpu(self) -> str:
        """The processor's name."""
        return self.part.cpu

    @property
    def clock(self) -> Clock | None:
        """Its clock, where it is stated."""
        return self.part.clock

    @property
    def images(self) -> tuple[Image, ...]:
        """The images that are there at the entries asked about; all where there is no entry.

        Refuses entries at which different banks are there.
        """
        seen = {memory_at(self.part, entry).images for entry in self.entries}
        if len(seen) > 1:
            raise BadInput(self.part.origin, wording.banks_differ([entry.name for entry in self.entries]))
        return seen.pop() if seen else images_seen(self.part)

    @property
    def entry_names(self) -> dict[int, str]:
        """Address → name of every entry; empty where the name is the address."""
        return {one.address: "" if one.name == f"{one.address:04X}" else one.name for one in self.entries}

    @property
    def known_memory(self) -> dict[int, int]:
        """RAM bytes that are given at every one of the entries, address → byte."""
        given = [
            {one.address + k: byte for one in entry.given if one.address is not None for k, byte in enumerate(one.data)}
            for entry in self.entries
        ]
        first, *others = given or [{}]
        return {at: byte for at, byte in first.items() if all(other.get(at) == byte for other in others)}

    def code(self, *, follow: bool = False, progress: Progress = no_progress) -> CodeMap:
        """What jumps and calls lead to from the entries; `follow`: also where explored paths touch a device.

        Where no entry is stated the processor's vectors are taken.
        """
        from latchlore.program import map_code, vector_entries

        return map_code(
            self.images,
            self.entry_names or vector_entries(self.images, self.cpu),
            cpu=self.cpu,
            devices=self.devices[0],
            port_mask=None if self.devices[1] is None else (1 << self.devices[1].width) - 1,
            memory=self.known_memory,
            places=sorted({one.program_address for one in self.seen(progress)}) if follow else (),
            progress=progress,
        )

    def tree(self, entry: EntryPart, progress: Progress = no_progress) -> ByteTree:
        """The decision tree from an entry.  Refuses a program without a device register."""
        if entry.name not in self.trees:
            if not self.devices[0] and not self.devices[1] and not self.has_ports:
                raise BadInput(self.part.origin, wording.NO_DEVICES)
            tree = _tree(self.hearing, self.part, entry, self.devices, self.cache, progress)
            if tree is None:
                raise BadInput(entry.origin, self.hearing.not_done[-1])
            self.trees[entry.name] = tree
        return self.trees[entry.name]

    def need_entries(self) -> tuple[EntryPart, ...]:
        """The entries asked about.  Refuses a program without any."""
        if not self.entries:
            raise BadInput(self.part.origin, wording.NO_ENTRY)
        return self.entries

    def codes(self, texts: Sequence[str]) -> tuple[tuple[str, tuple[frozenset[int], ...]], ...]:
        """Codes by what they are called: those typed, or else what the study looks for."""
        if texts:
            return tuple((text, _read("--code", lambda text=text: _notation.parse_code(text))) for text in texts)  # type: ignore[misc]
        return tuple((asked.name, _pattern(self.hearing, asked)) for asked in self.hearing.study.look_for)

    def ranges(self, texts: Sequence[str]) -> tuple[tuple[int, int], ...]:
        """Ranges of addresses (first, last) as typed."""
        return tuple(_read("--only", lambda text=text: _notation.parse_range(text)) for text in texts)  # type: ignore[misc]

    def asked_registers(self, texts: Sequence[str]) -> tuple[NamedRegister, ...]:
        """Written registers by address; where none is typed, those that carry the data, or else all.

        Refuses an address that no path writes.
        """
        written = self.written()
        if not texts:
            data = [one for one in written if one.name == "DATA"]
            return tuple(data) or written
        found = []
        for text in texts:
            place = _read("--register", lambda text=text: _notation.parse_place(text, "write"))  # type: ignore[misc]
            mine = [one for one in written if one.kind is place.kind and place.address in one]
            if not mine:
                raise UnknownName(wording.not_written(text), [str(one) for one in written])
            found += mine
        return tuple(dict.fromkeys(found))

    def read_register(self, text: str) -> NamedRegister:
        """The register that is read at an address."""
        place = _read("--register", lambda: _notation.parse_place(text, "read"))
        known = [one for one in self.registers if one.kind is place.kind and one.direction != "write"]
        return next((one for one in known if place.address in one), _unnamed(place.kind, place.address))

    def arguments(self, entry: EntryPart) -> tuple[str, ...]:
        """Registers of the processor of which nothing is known at an entry."""
        from latchlore.program import unknown_registers

        return unknown_registers(self.cpu, [one.name for one in entry.given if one.address is None])

    @property
    def has_ports(self) -> bool:
        """Whether the processor has a space of ports, all of which are devices where none are stated."""
        from latchlore.program import has_ports

        return has_ports(self.cpu)

    def seen(self, progress: Progress = no_progress) -> tuple[Seen, ...]:
        """Touches of devices on explored paths, by their places in the program."""
        from latchlore.program import Seen

        found = {
            Seen(event.program_address, event.kind, event.address, isinstance(event, Write))
            for entry in self.need_entries()
            for event in self.tree(entry, progress).iter_events()
        }
        return tuple(sorted(found))

    def written(self) -> tuple[NamedRegister, ...]:
        """Registers that the explored paths write, named ones first, in their order."""
        events = [
            event for entry in self.entries for event in self.tree(entry).iter_events() if isinstance(event, Write)
        ]
        known = [
            register
            for register in self.registers
            if register.direction != "read"
            and any(event.kind is register.kind and event.address in register for event in events)
        ]
        strays = {
            (event.kind, event.address)
            for event in events
            if not any(event.kind is one.kind and event.address in one for one in known)
        }
        return (*known, *(_unnamed(kind, address) for kind, address in sorted(strays)))


def open_program(
    sources: Sequence[Path], stated: Stated, progress: Progress = no_progress, cache: Cache | None = None
) -> AskedProgram:
    """The program of a study's folder, or of image files.

    Refuses files and a folder together, what `load_study` refuses, a study without an image, an entry that is not
    there, and for files whatever is not stated or wrongly written.
    """
    folders = [source for source in sources if source.is_dir()]
    if folders and (len(sources) > 1 or stated.named()):
        more = [*(str(one) for one in sources if one != folders[0]), *stated.named()]
        raise BadInput(Origin(str(folders[0])), wording.study_alone(more))
    study = _study(folders[0], stated) if folders else _files(sources, stated)
    progress(0, 0, wording.DECODING)
    return _ask(study, _chosen(study, stated.entry) if folders else None, cache or Cache())


def _study(folder: Path, stated: Stated) -> Study:
    from latchlore.study._load import load_study

    del stated
    study = load_study(folder)
    if study.program is None or not study.program.images:
        raise BadInput(Origin("study.toml"), wording.NO_IMAGE)
    return study


def _chosen(study: Study, names: Sequence[str]) -> tuple[EntryPart, ...]:
    """The entries named, all where none is."""
    assert study.program is not None
    known = {entry.name: entry for entry in study.program.entries}
    for name in names:
        if name not in known:
            raise UnknownName(f"there is no entry {name!r}", known)
    return tuple(known[name] for name in names) or study.program.entries


def _ask(study: Study, entries: tuple[EntryPart, ...] | None, cache: Cache) -> AskedProgram:
    program = study.program
    assert program is not None
    if not program.cpu:
        why = [note.why for note in program.notes if not note.words]
        raise BadInput(program.origin, wording.cpu_open(why))
    hearing = Hearing(study)
    _hear_together(study, hearing)
    return AskedProgram(
        study.title,
        study.is_invented,
        program,
        program.entries if entries is None else entries,
        _devices_of(hearing),
        hearing.roles,
        _registers(hearing),
        _stated_devices(study),
        hearing,
        cache,
    )


def _registers(hearing: Hearing) -> tuple[NamedRegister, ...]:
    """The board's registers and those of the roles, each with the signals that it carries as its name."""
    from latchlore.program import NamedRegister

    keys: list[tuple[InputKind, AddressSet, str]] = []
    if hearing.registers is not None:
        for one in hearing.registers.registers:
            keys.append((InputKind(one.space), one.addresses, one.direction))
    keys += [(role.kind, role.addresses, role.direction) for role in hearing.roles]
    found = []
    for kind, addresses, direction in dict.fromkeys(keys):
        mine = [
            role
            for role in hearing.roles
            if (role.kind, role.addresses, role.direction) == (kind, addresses, direction)
        ]
        mine.sort(key=lambda role: (-8 if role.bit is None else -role.bit, role.signal))
        name = ", ".join(dict.fromkeys(role.signal for role in mine))
        found.append(NamedRegister(name, kind, addresses, direction))
    return tuple(found)


def _stated_devices(study: Study) -> tuple[NamedRegister, ...]:
    from latchlore.program import NamedRegister

    found = []
    for kind, addresses in ((InputKind.MEMORY, study.devices.memory), (InputKind.PORT, study.devices.ports)):
        if addresses is not None:
            found.append(NamedRegister("", kind, addresses, "both"))
    return tuple(found)


def _unnamed(kind: InputKind, address: int) -> NamedRegister:
    from latchlore.program import NamedRegister

    width = 8 if kind is InputKind.PORT and address <= 0xFF else ADDRESS_LINES
    return NamedRegister("", kind, AddressSet.of((address,), width), "both")


# -- image files ---------------------------------------------------------------------------------------------------


def _files(sources: Sequence[Path], stated: Stated) -> Study:
    """A study made of image files and of what is stated beside them."""
    if not stated.cpu:
        from latchlore.program import cpu_names

        raise BadInput(Origin("--cpu"), wording.no_cpu(cpu_names()))
    cpu, images, notes = _images(sources, stated)
    clock = _read("--clock", lambda: Clock.parse(stated.clock, stated.tolerance_ppm)) if stated.clock else None
    held = tuple(
        Held(InputBit(place.kind, place.address, bit), Origin("--held"))
        for text in stated.held
        for place in [_read("--held", lambda text=text: _notation.parse_held(text))]  # type: ignore[misc]
        for bit in place.bits
    )
    given = tuple(
        Given(*_read("--given", lambda text=text: _notation.parse_given(text)), Origin("--given"))  # type: ignore[misc]
        for text in stated.given
    )
    entries = tuple(_entry(text, given) for text in stated.entry)
    for k, entry in enumerate(entries):
        if any(entry.name == other.name for other in entries[:k]):
            raise BadInput(Origin("--entry"), wording.entry_twice(entry.name))
    interrupts = tuple(
        _read("--interrupt", lambda text=text: _notation.parse_address(text))  # type: ignore[misc]
        for text in stated.interrupt
    )
    program = ProgramPart(cpu, clock, (), held, images, entries, Origin(str(sources[0])), notes, interrupts)
    title = " and ".join(source.name for source in sources)
    return Study(
        folder=Path(),
        title=title,
        about="",
        is_invented=False,
        nets=(),
        program=program,
        devices=_devices(stated.devices),
        roles=tuple(_role(text) for text in stated.role),
        logs=(),
        documents=(),
        look_for=(),
        questions=(),
        unread=(),
    )


def _read(option: str, read: Callable[[], ReadT]) -> ReadT:
    """What is read, or a refusal that names the option."""
    from pydantic import ValidationError

    try:
        return read()
    except BadInput:
        raise
    except ValidationError as error:
        words = "; ".join(str(one["msg"]).removeprefix("Value error, ") for one in error.errors())
        raise BadInput(Origin(option), words) from error
    except ValueError as error:
        raise BadInput(Origin(option), str(error)) from error


def _images(sources: Sequence[Path], stated: Stated) -> tuple[str, tuple[ImagePart, ...], tuple[ImageNote, ...]]:
    """The processor, every stretch of every file, and what was concluded; raw files take the addresses in turn."""
    from latchlore.program import parse_rom
    from latchlore.study._images import ImageReader
    from latchlore.study._layout import ImageTable

    files = {str(source): StudyFile(str(source), source.read_bytes()) for source in sources}
    names = list(files)
    left = list(stated.load)
    rows = []
    for name, file in files.items():
        is_raw = not file.raw or parse_rom(file.raw, name).kind == "raw"
        if is_raw and not left:
            raise BadInput(Origin(name), wording.NO_LOAD)
        load = left.pop(0) if is_raw else None
        rows.append(_read("--load", lambda name=name, load=load: ImageTable(file=name, load=load)))  # type: ignore[misc]
    if left:
        raise BadInput(Origin("--load"), wording.load_left(len(stated.load), len(stated.load) - len(left)))

    def at(kind: str, *path: str | int) -> Origin:
        return Origin(names[int(path[0])]) if kind == "image" else Origin("--cpu")

    reader = ImageReader(lambda name, _: files[name], at)
    cpu, parts, _ = reader.images(rows, stated.cpu)
    if reader.mistakes:
        raise BadInput.of_all(dict.fromkeys(reader.mistakes))
    return cpu, parts, tuple(reader.notes)


def _entry(text: str, given: tuple[Given, ...]) -> EntryPart:
    name, equals, address = text.rpartition("=")
    at = _read("--entry", lambda: _notation.parse_address(address))
    return EntryPart(name.strip() if equals else f"{at:04X}", at, "", (), given, Origin("--entry"))


def _devices(texts: Sequence[str]) -> DevicePart:
    sets: dict[InputKind, AddressSet | None] = {InputKind.MEMORY: None, InputKind.PORT: None}
    for text in texts:
        kind, addresses = _read("--devices", lambda text=text: _notation.parse_address_set(text))  # type: ignore[misc]
        before = sets[kind]
        if before is None:
            sets[kind] = addresses
        else:
            width = max(before.width, addresses.width)
            sets[kind] = AddressSet.of_cubes((*before.cubes, *addresses.cubes), width)
    return DevicePart(sets[InputKind.MEMORY], sets[InputKind.PORT], tuple(Origin("--devices") for _ in texts))


def _role(text: str) -> RolePart:
    from latchlore.study._layout import RoleTable

    role, _, place = text.strip().partition(" ")
    is_inverted = place.rstrip().endswith(" inverted")
    at = place.removesuffix(" inverted").strip() or None
    row = _read("--role", lambda: RoleTable.model_validate(_role_row(role, at, is_inverted=is_inverted)))
    if row.place is None:
        raise BadInput(Origin("--role"), wording.role_place(text))
    return RolePart(row.role, row.signal, row.place, row.inverted, Origin("--role"))


def _role_row(role: str, at: str | None, *, is_inverted: bool) -> dict[str, Any]:
    row: dict[str, Any] = {"role": role, "signal": role.upper(), "inverted": is_inverted}
    return row if at is None else {**row, "at": at}
