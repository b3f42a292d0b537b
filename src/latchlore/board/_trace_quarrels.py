"""Where readings contradict each other or a rule of the trade, and which of them is likeliest wrong."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from latchlore.board import tracefacts as facts
from latchlore.board._trace_state import BACKED, NO, STATED, YES, pair_of, step_gain
from latchlore.board.tracefacts import Kind

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from latchlore.board._readings import MeterReading
    from latchlore.board._trace_state import Pair, State


@dataclass(frozen=True, slots=True)
class Quarrel:
    """Two pins that cannot stand as the readings put them; `suspects` are pairs, the likeliest wrong one first."""

    first: int
    second: int
    rule: str  # a key of `tracewording.RULES`
    suspects: tuple[Pair, ...]


def iter_quarrels(state: State) -> Iterator[Quarrel]:
    """Where the readings contradict each other or a rule of the trade, the surest first."""
    ranks: dict[Pair, float] = {}
    same = state.label[:, None] == state.label[None, :]
    for one, other in np.argwhere(np.triu(same & (state.no > 0), 1)).tolist():
        pair = (one, other)
        if state.odds(pair) <= 0:
            yield _quarrel(state, ranks, one, other, "apart", [pair, *path(state, one, other)])
    for group in state.groups():
        if len(group) > 1:
            for one, other, rule in _broken_rules(state, group):
                yield _quarrel(state, ranks, one, other, rule, path(state, one, other))
    for pair in sorted(state.yes):
        if state.odds(pair) <= 0 and state.label[pair[0]] != state.label[pair[1]] and state.asked(pair) < 3:
            yield Quarrel(pair[0], pair[1], "unlikely", (pair,))


def _broken_rules(state: State, group: list[int]) -> Iterator[tuple[int, int, str]]:
    """Two outputs, two rails, or a rail and an output in one net."""
    kinds = state.ground.kinds
    hard = [k for k in group if state.ground.hard[k]]
    if len(hard) > 1:
        yield hard[0], hard[1], "outputs"
    rails = {kinds[k]: k for k in group if kinds[k] in (Kind.GROUND, Kind.SUPPLY)}
    if len(rails) == 2:
        one, other = rails.values()
        yield one, other, "rails"
    elif rails and hard:
        yield next(iter(rails.values())), hard[0], "rail output"


def path(state: State, one: int, other: int) -> list[Pair]:
    """Joints on the shortest way between two pins of a group; [] where there is none."""
    came = {one: one}
    queue = deque([one])
    while queue:
        at = queue.popleft()
        if at == other:
            break
        for to in sorted(state.links[at]):
            if to not in came:
                came[to] = at
                queue.append(to)
    if other not in came:
        return []
    way = []
    while other != one:
        way.append(pair_of(other, came[other]))
        other = came[other]
    return way[::-1]


def _quarrel(state: State, ranks: dict[Pair, float], one: int, other: int, rule: str, pairs: Iterable[Pair]) -> Quarrel:
    """The quarrel with its suspects ranked; `ranks` keeps what was reckoned for the others of the same state."""
    own = [pair for pair in pairs if state.yes.get(pair, 0) < STATED]
    for pair in own:
        if pair not in ranks:
            ranks[pair] = wrongness(state, pair)
    return Quarrel(one, other, rule, tuple(sorted(own, key=lambda pair: (-ranks[pair], pair))))


def wrongness(state: State, pair: Pair) -> float:
    """Log odds of the readings of a pair being wrong, had they been given by chance: a quarrel's ranking key.

    For a pair read apart inside a group it is that of a beep having been missed, once a reading, and more where the
    pin beside was typed in its stead.

    For a joint it is the odds of the pins being apart after all, and a missed beep more for every reading that would
    otherwise have to be wrong as well:

    - Readings that put pins of its two sides apart.  A false joint has many of those, because each side was swept from
      the other before; a true one has the reading that was missed alone.
    - Its own readings, where they are silent about the pin beside the one typed, which the other readings put into the
      net of the pin held: a slip to the next number is one mistake, but takes a beep away as it adds one.

    Against that stand the strips heard across it, each as much as `tracefacts.BACKED`, and that the guide looks where
    joints are likely, so that one read is likelier than its pins alone make it (`tracefacts.JOINT_HOLDS`).  What the
    joint itself has made likely is left out of its odds: it raises all joints in step between its ports, itself too,
    but is no witness for itself.  Where a ring goes round it, its being wrong ends no quarrel.
    """
    if pair[1] not in state.links[pair[0]]:
        slip = math.log(facts.SLIPPED) if _typed_beside(state, pair) else 0.0
        return float(state.no[pair]) * NO + state.yes.get(pair, 0) * YES + slip
    apart = -state.odds(pair, step=min(float(state.step[pair]), _step_of_others(state, pair)))
    beyond = _beyond(state, pair)
    if pair[0] in beyond:
        return apart + NO
    heard = max(_heard_across(state, pair, beyond) - state.backed(pair), 0)
    against = _against(state, pair, beyond) | _slipped(state, pair)
    return apart - heard * BACKED + (facts.JOINT_HOLDS - len(against)) * NO


def _typed_beside(state: State, pair: Pair) -> bool:
    """Whether a reading that puts a pair apart has a beep at the pin beside the one that was silent."""
    ground = state.ground
    for reading in state.readings_of(pair):
        if not _heard(state, reading, *pair):
            heard = {ground.index[at] for at in reading.joined}
            silent = {ground.index[at] for at in reading.silent}
            if any(k in silent and not heard.isdisjoint(ground.beside[k]) for k in pair):
                return True
    return False


def _heard_across(state: State, pair: Pair, beyond: set[int]) -> int:
    """How many strips over the one side of a joint only were heard at pins of the other."""
    near = set(np.flatnonzero(state.label == state.label[pair[0]]).tolist()) - beyond
    return sum(
        (pin in beyond and several.isdisjoint(beyond) and not several.isdisjoint(near))
        or (pin in near and several.isdisjoint(near) and not several.isdisjoint(beyond))
        for pin, several in dict.fromkeys(state.clues)
    )


def _against(state: State, pair: Pair, beyond: set[int]) -> set[int]:
    """Identities of the readings that put a pin of one side of a joint apart from one of the other."""
    group = np.flatnonzero(state.label == state.label[pair[0]])
    is_far = np.isin(group, sorted(beyond))
    far, near = group[is_far], group[~is_far]
    found: set[int] = set()
    for i, j in np.argwhere(state.no[np.ix_(far, near)] > 0).tolist():
        one, other = int(far[i]), int(near[j])
        for reading in state.readings_of(pair_of(one, other)):
            if not _heard(state, reading, one, other):
                found.add(id(reading))
    return found


def _slipped(state: State, pair: Pair) -> set[int]:
    """Identities of a joint's readings that are silent about a pin beside the one typed, though it is in the net."""
    ground, label = state.ground, state.label
    found: set[int] = set()
    for reading in state.readings_of(pair):
        if _heard(state, reading, *pair):
            held = ground.index[reading.held]
            typed = pair[0] if pair[1] == held else pair[1]
            silent = {ground.index[at] for at in reading.silent} - {held}
            if any(label[k] == label[held] for k in ground.beside[typed] & silent):
                found.add(id(reading))
    return found


def _step_of_others(state: State, pair: Pair) -> float:
    """How much likelier the other joints of its pins' two ports make a pair: a factor, 1 and up."""
    port, label = state.ground.port, state.label
    one, other = pair
    if min(port[one], port[other]) < 0 or port[one] == port[other]:
        return 1.0
    ones, others, gain = step_gain(state.ground, one, other)
    joined = (label[ones][:, None] == label[others][None, :]) & (ones != one)[:, None] & (others != other)[None, :]
    return float(gain[joined].max(initial=1.0))


def _heard(state: State, reading: MeterReading, one: int, other: int) -> bool:
    pins = state.ground.pins
    return pins[one] in reading.beeped or pins[other] in reading.beeped


def _beyond(state: State, pair: Pair) -> set[int]:
    """The pins still joined to the second of a pair without the joint of the pair."""
    one, other = pair
    found, queue = {other}, [other]
    for at in queue:
        for to in state.links[at]:
            if to not in found and (at, to) != (other, one):
                found.add(to)
                queue.append(to)
    return found
