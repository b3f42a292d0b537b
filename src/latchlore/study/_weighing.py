"""From the folder to the table: every witness that the study has is heard, then their testimonies are weighed.

What takes long (trees, merges) is remembered by content, so that a second weighing recomputes only what changed.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING, Literal

from latchlore.base import (
    AddressSet,
    BadInput,
    InputKind,
    Origin,
    SignalRole,
    Strength,
    StudyError,
    Subject,
    SubjectKind,
    Testimony,
    UnknownName,
    Unsupported,
    Witness,
    Words,
    no_progress,
)
from latchlore.study import _hearwords as wording
from latchlore.study import _imagewords as imagewords
from latchlore.study import _withdrawnwords as withdrawnwords
from latchlore.study._banks import images_seen, memory_at
from latchlore.study._cache import Cache
from latchlore.study._codec import encode
from latchlore.study._logged import logged_emissions
from latchlore.study._rolesaid import clock_name, resting_on_clock, role_testimonies
from latchlore.study._stamp import folder_stamp
from latchlore.study._withdrawn import names_of, still_said, without_runs

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from latchlore.base import ByteTree, Progress
    from latchlore.board import Board, RegisterMap
    from latchlore.device import Device
    from latchlore.evidence import Table
    from latchlore.program.testify import Entry, Material
    from latchlore.study._hearcaptures import HeardCapture
    from latchlore.study._study import EntryPart, LogPart, LookFor, ProgramPart, RolePart, Study
    from latchlore.wire import Log

ADDRESS_LINES = 16
PORT_LINES = 8  # of the processors' own port numbers; a board or a study may look at more
WEIGHING_PACKAGES = tuple(f"latchlore.{name}" for name in ("board", "device", "evidence", "program", "study", "wire"))
PORTS_AT = 0x10000  # `explore` tells held ports from held addresses by this
DATA = "DATA"
PROGRAM = ("latchlore.program",)


@dataclass(slots=True)
class Hearing:
    """Everything the witnesses said, and what the pages draw from: filled wing by wing."""

    study: Study
    testimonies: list[Testimony] = field(default_factory=list)
    not_done: list[str] = field(default_factory=list)
    roles: tuple[SignalRole, ...] = ()
    board: Board | None = None
    registers: RegisterMap | None = None
    program: Material | None = None
    devices: tuple[Device, ...] = ()
    logs: dict[str, tuple[tuple[bytes, ...], ...]] = field(default_factory=dict)


def weigh_study(folder: Path, progress: Progress = no_progress, cache: Cache | None = None) -> Table:
    """Read a study folder, hear its witnesses and weigh what they say.  Refuses what `load_study` refuses.

    A table weighed from the very same files by the very same code is remembered.
    """
    from latchlore.evidence import Repair, Row, Standing, Table
    from latchlore.study._codec import register_records

    kept = cache or Cache()

    def compute() -> Table:
        from latchlore.study._load import load_study

        return weigh_loaded(hear(load_study(folder), progress, kept))

    stamp = folder_stamp(folder)
    if stamp is None:
        return compute()
    register_records(Repair, Row, Standing, Table)
    return kept.remember("table", [folder.absolute().name, stamp], compute, WEIGHING_PACKAGES)


def weigh_loaded(hearing: Hearing) -> Table:
    """Weigh what a hearing brought."""
    from latchlore.evidence import join, sent_to, weigh
    from latchlore.study._across import explain_across

    study = hearing.study
    return weigh(
        join(hearing.testimonies, hearing.roles),
        title=study.title or study.folder.name,
        invented=study.is_invented,
        asked=_asked(study),
        sent_to=sent_to(hearing.roles),
        not_done=hearing.not_done,
        follows=explain_across(hearing),
    )


def hear(study: Study, progress: Progress = no_progress, cache: Cache | None = None) -> Hearing:
    """Let every witness of the study speak, in the order board, documents, program, wire."""
    hearing = Hearing(study)
    kept = cache or Cache()
    _hear_together(study, hearing)
    _hear_program(hearing, kept, progress)
    _hear_wire(hearing, kept, progress)
    hearing.testimonies += logged_emissions(
        hearing.testimonies, [(one.name, _pattern(hearing, one), one.origin) for one in study.look_for]
    )
    hearing.not_done += [
        withdrawnwords.SET_ASIDE.format(day=one.day, name=one.name, why=one.why) for one in study.withdrawn
    ]
    if study.unread:
        hearing.not_done.append(wording.unread(study.unread))
    return hearing


def _hear_together(study: Study, hearing: Hearing) -> None:
    """Board and documents: their files are read first, so that all their mistakes are told at once."""
    mistakes: list[tuple[Origin, str]] = []
    for read in (_hear_board, _hear_matings, _hear_documents):
        try:
            read(study, hearing)
        except BadInput as error:
            mistakes += error.mistakes
    if mistakes:
        raise BadInput.of_all(dict.fromkeys(mistakes))  # a document that a mating asks for is read twice
    signals = [_signal_of(role) for role in study.roles]
    hearing.testimonies += still_said(role_testimonies(study, signals, hearing.roles), names_of(study))
    hearing.roles = (*hearing.roles, *_stated_roles(study, hearing.roles))


def _hear_board(study: Study, hearing: Hearing) -> None:
    if not study.nets:
        return
    from latchlore.board import decode, register_roles
    from latchlore.board.testify import testify, testify_without_host
    from latchlore.study._matings import study_board

    board = study_board(study)
    hearing.board = board
    try:
        hearing.registers = decode(board)
    except Unsupported as error:
        hearing.not_done.append(str(error))
        hearing.testimonies += testify_without_host(board)
        return
    hearing.testimonies += testify(board, hearing.registers)
    hearing.roles = tuple(register_roles(hearing.registers))
    hearing.not_done += hearing.registers.not_done


def _hear_matings(study: Study, hearing: Hearing) -> None:
    if not study.matings or (study.nets and hearing.board is None):  # the board's own mistakes are told already
        return
    from latchlore.board import mating_testimonies
    from latchlore.study._matings import mate_study

    hearing.testimonies += mating_testimonies(mate_study(study, hearing.board))


def _hear_documents(study: Study, hearing: Hearing) -> None:
    if not study.documents and not study.switches:
        return
    from latchlore.study._heardocuments import hear_documents

    hearing.devices, said = hear_documents(study)
    hearing.testimonies += said


_ROLE_SIGNALS = {"data": "DATA", "strobe": "STROBE", "busy": "BUSY", "acknowledge": "ACK", "select": "SELECT"}


def _signal_of(role: RolePart) -> str:
    return _ROLE_SIGNALS.get(role.role, role.signal.upper())


def _stated_roles(study: Study, known: Sequence[SignalRole]) -> list[SignalRole]:
    """Roles of study.toml that say where their signal is; what the board already finds is not stated again."""
    found: list[SignalRole] = []
    for role in study.roles:
        if role.place is None:
            continue
        place = role.place
        signal = _signal_of(role)
        width = ADDRESS_LINES
        if place.kind is InputKind.PORT:
            lines = [one.addresses.width for one in known if one.kind is InputKind.PORT]
            width = max([PORT_LINES if place.address < 1 << PORT_LINES else ADDRESS_LINES, *lines])
        addresses = AddressSet.of([place.address], width)
        direction: Literal["read", "write"] = "write" if place.access == "write" else "read"
        bits: tuple[int | None, ...] = place.bits or (None,)
        found += [
            SignalRole(signal, place.kind, addresses, direction, bit, role.inverted)
            for bit in bits
            if not any(one.signal == signal and one.direction == direction for one in known)
        ]
    return found


def _devices_of(hearing: Hearing) -> tuple[AddressSet, AddressSet | None]:
    """Addresses in memory and port space that belong to devices: the board's, or those stated."""
    memory, ports = hearing.study.devices.memory, hearing.study.devices.ports
    for role in hearing.roles:
        if role.kind is InputKind.PORT:
            ports = _both(ports, role.addresses)
        else:
            memory = role.addresses if memory is None else memory | role.addresses
    if hearing.registers is not None:
        for register in hearing.registers.registers:
            if register.space == "port":
                ports = _both(ports, register.addresses)
            else:
                memory = register.addresses if memory is None else memory | register.addresses
    return memory or AddressSet.of((), ADDRESS_LINES), ports


