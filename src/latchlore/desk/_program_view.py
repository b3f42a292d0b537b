"""What the program's pages show: rows of words, links and pictures; every figure comes from the program wing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from markupsafe import Markup

from latchlore.base import BadInput, Origin, UnknownName
from latchlore.desk import wording
from latchlore.desk._places import origin_address

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from latchlore.base import ByteTree
    from latchlore.program import CodeMap, Driver, Drivers, Handshake, Image, Listing, Part, Row
    from latchlore.study import AskedProgram

PAGE_LINES = 300
ROW_BYTES = 8
SHOWN_PLACES = 8
MAX_DEPTH = 16
"""Deeper rows of a tree stand no further to the right."""


class Asked(NamedTuple):
    """The study's program, ready to be asked."""

    program: AskedProgram
    entry_names: tuple[str, ...]
    title: str


class Figure(NamedTuple):
    """A figure of the handshake: its name, its value in cycles and time, and where in the program."""

    name: str
    words: str
    places: tuple[tuple[str, str], ...]


class Touching(NamedTuple):
    """An instruction that touches a register: (address, link into the listing), its text, and what it does."""

    at: str
    link: str
    text: str
    words: str


class Routine(NamedTuple):
    """The touches of one routine."""

    name: str
    touches: tuple[Touching, ...]


class Touched(NamedTuple):
    """A register with the routines that touch it."""

    name: str
    routines: tuple[Routine, ...]
    reached_from: str


@dataclass(frozen=True, slots=True)
class Overview:
    """The room's first page."""

    facts: tuple[str, ...]
    entries: tuple[tuple[str, str], ...]
    drawing: Markup
    figures: tuple[Figure, ...]
    pollings: tuple[str, ...]
    touched: tuple[Touched, ...]
    grounds: tuple[tuple[str, tuple[str, ...]], ...]
    why_not: str


class TreeRow(NamedTuple):
    """A row of a tree: how deep, its kind, its words, cycles, and where in the program."""

    depth: int
    kind: str
    words: str
    cycles: str
    at: str
    is_done: bool


@dataclass(frozen=True, slots=True)
class TreePage:
    """One tree: its rows, its picture, and what it rests on."""

    entry: str
    words: str
    rows: tuple[TreeRow, ...]
    grounds: tuple[tuple[str, tuple[str, ...]], ...]


class ListingLine(NamedTuple):
    """A line of the listing; `label` stands above it; `place` is its origin's page."""

    address: int
    label: str
    data: str
    text: str
    kind: str
    notes: tuple[str, ...]
    jumps: tuple[tuple[str, str], ...]
    place: str

    @property
    def at(self) -> str:
        """Its address as digits."""
        return f"{self.address:04X}"

    @property
    def words(self) -> str:
        """Everything that can be searched for."""
        return " ".join((self.text, self.label, *self.notes, self.data))


class ListingPage(NamedTuple):
    """A stretch of lines, and what lies before and behind."""

    lines: tuple[ListingLine, ...]
    before: str
    behind: str
    found: str
    total: int


def ask(folder: Path) -> Asked | None:
    """The study's program; None where the study has none.  Refuses what `open_program` refuses."""
    from latchlore.study import Stated, load_study, open_program

    study = load_study(folder)
    if study.program is None or not study.program.images:
        return None
    program = open_program([folder], Stated())
    return Asked(program, tuple(entry.name for entry in program.entries), program.title)


def listing_link(address: int) -> str:
    """Where an address stands in the listing."""
    return f"program-listing?at={address:04X}#at-{address:04X}"


def _places(addresses: Iterable[int]) -> tuple[tuple[str, str], ...]:
    return tuple((f"{address:04X}", listing_link(address)) for address in addresses)


