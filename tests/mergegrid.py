"""Transmissions and runs by the grid on which merges are calibrated and checked."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING, NamedTuple

import pytest
from rapidfuzz.distance import Levenshtein

from latchlore.wire import Run, merge
from latchlore.wire._simulate import KINDS, heard, transmission

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

LENGTHS = (8, 24, 64, 100)
LOSSES = (0.01, 0.05, 0.2, 0.4)
RUNS = (3, 5, 8, 12, 20, 30)


class Sample(NamedTuple):
    """One merge: the model's own number for the whole, whether it was right, and each byte's number likewise."""

    whole: float
    right: bool
    bytes_said: tuple[float, ...]
    bytes_right: tuple[bool, ...]
    num_runs: int


def iter_samples(seeds: Iterable[int]) -> Iterator[Sample]:
    """One merge a seed; length, loss, number of runs and kind are drawn from the grid by it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("latchlore.wire._merge.calibrated", lambda whole: whole)
        for seed in seeds:
            rng = random.Random(f"grid {seed}")
            length, loss, num_runs = rng.choice(LENGTHS), rng.choice(LOSSES), rng.choice(RUNS)
            sent = transmission(rng.choice(KINDS), length, rng)
            runs = [Run.of(heard(sent, rng, loss=loss)) for _ in range(num_runs)]
            if not any(run.data for run in runs):
                continue
            sequence = merge(runs).sequence
            data = sequence.data
            # a byte is right where an alignment with what was sent keeps it
            right = [False] * len(data)
            for block in Levenshtein.opcodes(data, sent):
                if block.tag == "equal":
                    right[block.src_start : block.src_end] = [True] * (block.src_end - block.src_start)
            said = tuple(item.confidence for item in sequence.items)
            yield Sample(sequence.confidence, data == sent, said, tuple(right), num_runs)