def _both(first: AddressSet | None, other: AddressSet) -> AddressSet:
    """The union; a set of fewer lines does not care for the others."""
    if first is None:
        return other
    width = max(first.width, other.width)
    return AddressSet.of_cubes((*first.cubes, *other.cubes), width)


def _held_masks(hearing: Hearing, program: ProgramPart, entry: EntryPart) -> dict[int, int]:
    """Address (of a port: plus 10000h) → mask of the bits that are the same on every read, stated or behind straps.

    Mirrors are listed only where the program can name them, so a strap's mask is given for every address of its
    register.
    """
    masks: dict[int, int] = {}
    for one in program.held_at(entry):
        at = one.bit.address + (PORTS_AT if one.bit.kind is InputKind.PORT else 0)
        masks[at] = masks.get(at, 0) | 1 << one.bit.bit
    if hearing.registers is not None:
        for register in hearing.registers.registers:
            mask = register.held_mask
            if register.direction == "read" and mask:
                base = PORTS_AT if register.space == "port" else 0
                for address in register.addresses.iter_addresses():
                    masks[base + address] = masks.get(base + address, 0) | mask
    return masks


def _hear_program(hearing: Hearing, cache: Cache, progress: Progress) -> None:
    program = hearing.study.program
    if program is None:
        return
    _hear_notes(hearing, program)
    if not program.images:
        return
    from latchlore.program.testify import Entry, Material, testify

    memory, ports = _devices_of(hearing)
    if not memory and not ports:
        hearing.not_done.append(wording.NO_DEVICES)
        return
    if not program.cpu:
        hearing.not_done.append(imagewords.NO_CPU)
        return
    images = images_seen(program)
    entries: list[Entry] = []
    keys: list[str] = []
    for number, part in enumerate(program.entries):
        progress(number, len(program.entries), wording.following(part.name))
        tree, key = _tree_and_key(hearing, program, part, (memory, ports), cache, progress)
        if tree is not None:
            keys.append(key)
            entries.append(Entry(part.name, tree))
            hearing.not_done += [wording.leaf(part.name, leaf) for leaf in tree.leaves if not leaf.is_done]
    clock = None if clock_name() in names_of(hearing.study) else program.clock
    hearing.program = Material(images, tuple(entries), memory, clock)
    sequences = {part.name: part.sequence for part in program.entries if part.sequence}
    stated: list[bytes | str] = [f"{image.file} {image.load:X}" for image in images]
    stated += [image.data for image in images]
    stated += [text for entry, key in zip(entries, keys, strict=True) for text in (entry.name, key)]
    stated += [str(memory), repr(clock), repr(hearing.roles)]
    say = partial(testify, hearing.program, hearing.roles)
    said = cache.remember("program", stated, say, ("latchlore.program",))
    told = (resting_on_clock(_on_sequence(one, sequences), program.origin) for one in said)
    hearing.testimonies += still_said(told, names_of(hearing.study))
    hearing.testimonies += _emissions(hearing, hearing.program)
    if hearing.registers is not None and any(register.inside for register in hearing.registers.registers):
        from latchlore.study._inside import explained_words

        hearing.testimonies += explained_words(hearing.registers, hearing.program)


