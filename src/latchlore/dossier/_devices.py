"""The documents' tables as the page shows them: commands, switches, timings, statements; and devices side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import BadInput, Unsupported
from latchlore.device import (
    TraitStanding,
    check_document,
    compare_devices,
    describe_bit,
    explain_stream,
    order_family,
)
from latchlore.dossier import wording
from latchlore.dossier._view import PlaceLink

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from latchlore.base import Origin
    from latchlore.device import Citation, Command, Device, DeviceComparison, Family, Trait
    from latchlore.evidence import Table

    LinkToOrigin = Callable[[Origin], str]

MAX_BYTES = 4096
MAX_COMPARED = 12


class LineView(NamedTuple):
    """One row of a document's table: its first cell, the second, remarks, what was printed, a doubt, and its place."""

    key: str
    words: str
    remarks: tuple[str, ...]
    quote: str
    doubt: str
    place: PlaceLink


class PartView(NamedTuple):
    """One table of a document; `is_code`: its first column holds bytes."""

    title: str
    columns: tuple[str, str]
    is_code: bool
    lines: tuple[LineView, ...]


class DeviceView(NamedTuple):
    """A document: its title, bibliographic facts, tables, and what it says against itself."""

    anchor: str
    title: str
    facts: str
    file: str
    parts: tuple[PartView, ...]
    slips: tuple[tuple[PlaceLink, str, tuple[str, ...]], ...]


class TraitView(NamedTuple):
    """One thing that devices do not have in common: for each, the words (empty: silent) and the place."""

    name: str
    standing: str
    cells: tuple[tuple[str, str, PlaceLink | None], ...]  # device, words, place


class VariantsView(NamedTuple):
    """Devices compared: names, what differs, how much is the same, the order, and which of them explain what."""

    names: tuple[str, ...]
    traits: tuple[TraitView, ...]
    same: str
    family: tuple[str, ...]
    explained: tuple[tuple[str, str, tuple[str, ...]], ...]  # sequence, link, sentences


def device_anchor(index: int) -> str:
    """The anchor of a document's tables, by its place among the study's documents."""
    return f"document-{index + 1}"


def view_devices(devices: Sequence[Device], link: LinkToOrigin) -> tuple[DeviceView, ...]:
    """Every document that has a row to show, in the order of their files."""
    views = []
    for k, device in enumerate(devices):
        parts = tuple(part for part in _parts(device, link) if part.lines)
        slips = tuple((_place(one.origin, link), one.words, one.evidence) for one in check_document(device))
        if parts or slips:
            views.append(DeviceView(device_anchor(k), device.title, _facts(device), device.file, parts, slips))
    return tuple(views)


def iter_device_origins(devices: Sequence[Device]) -> Iterator[Origin]:
    """Every place that the documents' tables and their comparison lead to."""
    for device in devices:
        for citation in _citations(device):
            yield citation.origin
        for one in check_document(device):
            yield one.origin
    comparison = compare_documents(devices)
    for trait in _told(comparison.traits) if comparison is not None else ():
        yield from (origin for origin in trait.origins if origin is not None)


def _citations(device: Device) -> Iterator[Citation]:
    for command in device.commands:
        yield command.citation
    for switch in device.switches:
        yield switch.citation
        yield from (setting.citation for setting in switch.settings)
    yield from (one.citation for one in device.pins)
    yield from (one.citation for one in device.timings)
    yield from (one.citation for one in device.orders)
    for register in device.registers:
        yield register.citation
        yield from (bit.citation for bit in register.bits)
    yield from (one.citation for one in device.sequences)
    yield from (one.citation for one in device.claims)


def _facts(device: Device) -> str:
    words = [device.kind, device.name, f"{device.edition} edition" if device.edition else "", device.date]
    words += [f"{device.pages} {'page' if device.pages == 1 else 'pages'}" if device.pages else "", device.holder]
    return "; ".join(word for word in words if word)


def _place(origin: Origin, link: LinkToOrigin) -> PlaceLink:
    return PlaceLink(str(origin), link(origin))


def _line(key: str, words: str, remarks: Sequence[str], citation: Citation, link: LinkToOrigin) -> LineView:
    return LineView(key, words, tuple(remarks), citation.quote, citation.doubt, _place(citation.origin, link))


