"""What differs between two versions of a board: as changed claims first, then as what was changed in the nets."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from latchlore.base import BitKind, Unsupported
from latchlore.board import comparewording as wording
from latchlore.board._decode import decode
from latchlore.board._joints import iter_joints
from latchlore.board._network import build_network
from latchlore.board._registermap import bit_text
from latchlore.board.wording import strap_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import BitSense, Origin
    from latchlore.board._board import Board, PinAt
    from latchlore.board._registermap import PinDrive, Register, RegisterBit, RegisterMap


class Claim(StrEnum):
    """What a change is about, in the order of the list."""

    REGISTER = "register"
    BIT = "bit"
    PIN = "pin"
    STRAP = "strap"
    PULL = "pull"
    CONFLICT = "conflict"
    TROUBLE = "trouble"
    PART = "part"
    JOINT = "joint"


class Turn(StrEnum):
    """How it changed."""

    COMES = "comes"
    GOES = "goes"
    MOVES = "moves"  # answers elsewhere, or sits on another bit
    POLARITY = "polarity"
    SOURCE = "source"
    DRIVE = "drive"
    STATED = "stated"  # what a connector or strap is said to be


@dataclass(frozen=True, slots=True)
class Change:
    """One changed claim.  `old` and `new` in words, None where there was or is none.

    `because`: the changed joints that lie on the way, in words; empty where none does, and for joints themselves.
    """

    claim: Claim
    turn: Turn
    subject: str
    old: str | None
    new: str | None
    because: tuple[str, ...]
    old_origins: tuple[Origin, ...]
    new_origins: tuple[Origin, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """All changes, claims before joints.  `not_done` says what could not be compared and why."""

    changes: tuple[Change, ...]
    not_done: tuple[str, ...]


def compare_boards(old: Board, new: Board) -> Comparison:
    """The changed claims from `old` to `new`.

    Registers are matched by what their bits are wired to, then by address, so that one that moved is told as moved.
    Names of nets do not count, only which pins are joined.  A board without a host has no registers to compare, which
    is said.
    """
    not_done: list[str] = []
    maps: list[RegisterMap | None] = []
    for board in (old, new):
        try:
            maps.append(decode(board))
        except Unsupported as error:
            maps.append(None)
            not_done.append(wording.NOT_DECODED.format(why=str(error)))
    return Comparison(tuple(_Comparer(old, new, maps[0], maps[1]).changes()), tuple(not_done))


class _Comparer:
    def __init__(self, old: Board, new: Board, old_map: RegisterMap | None, new_map: RegisterMap | None) -> None:
        self.old, self.new = old, new
        self.maps = (old_map, new_map)
        self.joints = tuple(iter_joints(old, new))
        self.names: dict[str, str] = {}

    def changes(self) -> Iterator[Change]:
        """All changes in the order of `Claim`, each kind in its own order."""
        if self.maps[0] is not None and self.maps[1] is not None:
            pairs = match_registers(self.maps[0].registers, self.maps[1].registers)
            self._learn_names(pairs)
            yield from self._registers(pairs)
            yield from self._bits(pairs)
        yield from self._pins()
        yield from self._straps()
        yield from self._pulls()
        yield from self._amiss()
        yield from self._parts()
        yield from self._joints()

    def _because(self, *ways: tuple[PinAt, ...]) -> tuple[str, ...]:
        pins = {at for way in ways for at in way}
        return tuple(joint.words for joint in self.joints if pins & {*joint.goes, *joint.comes})

    def _learn_names(self, pairs: list[tuple[Register | None, Register | None]]) -> None:
        """A bit that is the source of another is called after its register, which may have moved."""
        for old, new in pairs:
            if old is not None and new is not None:
                for number in range(16):
                    self.names[bit_text(*old.key, number)] = bit_text(*new.key, number)

    # --- registers and bits ---

    def _registers(self, pairs: list[tuple[Register | None, Register | None]]) -> Iterator[Change]:
        for old, new in pairs:
            subject = wording.register_words(new if new is not None else old)
            ways = [way for one in (old, new) if one is not None for way in _passed_pins(one)]
            ways += [_cone(board, one) for board, one in ((self.old, old), (self.new, new)) if one is not None]
            if old is None or new is None:
                turn = Turn.COMES if old is None else Turn.GOES
                yield self._change(Claim.REGISTER, turn, subject, _told(old), _told(new), ways, old, new)
            elif old.addresses != new.addresses or old.certain != new.certain:
                yield self._change(Claim.REGISTER, Turn.MOVES, subject, _told(old), _told(new), ways, old, new)
            elif old.effects != new.effects or old.also != new.also:
                yield self._change(Claim.REGISTER, Turn.SOURCE, subject, _effects(old), _effects(new), ways, old, new)

    def _change(
        self,
        claim: Claim,
        turn: Turn,
        subject: str,
        old: str | None,
        new: str | None,
        ways: list[tuple[PinAt, ...]],
        old_from: Register | RegisterBit | PinDrive | None,
        new_from: Register | RegisterBit | PinDrive | None,
    ) -> Change:
        return Change(
            claim,
            turn,
            subject,
            old,
            new,
            self._because(*ways),
            old_from.origins if old_from is not None else (),
            new_from.origins if new_from is not None else (),
        )

    def _bits(self, pairs: list[tuple[Register | None, Register | None]]) -> Iterator[Change]:
        for old, new in pairs:
            if old is None or new is None:
                continue
            before = {bit.number: bit for bit in old.bits}
            after = {bit.number: bit for bit in new.bits}
            for number in sorted({*before, *after}):
                found = self._bit(new, before, after, number)
                if found is not None:
                    yield found

    def _bit(
        self,
        new: Register,
        before: dict[int, RegisterBit],
        after: dict[int, RegisterBit],
        number: int,
    ) -> Change | None:
        one, other = before.get(number), after.get(number)
        turn = self._turn(one.sense if one else None, other.sense if other else None)
        if turn is None:
            return None
        subject = bit_text(*new.key, number)
        ways = [bit.way for bit in (one, other) if bit is not None]
        ways += [reach.way for bit in (one, other) if bit is not None for reach in bit.reaches]
        told = str(other.sense) if other is not None else None
        if turn is Turn.SOURCE and other is not None:
            was = next((k for k, bit in before.items() if k != number and _source(bit) == _source(other)), None)
            if was is not None and _source(other):
                turn, told = Turn.MOVES, wording.MOVED_BIT.format(sense=told, bit=was)
        return self._change(
            Claim.BIT, turn, subject, self._renamed(one.sense) if one is not None else None, told, ways, one, other
        )

    def _renamed(self, sense: BitSense) -> str:
        name = self.names.get(sense.source)
        return str(sense) if name is None else str(sense).replace(sense.source, name)

    def _turn(self, old: BitSense | None, new: BitSense | None) -> Turn | None:
        """How a sense changed, None where it did not."""
        if old is None or new is None:
            return None if old is new else Turn.COMES if old is None else Turn.GOES
        was = self.names.get(old.source, old.source)
        if (old.kind, was, old.inverted, old.level) == (new.kind, new.source, new.inverted, new.level):
            return None
        alike = old.kind is new.kind is BitKind.FOLLOWS and was == new.source
        tied = old.kind is new.kind is BitKind.TIED
        return Turn.POLARITY if alike or tied else Turn.SOURCE

    # --- connector pins, straps, troubles ---

    def _pins(self) -> Iterator[Change]:
        old, new = _plug_pins(self.old), _plug_pins(self.new)
        drives = [
            {} if one is None else {(drive.connector.name, drive.pin.number): drive for drive in one.pins}
            for one in self.maps
        ]
        for key in sorted({*old, *new}):
            subject = wording.pin_words(*key)
            one, other = old.get(key), new.get(key)
            if one is None or other is None or one[:3] != other[:3]:
                turn = Turn.COMES if one is None else Turn.GOES if other is None else Turn.STATED
                yield Change(
                    Claim.PIN,
                    turn,
                    subject,
                    wording.stated_words(*one[:3]) if one else None,
                    wording.stated_words(*other[:3]) if other else None,
                    (),
                    (one[3],) if one else (),
                    (other[3],) if other else (),
                )
            before, after = drives[0].get(key), drives[1].get(key)
            if before is not None and after is not None:
                yield from self._drive(subject, before, after)

    def _drive(self, subject: str, old: PinDrive, new: PinDrive) -> Iterator[Change]:
        ways = [old.way, new.way]
        turn = self._turn(old.sense, new.sense)
        if turn is not None:
            yield self._change(Claim.PIN, turn, subject, self._renamed(old.sense), str(new.sense), ways, old, new)
        was, now = wording.drive_words(old), wording.drive_words(new)
        if was != now:
            yield self._change(Claim.PIN, Turn.DRIVE, subject, was, now, ways, old, new)

    def _straps(self) -> Iterator[Change]:
        old, new = ({strap.name: strap for strap in board.straps} for board in (self.old, self.new))
        for name in sorted({*old, *new}):
            one, other = old.get(name), new.get(name)
            if one is not None and other is not None and (one.joined, one.size) == (other.joined, other.size):
                continue
            turn = Turn.COMES if one is None else Turn.GOES if other is None else Turn.STATED
            yield Change(
                Claim.STRAP,
                turn,
                f"strap {name}",
                strap_words(one.joined) if one else None,
                strap_words(other.joined) if other else None,
                (),
                (one.origin,) if one else (),
                (other.origin,) if other else (),
            )

    def _pulls(self) -> Iterator[Change]:
        old, new = _pulls(self.old), _pulls(self.new)
        for key in sorted({*old, *new}):
            one, other = old.get(key), new.get(key)
            if one is not None and other is not None and one[0] == other[0]:
                continue
            turn = Turn.COMES if one is None else Turn.GOES if other is None else Turn.STATED
            yield Change(
                Claim.PULL,
                turn,
                f"pull {'up' if key[1] else 'down'} at {key[0]}",
                one[0] if one else None,
                other[0] if other else None,
                (),
                (one[1],) if one else (),
                (other[1],) if other else (),
            )

    def _amiss(self) -> Iterator[Change]:
        """Drivers that fight and other troubles that are new or gone."""
        for claim, found in ((Claim.CONFLICT, _conflicts), (Claim.TROUBLE, _troubles)):
            old, new = ({} if one is None else found(one) for one in self.maps)
            for key in sorted({*old, *new}):
                if key in old and key in new and old[key][0] == new[key][0]:
                    continue
                turn = Turn.COMES if key not in old else Turn.GOES if key not in new else Turn.MOVES
                yield Change(
                    claim,
                    turn,
                    key,
                    old[key][0] if key in old else None,
                    new[key][0] if key in new else None,
                    (),
                    old[key][1] if key in old else (),
                    new[key][1] if key in new else (),
                )

    # --- the nets themselves ---

    def _parts(self) -> Iterator[Change]:
        old, new = ({part.name: part for part in board.parts} for board in (self.old, self.new))
        for name in sorted({*old, *new}):
            one, other = old.get(name), new.get(name)
            if one is not None and other is not None and one.marking == other.marking:
                continue
            turn = Turn.COMES if one is None else Turn.GOES if other is None else Turn.STATED
            yield Change(
                Claim.PART,
                turn,
                name,
                one.marking if one else None,
                other.marking if other else None,
                (),
                (one.origin,) if one else (),
                (other.origin,) if other else (),
            )

    def _joints(self) -> Iterator[Change]:
        for joint in self.joints:
            turn = Turn.COMES if not joint.goes else Turn.GOES if not joint.comes else Turn.MOVES
            yield Change(
                Claim.JOINT,
                turn,
                f"net {joint.net}",
                _pin_list(joint.goes),
                _pin_list(joint.comes),
                (),
                (joint.old_origin,) if joint.old_origin else (),
                (joint.new_origin,) if joint.new_origin else (),
            )


def match_registers(
    old: tuple[Register, ...], new: tuple[Register, ...]
) -> list[tuple[Register | None, Register | None]]:
    """Which register of the one board is which of the other: pairs in the new board's order, lost ones last.

    Most bits with the same source first, then most parts in common, then the same lowest address; space, direction and
    kind must be the same.  A pair has at least one of the three.
    """
    scores = [
        (score, a, b)
        for a, one in enumerate(old)
        for b, other in enumerate(new)
        if (score := _likeness(one, other)) > (0, 0, 0)
    ]
    taken: dict[int, int] = {}
    used: set[int] = set()
    for _, a, b in sorted(scores, key=lambda row: (tuple(-part for part in row[0]), row[1], row[2])):
        if b not in taken and a not in used:
            taken[b] = a
            used.add(a)
    pairs: list[tuple[Register | None, Register | None]] = [
        (old[taken[b]] if b in taken else None, other) for b, other in enumerate(new)
    ]
    return pairs + [(one, None) for a, one in enumerate(old) if a not in used]


def _likeness(one: Register, other: Register) -> tuple[int, int, int]:
    if (one.space, one.direction, one.kind) != (other.space, other.direction, other.kind):
        return (0, 0, 0)
    sources = {bit.number: _source(bit) for bit in one.bits}
    alike = sum(bool(_source(bit)) and sources.get(bit.number) == _source(bit) for bit in other.bits)
    parts = len({*one.parts} & {*other.parts})
    return (alike, parts, int(one.lowest == other.lowest))


def _source(bit: RegisterBit) -> str:
    """What a bit follows, without its polarity; empty where it follows nothing."""
    return bit.sense.source if bit.sense.kind is BitKind.FOLLOWS else ""


def _told(register: Register | None) -> str | None:
    return None if register is None else wording.addresses_words(register)


def _effects(register: Register) -> str:
    return "; ".join(register.effects) or wording.NO_EFFECT


def _passed_pins(register: Register) -> Iterator[tuple[PinAt, ...]]:
    for bit in register.bits:
        yield bit.way
        for reach in bit.reaches:
            yield reach.way
    for reach in register.reaches:
        yield reach.way


def _cone(board: Board, register: Register) -> tuple[PinAt, ...]:
    """Every pin that has a say in when the register answers: its parts' inputs, and what feeds them."""
    network = build_network(board)
    waiting = [net for node in network.blocks if node.part in register.parts for net in node.inputs]
    seen: set[int] = set()
    pins: dict[PinAt, None] = {}
    while waiting:
        net = waiting.pop()
        if net in seen or network.nets[net].rail is not None:
            continue
        seen.add(net)
        pins.update(dict.fromkeys(network.nets[net].pins))
        waiting += [feed for block, _ in network.nets[net].drivers for feed in network.blocks[block].inputs]
    return tuple(pins)


