"""Pulse widths of one-shots: formulas, constants and limits by type, family and maker.

Time in picoseconds = K x R (ohms) x C (picofarads) x (1 + A / R in kilohms).  Constants differ by maker and by part, so
that every row carries what its sheet says and a band, never one number.

Sources: S33 TI product page and Signetics data sheet text (74121); S34 TI SDLS043 abstract ('122, '123); S35 TI
SDLA006A abstract (retriggering of the 'LS123); S36 a textbook, example 7-12; S37 Philips 74HC/HCT123 product
specification of 8 July 1998, page 9; S38 Motorola FAST and LS TTL Data, page 5-197, located only; S39 Fairchild and
National DS006386, located only; S40 a list of 74L121 and 74L122.  The rest is from memory of the named sheets and says
so in its row.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple


class WidthRow(NamedTuple):
    """One sheet's rule.

    `types`, `family` and `makers` (prefix letters; empty: any) choose it.  `k_low` to `k_high`: constants that the
    sheet gives or allows; `a`: the term with R in kilohms; `spread`: least and most of a part against the rule, where
    the sheet limits it.  The rule holds from `c_from` on and below `c_below`, in picofarads (0: no bound).
    """

    types: tuple[str, ...]
    family: str
    makers: tuple[str, ...]
    k_low: Fraction
    k_high: Fraction
    a: Fraction
    spread: tuple[Fraction, Fraction] | None
    c_from: int
    c_below: int
    source: str


LN2 = Fraction(6931, 10_000)
_NO_A, _A = Fraction(0), Fraction(7, 10)

WIDTHS: tuple[WidthRow, ...] = (
    WidthRow(
        ("74121",),
        "",
        (),
        LN2,
        Fraction(7, 10),
        _NO_A,
        (Fraction(6, 7), Fraction(8, 7)),
        10,
        10_000_001,
        "0.69 to 0.7 RC [TI SDLS042 from memory; S33]; limits 600 to 800 ns at 10 kohm, 100 pF from memory",
    ),
    WidthRow(
        ("74122",),
        "",
        (),
        Fraction(32, 100),
        Fraction(32, 100),
        _A,
        (Fraction(308, 342), Fraction(376, 342)),
        1000,
        0,
        "0.32 RC (1 + 0.7/R) [TI SDLS043 from memory; S34]; limits 3.08 to 3.76 us at 10 kohm, 1000 pF from memory",
    ),
    WidthRow(
        ("74123",),
        "",
        (),
        Fraction(28, 100),
        Fraction(28, 100),
        _A,
        (Fraction(276, 303), Fraction(337, 303)),
        1000,
        0,
        "0.28 RC (1 + 0.7/R) [TI SDLS043 from memory; S34]; limits 2.76 to 3.37 us at 10 kohm, 1000 pF from memory",
    ),
    WidthRow(
        ("74122", "74123"),
        "LS",
        ("SN", "MC"),
        Fraction(45, 100),
        Fraction(45, 100),
        _NO_A,
        (Fraction(8, 9), Fraction(10, 9)),
        1000,
        1_000_000,
        "0.45 RC above 1000 pF [S38 and TI's curve from memory]; limits 4 to 5 us at 10 kohm, 1000 pF from memory",
    ),
    WidthRow(
        ("74122", "74123"),
        "LS",
        ("SN", "MC"),
        Fraction(33, 100),
        Fraction(33, 100),
        _NO_A,
        None,
        1_000_000,
        0,
        "0.33 RC from 1 uF on [S38 from memory]",
    ),
    WidthRow(
        ("74123",),
        "LS",
        ("DM",),
        Fraction(37, 100),
        Fraction(37, 100),
        _NO_A,
        None,
        1000,
        0,
        "0.37 RC above 1000 pF [S39 from memory]",
    ),
    WidthRow(
        ("74123",),
        "HC",
        (),
        Fraction(48, 100),
        Fraction(55, 100),
        _NO_A,
        None,
        10_000,
        0,
        "K RC above 10 nF, K 0.55 at 5 V and 0.48 at 2 V [S37]",
    ),
    WidthRow(
        ("74123",),
        "HCT",
        (),
        Fraction(55, 100),
        Fraction(55, 100),
        _NO_A,
        None,
        10_000,
        0,
        "K RC above 10 nF, K 0.55 at 5 V [S37]",
    ),
)

SPREAD_UNKNOWN = (Fraction(6, 7), Fraction(8, 7))
"""Taken where a sheet's limits are not at hand: the widest of those that are."""

R_INSIDE: dict[tuple[str, str], tuple[int, str]] = {
    ("74121", ""): (2000, "2 kohm inside [from memory]"),
    ("74121", "L"): (4000, "4 kohm inside [S40]"),
    ("74122", ""): (10_000, "10 kohm inside, nominal [S34]"),
    ("74122", "LS"): (10_000, "10 kohm inside, nominal [S34]"),
    ("74122", "L"): (20_000, "20 kohm inside [S40]"),
}
"""Resistor at pin RINT by type and family, in ohms."""

R_LIMITS: dict[tuple[str, str], tuple[int, int]] = {("74121", ""): (2000, 40_000)}
"""Least and most resistor of a type and family, in ohms (S33)."""

BARE_74121_PS = (30_000, 35_000)
"""Pulse of a 74121 with its inner resistor and no capacitor, in picoseconds (S33)."""

RETRIGGER_LS123_PS = 220
"""An 'LS123 triggered again sooner than this many picoseconds per picofarad ignores it (S35)."""
