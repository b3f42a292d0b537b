"""Captures that are tables, against the waveforms they were written from and Python's own csv, decimal and struct."""

from __future__ import annotations

import csv
import random
import struct
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from latchlore.base import BadInput, Clock, Span
from latchlore.wire import Capture, PackedMap, TableMap, Thresholds, _tables, read_packed, read_table
from latchlore.wire._tablekernel import parse_number

if TYPE_CHECKING:
    from pathlib import Path

BOTH = {"STROBE": "stb", "D0": "d0"}
DOWN = "; where it stands further down, state its line"


def read(folder: Path, text: str, table: TableMap, keep: bool = False) -> Capture:
    path = folder / "t.csv"
    path.write_bytes(text.encode())
    return read_table(path, "t.csv", table, folder / "kept" if keep else None)


def rows(capture: Capture, name: str) -> list[tuple[int, int]]:
    channel = capture.get_channel(name)
    return list(zip(channel.times.tolist(), channel.levels.tolist(), strict=True))


@settings(deadline=None)  # the first call compiles
@given(
    st.integers(-(10**9), 10**9),
    st.integers(0, 12),
    st.sampled_from(["", "e3", "E-4", "e+0"]),
    st.sampled_from([0, 3, 6, 9, 12]),
)
def test_parse_number(mantissa: int, places: int, exponent: str, power: int) -> None:
    """Python's decimal arithmetic (half up) gives the same whole number."""
    text = str(Decimal(mantissa).scaleb(-places).to_eng_string() if not exponent else Decimal(mantissa).scaleb(-places))
    if "E" in text:
        return
    text += exponent
    exact = Decimal(text).scaleb(power)
    if abs(exact) > 9 * 10**18:
        return  # refused as too large
    raw = np.frombuffer(text.encode(), np.uint8)
    value, rounded, reason = parse_number(raw, 0, len(raw), power)
    assert reason == 0
    assert value == int(abs(exact).to_integral_value(ROUND_HALF_UP)) * (-1 if exact < 0 else 1)
    assert bool(rounded) == (exact != exact.to_integral_value())


@pytest.mark.parametrize("keep", [False, True])
def test_read_table_changes(tmp_path: Path, keep: bool) -> None:
    """Rows that are changes: exact times, no sampling period; quoted fields, comments, both line ends."""
    text = '# made\r\n"t (us)","stb","x","d0"\r\n0,1,7,0\r\n\r\n1.5,0,7,0\r\n1.500001,0,7,1\n; rest\n2e1,1,7,1\n'
    capture = read(tmp_path, text, TableMap(BOTH, "t (us)", "us", samples=False), keep)
    assert rows(capture, "STROBE") == [(0, 1), (1_500_000, 0), (20_000_000, 1)]
    assert rows(capture, "D0") == [(0, 0), (1_500_001, 1)]
    assert (capture.begin, capture.end, capture.step) == (Span(0), Span.of(us=20), None)


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r", "mixed"])
@pytest.mark.parametrize("piece", [7, 1 << 20])
def test_read_table_line_ends(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ends: str, piece: int) -> None:
    """Lines end in LF, CR LF or CR, also mixed and across pieces; a byte-order mark and quoted separators count not."""
    import latchlore.wire._tables as module

    monkeypatch.setattr(module, "PIECE", max(piece, 64))
    lines = ['t,"x, y",a', *(f'{k},"1, ""2"", {k}",{k % 2}' for k in range(40))]
    mixed = ["\n", "\r\n", "\r"]
    text = "".join(line + (mixed[k % 3] if ends == "mixed" else ends) for k, line in enumerate(lines))
    capture = read(tmp_path, "\ufeff" + text, TableMap({"A": "a"}, "t", "ns"))
    assert rows(capture, "A") == [(k * 1000, k % 2) for k in range(40)]
    with pytest.raises(BadInput) as caught:
        read(tmp_path, text + "9,0,1\n", TableMap({"A": "a"}, "t", "ns"))
    assert str(caught.value) == "t.csv:42: the time of '9,0,1' comes before the one above; times never fall"