def _parts(device: Device, link: LinkToOrigin) -> Iterator[PartView]:
    titles, columns = wording.PART_TITLES, wording.PART_COLUMNS
    lines = tuple(_command(command, link) for command in device.commands)
    yield PartView(titles["commands"], columns["commands"], True, lines)
    settings = []
    for switch in device.switches:
        for one in switch.settings:
            levers = " ".join(f"{lever} {at}" for lever, at in zip(switch.levers, one.levers, strict=True))
            factory = (wording.FACTORY,) if one.value == switch.factory else ()
            settings.append(_line(f"{switch.name}: {levers}", one.value, factory, one.citation, link))
    yield PartView(titles["switches"], columns["switches"], False, tuple(settings))
    pins = tuple(
        _line(
            f"{pin.connector} {pin.number}",
            ", ".join(word for word in (pin.signal, pin.direction, pin.active and f"active {pin.active}") if word),
            (),
            pin.citation,
            link,
        )
        for pin in device.pins
    )
    yield PartView(titles["pins"], columns["pins"], False, pins)
    timings = []
    for timing in device.timings:
        words = str(timing.limit) if timing.limit is not None else wording.TYPICALLY.format(time=timing.typical)
        timings.append(_line(timing.what, words, _or_reads(timing.others), timing.citation, link))
    yield PartView(titles["timings"], columns["timings"], False, tuple(timings))
    registers = []
    for register in device.registers:
        name = f"{register.place} ({register.direction})"
        remarks = [*_only_while(register.when_switch), *_or_reads(register.others)]
        registers.append(_line(name, wording.REGISTER, remarks, register.citation, link))
        for bit in register.bits:
            others = _or_reads(describe_bit(number, says) for number, says in bit.others)
            registers.append(
                _line(wording.BIT_OF.format(register=name, bit=bit.number), str(bit.says), others, bit.citation, link)
            )
    yield PartView(titles["registers"], columns["registers"], False, tuple(registers))
    orders = tuple(
        _line(
            wording.ONE_BYTE,
            str(one.order),
            [*_only_while(one.when_switch), *_or_reads(one.others)],
            one.citation,
            link,
        )
        for one in device.orders
    )
    yield PartView(titles["orders"], columns["orders"], False, orders)
    sent = tuple(_line(one.name, one.data.hex(" ").upper(), (), one.citation, link) for one in device.sequences)
    yield PartView(titles["sequences"], columns["sequences"], False, sent)
    said = tuple(_line(one.about, one.says, (), one.citation, link) for one in device.claims)
    yield PartView(titles["claims"], columns["claims"], False, said)


def _or_reads(others: Iterable[object]) -> list[str]:
    return [wording.OR_READS.format(words=other) for other in others]


def _only_while(settings: Mapping[str, str]) -> list[str]:
    words = ", ".join(f"{name} {value}" for name, value in settings.items())
    return [wording.ONLY_WHILE.format(what=words)] if words else []


def _command(command: Command, link: LinkToOrigin) -> LineView:
    remarks = _only_while({**command.when, **command.when_switch})
    if command.otherwise:
        remarks.append(wording.OTHERWISE)
    for parameter in command.parameters.values():
        bounds = [] if parameter.least is None else [f"from {parameter.least}"]
        bounds += [] if parameter.most is None else [f"to {parameter.most}"]
        bounds += [parameter.unit] if parameter.unit else []
        bounds += [] if parameter.default is None else [wording.AT_POWER_ON.format(value=parameter.default)]
        bounds += [f"{value} = {words}" for value, words in parameter.values.items()]
        bounds += [wording.DOUBT.format(doubt=parameter.doubt)] if parameter.doubt else []
        remarks.append(f"{parameter.name}: {', '.join(bounds) or wording.ANY_VALUE}")
    if command.effect and command.effect != command.meaning:
        amount = "" if command.amount is None else f" by {command.amount}"
        remarks.append(wording.ON_PAPER.format(effect=f"{command.effect}{amount}"))
    changed = [f"{name} {value}" for name, value in command.sets.items()]
    changed += [f"{name} by {by}" for name, by in command.sets_from.items()]
    if changed:
        remarks.append(wording.SETS.format(what=", ".join(changed)))
    return _line(str(command.pattern), command.meaning, remarks, command.citation, link)


# -- side by side ----------------------------------------------------------------------------------------------------


def view_variants(devices: Sequence[Device], table: Table, link: LinkToOrigin) -> VariantsView | None:
    """The devices that have a table, side by side; None where there are fewer than two.

    `explained`: for each sequence logged on the wire, how far each device explains it.
    """
    comparison = compare_documents(devices)
    if comparison is None:
        return None
    compared = comparison.devices
    names = tuple(device.name for device in compared)
    traits = tuple(_trait(trait, names, link) for trait in _told(comparison.traits))
    same = wording.in_common(len(comparison.of_standing(TraitStanding.COMMON)))
    family = order_family(comparison) if len(compared) <= MAX_COMPARED else None
    return VariantsView(names, traits, same, _family(family), tuple(_explained(compared, table, link)))


def compare_documents(devices: Sequence[Device]) -> DeviceComparison | None:
    """The documents that say what a device does, compared; None where there are fewer than two."""
    found = [
        one for one in devices if one.commands or one.pins or one.timings or one.switches or one.registers or one.orders
    ]
    return compare_devices(found) if len(found) > 1 else None


def _told(traits: Sequence[Trait]) -> list[Trait]:
    """What is not common, differences first."""
    order = (TraitStanding.DIFFERS, TraitStanding.OPEN, TraitStanding.SOME, TraitStanding.ONE)
    return sorted((one for one in traits if one.standing in order), key=lambda one: order.index(one.standing))


def _trait(trait: Trait, names: Sequence[str], link: LinkToOrigin) -> TraitView:
    cells = []
    for name, value, others, origin in zip(names, trait.values, trait.others, trait.origins, strict=True):
        words = " ".join(filter(None, (value or "", *_or_reads(others))))
        cells.append((name, words, None if origin is None else _place(origin, link)))
    return TraitView(f"{trait.kind} {trait.name}", wording.TRAIT_WORDS[trait.standing], tuple(cells))


def _family(family: Family | None) -> tuple[str, ...]:
    return () if family is None else tuple(line.strip() for line in str(family).splitlines())


def _explained(
    devices: Sequence[Device], table: Table, link: LinkToOrigin
) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    spoken = [device for device in devices if device.commands]
    for logged in table.iter_logged():
        if len(logged.sequence.items) <= MAX_BYTES:
            try:
                found = explain_stream(spoken, logged.sequence.data)
            except (BadInput, Unsupported):  # too many switches to try
                continue
            yield logged.name, link(logged.origins[0]), tuple(map(str, found))
