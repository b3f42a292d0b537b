"""Where one byte may have been lost: named where the reading complains, announced where it does not."""

from __future__ import annotations

import random
from statistics import median
from typing import NamedTuple

import pytest
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st

from latchlore.base import Unsupported, no_progress
from latchlore.device import (
    Device,
    LossSurvey,
    LossWay,
    SpanState,
    _survey,
    candidate_key,
    read_device,
    read_stream,
    survey_losses,
)
from latchlore.device._automaton import CompiledTable, compile_table
from latchlore.device._reading import _scan_all
from latchlore.device._survey import survey_with
from tests.device_writer import HEAD, Written, moded_tables, tables, write_row, write_stream

TABLE = (
    HEAD
    + """
[[mode]]
name = "font"
values = ["text", "dots"]
start = "text"
[[command]]
pattern = "20..7E"
meaning = "print"
does = "print"
[[command]]
pattern = "0D"
meaning = "return"
does = "carriage return"
[[command]]
pattern = "1B 4B n data*n"
meaning = "dots"
[[command]]
pattern = "1B 4E name->00"
meaning = "name"
[[command]]
pattern = "1B 50 n# 'm'"
meaning = "number"
[[command]]
pattern = "1B 01"
meaning = "to dots"
sets = { font = "dots" }
[[command]]
pattern = "1B 02"
meaning = "to text"
sets = { font = "text" }
[[command]]
pattern = "80..8F"
meaning = "dot"
when = { font = "dots" }
"""
)


@pytest.fixture(name="device", scope="module")
def _device() -> Device:
    return read_device(TABLE.encode(), "documents/strip.toml")


def complains(table: CompiledTable, data: bytes) -> bool:
    """Whether a reading has bytes that no row explains or a row that the stream cuts short."""
    (_, rows, _), missing = _scan_all(table, data, False, no_progress)
    return bool(missing) or bool((rows < 0).any())


def hidden_at(survey: LossSurvey, place: int) -> tuple[LossWay, ...]:
    """Why a loss in front of a byte would not show; empty where it would."""
    return next((one.ways for one in survey.hidden if one.first <= place < one.end), ())


def test_text_tells_nothing(device: Device) -> None:
    """In text any character may be missing; that is said of every place, and why."""
    (hidden,) = survey_losses(device, b"AB\r").hidden
    assert (hidden.first, hidden.end, hidden.ways) == (0, 4, (LossWay.ALONE,))
    assert str(hidden) == "in front of 0000 to 0003: the stream reads as well with a row of one byte more"


def test_any_length(device: Device) -> None:
    """Terminated data and a number in digits may be longer by any byte."""
    survey = survey_losses(device, b"\x1bNab\x00\x1bP12m")
    assert [LossWay.LONGER in hidden_at(survey, place) for place in range(11)] == [
        *(False, True, True, True, True, False, False, True, True, True, False)
    ]
    assert hidden_at(survey, 8) == (LossWay.LONGER, LossWay.IN_STEP)  # "1m2m" is a number and text
    assert survey.troubles == ()


def test_data_in_step(device: Device) -> None:
    """A byte lost from counted data of which the next byte takes the place: no trace, and up to where they differ."""
    survey = survey_losses(device, b"\x1bK\x03abcdef\r")
    assert LossWay.IN_STEP in hidden_at(survey, 4)


def test_lost_code_is_located(device: Device) -> None:
    """A code without its first byte in a mode where its second is no row: the one place and the one value are named."""
    survey = survey_losses(device, b"AB\x01\x81\x82\r")
    (trouble,) = survey.troubles
    assert [(one.first, one.end, set(one.values)) for one in trouble.places] == [(2, 3, {0x1B})]
    assert str(trouble) == "0002 to 0005: 3 complaints, explained by one byte lost in front of 0002 (1B)"


def test_lost_count_is_located(device: Device) -> None:
    """A lost count takes the first byte of data for it; what follows does not fit, and the places are named."""
    whole = b"\x1bK\x04\x01\x02\x03\x04\rAB"
    (trouble,) = survey_losses(device, whole[:2] + whole[3:]).troubles
    places = {(place, value) for one in trouble.places for place in range(one.first, one.end) for value in one.values}
    assert (2, 4) in places
    assert {place for place, _ in places} == {2}


def test_two_losses(device: Device) -> None:
    """Two losses with a reading in step between them are located one by one."""
    survey = survey_losses(device, b"A\x01\x81\x1b\x02 some text \x1b\x01\x80\x02text\r")
    assert [[(one.first, one.end) for one in trouble.places] for trouble in survey.troubles] == [[(1, 2)], [(19, 20)]]


def test_not_one_loss(device: Device) -> None:
    """What no single loss explains is listed as such."""
    (trouble,) = survey_losses(device, b"AB\xf0\xf1\r").troubles
    assert str(trouble) == "0002 to 0004: 2 complaints; no single lost byte explains them"