@pytest.mark.parametrize(
    ("text", "channels", "words"),
    [
        ("t,a,a\n0,0,0\n", {"A": "a"}, "t.csv:1: 2 columns are called 'a'; name one by its number"),
        ("t,a\n0,0\n", {"A": "a", "B": "a"}, "t.csv:1: 'A' and 'B' are both column 2"),
        ("t,a\n0,0\n", {"A": "a", "B": 1}, "t.csv:1: 'the time' and 'B' are both column 1"),
        ("# c\n\nt,a\n0,0\n", {"A": "b"}, "t.csv:3: no column is called 'b'; the row of titles has 't', 'a'" + DOWN),
        (
            "x" * 200_000,
            {"A": "b"},
            "t.csv:1: no column is called 't'; the row of titles has '" + "x" * 65_536 + "'" + DOWN,
        ),
    ],
)
def test_read_table_map_wrong(tmp_path: Path, text: str, channels: dict[str, str | int], words: str) -> None:
    """A map that fits no column, or one column twice, is refused with the line of the titles."""
    with pytest.raises(BadInput) as caught:
        read(tmp_path, text, TableMap(channels, "t"))
    assert str(caught.value) == words


def test_read_table_utf16(tmp_path: Path) -> None:
    """A table stored as UTF-16 is refused by its name, not by its bytes."""
    (tmp_path / "t.csv").write_text("t,stb,d0\n0,1,0\n", encoding="utf-16")
    with pytest.raises(BadInput, match=r"^t\.csv:1: the file is UTF-16; store it as UTF-8 text$"):
        read_table(tmp_path / "t.csv", "t.csv", TableMap(BOTH, "t"))


def test_read_table_samples(tmp_path: Path) -> None:
    """Samples without times at a stated rate, no title row, columns by number; edges carry the period."""
    text = "".join(f"{k // 3 % 2};{k % 2}\n" for k in range(12))
    capture = read(tmp_path, text, TableMap({"A": 1, "B": 2}, rate=Clock.of(mhz=3), separator=";"))
    assert capture.step == Span(333_334)
    assert rows(capture, "A") == [(0, 0), (1_000_000, 1), (2_000_000, 0), (3_000_000, 1)]
    assert rows(capture, "B")[:3] == [(0, 0), (333_333, 1), (666_666, 0)]
    timed = read(tmp_path, "t,a\n0,0\n1,1\n5,0\n", TableMap({"A": "a"}, "t", "ns"))
    assert timed.step == Span.of(ns=4)  # the longest pause between two samples


def test_read_table_volts(tmp_path: Path) -> None:
    """Voltages with thresholds: between the two a line stays as it was; before either is passed it is unknown."""
    volts = {"A": Thresholds(Fraction("0.8"), Fraction("2.0"))}
    text = "t,v\n0,1.4\n1,0.8\n2,1.999\n3,2.000\n4,0.801\n5,-0.1\n6,4.9e0\n"
    capture = read(tmp_path, text, TableMap({"A": "v"}, "t", "ms", thresholds=volts))
    ms = 10**9
    assert rows(capture, "A") == [(0, 2), (ms, 0), (3 * ms, 1), (5 * ms, 0), (6 * ms, 1)]


