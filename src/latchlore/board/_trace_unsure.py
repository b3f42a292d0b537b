"""Which joints hang on one number alone: a pin that was always typed, never held, may be its neighbour."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.board import tracefacts as facts

if TYPE_CHECKING:
    from collections.abc import Iterable
    from collections.abc import Set as AbstractSet

    from latchlore.board._trace_state import Pair, State

    Heard = tuple[int, list[int], frozenset[int]]  # the pin heard, the strip's pins in its net, all of the strip's
    Clues = dict[int, list[Heard]]  # by net


_SURE = math.log(facts.SURE / (1 - facts.SURE))


@dataclass(frozen=True, slots=True)
class Unsure:
    """A part of a net that is joined to the rest by nothing but the number of one pin, typed once or oftener.

    Whoever takes a pin for its neighbour may do so again, so a second reading with the same number is no second
    witness.  `pin` is the pin typed, `far` what only its number joins to the rest of the net (with `rest`, the pin
    among it, the whole net), `pairs` the joints that rest on the number, in order.
    """

    pin: int
    far: frozenset[int]
    rest: frozenset[int]
    pairs: tuple[Pair, ...]

    def settled_by(self, held: int, row: AbstractSet[int]) -> bool:
        """Whether a sweep from `held` along `row` joins the two sides without that number being typed."""
        if held in self.far:
            return not row.isdisjoint(self.rest - {self.pin})
        return held in self.rest and not row.isdisjoint(self.far)


def find_unsure(state: State) -> list[Unsure]:
    """All joints of a board that hang on one number, by pin and then by joint.

    What settles one: the pin was held and beeped at the other side, another pin of its side was read joined to the
    other, or a strip that does not lie over its row was heard across.  A supply pin in its own rail is where the
    pinout puts it: there a second reading of any sort is enough.
    """
    clues = _clues_by_net(state)
    found: list[Unsure] = []
    for pin in range(state.count):
        loose = {k for k in state.links[pin] if _rests_on(state, pin, k)}
        if loose and not (state.ground.is_rail[pin] and _read_twice(state, pin, loose, clues)):
            for one in _sides(state, pin, loose):
                if not _heard_across(state, one, clues.get(int(state.label[pin]), ())):
                    found.append(one)
    return found


def find_unlikely(state: State) -> list[Unsure]:
    """Joints that nothing goes round, and that are less likely than `tracefacts.SURE` or were read apart as well.

    Read apart: no two more readings join the pair than put it apart.  In order of pairs.  They are given as if they
    hung on the number typed, so that the same readings settle them.
    """
    found: list[Unsure] = []
    for one in range(state.count):
        for other in sorted(state.links[one]):
            pair = (one, other)
            if one < other and not state.is_stated(pair) and _is_weak(state, pair):
                far = _reached(state, one, one, {other})
                if other not in far:
                    rest = _reached(state, other, other, {one})
                    pin = min(state.typed.get(pair, pair))
                    sides = (rest, far) if pin in far else (far, rest)
                    found.append(Unsure(pin, frozenset(sides[0]), frozenset(sides[1]), (pair,)))
    return found


def _is_weak(state: State, pair: Pair) -> bool:
    apart = int(state.no[pair])
    return state.odds(pair) < _SURE or (apart > 0 and state.yes.get(pair, 0) < apart + 2)


def _rests_on(state: State, pin: int, other: int) -> bool:
    pair = (pin, other) if pin < other else (other, pin)
    return state.typed.get(pair) == {pin} and not state.is_stated(pair)


def _read_twice(state: State, pin: int, loose: set[int], clues: Clues) -> bool:
    times = sum(state.yes[min(pin, k), max(pin, k)] for k in loose)
    return times + sum(pin == heard for heard, _, _ in clues.get(int(state.label[pin]), ())) > 1


def _sides(state: State, pin: int, loose: set[int]) -> list[Unsure]:
    """The parts that fall off a net without the joints of a pin to `loose`."""
    near = _reached(state, pin, pin, loose)
    left = loose - near
    parts: list[tuple[set[int], list[int]]] = []
    while left:
        part = _reached(state, min(left), pin, loose)
        parts.append((part, sorted(left & part)))
        left -= part
    net = near.union(*(part for part, _ in parts))
    return [
        Unsure(
            pin,
            frozenset(part),
            frozenset(net - part),
            tuple((min(pin, k), max(pin, k)) for k in ends),
        )
        for part, ends in parts
    ]


def _reached(state: State, start: int, pin: int, loose: set[int]) -> set[int]:
    """Pins joined to `start` without the joints of `pin` to `loose`."""
    found, queue = {start}, [start]
    for at in queue:
        for to in state.links[at]:
            if to not in found and not (at == pin and to in loose) and not (to == pin and at in loose):
                found.add(to)
                queue.append(to)
    return found


def _clues_by_net(state: State) -> Clues:
    """Readings of a strip that a net explains."""
    label = state.label.tolist()
    found: Clues = {}
    for pin, several in dict.fromkeys(state.clues):
        ends = [k for k in several if label[k] == label[pin]]
        if ends:
            found.setdefault(label[pin], []).append((pin, ends, several))
    return found


def _heard_across(state: State, one: Unsure, clues: Iterable[Heard]) -> bool:
    """Whether a pin was heard with a strip on the other side only, and a slip of the number does not explain that.

    It does where the strip lies over the pin itself, whose neighbour would have been heard as well, or over the net of
    such a neighbour: a strip over a bus is heard whichever line was meant.
    """
    label = state.label.tolist()
    beside = {label[k] for k in state.ground.beside[one.pin]} - {label[one.pin]}
    for pin, ends, several in clues:
        if pin != one.pin and one.pin not in several:
            from_far = pin in one.far
            across = (one.rest if from_far else one.far).issuperset(ends)
            if across and (not from_far or all(label[k] not in beside for k in several)):
                return True
    return False
