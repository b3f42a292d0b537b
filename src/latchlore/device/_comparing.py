"""Several devices' documents side by side: what is common, what differs, what only one says."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from latchlore.base import Origin, Unsupported
from latchlore.device._patterns import Counted, Digits, OneByte, Pattern, Until, set_text
from latchlore.device._wording import describe_trait

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.device._device import Citation, Command, Device, PaperForm


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

    `kind`: command, pin, switch, timing, paper, character, interface.  `values`: for each device in the order given the
    words, None where the document is silent.  `others`: further readings that the transcriber's doubt leaves.
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


_Said = tuple[str, str, str, tuple[str, ...], Origin]  # kind, name, words, other readings, place
_KINDS = ("command", "switch", "pin", "timing", "interface", "paper", "character")


def compare_devices(devices: Sequence[Device]) -> DeviceComparison:
    """Put the documents of several devices side by side.  Silence is kept apart from a difference.

    Commands are matched by their fixed bytes and the conditions under which they hold; what parameters are called does
    not matter.  Refuses fewer than two.
    """
    if len(devices) < 2:
        raise Unsupported(Origin(devices[0].file if devices else "the request"), "a comparison needs two devices")
    found: dict[tuple[str, str], list[tuple[str, tuple[str, ...], Origin] | None]] = {}
    for index, device in enumerate(devices):
        for kind, name, words, others, origin in _everything(device):
            row = found.setdefault((kind, name), [None] * len(devices))
            before = row[index]
            if before is not None:  # two statements on one thing in one document
                row[index] = (f"{before[0]}; {words}", (), before[2])
            else:
                row[index] = (words, others, origin)
    traits = [
        Trait(
            kind,
            name,
            tuple(None if cell is None else cell[0] for cell in row),
            tuple(() if cell is None else cell[1] for cell in row),
            tuple(None if cell is None else cell[2] for cell in row),
        )
        for (kind, name), row in found.items()
    ]
    traits.sort(key=lambda trait: _KINDS.index(trait.kind))
    return DeviceComparison(tuple(devices), tuple(traits))


def _everything(device: Device) -> Iterator[_Said]:
    for command in device.commands:
        yield _command(command)
    for switch in device.switches:
        words = ", ".join(f"{' '.join(s.levers)} = {s.value}" for s in switch.settings)
        factory = f"; factory {switch.factory}" if switch.factory else ""
        yield "switch", switch.name, words + factory, (), switch.citation.origin
    for pin in device.pins:
        words = ", ".join(word for word in (pin.signal, pin.direction, pin.active and f"active {pin.active}") if word)
        yield "pin", f"{pin.connector} {pin.number}", words, (), pin.citation.origin
    for timing in device.timings:
        words = str(timing.limit) if timing.limit is not None else f"typically {timing.typical}"
        yield "timing", timing.what, words, tuple(str(other) for other in timing.others), timing.citation.origin
    if device.data_bits is not None:
        bits, citation = device.data_bits
        yield "interface", "data bits", str(bits), (), citation.origin
    if device.paper is not None:
        yield from _paper(device.paper)
    yield from _characters(device)


def _command(command: Command) -> _Said:
    conditions = {**command.when, **command.when_switch}
    under = ", ".join(f"{name} {value}" for name, value in sorted(conditions.items()))
    name = f"{command.code} ({under})" if under else command.code
    others = tuple(_command_words(command, pattern) for pattern in command.pattern.others)
    return "command", name, _command_words(command, command.pattern), others, command.citation.origin


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
        yield "paper", name, str(words), (), form.citation.origin


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
        yield "character", f"{code:02X}", char, (), cited[code].origin if code in cited else place
