"""Sentences of the board wing."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.base import AddressSet, Span, SpanRange
    from latchlore.board._markings import Marking
    from latchlore.board._registermap import Collision

DECODED = "all addresses evaluated through the traced nets"
FOLLOWED = "the way of the bit followed through the parts: {way}"
CONNECTOR = "connector table of the net file"
COUNTED = "numbered signals of the connector counted that one register drives"
STRAPPED = "the strap's position as stated in the net file"
NO_WAY = "no way from the bit leads anywhere"

AS_SEEN_FROM_DEVICE = {"in": "out", "out": "in", "both": "both", "ground": "ground", "power": "supply", "none": "none"}
"""A connector pin's direction turned to the device's side, which documents speak from."""


COLLIDED = "address sets of the registers and the stated cards compared"


def collision_subject(card: str, space: str, direction: str) -> str:
    """The subject of collisions with a card, or of registers with one another."""
    if card:
        return f"{space} {direction} shared with {card}"
    return f"{space} {direction} that reaches two registers"


DRIVERS_COMPARED = "drivers of the board's host lines compared with those of the stated cards"


def shared_line_subject(line: str, card: str) -> str:
    """The subject of a host line that another card drives as well."""
    return f"{line} shared with {card}"


def shared_line_words(line: str, card: str, drivers: list[str], *, can_let_go: bool, all_open: bool) -> str:
    """What two drivers of one line mean."""
    names = " and ".join(drivers)
    if all_open:
        return f"{names} pulls {line} down here and {card} may drive it too: two open collectors share a line"
    if can_let_go:
        return f"{names} drives {line} here while it is enabled, {card} drives it too: the two cannot both be enabled"
    return f"{names} always drives {line} here, {card} drives it too: the two cannot stand in one machine"


def collision_words(first: str, other: str, addresses: AddressSet) -> str:
    """What shares how many addresses, and which."""
    count = addresses.count
    both = f"{first} and {other}" if other else first
    return f"{both} at {count} address{'es' if count > 1 else ''}, lowest {addresses.lowest:X} ({addresses})"


def shared(one: Collision) -> str:
    """Two things that one access reaches, with its space and direction."""
    words = collision_words(one.first, one.other, one.addresses)
    return f"{one.space} {one.direction}: {words}"


LOOPED = "gates that feed themselves cut open at one net and computed for every level of their inputs"


def loop_subject(pins: tuple[object, ...]) -> str:
    """The subject of gates that feed themselves."""
    return f"feedback through {', '.join(str(at) for at in pins)}"


PULSED = "resistor and capacitor from the nets, formula and limits from the data sheets; capacitor as it is marked"
PULSE_OPEN = "not known"


def pulse_subject(name: str) -> str:
    """The subject of a one-shot's pulse."""
    return f"pulse of {name}"


def rule_words(source: str, formula: SpanRange) -> str:
    """One sheet's rule and what it gives for the values as marked."""
    return f"{formula} by {source}"


def retrigger_words(dead: Span) -> str:
    """How soon a second trigger is ignored."""
    return f"a second trigger sooner than {dead} after the first is ignored [TI SDLA006A]"


MARKED = "words of the chip read as type and date, then its pins compared with the nets"
NO_TYPE = "no type"


def marking_subject(name: str) -> str:
    """The subject of a chip's marking."""
    return f"marking of {name}"


def marking_notes(marking: Marking) -> list[str]:
    """The date, what was ruled out, and what else the words may mean."""
    notes = []
    for reading in marking.readings:
        if reading.dates:
            weeks = " or ".join(str(date) for date in reading.dates)
            notes.append(
                f"{reading.date_word} is {weeks}" + (f" on a {reading.type.name}" if marking.types[1:] else "")
            )
        if reading.rest:
            notes.append(f"not read: {' '.join(reading.rest)}")
    notes += [f"not a {words}" for words in marking.dropped]
    return list(dict.fromkeys([*notes, *marking.notes]))


def way_words(way: tuple[object, ...]) -> str:
    """The pins of a way, data side first."""
    return " - ".join(str(at) for at in way) or NO_WAY


STRAP_LEVEL = "the level of the strap's net in its stated position, through its rail or its pull"


def strap_when(joined: tuple[int, ...] | None) -> str:
    """Under which position a strap's level holds."""
    return f"with the strap {strap_words(joined)}, as stated"


def strap_words(joined: tuple[int, ...] | None) -> str:
    """A strap's position."""
    if joined is None:
        return "position not known"
    if not joined:
        return "open"
    return "joined" if joined == (1, 2) else f"{joined[0]}-{joined[1]}"


def pin_text(at: object) -> str:
    """A pin as it is called at the bench: ``U9 pin 15``."""
    owner, _, pin = str(at).partition(".")
    return f"{owner.upper()} pin {pin.upper()}"


def two_pins(near: object, far: object) -> str:
    """Two pins that were found joined."""
    return f"{pin_text(near)} and {pin_text(far)}"


def pins_joined(one: object, other: object) -> str:
    """What a reading of a meter joined, as it is typed."""
    return f"{one} to {other}"


def pins_apart(one: object, other: str) -> str:
    """What a reading of a meter found apart, as it is typed."""
    return f"{one} not to {other}"


def pin_row(first: object, last: object) -> str:
    """Several pins that one reading touched."""
    return f"{first} … {last}"


def pin_and_line(at: object, number: int) -> str:
    """A pin on the computer's data line."""
    return f"{pin_text(at)} and the line D{number}"


def tied_pin(at: object, net: str) -> str:
    """A pin that was found joined to a rail."""
    return f"{pin_text(at)} and {net.upper()}"


def part_text(name: str, marking: str) -> str:
    """A part with its marking."""
    return f"{name.upper()} ({marking})"


def address_line(line: int) -> str:
    """An address line of the computer."""
    return f"A{line}"


def pin_and_net(at: object, net: str) -> str:
    """A pin on its net."""
    return f"{pin_text(at)} and the net {net}"


def width_words(count: int, *, is_least: bool) -> str:
    """How many data lines arrive, or how many at least."""
    return f"{count} bits or more" if is_least else f"{count} bits"
