"""What all readings together say: which pairs are believed joined, the groups they form, and where they disagree."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from latchlore.board import tracefacts as facts
from latchlore.board._trace_likelihood import MISSED, picture_of
from latchlore.board._trace_roles import survey
from latchlore.board.tracefacts import Kind

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy.typing as npt

    from latchlore.board._board import Board
    from latchlore.board._readings import MeterReading

Pair = tuple[int, int]
Clue = tuple[int, frozenset[int]]  # a pin, and several of which one at least is joined to it

YES = math.log((1 - facts.MISSED_BEEP) / facts.FALSE_BEEP)
NO = MISSED
BACKED = math.log(facts.BACKED)
STATED = 1000
"""Readings that a joint stated in the net file counts for."""

_LEAST = 1e-5
"""No pair of pins is likelier than this to be apart before it is read."""


@dataclass(frozen=True, slots=True)
class Quarrel:
    """Two pins that cannot stand as the readings put them; `suspects` are pairs, the likeliest wrong one first."""

    first: int
    second: int
    rule: str  # a key of `tracewording.RULES`
    suspects: tuple[Pair, ...]


def pair_of(first: int, second: int) -> Pair:
    """The two indices in order."""
    return (first, second) if first < second else (second, first)


class State:
    """All readings of a board, added one by one; groups are kept up to date.

    `yes` and `no` count the readings of a pair; `typed` has, of each pair read joined, the ends whose number was typed
    while the other was held.
    """

    def __init__(self, board: Board) -> None:
        self.board = board
        self.ground = survey(board)
        self.count = len(self.ground.pins)
        self.step = np.ones((self.count, self.count), dtype=np.float32)
        self.yes: dict[Pair, int] = {}
        self.typed: dict[Pair, set[int]] = {}
        self.no = np.zeros((self.count, self.count), dtype=np.float32)
        self.label = np.arange(self.count)
        self.links: list[set[int]] = [set() for _ in range(self.count)]
        self.readings_of: dict[Pair, list[MeterReading]] = {}
        self.last = np.zeros(self.count, dtype=np.int64)
        self.actions = 0
        self.clues: list[Clue] = []
        self._clues_of: dict[Pair, list[Clue]] = {}
        self._steps: set[tuple[int, int, int]] = set()
        first = picture_of(self)
        self.before = np.clip(first.joint, _LEAST, 0.98)
        for one, other in _forbidden(self.ground.kinds, self.ground.hard):
            self.before[np.ix_(one, other)] = _LEAST
        for net in board.nets:
            at = [self.ground.index[pin] for pin in net.pins if pin in self.ground.index]
            for k in at[1:]:
                self.yes[pair_of(at[0], k)] = STATED
                self._link(at[0], k)

    # --- adding ---

    def take(self, reading: MeterReading) -> None:
        """Add one reading."""
        index = self.ground.index
        held = index[reading.held]
        self.actions += 1
        torn = False
        holds = [index[at] for at in reading.strip] or [held]
        for one in holds:
            for at in reading.silent:
                torn |= self._silence(one, index[at], reading)
        for at, several in reading.clues:
            clue = index[at], frozenset(index[other] for other in several if other != at)
            self.clues.append(clue)
            for k in clue[1]:
                self._clues_of.setdefault(pair_of(clue[0], k), []).append(clue)
        for at in reading.beeped:
            k = index[at]
            pair = pair_of(held, k)
            self.readings_of.setdefault(pair, []).append(reading)
            self.yes[pair] = self.yes.get(pair, 0) + 1
            self.typed.setdefault(pair, set()).add(k)
            if self.odds(pair) > 0 and k not in self.links[held]:
                self._link(held, k)
        if torn:
            self._regroup()

    def _silence(self, held: int, k: int, reading: MeterReading) -> bool:
        """Count a pair read apart; whether that tears a joint."""
        if held == k:
            return False
        self.no[held, k] += 1
        self.no[k, held] += 1
        pair = pair_of(held, k)
        self.readings_of.setdefault(pair, []).append(reading)
        return k in self.links[held] and self.odds(pair) <= 0

    def is_stated(self, pair: Pair) -> bool:
        """Whether the net file states a joint."""
        return self.yes.get(pair, 0) >= STATED

    def odds(self, pair: Pair) -> float:
        """Log odds of the pair being joined, from its own readings and what its pins are."""
        prior = min(self.before[pair] * self.step[pair], 0.98)
        spoken = self.yes.get(pair, 0) * YES + float(self.no[pair]) * NO + self._backed(pair) * BACKED
        return math.log(prior / (1 - prior)) + spoken

    def _backed(self, pair: Pair) -> int:
        """Readings that join one of the pair to several pins of which only the other is known to be the one."""
        if not self.yes.get(pair):
            return 0
        typed = self.typed.get(pair, set())
        return sum(
            not self.links[pin] & several - set(pair) and not typed <= several
            for pin, several in self._clues_of.get(pair, ())
        )

    def _link(self, one: int, other: int) -> None:
        self.links[one].add(other)
        self.links[other].add(one)
        first, second = self.label[one], self.label[other]
        if first == second:
            return
        xs, ys = np.flatnonzero(self.label == first), np.flatnonzero(self.label == second)
        self.label[ys] = first
        self.last[one] = self.last[other] = self.actions
        self._step_along(xs, ys)

    def _step_along(self, xs: npt.NDArray[np.int64], ys: npt.NDArray[np.int64]) -> None:
        """A joint between two ports makes their other pins likelier to be joined in step."""
        port, place = self.ground.port, self.ground.place
        if any(self.ground.kinds[int(k)] in (Kind.GROUND, Kind.SUPPLY) for k in (*xs, *ys)):
            return
        for x in xs[port[xs] >= 0]:
            for y in ys[port[ys] >= 0]:
                if port[x] == port[y]:
                    continue
                shift = int(place[y] - place[x])
                key = (int(port[x]), int(port[y]), shift)
                if key in self._steps:
                    continue
                self._steps.add(key)
                ps, qs = np.flatnonzero(port == port[x]), np.flatnonzero(port == port[y])
                gap = place[qs][None, :] - place[ps][:, None]
                total = place[qs][None, :] + place[ps][:, None]
                gain = np.where(
                    gap == shift,
                    facts.IN_STEP,
                    np.where(total == place[y] + place[x], facts.IN_REVERSE, facts.SAME_PORTS),
                )
                both = np.minimum(self.step[np.ix_(ps, qs)] * gain, facts.MOST_STEP)
                self.step[np.ix_(ps, qs)] = both
                self.step[np.ix_(qs, ps)] = both.T

    def _regroup(self) -> None:
        """Groups anew from all pairs; what ports made likelier stays."""
        self.label = np.arange(self.count)
        self.links = [set() for _ in range(self.count)]
        for pair in sorted(self.yes):
            if self.odds(pair) > 0:
                one, other = pair
                self.links[one].add(other)
                self.links[other].add(one)
                self.label[self.label == self.label[other]] = self.label[one]

    def set_aside(self, pairs: Iterable[Pair]) -> None:
        """Do without some joints: groups as the others make them.  For a conclusion; no reading may follow."""
        for one, other in pairs:
            self.links[one].discard(other)
            self.links[other].discard(one)
        self.label = np.arange(self.count)
        for one in range(self.count):
            for other in self.links[one]:
                self.label[self.label == self.label[other]] = self.label[one]

    # --- asking ---

    def groups(self) -> list[list[int]]:
        """The pins of every group, by lowest pin."""
        found: dict[int, list[int]] = {}
        for k, name in enumerate(self.label.tolist()):
            found.setdefault(name, []).append(k)
        return list(found.values())

    def open_clues(self) -> list[Clue]:
        """Pins read joined to one of several that no joint explains yet, in order of reading, each once."""
        label = self.label.tolist()
        found = {clue: None for clue in self.clues if label[clue[0]] not in {label[k] for k in clue[1]}}
        return list(found)

    def path(self, one: int, other: int) -> list[Pair]:
        """Joints on the shortest way between two pins of a group; [] where there is none."""
        came = {one: one}
        queue = deque([one])
        while queue:
            at = queue.popleft()
            if at == other:
                break
            for to in sorted(self.links[at]):
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

    def quarrels(self) -> list[Quarrel]:
        """Where the readings contradict each other or a rule of the trade, the surest first."""
        found: list[Quarrel] = []
        same = self.label[:, None] == self.label[None, :]
        for one, other in np.argwhere(np.triu(same & (self.no > 0), 1)).tolist():
            pair = (one, other)
            if self.odds(pair) <= 0:
                way = self.path(one, other)
                found.append(self._quarrel(one, other, "apart", [pair, *way]))
        for group in self.groups():
            if len(group) < 2:
                continue
            hard = [k for k in group if self.ground.hard[k]]
            found += [self._quarrel(hard[0], k, "outputs", self.path(hard[0], k)) for k in hard[1:2]]
            rails = {self.ground.kinds[k]: k for k in group if self.ground.kinds[k] in (Kind.GROUND, Kind.SUPPLY)}
            if len(rails) == 2:
                one, other = rails.values()
                found.append(self._quarrel(one, other, "rails", self.path(one, other)))
            elif rails and hard:
                rail = next(iter(rails.values()))
                found.append(self._quarrel(rail, hard[0], "rail output", self.path(rail, hard[0])))
        for pair in sorted(self.yes):
            if self.odds(pair) <= 0 and self.label[pair[0]] != self.label[pair[1]] and self.asked(pair) < 3:
                found.append(Quarrel(pair[0], pair[1], "unlikely", (pair,)))
        return found

    def asked(self, pair: Pair) -> int:
        """How many readings there are of a pair."""
        return self.yes.get(pair, 0) + int(self.no[pair])

    def _quarrel(self, one: int, other: int, rule: str, pairs: Iterable[Pair]) -> Quarrel:
        suspects = sorted((p for p in pairs if self.yes.get(p, 0) < STATED), key=lambda p: (-self.wrongness(p), p))
        return Quarrel(one, other, rule, tuple(suspects))

    def wrongness(self, pair: Pair) -> float:
        """Log odds of the readings of a pair being wrong, had they been given by chance: a quarrel's ranking key.

        For a pair read apart inside a group it is that of a beep having been missed.  For a joint it is the odds of
        the pins being apart after all: less where a ring goes round it, and by the pins of its two sides that were
        read apart, reading by reading.  A false joint has many of those, because each side was swept from the other
        before; a true one has the reading that was missed alone.
        """
        if pair[1] not in self.links[pair[0]]:
            return float(self.no[pair]) * NO + self.yes.get(pair, 0) * YES
        beyond = self._beyond(pair)
        if pair[0] in beyond:
            return -self.odds(pair) + NO
        group = np.flatnonzero(self.label == self.label[pair[0]])
        far = np.isin(group, sorted(beyond))
        near = group[~far]
        against: set[int] = set()
        for k in group[far].tolist():
            for j in near[self.no[k, near] > 0].tolist():
                against |= {
                    id(reading) for reading in self.readings_of[pair_of(k, j)] if not self._heard(reading, k, j)
                }
        return -self.odds(pair) + (1.5 - len(against)) * NO

    def _heard(self, reading: MeterReading, one: int, other: int) -> bool:
        pins = self.ground.pins
        return pins[one] in reading.beeped or pins[other] in reading.beeped

    def _beyond(self, pair: Pair) -> set[int]:
        """The pins still joined to the second of a pair without the joint of the pair."""
        one, other = pair
        found, queue = {other}, [other]
        for at in queue:
            for to in self.links[at]:
                if to not in found and (at, to) != (other, one):
                    found.add(to)
                    queue.append(to)
        return found


def _forbidden(
    kinds: tuple[Kind, ...], hard: npt.NDArray[np.bool_]
) -> Iterable[tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]]:
    """Pairs of sets whose pins are never joined on a working board: outputs, rails."""
    outputs = np.flatnonzero(hard)
    low = np.array([k for k, kind in enumerate(kinds) if kind is Kind.GROUND], dtype=np.int64)
    high = np.array([k for k, kind in enumerate(kinds) if kind is Kind.SUPPLY], dtype=np.int64)
    for one, other in ((outputs, outputs), (outputs, low), (outputs, high), (low, high)):
        yield one, other
        yield other, one
