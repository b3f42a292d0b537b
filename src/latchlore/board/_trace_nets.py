"""Nets concluded from continuity readings: a doubt beside every joint that deserves one, and the board they make."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from latchlore.base import PinsRead
from latchlore.board import tracefacts as facts
from latchlore.board import tracewording as wording
from latchlore.board._board import Board, Doubt, FoundJoint, Net, PinAt
from latchlore.board._trace_guide import Guide
from latchlore.board._trace_likelihood import Picture, picture_of, shown
from latchlore.board._trace_quarrels import iter_quarrels
from latchlore.board._trace_state import STATED
from latchlore.board._trace_unsure import find_unlikely, find_unsure
from latchlore.board.tracefacts import Kind
from latchlore.board.wording import pins_joined

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import Origin
    from latchlore.board._readings import MeterReading


@dataclass(frozen=True, slots=True)
class Joint:
    """Two pins read joined: its likelihood (0 to 1), the readings of just this pair, whether one number holds it.

    `hangs_on_one`: of all readings that join the two sides, none was taken with the pin held whose number was typed, so
    one slip, made once or every time, explains them.  `unlikely`: likelihood below `tracefacts.SURE`, or read apart
    nearly as often, and nothing goes round the joint.  `believed`: whether the nets rest on it; where not, the side
    without a driver counts as not traced.
    """

    first: PinAt
    second: PinAt
    likelihood: float
    readings: tuple[MeterReading, ...]
    hangs_on_one: bool
    unlikely: bool
    believed: bool

    @property
    def is_doubted(self) -> bool:
        """Whether a doubt stands beside it."""
        return self.hangs_on_one or self.unlikely or not self.believed


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Readings that cannot all be right: what is against what, and the pairs likeliest read wrong, first first."""

    first: PinAt
    second: PinAt
    words: str
    suspects: tuple[tuple[PinAt, PinAt], ...]
    readings: tuple[MeterReading, ...]  # of the first suspect


@dataclass(frozen=True, slots=True)
class TracedNets:
    """What the readings make of a board.

    `board` is the board with the nets, doubts, open and untraced pins concluded; `joints` by pins; `set_aside` are
    readings through a resistance or a junction, kept and not believed.  `missing` is how many joints are likely
    not found yet.
    """

    board: Board
    joints: tuple[Joint, ...]
    disagreements: tuple[Disagreement, ...]
    set_aside: tuple[MeterReading, ...]
    missing: float


def conclude(board: Board, readings: Sequence[MeterReading]) -> TracedNets:
    """Conclude the nets of a board from all its readings, those stated in its net file taken as given.

    Nothing is refused: readings against each other are kept, the likelier side is followed, and a doubt says so.
    """
    guide = Guide(board, readings)
    state, pins = guide.state, guide.state.ground.pins
    found = list(iter_quarrels(state))
    unsure = find_unsure(state)
    hangs = {pair for one in unsure for pair in one.pairs}
    doubtful = find_unlikely(state)
    unlikely = {pair for one in doubtful for pair in one.pairs}
    broken = {q.suspects[0] for q in found if q.rule in _BREAKS and q.suspects}
    weak = broken | {
        pair
        for one in (*unsure, *doubtful)
        if max(_likelihood(state.odds(pair)) for pair in one.pairs) < facts.BELIEVED
        for pair in one.pairs
    }
    joints = tuple(
        Joint(
            pins[a],
            pins[b],
            _likelihood(state.odds((a, b))),
            tuple(state.readings_of((a, b))),
            (a, b) in hangs,
            (a, b) in unlikely,
            (a, b) not in weak,
        )
        for a in range(state.count)
        for b in sorted(state.links[a])
        if a < b and state.yes.get((a, b), 0) < STATED
    )
    quarrels = tuple(
        Disagreement(
            pins[q.first],
            pins[q.second],
            wording.RULES[q.rule].format(first=pins[q.first], second=pins[q.second]),
            tuple((pins[a], pins[b]) for a, b in q.suspects),
            tuple(state.readings_of(q.suspects[0])) if q.suspects else (),
        )
        for q in found
    )
    aside = tuple(r for r in readings if r.diodes or any(at not in r.beeped for at, _ in r.ohms))
    state.set_aside(weak)
    picture = picture_of(state)
    made = _board_of(board, guide, picture, tuple(readings), _doubts(guide, picture, joints, quarrels, aside))
    made = replace(made, readings=tuple(readings), joints=_found_joints(board, joints))
    return TracedNets(made, joints, quarrels, aside, picture.missing)