def test_survey_losses_wrong(device: Device) -> None:
    """A stream that is too long is refused."""
    words = r"^documents/strip\.toml:1: places of losses are sought in up to 20000 bytes; cut the stream"
    with pytest.raises(Unsupported, match=words):
        survey_losses(device, bytes(20_001))


def test_compiled_survey_is_the_same(device: Device, monkeypatch: pytest.MonkeyPatch) -> None:
    """Long streams are read compiled; the survey is the same."""
    part = b"TIDE 3.41\r\x1bK\x05\x01\x02\x03\x04\x05\x1bNab\x00\x1bP12m\x1b\x01\x81\x1b\x02"
    lossy = part[:12] + part[13:] + part
    plain = survey_losses(device, lossy)
    assert plain.troubles
    monkeypatch.setattr(_survey, "PLAIN_LIMIT", 0)
    assert survey_losses(device, lossy) == plain


# -- the likeliest first


def log_of(rng: random.Random, lines: int) -> bytes:
    """What a tide gauge may print: lines of one form, now and then dots, a name, a number, or another mode."""
    made = b""
    for _ in range(lines):
        made += b"TIDE %d.%02d M\r" % (rng.randrange(3, 6), rng.randrange(100))
        if rng.random() < 0.4:
            count = rng.choice((4, 8, 8))
            made += b"\x1bK" + bytes([count, *rng.choices(b"\x00\x01\x02\x04\x08\x10", k=count)]) + b"\r"
        if rng.random() < 0.3:
            made += b"\x1b\x01" + bytes(rng.choices(b"\x80\x81\x82", k=rng.randrange(1, 4))) + b"\x1b\x02"
        if rng.random() < 0.2:
            made += b"\x1bNmarram\x00"
        if rng.random() < 0.2:
            made += b"\x1bP%dm" % rng.choice((3, 12, 12, 40))
    return made


class Ranked(NamedTuple):
    """A planted loss that the reading complains of: the true one's rank, its share, its rank by place alone."""

    rank: int
    share: float
    rank_by_place: int
    num: int


def plant_losses(device: Device, seeds: range, each: int) -> list[Ranked]:
    """Take single bytes out of random logs, and look up where the true one stands among the candidates."""
    table, found = compile_table(device, {}), []
    for seed in seeds:
        rng = random.Random(seed)
        whole = log_of(rng, 8)
        for place in rng.sample(range(len(whole)), each):
            for trouble in survey_with(table, whole[:place] + whole[place + 1 :]).troubles:
                ranked = trouble.candidates
                assert sum(one.share for one in ranked) == pytest.approx(1)
                true = next(one for one in ranked if one.first <= place < one.end and whole[place] in one.values)
                by_place = sorted(ranked, key=lambda one: (one.first, min(one.values)))
                found.append(Ranked(ranked.index(true) + 1, true.share, by_place.index(true) + 1, len(ranked)))
    return found


def test_candidates_of_planted_losses(device: Device) -> None:
    """The true one is the first of dozens in nineteen cases of twenty or more; by its place alone in one of five."""
    found = plant_losses(device, range(6), 30)
    assert len(found) > 20
    assert median(one.num for one in found) > 10
    assert sum(one.rank == 1 for one in found) >= 0.95 * len(found)
    assert sum(one.rank_by_place == 1 for one in found) < 0.2 * len(found)


def test_candidates_reason(device: Device) -> None:
    """What speaks for the likeliest is told, in words and counts: its row, the row in front, its values elsewhere."""
    line = b"TIDE 3.41\r\x1bK\x04\x01\x02\x03\x04\r"
    lossy = line * 3 + line[:12] + line[13:]  # without the count of the fourth row of dots
    [trouble] = survey_losses(device, lossy).troubles
    best = trouble.candidates[0]
    assert (best.first, best.end, best.command.meaning, best.likely[0]) == (66, 67, "dots", (4, 3))
    assert (best.num_row, best.num_behind, best.num_before) == (4, 4, 7)  # the row that the loss spoilt was read as one
    first = "over 99.9%: in front of 0042 04: dots (4 of 48 rows elsewhere, 4 of 7 behind the row in front)"
    assert str(best) == first
    assert f"; likeliest first: {first}; under 0.1%: in front of 0042 05: dots (" in str(trouble)
    assert trouble.candidates == tuple(sorted(trouble.candidates, key=candidate_key))
    everywhere = {(k, value) for one in trouble.places for k in range(one.first, one.end) for value in one.values}
    ranked = {(k, value) for one in trouble.candidates for k in range(one.first, one.end) for value in one.values}
    assert ranked == everywhere