def _hear_notes(hearing: Hearing, program: ProgramPart) -> None:
    """What was concluded while the images were read; what stayed open is asked of everybody."""
    for note in program.notes:
        if not note.words:
            hearing.not_done.append(imagewords.note_open(note.subject, note.why))
            continue
        method = imagewords.METHOD_STATED if note.is_stated else imagewords.METHOD_FOUND
        strength = Strength.STATED if note.is_stated else Strength.COMPUTED
        subject = Subject(SubjectKind.NOTE, (note.subject,))
        said = Testimony(subject, Words(note.words), Witness.PROGRAM, (note.origin,), method, strength, note.why)
        hearing.testimonies.append(said)


def _on_sequence(one: Testimony, sequences: Mapping[str, str]) -> Testimony:
    """An entry's tree stands under the sequence that the study says it sends."""
    if one.subject.kind is not SubjectKind.SEQUENCE:
        return one
    name = one.subject.key[0]
    return replace(one, subject=Subject(SubjectKind.SEQUENCE, (sequences.get(name, name),)))


def _tree(
    hearing: Hearing,
    program: ProgramPart,
    part: EntryPart,
    devices: tuple[AddressSet, AddressSet | None],
    cache: Cache,
    progress: Progress,
) -> ByteTree | None:
    return _tree_and_key(hearing, program, part, devices, cache, progress)[0]