def overview(asked: Asked) -> Overview:
    """Touches, handshake and grounds; without a stated device or entry, what is missing for them."""
    from latchlore.dossier import draw_handshake
    from latchlore.program import Names, polling_words, read_handshake

    program = asked.program
    trees: list[ByteTree] = []
    why_not = ""
    try:
        trees = [program.tree(entry) for entry in program.need_entries()]
    except BadInput as error:
        why_not = str(error)
    names = Names(program.registers, program.roles)
    handshake = read_handshake(trees, program.roles, program.registers)
    code, drivers = _drivers(program, is_followed=not why_not)
    not_followed = tuple(f"{one.address:04X}: {one.reason}" for one in code.not_followed)
    drawing = draw_handshake(tuple(one.event for one in handshake.moments)) if handshake.moments else ""
    return Overview(
        _facts(program),
        tuple((entry.name, f"{entry.address:04X}") for entry in program.entries),
        Markup(drawing),
        _figures(handshake, program),
        tuple(polling_words(one, program.clock, names) for one in handshake.pollings),
        _touched(code, drivers),
        (*_grounds(trees), (wording.NOT_FOLLOWED, not_followed)),
        why_not,
    )


def _facts(program: AskedProgram) -> tuple[str, ...]:
    images = [f"{one.file}: {one.load:04X} to {one.last:04X}, {len(one.data):,} bytes" for one in program.images]
    clock = f"clock {program.clock}" if program.clock is not None else wording.NO_CLOCK
    notes = [f"{note.subject}: {note.words or wording.OPEN} ({note.why})" for note in program.part.notes]
    return (f"{program.cpu}; {clock}", *images, *notes)


def _drivers(program: AskedProgram, *, is_followed: bool) -> tuple[CodeMap, Drivers]:
    from latchlore.program import find_drivers

    code = program.code(follow=is_followed)
    seen = program.seen() if is_followed else ()
    return code, find_drivers(code, program.registers, program.stated_devices, seen)


def _figures(handshake: Handshake, program: AskedProgram) -> tuple[Figure, ...]:
    from latchlore.base import describe_place
    from latchlore.program import range_words

    figures = [
        Figure(one.name, range_words(one.cycles, program.clock), _places(one.places)) for one in handshake.figures
    ]
    for pulse in handshake.pulses:
        bits = ", ".join(str(bit) for bit in pulse.bits)
        name = f"{describe_place(pulse.kind, pulse.address)} {pulse.register} bit {bits} at {pulse.timing.level}"
        if pulse.timing.width is not None:
            figures.append(Figure(f"{name}: width", range_words(pulse.timing.width, program.clock), ()))
    return tuple(figures)


def _touched(code: CodeMap, drivers: Drivers) -> tuple[Touched, ...]:
    from latchlore.program import register_words

    return tuple(
        Touched(
            register_words(driver.register),
            _routines(code, driver),
            ", ".join(code.name_of(entry) for entry in driver.reached_from),
        )
        for driver in drivers.found
    )


def _routines(code: CodeMap, driver: Driver) -> tuple[Routine, ...]:
    from latchlore.program import touch_words

    by_routine: dict[tuple[int, ...], list[Touching]] = {}
    for touch in driver.touches:
        one = touch.instruction
        row = Touching(f"{one.address:04X}", listing_link(one.address), one.text, touch_words(touch))
        by_routine.setdefault(one.routines, []).append(row)
    return tuple(
        Routine(", ".join(code.name_of(start) for start in starts) or wording.NO_ROUTINE, tuple(rows))
        for starts, rows in sorted(by_routine.items())
    )


