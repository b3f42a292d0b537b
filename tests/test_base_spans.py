"""Times and clocks against datetime, decimal and exact fractions from the standard library."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.base import Clock, CycleRange, Span, SpanLimit, SpanRange

picoseconds = st.integers(-(10**15), 10**15)
UNITS = {"ps": 0, "ns": 3, "us": 6, "µs": 6, "ms": 9, "s": 12}  # powers of ten; SI prefixes


@given(st.timedeltas(min_value=timedelta(days=-3), max_value=timedelta(days=3)))
def test_of_timedelta(delta: timedelta) -> None:
    """Parts given in several units add up to what datetime makes of them (exact to its microsecond)."""
    span = Span.of(s=delta.days * 86400 + delta.seconds, us=delta.microseconds)
    assert span.picoseconds == delta // timedelta(microseconds=1) * 10**6


@given(st.decimals(min_value=-1000, max_value=1000, allow_nan=False, places=6), st.sampled_from(sorted(UNITS)))
def test_parse(number: Decimal, unit: str) -> None:
    """A decimal and a unit are read exactly, as decimal arithmetic has it, or refused below a picosecond."""
    text = f"{number:f} {unit}"
    wanted = number * Decimal(10) ** UNITS[unit]
    if wanted == wanted.to_integral_value():
        assert Span.parse(text) == Span(int(wanted))
    else:
        with pytest.raises(ValueError, match=r"^a time is a whole number of picoseconds, not -?\d+/\d+ ps$"):
            Span.parse(text)


@given(picoseconds)
def test_text(ps: int) -> None:
    """The text reads back to the same time and has a number of at least 1 in the largest unit that allows it."""
    text = str(Span(ps))
    assert Span.parse(text).picoseconds == ps
    number, unit = text.split()
    assert ps == 0 or abs(Decimal(number)) >= 1
    assert unit == "s" or abs(Decimal(number)) < 1000


def test_text_examples() -> None:
    """Worked by hand: 32 cycles at 1 MHz are 32 us; 500 ns; -1.5 ms; nothing."""
    examples = {32_000_000: "32 us", 500_000: "500 ns", -1_500_000_000: "-1.5 ms", 0: "0 ps", 10**12: "1 s", 1: "1 ps"}
    assert {ps: str(Span(ps)) for ps in examples} == examples


@given(picoseconds, picoseconds, st.integers(-1000, 1000))
def test_arithmetic(one: int, other: int, times: int) -> None:
    """Sums, differences, multiples and order are those of whole numbers."""
    a, b = Span(one), Span(other)
    assert (a + b, a - b, a * times) == (Span(one + other), Span(one - other), Span(one * times))
    assert (a < b, a <= b, a == b) == (one < other, one <= other, one == other)


@pytest.mark.parametrize(
    "text", ["", "5", "us", "5 min", "1e3 us", "5 us 3 ns", "0x10 us", "1,5 us", "nan s", "1/2 us"]
)
def test_parse_wrong(text: str) -> None:
    """What is not a number and a unit is refused with the text."""
    with pytest.raises(ValueError, match=r"^a time is a number and one of ps, ns, us, ms, s, not ") as error:
        Span.parse(text)
    assert str(error.value).endswith(repr(text))


def test_of_wrong() -> None:
    """A float and a part of a picosecond are refused."""
    with pytest.raises(TypeError, match=r"^a time is never a float: 0\.1 ns$"):
        Span.of(ns=0.1)  # type: ignore[arg-type]  # the refusal is the point
    with pytest.raises(ValueError, match=r"^a time is a whole number of picoseconds, not 1/3 ps$"):
        Span.of(ps=Fraction(1, 3))


@given(*[st.integers(0, 30)] * 4)
def test_range(a: int, b: int, c: int, d: int) -> None:
    """Two ranges overlap when some whole picosecond lies in both."""
    (low, high), (least, most) = sorted((a, b)), sorted((c, d))
    one, other = SpanRange(Span(low), Span(high)), SpanRange(Span(least), Span(most))
    assert one.overlaps(other) == bool({*range(low, high + 1)} & {*range(least, most + 1)})
    assert SpanRange.exactly(Span(a)) == SpanRange(Span(a), Span(a))


def test_range_text() -> None:
    """One value or both bounds."""
    assert str(SpanRange.exactly(Span.of(us=32))) == "32 us"
    assert str(SpanRange(Span.of(us=32), Span.of(ms=1))) == "32 us to 1 ms"


@given(*[st.integers(0, 12)] * 2, st.none() | st.integers(0, 12), st.none() | st.integers(0, 12))
def test_judge(a: int, b: int, least: int | None, most: int | None) -> None:
    """A limit is met by all values of a range, broken by all, or open: checked value by value."""
    if (least is None and most is None) or (least is not None and most is not None and least > most):
        return
    low, high = sorted((a, b))
    limit = SpanLimit(None if least is None else Span(least), None if most is None else Span(most))
    kept = [(least is None or ps >= least) and (most is None or ps <= most) for ps in range(low, high + 1)]
    verdict = limit.judge(SpanRange(Span(low), Span(high)))
    if all(kept):
        assert verdict == "met"
    elif any(kept):
        assert verdict == "open"
    else:
        # A gap in the middle cannot happen: values that break a limit on both sides enclose some that keep it.
        assert verdict == "broken"


def test_limit_text() -> None:
    """A limit in words."""
    assert str(SpanLimit(Span.of(ns=500))) == "at least 500 ns"
    assert str(SpanLimit(None, Span.of(us=500))) == "at most 500 us"
    assert str(SpanLimit(Span.of(us=1), Span.of(us=5))) == "1 us to 5 us"


def test_bounds_wrong() -> None:
    """Bounds upside down, and a limit without a side, are refused."""
    with pytest.raises(ValueError, match=r"^the least time 2 ps is above the most 1 ps$"):
        SpanRange(Span(2), Span(1))
    with pytest.raises(ValueError, match=r"^the least time 2 ps is above the most 1 ps$"):
        SpanLimit(Span(2), Span(1))
    with pytest.raises(ValueError, match=r"^a limit needs a least or a most time$"):
        SpanLimit()


counts = st.integers(0, 1000)


@given(counts, counts, counts, counts)
def test_cycle_range(a: int, b: int, c: int, d: int) -> None:
    """Sum and hull of two ranges are those of their values; no most time swallows any other."""
    (low, high), (least, most) = sorted((a, b)), sorted((c, d))
    one, other = CycleRange(low, high), CycleRange(least, most)
    assert one + other == CycleRange(low + least, high + most)
    assert one.widen(other) == CycleRange(min(low, least), max(high, most))
    wait = CycleRange(low, None)
    assert wait + other == CycleRange(low + least, None) == other + wait
    assert wait.widen(other) == CycleRange(min(low, least), None)


def test_cycle_range_text() -> None:
    """One number, two, or no upper end."""
    texts = [str(CycleRange.exactly(7)), str(CycleRange(7, 9)), str(CycleRange(7, None))]
    assert texts == ["7 cycles", "7 to 9 cycles", "7 cycles or more"]


@pytest.mark.parametrize(
    ("cycles", "clock", "span"),
    [
        # Bench case: strobe width from code, worked by hand there.
        (32, "1.000 MHz", "32.0 us"),
        (32, "2 MHz", "16.0 us"),
        (59, "2.5 MHz", "23.6 us"),
        (59, "4 MHz", "14.75 us"),
        (1, "50 Hz", "20 ms"),
        (8, "32.768 kHz", "244.140625 us"),  # a watch crystal divides a second by 2 to the 15th
    ],
)
def test_clock_span(cycles: int, clock: str, span: str) -> None:
    """Cycles at a clock take exactly the time worked out by hand."""
    assert Clock.parse(clock).span(CycleRange.exactly(cycles)) == SpanRange.exactly(Span.parse(span))


@given(st.fractions(min_value=1, max_value=10**8), st.integers(0, 10**6 - 1), counts, counts)
def test_clock_span_bounds(hertz: Fraction, ppm: int, a: int, b: int) -> None:
    """The range holds the exact times at both ends of the tolerance, and is wider by less than a picosecond a side."""
    low, high = sorted((a, b))
    span = Clock(hertz, ppm).span(CycleRange(low, high))
    least = Fraction(low) / (hertz * (1 + Fraction(ppm, 10**6))) * 10**12
    most = Fraction(high) / (hertz * (1 - Fraction(ppm, 10**6))) * 10**12
    assert 0 <= least - span.least.picoseconds < 1
    assert 0 <= span.most.picoseconds - most < 1


def test_clock_parse() -> None:
    """Rates are exact, a crystal divided by a whole number too; NTSC colour: 315/88 MHz (SMPTE 170M)."""
    assert Clock.parse("1.0 MHz") == Clock.of(mhz=1)
    assert Clock.parse("1022727Hz") == Clock(Fraction(1022727))
    assert Clock.parse("315/88 MHz").hertz == Fraction(315_000_000, 88)
    assert Clock.parse(" 14.31818 / 14 MHz ", 50) == Clock(Fraction(14_318_180, 14), 50)


def test_clock_text() -> None:
    """A rate is printed without rounding."""
    clocks = {"1 MHz": "1 MHz", "894886 Hz": "894886 Hz", "315/88 MHz": "315/88 MHz", "0.5 kHz": "500 Hz"}
    assert {text: str(Clock.parse(text)) for text in clocks} == clocks
    assert str(Clock.of(mhz="1.5", tolerance_ppm=100)) == "1.5 MHz ±100 ppm"


@pytest.mark.parametrize("text", ["1", "MHz", "1 GHz", "-1 MHz", "1 MHz or so", "1/2/3 MHz", "1 mhz", "1e6 Hz"])
def test_clock_parse_wrong(text: str) -> None:
    """What is not a number and a unit is refused with the text."""
    with pytest.raises(ValueError, match=r"^a clock rate is a number and one of Hz, kHz, MHz, not ") as error:
        Clock.parse(text)
    assert str(error.value).endswith(repr(text))


def test_clock_wrong() -> None:
    """No rate, a float, a tolerance of all or nothing, and the time of an unbounded wait are refused."""
    with pytest.raises(ValueError, match=r"^a clock rate is above zero, not 0 Hz$"):
        Clock.parse("0 Hz")
    with pytest.raises(ValueError, match=r"^a clock rate is divided by 1 or more, not '1/0 MHz'$"):
        Clock.parse("1/0 MHz")
    with pytest.raises(TypeError, match=r"^a clock rate is never a float$"):
        Clock.of(mhz=1.0)  # type: ignore[arg-type]  # the refusal is the point
    with pytest.raises(ValueError, match=r"^a clock's tolerance is 0 to 999999 ppm, not 1000000$"):
        Clock.of(mhz=1, tolerance_ppm=10**6)
    with pytest.raises(ValueError, match=r"^an unbounded number of cycles has no most time$"):
        Clock.of(mhz=1).span(CycleRange(1, None))
