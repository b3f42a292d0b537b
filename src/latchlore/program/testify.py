"""The program's testimony: its one door to the weighing of evidence."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

from latchlore.base import (
    HANDSHAKE_ORDER,
    HELD,
    AddressSet,
    BitUse,
    Choice,
    Clock,
    CycleRange,
    Emission,
    InputBit,
    InputKind,
    Origin,
    SignalRole,
    SpanLimit,
    Statement,
    StatementKind,
    Strength,
    Subject,
    SubjectKind,
    Testimony,
    Unsupported,
    Value,
    Witness,
    Words,
    Write,
    address_digits,
)
from latchlore.program import wording
from latchlore.program._answers import (
    STROBE,
    Timing,
    belongs_to,
    bit_uses,
    data_roles,
    emission,
    handshake_timing,
    own_pulse,
    written_values,
)
from latchlore.program._lengths import Lengths
from latchlore.program._looks import Looks, looks_after
from latchlore.program._order import find_order
from latchlore.program._statustests import StatusTests, status_tests

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.base import ByteTree, Event
    from latchlore.program._image import Image

__all__ = [
    "STROBE",
    "Entry",
    "Looks",
    "Material",
    "StatusTests",
    "Timing",
    "emission",
    "emission_testimony",
    "handshake_timing",
    "looks_after",
    "status_tests",
    "testify",
]


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry of the program that was explored: its name in the study, and its tree."""

    name: str
    tree: ByteTree


@dataclass(frozen=True, slots=True)
class Material:
    """What the program's witness has in hand.  `devices`: every address taken for a device register."""

    images: tuple[Image, ...]
    entries: tuple[Entry, ...]
    devices: AddressSet
    clock: Clock | None = None

    def origin(self, address: int, detail: str = "") -> Origin:
        """The place of a program address: the image that holds it, or the first one.

        Where several banks hold it, the first one with the others named.
        """
        holders = [image for image in self.images if address in image] or [self.images[0]]
        others = wording.or_in([image.file for image in holders[1:]])
        return holders[0].origin(address, "; ".join(filter(None, (detail, others))))


@dataclass(frozen=True, slots=True)
class Register:
    """A register as the roles know it, or a touched address that belongs to none."""

    kind: InputKind
    addresses: AddressSet
    direction: str
    home: int | None = None

    @property
    def key(self) -> tuple[str, str, str]:
        """As a subject's key has it: one address stands for all mirrors, the lowest unless a role names another."""
        address = self.addresses.lowest if self.home is None else self.home
        return (self.kind.value, address_digits(self.kind, address), self.direction)


def testify(material: Material, roles: Sequence[SignalRole]) -> tuple[Testimony, ...]:
    """Everything the trees say about registers, bits, sequences, times, the handshake's order and
    the strobe's pulse, in this order.

    `roles` name the bits; a touched address that no role knows is a register of its own.  Times need a clock and the
    roles of the data and the strobe.
    """
    registers = list(_iter_registers(material, roles))
    return (
        *(found for register in registers for found in _touches(material, register)),
        *(
            found
            for register in registers
            if register.direction == "read"
            for found in _bits(material, register, roles)
        ),
        *(found for register in registers if register.direction == "write" for found in _values(material, register)),
        *_sequences(material),
        *_times(material, roles),
        *_orders(material, roles),
        *_pulses(material, roles),
    )


