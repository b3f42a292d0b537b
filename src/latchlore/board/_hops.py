"""The way of one bit step by step: which part it passes from which pin to which, and where it is turned over."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from latchlore.base import BitKind
from latchlore.board._levels import Levels
from latchlore.board._registermap import RegisterKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.board._board import Board, ConnectorPin, PinAt
    from latchlore.board._parts import Block, PartType
    from latchlore.board._registermap import Register, RegisterBit, RegisterMap

MAX_TRIED = 12
"""Inputs of a block whose every combination is tried; of larger blocks a few combinations are."""


class StepKind(StrEnum):
    """What a part does to a bit on its way."""

    PASSES = "passes"
    STORES = "stores"
    ENABLES = "enables"  # turns an output on; inverted: a low level does
    ENDS = "ends"  # the way ends at this part's pin


@dataclass(frozen=True, slots=True)
class Step:
    """One part on the way.

    `near` is the pin on the data side, `far` the one on the other side (None where the way ends at the part).
    `inverts`: whether the levels of the two pins are opposite; None where it depends on another input.  `net`: the
    name of the net on the far side, empty where there is none.
    """

    part: str
    marking: str
    near: PinAt
    far: PinAt | None
    kind: StepKind
    inverts: bool | None
    net: str


@dataclass(frozen=True, slots=True)
class BitWay:
    """A bit's way from the data line outwards.

    `net`: the data line.  `steps` from the data side.  `connector`: (connector, pin) at the end, None where it ends
    elsewhere; `end` is what stands there in words.  `inverted`: whether bit 1 means a low pin, None where nothing is
    followed.  `is_write`: the data flow outwards.
    """

    bit: int
    net: str
    steps: tuple[Step, ...]
    connector: tuple[str, ConnectorPin] | None
    end: str
    inverted: bool | None
    is_write: bool

    @property
    def num_inversions(self) -> int:
        """How many steps are known to turn the level over."""
        return sum(step.inverts is True for step in self.steps)


def bit_ways(found: RegisterMap, register: Register) -> tuple[BitWay, ...]:
    """The ways of a register's bits, lowest bit first; one for each signal that a written bit reaches."""
    return tuple(way for bit in register.bits for way in _ways(found, register, bit))


def _ways(found: RegisterMap, register: Register, bit: RegisterBit) -> Iterator[BitWay]:
    board = found.board
    is_write = register.kind is RegisterKind.TAKES
    data = f"d{bit.number}"
    if is_write and bit.reaches:
        for reach in bit.reaches:
            pins = _without_twins(reach.way)
            yield _way(board, bit.number, data, pins, reach.signal, reach.inverted, is_write)
        return
    pins = _without_twins(bit.way)
    inverted = bit.sense.inverted if bit.sense.kind is BitKind.FOLLOWS else None
    end = bit.sense.source if bit.sense.kind is BitKind.FOLLOWS else str(bit.sense)
    yield _way(board, bit.number, data, pins, end, inverted, is_write)


def _way(
    board: Board, bit: int, data: str, pins: tuple[PinAt, ...], end: str, inverted: bool | None, is_write: bool
) -> BitWay:
    plugs = {plug.name: plug for plug in board.connectors}
    inside = tuple(at for at in pins if at.owner not in plugs)
    steps = tuple(_steps(board, inside))
    last = pins[-1] if pins else None
    return BitWay(bit, data, steps, _plug_pin(board, last, end), end, inverted, is_write)


def _without_twins(way: tuple[PinAt, ...]) -> tuple[PinAt, ...]:
    return tuple(at for k, at in enumerate(way) if k == 0 or at != way[k - 1])


def _plug_pin(board: Board, last: PinAt | None, signal: str) -> tuple[str, ConnectorPin] | None:
    """The connector pin at the end of a way: that of the signal on the last pin's net, or the last pin itself."""
    if last is None:
        return None
    net = board.net_of(last)
    for plug in board.connectors:
        for pin in plug.pins:
            at = (plug.name, pin.number)
            same_net = net is not None and any((one.owner, one.pin) == at for one in board.net(net).pins)
            if (last.owner, last.pin) == at or (same_net and pin.signal == signal and not plug.is_host):
                return plug.name, pin
    return None


def _steps(board: Board, pins: tuple[PinAt, ...]) -> Iterator[Step]:
    k = 0
    while k < len(pins):
        near = pins[k]
        part = board.part(near.owner) if any(one.name == near.owner for one in board.parts) else None
        has_far = k + 1 < len(pins) and pins[k + 1].owner == near.owner
        far = pins[k + 1] if has_far else None
        if part is not None:
            kind, inverts = StepKind.ENDS, None
            if far is not None:
                kind, inverts = pass_of(part.type, near.pin, far.pin)
            net = board.net_of(far) if far is not None else None
            yield Step(near.owner, part.marking, near, far, kind, inverts, net or "")
        k += 2 if has_far else 1