def _pulls(board: Board) -> dict[tuple[str, int], tuple[str, Origin]]:
    """(lowest pin of the net, level) → value as typed, place."""
    return {
        (str(min(board.net(pull.net).pins)), pull.level): (pull.words or "value not stated", pull.origin)
        for pull in board.pulls
        if board.net(pull.net).pins
    }


def _plug_pins(board: Board) -> dict[tuple[str, int], tuple[str, str, int | None, Origin]]:
    return {
        (plug.name, pin.number): (pin.signal, pin.direction.value, pin.active, pin.origin)
        for plug in board.connectors
        for pin in plug.pins
    }


def _conflicts(found: RegisterMap) -> dict[str, tuple[str, tuple[Origin, ...]]]:
    return {
        f"{one.first} and {one.second} ({one.during})": (
            wording.conflict_words(one),
            tuple(dict.fromkeys(found.board.part(at.owner).origin for at in (one.first, one.second))),
        )
        for one in found.conflicts
    }


def _troubles(found: RegisterMap) -> dict[str, tuple[str, tuple[Origin, ...]]]:
    nets = {net.name: f"the net of {min(net.pins)}" for net in found.board.nets if net.pins}
    return {f"{one.kind} at {nets.get(one.place, one.place)}": (one.words, (one.origin,)) for one in found.troubles}


def _pin_list(pins: tuple[PinAt, ...]) -> str | None:
    return ", ".join(str(at) for at in pins) or None