def emission_testimony(
    material: Material, what: str, pattern: Sequence[frozenset[int]], roles: Sequence[SignalRole]
) -> Testimony:
    """Whether any entry may write the pattern to the data register; `what` names it."""
    answers = [(entry, emission(entry.tree, pattern, roles)) for entry in material.entries]
    if any(answer.happens for _, answer in answers):
        happens: bool | None = True
    else:
        happens = None if not answers or any(answer.happens is None for _, answer in answers) else False
    chosen = [(entry, answer) for entry, answer in answers if answer.happens == happens]
    entries_of: dict[str, list[str]] = {}
    for entry, answer in chosen:
        for words in answer.bounds:
            entries_of.setdefault(words, []).append(entry.name)
    bounds = tuple(
        words if len(names) == len(chosen) > 1 else f"{', '.join(names)}: {words}"
        for words, names in entries_of.items()
    )
    origins = tuple(material.origin(entry.tree.entry, entry.name) for entry, _ in chosen or answers)
    file = origins[0].file if origins else material.images[0].file
    return _testimony(
        Subject(SubjectKind.EMISSION, (what,)),
        Emission(happens, bounds),
        origins or (Origin(material.images[0].file),),
        wording.METHOD_EMISSION,
        falls_with=((Statement(file, "", StatementKind.FILE, wording.WHOLE_IMAGE, Origin(file)),),),
    )


Alternatives = tuple[tuple[Statement, ...], ...]


def _testimony(
    subject: Subject,
    value: Value,
    origins: tuple[Origin, ...],
    method: str,
    note: str = "",
    falls_with: Alternatives = (),
) -> Testimony:
    return Testimony(subject, value, Witness.PROGRAM, origins, method, Strength.COMPUTED, note, falls_with)


def _instructions(material: Material, places: Sequence[int], tag: str = "") -> Alternatives:
    """What was read falls with all the instructions that do it, or with their image as a whole."""
    if not places:
        return ()
    found = []
    for place in places:
        origin = material.origin(place)
        about = wording.instruction(place)
        found.append(Statement(origin.file, f"at {place:04X}", StatementKind.INSTRUCTION, about, origin, tag))
    return (tuple(found), _image(material, places[0], tag))


def _image(material: Material, place: int, tag: str = "") -> tuple[Statement, ...]:
    file = material.origin(place).file
    return (Statement(file, "", StatementKind.FILE, wording.WHOLE_IMAGE, Origin(file), tag),)


def _direction(event: Event) -> str:
    return "write" if isinstance(event, Write) else "read"


def _iter_events(material: Material) -> Iterator[Event]:
    for entry in material.entries:
        yield from entry.tree.iter_events()


def _iter_registers(material: Material, roles: Sequence[SignalRole]) -> Iterator[Register]:
    """Registers of the roles first, in their order, then touched addresses that belong to none, rising."""
    known = list(dict.fromkeys(Register(role.kind, role.addresses, role.direction, role.home) for role in roles))
    yield from known
    strays = {
        (event.kind, event.address, _direction(event))
        for event in _iter_events(material)
        if not any(
            r.kind is event.kind and r.direction == _direction(event) and event.address in r.addresses for r in known
        )
    }
    for kind, address, direction in sorted(strays):
        yield Register(kind, AddressSet.of((address,)), direction)


def _touches(material: Material, register: Register) -> Iterator[Testimony]:
    """Which of a register's addresses the program uses."""
    touched = [
        event
        for event in _iter_events(material)
        if event.kind is register.kind
        and _direction(event) == register.direction
        and event.address in register.addresses
    ]
    if not touched:
        return
    places = sorted({event.program_address for event in touched})
    uses: dict[int, set[int]] = {}
    for event in touched:
        uses.setdefault(event.address, set()).add(event.program_address)
    yield _testimony(
        Subject(SubjectKind.REGISTER, register.key),
        AddressSet.of({event.address for event in touched}, register.addresses.width),
        tuple(material.origin(place) for place in places),
        wording.METHOD_TOUCH,
        falls_with=tuple(
            one for a, at in sorted(uses.items()) for one in _instructions(material, sorted(at), f"{a:04X}")
        ),
    )