def pass_of(part: PartType, one: int, other: int) -> tuple[StepKind, bool | None]:
    """How a level passes between two pins of a part, in whichever direction the part works.

    Whether it is turned over: tried with all combinations of the block's other inputs; None where some turn it over
    and some do not.
    """
    for block in part.blocks:
        for source, target in ((one, other), (other, one)):
            if source in block.inputs and target in block.outputs:
                if block.states:
                    found = _stored(block, source, target)
                    if found is not None:
                        return StepKind.STORES, found
                seen = _tried(block, block.inputs.index(source), block.outputs.index(target))
                if seen:
                    return StepKind.PASSES, seen.pop() if len(seen) == 1 else None
                enabling = _enabled(block, block.inputs.index(source))
                if enabling is not None:
                    return StepKind.ENABLES, enabling
    if part.name in ("resistor", "inductor", "fuse"):
        return StepKind.PASSES, False
    return StepKind.PASSES, None


def _stored(block: Block, source: int, target: int) -> bool | None:
    """Whether an output shows the opposite of what its data input put into the block's state."""
    index = block.inputs.index(source)
    for capture in block.captures:
        if capture.data != index:
            continue
        seen: set[bool] = set()
        for levels in _choices(block, index):
            state = [Levels(1, 1)] * block.states
            shown = []
            for level in (Levels(1, 0), Levels(0, 1)):
                state[capture.state] = level
                shown.append(block.function(tuple(levels), tuple(state))[block.outputs.index(target)])
            seen |= _turn(shown)
        if len(seen) == 1:
            return seen.pop()
    return None


def _tried(block: Block, source: int, target: int) -> set[bool]:
    """The ways in which an output follows an input: straight (False), opposite (True)."""
    seen: set[bool] = set()
    for levels in _choices(block, source):
        if block.enable is not None and not block.enable(*levels).can1:
            continue
        shown = []
        for level in (Levels(1, 0), Levels(0, 1)):
            levels[source] = level
            shown.append(_shown(block, tuple(levels))[target])
        seen |= _turn(shown)
    return seen


def _turn(shown: list[Levels]) -> set[bool]:
    """Whether the second of two levels is the opposite of what went in; empty where they do not tell."""
    if shown[0].sure0 and shown[1].sure1:
        return {False}
    return {True} if shown[0].sure1 and shown[1].sure0 else set()


def _choices(block: Block, source: int) -> Iterator[list[Levels]]:
    """Levels of a block's other inputs, all combinations or, of many inputs, a few; `source` is not known."""
    others = [k for k in range(len(block.inputs)) if k != source]
    full = (1 << len(others)) - 1
    choices = range(full + 1) if len(others) <= MAX_TRIED else (0, full, *(1 << k for k in range(len(others))))
    for choice in choices:
        levels = [Levels(1, 1)] * len(block.inputs)
        for n, k in enumerate(others):
            levels[k] = Levels(0, 1) if choice >> n & 1 else Levels(1, 0)
        yield levels


def _enabled(block: Block, source: int) -> bool | None:
    """Whether a low level turns the block's outputs on (True), or a high one (False); None where neither does."""
    if block.enable is None:
        return None
    levels = [Levels(1, 1)] * len(block.inputs)
    levels[source] = Levels(1, 0)
    at_low = block.enable(*levels)
    levels[source] = Levels(0, 1)
    at_high = block.enable(*levels)
    if at_high.sure0 and at_low.can1:
        return True
    return False if at_low.sure0 and at_high.can1 else None


def _shown(block: Block, levels: tuple[Levels, ...]) -> Any:
    if not block.states or block.step is None:
        return block.function(*levels) if not block.states else block.function(levels, (Levels(1, 1),) * block.states)
    state = block.step(levels, levels, (Levels(1, 1),) * block.states)
    return block.function(levels, state)


def way_to_plain(way: BitWay) -> dict[str, Any]:
    """The way as plain data, data side first."""
    return {
        "bit": way.bit,
        "flow": "outwards" if way.is_write else "inwards",
        "inverted": way.inverted,
        "steps": [
            {
                "part": step.part,
                "type": step.marking,
                "data_side": str(step.near),
                "far_side": str(step.far) if step.far is not None else None,
                "does": step.kind.value,
                "inverts": step.inverts,
                "net": step.net,
            }
            for step in way.steps
        ],
        "end": way.end,
        "connector": f"{way.connector[0]}.{way.connector[1].number}" if way.connector is not None else None,
    }
