"""The sentences of hearing the witnesses."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import Leaf

NO_DEVICES = "the program was not followed: no address belongs to a device; give the board, or [devices] in study.toml"


def unread(files: Sequence[str]) -> str:
    """Files that no rule of the study picks up."""
    return f"not read, because no rule of the study picks them up: {', '.join(files)}"


def following(entry: str) -> str:
    """Work in hand."""
    return f"following the program from {entry!r}"


def merging(sequence: str) -> str:
    """Work in hand."""
    return f"merging the runs of {sequence!r}"


def leaf(entry: str, one: Leaf) -> str:
    """A place where the program was not followed further."""
    return f"from {entry!r} the program {one.kind.value} at {one.address:04X}: {one.reason}"


def no_document(stem: str) -> str:
    """A look-for row that names a document that is not there."""
    return f"there is no document {stem!r} in documents/"


BUS_NUMBERS = "hexadecimal, as bus logs are"


def bus_writes(register: str) -> str:
    """Which accesses of a bus log carry bytes."""
    return f"of the bus accesses only writes to {register} carry data"


def no_data_register(file: str) -> str:
    """A bus log that cannot be read yet."""
    return f"{file}: nobody says which register takes the data, so the log's writes cannot be told apart"


ROLE_STATED = "stated in study.toml: where the program sees this signal"


def role_of(signal: str, *, has_sense: bool) -> str:
    """A row of study.toml that says where a signal is, and of a bit whether it is turned round."""
    return f"where{' and in which sense' if has_sense else ''} the program sees {signal}"


CLOCK_RATE = "the rate of the clock"
LOGGED = "looked for in the merged sequence"


def logged_at(sequence: str, byte: int) -> str:
    """Where a code stands in a log."""
    return f"in {sequence!r}, from byte {byte + 1} on"


def no_switch(name: str, known: Sequence[str]) -> str:
    """A switch of study.toml of which no document speaks."""
    there = ", ".join(map(repr, known)) or "none"
    return f"no document has a switch {name!r}; there are {there}"


def no_setting(name: str, value: str, known: Sequence[str]) -> str:
    """A setting of study.toml that no document lists."""
    return f"switch {name!r} has no setting {value!r}; the documents list {', '.join(map(repr, known))}"
