"""What study.toml states of where the program sees a signal, as testimonies: so that a board can be held against it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from latchlore.base import (
    AddressSet,
    BitSense,
    InputKind,
    Statement,
    StatementKind,
    Strength,
    Subject,
    SubjectKind,
    Testimony,
    Witness,
    address_digits,
)
from latchlore.study import _hearwords as wording

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.base import Origin, SignalRole, Value
    from latchlore.study._notation import BitPlace
    from latchlore.study._study import RolePart, Study


def role_testimonies(study: Study, signals: Sequence[str], known: Sequence[SignalRole]) -> Iterator[Testimony]:
    """One testimony for each role that says where its signal is and that the board knows as well.

    `signals`: the signal of each role of the study, as the weighing names it; `known`: the board's roles.  A whole
    register stands under the board's own key, so that it is held against its addresses; a bit under its own.
    """
    for role, signal in zip(study.roles, signals, strict=True):
        place = role.place
        if place is None:
            continue
        direction = "write" if place.access == "write" else "read"
        mine = [one for one in known if (one.signal, one.direction, one.kind) == (signal, direction, place.kind)]
        if not mine:
            continue
        if not place.bits:
            yield from _register(role, signal, place, next((one for one in mine if one.bit is None), None))
            continue
        key = (*_key(place.kind, place.address, direction), str(place.bits[0]))
        if len(place.bits) == 1 and direction == "read":
            yield _say(role, signal, Subject(SubjectKind.BIT, key), BitSense.follows(signal, inverted=role.inverted))


STUDY_FILE = "study.toml"
CLOCK = "clock"


def clock_name() -> str:
    """The name of the statement of the clock's rate."""
    return f"{STUDY_FILE}: {CLOCK}"


def resting_on_clock(one: Testimony, origin: Origin) -> Testimony:
    """A time of the program falls with the stated clock as well; everything else is returned as it is."""
    if one.subject.kind is not SubjectKind.TIMING:
        return one
    clock = Statement(STUDY_FILE, CLOCK, StatementKind.ROW, wording.CLOCK_RATE, origin)
    return replace(one, falls_with=(*one.falls_with, (clock,)))


def _register(role: RolePart, signal: str, place: BitPlace, board: SignalRole | None) -> Iterator[Testimony]:
    if board is None or place.address >= 1 << board.addresses.width:
        return
    home = board.addresses.lowest if board.home is None else board.home
    subject = Subject(SubjectKind.REGISTER, _key(board.kind, home, board.direction))
    yield _say(role, signal, subject, AddressSet.of([place.address], board.addresses.width))


def _key(kind: InputKind, address: int, direction: str) -> tuple[str, str, str]:
    space = "port" if kind is InputKind.PORT else "memory"
    return (space, address_digits(space, address), direction)


def _say(role: RolePart, signal: str, subject: Subject, value: Value) -> Testimony:
    about = wording.role_of(signal, has_sense=isinstance(value, BitSense))
    statement = Statement(role.origin.file, f"role {signal}", StatementKind.ROW, about, role.origin)
    return Testimony(
        subject, value, Witness.PROGRAM, (role.origin,), wording.ROLE_STATED, Strength.STATED, "", ((statement,),)
    )