def test_read_table_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What Python's csv module wrote comes back, also in small pieces and when the output fills up."""
    import latchlore.wire._tables as module

    monkeypatch.setattr(module, "PIECE", 100)
    monkeypatch.setattr(module, "ROOM", 8)
    rng = random.Random(3)
    now = Decimal(0)
    truth: dict[str, list[tuple[int, int]]] = {"A": [], "B": [], "C": []}
    with (tmp_path / "t.csv").open("w", newline="") as out:
        writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC)
        writer.writerow(["time", "A", "B", "C"])
        for _ in range(500):
            levels = [rng.randrange(2) for _ in "ABC"]
            writer.writerow([now, *levels])
            for name, level in zip("ABC", levels, strict=True):
                if not truth[name] or truth[name][-1][1] != level:
                    truth[name].append((int(now * 10**12), level))
            now += Decimal(rng.randrange(1, 10**7)).scaleb(-12)
    capture = read_table(tmp_path / "t.csv", "t.csv", TableMap({c: c for c in "ABC"}, "time"))
    for name, expected in truth.items():
        assert rows(capture, name) == expected


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "t.csv:1: no column is called 't'; the row of titles has nothing" + DOWN),
        ("a,b\n", "t.csv:1: no column is called 't'; the row of titles has 'a', 'b'" + DOWN),
        ("t,stb,d0\n", "t.csv: the file has no row of samples"),
        ("t,stb,d0\n0,1,0\nx,1,0\n", "t.csv:3: 'x' in column 1 is no number"),
        (
            "t,stb,d0\n0,1,0\n1,1,3.3\n",
            "t.csv:3: '3.3' in column 3 is no level; a level is 0, 1, x or z (voltages need thresholds)",
        ),
        ("t,stb,d0\n0,1,0\n1,1\n", "t.csv:3: the row has 2 fields, fewer than the map names"),
        (
            "t,stb,d0\n0,1,0\n2,1,1\n1,1,0\n",
            "t.csv:4: the time of '1,1,0' comes before the one above; times never fall",
        ),
        ("t,stb,d0\n1e9,1,0\n", "t.csv:2: '1e9' in column 1 is too large for a time in whole picoseconds"),
        ("t,stb,d0\n0,1,0\n\x00\x01\x02\n", "t.csv:3: '\\x00\\x01\\x02' in column 1 is no number"),
    ],
)
def test_read_table_wrong(tmp_path: Path, text: str, words: str) -> None:
    """A row that does not suit the map is refused with its line and column, and no store is left."""
    with pytest.raises(BadInput) as caught:
        read(tmp_path, text, TableMap(BOTH, "t"), keep=True)
    assert str(caught.value) == words
    assert sorted(path.name for path in tmp_path.iterdir()) == ["t.csv"]


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: TableMap({}, "t"), "a column map names at least one channel"),
        (
            lambda: TableMap(BOTH),
            "either a column holds the times or a sampling rate is stated, not both and not neither",
        ),
        (lambda: TableMap(BOTH, rate=Clock.of(mhz=1), samples=False), "rows that are changes need a column of times"),
        (lambda: TableMap(BOTH, "t", "min"), "a unit of time is one of s, ms, us, ns, ps, not 'min'"),
        (
            lambda: TableMap(BOTH, "t", separator=" "),
            "a separator is a comma, a semicolon, a tab or a bar, not ' '",
        ),
        (
            lambda: TableMap(BOTH, "t", thresholds={"Q": Thresholds(Fraction(1), Fraction(2))}),
            "thresholds are stated for 'Q', which is no channel of the map",
        ),
        (lambda: Thresholds(Fraction(2), Fraction(1)), "the low threshold 2.0 V is above the high one 1.0 V"),
        (lambda: PackedMap({"A": 0}, Clock.of(mhz=1), 3), "a packed sample has 1, 2, 4 or 8 bytes, not 3"),
        (lambda: PackedMap({"A": 8}, Clock.of(mhz=1)), "channel 'A' is bit 8 of a sample; bits are 0 to 7"),
        (lambda: TableMap({"A": 1}, 2, titles_line=0), "lines are counted from 1, not 0"),
        (
            lambda: TableMap({"A": 1}, 2, titles_line=3, rows_line=3),
            "the first row of values stands below the titles, not in line 3 where they are in line 3",
        ),
        (lambda: PackedMap({"A": 64}, Clock.of(mhz=1), 8), "channel 'A' is bit 64 of a sample; bits are 0 to 63"),
    ],
)
def test_maps_wrong(make: object, words: str) -> None:
    """Maps that cannot be are refused."""
    with pytest.raises(ValueError) as caught:
        make()  # type: ignore[operator]
    assert str(caught.value) == words


@pytest.mark.parametrize(("tail", "whole"), [("3,0,1", True), ("3,0", False), ("3,0,", False), ("3.1", False)])
def test_read_table_cut_off(tmp_path: Path, tail: str, whole: bool) -> None:
    """A last line without a line end counts where it can only be whole; else it is left out, and said."""
    text = "t,stb,d0\n1,1,0\n2,0,0\n"
    capture = read(tmp_path, text + tail, TableMap(BOTH, "t", "ps"))
    assert rows(capture, "D0") == [(1, 0), *([(3, 1)] if whole else [])]
    assert capture.begin == Span(1)
    said = f"the file ends in the middle of a line: '{tail}' at byte {len(text)} was left out; all before it was read"
    assert capture.notes == (() if whole else (said,))


