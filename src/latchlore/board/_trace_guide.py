"""The tracing guide: which action tells most, from what pins are and what has been read."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from latchlore.board import tracefacts as facts
from latchlore.board import tracewording as wording
from latchlore.board._trace_likelihood import Picture, picture_of, shown
from latchlore.board._trace_quarrels import iter_quarrels
from latchlore.board._trace_roles import RAILS
from latchlore.board._trace_state import State
from latchlore.board._trace_unsure import find_unlikely, find_unsure

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy.typing as npt

    Matrix = npt.NDArray[np.float32]

    from latchlore.board._board import Board, PinAt
    from latchlore.board._readings import MeterReading
    from latchlore.board._trace_quarrels import Quarrel
    from latchlore.board._trace_state import Pair
    from latchlore.board._trace_unsure import Unsure


class Aim(StrEnum):
    """Why an action is proposed."""

    FIND = "find"
    CONFIRM = "confirm"
    AGAIN = "again"
    DONE = "done"


@dataclass(frozen=True, slots=True)
class Proposal:
    """The next action: hold `held`, drag along the pins of `row` (one pin: touch it), say what beeps.

    Where `strip` is not empty, a conducting strip is pressed on all its pins instead of a probe on `held`; `strip_row`
    is how a readings file names them.

    `row_word` is how a readings file names the row.  `likely` are pins with the likelihood that they beep, likeliest
    first.  `left` is about how many more actions are needed, `missing` how many joints are likely not found yet.
    `not_done` are pins that may still be joined to something unread; `suspects` the pairs likeliest to have been read
    wrong, first first.
    """

    aim: Aim
    held: PinAt | None
    strip: tuple[PinAt, ...]
    strip_row: str
    owner: str
    row_word: str
    row: tuple[PinAt, ...]
    likely: tuple[tuple[PinAt, float], ...]
    words: str
    left: int
    missing: float
    not_done: tuple[PinAt, ...]
    suspects: tuple[tuple[PinAt, PinAt], ...]


class Guide:
    """A tracing in progress: take readings, propose the next.

    `strips`: whether a conducting strip across one side of a chip may be proposed; it saves a third of the actions.
    """

    def __init__(self, board: Board, readings: Iterable[MeterReading] = (), *, strips: bool = True) -> None:
        self.state = State(board)
        self.strips = strips
        self._unsure: tuple[int, list[Unsure]] = (-1, [])
        self._strip = -1
        self._pressed: dict[tuple[int, int], int] = {}
        ground = self.state.ground
        self._in_row = np.zeros((self.state.count, len(ground.rows)), dtype=np.float32)
        for k, (_, _, pins) in enumerate(ground.rows):
            self._in_row[list(pins), k] = 1
        self._row_at = {pins: k for k, (_, _, pins) in enumerate(ground.rows)}
        for reading in readings:
            self.take(reading)

    def take(self, reading: MeterReading) -> None:
        """Add a reading."""
        self.state.take(reading)
        if reading.strip:
            index = self.state.ground.index
            strip = self._row_at.get(tuple(index[at] for at in reading.strip), -1)
            row = self._row_at.get(tuple(index[at] for at in reading.touched), -1)
            self._strip = strip
            self._pressed[strip, row] = self._pressed.get((strip, row), 0) + 1

    def propose(self) -> Proposal:
        """The next action."""
        state = self.state
        picture = picture_of(state)
        unsure = self._unsure_now()
        for quarrel in iter_quarrels(state):
            for pair in quarrel.suspects[:3]:
                if state.asked(pair) < 4:
                    return self._again(picture, quarrel, pair, unsure)
        odds = [max(state.odds(pair) for pair in one.pairs) for one in unsure]
        if odds and min(odds) < _AT_ONCE:
            asked = self._confirm(picture, unsure[odds.index(min(odds))], unsure)
            if asked is not None:
                return asked
        found = self._best_sweep(picture, unsure)
        if found is not None:
            return found
        unlikely = [one for one in find_unlikely(state) if state.asked(one.pairs[0]) < facts.ASK_AT_MOST]
        for one in (*unsure, *unlikely):
            asked = self._confirm(picture, one, [*unsure, *unlikely])
            if asked is not None:
                return asked
        return self._shape(picture, Aim.DONE, None, None, wording.DONE, unsure)

    def _unsure_now(self) -> list[Unsure]:
        """What `find_unsure` finds; silence alone does not change it."""
        if self._unsure[0] != self.state.changes:
            self._unsure = (self.state.changes, find_unsure(self.state))
        return self._unsure[1]

    # --- actions ---

    def _best_sweep(self, picture: Picture, unsure: list[Unsure]) -> Proposal | None:
        """The group and the row with the most to find: see `worth`.

        A row that holds a pin of the group itself may also confirm its joints, which would cost an action of its own
        later; that counts the more the less the net is likely to grow.
        """
        joint = picture.ask
        rows = np.zeros((len(picture.groups), self._in_row.shape[1]), dtype=np.float32)
        np.maximum.at(rows, picture.of_pin, self._in_row)
        gain = worth(joint) @ rows
        weak = sorted({int(picture.of_pin[one.pin]) for one in unsure})
        calm = np.exp(-joint[weak].sum(axis=1))
        gain[weak] += facts.RING_WORTH * rows[weak] * calm[:, None]
        found = joint @ rows
        gain[found < facts.STOP_BELOW] = 0
        best = int(np.argmax(gain))
        group, row = divmod(best, rows.shape[1])
        supply = np.unique(picture.of_pin[self.state.ground.is_rail])
        sure = np.where(found[supply] > _SUPPLY_FIRST, gain[supply], 0)
        if sure.any():
            first, row = divmod(int(np.argmax(sure)), rows.shape[1])
            group = int(supply[first])
        elif self.strips:
            pressed = self._best_strip(picture, rows, float(gain[group, row]))
            if pressed is not None:
                return self._shape(picture, Aim.FIND, None, pressed[1], wording.STRIP, unsure, strip=pressed[0])
        if gain[group, row] <= 0:
            return None
        held = self._holder(picture.groups[group], row, [u for u in unsure if picture.of_pin[u.pin] == group])
        rail = self.state.ground.kinds[held] in RAILS
        return self._shape(picture, Aim.FIND, held, row, wording.SUPPLY if rail else wording.FIND, unsure)

    def _best_strip(self, picture: Picture, rows: Matrix, least: float) -> tuple[int, int] | None:
        """The side to press a strip on and the row to drag along, where that tells more than `least` bits."""
        some = picture.ask
        none = rows.T @ np.log1p(-np.minimum(some, np.float32(0.999)))
        beeps = 1 - np.exp(none)
        beeps[rows.T > 0] = 0
        gain = entropy(beeps) @ rows
        np.fill_diagonal(gain, 0)
        for (strip, row), times in self._pressed.items():
            if times >= 2:
                gain[strip, row] = 0
        gain[beeps @ rows < facts.STOP_BELOW] = 0
        if self._strip >= 0:
            gain[self._strip] *= facts.STAYS
        best = int(np.argmax(gain))
        strip, row = divmod(best, gain.shape[1])
        return (strip, row) if gain[strip, row] > max(least, 0) else None

    def _holder(self, group: list[int], row: int, unsure: list[Unsure]) -> int:
        """Which pin of a group to hold.

        One from which the row confirms the most joints; else one with few joints, so that the ways form rings, the
        latest found.
        """
        links, last = self.state.links, self.state.last
        pins = set(self.state.ground.rows[row][2])
        settles = {held: sum(one.settled_by(held, pins - {held}) for one in unsure) for held in group}
        return min(
            group, key=lambda k: (k in pins and len(pins) < 2, -settles[k], len(links[k]), k in pins, -int(last[k]), k)
        )

    def _confirm(self, picture: Picture, wanted: Unsure, unsure: list[Unsure]) -> Proposal | None:
        """Confirm as many joints as one sweep can; of equals, where most may be found beside.

        None where all sweeps that could confirm the wanted one were made often enough and found nothing.
        """
        ground = self.state.ground
        group = int(picture.of_pin[wanted.pin])
        beside = [one for one in unsure if picture.of_pin[one.pin] == group]
        best: tuple[int, float, int, int] = (0, 0.0, -1, -1)
        for held in picture.groups[group]:
            silent = set(np.flatnonzero(self.state.no[held] >= facts.ASK_AT_MOST).tolist())
            for row, (_, _, pins) in enumerate(ground.rows):
                touched = set(pins) - silent - {held}
                if wanted.settled_by(held, touched):
                    count = sum(one.settled_by(held, touched) for one in beside)
                    more = float(picture.ask[group, picture.of_pin[list(pins)]].sum())
                    if (count, more) > best[:2]:
                        best = (count, more, held, row)
        if best[0] == 0:
            return None
        first, second = (ground.pins[k] for k in wanted.pairs[0])
        words = wording.CONFIRM.format(first=first, second=second, pin=ground.pins[wanted.pin])
        return self._shape(picture, Aim.CONFIRM, best[2], best[3], words, unsure)

    def _again(self, picture: Picture, quarrel: Quarrel, pair: Pair, unsure: list[Unsure]) -> Proposal:
        """Read a pair again along a whole row: whoever touches one pin alone hears what is expected of it.

        Held is the end whose number was typed, for a slip may repeat itself, but hardly from the other end.
        """
        pins, rows = self.state.ground.pins, self.state.ground.rows
        rule = wording.RULES[quarrel.rule].format(first=pins[quarrel.first], second=pins[quarrel.second])
        touched, held = pair[::-1] if self.state.typed.get(pair) == {pair[0]} else pair
        words = wording.AGAIN.format(rule=rule)
        suspects = tuple((pins[a], pins[b]) for a, b in quarrel.suspects)
        row = next(k for k, (_, _, own) in enumerate(rows) if touched in own)
        return self._shape(picture, Aim.AGAIN, held, row, words, unsure, suspects)

    def _shape(
        self,
        picture: Picture,
        aim: Aim,
        held: int | None,
        row: int | None,
        words: str,
        unsure: list[Unsure],
        suspects: tuple[tuple[PinAt, PinAt], ...] = (),
        strip: int | None = None,
    ) -> Proposal:
        ground = self.state.ground
        owner, word = "", ""
        numbers: tuple[int, ...] = ()
        if row is not None:
            owner, word, numbers = ground.rows[row]
        pressed: tuple[int, ...] = () if strip is None else ground.rows[strip][2]
        holds = pressed or (() if held is None else (held,))
        total = picture.joint.sum(axis=1)
        open_groups = np.flatnonzero(total > _PIN_LEFT)
        return Proposal(
            aim,
            ground.pins[pressed[0]] if pressed else None if held is None else ground.pins[held],
            tuple(ground.pins[k] for k in pressed),
            "" if strip is None else " ".join(ground.rows[strip][:2]),
            owner,
            word,
            tuple(ground.pins[k] for k in numbers if k != held),
            self._likely(picture, holds, numbers),
            words,
            self._left(picture, unsure),
            picture.missing,
            tuple(sorted(ground.pins[k] for g in open_groups for k in picture.groups[g])),
            suspects,
        )

    def _likely(
        self, picture: Picture, holds: tuple[int, ...], row: tuple[int, ...]
    ) -> tuple[tuple[PinAt, float], ...]:
        """How likely each pin of a row beeps, likeliest first."""
        beside = {int(picture.of_pin[k]) for k in holds}
        found: list[tuple[PinAt, float]] = []
        for k in row:
            if k not in holds:
                group = int(picture.of_pin[k])
                none = math.prod(1 - float(picture.joint[one, group]) for one in beside)
                found.append((self.state.ground.pins[k], SURE if group in beside else shown(1 - none)))
        return tuple(sorted(found, key=lambda pair: (-pair[1], pair[0])))

    def _left(self, picture: Picture, unsure: list[Unsure]) -> int:
        """About how many actions are left: what is unknown by what one tells, last looks, and what is to confirm."""
        looks = facts.LAST_LOOKS * self.state.count * (1 - math.exp(-picture.bits / 3))
        return math.ceil(picture.bits / facts.BITS_OF_AN_ACTION + looks) + len(unsure)


_AT_ONCE = math.log(facts.CONFIRM_AT_ONCE / (1 - facts.CONFIRM_AT_ONCE))
_SUPPLY_FIRST = 0.5
"""A supply pin is swept along every row that has this many joints to it, before anything else."""

SURE = 0.999
"""Likelihood shown for a pin of the same net."""

_PIN_LEFT = 0.05


def entropy(shares: Matrix) -> Matrix:
    """Bits that an answer of this likelihood tells."""
    with np.errstate(divide="ignore", invalid="ignore"):
        bits = -(shares * np.log2(shares) + (1 - shares) * np.log2(1 - shares))
    return np.asarray(np.nan_to_num(bits), dtype=np.float32)


def worth(joint: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """What touching a pair is worth: the bits it is uncertain by, plus the joints it is likely to find.

    A joint that was inferred still has to be seen, so a sure one keeps its worth.
    """
    return np.asarray(entropy(np.minimum(joint, np.float32(0.5))) + joint, dtype=np.float32)


def propose(board: Board, readings: Iterable[MeterReading] = ()) -> Proposal:
    """The next action of a tracing, from the parts list and all readings so far.  Bounded work, no side effects."""
    return Guide(board, readings).propose()