def _grounds(trees: Sequence[ByteTree]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What was not followed, what is taken for granted, and the bounds: what every "never" rests on."""
    from latchlore.program import open_ends

    return (
        (wording.ENDS, tuple(dict.fromkeys(open_ends(trees)))),
        (wording.GRANTED, tuple(dict.fromkeys(one for tree in trees for one in tree.assumptions))),
        (wording.BOUNDS, tuple(dict.fromkeys(one for tree in trees for one in tree.bounds))),
    )


def tree(asked: Asked, name: str) -> TreePage:
    """The tree from the entry `name`.  Refuses an entry that is not there, and what making a tree refuses."""
    from latchlore.program import Names, outline

    program = asked.program
    entry = next((one for one in program.entries if one.name == name), None)
    if entry is None:
        raise UnknownName(f"there is no entry {name!r}", asked.entry_names)
    found = program.tree(entry)
    rows = tuple(_tree_row(row) for row in outline(found, Names(program.registers, program.roles)))
    return TreePage(name, str(found), rows, _grounds([found]))


def _tree_row(row: Row) -> TreeRow:
    from latchlore.program import RowKind, cycles_words

    words = row.words
    if row.kind is RowKind.ARM:
        words = f"{'else, ' if row.goes_on else ''}if {row.words}:"
    return TreeRow(
        min(row.depth, MAX_DEPTH),
        row.kind.value,
        words,
        "" if row.cycles is None else cycles_words(row.cycles),
        "" if row.at is None else f"{row.at:04X}",
        row.is_done,
    )


def listing(asked: Asked) -> tuple[ListingLine, ...]:
    """Every line of the listing of every image, in order."""
    from latchlore.program import make_listing

    program = asked.program
    is_followed = bool(program.entries)
    try:
        code, drivers = _drivers(program, is_followed=is_followed)
    except BadInput:  # no device is stated, so that nothing can be followed
        code, drivers = _drivers(program, is_followed=False)
    made: Listing = make_listing(code, drivers)
    return tuple(line for image, parts in made.images for part in parts for line in _lines_of(part, image))


def _lines_of(part: Part, image: Image) -> Iterable[ListingLine]:
    place = origin_address(Origin.at_address(image.file, part.address))
    above = "; ".join(_label(part))
    read_by = f"read by {_some(part.read_by)}" if part.read_by else ""
    notes = (*part.notes, *([read_by] if read_by else ()))
    if part.instruction is not None:
        targets = _places(dict.fromkeys((*part.instruction.calls, *part.instruction.jumps)))
        data = part.data.hex(" ").upper()
        yield ListingLine(part.address, above, data, part.instruction.text, "code", notes, targets, place)
        return
    kind = part.kind.value
    if part.text or (len(set(part.data)) == 1 and len(part.data) > ROW_BYTES):
        words = f"“{part.text}”" if part.text else f"{len(part.data):,} bytes of {part.data[0]:02X}"
        yield ListingLine(part.address, above, "", words, kind, notes, (), place)
        return
    for at in range(0, len(part.data), ROW_BYTES):
        row = part.data[at : at + ROW_BYTES]
        letters = "".join(chr(byte) if 0x20 <= byte < 0x7F else "·" for byte in row)
        head, told = (above, notes) if at == 0 else ("", ())
        yield ListingLine(part.address + at, head, row.hex(" ").upper(), letters, kind, told, (), place)


def _label(part: Part) -> Iterable[str]:
    if part.entry:
        yield f"entry “{part.entry}”"
    if part.called_from:
        yield f"called from {_some(part.called_from)}"
    if part.jumped_from:
        yield f"jumped to from {_some(part.jumped_from)}"


def _some(addresses: Sequence[int]) -> str:
    shown = ", ".join(f"{one:04X}" for one in addresses[:SHOWN_PLACES])
    return shown + (f" and {len(addresses) - SHOWN_PLACES} more" if len(addresses) > SHOWN_PLACES else "")


def page_of(lines: Sequence[ListingLine], at: str, find: str) -> ListingPage:
    """The page that holds the address `at` (hexadecimal), or the first line from there on that holds the text `find`.

    An address that is no line's own takes the line before it.  Refuses what is no address.
    """
    start = 0
    if at:
        try:
            address = int(at, 16)
        except ValueError:
            raise UnknownName(f"{at!r} is no address; write hexadecimal digits") from None
        start = max((k for k, line in enumerate(lines) if line.address <= address), default=0)
    found = ""
    if find:
        wanted = find.lower()
        hits = [
            k
            for k, line in enumerate(lines)
            if wanted in " ".join((line.text, line.label, *line.notes, line.data)).lower()
        ]
        start = next((k for k in hits if k > start or (not at and k >= start)), hits[0] if hits else start)
        found = wording.FOUND.format(text=find, count=len(hits))
    first = start // PAGE_LINES * PAGE_LINES
    shown = tuple(lines[first : first + PAGE_LINES])
    before = lines[max(0, first - PAGE_LINES)].at if first else ""
    behind = lines[first + PAGE_LINES].at if first + PAGE_LINES < len(lines) else ""
    return ListingPage(shown, before, behind, found, len(lines))
