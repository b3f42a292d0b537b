"""Which readings of a meter conclude that pins are joined, or that a pin is joined to nothing."""

from __future__ import annotations

from collections import deque
from itertools import pairwise
from typing import TYPE_CHECKING

from latchlore.base import PinsRead
from latchlore.board import wording

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from latchlore.base import Origin
    from latchlore.board._board import Board, FoundJoint, Net, PinAt
    from latchlore.board._readings import MeterReading


def readings_between(board: Board, near: PinAt, far: Collection[PinAt]) -> tuple[PinsRead, ...] | None:
    """The readings that join a pin to the nearest of others, through as few joints as there are, in file order.

    Empty where the net file states all of these joints; None where no joints lead there.
    """
    around = _joints_around(board)
    before: dict[PinAt, FoundJoint | None] = {near: None}
    waiting = deque([near])
    while waiting:
        at = waiting.popleft()
        if at in far and at != near:
            return _in_order(one for joint in _back(before, at) for one in joint.readings)
        for joint in around.get(at, ()):
            other = joint.second if joint.first == at else joint.first
            if other not in before:
                before[other] = joint
                waiting.append(other)
    return None


def readings_of(board: Board, pins: Collection[PinAt], far: Collection[PinAt]) -> tuple[PinsRead, ...]:
    """The readings that join any of these pins to the others, in file order; all of theirs where no joints lead there.

    A pin that joins nothing to the others adds none where another does.
    """
    found = [one for one in (readings_between(board, at, far) for at in pins) if one is not None]
    return _in_order(one for read in found for one in read) if found else readings_at(board, pins)


def readings_at(board: Board, pins: Iterable[PinAt]) -> tuple[PinsRead, ...]:
    """The readings that join these pins to anything, in file order."""
    around = _joints_around(board)
    return _in_order(one for at in pins for joint in around.get(at, ()) for one in joint.readings)


def stated_at(board: Board, pins: Collection[PinAt]) -> Origin | None:
    """Where the net file joins one of these pins to anything; None where it does not, or made the board alone."""
    return next((one.origin for one in board.joints if not one.readings and {one.first, one.second} & {*pins}), None)


def way_origins(board: Board, way: Sequence[PinAt]) -> tuple[Origin, ...]:
    """Where the nets that a way goes through stand, in the board's order of nets, each place once.

    Of a net that was read, the first reading of the joints on the way; of any other, the net file's line.
    """
    pins: dict[str, list[PinAt]] = {}
    for at in way:
        pins.setdefault(board.net_of(at) or "", []).append(at)
    return tuple(dict.fromkeys(_net_origin(board, net, pins[net.name]) for net in board.nets if net.name in pins))


def _net_origin(board: Board, net: Net, pins: Sequence[PinAt]) -> Origin:
    if not board.joints:
        return net.origin
    pairs = [readings_of(board, [near], {far}) for near, far in pairwise(pins)]
    read = _in_order(one for pair in pairs for one in pair) if pairs else readings_at(board, pins)
    return read[0].origin if read else stated_at(board, pins) or net.origin


def silent_readings(board: Board, at: PinAt) -> tuple[PinsRead, ...]:
    """The readings that found a pin joined to nothing: those with it held, else those that touched it."""
    held = [one for one in board.readings if at in (one.strip or (one.held,)) and one.silent]
    return _in_order(
        PinsRead(one.origin, _silence(one)) for one in held or [r for r in board.readings if at in r.silent]
    )


def _silence(reading: MeterReading) -> str:
    touched = reading.touched
    what = str(touched[0]) if len(touched) == 1 else wording.pin_row(touched[0], touched[-1])
    return wording.pins_apart(reading.held, what)


def _joints_around(board: Board) -> dict[PinAt, list[FoundJoint]]:
    around: dict[PinAt, list[FoundJoint]] = {}
    for joint in board.joints:
        for at in (joint.first, joint.second):
            around.setdefault(at, []).append(joint)
    return around


def _back(before: dict[PinAt, FoundJoint | None], at: PinAt) -> list[FoundJoint]:
    """The joints from a pin back to where the search began."""
    way: list[FoundJoint] = []
    while (joint := before[at]) is not None:
        way.append(joint)
        at = joint.first if joint.second == at else joint.second
    return way


def _in_order(readings: Iterable[PinsRead]) -> tuple[PinsRead, ...]:
    return tuple(sorted(set(readings), key=lambda one: (one.origin, one.words)))
