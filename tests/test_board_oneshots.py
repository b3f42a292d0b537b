"""Pulse widths of one-shots from the nets: the published checks, makers' spreads, values as they are printed."""

from __future__ import annotations

from fractions import Fraction

import pytest

from latchlore.base import Span, SubjectKind
from latchlore.board import OneShot, decode, find_one_shots, parse_board, parse_value
from latchlore.board import testify as say

HEAD = "host z80\n"
PINS = {"74121": ("11", "10"), "74122": ("13", "11"), "74123": ("15", "14")}


def single(marking: str, ohms: str, farads: str, number: str) -> OneShot:
    """A one-shot with one resistor to the supply and one capacitor."""
    rc, cap = PINS[number]
    text = (
        f"{HEAD}part u1 {marking}\npart r1 resistor {ohms}\npart c1 capacitor {farads}\n"
        f"net rc u1.{rc} r1.1 c1.1\nnet cap u1.{cap} c1.2\ntie high r1.2\n"
    )
    return find_one_shots(parse_board(text, "x.nets"))[0]


def ms(text: str) -> Span:
    """Milliseconds."""
    return Span.of(ms=text)


@pytest.mark.parametrize(
    ("ohms", "farads", "least", "most"),
    [
        # derived from 0.7 RC and ln 2 RC (TI product page and Signetics' text); a textbook prints 91 ms for the first
        ("39k", "3.3uF", "89", "90.1"),
        ("49k", "0.2u", "6.79", "6.87"),
    ],
)
def test_74121(ohms: str, farads: str, least: str, most: str) -> None:
    """About 0.7 RC: the formula's own range, inside the band of the part's limits."""
    one = single("sn74121n", ohms, farads, "74121")
    (rule,) = one.rules
    assert ms(least) <= rule.formula.least <= rule.formula.most <= ms(most)
    assert one.band is not None
    assert one.band.least < rule.formula.least < rule.formula.most < one.band.most
    outside = "the resistor is outside the sheet's 2 to 40 kohm"
    assert (outside in one.notes) == (ohms == "49k")


def test_74123() -> None:
    """10 k, 1000 pF, K 0.28: 2996 ns (SDLS043's formula)."""
    one = single("74123", "10k", "1000p", "74123")
    assert one.rules[0].formula.least == Span.of(ns=2996)
    assert one.name == "u1 section 1"
    assert one.dead is None


@pytest.mark.parametrize(
    ("marking", "formulas"),
    [
        ("74ls123", [4500, 3700]),
        ("sn74ls123n", [4500]),
        ("dm74ls123n", [3700]),
        ("74ls123 ", [4500, 3700]),
    ],
)
def test_makers(marking: str, formulas: list[int]) -> None:
    """An 'LS123 with 10 k and 1000 pF: 4500 or 3700 ns by maker, a spread of 1.22; no maker named, both."""
    one = single(marking, "10k", "1n", "74123")
    assert [rule.formula.least for rule in one.rules] == [Span.of(ns=t) for t in formulas]
    assert one.band is not None
    assert one.band.least <= min(Span.of(ns=t) for t in formulas)
    assert one.band.most >= max(Span.of(ns=t) for t in formulas)
    # SDLA006A: a second trigger sooner than 0.22 ns per pF is ignored
    assert one.dead == Span.of(ns=220)


def test_family_decides() -> None:
    """The TTL formula is not put on an 'LS122, as a textbook does; large capacitors have a constant of their own."""
    ttl, ls = single("74122", "10k", "10n", "74122"), single("sn74ls122", "10k", "10n", "74122")
    assert ttl.rules[0].formula.least == Span.of(ns=34_240)
    assert ls.rules[0].formula.least == Span.of(us=45)
    assert single("sn74ls122", "10k", "2.2u", "74122").rules[0].formula.least == Span.of(us=7260)
    assert single("74hc123", "10k", "100n", "74123").rules[0].formula.most == Span.of(us=550)
    assert single("74hc123", "10k", "100n", "74123").rules[0].formula.least == Span.of(us=480)


def test_tolerances() -> None:
    """Stated tolerances of resistor and capacitor widen the band; without them the values count as they are."""
    plain, wide = single("74123", "10k", "1n", "74123"), single("74123", "10k 5%", "1n 20%", "74123")
    assert plain.band is not None
    assert wide.band is not None
    assert plain.rules[0].formula == wide.rules[0].formula
    ratio = Fraction(wide.band.most.picoseconds, plain.band.most.picoseconds)
    # (1 + 0.7/R) falls as R grows, so the band grows by a little less than 1.05 x 1.2
    assert Fraction(125, 100) < ratio < Fraction(126, 100)


