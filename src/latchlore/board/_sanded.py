"""Which types a chip without marking can still be, from what its pins are joined to."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.board import tracefacts as facts
from latchlore.board._board import PinAt
from latchlore.board._catalogue import iter_types
from latchlore.board._trace_roles import kinds_of_type, survey
from latchlore.board.tracefacts import Kind

if TYPE_CHECKING:
    from latchlore.board._board import Board
    from latchlore.board._parts import PartType

_OUTPUTS = (Kind.DECODED, Kind.GATED, Kind.STORED)
_DRIVES = (*_OUTPUTS, Kind.DRIVER, Kind.BOTH_WAYS, Kind.OPEN_COLLECTOR, Kind.HOST_DATA, Kind.HOST_ADDRESS,
           Kind.HOST_CONTROL, Kind.PLUG, Kind.GROUND, Kind.SUPPLY, Kind.UNKNOWN, Kind.STRAP, Kind.LEGS)  # fmt: skip
_LEAST_SHARE = 0.005


@dataclass(frozen=True, slots=True)
class PossibleType:
    """A type that a chip can still be; `share` of all still possible ones, `pins_judged` how many pins spoke."""

    type: PartType
    share: float
    pins_judged: int


def possible_types(board: Board, name: str) -> tuple[PossibleType, ...]:
    """Types of the catalogue that the part `name` can still be, likeliest first, then by number.

    Ruled out are types with another number of pins, with a supply pin on the wrong rail or on a signal, with an
    output on a rail or against another output.  The rest are ranked by how well each pin's kind fits its net's head;
    types with one pinout cannot be told apart by nets and share a rank.  The catalogue is all that is considered.
    """
    part = board.part(name)
    size = len(part.type.pins)
    around = _heads_around(board, name, size)
    scored: list[tuple[float, int, PartType]] = []
    for row in iter_types():
        if len(row.pins) != size:
            continue
        score, judged = _fit(row, around)
        if score > -math.inf:
            scored.append((score, judged, row))
    if not scored:
        return ()
    best = max(score for score, _, _ in scored)
    total = sum(math.exp(score - best) for score, _, _ in scored)
    found = [PossibleType(row, math.exp(score - best) / total, judged) for score, judged, row in scored]
    return tuple(sorted(found, key=lambda p: (-round(p.share, 9), len(p.type.name), p.type.name)))


def _heads_around(board: Board, name: str, size: int) -> list[list[Kind] | None]:
    """For every pin of the chip the kinds of the other pins of its net; None where it was not traced."""
    ground = survey(board)
    around: list[list[Kind] | None] = []
    for number in range(1, size + 1):
        at = PinAt(name, number)
        net = board.net_of(at)
        if net is None:
            around.append(None if at in board.not_traced else [])
        else:
            others = [ground.kinds[ground.index[p]] for p in board.net(net).pins if p.owner != name]
            rails = {"gnd": [Kind.GROUND], "vcc": [Kind.SUPPLY]}
            around.append(sorted(others + rails.get(net, []), key=list(Kind).index))
    return around


def _fit(row: PartType, around: list[list[Kind] | None]) -> tuple[float, int]:
    """Log fit of a type, -inf where it is ruled out; and the number of pins judged."""
    score, judged = 0.0, 0
    for kind, others in zip(kinds_of_type(row), around, strict=True):
        if others is None:
            continue
        judged += 1
        pin = _fit_pin(kind, others)
        if pin == -math.inf:
            return -math.inf, judged
        score += pin
    return score, judged


def _fit_pin(kind: Kind, others: list[Kind]) -> float:
    head = others[0] if others else None
    if kind in (Kind.GROUND, Kind.SUPPLY):
        return 0.0 if head is kind else -math.inf
    if kind in _OUTPUTS:
        if head in (Kind.GROUND, Kind.SUPPLY) or any(o in _OUTPUTS for o in others):
            return -math.inf
        driven = any(o in _DRIVES for o in others)
        return math.log(0.25 if head is None else 0.1 if driven else 0.6)
    if kind is Kind.IDLE:
        return math.log(0.97 if head is None else 0.03)
    if head is None or head not in _DRIVES:
        return math.log(facts.UNDRIVEN if kind not in (Kind.DRIVER, Kind.OPEN_COLLECTOR, Kind.BOTH_WAYS) else 0.3)
    return math.log(max(facts.COMPANY.get(kind, {}).get(head, 0.0), _LEAST_SHARE))
