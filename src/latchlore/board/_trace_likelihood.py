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


def picture_of(state: State) -> Picture:
    """Likelihoods between the groups of a state: a function of its readings alone."""
    ground = state.ground
    groups = state.groups()
    size = len(groups)
    order = np.concatenate([np.array(group, dtype=np.int64) for group in groups])
    starts = np.cumsum([0, *(len(group) for group in groups[:-1])])
    of_pin = np.zeros(state.count, dtype=np.int64)
    of_pin[order] = np.repeat(np.arange(size), [len(group) for group in groups])
    first = order[starts]

    def by_group(matrix: Matrix) -> Matrix:
        return np.asarray(np.add.reduceat(matrix[order], starts, axis=0), dtype=np.float32)

    apart = np.minimum(by_group(by_group(state.no).T), facts.ASK_AT_MOST)
    ports = np.maximum.reduceat(ground.in_port[order], starts, axis=0)
    twice = np.asarray(ports @ ports.T > 0)
    rail = np.logical_or.reduceat(ground.is_rail[order], starts)
    twice &= ~rail[:, None] & ~rail[None, :]
    against = apart * np.float32(MISSED) + np.where(twice, np.float32(math.log(facts.SAME_PORT_TWICE)), np.float32(0))
    np.fill_diagonal(against, 0)
    fixed = np.logical_or.reduceat((ground.hard | ground.anchor)[order], starts)
    step = np.maximum.reduceat(state.step[:, order], starts, axis=1)
    pull = ground.pull[:, first]
    loads = np.array([len(group) - 1 for group in groups])
    fresh = np.where(ground.spends[first] & (loads > 0), np.float32(facts.LOADED), np.float32(1))
    kind = ground.kind_index[first]
    one_hot = np.zeros((size, len(KINDS)), dtype=np.float32)
    one_hot[np.arange(size), kind] = 1
    mine = np.arange(state.count), of_pin
    driven = ~ground.wants[first[of_pin]]
    leads = first[of_pin] == np.arange(state.count)
    table = ground.table
    self_share = np.where(fixed, np.float32(1), ground.alone[first, 0])
    heads = np.eye(size, dtype=np.float32)
    for _ in range(_ROUNDS):
        able = pull * (fresh * self_share)[None, :]
        of_kind = able @ one_hot
        with np.errstate(divide="ignore", invalid="ignore"):
            per = np.where(of_kind > 0, table / np.maximum(of_kind, np.float32(0.2)), 0)
        whole = (per * of_kind).sum(axis=1)
        scale = np.where(whole > 0, (1 - ground.alone[:, 0]) / np.where(whole > 0, whole, 1), 0)
        shares = able * (per * scale[:, None])[:, kind] * step
        beside = np.where(driven, shares[mine] / self_share[of_pin], np.float32(facts.TOGETHER))
        own = np.where(leads, ground.alone[:, 0], np.maximum(beside, np.float32(facts.TOGETHER)))
        shares[mine] = own
        heads = by_group(np.log(shares + np.float32(1e-9)).astype(np.float32)) + against
        heads[fixed] = _NONE
        heads[fixed, np.flatnonzero(fixed)] = 0
        heads -= heads.max(axis=1, keepdims=True)
        heads = np.exp(heads)
        heads /= heads.sum(axis=1, keepdims=True)
        self_share = heads[np.arange(size), np.arange(size)].copy()
        table = _learnt(state, heads[of_pin], one_hot, of_pin, first)
    clues = _Clues(state, of_pin, size) if state.clues else None
    if clues is not None and clues.pins.size:
        heads = clues.on_heads(heads, fixed)
        self_share = heads[np.arange(size), np.arange(size)]
    else:
        clues = None
    away = heads.copy()
    np.fill_diagonal(away, 0)
    # Two pins whose heads are both open meet less often than by chance at an output that bears few loads.
    shy = np.where(ground.spends[first] & (loads == 0), np.float32(facts.LOADED), np.float32(1))
    siblings = (away * shy[None, :]) @ away.T
    joint = np.minimum(away + away.T + siblings * np.exp(against), np.float32(0.999))
    joint[np.ix_(fixed, fixed)] = 0
    np.fill_diagonal(joint, 0)
    if clues is not None:
        joint = clues.on_joints(joint)
    worth_asking = np.where(apart >= facts.ASK_AT_MOST, np.float32(0), joint)
    bits = float(-(heads * np.log2(heads + np.float32(1e-12))).sum())
    return Picture(groups, of_pin, heads, joint, worth_asking, float((1 - self_share).sum()), bits)


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
