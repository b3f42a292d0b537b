"""What every face says of touches, times, polling and open ends: sentences over the wing's values."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import CycleRange

if TYPE_CHECKING:
    from collections.abc import Iterable

    from latchlore.base import ByteTree, Clock
    from latchlore.program._drivers import NamedRegister, Touch
    from latchlore.program._timeline import Polling
    from latchlore.program._treewords import Names

SHOWN_ADDRESSES = 4


def access_verb(kind: str) -> str:
    """What an access of this kind does: writes, reads, or reads and throws away."""
    return {"wr": "writes", "out": "writes", "dummy": "reads and throws away"}.get(kind, "reads")


def touch_words(touch: Touch) -> str:
    """What an instruction does to a register, and how surely."""
    digits = 2 if touch.kind in ("inp", "out") and touch.reach[1] <= 0xFF else 4
    verb = access_verb(touch.kind)
    shown = ", ".join(f"{address:0{digits}X}" for address in touch.addresses[:SHOWN_ADDRESSES])
    if len(touch.addresses) > SHOWN_ADDRESSES:
        first, last = touch.addresses[0], touch.addresses[-1]
        shown = f"{first:0{digits}X} to {last:0{digits}X}, {len(touch.addresses)} addresses"
    if touch.sure:
        answered = "" if touch.is_answered else "; nothing answers that there"
        on_path = " on an explored path" if touch.on_path else ""
        return f"{verb} {shown}{on_path}{answered}"
    low, high = touch.reach
    return f"may touch {shown}: {verb} somewhere from {low:0{digits}X} to {high:0{digits}X}"


def register_words(register: NamedRegister) -> str:
    """A register with its addresses."""
    count = register.addresses.count
    return f"{register}" + (f"; {count:,} addresses: {register.addresses}" if count > 1 else "")


def time_words(cycles: CycleRange, clock: Clock | None) -> str:
    """A range of cycles as time; empty without a clock."""
    if clock is None:
        return ""
    if cycles.most is None:
        return f"{clock.span(CycleRange.exactly(cycles.least)).least} or more"
    return str(clock.span(cycles))


def range_words(cycles: CycleRange, clock: Clock | None) -> str:
    """A range of cycles, and what that is in time where a clock is stated."""
    time = time_words(cycles, clock)
    return f"{cycles}" + (f" = {time}" if time else "")


def polling_words(polling: Polling, clock: Clock | None, names: Names) -> str:
    """What is waited for, how often it is looked at, and when the program gives up."""
    from latchlore.program._treewords import event_words

    places = ", ".join(f"{place:04X}" for place in polling.places)
    words = f"{event_words(polling.event, names)} (at {places}): every {range_words(polling.period, clock)}"
    if polling.time_out is None:
        return f"{words}; never gives up"
    return f"{words}; gives up {range_words(polling.time_out, clock)} after the first read"


def open_ends(trees: Iterable[ByteTree]) -> list[str]:
    """Leaves at which following ended for another reason than the program's own."""
    return [
        f"{leaf.address:04X}: {leaf.kind.value}: {leaf.reason}"
        for tree in trees
        for leaf in tree.leaves
        if not leaf.is_done
    ]
