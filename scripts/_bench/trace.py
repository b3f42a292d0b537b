"""The tracing guide's figures: actions to the end, what is found, culprits, calibration, speed of a proposal.

Boards are the tests' invented random boards; the answers come from their own nets, with and without mistakes.  The
guide's figures were set with boards 100 to 119; those measured here were never looked at for it.  A few boards by
default, ``--all`` for all of them (minutes), ``--fresh`` for those on which the last change of the guide was measured
once it was made (five minutes); whoever changes the guide after a look at them takes others.  Laying a strip of foil on
another side counts as an action of its own: each of its pins has to be touched once.
"""

from __future__ import annotations

import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

from _bench import Row

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.board import PinAt
    from latchlore.board.tracing import TracedNets

SEEDS = range(800, 816)
FRESH = range(1051, 1091)
FEW = 3
CHIPS = 14
BINS = (0.003, 0.01, 0.03, 0.1, 0.3, 0.6, 1.0)


class Run(NamedTuple):
    """One board traced to the end."""

    actions: int  # laying the strip included
    moves: int  # of the strip
    extra: int
    missing: int
    not_doubted: int  # wrong joints and halves of broken nets without a doubt beside them
    doubts: int  # pins that one stands beside
    vain_doubts: int  # of these, those whose net is right and has more pins than one
    slowest_ms: float
    named_first: int
    named: int
    said: tuple[tuple[float, bool], ...]


def trace(seed: int, wrong: float, *, strips: bool = True, most: int = 2500) -> Run:
    """Follow the guide on one random board."""
    sys.path.insert(0, str(Path(__file__).parents[2]))
    from latchlore.board.tracing import Aim, Guide, conclude
    from tests.traceboards import Bench, draw, wrong_joints

    drawn = draw(seed, CHIPS)
    bench, guide, readings = Bench(drawn, wrong, seed + 1000), Guide(drawn.board, strips=strips), []
    slowest, seen, hit, moves = 0.0, set[str](), 0, 0
    strip: tuple[PinAt, ...] = ()
    said: list[tuple[float, bool]] = []
    for _ in range(most):
        start = time.process_time()
        proposal = guide.propose()
        slowest = max(slowest, time.process_time() - start)
        if proposal.aim is Aim.DONE or proposal.held is None:
            break
        if proposal.aim is Aim.AGAIN and proposal.words not in seen:
            mistaken = [frozenset(pair) in bench.mistaken for pair in proposal.suspects]
            if any(mistaken):
                seen.add(proposal.words)
                hit += mistaken[0]
        if proposal.strip and proposal.strip != strip:
            moves, strip = moves + 1, proposal.strip
        reading = bench.read(proposal.held, proposal.row, proposal.strip)
        if proposal.aim is Aim.FIND:
            said += [(share, at in reading.joined) for at, share in proposal.likely if share < 0.999]
        guide.take(reading)
        readings.append(reading)
    traced = conclude(drawn.board, readings)
    label = {at: k for k, net in enumerate(traced.board.nets) for at in net.pins}
    label |= {at: len(label) + k for k, at in enumerate(sorted(set(guide.state.ground.pins) - set(label)))}
    extra, missing = wrong_joints(drawn, label)
    places = {doubt.place for doubt in traced.board.doubts}
    return Run(
        len(readings) + moves,
        moves,
        extra,
        missing,
        _not_doubted(drawn.nets, label, places) + _bare_joints(drawn.nets, traced, places),
        len(places),
        _vain_doubts(drawn.nets, label, places),
        slowest * 1000,
        hit,
        len(seen),
        tuple(said),
    )


def _bare_joints(nets: tuple[frozenset[PinAt], ...], traced: TracedNets, places: set[str]) -> int:
    """Wrong joints that the nets rest on, without a doubt beside either of their two pins."""
    truth = {at: k for k, net in enumerate(nets) for at in net}
    return sum(
        truth.get(j.first, j.first) != truth.get(j.second, j.second) and not places & {str(j.first), str(j.second)}
        for j in traced.joints
        if j.believed
    )


def _vain_doubts(nets: tuple[frozenset[PinAt], ...], label: dict[PinAt, int], places: set[str]) -> int:
    """Doubts beside pins of nets that were found as they are: what a reader looks at in vain."""
    found: dict[int, set[PinAt]] = {}
    for at, group in label.items():
        found.setdefault(group, set()).add(at)
    return sum(str(at) in places for net in nets if set(net) in found.values() for at in net)


