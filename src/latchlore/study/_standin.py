"""From the folder to the specification of a stand-in: heard, weighed, specified, and its test vectors run."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from latchlore.base import BadInput, InputKind, Origin, no_progress
from latchlore.study import _standinwords as words
from latchlore.study._cache import Cache
from latchlore.study._weighing import PORT_LINES, hear, weigh_loaded
from latchlore.study._write import write_files

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from latchlore.base import Progress
    from latchlore.evidence import Basis, Inputs, StandIn, Table, Vectors
    from latchlore.study._study import EntryPart
    from latchlore.study._weighing import Hearing

MAX_INSTRUCTIONS = 4_000_000
PORTS = 1 << 16  # ports are numbered from here on in a run


def specify_study(folder: Path, progress: Progress = no_progress, cache: Cache | None = None) -> StandIn:
    """What a stand-in for the study's peripheral must do.  Refuses what `load_study` refuses."""
    from latchlore.evidence import specify

    return specify(basis_of(*hear_study(folder, progress, cache)))


def hear_study(folder: Path, progress: Progress = no_progress, cache: Cache | None = None) -> tuple[Hearing, Table]:
    """What the witnesses of a folder said, and how it weighs."""
    from latchlore.study._load import load_study

    hearing = hear(load_study(folder), progress, cache or Cache())
    return hearing, weigh_loaded(hearing)


def basis_of(hearing: Hearing, table: Table) -> Basis:
    """What the specification is made from."""
    from latchlore.evidence import Basis, StatedCommand

    program = hearing.program
    trees = {} if program is None else {entry.name: entry.tree for entry in program.entries}
    places: dict[int, Origin] = {}
    if program is not None:
        touched = {event.program_address for tree in trees.values() for event in tree.iter_events()}
        places = {address: program.origin(address) for address in sorted(touched)}
    clock = None if program is None else program.clock
    commands = tuple(
        StatedCommand(device.document, command.code, command.meaning, command.pattern.head)
        for device in hearing.devices
        for command in device.commands
    )
    return Basis(table, tuple(hearing.roles), trees, clock, commands, places=places)


def study_vectors(hearing: Hearing, basis: Basis, stand_in: StandIn) -> Vectors:
    """The stand-in's test vectors, run on the study's images.  None can be made without a program."""
    from latchlore.base import AddressSet
    from latchlore.evidence import Vectors, run_vectors
    from latchlore.program import has_ports, run
    from latchlore.study._banks import memory_at
    from latchlore.study._weighing import _devices_of

    program = hearing.study.program
    if program is None or not basis.trees:
        return Vectors((), (), stand_in.unsaid)
    memory, ports = _devices_of(hearing)
    if ports is None and has_ports(program.cpu):
        ports = AddressSet.of_range(0, (1 << PORT_LINES) - 1, PORT_LINES)
    parts = {part.name: part for part in program.entries}

    def play(
        entry: str,
        inputs: Inputs,
        read: Callable[[InputKind, int, int], int],
        write: Callable[[InputKind, int, int, int], None],
    ) -> str:
        part = parts[entry]
        given = inputs.with_given(_given(part))
        done = run(
            memory_at(program, part).images,
            part.address,
            memory,
            cpu=program.cpu,
            ports=ports,
            registers=given.registers,
            memory=given.memory,
            read=lambda at, cycle: read(*_place(at), cycle),
            write=lambda at, value, cycle: write(*_place(at), value, cycle),
            instructions=MAX_INSTRUCTIONS,
            exact=True,
        )
        return f"{done.end.value}: {done.reason}" if done.reason else done.end.value

    return run_vectors(basis, stand_in, play)


def _place(at: int) -> tuple[InputKind, int]:
    """The space and address of an access of a run."""
    return (InputKind.PORT, at - PORTS) if at >= PORTS else (InputKind.MEMORY, at)


def write_vectors(study: Path, target: Path, files: Mapping[str, bytes]) -> None:
    """Write the files of the vectors to a folder, whole or not at all; earlier vectors there are replaced.

    Refuses a folder inside the study, and one that holds anything but earlier vectors (BadInput).
    """
    from latchlore.evidence import CSV_FILE, JSON_FILE

    origin = Origin(str(target))
    if target.resolve().is_relative_to(study.resolve()):
        raise BadInput(origin, words.INSIDE)
    if target.exists() and not target.is_dir():
        raise BadInput(origin, words.NO_FOLDER)
    there = (
        sorted(one.name for one in target.iterdir() if not one.name.startswith(".latchlore-"))
        if target.exists()
        else []
    )
    ours = [name for name in there if name in (CSV_FILE, JSON_FILE) or re.fullmatch(r"\d\d-[a-z0-9-]*\.vcd", name)]
    foreign = [name for name in there if name not in ours]
    if foreign:
        raise BadInput(origin, words.foreign(foreign[0]))
    target.mkdir(parents=True, exist_ok=True)
    write_files(target, files)
    for name in ours:
        if name not in files:
            (target / name).unlink()


def _given(part: EntryPart) -> Inputs:
    """What is stated at an entry, for a run."""
    from latchlore.evidence import Inputs

    registers = {one.name: int.from_bytes(one.data) for one in part.given if one.address is None}
    memory = {
        one.address + k: value for one in part.given if one.address is not None for k, value in enumerate(one.data)
    }
    return Inputs(registers, memory)
