"""How likely any two groups of pins stand in one net: from what the pins are, the joints found, and the silence."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from latchlore.board import tracefacts as facts
from latchlore.board._trace_roles import KINDS

if TYPE_CHECKING:
    import numpy.typing as npt

    from latchlore.board._trace_state import State

    Matrix = npt.NDArray[np.float32]

MISSED = math.log(facts.MISSED_BEEP / (1 - facts.FALSE_BEEP))
_NONE = np.float32(-1e9)
_ROUNDS = 3
_FEWEST = 0.2  # heads of a kind that its share is spread over, at least
_FEWEST_SELF = 1e-12  # so that no share is divided by nothing


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """The likelihoods of one moment.

    `groups` are pin indices, `of_pin` the group of each pin.  `heads[g, h]` is how likely the net of group g is
    headed by group h (rows sum to 1; the diagonal: by itself).  `joint[g, h]` is how likely both stand in one net,
    `ask` the same, but 0 where readings enough have found nothing.
    `missing` is how many joints are likely not found yet, `bits` what is not known of the heads.
    """

    groups: list[list[int]]
    of_pin: npt.NDArray[np.int64]
    heads: Matrix
    joint: Matrix
    ask: Matrix
    missing: float
    bits: float


class _Groups:
    """The groups of one moment, as arrays: pins in `order`, each group's begin in `starts`, its first pin `first`."""

    def __init__(self, state: State) -> None:
        ground = state.ground
        self.ground = ground
        self.groups = state.groups()
        lengths = [len(group) for group in self.groups]
        self.order = np.concatenate([np.array(group, dtype=np.int64) for group in self.groups])
        self.starts = np.cumsum([0, *lengths[:-1]])
        self.of_pin = np.zeros(state.count, dtype=np.int64)
        self.of_pin[self.order] = np.repeat(np.arange(len(self.groups)), lengths)
        self.first = self.order[self.starts]
        self.loads = np.array(lengths) - 1
        self.apart = np.minimum(self.add(self.add(state.no).T), facts.ASK_AT_MOST)
        ports = np.maximum.reduceat(ground.in_port[self.order], self.starts, axis=0)
        rail = np.logical_or.reduceat(ground.is_rail[self.order], self.starts)
        twice = (ports @ ports.T > 0) & ~rail[:, None] & ~rail[None, :]
        same_port = np.float32(math.log(facts.SAME_PORT_TWICE))
        self.against = self.apart * np.float32(MISSED) + np.where(twice, same_port, np.float32(0))
        np.fill_diagonal(self.against, 0)
        self.fixed = np.logical_or.reduceat((ground.hard | ground.anchor)[self.order], self.starts)
        self.step = np.maximum.reduceat(state.step[:, self.order], self.starts, axis=1)
        self.one_hot = np.zeros((len(self.groups), len(KINDS)), dtype=np.float32)
        self.one_hot[np.arange(len(self.groups)), ground.kind_index[self.first]] = 1

    def add(self, matrix: Matrix) -> Matrix:
        """Rows of pins added up to rows of groups."""
        return np.asarray(np.add.reduceat(matrix[self.order], self.starts, axis=0), dtype=np.float32)

    def heads(self, table: Matrix, self_share: Matrix) -> Matrix:
        """Likelihoods of heads from a table of shares, and of how likely each group heads itself."""
        ground, first, of_pin = self.ground, self.first, self.of_pin
        spent = ground.spends[first] & (self.loads > 0)
        fresh = np.where(spent, np.float32(facts.LOADED), np.float32(1))
        able = ground.pull[:, first] * (fresh * self_share)[None, :]
        of_kind = able @ self.one_hot
        per = table / np.maximum(of_kind, np.float32(_FEWEST))
        whole = (per * of_kind).sum(axis=1)
        scale = np.where(whole > 0, (1 - ground.alone[:, 0]) / np.where(whole > 0, whole, 1), 0)
        shares = able * (per * scale[:, None])[:, ground.kind_index[first]] * self.step
        # What a pin's own group is to it: its first pin heads the net itself, the others stand in that pin's net.
        mine = np.arange(len(of_pin)), of_pin
        driven = ~ground.wants[first[of_pin]]
        beside = np.where(driven, shares[mine] / self_share[of_pin], np.float32(0))
        leads = first[of_pin] == np.arange(len(of_pin))
        shares[mine] = np.where(leads, ground.alone[:, 0], np.maximum(beside, np.float32(facts.TOGETHER)))
        heads = self.add(np.log(shares + np.float32(1e-9)).astype(np.float32)) + self.against
        heads[self.fixed] = _NONE
        heads[self.fixed, np.flatnonzero(self.fixed)] = 0
        heads -= heads.max(axis=1, keepdims=True)
        heads = np.exp(heads)
        return np.asarray(heads / heads.sum(axis=1, keepdims=True), dtype=np.float32)

    def joints(self, heads: Matrix) -> Matrix:
        """How likely two groups stand in one net: one heads the other, or a third heads both."""
        away = heads.copy()
        np.fill_diagonal(away, 0)
        # Two pins whose heads are both open meet less often than by chance at an output that bears few loads.
        unspent = self.ground.spends[self.first] & (self.loads == 0)
        siblings = (away * np.where(unspent, np.float32(facts.LOADED), np.float32(1))[None, :]) @ away.T
        joint = np.minimum(away + away.T + siblings * np.exp(self.against), np.float32(0.999))
        joint[np.ix_(self.fixed, self.fixed)] = 0
        np.fill_diagonal(joint, 0)
        return np.asarray(joint, dtype=np.float32)


