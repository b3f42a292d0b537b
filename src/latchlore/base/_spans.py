"""Time as whole picoseconds, clocks as exact fractions."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

UNITS_PS = {"ps": 1, "ns": 10**3, "us": 10**6, "ms": 10**9, "s": 10**12}
_CLOCK_TEXT = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(?:/\s*(\d+)\s*)?(Hz|kHz|MHz)\s*")
_SPAN_TEXT = re.compile(r"\s*([+-]?\d+(?:\.\d+)?)\s*(ps|ns|us|µs|ms|s)\s*")


def _exact_text(value: Fraction) -> str:
    """A decimal without rounding where there is one, else numerator/denominator."""
    whole = value.denominator
    twos = fives = 0
    while whole % 2 == 0:
        whole, twos = whole // 2, twos + 1
    while whole % 5 == 0:
        whole, fives = whole // 5, fives + 1
    if whole != 1:
        return f"{value.numerator}/{value.denominator}"
    places = max(twos, fives)
    if places == 0:
        return str(value.numerator)
    digits = f"{abs(value.numerator) * 10**places // value.denominator:0{places + 1}d}"
    return f"{'-' if value < 0 else ''}{digits[:-places]}.{digits[-places:]}"


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A length of time (or a time since the start of a capture) in whole picoseconds; may be negative."""

    picoseconds: int

    @classmethod
    def of(
        cls,
        *,
        ps: int | str | Fraction = 0,
        ns: int | str | Fraction = 0,
        us: int | str | Fraction = 0,
        ms: int | str | Fraction = 0,
        s: int | str | Fraction = 0,
    ) -> Span:
        """The sum of the parts.  Refuses a float and what is not a whole number of picoseconds."""
        total = Fraction(0)
        for unit, part in (("ps", ps), ("ns", ns), ("us", us), ("ms", ms), ("s", s)):
            if isinstance(part, float):
                raise TypeError(f"a time is never a float: {part!r} {unit}")
            total += Fraction(part) * UNITS_PS[unit]
        if total.denominator != 1:
            raise ValueError(f"a time is a whole number of picoseconds, not {total} ps")
        return cls(int(total))

    @classmethod
    def parse(cls, text: str) -> Span:
        """Read ``1.5 us``.  Units: ps, ns, us (µs), ms, s.  Refuses anything else."""
        match = _SPAN_TEXT.fullmatch(text)
        if match is None:
            raise ValueError(f"a time is a number and one of ps, ns, us, ms, s, not {text!r}")
        return cls.of(**{match[2].replace("µ", "u"): match[1]})

    def __add__(self, other: Span) -> Span:
        return Span(self.picoseconds + other.picoseconds)

    def __sub__(self, other: Span) -> Span:
        return Span(self.picoseconds - other.picoseconds)

    def __mul__(self, times: int) -> Span:
        return Span(self.picoseconds * times)

    def __str__(self) -> str:
        """In the largest unit that leaves a number of at least 1, without rounding: ``32.5 us``."""
        size = abs(self.picoseconds)
        unit = next((u for u in ("s", "ms", "us", "ns") if size >= UNITS_PS[u]), "ps")
        return f"{_exact_text(Fraction(self.picoseconds, UNITS_PS[unit]))} {unit}"


@dataclass(frozen=True, slots=True)
class SpanRange:
    """A time known to lie between two bounds, both included.  Refuses `least` above `most`."""

    least: Span
    most: Span

    def __post_init__(self) -> None:
        if self.least > self.most:
            raise ValueError(f"the least time {self.least} is above the most {self.most}")

    @classmethod
    def exactly(cls, span: Span) -> SpanRange:
        """The range that holds one value."""
        return cls(span, span)

    def overlaps(self, other: SpanRange) -> bool:
        """Whether one value can lie in both."""
        return self.least <= other.most and other.least <= self.most

    def __str__(self) -> str:
        return str(self.least) if self.least == self.most else f"{self.least} to {self.most}"


Verdict = Literal["met", "broken", "open"]


