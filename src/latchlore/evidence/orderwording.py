"""The sentences of weighing orders of events."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import StatementKind, Witness

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import EventOrder, EventPair, Statement

OTHER_EVENTS = "they speak of other events, or of none in an order: nothing is compared"
_WHO = {
    Witness.BOARD: "the board",
    Witness.PROGRAM: "the program",
    Witness.WIRE: "the wire",
    Witness.DOCUMENTS: "the document",
}


def _pairs(pairs: Sequence[EventPair]) -> str:
    return ", ".join(f"{first.value!r} before {second.value!r}" for first, second in pairs)


def same_order(shared: EventOrder) -> str:
    """Two orders that tell the same."""
    return f"the same order: {shared}"


def compatible_order(shared: EventOrder) -> str:
    """Two orders that agree in what both tell."""
    return f"the orders fit, and one tells more; both say: {shared}"


def cannot_both(first: Witness, mine: Sequence[EventPair], second: Witness, theirs: Sequence[EventPair]) -> str:
    """A circle of events, step by step with who says it."""
    return f"{_WHO[first]} puts {_pairs(mine)}, {_WHO[second]} {_pairs(theirs)}: these cannot both be"


def not_always_kept(who: Witness, pair: EventPair, against: int, total: int) -> str:
    """An order that was not kept in every byte."""
    return (
        f"{_WHO[who]} puts {_pairs([pair])}; on the wire it is the other way in {against:,} of the {total:,} bytes "
        f"that tell"
    )


def open_ways(who: Witness, loose: Witness, pair: EventPair) -> str:
    """An order that one states and the other leaves open."""
    return f"{_WHO[who]} puts {_pairs([pair])}; {_WHO[loose]} has ways of both orders"


def if_wrong(one: Statement, witness: Witness, pair: EventPair) -> str:
    """What it would mean if the statement behind an order were wrong."""
    first, second = pair[0].value, pair[1].value
    if one.kind is StatementKind.INSTRUCTION:
        return (
            f"{one.about} is misread, or the bit that it moves is not the strobe's: {second!r} comes before {first!r}"
        )
    if witness is Witness.WIRE:
        return f"two channels of the capture are exchanged, or a level was read the wrong way round ({first}, {second})"
    if witness is Witness.DOCUMENTS:
        return f"the document has {first!r} and {second!r} the wrong way round, or speaks of another variant"
    return f"the image is of another version, which has {second!r} before {first!r}"