def _tree_and_key(
    hearing: Hearing,
    program: ProgramPart,
    part: EntryPart,
    devices: tuple[AddressSet, AddressSet | None],
    cache: Cache,
    progress: Progress,
) -> tuple[ByteTree | None, str]:
    """The tree of an entry, and the key of all that it depends on."""
    there = memory_at(program, part)
    hearing.not_done += there.not_done
    if not there.is_known:
        return None, ""
    images = there.images
    memory, ports = devices
    held = _held_masks(hearing, program, part)
    arguments = {one.name: int.from_bytes(one.data) for one in part.given if one.address is None}
    stated = {
        one.address + k: value for one in part.given if one.address is not None for k, value in enumerate(one.data)
    }

    def compute() -> ByteTree:
        from latchlore.program import Bounds, explore  # loads the compiler: only where nothing is remembered

        lines = PORT_LINES if ports is None else ports.width
        return explore(
            images,
            part.address,
            memory,
            cpu=program.cpu,
            ports=None,  # a port that nobody states is a device too: what it reads is unknown, and anew every time
            held=held,
            arguments=arguments,
            memory=stated,
            interrupts=program.interrupts,
            assumptions=there.assumptions,
            bounds=Bounds(port_mask=(1 << lines) - 1),
            progress=progress,
        )

    parts: list[bytes | str] = [
        *(f"{image.file} {image.load:X} {image.writable} {image.unknown}" for image in images),
        *(image.data for image in images),
        repr((program.cpu, part.address, sorted(arguments.items()), sorted(stated.items()), program.interrupts)),
        str(memory),
        str(ports),
        repr(sorted(held.items())),
        *there.assumptions,
    ]
    try:
        return cache.remember("tree", parts, compute, PROGRAM), cache.key("tree", parts, PROGRAM)
    except Unsupported as error:
        hearing.not_done.append(str(error))
        return None, ""
    except UnknownName as error:  # a processor, register or flag that there is not
        raise BadInput(part.origin, str(error)) from error
    except BadInput as error:
        raise BadInput.of_all(
            (place if place.file else part.origin, words) for place, words in error.mistakes
        ) from error


def _emissions(hearing: Hearing, material: Material) -> list[Testimony]:
    """For every code that is looked for: may this program send it?  The place that asks is the last origin."""
    from latchlore.program.testify import emission_testimony

    found: list[Testimony] = []
    for asked in hearing.study.look_for:
        entries = tuple(entry for entry in material.entries if asked.entry in ("", entry.name))
        if not entries:
            continue
        narrowed = replace(material, entries=entries)
        one = emission_testimony(narrowed, asked.name, _pattern(hearing, asked), hearing.roles)
        found.append(replace(one, origins=(*one.origins, asked.origin)))
    return found


def _pattern(hearing: Hearing, asked: LookFor) -> tuple[frozenset[int], ...]:
    if asked.pattern is not None:
        return asked.pattern
    device = next((one for one in hearing.devices if one.document == asked.document), None)
    if device is None:
        raise BadInput(asked.origin, wording.no_document(asked.document))
    try:
        return device.get_command(asked.command).pattern.head
    except StudyError as error:
        raise BadInput(asked.origin, str(error)) from error


def _hear_wire(hearing: Hearing, cache: Cache, progress: Progress) -> None:
    if not hearing.study.logs and not hearing.study.captures:
        return
    from latchlore.wire.testify import Material, testify

    logs, captures = _read_wire(hearing, cache, progress)
    for name, heard in captures.items():
        hearing.testimonies += [one for capture in heard for one in capture.lines]
        if len(heard) == 1 and name not in logs and heard[0].sequence:
            hearing.testimonies += heard[0].sequence
        else:
            logs.setdefault(name, []).extend(capture.log for capture in heard)
    for number, (name, found) in enumerate(sorted(logs.items())):
        progress(number, len(logs), wording.merging(name))
        raw = [part.file.raw for part in hearing.study.logs if part.sequence == name]
        stated = [repr((p.file.file, p.base, p.runs)) for p in hearing.study.logs if p.sequence == name]
        stated += [str(role.addresses) for role in hearing.roles if role.signal == DATA]
        stated += [encode(capture.log) for capture in captures.get(name, ())]
        stated += [one.name for one in hearing.study.withdrawn]
        material = Material(name, tuple(found))
        hearing.logs[name] = tuple(tuple(run.data for run in log.runs) for log in found)
        said = cache.remember("wire", [name, *stated, *raw], partial(testify, material, progress), ("latchlore.wire",))
        hearing.testimonies += still_said(said, names_of(hearing.study))