def test_inner_resistor() -> None:
    """RINT at the supply: 2 k of the 74121 (from memory), 10 k of the '122 (SDLS043), and no capacitor at all."""
    text = f"{HEAD}part u1 74122\npart c1 capacitor 1n\nnet rc u1.13 c1.1\nnet cap u1.11 c1.2\ntie high u1.9\n"
    (one,) = find_one_shots(parse_board(text, "x.nets"))
    assert one.rules[0].formula.least == Span.of(ns=3424)
    bare = f"{HEAD}part u1 74121\ntie high u1.9\nopen u1.10 u1.11\n"
    (one,) = find_one_shots(parse_board(bare, "x.nets"))
    assert str(one.band) == "30 ns to 35 ns"


def test_chain() -> None:
    """Resistors in series and capacitors side by side add up."""
    text = (
        f"{HEAD}part u1 74123\npart r1 resistor 4k7\npart r2 resistor 5k3\npart c1 capacitor 400p\n"
        "part c2 capacitor 600p\nnet rc u1.15 r1.1 c1.1 c2.1\nnet mid r1.2 r2.1\nnet cap u1.14 c1.2 c2.2\n"
        "tie high r2.2\n"
    )
    assert find_one_shots(parse_board(text, "x.nets"))[0].rules[0].formula.least == Span.of(ns=2996)


@pytest.mark.parametrize(
    ("lines", "note"),
    [
        ("part c1 capacitor 1n\nnet rc u1.15 c1.1\nnet cap u1.14 c1.2\n", "no resistor to the supply is traced"),
        ("part r1 resistor 10k\nnet rc u1.15 r1.1\ntie high r1.2\n", "no capacitor is traced"),
        (
            "part r1 resistor brown\npart c1 capacitor 1n\nnet rc u1.15 r1.1 c1.1\nnet cap u1.14 c1.2\ntie high r1.2\n",
            "the value of r1 is not known: 'brown'",
        ),
        (
            "part r1 resistor 10k\npart c1 capacitor 47p\nnet rc u1.15 r1.1 c1.1\nnet cap u1.14 c1.2\ntie high r1.2\n",
            "no rule is known for a 74123 with 47 pF",
        ),
    ],
)
def test_not_known(lines: str, note: str) -> None:
    """What is missing is said, and no time is made up."""
    (one,) = find_one_shots(parse_board(f"{HEAD}part u1 74123\n{lines}", "x.nets"))
    assert one.band is None
    assert note in one.notes


def test_testimony() -> None:
    """The board says the band as a time, with each sheet's own figure in the note."""
    board = parse_board(
        f"{HEAD}part u1 74ls123\npart r1 resistor 10k\npart c1 capacitor 1n\n"
        "net rc u1.15 r1.1 c1.1\nnet cap u1.14 c1.2\ntie high r1.2\n",
        "x.nets",
    )
    (said,) = [t for t in say(board, decode(board)) if t.subject.kind is SubjectKind.TIMING]
    assert str(said.subject) == "pulse of u1 section 1"
    # 6/7 of 3.7 us, rounded down to a picosecond, to 10/9 of 4.5 us
    assert str(said.value) == "3.171428 us to 5 us"
    assert "4.5 us by 0.45 RC" in said.note
    assert "3.7 us by 0.37 RC" in said.note


@pytest.mark.parametrize(
    ("text", "small", "value"),
    [
        ("10k", False, Fraction(10_000)),
        ("4k7", False, Fraction(4700)),
        ("4.7 kohm", False, Fraction(4700)),
        ("220", False, Fraction(220)),
        ("1M", False, Fraction(1_000_000)),
        ("2r2", False, Fraction(22, 10)),
        ("3.3uF", True, Fraction(33, 10**7)),
        ("1000p", True, Fraction(1, 10**9)),
        ("2n2", True, Fraction(22, 10**10)),
        ("330", True, Fraction(330, 10**12)),
        ("0,1u 10%", True, Fraction(1, 10**7)),
    ],
)
def test_parse_value(text: str, small: bool, value: Fraction) -> None:
    """Values as they are printed on parts and in parts lists (IEC 60062's letter for the point)."""
    found = parse_value(text, small=small)
    assert found is not None
    assert found.nominal == value


@pytest.mark.parametrize(
    ("text", "small"), [("", False), ("brown", False), ("10p", False), ("10k", True), ("4.7k7", False), ("0", False)]
)
def test_parse_value_wrong(text: str, small: bool) -> None:
    """What is no value of that kind of part gives none."""
    assert parse_value(text, small=small) is None
