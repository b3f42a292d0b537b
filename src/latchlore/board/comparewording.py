"""Sentences about what differs between two versions of a board."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.board._registermap import Conflict, PinDrive, Register

NOT_DECODED = "registers and bits were not compared: {why}"
MOVED_BIT = "{sense}, which was bit {bit}"
NO_EFFECT = "no effect besides"
HEADINGS = {
    "register": "Registers",
    "bit": "Bits",
    "pin": "Connector pins",
    "strap": "Straps",
    "pull": "Pulls",
    "conflict": "Two outputs at once",
    "trouble": "What is amiss",
    "part": "Parts",
    "joint": "Joints",
}
NOTHING_CHANGED = "No claim differs, and no joint."


def register_words(register: Register | None) -> str:
    """A register as a subject."""
    assert register is not None
    space, address, direction = register.key
    return f"{'port' if space == 'port' else 'register'} {address} ({direction}, {register.kind.value})"


def addresses_words(register: Register) -> str:
    """Where it answers."""
    words = f"{register.addresses} ({register.mirrors} address{'es' * (register.mirrors != 1)})"
    return words if register.certain == register.addresses else f"{words}, certain at {register.certain}"


def pin_words(connector: str, number: int) -> str:
    """A connector pin as a subject."""
    return f"{connector} pin {number}"


def stated_words(signal: str, direction: str, active: int | None) -> str:
    """What the connector table says of a pin."""
    level = "" if active is None else ", true when high" if active else ", true when low"
    return f"{signal}, {direction}{level}"


def drive_words(drive: PinDrive) -> str:
    """How a pin is driven."""
    kind = "open collector" if drive.open_collector else "driven high and low"
    pull = ", with a pull" if drive.pulled else ""
    bits = ", ".join(f"{'NOT ' if reach.inverted else ''}{reach.signal}" for reach in drive.switched_by)
    return f"{kind}{pull}{f', enabled by {bits}' if bits else ''}"


def conflict_words(conflict: Conflict) -> str:
    """Where two outputs are on together."""
    sure = conflict.certain.count
    return f"at {conflict.addresses}" + ("" if sure == conflict.addresses.count else f", for sure at {sure} addresses")