def test_candidates_wrong(device: Device) -> None:
    """What no single loss explains has no candidates; where there is one only, it is sure and not ranked in words."""
    [none] = survey_losses(device, b"AB\xf0\xf1\r").troubles
    assert none.candidates == ()
    [trouble] = survey_losses(device, b"AB\x01\x81\x82\r").troubles
    [only] = trouble.candidates
    assert only.share == 1
    assert str(only) == "100.0%: in front of 0002 1B: to dots (0 of 3 rows elsewhere, 0 of 1 behind the row in front)"
    assert "likeliest" not in str(trouble)


# -- random tables, random streams


NO_SHRINKING = (Phase.explicit, Phase.reuse, Phase.generate)  # each try takes a tenth of a second and more


class LossCount(NamedTuple):
    """How many losses were tried, how many the reading complains of, how many were announced instead.

    `places`: how many places were named for each located loss; `ways`: why the announced ones leave no trace.
    """

    tried: int
    located: int
    announced: int
    places: tuple[int, ...]
    ways: dict[LossWay, int]


def check_losses(device: Device, data: bytes) -> LossCount:
    """Take each byte of a stream away: its place is named, or the stream reads well and its place was announced."""
    table = compile_table(device, {})
    located, places = 0, []
    ways: dict[LossWay, int] = {}
    for place, byte in enumerate(data):
        lossy = data[:place] + data[place + 1 :]
        survey = survey_with(table, lossy)
        assert bool(survey.troubles) is complains(table, lossy)
        if survey.troubles:
            (trouble,) = survey.troubles
            assert any(one.first <= place < one.end and byte in one.values for one in trouble.places)
            located += 1
            places.append(sum(one.end - one.first for one in trouble.places))
        else:
            why = hidden_at(survey, place)
            assert why
            for way in why:
                ways[way] = ways.get(way, 0) + 1
    return LossCount(len(data), located, len(data) - located, tuple(places), ways)


@settings(deadline=None, max_examples=40)
@given(moded_tables(), st.integers(0, 2**32))
def test_random_tables_with_modes_read_back(device: Device, seed: int) -> None:
    """What a writer makes of a table is read back the same: rows, places and the modes in force at each."""
    data, written = write_stream(device, random.Random(seed), 30)
    reading = read_stream(device, data)
    assert all(span.state is SpanState.COMPLETE for span in reading)
    joined: list[Written] = []
    for one in written:  # neighbouring printed characters are one span
        if not (joined and joined[-1].row == one.row == 0):
            joined.append(one)
    seen = [Written(span.start, span.command.index if span.command else -1, dict(span.modes)) for span in reading]
    assert seen == joined


def short_stream(device: Device, rng: random.Random, most: int) -> bytes:
    """As many rows as fit into so many bytes, and one at least."""
    data, written = write_stream(device, rng, 40)
    ends = [one.start for one in written[1:]] + [len(data)]
    return data[: max((end for end in ends if end <= most), default=ends[0])]


@settings(deadline=None, max_examples=8, phases=NO_SHRINKING)
@given(moded_tables(), st.integers(0, 2**32))
def test_every_loss_is_located_or_announced(device: Device, seed: int) -> None:
    """Random tables with modes, random streams: every single lost byte, wherever it is."""
    data = short_stream(device, random.Random(seed), 40)
    assume(len(data) <= 60)
    check_losses(device, data)


def exhaustive(table: CompiledTable, data: bytes) -> dict[int, set[int]]:
    """Places and values of a byte with which the stream reads without complaint, by reading all of them."""
    found: dict[int, set[int]] = {}
    for place in range(len(data) + 1):
        for byte in range(256):
            if not complains(table, data[:place] + bytes([byte]) + data[place:]):
                found.setdefault(place, set()).add(byte)
    return found


def check_exhaustively(device: Device, data: bytes) -> None:
    """The survey names just the places (and for complaints the values) that reading all 256 values finds."""
    table = compile_table(device, {})
    survey, wanted = survey_with(table, data), exhaustive(table, data)
    if complains(table, data):
        named: dict[int, set[int]] = {}
        if len(survey.troubles) == 1:
            for one in survey.troubles[0].places:
                for place in range(one.first, one.end):
                    named.setdefault(place, set()).update(one.values)
        assert named == wanted
    else:
        assert {place for place in range(len(data) + 1) if hidden_at(survey, place)} == set(wanted)


@settings(deadline=None, max_examples=8, phases=NO_SHRINKING)
@given(moded_tables() | tables(), st.integers(0, 2**32))
def test_survey_is_exhaustive(device: Device, seed: int) -> None:
    """Streams with one byte lost, and noise, against reading every value at every place."""
    rng = random.Random(seed)
    data = b"".join(write_row(rng.choice(device.commands).pattern, rng)[0][:7] for _ in range(3))
    place = rng.randrange(len(data))
    check_exhaustively(device, data[:place] + data[place + 1 :])