def _found_joints(board: Board, joints: tuple[Joint, ...]) -> tuple[FoundJoint, ...]:
    """What the net file joins, and what the readings do where they are believed."""
    stated = [FoundJoint(net.pins[0], at, net.origin) for net in board.nets for at in net.pins[1:]]
    read = [
        FoundJoint(
            one.first,
            one.second,
            _beeps(one)[0].origin,
            tuple(
                PinsRead(r.origin, pins_joined(r.held, one.first if r.held == one.second else one.second))
                for r in _beeps(one)
            ),
        )
        for one in joints
        if one.believed
    ]
    return (*stated, *read)


def _likelihood(odds: float) -> float:
    return 1 / (1 + math.exp(-max(-50.0, min(50.0, odds))))


def _board_of(
    board: Board, guide: Guide, picture: Picture, readings: tuple[MeterReading, ...], doubts: list[Doubt]
) -> Board:
    state, pins = guide.state, guide.state.ground.pins
    origin_of = {at: r.origin for r in reversed(readings) for at in (r.held, *r.beeped)}
    nets: list[Net] = []
    taken: set[str] = set()
    for group in picture.groups:
        if len(group) > 1 or board.net_of(pins[group[0]]) is not None:
            members = tuple(sorted(pins[k] for k in group))
            name = _name_of(board, guide, group, taken)
            taken.add(name)
            nets.append(Net(name, members, next((origin_of[at] for at in members if at in origin_of), board.origin)))
    joined = {at for net in nets for at in net.pins}
    read = {at for r in readings for at in (r.held, *r.strip, *r.touched)}
    left = {at for at in pins if at not in joined and at not in read}
    # A net whose driver has most likely not been found is not traced, whatever stands in it.
    left |= {pins[k] for g, group in enumerate(picture.groups) if picture.heads[g, g] < _HEADED for k in group}
    left -= board.open_pins
    return replace(
        board,
        nets=tuple(nets),
        doubts=(*board.doubts, *doubts),
        open_pins=board.open_pins | (set(state.ground.pins) - joined - left),
        not_traced=frozenset(left),
        _net_at={},
    )


def _name_of(board: Board, guide: Guide, group: list[int], taken: set[str]) -> str:
    """The net file's own name, a rail, a connector's signal, else its first pin."""
    pins, kinds = guide.state.ground.pins, guide.state.ground.kinds
    signals = {PinAt(c.name, p.number): p.signal for c in board.connectors for p in c.pins}
    named = [board.net_of(pins[k]) for k in group]
    wanted = [name for name in named if name]
    wanted += [{Kind.GROUND: "gnd", Kind.SUPPLY: "vcc"}[kinds[k]] for k in group if kinds[k] in _RAILS]
    wanted += [signals[pins[k]] for k in group if pins[k] in signals]
    first = pins[group[0]]
    wanted.append(f"{first.owner}-{first.pin}")
    return next(name for name in wanted if name not in taken)


_RAILS = (Kind.GROUND, Kind.SUPPLY)
_WORTH_A_DOUBT = 0.02
_BREAKS = ("outputs", "rails", "rail output", "unlikely")
_HEADED = 0.9
"""A net that heads itself with less than this likelihood has a driver that was not found."""


def _doubts(
    guide: Guide,
    picture: Picture,
    joints: tuple[Joint, ...],
    quarrels: tuple[Disagreement, ...],
    aside: tuple[MeterReading, ...],
) -> list[Doubt]:
    origin = guide.state.board.origin
    found: list[Doubt] = []
    for joint in joints:
        if joint.is_doubted:
            words = _form_of(joint).format(
                first=joint.first, second=joint.second, share=joint.likelihood, pin=_typed_end(joint)
            )
            place = joint.readings[0].origin if joint.readings else origin
            found += [Doubt(str(at), words, place) for at in (joint.first, joint.second)]
    for quarrel in quarrels:
        place = quarrel.readings[0].origin if quarrel.readings else origin
        touched = sorted({quarrel.first, quarrel.second, *(at for pair in quarrel.suspects for at in pair)})
        found += [Doubt(str(at), quarrel.words, place) for at in touched]
    for reading in aside:
        for at, kind in [(at, f"{ohms:g} ohms") for at, ohms in reading.ohms if at not in reading.beeped] + [
            (at, "a junction") for at in reading.diodes
        ]:
            words = wording.NOT_BELIEVED.format(first=reading.held, second=at, kind=kind)
            found.append(Doubt(str(at), words, reading.origin))
    return found + _open_doubts(guide, picture, origin)


def _form_of(joint: Joint) -> str:
    if not joint.believed:
        return wording.NOT_SURE
    if not joint.hangs_on_one:
        return wording.UNLIKELY if joint.likelihood < facts.SURE else wording.READ_APART
    return wording.ONE_READING if len(_beeps(joint)) == 1 else wording.ONE_NUMBER


