"""The notation of byte patterns."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.device._counts import parse_count
from latchlore.device._patterns import Counted, OneByte, Until, parse_pattern, parse_set, readings, set_text


@pytest.mark.parametrize(
    ("text", "code", "names", "data"),
    [
        ("1B 4B n data*n", "1B 4B", ("n",), ("data",)),
        ("1B 'K' n.lo n.hi data*n", "1B 4B", ("n",), ("data",)),
        ("20..7E", "20..7E", (), ()),
        ("%1000aabb", "80..8F", ("a", "b"), ()),
        ("1B '[' n# 'm'", "1B 5B", ("n",), ()),
        ("02 text->03|04", "02", (), ("text",)),
        ("' ' n=00..3F", "20", ("n",), ()),
        ("1F 64 w h data*(w*h+1)", "1F 64", ("w", "h"), ("data",)),
    ],
)
def test_parse_pattern(text: str, code: str, names: tuple[str, ...], data: tuple[str, ...]) -> None:
    """A pattern gives its fixed code, its parameters and its data."""
    pattern = parse_pattern(text)
    assert (pattern.code, pattern.names, pattern.data_names) == (code, names, data)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "a pattern has at least one part"),
        ("1b", "part '1b' is not understood; a byte is two upper-case hexadecimal digits"),
        ("1B n*n", "count of 'n' refers to itself"),
        ("1B d*n n", "count of 'd' uses 'n', which is no number that stands before it"),
        ("1B n.lo d*n n.hi", "count of 'd' uses 'n', which is no number that stands before it"),
        ("1B a*3 d*a", "count of 'd' uses 'a', which is no number that stands before it"),
        ("1B n n", "name 'n' is used twice"),
        ("1B n.hi", "n.hi has no n.lo beside it"),
        ("n# 'm'", "a pattern begins with one byte, not with a number in digits or with data"),
        ("data*3", "a pattern begins with one byte, not with a number in digits or with data"),
        ("1B n# '5'", "behind the digits of 'n' comes one byte that is no digit"),
        ("1B n#", "behind the digits of 'n' comes one byte that is no digit"),
        ("7E..20", "range 7E..20 is empty"),
        ("1B n=", "'' is not a set of bytes such as 00..3F|80 or 'A'..'F'"),
        ("1B n?", "part 'n?' is not understood; after a name come =, *, ->, #, .lo or .hi"),
        ("1B d*(n+)", "count '(n+)' lacks an operand before ')'"),
        ("1B n d*(n", "count '(n' has a bracket that is not closed"),
        ("1B n d*(n/0)", "count '(n/0)' may divide by a number above zero only"),
        ("1B 4{8}", "a doubtful digit is written {8B} with two to eight readings, not '1B 4{8}'"),
        (" ".join(["00"] * 25), "a pattern has at most 24 parts outside its data; here are 25"),
    ],
)
def test_parse_pattern_wrong(text: str, words: str) -> None:
    """What is no pattern is refused with the part and the rule."""
    with pytest.raises(ValueError, match=f"^{re.escape(words)}$"):
        parse_pattern(text)


def test_readings_of_doubtful_digits() -> None:
    """Every reading of two doubtful digits, the transcriber's own first."""
    assert readings("1B {48}{1l}") == ("1B 41", "1B 4l", "1B 81", "1B 8l")
    pattern = parse_pattern("1B 4{8BO} n")
    assert (pattern.text, [other.text for other in pattern.others]) == ("1B 48 n", ["1B 4B n"])


def test_readings_wrong() -> None:
    """Too many readings are refused."""
    with pytest.raises(ValueError, match=r"^256 readings are more than 64 in '\{ABCD\}\{ABCD\}\{ABCD\}\{ABCD\}'$"):
        readings("{ABCD}" * 4)


def test_bit_fields() -> None:
    """Bits are gathered from the most significant down, also where they do not lie side by side."""
    part = parse_pattern("%1a0b-aab").parts[0]
    assert isinstance(part, OneByte)
    fields = {field.name: field.value(0b11011100) for field in part.fields}
    assert fields == {"a": 0b110, "b": 0b10}
    assert len(part.values) == 64


@given(st.frozensets(st.integers(0, 255), min_size=1))
def test_set_text_round_trip(values: frozenset[int]) -> None:
    """A set written as text reads back the same."""
    assert parse_set(set_text(values)) == values


_expressions = st.recursive(
    st.integers(0, 99).map(str) | st.sampled_from(["n", "m"]),
    lambda inner: (
        st.tuples(inner, st.sampled_from("+-*"), inner).map(lambda t: f"({t[0]}{t[1]}{t[2]})")
        | st.tuples(inner, st.integers(1, 9)).map(lambda t: f"({t[0]}/{t[1]})")
    ),
    max_leaves=8,
)


@given(_expressions, st.integers(0, 255), st.integers(0, 255))
def test_count_value(text: str, n: int, m: int) -> None:
    """A count has the value that Python gives the same expression with whole-number division."""
    wanted = eval(text.replace("/", "//"), {"n": n, "m": m})
    assert parse_count(text).value({"n": n, "m": m}) == wanted


def test_parts_of_data() -> None:
    """Counted and terminated data keep their count and their stops."""
    counted, until = parse_pattern("1B n a*(2*n+1) b->0D|0A").parts[2:]
    assert isinstance(counted, Counted)
    assert isinstance(until, Until)
    assert (counted.count.value({"n": 3}), until.stops) == (7, frozenset({0x0D, 0x0A}))
