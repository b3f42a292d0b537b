"""The sentences of the code map, the driver finder and the listing."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from latchlore.base import InputKind, address_digits

if TYPE_CHECKING:
    from latchlore.program._drivers import NamedRegister, Touch

MAPPING = "following jumps and calls"
UNKNOWN_JUMP = "jumps to an address that is computed: not followed"
UNKNOWN_CALL = "calls an address that is computed: not followed, taken to come back"
PUSHED_RETURN = "returns to an address that it has pushed itself: not followed"
DROPS_CALLERS = "drops more than its caller's address before it returns: not followed"


def undocumented(spelled: str) -> str:
    """An opcode that the maker's table leaves blank."""
    return f"undocumented {spelled}"


def cut_off(address: int) -> str:
    """An instruction without all of its bytes."""
    return f"runs into {address:04X}, where no image has a byte"


def leaves(target: int) -> str:
    """A jump out of what is known."""
    return f"goes on at {target:04X}, outside of the images"


def calls_out(target: int) -> str:
    """A call out of what is known."""
    return f"calls {target:04X}, outside of the images: taken to come back"


def inline(target: int | None) -> str:
    """A routine that takes its data from behind the call."""
    return f"{target or 0:04X} reads the bytes behind its call: what follows is not followed as code"


def map_assumptions(num_entries: int, num_places: int) -> tuple[str, ...]:
    """What a code map takes for granted."""
    places = f" and {num_places} places where explored paths touch devices" if num_places else ""
    return (
        f"code is what jumps and calls lead to from {num_entries} stated "
        f"{'entry' if num_entries == 1 else 'entries'}{places}; code reached by a computed jump, an interrupt or the "
        "caller alone may be missing",
        "a register keeps a known value over a call of a routine that never sets it; no interrupt changes one",
        "no image is written to while it runs",
    )


def vector(name: str, target: int) -> str:
    """A vector of the processor."""
    return f"vector {name}: {target:04X}"


OVERLAPS = "begins inside of the instruction above"
TAKES_INLINE = "reads the bytes behind its call"

_VERBS = {
    "rd": "reads",
    "wr": "writes",
    "dummy": "reads and throws away",
    "inp": "reads",
    "out": "writes",
}


def touch_words(touch: Touch, register: NamedRegister) -> str:
    """A touch in a few words: ``writes B810 (STROBE)``."""
    port = "port " if register.kind is InputKind.PORT else ""
    digits = partial(address_digits, register.kind)
    shown = ", ".join(map(digits, touch.addresses[:4]))
    if len(touch.addresses) > 4:
        shown = f"{digits(touch.addresses[0])} to {digits(touch.addresses[-1])}"
    name = f" ({register.name})" if register.name else ""
    verb = _VERBS[touch.kind]
    if not touch.sure:
        low, high = touch.reach
        return f"may touch {port}{shown}{name}: {verb} somewhere from {digits(low)} to {digits(high)}"
    if touch.on_path:
        return f"{verb} {port}{shown}{name} on an explored path"
    return f"{verb} {port}{shown}{name}" + (
        "" if touch.is_answered else f"; the register is for {register.direction} only"
    )