def _not_doubted(nets: tuple[frozenset[PinAt], ...], label: dict[PinAt, int], places: set[str]) -> int:
    """Broken nets none of whose pieces has a doubt."""
    groups: dict[int, set[PinAt]] = {}
    for at, group in label.items():
        groups.setdefault(group, set()).add(at)
    bare = {group for group, pins in groups.items() if not places & {str(at) for at in pins}}
    return sum(1 for net in nets if len(own := {label[at] for at in net}) > 1 and own <= bare)


def _traces(seeds: Sequence[int], wrong: float, *, strips: bool = True) -> list[Run]:
    """Boards side by side, one processor each; speed is measured in processor time."""
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        return list(pool.map(partial(trace, wrong=wrong, strips=strips), seeds))


def rows() -> Iterator[Row]:
    """Both runs of the boards, and one without a strip."""
    fresh = "--fresh" in sys.argv
    name = "board.trace-fresh" if fresh else "board.trace"
    seeds = FRESH if fresh else SEEDS if "--all" in sys.argv else SEEDS[:FEW]
    clean = _traces(seeds, 0.0)
    yield from _clean_rows(name, clean)
    if not fresh:
        plain = _traces(seeds[:FEW], 0.0, strips=False)
        without = median(run.actions for run in plain)
        yield Row(f"{name}-actions-without-a-strip", without, "actions", "an earlier planner's 928", without / 928)
    noisy = _traces(seeds, 0.01)
    yield from _noisy_rows(name, clean, noisy)
    slow = max(run.slowest_ms for run in (*clean, *noisy))
    yield Row(f"{name}-slowest-proposal", slow, "ms", "", None, "within 50 ms", slow <= 50)
    yield from _curve(name, [pair for run in (*clean, *noisy) for pair in run.said])


def _clean_rows(name: str, clean: list[Run]) -> Iterator[Row]:
    actions = median(run.actions for run in clean)
    words = f"{name}-actions-14-chips-of-{len(clean)}"
    yield Row(words, actions, "actions", "an earlier planner's 928", actions / 928, "at most 800", actions <= 800)
    yield Row(f"{name}-strip-laid", median(run.moves for run in clean), "of these")
    perfect = sum(not run.extra and not run.missing for run in clean) / len(clean)
    yield Row(f"{name}-complete-without-mistakes", perfect * 100, "% of boards", "", None, "all", perfect == 1)
    yield Row(f"{name}-missing-a-board", sum(run.missing for run in clean) / len(clean), "joints")


def _noisy_rows(name: str, clean: list[Run], noisy: list[Run]) -> Iterator[Row]:
    """The boards with one action in a hundred wrong; doubts of both runs."""
    more = sum(r.actions for r in noisy) / sum(r.actions for r in clean) - 1
    words = f"{name}-more-actions-at-1-percent-wrong"
    yield Row(words, more * 100, "%", "the same boards, no mistakes", more, "at most 15 %", more <= 0.15)
    right = sum(not run.extra and not run.missing for run in noisy) / len(noisy)
    goal = "at least 85 %"
    words = f"{name}-perfect-at-1-percent-wrong-of-{len(noisy)}"
    yield Row(words, right * 100, "% of boards", "", None, goal, right >= 0.85)
    wrong = sum(run.extra for run in noisy), sum(run.missing for run in noisy)
    yield Row(f"{name}-extra-joints-at-1-percent-wrong", wrong[0], "joints of all boards")
    yield Row(f"{name}-missing-joints-at-1-percent-wrong", wrong[1], "joints of all boards")
    bare = sum(run.not_doubted for run in (*clean, *noisy))
    yield Row(f"{name}-wrong-without-a-doubt", bare, "places of all boards", "", None, "none", bare == 0)
    doubts = sum(run.doubts for run in noisy) / len(noisy)
    yield Row(f"{name}-doubts-a-board", doubts, "pins, most of them joined to nothing")
    vain = sum(run.vain_doubts for run in noisy) / len(noisy)
    yield Row(f"{name}-doubts-a-board-beside-right-nets", vain, "pins")
    named, first = sum(run.named for run in noisy), sum(run.named_first for run in noisy)
    share = first / named if named else 0.0
    yield Row(f"{name}-culprit-first", share * 100, f"% of {named}", "", None, goal, share >= 0.85)


def _curve(name: str, said: list[tuple[float, bool]]) -> Iterator[Row]:
    """Reliability: how often pairs said to be joined with about this likelihood were."""
    low = 0.0
    for high in BINS:
        own = [(share, seen) for share, seen in said if low <= share < high]
        if own:
            told = sum(share for share, _ in own) / len(own)
            seen = sum(hit for _, hit in own) / len(own)
            words = f"{told:.4f} said, {len(own)} pairs"
            yield Row(f"{name}-seen-where-said-below-{high:g}", seen, "share", words, seen / told if told else None)
        low = high
