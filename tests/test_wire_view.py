"""Stretches of captures as drawings need them, against a plain walk over all changes."""

from __future__ import annotations

import bisect
import json
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from latchlore.base import BadInput, Clock, Span, UnknownName
from latchlore.wire import (
    Capture,
    Channel,
    ChannelKind,
    ChannelView,
    PackedMap,
    read_packed,
    read_vcd,
    view,
    view_to_plain,
)
from latchlore.wire._overview import layer_sizes, make_overview

if TYPE_CHECKING:
    from pathlib import Path

    import numpy.typing as npt

    from latchlore.wire._overview import Overview

EMPTY = np.zeros((0, 1), np.uint64)


def line(times: npt.NDArray[np.int64], levels: npt.NDArray[np.uint8], name: str = "S") -> Channel:
    """A channel that is one line."""
    return Channel((name,), ChannelKind.LOGIC, 1, times, levels.astype(np.uint8), EMPTY, EMPTY, np.zeros(0))


def captured(*channels: Channel) -> Capture:
    """A capture from 0 to its last change."""
    return Capture("made", channels, Span(0), Span(max(int(c.times[-1]) for c in channels)))


def bursts(seed: int, changes: int, kinds: int = 2) -> Channel:
    """A line with bursts and long pauses, some values said twice, some times equal."""
    rng = np.random.default_rng(seed)
    gaps = np.where(rng.random(changes) < 0.02, rng.integers(0, 10**9, changes), rng.integers(0, 2_000, changes))
    levels = (
        rng.integers(0, kinds, changes) if kinds > 2 else np.where(rng.random(changes) < 0.1, 1, np.arange(changes))
    )
    return line(np.cumsum(gaps).astype(np.int64), (levels % kinds).astype(np.uint8))


def same(one: Overview, other: Overview) -> bool:
    """Whether two overviews hold the same."""
    pairs: list[tuple[npt.NDArray[Any], npt.NDArray[Any]]] = list(zip(one, other, strict=True))
    return all(np.array_equal(a, b) for a, b in pairs)


def edges_of(channel: Channel) -> list[tuple[int, str]]:
    """Every change to another value: time and value."""
    texts = [channel.text(k) for k in range(channel.num_changes)]
    return [(int(channel.times[k]), texts[k]) for k in range(1, len(texts)) if texts[k] != texts[k - 1]]