def _beeps(joint: Joint) -> list[MeterReading]:
    ends = {joint.first, joint.second}
    return [r for r in joint.readings if r.held in ends and not ends.isdisjoint(r.beeped)]


def _typed_end(joint: Joint) -> PinAt:
    """The end whose number was typed in the first of a joint's readings."""
    beeps = _beeps(joint)
    return joint.first if beeps and beeps[0].held == joint.second else joint.second


def _open_doubts(guide: Guide, picture: Picture, origin: Origin) -> list[Doubt]:
    """Inputs without a driver, and pins that may still be joined to others."""
    found: list[Doubt] = []
    pins, kinds = guide.state.ground.pins, guide.state.ground.kinds
    ranks = {kind: k for k, kind in enumerate(Kind)}
    for k, group in enumerate(picture.groups):
        if ranks[kinds[group[0]]] >= ranks[Kind.DATA_IN] and kinds[group[0]] is not Kind.IDLE:
            found.append(Doubt(str(pins[group[0]]), wording.NO_DRIVER.format(first=pins[group[0]]), origin))
        elif len(group) == 1 and kinds[group[0]] is not Kind.IDLE and guide.state.no[group[0]].any():
            found.append(Doubt(str(pins[group[0]]), wording.ALONE.format(first=pins[group[0]]), origin))
        best = int(picture.joint[k].argmax())
        share = shown(float(picture.joint[k, best]))
        if share > _WORTH_A_DOUBT:
            words = wording.STILL_LIKELY.format(second=pins[picture.groups[best][0]], share=share)
            found.append(Doubt(str(pins[group[0]]), words, origin))
    return found + _bus_doubts(guide, picture, origin)


_LINES_OF_A_BUS = 3
_MEETS_OUTSIDE = (Kind.HOST_DATA, Kind.HOST_ADDRESS, Kind.HOST_CONTROL, Kind.PLUG)


def _bus_doubts(guide: Guide, picture: Picture, origin: Origin) -> list[Doubt]:
    """Data lines of a host most of whose neighbours were found alone.

    A board takes a data bus up together (common practice). Where most lines of it lead nowhere, one wrong reading of
    the whole bus may have hidden them all, and the line that leads somewhere was cut short by it as well.
    """
    pins, kinds = guide.state.ground.pins, guide.state.ground.kinds
    found: list[Doubt] = []
    size = {k: len(group) for group in picture.groups for k in group}
    lines = [k for k in size if kinds[k] is Kind.HOST_DATA]
    for owner in sorted({pins[k].owner for k in lines}):
        own = sorted((k for k in lines if pins[k].owner == owner), key=lambda k: pins[k])
        alone = sum(size[k] == 1 for k in own)
        if alone * 2 > len(own):
            words = wording.BUS_ALONE.format(owner=owner, alone=alone, lines=len(own))
            found += [Doubt(str(pins[k]), words, origin) for k in own if size[k] > 1]
    return found + _lone_bus_doubts(guide, picture, origin)


def _lone_bus_doubts(guide: Guide, picture: Picture, origin: Origin) -> list[Doubt]:
    """Lines of a bus between the same chips, several of whose outputs take turns, that meets no line of the host.

    Outputs that can let go are there to share the host's bus (common practice).  Where most lines of such a bus keep to
    themselves, one wrong reading of the whole bus may have cut it off.
    """
    pins, kinds = guide.state.ground.pins, guide.state.ground.kinds
    lines: dict[tuple[str, ...], list[tuple[int, ...]]] = {}
    for group in picture.groups:
        of = [kinds[k] for k in group]
        sharing = sum(kind in (Kind.DRIVER, Kind.BOTH_WAYS) for kind in of)
        if sharing > 1 and not any(kind in _MEETS_OUTSIDE for kind in of):
            owners = tuple(sorted({str(pins[k].owner) for k in group}))
            lines.setdefault(owners, []).append(tuple(group))
    found: list[Doubt] = []
    for owners, groups in lines.items():
        if len(groups) >= _LINES_OF_A_BUS:
            words = wording.BUS_APART.format(count=len(groups), owners=" and ".join(owners))
            found += [Doubt(str(pins[group[0]]), words, origin) for group in groups]
    return found


def is_doubted(traced: TracedNets, one: PinAt, other: PinAt) -> bool:
    """Whether a doubt stands beside either pin or the net of either."""
    places = {doubt.place for doubt in traced.board.doubts}
    beside = {str(at) for end in (one, other) for at in _net_of(traced.board, end)}
    return bool(places & (beside | {str(one), str(other)}))


def _net_of(board: Board, at: PinAt) -> tuple[PinAt, ...]:
    name = board.net_of(at)
    return board.net(name).pins if name else (at,)
