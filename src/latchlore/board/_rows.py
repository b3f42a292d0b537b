"""How a catalogue row is written down: pin names in order, blocks by pin names."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

from latchlore.board._parts import Block, Capture, PartType, Pin, Role, Timing

FROM_MEMORY = "from memory"
"""Source of a row set down from memory of the makers' data sheets.

Such rows are tested against open pin facts and an IC tester's vectors, neither of which they were made from.
"""


class Does(NamedTuple):
    """One block by pin names; see `Block` for the meaning of the fields."""

    inputs: str
    outputs: str
    function: Callable[..., Any]
    drive: Role = Role.OUTPUT
    enable: Callable[..., Any] | None = None
    states: int = 0
    step: Callable[..., Any] | None = None
    captures: tuple[Capture, ...] = ()
    timed: bool = False
    inner: str = ""
    bits: tuple[str, ...] = ()
    programmed: bool = False
    masked: bool = False


def each(numbers: str, inputs: str, outputs: str, function: Callable[..., Any], **more: Any) -> list[Does]:
    """The same block for every section; ``{}`` in the names stands for the section's number."""
    return [Does(inputs.replace("{}", n), outputs.replace("{}", n), function, **more) for n in numbers.split()]


def takes(
    timing: Timing, *, data: int = 0, clock: int = 1, state: int = 0, enable: Callable[..., Any] | None = None
) -> tuple[Capture, ...]:
    """One state bit that takes input `data` by input `clock`."""
    return (Capture(state, data, clock, timing, enable),)


_FIXED = {"GND": Role.GROUND, "VSS": Role.GROUND, "VCC": Role.POWER, "VDD": Role.POWER, "VBB": Role.POWER}


def row(
    name: str, title: str, pins: str, *blocks: Does | list[Does], source: str = FROM_MEMORY, analog: str = ""
) -> PartType:
    """A catalogue row.  A pin is an output where a block drives it, both where a block reads it too."""
    names = pins.split()
    flat = [b for block in blocks for b in (block if isinstance(block, list) else [block])]
    number = {n: k + 1 for k, n in enumerate(names) if n != "NC"}
    built = tuple(
        Block(
            tuple(number[n] for n in b.inputs.split()),
            tuple(number[n] for n in b.outputs.split()),
            *b[2:],
        )
        for b in flat
    )
    drives = {pin: b.drive for b in built for pin in b.outputs}
    reads = {pin for b in built for pin in b.inputs} | {pin for b in built if b.programmed for pin in b.outputs}
    shaped = []
    for k, n in enumerate(names, 1):
        role = _FIXED.get(n, Role.INPUT)
        if n == "NC":
            role = Role.NONE
        elif n in analog.split():
            role = Role.ANALOG
        elif k in drives:
            role = Role.BOTH if k in reads else drives[k]
        shaped.append(Pin(k, n, role))
    return PartType(name, title, tuple(shaped), built, source)
