"""Several devices' documents side by side: what is common, what differs, what only one says."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import HandshakeEvent, InputKind, Origin, Unsupported
from latchlore.device._patterns import Counted, Digits, OneByte, Pattern, Until, set_text
from latchlore.device._wording import (
    EITHER_WAY,
    FIRST,
    LEFT_OPEN,
    describe_addresses,
    describe_conditions,
    describe_trait,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.base import EventOrder, EventPair
    from latchlore.device._device import Citation, Command, Device, PaperForm, StatedOrder
    from latchlore.device._registers import RegisterAddresses, StatedRegister


class TraitStanding(StrEnum):
    """How the devices stand to one trait."""

    COMMON = "common"  # every device says the same
    OPEN = "open"  # they differ as printed, but a doubtful digit may read the same
    DIFFERS = "differs"  # two devices say different things
    SOME = "some"  # several say the same, others say nothing
    ONE = "one"  # only one speaks of it


@dataclass(frozen=True, slots=True)
class Trait:
    """One thing that a document can say, and what each device's does.

    `kind`: command, switch, register, pin, timing, order, interface, paper or character.  `values`: for each device in
    the order given the words, None where the document is silent.  `others`: further readings that the transcriber's
    doubt leaves.
    """

    kind: str
    name: str
    values: tuple[str | None, ...]
    others: tuple[tuple[str, ...], ...]
    origins: tuple[Origin | None, ...]

    @property
    def standing(self) -> TraitStanding:
        """How the devices stand to it."""
        said = [value for value in self.values if value is not None]
        if len(said) == 1 and len(self.values) > 1:
            return TraitStanding.ONE
        if len(set(said)) == 1:
            return TraitStanding.COMMON if len(said) == len(self.values) else TraitStanding.SOME
        readings = [
            {value, *others} for value, others in zip(self.values, self.others, strict=True) if value is not None
        ]
        return TraitStanding.OPEN if set.intersection(*readings) else TraitStanding.DIFFERS

    def __str__(self) -> str:
        return describe_trait(self)


@dataclass(frozen=True, slots=True)
class DeviceComparison:
    """All traits of several devices, by kind and then in the order of the first document that has each."""

    devices: tuple[Device, ...]
    traits: tuple[Trait, ...]

    def of_standing(self, *standings: TraitStanding) -> tuple[Trait, ...]:
        """The traits that stand so."""
        return tuple(trait for trait in self.traits if trait.standing in standings)

    def changes(self, one: int, two: int) -> tuple[Trait, ...]:
        """The traits in which two of the devices (by index) differ, one of them being silent included."""
        return tuple(trait for trait in self.traits if trait.values[one] != trait.values[two])


def telling_commands(devices: Sequence[Device]) -> tuple[Trait, ...]:
    """The commands whose use in a stream would tell devices apart; empty for fewer than two devices."""
    if len(devices) < 2:
        return ()
    found = compare_devices(devices).of_standing(TraitStanding.DIFFERS, TraitStanding.SOME, TraitStanding.ONE)
    return tuple(trait for trait in found if trait.kind == "command")


class _Said(NamedTuple):
    """One thing that a document says; `others`: the name and words of the other readings that doubt leaves.

    `tells_name`: whether the words alone tell what they are about.
    """

    kind: str
    name: str
    words: str
    others: tuple[tuple[str, str], ...]
    origin: Origin
    tells_name: bool = False

    def readings(self, row: str) -> tuple[str, ...]:
        """The words of every reading, the transcriber's own first, in a row of this name."""
        said = ((self.name, self.words), *self.others)
        return tuple(
            dict.fromkeys(words if self.tells_name or name == row else f"{name}: {words}" for name, words in said)
        )

    @property
    def names(self) -> frozenset[str]:
        """What it may be about."""
        return frozenset({self.name, *(name for name, _ in self.others)})


_Row = list[_Said | None]
_KINDS = ("command", "switch", "register", "pin", "timing", "order", "interface", "paper", "character")


def compare_devices(devices: Sequence[Device]) -> DeviceComparison:
    """Put the documents of several devices side by side.  Silence is kept apart from a difference.

    Commands are matched by their fixed bytes and the conditions under which they hold; what parameters are called does
    not matter.  Registers are matched by their lowest address, orders by pairs of events, each under its conditions.
    What a doubtful digit may make the same thing stands in one row.  Refuses fewer than two.
    """
    if len(devices) < 2:
        raise Unsupported(Origin(devices[0].file if devices else "the request"), "a comparison needs two devices")
    found: dict[tuple[str, str], _Row] = {}
    for index, device in enumerate(devices):
        for said in _everything(device):
            row = found.setdefault((said.kind, said.name), [None] * len(devices))
            before = row[index]
            # two statements on one thing in one document
            row[index] = said if before is None else before._replace(words=f"{before.words}; {said.words}", others=())
    _join_doubtful(found)
    traits = [_trait(*key, row) for key, row in found.items()]
    traits.sort(key=lambda trait: _KINDS.index(trait.kind))
    return DeviceComparison(tuple(devices), tuple(traits))