@dataclass(frozen=True, slots=True)
class SpanLimit:
    """A requirement on a time: at least `least`, at most `most`, either may be None (no limit on that side)."""

    least: Span | None = None
    most: Span | None = None

    def __post_init__(self) -> None:
        if self.least is None and self.most is None:
            raise ValueError("a limit needs a least or a most time")
        if self.least is not None and self.most is not None and self.least > self.most:
            raise ValueError(f"the least time {self.least} is above the most {self.most}")

    def judge(self, actual: SpanRange) -> Verdict:
        """Say ``met`` if every value of the range keeps the limit, ``broken`` if none does, ``open`` between."""
        low_ok = self.least is None or actual.least >= self.least
        high_ok = self.most is None or actual.most <= self.most
        if low_ok and high_ok:
            return "met"
        if (self.least is not None and actual.most < self.least) or (
            self.most is not None and actual.least > self.most
        ):
            return "broken"
        return "open"

    def __str__(self) -> str:
        if self.most is None:
            return f"at least {self.least}"
        return f"at most {self.most}" if self.least is None else f"{self.least} to {self.most}"


@dataclass(frozen=True, slots=True)
class CycleRange:
    """A number of clock cycles between two bounds, both included; `most` None means unbounded (a wait)."""

    least: int
    most: int | None

    @classmethod
    def exactly(cls, cycles: int) -> CycleRange:
        """The range that holds one number."""
        return cls(cycles, cycles)

    def __add__(self, other: CycleRange) -> CycleRange:
        most = None if self.most is None or other.most is None else self.most + other.most
        return CycleRange(self.least + other.least, most)

    def widen(self, other: CycleRange) -> CycleRange:
        """The smallest range that holds both."""
        most = None if self.most is None or other.most is None else max(self.most, other.most)
        return CycleRange(min(self.least, other.least), most)

    def __str__(self) -> str:
        if self.most is None:
            return f"{self.least} cycles or more"
        return f"{self.least} cycles" if self.least == self.most else f"{self.least} to {self.most} cycles"


@dataclass(frozen=True, slots=True)
class Clock:
    """A clock rate in hertz as an exact fraction, good to `tolerance_ppm` parts in a million either way."""

    hertz: Fraction
    tolerance_ppm: int = 0

    def __post_init__(self) -> None:
        if self.hertz <= 0:
            raise ValueError(f"a clock rate is above zero, not {self.hertz} Hz")
        if not 0 <= self.tolerance_ppm < 10**6:
            raise ValueError(f"a clock's tolerance is 0 to 999999 ppm, not {self.tolerance_ppm!r}")

    @classmethod
    def of(cls, *, hz: int | str | Fraction = 0, mhz: int | str | Fraction = 0, tolerance_ppm: int = 0) -> Clock:
        """A rate from hertz or megahertz (their sum).  Refuses a float."""
        if isinstance(hz, float) or isinstance(mhz, float):
            raise TypeError("a clock rate is never a float")
        return cls(Fraction(hz) + Fraction(mhz) * 10**6, tolerance_ppm)

    @classmethod
    def parse(cls, text: str, tolerance_ppm: int = 0) -> Clock:
        """Read ``1.0 MHz`` or a crystal divided, ``14.31818/14 MHz``.  Units: Hz, kHz, MHz.  Refuses anything else."""
        match = _CLOCK_TEXT.fullmatch(text)
        if match is None:
            raise ValueError(f"a clock rate is a number and one of Hz, kHz, MHz, not {text!r}")
        number, divisor, unit = match.groups()
        if divisor is not None and int(divisor) == 0:
            raise ValueError(f"a clock rate is divided by 1 or more, not {text!r}")
        return cls(Fraction(number) / int(divisor or 1) * {"Hz": 1, "kHz": 10**3, "MHz": 10**6}[unit], tolerance_ppm)

    def span(self, cycles: CycleRange) -> SpanRange:
        """The time of so many cycles; rounded outwards to whole picoseconds.  Refuses an unbounded number."""
        if cycles.most is None:
            raise ValueError("an unbounded number of cycles has no most time")
        slow = self.hertz * (10**6 - self.tolerance_ppm) / 10**6
        fast = self.hertz * (10**6 + self.tolerance_ppm) / 10**6
        least = cycles.least * 10**12 / fast
        most = cycles.most * 10**12 / slow
        return SpanRange(Span(least.__floor__()), Span(most.__ceil__()))

    def __str__(self) -> str:
        size, unit = (self.hertz / 10**6, "MHz") if self.hertz >= 10**6 else (self.hertz, "Hz")
        return f"{_exact_text(size)} {unit}" + (f" ±{self.tolerance_ppm} ppm" if self.tolerance_ppm else "")