def _bits(material: Material, register: Register, roles: Sequence[SignalRole]) -> Iterator[Testimony]:
    """How each bit of a read register is looked at."""
    trees = [entry for entry in material.entries if _reads(entry.tree, register)]
    if not trees:
        return
    exhausted = all(entry.tree.is_exhausted for entry in material.entries)
    uses = [bit_uses(entry.tree, register.kind, register.addresses.__contains__) for entry in trees]
    for bit in range(8):
        places = sorted({place for use in uses for place in use[bit].program_addresses})
        goes_on = {level for use in uses for level in use[bit].goes_on_at}
        in_values = any(use[bit].in_values for use in uses)
        branches = any(use[bit].branches for use in uses) or len(goes_on) > 1
        looked = branches or in_values or bool(goes_on)
        if not looked and not exhausted:
            continue  # a path not followed may look at it: nothing can be said
        outcomes = _outcomes(trees, register, bit, roles) if branches or in_values else ()
        use = BitUse(next(iter(goes_on)) if len(goes_on) == 1 else None, branches or in_values, outcomes)
        note = "" if looked else wording.never_looked_at(len(material.entries))
        yield _testimony(
            Subject(SubjectKind.BIT, (*register.key, str(bit))),
            use,
            tuple(material.origin(place) for place in places),
            wording.METHOD_BIT,
            note,
            _instructions(material, places),
        )


def _reads(tree: ByteTree, register: Register) -> bool:
    return any(
        not isinstance(event, Write) and event.kind is register.kind and event.address in register.addresses
        for event in tree.iter_events()
    )


def _held_bits(tree: ByteTree) -> list[InputBit]:
    """Device bits that are the same on every read and decide something."""
    found: set[InputBit] = set()
    for node in tree.nodes:
        for event in node.events:
            if isinstance(event, Write):
                found.update(event.value.bits)
        if isinstance(node.after, Choice):
            for arm in node.after.arms:
                found.update(arm.condition.bits)
    device = (InputKind.MEMORY, InputKind.PORT)
    return sorted(bit for bit in found if bit.turn == HELD and bit.kind in device)


def _outcomes(entries: list[Entry], register: Register, bit: int, roles: Sequence[SignalRole]) -> tuple[str, ...]:
    """What follows for 0 and for 1 where the bit is the same on every read: how many bytes go to the data register."""
    belongs = belongs_to(data_roles(roles))
    words: tuple[list[str], list[str]] = ([], [])
    for entry in entries:
        held = _held_bits(entry.tree)
        mine = [b for b in held if b.kind is register.kind and b.address in register.addresses and b.bit == bit]
        if not mine or len(held) > 8 or not data_roles(roles):
            continue
        finder = Lengths(entry.tree, belongs)
        lengths: tuple[set[CycleRange], set[CycleRange]] = (set(), set())
        for levels in product((0, 1), repeat=len(held)):
            known = dict(zip(held, levels, strict=True))
            lengths[known[mine[0]]].add(finder.between(known))
        if lengths[0] == lengths[1]:
            continue  # this entry's sequence does not depend on the bit
        for level in (0, 1):
            text = wording.num_bytes(sorted(lengths[level], key=lambda r: (r.least, r.most is None, r.most or 0)))
            words[level].append(text if len(entries) == 1 else f"{entry.name}: {text}")
    return ("; ".join(words[0]), "; ".join(words[1])) if words[0] else ()


def _values(material: Material, register: Register) -> Iterator[Testimony]:
    """Every byte that can be written to a register."""
    values: set[int] = set()
    places: set[int] = set()
    for entry in material.entries:
        values |= written_values(entry.tree, register.kind, register.addresses.__contains__)
        places |= {
            event.program_address
            for event in entry.tree.iter_events()
            if isinstance(event, Write) and event.kind is register.kind and event.address in register.addresses
        }
    if not places:
        return
    exhausted = all(entry.tree.is_exhausted for entry in material.entries)
    space, address, _ = register.key
    yield _testimony(
        Subject(SubjectKind.NOTE, (wording.values_subject(space, address),)),
        Words(wording.value_set(values, exhausted=exhausted)),
        tuple(material.origin(place) for place in sorted(places)),
        wording.METHOD_VALUES,
    )


