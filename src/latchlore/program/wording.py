"""The sentences of the program witness."""

from __future__ import annotations

PROGRESS = "following paths"
RUN_BOUND = "the stated number of instructions has been done"
ENDLESS = "comes back to the same state without touching a device"


def too_many_nodes(limit: int) -> str:
    """A bound was reached."""
    return f"the graph has more than {limit} nodes"


def too_many_events(limit: int) -> str:
    """A bound was reached."""
    return f"more than {limit} touches on one path without a choice"


def too_many_instructions(limit: int) -> str:
    """A bound was reached."""
    return f"more than {limit} instructions without a touch of a device"


def returned(name: str) -> str:
    """The routine's own end."""
    return f"{name} to the caller"


def stops(code: int) -> str:
    """An opcode that stops the processor."""
    return f"opcode {code:02X} stops the processor"


def undocumented(code: int) -> str:
    """An opcode that the maker's table leaves blank."""
    return f"opcode {code:02X} is undocumented"


def unknown_jump(count: int) -> str:
    """A jump that cannot be followed."""
    return f"the target of the jump depends on unknown bits and has {count} possible values"


def no_answer(address: int) -> str:
    """A concrete run met a device."""
    return f"reads the device register {address:04X}, and nothing answers"


def unknown_cell(address: int) -> str:
    """A concrete run needs a byte of the caller's."""
    return f"the content of {address:04X} is not known"
