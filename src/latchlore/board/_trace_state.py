"""What all readings together say: which pairs are believed joined, and the groups they form."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

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
    from latchlore.board._trace_roles import Ground

Pair = tuple[int, int]
Clue = tuple[int, frozenset[int]]  # a pin, and several of which one at least is joined to it

YES = math.log((1 - facts.MISSED_BEEP) / facts.FALSE_BEEP)
NO = MISSED
BACKED = math.log(facts.BACKED)
STATED = 1000
"""Readings that a joint stated in the net file counts for."""

_LEAST = 1e-5
"""No pair of pins is likelier than this to be apart before it is read."""


class _Taken(NamedTuple):
    """A reading with the indices of its pins: held (or pressed by a strip), silent, and heard."""

    reading: MeterReading
    holds: frozenset[int]
    silent: frozenset[int]
    heard: frozenset[int]

    def speaks_of(self, one: int, other: int) -> bool:
        """Whether it joins the two or puts them apart."""
        told = self.silent | self.heard
        return (one in self.holds and other in told) or (other in self.holds and one in told)


def pair_of(first: int, second: int) -> Pair:
    """The two indices in order."""
    return (first, second) if first < second else (second, first)


class State:
    """All readings of a board, added one by one; groups are kept up to date.

    `yes` and `no` count the readings of a pair; `typed` has, of each pair read joined, the ends whose number was typed
    while the other was held.  `changes` counts the readings that heard something or tore a joint: while it stays, so do
    joints, groups, `yes`, `typed` and `clues`.
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
        self._taken: list[_Taken] = []
        self._taken_with: list[list[int]] = [[] for _ in range(self.count)]
        self.last = np.zeros(self.count, dtype=np.int64)
        self.actions = 0
        self.changes = 0
        self._groups: list[list[int]] | None = None
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
        silent = [index[at] for at in reading.silent]
        for one in holds:
            for k in silent:
                torn |= self._silence(one, k)
        self._note(reading, holds, silent)
        for at, several in reading.clues:
            clue = index[at], frozenset(index[other] for other in several if other != at)
            self.clues.append(clue)
            for k in clue[1]:
                self._clues_of.setdefault(pair_of(clue[0], k), []).append(clue)
        for at in reading.beeped:
            k = index[at]
            pair = pair_of(held, k)
            self.yes[pair] = self.yes.get(pair, 0) + 1
            self.typed.setdefault(pair, set()).add(k)
            if self.odds(pair) > 0 and k not in self.links[held]:
                self._link(held, k)
        if torn:
            self._regroup()
        self.changes += torn or bool(reading.beeped or reading.clues)

    def _note(self, reading: MeterReading, holds: list[int], silent: list[int]) -> None:
        """Keep a reading by its pins, for `readings_of`.

        A few objects a reading, where lists by pair would be hundreds: the more of them live long, the oftener the
        collector of garbage walks through everything there is, in the middle of a proposal.
        """
        heard = [self.ground.index[at] for at in reading.beeped]
        for k in sorted({*holds, *silent, *heard}):
            self._taken_with[k].append(len(self._taken))
        self._taken.append(_Taken(reading, frozenset(holds), frozenset(silent), frozenset(heard)))

    def readings_of(self, pair: Pair) -> list[MeterReading]:
        """The readings that join a pair or put it apart, in the order taken."""
        one, other = pair
        beside = set(self._taken_with[other])
        both = (self._taken[k] for k in self._taken_with[one] if k in beside)
        return [taken.reading for taken in both if taken.speaks_of(one, other)]

    def _silence(self, held: int, k: int) -> bool:
        """Count a pair read apart; whether that tears a joint."""
        if held == k:
            return False
        self.no[held, k] += 1
        self.no[k, held] += 1
        pair = pair_of(held, k)
        return k in self.links[held] and self.odds(pair) <= 0

    def is_stated(self, pair: Pair) -> bool:
        """Whether the net file states a joint."""
        return self.yes.get(pair, 0) >= STATED

    def odds(self, pair: Pair, *, step: float | None = None) -> float:
        """Log odds of the pair being joined, from its own readings and what its pins are.

        `step`: how much likelier joints of the same two ports make it, where that is not to be what `step` has.
        """
        prior = min(self.before[pair] * (self.step[pair] if step is None else step), 0.98)
        spoken = self.yes.get(pair, 0) * YES + float(self.no[pair]) * NO + self.backed(pair) * BACKED
        return math.log(prior / (1 - prior)) + spoken

    def backed(self, pair: Pair) -> int:
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
        self._groups = None
        self.last[one] = self.last[other] = self.actions
        self._step_along(xs, ys)

    def _step_along(self, xs: npt.NDArray[np.int64], ys: npt.NDArray[np.int64]) -> None:
        """A joint between two ports makes their other pins likelier to be joined in step."""
        port, place = self.ground.port, self.ground.place
        if any(self.ground.kinds[int(k)] in (Kind.GROUND, Kind.SUPPLY) for k in (*xs, *ys)):
            return
        for x in xs[port[xs] >= 0].tolist():
            for y in ys[port[ys] >= 0].tolist():
                if port[x] == port[y]:
                    continue
                shift = int(place[y] - place[x])
                key = (int(port[x]), int(port[y]), shift)
                if key in self._steps:
                    continue
                self._steps.add(key)
                ps, qs, gain = step_gain(self.ground, x, y)
                both = np.minimum(self.step[np.ix_(ps, qs)] * gain, facts.MOST_STEP)
                self.step[np.ix_(ps, qs)] = both
                self.step[np.ix_(qs, ps)] = both.T

    def _regroup(self) -> None:
        """Groups anew from all pairs; what ports made likelier stays."""
        self._groups = None
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
        self.changes += 1
        self._groups = None
        for one, other in pairs:
            self.links[one].discard(other)
            self.links[other].discard(one)
        self.label = np.arange(self.count)
        for one in range(self.count):
            for other in self.links[one]:
                self.label[self.label == self.label[other]] = self.label[one]

    # --- asking ---

    def groups(self) -> list[list[int]]:
        """The pins of every group, by lowest pin.  Kept until a group changes, so not to be changed by the caller."""
        if self._groups is None:
            found: dict[int, list[int]] = {}
            for k, name in enumerate(self.label.tolist()):
                found.setdefault(name, []).append(k)
            self._groups = list(found.values())
        return self._groups

    def open_clues(self) -> list[Clue]:
        """Pins read joined to one of several that no joint explains yet, in order of reading, each once."""
        label = self.label.tolist()
        found = {clue: None for clue in self.clues if label[clue[0]] not in {label[k] for k in clue[1]}}
        return list(found)

    def asked(self, pair: Pair) -> int:
        """How many readings there are of a pair."""
        return self.yes.get(pair, 0) + int(self.no[pair])


def step_gain(
    ground: Ground, one: int, other: int
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64], npt.NDArray[np.float64]]:
    """How much likelier a joint of two ports' pins makes all joints between them: the pins of both, and the factors."""
    port, place = ground.port, ground.place
    ones, others = np.flatnonzero(port == port[one]), np.flatnonzero(port == port[other])
    gap = place[others][None, :] - place[ones][:, None]
    total = place[others][None, :] + place[ones][:, None]
    in_reverse = np.where(total == place[other] + place[one], facts.IN_REVERSE, facts.SAME_PORTS)
    return ones, others, np.where(gap == place[other] - place[one], facts.IN_STEP, in_reverse)


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
