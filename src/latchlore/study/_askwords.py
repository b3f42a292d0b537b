"""The sentences of asking a program on its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

DECODING = "reading images and board"
NO_IMAGE = "names no image of a program; [program] with a cpu and an [[image]] make one"
NO_LOAD = "is raw bytes; give its address with --load, or --load infer"
NO_ENTRY = "no entry is stated; a path begins at one (--entry, or [[entry]] in study.toml)"
NO_DEVICES = (
    "no address is known to belong to a device, so no path can be followed to one; state them (--devices, or "
    "[devices] in study.toml), or give the board"
)


def study_alone(more: Iterable[str]) -> str:
    """A study together with something else."""
    return f"is a study, which states everything in study.toml; leave out {', '.join(more)}"


def no_cpu(known: Sequence[str]) -> str:
    """Image files without a processor."""
    return f"image files need a processor: one of {', '.join(known)}, or infer"


def cpu_open(reasons: Sequence[str]) -> str:
    """The processor could not be found."""
    return f"the processor could not be found; state it ({'; '.join(reasons)})"


def load_left(given: int, wanted: int) -> str:
    """More addresses than raw files."""
    return f"--load is given {given} times, and the number of raw files that need it is {wanted}"


def banks_differ(entries: Sequence[str]) -> str:
    """Entries at which the memory is not the same."""
    return f"other banks are there at each of these entries; ask for one with --entry: {', '.join(entries)}"


def role_place(text: str) -> str:
    """A role without a place."""
    return f"a role has a place, such as 'strobe C802 bit 0', not {text!r}"


def not_written(text: str) -> str:
    """A register that no path writes."""
    return f"no path from these entries writes {text!r}"


def entry_twice(name: str) -> str:
    """Two entries of one name."""
    return f"entry {name!r} is stated twice; give each a name of its own (NAME=ADDRESS)"