def picture_of(state: State) -> Picture:
    """Likelihoods between the groups of a state: a function of its readings alone."""
    now = _Groups(state)
    table = state.ground.table
    self_share = np.where(now.fixed, np.float32(1), state.ground.alone[now.first, 0])
    heads = np.eye(len(now.groups), dtype=np.float32)
    for _ in range(_ROUNDS):
        heads = now.heads(table, self_share)
        self_share = np.maximum(heads.diagonal(), np.float32(_FEWEST_SELF))
        table = _learnt(state, heads[now.of_pin], now.one_hot, now.of_pin, now.first)
    clues = _Clues(state, now.of_pin, len(now.groups))
    if clues.pins.size:
        heads = clues.on_heads(heads, now.fixed)
    joint = now.joints(heads)
    if clues.pins.size:
        joint = clues.on_joints(joint)
    ask = np.where(now.apart >= facts.ASK_AT_MOST, np.float32(0), joint)
    bits = float(-(heads * np.log2(heads + np.float32(1e-12))).sum())
    return Picture(now.groups, now.of_pin, heads, joint, ask, float((1 - heads.diagonal()).sum()), bits)


def shown(share: float) -> float:
    """The likelihood to show for one that was reckoned (0 to 1): rank-preserving and less sure."""
    if not 0 < share < 1:
        return share
    return 1 / (1 + math.exp(-facts.SHOWN_SLOPE * math.log(share / (1 - share)) - facts.SHOWN_SHIFT))


class _Clues:
    """Readings that join a pin to one of several, not explained by a joint yet: `pins[m]` and `several[m, group]`."""

    def __init__(self, state: State, of_pin: npt.NDArray[np.int64], size: int) -> None:
        group = of_pin.tolist()
        rows = {(group[pin], frozenset([group[k] for k in several])) for pin, several in state.open_clues()}
        found = sorted(rows, key=lambda row: (row[0], sorted(row[1])))
        self.pins = np.array([pin for pin, _ in found], dtype=np.int64)
        self.several = np.zeros((len(found), size), dtype=np.float32)
        for m, (_, groups) in enumerate(found):
            self.several[m, list(groups)] = 1

    def on_heads(self, heads: Matrix, fixed: npt.NDArray[np.bool_]) -> Matrix:
        """Heads, given that each pin meets one of its several."""
        heads = heads.copy()
        missed = self.several @ np.log1p(-np.minimum(heads, np.float32(0.999)))
        meets = np.maximum(1 - np.exp(missed), self.several)
        likely = np.float32(facts.FALSE_BEEP) + meets
        likely[fixed[self.pins]] = 1
        np.multiply.at(heads, self.pins, likely)
        # Where the pin heads its net, one of the several is headed by it.
        own = self.several * heads[:, self.pins].T
        meet = own.sum(axis=1)
        gain = np.maximum(_believed(meet) / np.maximum(meet, np.float32(1e-9)), 1)
        for m in np.flatnonzero(fixed[self.pins]).tolist():
            heads[self.several[m] > 0, self.pins[m]] *= gain[m]
        heads /= heads.sum(axis=1, keepdims=True)
        return heads

    def on_joints(self, joint: Matrix) -> Matrix:
        """Joints, with one of each several believed."""
        own = self.several * joint[self.pins]
        meet = 1 - np.exp(np.log1p(-np.minimum(own, np.float32(0.999))).sum(axis=1))
        gain = _believed(meet) / np.maximum(meet, np.float32(1e-9))
        raised = np.minimum(own * gain[:, None], np.float32(0.98))
        np.maximum.at(joint, self.pins, raised)
        return np.asarray(np.maximum(joint, joint.T))


def _believed(likely: Matrix) -> Matrix:
    """How likely a beep is true that was so likely before it."""
    return np.asarray(likely / (likely + np.float32(facts.FALSE_BEEP) * (1 - likely)), dtype=np.float32)


def _learnt(
    state: State, heads: Matrix, one_hot: Matrix, of_pin: npt.NDArray[np.int64], first: npt.NDArray[np.int64]
) -> Matrix:
    """The table of shares for every pin, leaning towards what pins of its kind and its port are joined to here."""
    ground = state.ground
    seen = heads @ one_hot
    # A pin that heads its own net says nothing about what such pins are joined to.
    own = heads[np.arange(state.count), of_pin] * (first[of_pin] == np.arange(state.count))
    seen[np.arange(state.count), ground.kind_index] -= own
    seen *= ground.learns[:, None]
    told = ground.learns * (1 - own)
    of_kind, total = ground.same_kind.T @ seen, ground.same_kind.T @ told
    per_kind = (facts.TABLE_WEIGHS * ground.kind_table + of_kind) / (facts.TABLE_WEIGHS + total)[:, None]
    base = ground.same_kind @ per_kind
    of_port, port_total = ground.in_port.T @ seen, ground.in_port.T @ told
    near, near_total = ground.in_port @ of_port - seen, ground.in_port @ port_total - told
    has = ground.in_port.any(axis=1)
    near[~has], near_total[~has] = 0, 0
    mixed = (facts.KIND_WEIGHS * base + np.maximum(near, 0)) / (facts.KIND_WEIGHS + np.maximum(near_total, 0))[:, None]
    return np.asarray(np.where(ground.learns[:, None] > 0, mixed, ground.table), dtype=np.float32)
