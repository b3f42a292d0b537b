"""The tracing guide: which action tells most, from what pins are and what has been read."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from latchlore.board import tracefacts as facts
from latchlore.board import tracewording as wording
from latchlore.board._trace_state import MISSED, State, pair_of
from latchlore.board.tracefacts import Kind

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy.typing as npt

    from latchlore.board._board import Board, PinAt
    from latchlore.board._readings import Reading
    from latchlore.board._trace_state import Pair, Quarrel


class Aim(StrEnum):
    """Why an action is proposed."""

    FIND = "find"
    CONFIRM = "confirm"
    AGAIN = "again"
    DONE = "done"


@dataclass(frozen=True, slots=True)
class Proposal:
    """The next action: hold `held`, drag along the pins of `row` (one pin: touch it), say what beeps.

    `row_word` is how a readings file names the row.  `likely` are pins with the likelihood that they beep, likeliest
    first.  `left` is about how many more actions are needed, `missing` how many joints are likely not found yet.
    `not_done` are pins that may still be joined to something unread; `suspects` the pairs likeliest to have been read
    wrong, first first.
    """

    aim: Aim
    held: PinAt | None
    owner: str
    row_word: str
    row: tuple[PinAt, ...]
    likely: tuple[tuple[PinAt, float], ...]
    words: str
    left: int
    missing: float
    not_done: tuple[PinAt, ...]
    suspects: tuple[tuple[PinAt, PinAt], ...]


@dataclass(slots=True)
class _Picture:
    """Likelihoods between the groups of one moment."""

    groups: list[list[int]]
    of_pin: npt.NDArray[np.int64]
    joint: npt.NDArray[np.float32]  # [group, group]: likelihood of standing in one net
    bits: float  # what is not known of the groups' heads
    heads: npt.NDArray[np.float32]


class Guide:
    """A tracing in progress: take readings, propose the next."""

    def __init__(self, board: Board, readings: Iterable[Reading] = ()) -> None:
        self.state = State(board)
        ground = self.state.ground
        self._in_row = np.zeros((self.state.count, len(ground.rows)), dtype=np.float32)
        for k, (_, _, pins) in enumerate(ground.rows):
            self._in_row[list(pins), k] = 1
        ports = int(ground.port.max(initial=-1)) + 1
        self._in_port = np.zeros((self.state.count, max(ports, 1)), dtype=np.float32)
        has = np.flatnonzero(ground.port >= 0)
        self._in_port[has, ground.port[has]] = 1
        firsts = [[k for k, kind in enumerate(ground.kinds) if kind is rail][:1] for rail in _RAILS]
        self._rails = {k for first in firsts for k in first}
        for reading in readings:
            self.state.take(reading)

    def take(self, reading: Reading) -> None:
        """Add a reading."""
        self.state.take(reading)

    def propose(self) -> Proposal:
        """The next action."""
        state = self.state
        picture = self.picture()
        quarrels = state.quarrels()
        for quarrel in quarrels:
            for pair in quarrel.suspects[:3]:
                if state.asked(pair) < 4:
                    return self._again(picture, quarrel, pair)
        bridges = state.bridges()
        weak = [pair for pair in bridges if state.odds(pair) < _AT_ONCE]
        if weak:
            return self._confirm(picture, min(weak, key=lambda p: (state.odds(p), p)), bridges)
        found = self._best_sweep(picture)
        if found is not None:
            return found
        if bridges:
            return self._confirm(picture, bridges[0], bridges)
        return self._shape(picture, Aim.DONE, None, None, wording.DONE, bridges)

    # --- likelihoods ---

    def picture(self) -> _Picture:
        """Likelihoods between groups, from the shares of heads and the readings that found nothing."""
        state, ground = self.state, self.state.ground
        groups = state.groups()
        size = len(groups)
        of_pin = np.zeros(state.count, dtype=np.int64)
        member = np.zeros((state.count, size), dtype=np.float32)
        for k, group in enumerate(groups):
            of_pin[group] = k
            member[group, k] = 1
        headed = np.log(state.weight.astype(np.float32) @ member + 1e-9)
        heads = member.T @ headed
        apart = member.T @ (state.no @ member)
        heads += np.minimum(apart, 3) * np.float32(MISSED)
        ports = (member.T @ self._in_port) > 0
        rail = np.array([any(ground.kinds[k] in _RAILS for k in group) for group in groups])
        twice = (ports.astype(np.float32) @ ports.T.astype(np.float32)) > 0
        twice &= ~rail[:, None] & ~rail[None, :]
        np.fill_diagonal(twice, val=False)
        heads += np.where(twice, np.float32(math.log(facts.SAME_PORT_TWICE)), np.float32(0))
        fixed = np.array([bool(ground.hard[group].any()) or any(k in self._rails for k in group) for group in groups])
        heads[fixed] = -1e9
        heads[fixed, np.flatnonzero(fixed)] = 0
        heads -= heads.max(axis=1, keepdims=True)
        heads = np.exp(heads)
        heads /= heads.sum(axis=1, keepdims=True)
        away = heads.copy()
        np.fill_diagonal(away, 0)
        missed = np.float32(math.exp(MISSED)) ** np.minimum(apart, 3)
        missed = np.where(twice, missed * np.float32(facts.SAME_PORT_TWICE), missed)
        joint = np.minimum(away + away.T + (away @ away.T) * missed, np.float32(0.999))
        joint[np.ix_(fixed, fixed)] = 0
        np.fill_diagonal(joint, 0)
        with np.errstate(divide="ignore", invalid="ignore"):
            bits = float(-np.nansum(np.where(heads > 0, heads * np.log2(heads), 0)))
        return _Picture(groups, of_pin, joint, bits, heads)

    # --- actions ---

    def _best_sweep(self, picture: _Picture) -> Proposal | None:
        """The group and the row with the most to find: see `worth`."""
        joint = picture.joint
        rows = np.zeros((len(picture.groups), self._in_row.shape[1]), dtype=np.float32)
        np.maximum.at(rows, picture.of_pin, self._in_row)
        gain = worth(joint) @ rows
        best = int(np.argmax(gain))
        group, row = divmod(best, rows.shape[1])
        if float((joint @ rows)[group, row]) < facts.STOP_BELOW:
            return None
        held = self._holder(picture.groups[group], row)
        rail = self.state.ground.kinds[held] in _RAILS
        return self._shape(picture, Aim.FIND, held, row, wording.SUPPLY if rail else wording.FIND, ())

    def _holder(self, group: list[int], row: int) -> int:
        """Which pin of a group to hold: one with few joints, so that the ways form rings, the latest found."""
        links, last = self.state.links, self.state.last
        pins = set(self.state.ground.rows[row][2])
        return min(group, key=lambda k: (k in pins and len(pins) < 2, len(links[k]), -int(last[k]), k))

    def _confirm(self, picture: _Picture, pair: Pair, bridges: list[Pair]) -> Proposal:
        """Close a ring over as many joints as one sweep can."""
        ground = self.state.ground
        own = {p for b in bridges if picture.of_pin[b[0]] == picture.of_pin[pair[0]] for p in b}
        weak = {b for b in bridges if picture.of_pin[b[0]] == picture.of_pin[pair[0]]}
        parent = self._parents(pair[0])
        best: tuple[int, int, int] = (0, pair[0], -1)
        for held in sorted(own):
            above = _to_root(held, parent)
            for row, (_, _, pins) in enumerate(ground.rows):
                ends = [k for k in pins if k in parent and k != held]
                if not ends:
                    continue
                closed = {b for k in ends for b in above ^ _to_root(k, parent)} & weak
                if pair in closed and len(closed) > best[0]:
                    best = (len(closed), held, row)
        if best[0] == 0:
            best = (1, max(pair), self._row_with(min(pair)))
        words = wording.CONFIRM.format(first=ground.pins[pair[0]], second=ground.pins[pair[1]])
        return self._shape(picture, Aim.CONFIRM, best[1], best[2], words, bridges)

    def _parents(self, root: int) -> dict[int, int]:
        parent = {root: root}
        order = [root]
        for at in order:
            for to in sorted(self.state.links[at]):
                if to not in parent:
                    parent[to] = at
                    order.append(to)
        return parent

    def _row_with(self, pin: int) -> int:
        return next(k for k, (_, _, pins) in enumerate(self.state.ground.rows) if pin in pins)

    def _again(self, picture: _Picture, quarrel: Quarrel, pair: Pair) -> Proposal:
        pins = self.state.ground.pins
        rule = wording.RULES[quarrel.rule].format(first=pins[quarrel.first], second=pins[quarrel.second])
        held, touched = max(pair), min(pair)
        words = wording.AGAIN.format(rule=rule)
        suspects = tuple((pins[a], pins[b]) for a, b in quarrel.suspects)
        return self._shape(picture, Aim.AGAIN, held, None, words, (), touched, suspects)

    def _shape(
        self,
        picture: _Picture,
        aim: Aim,
        held: int | None,
        row: int | None,
        words: str,
        bridges: Iterable[Pair],
        touched: int | None = None,
        suspects: tuple[tuple[PinAt, PinAt], ...] = (),
    ) -> Proposal:
        ground = self.state.ground
        owner, word = "", ""
        numbers: tuple[int, ...] = ()
        if row is not None:
            owner, word, numbers = ground.rows[row]
        elif touched is not None:
            owner, word, numbers = ground.pins[touched].owner, str(ground.pins[touched].pin), (touched,)
        likely: list[tuple[PinAt, float]] = []
        if held is not None:
            for k in numbers:
                same = picture.of_pin[k] == picture.of_pin[held]
                if k != held:
                    share = 0.999 if same else float(picture.joint[picture.of_pin[held], picture.of_pin[k]])
                    likely.append((ground.pins[k], share))
        likely.sort(key=lambda pair: (-pair[1], pair[0]))
        total = picture.joint.sum(axis=1)
        open_groups = np.flatnonzero(total > _PIN_LEFT)
        return Proposal(
            aim,
            None if held is None else ground.pins[held],
            owner,
            word,
            tuple(ground.pins[k] for k in numbers if k != held),
            tuple(likely),
            words,
            self._left(picture, list(bridges) or self.state.bridges()),
            float(picture.joint.sum() / 2),
            tuple(sorted(ground.pins[k] for g in open_groups for k in picture.groups[g])),
            suspects,
        )

    def _left(self, picture: _Picture, bridges: list[Pair]) -> int:
        """About how many actions are left: what is unknown by what a sweep tells, and a ring for every net."""
        nets = {int(picture.of_pin[one]) for one, _ in bridges}
        return math.ceil(picture.bits / facts.BITS_OF_A_SWEEP) + len(nets)


_RAILS = (Kind.GROUND, Kind.SUPPLY)
_AT_ONCE = math.log(facts.CONFIRM_AT_ONCE / (1 - facts.CONFIRM_AT_ONCE))
_PIN_LEFT = 0.05


def worth(joint: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """What touching a pair is worth: the bits it is uncertain by, plus the joints it is likely to find.

    A joint that was inferred still has to be seen, so a sure one keeps its worth.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        low = np.minimum(joint, np.float32(0.5))
        bits = -(low * np.log2(low) + (1 - low) * np.log2(1 - low))
    return np.asarray(np.nan_to_num(bits) + joint, dtype=np.float32)


def _to_root(pin: int, parent: dict[int, int]) -> set[Pair]:
    way: set[Pair] = set()
    while parent[pin] != pin:
        way.add(pair_of(pin, parent[pin]))
        pin = parent[pin]
    return way


def propose(board: Board, readings: Iterable[Reading] = ()) -> Proposal:
    """The next action of a tracing, from the parts list and all readings so far.  Bounded work, no side effects."""
    return Guide(board, readings).propose()