def _trait(kind: str, name: str, row: _Row) -> Trait:
    cells = [() if cell is None else cell.readings(name) for cell in row]
    return Trait(
        kind,
        name,
        tuple(cell[0] if cell else None for cell in cells),
        tuple(cell[1:] for cell in cells),
        tuple(None if cell is None else cell.origin for cell in row),
    )


def _join_doubtful(found: dict[tuple[str, str], _Row]) -> None:
    """Put beside each other what two documents may both be about, where a doubtful digit parts them.

    Only what no other document names as printed is moved, the doubtful before the sure: to the first row in which its
    own document is silent and all may name the same thing.
    """
    lone = [key for key, row in found.items() if sum(cell is not None for cell in row) == 1]
    lone.sort(key=lambda key: not any(cell is not None and cell.others for cell in found[key]))
    for key in lone:
        cells = [(index, cell) for index, cell in enumerate(found[key]) if cell is not None]
        if len(cells) > 1:  # another was moved here
            continue
        [(index, said)] = cells
        for other, row in found.items():
            if other[0] != key[0] or other == key or row[index] is not None:
                continue
            if said.names.intersection(*(cell.names for cell in row if cell is not None)):
                row[index] = said
                del found[key]
                break


def _everything(device: Device) -> Iterator[_Said]:
    for command in device.commands:
        yield _command(command)
    for switch in device.switches:
        words = ", ".join(f"{' '.join(s.levers)} = {s.value}" for s in switch.settings)
        factory = f"; factory {switch.factory}" if switch.factory else ""
        yield _Said("switch", switch.name, words + factory, (), switch.citation.origin)
    for register in device.registers:
        yield from _register(register)
    for pin in device.pins:
        words = ", ".join(word for word in (pin.signal, pin.direction, pin.active and f"active {pin.active}") if word)
        yield _Said("pin", f"{pin.connector} {pin.number}", words, (), pin.citation.origin)
    for timing in device.timings:
        words = str(timing.limit) if timing.limit is not None else f"typically {timing.typical}"
        others = tuple((timing.what, str(other)) for other in timing.others)
        yield _Said("timing", timing.what, words, others, timing.citation.origin)
    for order in device.orders:
        yield from _order(order)
    if device.data_bits is not None:
        bits, citation = device.data_bits
        yield _Said("interface", "data bits", str(bits), (), citation.origin)
    if device.paper is not None:
        yield from _paper(device.paper)
    yield from _characters(device)


def _register(register: StatedRegister) -> Iterator[_Said]:
    """The addresses, and each bit; a bit's other readings are those of its own digits and of the address's."""
    under = describe_conditions(register.when_switch)
    places = [(_place_name(place, register.direction, under), place) for place in (register.place, *register.others)]
    first, *others = [(name, describe_addresses(place.addresses)) for name, place in places]
    yield _Said("register", *first, tuple(others), register.citation.origin, tells_name=True)
    for bit in register.bits:
        own = [(bit.number, str(bit.says)), *((number, str(says)) for number, says in bit.others)]
        first, *others = [(f"{name} bit {number}", says) for name, _ in places for number, says in own]
        yield _Said("register", *first, tuple(others), bit.citation.origin)


def _place_name(place: RegisterAddresses, direction: str, under: str) -> str:
    space, lowest = place.key
    name = f"{'port ' if space == InputKind.PORT.value else ''}{lowest} ({direction})"
    return f"{name} ({under})" if under else name


def _order(one: StatedOrder) -> Iterator[_Said]:
    """Each pair of events of which a reading tells the order, but not those that hold by what the words mean."""
    readings = [_pairs_told(order) for order in (one.order, *one.others)]
    under = describe_conditions(one.when_switch)
    for pair in dict.fromkeys(pair for reading in readings for pair in reading):
        name = f"{pair[0]} and {pair[1]}" + (f" ({under})" if under else "")
        first, *others = (reading.get(pair, LEFT_OPEN) for reading in readings)
        doubtful = tuple((name, words) for words in dict.fromkeys(others) if words != first)
        yield _Said("order", name, first, doubtful, one.citation.origin)


