"""Every single lost byte over many random tables with modes and streams; the survey against exhaustive reading."""

from __future__ import annotations

import random
from statistics import median

import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from latchlore.device import Device, LossWay, _survey, survey_losses
from tests.device_writer import moded_tables, tables, write_row, write_stream
from tests.test_device_survey import LossCount, check_exhaustively, check_losses, short_stream

MANY = settings(
    deadline=None,
    max_examples=100,
    derandomize=True,
    database=None,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)


@pytest.mark.timeout(3600)
def test_every_loss_is_located_or_announced_many(monkeypatch: pytest.MonkeyPatch) -> None:
    """100 tables with modes, streams of up to 150 bytes, every byte taken away once: none is left out."""
    monkeypatch.setattr(_survey, "PLAIN_LIMIT", 0)  # compiled, which is faster over so many
    counts: list[LossCount] = []

    @MANY
    @given(moded_tables(), st.integers(0, 2**32))
    def run(device: Device, seed: int) -> None:
        data = short_stream(device, random.Random(seed), 150)
        assume(len(data) <= 200)
        counts.append(check_losses(device, data))

    run()
    tried, located = sum(count.tried for count in counts), sum(count.located for count in counts)
    announced = sum(count.announced for count in counts)
    places = sorted(one for count in counts for one in count.places)
    ways = {way: sum(count.ways.get(way, 0) for count in counts) for way in LossWay}
    print(f"{len(counts)} tables, {tried} losses: {located} located, {announced} announced as without trace, 0 missed")
    print(
        f"places named for a located loss: median {median(places)}, nine in ten at most {places[len(places) * 9 // 10]}"
    )
    print("without trace because the stream with the byte reads as: ", *(f"{way}: {num};" for way, num in ways.items()))
    assert tried == located + announced > 5000


@pytest.mark.timeout(3600)
@settings(MANY, max_examples=80)
@given(moded_tables() | tables(), st.integers(0, 2**32), st.booleans())
def test_survey_is_exhaustive_many(device: Device, seed: int, noise: bool) -> None:
    """Streams with one byte lost, and noise, against reading every value at every place."""
    rng = random.Random(seed)
    data = b"".join(write_row(rng.choice(device.commands).pattern, rng)[0][:7] for _ in range(3))
    place = rng.randrange(len(data))
    check_exhaustively(device, rng.randbytes(8) + data if noise else data[:place] + data[place + 1 :])


@pytest.mark.timeout(3600)
def test_candidates_of_planted_losses_many() -> None:
    """Random tables, streams of up to 400 bytes in which every row is as likely as any: where the true loss stands."""
    ranks: list[int] = []
    by_place: list[int] = []
    nums: list[int] = []

    @settings(MANY, max_examples=60)
    @given(moded_tables(), st.integers(0, 2**32))
    def run(device: Device, seed: int) -> None:
        rng = random.Random(seed)
        data = write_stream(device, rng, 60)[0][:400]
        assume(len(data) >= 40)
        for place in rng.sample(range(len(data)), 8):
            for trouble in survey_losses(device, data[:place] + data[place + 1 :]).troubles:
                ranked = trouble.candidates
                true = [one for one in ranked if one.first <= place < one.end and data[place] in one.values]
                if true:  # the cut at 400 may be a complaint of its own
                    ranks.append(ranked.index(true[0]) + 1)
                    by_place.append(sorted(ranked, key=lambda one: (one.first, min(one.values))).index(true[0]) + 1)
                    nums.append(len(ranked))

    run()
    first = sum(rank == 1 for rank in ranks) / len(ranks)
    print(f"{len(ranks)} losses, median of {median(nums)} candidates: the true one first in {first:.1%}, by its place")
    print(f"alone in {sum(rank == 1 for rank in by_place) / len(ranks):.1%}; among the first three in ", end="")
    print(f"{sum(rank <= 3 for rank in ranks) / len(ranks):.1%}")
    assert first > 0.75
