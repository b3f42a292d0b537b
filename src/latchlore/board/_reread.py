"""Which readings of a meter conclude that pins are joined, or that a pin is joined to nothing."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from latchlore.base import PinsRead
from latchlore.board import wording

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from latchlore.base import Origin
    from latchlore.board._board import Board, FoundJoint, PinAt
    from latchlore.board._readings import MeterReading


def readings_between(board: Board, near: PinAt, far: Collection[PinAt]) -> tuple[PinsRead, ...]:
    """The readings that join a pin to the nearest of others, through as few joints as there are, in file order.

    Where no joints lead there, or the net file states them all: none.
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
    return ()


def readings_at(board: Board, pins: Iterable[PinAt]) -> tuple[PinsRead, ...]:
    """The readings that join these pins to anything, in file order."""
    around = _joints_around(board)
    return _in_order(one for at in pins for joint in around.get(at, ()) for one in joint.readings)


def stated_at(board: Board, pins: Collection[PinAt]) -> Origin | None:
    """Where the net file joins one of these pins to anything; None where it does not, or made the board alone."""
    return next((one.origin for one in board.joints if not one.readings and {one.first, one.second} & {*pins}), None)


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