def _pairs_told(order: EventOrder) -> dict[EventPair, str]:
    """Pair of events, the earlier of the list of events first → which of the two comes first."""
    rank = list(HandshakeEvent).index
    told = {(a, b) if rank(a) < rank(b) else (b, a): FIRST.format(event=a) for a, b in sorted(order.told())}
    return {**told, **dict.fromkeys(order.either, EITHER_WAY)}


def _command(command: Command) -> _Said:
    under = describe_conditions({**command.when, **command.when_switch})
    first, *others = [
        (f"{pattern.code} ({under})" if under else pattern.code, _command_words(command, pattern))
        for pattern in (command.pattern, *command.pattern.others)
    ]
    return _Said("command", *first, tuple(others), command.citation.origin, tells_name=True)


def _command_words(command: Command, pattern: Pattern) -> str:
    """The shape and what it does; the document's own words only where nothing else is said of it."""
    does = command.effect or ("nothing on the paper" if command.sets or command.sets_from else command.meaning)
    words = f"{shape_text(pattern)}: {does}"
    if command.amount is not None:
        amount = command.amount
        words += f" by {_numbered(pattern).get(amount, amount) if isinstance(amount, str) else amount}"
    if command.graphics is not None:
        g = command.graphics
        side = ("top" if g.by_column else "left") if g.high_first else ("bottom" if g.by_column else "right")
        words += f", {g.dots} dots of {g.unit_bytes or 'all'} bytes, highest bit at the {side}"
    changed = [f"{name} {value}" for name, value in command.sets.items()]
    changed += [f"{name} by {_numbered(pattern).get(by, by)}" for name, by in command.sets_from.items()]
    return words + (f", sets {', '.join(changed)}" if changed else "")


def _numbered(pattern: Pattern) -> dict[str, str]:
    """Parameters and data by the order in which they stand: p1, p2, ..."""
    names = dict.fromkeys((*pattern.names, *pattern.data_names))
    return {name: f"p{k + 1}" for k, name in enumerate(names)}


def shape_text(pattern: Pattern) -> str:
    """The pattern with its parameters called p1, p2, ... in order, so that patterns of two documents compare."""
    names = _numbered(pattern)
    words = []
    for part in pattern.parts:
        if isinstance(part, OneByte):
            fields = " ".join(f"{names[f.name]}[{','.join(map(str, f.bits))}]+{f.weight}" for f in part.fields)
            plain = "byte" if len(part.values) == 256 else set_text(part.values)
            whole = [f for f in part.fields if len(f.bits) == 8 and not f.weight]
            words.append(f"{names[whole[0].name]}={plain}" if whole else f"{plain}{{{fields}}}" if fields else plain)
        elif isinstance(part, Digits):
            words.append(f"{names[part.name]}#")
        elif isinstance(part, Counted):
            count = " ".join(names.get(step, step) if isinstance(step, str) else str(step) for step in part.count.steps)
            words.append(f"{names[part.name]}*({count})")
        elif isinstance(part, Until):
            words.append(f"{names[part.name]}->{set_text(part.stops)}")
    return " ".join(words)


def _paper(form: PaperForm) -> Iterator[_Said]:
    rows: dict[str, object] = {
        "dots across": form.head_dots,
        "dot pitch across": f"{form.dot_x} mm",
        "dot pitch along": f"{form.dot_y} mm",
        "characters in a line": form.columns,
        "cell": f"{form.cell_dots} by {form.cell_rows} dots",
        "step": f"{form.step} mm",
        "line feed": f"{form.line_feed} steps",
        "at the edge": form.at_edge,
        "automatic line feed": _auto(form),
        "paper width": f"{form.width} mm",
        "look": form.look,
        "form": "no form" if form.form_lines is None else f"{form.form_lines} lines",
    }
    for name, words in rows.items():
        yield _Said("paper", name, str(words), (), form.citation.origin)


def _auto(form: PaperForm) -> str:
    if form.auto_feeds:
        return "by " + " or ".join(str(way) for way in form.auto_feeds)
    return "yes" if form.auto_line_feed else "no"


def _characters(device: Device) -> Iterator[_Said]:
    if not any(command.effect == "print" for command in device.commands):
        return
    place = Origin.at_line(device.file, 1)
    cited: dict[int, Citation] = dict(device.characters.citations)
    for code, char in sorted(device.characters.characters.items()):
        yield _Said("character", f"{code:02X}", char, (), cited[code].origin if code in cited else place)
