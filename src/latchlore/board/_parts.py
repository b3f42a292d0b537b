"""What a row of the catalogue is: a named record with pins, and blocks that are pure functions.

A *block* is one function of a package (one gate, one decoder, one flip-flop).  Its functions take values of any
kind with the operators of `Logic`: planes of levels, single levels, the terms of a solver.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

Values = tuple[Any, ...]  # levels of any kind, in the order of the pins named


class Role(StrEnum):
    """What a pin does electrically."""

    INPUT = "input"
    OUTPUT = "output"
    THREE_STATE = "three_state"
    OPEN_COLLECTOR = "open_collector"
    BOTH = "io"
    POWER = "power"
    GROUND = "ground"
    NONE = "nc"
    ANALOG = "analog"  # a resistor, capacitor or crystal belongs here
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Pin:
    """One pin of a type: number from 1, the data sheet's name (a leading / means low is active), role."""

    number: int
    name: str
    role: Role


class Timing(StrEnum):
    """When a storing block takes its data."""

    RISE = "rise"
    FALL = "fall"
    HIGH = "high"  # transparent while the gate is high
    LOW = "low"


@dataclass(frozen=True, slots=True)
class Capture:
    """How one state bit of a block takes a data pin: at which `timing` of the input `clock`, and only where
    `enable` (a function of the block's inputs) is 1.  Indices count in the block's `inputs` and state.
    """

    state: int
    data: int
    clock: int
    timing: Timing
    enable: Callable[..., Any] | None = None


@dataclass(frozen=True, slots=True)
class Block:
    """One function of a package.

    `inputs` and `outputs` are pin numbers.  `function(*inputs)` gives the outputs' levels; with state bits it is
    `function(inputs, state)`.  `enable(*inputs)` tells where three-state outputs drive (None: always).
    `step(before, now, state)` gives the state after the inputs went from `before` to `now`; the same inputs twice
    give what the levels alone force (clear, preset, a transparent latch).  `captures` lists state bits that take
    a data pin.  `drive` is OUTPUT, THREE_STATE or OPEN_COLLECTOR for all its outputs.
    """

    inputs: tuple[int, ...]
    outputs: tuple[int, ...]
    function: Callable[..., Values]
    drive: Role = Role.OUTPUT
    enable: Callable[..., Any] | None = None
    states: int = 0
    step: Callable[[Values, Values, Values], Values] | None = None
    captures: tuple[Capture, ...] = ()
    timed: bool = False  # a one-shot: its pulse ends by itself
    inner: str = ""  # the register inside a programmable chip that the state bits are
    bits: tuple[str, ...] = ()  # what its bits mean, in their order; may be empty
    programmed: bool = False  # the outputs drive only where a program has said so
    opaque: bool = False  # what it does is not known, only which pins it reads and drives
    masked: bool = False  # what selects the block is fixed by a mask that nobody sees from outside


@dataclass(frozen=True, slots=True)
class PartType:
    """One type: `name` is the bare number such as ``74138``; `source` names where the row was taken from."""

    name: str
    title: str
    pins: tuple[Pin, ...]
    blocks: tuple[Block, ...]
    source: str

    def pin(self, number: int) -> Pin:
        """The pin of that number, from 1 to the number of pins."""
        return self.pins[number - 1]


def plain_name(name: str) -> str:
    """A pin's name as it is typed: lower-case letters and digits only, so ``/1G`` and ``1g`` are one."""
    return "".join(c for c in name.lower() if c.isalnum())