def sequence_logs(
    hearing: Hearing, progress: Progress = no_progress, cache: Cache | None = None
) -> dict[str, tuple[Log, ...]]:
    """Sequence → its logs, those of captures behind the byte logs; in the order of the names.

    Refuses what the readers of logs and captures refuse.
    """
    logs, captures = _read_wire(hearing, cache or Cache(), progress)
    for name, heard in captures.items():
        logs.setdefault(name, []).extend(capture.log for capture in heard)
    return {name: tuple(logs[name]) for name in sorted(logs)}


def _read_wire(
    hearing: Hearing, cache: Cache, progress: Progress
) -> tuple[dict[str, list[Log]], dict[str, list[HeardCapture]]]:
    """The byte logs and the captures of each sequence; all mistakes are told at once."""
    from latchlore.study._codec import register_records
    from latchlore.study._hearcaptures import hear_captures
    from latchlore.wire import Layout, Log, Numbers, Run, parse_log

    register_records(Log, Numbers, Layout, Run)
    mistakes: list[tuple[Origin, str]] = []
    logs: dict[str, list[Log]] = {}
    for part in hearing.study.logs:
        try:
            if part.runs == "bus":
                log = _bus_log(hearing, part)
            else:
                numbers = Numbers(part.base) if part.base else None
                log = parse_log(part.file.raw, part.file.file, numbers, Layout(part.runs) if part.runs else None)
            if log is not None:
                log = without_runs(log, part.file, hearing.study.withdrawn)
                logs.setdefault(part.sequence, []).append(log)
        except BadInput as error:
            mistakes += error.mistakes
    try:
        captures = hear_captures(hearing.study.captures, cache, progress)
    except BadInput as error:
        raise BadInput.of_all([*mistakes, *error.mistakes]) from error
    if mistakes:
        raise BadInput.of_all(mistakes)
    return logs, captures


def _bus_log(hearing: Hearing, part: LogPart) -> Log | None:
    """The bytes that a log of the processor's bus shows going to the data register; None where nobody knows it."""
    from latchlore.wire import Layout, Log, Numbers, parse_bus_log, written_bytes

    accesses = parse_bus_log(part.file.raw, part.file.file)
    data = [role.addresses for role in hearing.roles if role.signal == DATA and role.direction == "write"]
    if not data:
        hearing.not_done.append(wording.no_data_register(part.file.file))
        return None
    run = written_bytes(accesses, data[0])
    why = wording.bus_writes(str(data[0]))
    return Log(part.file.file, Numbers.HEX, Layout.FILE, wording.BUS_NUMBERS, why, (run,), ())


def _asked(study: Study) -> tuple[Subject, ...]:
    """Subjects that questions and look-for rows name."""
    names = [one.name for one in study.look_for]
    subjects = [Subject(SubjectKind.EMISSION, (name,)) for name in names]
    notes = study.program.notes if study.program else ()
    subjects += [Subject(SubjectKind.NOTE, (note.subject,)) for note in notes if not note.words]
    sequences = {log.sequence for log in study.logs} | {capture.sequence for capture in study.captures}
    signals = {role.signal for role in study.roles}
    for question in study.questions:
        for about in question.about:
            if about in names:
                continue
            if about in sequences:
                subjects.append(Subject(SubjectKind.SEQUENCE, (about,)))
            elif about in signals:
                subjects.append(Subject(SubjectKind.SIGNAL, (about.upper(),)))
            else:
                subjects.append(Subject(SubjectKind.TIMING, (about,)))
    return tuple(dict.fromkeys(subjects))
