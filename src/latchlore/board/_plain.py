"""A register map and a comparison as plain data, for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from latchlore.board._loops import describe_loop

if TYPE_CHECKING:
    from latchlore.base import AddressSet, BitSense
    from latchlore.board._compare import Comparison
    from latchlore.board._registermap import PinDrive, Reach, Register, RegisterBit, RegisterMap


def registers_to_plain(found: RegisterMap) -> dict[str, Any]:
    """The register map: registers in their order, connector pins, conflicts, troubles, what is not done.

    Addresses are patterns of 0, 1 and x; a bit's `way` is the pins passed, data side first.
    """
    return {
        "title": found.board.title,
        "registers": [_register(one) for one in found.registers],
        "pins": [_pin(one) for one in found.pins],
        "conflicts": [
            {
                "net": one.net,
                "first": str(one.first),
                "second": str(one.second),
                "during": one.during,
                "addresses": _addresses(one.addresses),
                "certain": _addresses(one.certain),
            }
            for one in found.conflicts
        ],
        "collisions": [
            {
                "first": one.first,
                "other": one.other,
                "space": one.space,
                "direction": one.direction,
                "addresses": _addresses(one.addresses),
            }
            for one in found.collisions
        ],
        "loops": [
            {"kind": one.kind, "pins": [str(at) for at in one.pins], "words": describe_loop(one)} for one in found.loops
        ],
        "troubles": [
            {"kind": one.kind, "place": one.place, "words": one.words, "origin": str(one.origin)}
            for one in found.troubles
        ],
        "floating_reads": [
            {"space": space, "addresses": _addresses(addresses)} for space, addresses in found.floating_reads
        ],
        "not_done": list(found.not_done),
    }


def _register(register: Register) -> dict[str, Any]:
    space, address, direction = register.key
    return {
        "space": space,
        "address": address,
        "direction": direction,
        "kind": register.kind.value,
        "addresses": _addresses(register.addresses),
        "num_addresses": register.mirrors,
        "certain": _addresses(register.certain),
        "unsure": list(register.unsure),
        "matters": {
            "lines": list(register.matters.lines),
            "controls": list(register.matters.controls),
            "open_at": list(register.matters.open_at),
        },
        "inside": [{"part": one.part, "chip": one.chip, "register": one.register} for one in register.inside],
        "parts": list(register.parts),
        "effects": list(register.effects),
        "reaches": [_reach(reach) for reach in register.reaches],
        "also": _addresses(register.also),
        "note": register.note,
        "bits": [_bit(bit) for bit in register.bits],
        "origins": [str(origin) for origin in register.origins],
    }


def _bit(bit: RegisterBit) -> dict[str, Any]:
    return {
        "bit": bit.number,
        "sense": _sense(bit.sense),
        "words": str(bit.sense),
        "way": [str(at) for at in bit.way],
        "reaches": [_reach(reach) for reach in bit.reaches],
        "cell": str(bit.cell) if bit.cell is not None else None,
        "note": bit.note,
        "origins": [str(origin) for origin in bit.origins],
    }


def _sense(sense: BitSense) -> dict[str, Any]:
    return {"kind": sense.kind.value, "source": sense.source, "inverted": sense.inverted, "level": sense.level}


def _reach(reach: Reach) -> dict[str, Any]:
    return {"signal": reach.signal, "inverted": reach.inverted, "way": [str(at) for at in reach.way]}


def _pin(drive: PinDrive) -> dict[str, Any]:
    return {
        "connector": drive.connector.name,
        "pin": drive.pin.number,
        "signal": drive.pin.signal,
        "sense": _sense(drive.sense),
        "words": str(drive.sense),
        "open_collector": drive.open_collector,
        "pulled": drive.pulled,
        "way": [str(at) for at in drive.way],
        "origins": [str(origin) for origin in drive.origins],
    }


def _addresses(addresses: AddressSet) -> str:
    return str(addresses)


def comparison_to_plain(found: Comparison) -> dict[str, Any]:
    """The changes in their order."""
    return {
        "changes": [
            {
                "claim": one.claim.value,
                "turn": one.turn.value,
                "subject": one.subject,
                "old": one.old,
                "new": one.new,
                "because": list(one.because),
                "old_origins": [str(origin) for origin in one.old_origins],
                "new_origins": [str(origin) for origin in one.new_origins],
            }
            for one in found.changes
        ],
        "not_done": list(found.not_done),
    }