@pytest.mark.parametrize(
    ("size", "kind", "high_first"),
    [(1, "B", False), (2, "<H", False), (4, ">I", True), (8, "<Q", False), (8, ">Q", True)],
)
def test_read_packed(tmp_path: Path, size: int, kind: str, high_first: bool) -> None:
    """Samples packed by Python's struct; a last half sample is left out, and said; equal samples cost nothing."""
    rng = random.Random(size)
    samples = [rng.randrange(1 << (8 * size)) for _ in range(300) for _ in range(rng.randrange(1, 4))]
    raw = b"".join(struct.pack(kind, sample) for sample in samples)
    (tmp_path / "t.raw").write_bytes(raw + b"\x55" * (size // 2))
    bits = {"A": 0, "B": 3, "C": 8 * size - 1}
    capture = read_packed(tmp_path / "t.raw", "t.raw", PackedMap(bits, Clock.of(mhz=4), size, high_first))
    for name, bit in bits.items():
        levels = [sample >> bit & 1 for sample in samples]
        expected = [(250_000 * k, level) for k, level in enumerate(levels) if k == 0 or level != levels[k - 1]]
        assert rows(capture, name) == expected
    assert capture.end == Span(250_000 * (len(samples) - 1))
    note = f"the file ends {size // 2} bytes into a sample of {size}; these were left out"
    assert capture.notes == ((note,) if size > 1 else ())


@pytest.mark.parametrize("size", [1, 2, 4, 8])
def test_read_packed_all_high(tmp_path: Path, size: int) -> None:
    """Samples of which every bit is high, as open inputs give them, count from the first one on."""
    ones = (1 << 8 * size) - 1
    raw = b"".join(sample.to_bytes(size, "little") for sample in [ones] * 3 + [ones ^ 2] * 2 + [ones] * 2)
    (tmp_path / "t.raw").write_bytes(raw)
    capture = read_packed(tmp_path / "t.raw", "t.raw", PackedMap({"A": 0, "B": 1}, Clock.of(mhz=1), size))
    assert rows(capture, "A") == [(0, 1)]
    assert rows(capture, "B") == [(0, 1), (3_000_000, 0), (5_000_000, 1)]


def test_read_packed_wrong(tmp_path: Path) -> None:
    """A file without a whole sample is refused."""
    (tmp_path / "t.raw").write_bytes(b"")
    with pytest.raises(BadInput, match=r"^t\.raw: the file has no whole sample of 2 bytes$"):
        read_packed(tmp_path / "t.raw", "t.raw", PackedMap({"A": 0}, Clock.of(mhz=1), 2))


PREAMBLE = "Model,TX9\nInterval,2,ns\n\nt,stb,d0\nus,V,V\n"


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_read_table_preamble(tmp_path: Path, ends: str) -> None:
    """Lines in front of the titles and between them and the values, as measuring instruments write them."""
    text = ("\ufeff" + PREAMBLE + "1,1,0\n2,0,1\n").replace("\n", ends)
    by_title, by_number = (
        TableMap(BOTH, "t", "us", titles_line=4, rows_line=6),
        TableMap({"STROBE": 2}, 1, "us", rows_line=6),
    )
    for table in (by_title, by_number):
        assert rows(read(tmp_path, text, table), "STROBE") == [(1_000_000, 1), (2_000_000, 0)]
    plain = read(tmp_path, text.replace(f"us,V,V{ends}", ""), TableMap(BOTH, "t", "us", titles_line=4))
    assert rows(plain, "D0") == [(1_000_000, 0), (2_000_000, 1)]


@pytest.mark.parametrize(
    ("titles", "first", "words"),
    [
        (None, None, "t.csv:1: no column is called 't'; the row of titles has 'Model', 'TX9'" + DOWN),
        (2, None, "t.csv:2: no column is called 't'; the row of titles has 'Interval', '2', 'ns'"),
        (
            4,
            None,
            "t.csv:5: 'us' in column 1 is no number; where the values begin further down, state the line of their "
            "first row",
        ),
        (40, None, "t.csv: no line 40 is among the first 1048576 bytes"),
        (4, 7, "t.csv: no line 7 is among the first 1048576 bytes"),
    ],
)
def test_read_table_preamble_wrong(tmp_path: Path, titles: int | None, first: int | None, words: str) -> None:
    """Without the line of the titles, or of the values, it is said what to state."""
    with pytest.raises(BadInput) as caught:
        read(tmp_path, PREAMBLE + "1,1,0\n", TableMap(BOTH, "t", "us", titles_line=titles, rows_line=first))
    assert str(caught.value) == words


def sampled(steps: list[int], d0: str = "") -> str:
    """Rows of samples these steps apart, nanoseconds."""
    levels = d0 or "01" * len(steps)
    text, now = f"t,stb,d0\n0,1,{levels[0]}\n", 0
    for k, step in enumerate(steps):
        now += step
        text += f"{now},1,{levels[k + 1] if k + 1 < len(levels) else 0}\n"
    return text


@pytest.mark.parametrize("piece", [64, 1 << 20])
def test_read_table_holes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, piece: int) -> None:
    """Rows that were lost among samples are a stretch without a level, and do not make the others coarser."""
    monkeypatch.setattr(_tables, "PIECE", piece)
    text = sampled([10] * 20 + [500] + [10] * 20 + [41] + [10] * 5)
    capture = read(tmp_path, text, TableMap(BOTH, "t", "ns"), keep=True)
    assert rows(capture, "STROBE") == [(0, 1), (210_000, 2), (700_000, 1), (910_000, 2), (941_000, 1)]
    assert [(gap.since, gap.until) for gap in capture.gaps] == [
        (Span(210_000), Span(700_000)),
        (Span(910_000), Span(941_000)),
    ]
    assert capture.step == Span(10_000)
    assert capture.notes == (
        "rows are missing 2 times, for 521 ns in all, first from 210 ns on: what the lines did then is not known",
    )


@pytest.mark.parametrize(
    ("steps", "changes", "longest"),
    [
        ([10] * 20 + [40] + [10] * 20, False, 40),  # four steps are a jitter that was always there
        ([10, 12, 500, 7, 90, 300, 2, 800], False, 800),  # no step that rows keep
        ([0] * 20 + [10], False, 10),
        ([10] * 20 + [500] + [10] * 20, True, None),
    ],
)
def test_read_table_no_holes(tmp_path: Path, steps: list[int], changes: bool, longest: int | None) -> None:
    """Where rows keep no step, or are changes, none is missed; samples are then as coarse as their longest step."""
    capture = read(tmp_path, sampled(steps), TableMap(BOTH, "t", "ns", samples=not changes))
    assert (capture.gaps, capture.notes) == ((), ())
    assert capture.step == (None if longest is None else Span.of(ns=longest))


def test_read_table_hole_volts(tmp_path: Path) -> None:
    """A voltage between the thresholds behind a hole tells no level, since what it came from is not known."""
    text = sampled([10] * 20 + [500] + [10] * 4, "5" * 21 + "11050")
    table = TableMap(BOTH, "t", "ns", thresholds={"D0": Thresholds(Fraction("0.8"), Fraction(2))})
    assert rows(read(tmp_path, text, table), "D0") == [(0, 1), (210_000, 2), (720_000, 0), (730_000, 1), (740_000, 0)]


def test_read_table_filled_up(tmp_path: Path) -> None:
    """Zero bytes at the end, as a power cut leaves them, are said, with what stands just before them."""
    text = "t,stb,d0\n0,1,0\n1,0,0\n"
    said = "the last 50 bytes of the file are zero: writing broke off there; all before it was read"
    for tail, more in (
        ("", ()),
        (
            "2,0",
            (f"the file ends in the middle of a line: '2,0' at byte {len(text)} was left out; all before it was read",),
        ),
    ):
        capture = read(tmp_path, text + tail + "\0" * 50, TableMap(BOTH, "t", "ns"))
        assert (capture.notes, capture.breaks_off) == ((said, *more), True)
        assert capture.end == Span(1000)