def _sequences(material: Material) -> Iterator[Testimony]:
    """What each entry may send."""
    for entry in material.entries:
        note = "" if entry.tree.is_exhausted else wording.NOT_EXHAUSTED
        yield _testimony(
            Subject(SubjectKind.SEQUENCE, (entry.name,)),
            entry.tree,
            (material.origin(entry.tree.entry),),
            wording.METHOD_SEQUENCE,
            note,
            (_image(material, entry.tree.entry),),
        )


def _times(material: Material, roles: Sequence[SignalRole]) -> Iterator[Testimony]:
    """The handshake's times, least and most over the entries that show them."""
    clock = material.clock
    if clock is None or not any(role.signal == STROBE for role in roles):
        return
    timings = [handshake_timing(entry.tree, roles) for entry in material.entries]
    figures: tuple[tuple[str, list[CycleRange | None]], ...] = (
        (wording.STROBE_WIDTH, [timing.width for timing in timings]),
        (wording.SET_UP, [timing.set_up for timing in timings]),
        (wording.HOLD, [timing.hold for timing in timings]),
        (wording.BYTE_PERIOD, [timing.period for timing in timings]),
    )
    for what, ranges in figures:
        cycles: CycleRange | None = None
        places = set()
        for one, timing in zip(ranges, timings, strict=True):
            if one is not None:
                cycles = one if cycles is None else cycles.widen(one)
                places.add(timing.at if timing.at is not None else 0)
        if cycles is None:
            continue
        origins = tuple(material.origin(place) for place in sorted(places))
        note = wording.cycles_note(cycles, clock)
        if cycles.most is None:
            least = clock.span(CycleRange.exactly(cycles.least)).least
            value: Value = SpanLimit(least=least)
        else:
            value = clock.span(cycles)
        subject = Subject(SubjectKind.TIMING, (what,))
        falls_with = _instructions(material, sorted(places))
        yield _testimony(subject, value, origins, wording.METHOD_TIMES, note, falls_with)


def _orders(material: Material, roles: Sequence[SignalRole]) -> Iterator[Testimony]:
    """In which order the program moves and looks at the handshake's lines."""
    try:
        found = find_order([entry.tree for entry in material.entries], roles)
    except Unsupported as error:
        place = (material.origin(material.entries[0].tree.entry),)
        subject = Subject(SubjectKind.NOTE, (wording.PROGRAM_ORDER,))
        yield _testimony(subject, Words(error.words), place, wording.METHOD_ORDER)
        return
    if found is None:
        return
    order, places = found
    yield _testimony(
        Subject(SubjectKind.ORDER, (HANDSHAKE_ORDER,)),
        order,
        tuple(material.origin(place) for place in places),
        wording.METHOD_ORDER,
        "" if all(entry.tree.is_exhausted for entry in material.entries) else wording.NOT_EXHAUSTED,
        _instructions(material, places),
    )


def _pulses(material: Material, roles: Sequence[SignalRole]) -> Iterator[Testimony]:
    """At which value the program pulses the strobe's bit, where all entries that pulse it show the same."""
    strobes = [role for role in roles if role.signal == STROBE and role.direction == "write" and role.bit is not None]
    for role in strobes:
        others = [one for one in roles if one not in strobes]
        pulses = [own_pulse(entry.tree, [role, *others]) for entry in material.entries]
        levels = {one[0] for one in pulses if one is not None}
        places = sorted({place for one in pulses if one is not None for place in one[1]})
        if len(levels) != 1:
            continue
        key = Register(role.kind, role.addresses, role.direction, role.home).key
        yield _testimony(
            Subject(SubjectKind.BIT, (*key, str(role.bit))),
            BitUse(pulsed_at=levels.pop()),
            tuple(material.origin(place) for place in places),
            wording.METHOD_PULSE,
            "",
            _instructions(material, places),
        )
