"""What of a device a carrier of fewer bits can use: text yes, dot graphics no, and what each needs."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from latchlore.device._patterns import Counted, Digits, OneByte, Until, set_text
from latchlore.device._wording import describe_usable

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.device._device import Command, Device


@dataclass(frozen=True, slots=True)
class Carrier:
    """What a card or cable carries: `carried`, a mask of the bits that follow the host; the others read as in `rest`.

    Both 0 to 255.  A seven-bit card whose line 7 is tied low: ``Carrier(0x7F, 0)``.
    """

    carried: int
    rest: int = 0

    def __post_init__(self) -> None:
        if not 0 <= self.carried <= 255 or not 0 <= self.rest <= 255:
            raise ValueError(f"masks are 0 to 255, not {self.carried} and {self.rest}")

    def carries(self, byte: int) -> bool:
        """Whether the device can be made to see this byte."""
        return not (byte ^ self.rest) & ~self.carried & 0xFF

    def lacking(self, byte: int) -> int:
        """Mask of the bits that would have to be carried for this byte."""
        return (byte ^ self.rest) & ~self.carried & 0xFF


class Usable(StrEnum):
    """How far a command can be used."""

    YES = "yes"
    PARTLY = "partly"
    NO = "no"


@dataclass(frozen=True, slots=True)
class UsableCommand:
    """How far one command can be used over a carrier, which bits it lacks, and why in words."""

    command: Command
    usable: Usable
    lacking: int
    reasons: tuple[str, ...]

    def __str__(self) -> str:
        return describe_usable(self)


@dataclass(frozen=True, slots=True)
class UsableKind:
    """How far the commands of one kind pass a carrier: bits that those lack which do not pass wholly; how many do."""

    kind: str
    usable: Usable
    lacking: int
    num_whole: int
    num_rows: int


def check_carrier(device: Device, carrier: Carrier) -> tuple[UsableCommand, ...]:
    """How far each command of a device can be used over a carrier, in table order.

    NO where a byte that the command must have cannot be made, or where a bit of dot graphics that is a dot never
    follows the host; PARTLY where some values cannot be made.  Which values a program sends is not asked here.
    """
    return tuple(_check(command, carrier) for command in device.commands)


def _check(command: Command, carrier: Carrier) -> UsableCommand:
    found = [*_bytes(command, carrier), *_dots(command, carrier)]
    usable = Usable.YES
    for verdict, _, _ in found:
        if verdict is Usable.NO:
            usable = Usable.NO
        elif verdict is Usable.PARTLY and usable is Usable.YES:
            usable = Usable.PARTLY
    worst = [one for one in found if one[0] is usable]
    lacking = 0
    for _, mask, _ in worst:
        lacking |= mask
    return UsableCommand(command, usable, lacking, tuple(words for _, _, words in found))


_Finding = tuple[Usable, int, str]


def _bytes(command: Command, carrier: Carrier) -> Iterator[_Finding]:
    drawn = command.graphics.data if command.graphics is not None else None
    for part in command.pattern.parts:
        if isinstance(part, OneByte):
            name = ", ".join(field.name for field in part.fields)
            yield from _one_set(part.values, carrier, command, name)
        elif isinstance(part, Digits):
            yield from _one_set(frozenset(range(0x30, 0x3A)), carrier, command, part.name)
        elif isinstance(part, Until) and not any(carrier.carries(stop) for stop in part.stops):
            lacking = min((carrier.lacking(stop) for stop in part.stops), key=lambda mask: (mask.bit_count(), mask))
            yield Usable.NO, lacking, f"its end {set_text(part.stops)} cannot be made"
        elif isinstance(part, Counted | Until) and part.name != drawn and carrier.carried != 0xFF:
            mask = ~carrier.carried & 0xFF
            yield Usable.PARTLY, mask, f"{part.name}: only bytes with {_levels(mask, carrier.rest)}"


def _one_set(values: frozenset[int], carrier: Carrier, command: Command, name: str) -> Iterator[_Finding]:
    parameter = command.parameters.get(name)
    if parameter is not None:
        values = frozenset(value for value in values if parameter.allows(value)) or values
    lost = frozenset(value for value in values if not carrier.carries(value))
    if not lost:
        return
    lacking = 0
    for value in lost:
        lacking |= carrier.lacking(value)
    what = f"{name} = " if name else ""
    if lost == values:
        least = min((carrier.lacking(value) for value in lost), key=lambda mask: (mask.bit_count(), mask))
        yield Usable.NO, least, f"{what}{set_text(lost)} cannot be made"
    else:
        yield Usable.PARTLY, lacking, f"{what}{set_text(lost)} cannot be made"


def _dots(command: Command, carrier: Carrier) -> Iterator[_Finding]:
    """Bits of the graphics' bytes that are dots and never follow the host."""
    graphics = command.graphics
    if graphics is None:
        return
    in_last = graphics.dots - 8 * (graphics.unit_bytes - 1) if graphics.unit_bytes else 8
    used = 0xFF
    if graphics.unit_bytes == 1 and in_last < 8:
        used = 0xFF << 8 - in_last & 0xFF if graphics.high_first else (1 << in_last) - 1
    mask = used & ~carrier.carried
    if mask:
        always = "set" if carrier.rest & mask else "blank"
        yield Usable.NO, mask, f"the dots of {_bit_names(mask)} would stay {always}"


def _bit_names(mask: int) -> str:
    bits = [str(bit) for bit in reversed(range(8)) if mask >> bit & 1]
    return f"bit{'s' if len(bits) > 1 else ''} {', '.join(bits)}"


def _levels(mask: int, rest: int) -> str:
    return ", ".join(f"bit {bit} = {rest >> bit & 1}" for bit in reversed(range(8)) if mask >> bit & 1)


KINDS = {
    "text": ("print",),
    "moving": ("carriage return", "line feed", "form feed", "feed", "line step", "form length", "backspace", "tab"),
    "dot graphics": ("columns", "rows"),
    "settings": ("reset", "nothing"),
}
"""What the rows of a table are for, by their effects on the paper."""


def sum_up_carrier(commands: Sequence[UsableCommand]) -> tuple[UsableKind, ...]:
    """How far each kind of command passes a carrier: wholly where all of its rows do, not at all where none does.

    Rows whose part on the paper is not known count as settings where they set a mode, else as other commands.
    """
    found = []
    for kind in (*KINDS, "other commands"):
        rows = [one for one in commands if _kind(one.command) == kind]
        if not rows:
            continue
        uses = {one.usable for one in rows}
        usable = uses.pop() if len(uses) == 1 else Usable.PARTLY
        lacking = 0
        for one in rows:
            lacking |= one.lacking if one.usable is not Usable.YES else 0
        found.append(UsableKind(kind, usable, lacking, sum(one.usable is Usable.YES for one in rows), len(rows)))
    return tuple(found)


def _kind(command: Command) -> str:
    known = next((kind for kind, effects in KINDS.items() if command.effect in effects), None)
    if known is not None:
        return known
    return "settings" if command.sets or command.sets_from else "other commands"