def check_columns(channel: Channel, shown: ChannelView, start: int, end: int) -> None:
    """Compare columns with a plain walk: the counts up to each border, and the levels in each column."""
    borders = [start + (end - start) * k // shown.columns for k in range(shown.columns + 1)]
    times = [time for time, _ in edges_of(channel)]
    base = bisect.bisect_left(times, start)
    counted = base
    for border, count in zip(borders[1:], shown.counts.tolist(), strict=True):
        counted += count
        least, most = bisect.bisect_left(times, border), bisect.bisect_right(times, border + shown.near_ps)
        assert least <= counted <= min(most, bisect.bisect_left(times, end))
    assert counted == bisect.bisect_left(times, end)
    every, levels = channel.times.tolist(), channel.levels.tolist()
    last = max(every)
    for k, seen in enumerate(shown.seen.tolist()):
        begin, stop = borders[k], borders[k + 1]
        if begin > last:
            assert seen == 0
            continue
        held = bisect.bisect_left(every, begin)
        surely = levels[
            bisect.bisect_left(every, begin + shown.near_ps + (shown.near_ps > 0)) : bisect.bisect_left(every, stop)
        ]
        maybe = levels[max(0, held - 1) : bisect.bisect_right(every, stop + shown.near_ps)]
        assert all(seen >> level & 1 for level in surely)
        assert all(level in maybe for level in range(4) if seen >> level & 1)


@settings(deadline=None, max_examples=60)
@given(
    seed=st.integers(0, 10**6), changes=st.integers(1, 6_000), kinds=st.sampled_from([2, 4]), width=st.integers(1, 300),
    part=st.tuples(st.floats(-0.1, 1.0), st.floats(0.0001, 1.2)),
)  # fmt: skip
def test_view_lines(seed: int, changes: int, kinds: int, width: int, part: tuple[float, float]) -> None:
    """Every stretch at every width tells what a plain walk finds."""
    channel = bursts(seed, changes, kinds)
    capture = captured(channel)
    whole = int(channel.times[-1]) + 1
    start = int(part[0] * whole)
    end = start + max(1, int(part[1] * whole))
    (shown,) = view(capture, ["S"], start, end, width).channels
    edges = edges_of(channel)
    inside = [(time - start, level) for time, level in edges if start <= time < end]
    assert shown.edges == len(inside)
    held = bisect.bisect_left(channel.times.tolist(), start)
    assert shown.before == (channel.text(held - 1) if held else "")
    if shown.columns:
        assert shown.columns <= width
        check_columns(channel, shown, start, end)
    else:
        first = [(int(channel.times[0]) - start, channel.text(0))] if start <= channel.times[0] < end else []
        assert list(zip(shown.times, shown.values, strict=True)) == first + inside


def test_view_vector_and_real() -> None:
    """A bus comes as numbers or as counts, a quantity with its least and largest value."""
    count = 5_000
    rng = np.random.default_rng(7)
    times = np.cumsum(rng.integers(1, 1_000, count)).astype(np.int64)
    value, unknown = rng.integers(0, 4, (count, 1)).astype(np.uint64), (rng.random((count, 1)) < 0.01).astype(np.uint64)
    bus = Channel(("D",), ChannelKind.VECTOR, 8, times, np.zeros(0, np.uint8), value, unknown, np.zeros(0), "[7:0]")
    reals = rng.normal(size=count)
    volts = Channel(("V",), ChannelKind.REAL, 1, times, np.zeros(0, np.uint8), EMPTY, EMPTY, reals)
    capture = captured(bus, volts)
    end = int(times[-1]) + 1
    data, quantity = view(capture, ["D", "V"], 0, end, 50).channels
    assert data.edges == int(data.counts.sum()) == len(edges_of(bus))
    assert set(data.seen.tolist()) <= {1, 5}
    assert (5 in data.seen.tolist()) == bool(unknown.any())
    assert float(np.nanmin(quantity.extremes)) == reals.min()
    assert float(np.nanmax(quantity.extremes)) == reals.max()
    k = 2_000
    few = view(capture, ["D", "V"], int(times[k]), int(times[k + 5]), 50).channels
    assert few[1].values == tuple(f"{x:.6g}" for x in reals[k : k + 5])
    texts = [bus.text(j) for j in range(k - 1, k + 5)]
    wanted = [texts[j] for j in range(1, 6) if texts[j] != texts[j - 1]]
    assert list(few[0].values) == [f"{int(t, 2):02X}" if set(t) <= {"0", "1"} else t for t in wanted]


def test_view_kept(tmp_path: Path) -> None:
    """A capture opened from its kept columns is drawn from the kept overview, which equals one made in memory."""
    rng = np.random.default_rng(3)
    path = tmp_path / "x.bin"
    path.write_bytes(rng.integers(0, 256, 300_000, np.uint8).tobytes())
    packed = PackedMap({"A": 0, "B": 7}, Clock(Fraction(1_000_000)))
    read_packed(path, "x", packed, tmp_path / "kept")
    kept, fresh = read_packed(path, "x", packed, tmp_path / "kept"), read_packed(path, "x", packed)
    for old, new in zip(kept.channels, fresh.channels, strict=True):
        assert old.overview is not None
        made = make_overview(new)
        assert same(old.overview, made)
        assert len(made.marks) == sum(layer_sizes(new.num_changes))
    stop = kept.end.picoseconds
    one, other = (json.dumps(view_to_plain(view(c, ["A", "B"], 0, stop, 900))) for c in (kept, fresh))
    assert one == other


def test_view_kept_forms(tmp_path: Path) -> None:
    """Vectors wider than a word and quantities are kept too (IEEE 1364-2005, clause 18: values of all forms)."""
    rows = [f"#{k}\nb{k % 7:b}{k % 2}{'x' if k % 5 == 0 else '1'} !\nr{k / 8} %\n1'" for k in range(1, 400)]
    text = "$timescale 1 ns $end\n$var wire 100 ! d [99:0] $end\n$var real 64 % v $end\n$var wire 1 ' s $end\n"
    path = tmp_path / "x.vcd"
    path.write_text(text + "$enddefinitions $end\n" + "\n".join(rows) + "\n")
    kept, fresh = read_vcd(path, "x", tmp_path / "kept"), read_vcd(path, "x")
    for old, new in zip(kept.channels, fresh.channels, strict=True):
        assert old.overview is not None
        assert same(old.overview, make_overview(new))
    (shown,) = view(kept, ["s"], 0, 10**6, 1000).channels
    assert (shown.values, shown.times, shown.edges) == (("1",), (1_000,), 0)


@pytest.mark.parametrize("count", [1, 3, 16, 128])
def test_view_small(count: int) -> None:
    """However wide the drawing and however large the times, the JSON stays under 200 kB."""
    times = np.arange(200_000, dtype=np.int64) * 10**13
    reals = Channel(("R",), ChannelKind.REAL, 1, times, np.zeros(0, np.uint8), EMPTY, EMPTY, -np.sqrt(times) / 7)
    bits: npt.NDArray[np.uint64] = (np.arange(200_000) % 2).astype(np.uint64)
    bus = Channel(
        ("D",), ChannelKind.VECTOR, 64, times, np.zeros(0, np.uint8), bits[:, None] * np.uint64(2**63),
        bits[:, None] * np.uint64(2**40), np.zeros(0),
    )  # fmt: skip
    logic = line(times, bits.astype(np.uint8))
    for channel in (logic, bus, reals):
        capture = captured(channel)
        for num in (100, 300, 1_000, 3_000, 200_000):
            plain = view_to_plain(view(capture, [channel.name] * count, 0, num * 10**13, 16_384))
            assert len(json.dumps(plain)) < 200_000


def test_view_wrong() -> None:
    """Stretches that are none, widths and names that do not exist are refused."""
    capture = captured(bursts(1, 10))
    for start, end, width, said in (
        (5, 5, 10, "made: a stretch to draw ends after it begins, not at 5 ps where it begins at 5 ps"),
        (0, 5, 0, "made: a drawing is 1 to 16384 pixels wide, not 0"),
        (
            0,
            2**63,
            10,
            "made: a stretch to draw lies within 4611686018427387904 ps either way of the capture's zero, "
            "not from 0 to 9223372036854775808",
        ),
    ):
        with pytest.raises(BadInput) as caught:
            view(capture, ["S"], start, end, width)
        assert str(caught.value) == said
    with pytest.raises(BadInput, match=r"^made: a drawing shows at most 128 channels at once, not 129$"):
        view(capture, ["S"] * 129, 0, 1, 1)
    with pytest.raises(UnknownName, match=r"^made: no channel 'T'; "):
        view(capture, ["T"], 0, 1, 1)
