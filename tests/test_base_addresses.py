"""Address sets against sets of numbers, against decision diagrams (dd) and against a solver (z3)."""

from __future__ import annotations

from typing import Any

import pytest
import z3
from dd import autoref
from hypothesis import given, settings
from hypothesis import strategies as st

from latchlore.base import AddressSet, Cube

WIDTH = 6
FULL = (1 << WIDTH) - 1

cubes_of_6 = st.lists(st.tuples(st.integers(0, FULL), st.integers(0, FULL)), max_size=6)
cubes_of_16 = st.lists(st.tuples(st.integers(0, 0xFFFF), st.integers(0, 0xFFFF)), max_size=5)
members = st.frozensets(st.integers(0, FULL))


def brute(cubes: list[Cube], width: int = WIDTH) -> set[int]:
    """The union of cubes, address by address, from the definition in words: every line that matters agrees."""
    found = set()
    for address in range(1 << width):
        for care, value in cubes:
            if all(address >> k & 1 == value >> k & 1 for k in range(width) if care >> k & 1):
                found.add(address)
    return found


def held(addresses: AddressSet) -> set[int]:
    """The members found by asking for each address."""
    return {address for address in range(1 << addresses.width) if address in addresses}


@given(cubes_of_6)
def test_of_cubes(cubes: list[Cube]) -> None:
    """The union of overlapping cubes holds what the definition says; counts and lowest agree with plain sets."""
    ours, wanted = AddressSet.of_cubes(cubes, WIDTH), brute(cubes)
    assert held(ours) == wanted
    assert ours.count == len(wanted)
    assert sorted(ours.iter_addresses()) == sorted(wanted)  # each once: the cubes are disjoint
    assert bool(ours) == bool(wanted)
    if wanted:
        assert ours.lowest == min(wanted)


@given(cubes_of_6, cubes_of_6)
def test_operations(first: list[Cube], second: list[Cube]) -> None:
    """Union, intersection, difference, complement, containment and disjointness are those of plain sets."""
    a, b = AddressSet.of_cubes(first, WIDTH), AddressSet.of_cubes(second, WIDTH)
    x, y = brute(first), brute(second)
    assert held(a | b) == x | y
    assert held(a & b) == x & y
    assert held(a - b) == x - y
    assert held(~a) == set(range(FULL + 1)) - x
    assert (a <= b) == (x <= y)
    assert a.is_disjoint(b) == x.isdisjoint(y)


@given(members)
def test_canonical(wanted: frozenset[int]) -> None:
    """Equal sets have equal cubes, however they were built, and equal text, which reads back."""
    ways = [
        AddressSet.of(wanted, WIDTH),
        AddressSet.of(sorted(wanted, reverse=True), WIDTH),
        AddressSet.from_table(sum(1 << address for address in wanted), WIDTH),
        ~AddressSet.of(set(range(FULL + 1)) - wanted, WIDTH),
        AddressSet.of(wanted, WIDTH) | AddressSet.of(sorted(wanted)[:3], WIDTH),
    ]
    assert len(set(ways)) == 1
    assert {AddressSet.parse(str(way)) for way in ways} == {ways[0]}


@given(st.integers(0, FULL), st.integers(0, FULL))
def test_of_range(one: int, other: int) -> None:
    """A range holds both ends and all between."""
    first, last = sorted((one, other))
    assert held(AddressSet.of_range(first, last, WIDTH)) == set(range(first, last + 1))


@given(members)
def test_free_lines(wanted: frozenset[int]) -> None:
    """A free line is one whose change never leads in or out of the set, given that some line is looked at."""
    ours = AddressSet.of(wanted, WIDTH)
    expected = tuple(k for k in range(WIDTH) if all((a ^ 1 << k) in wanted for a in wanted))
    assert ours.free_lines == expected


def _diagram(manager: Any, cubes: list[Cube]) -> Any:
    found = manager.false
    for care, value in cubes:
        found |= manager.cube({f"a{k}": bool(value >> k & 1) for k in range(16) if care >> k & 1})
    return found


@settings(max_examples=60, deadline=None)
@given(cubes_of_16, cubes_of_16)
def test_operations_by_diagrams(first: list[Cube], second: list[Cube]) -> None:
    """Over 16 lines, results equal reduced ordered decision diagrams built by dd, and so do the counts."""
    manager = autoref.BDD()
    manager.declare(*(f"a{k}" for k in range(16)))
    a, b = AddressSet.of_cubes(first, 16), AddressSet.of_cubes(second, 16)
    x, y = _diagram(manager, first), _diagram(manager, second)
    for ours, theirs in ((a | b, x | y), (a & b, x & y), (a - b, x & ~y), (~a, ~x)):
        assert _diagram(manager, list(ours.cubes)) == theirs
        assert ours.count == manager.count(theirs, 16)


def _formula(address: z3.BitVecRef, cubes: list[Cube]) -> z3.BoolRef:
    return z3.Or(z3.BoolVal(False), *((address & care) == (value & care) for care, value in cubes))


@settings(max_examples=25, deadline=None)
@given(cubes_of_16, cubes_of_16)
def test_operations_by_solver(first: list[Cube], second: list[Cube]) -> None:
    """No address of 16 lines tells our results from the formulas of the operations (z3 finds none)."""
    address = z3.BitVec("address", 16)
    a, b = AddressSet.of_cubes(first, 16), AddressSet.of_cubes(second, 16)
    x, y = _formula(address, first), _formula(address, second)
    for ours, theirs in ((a | b, z3.Or(x, y)), (a & b, z3.And(x, y)), (a - b, z3.And(x, z3.Not(y))), (~a, z3.Not(x))):
        solver = z3.Solver()
        solver.add(_formula(address, list(ours.cubes)) != theirs)
        assert solver.check() == z3.unsat
        pairs = [(c, d) for i, c in enumerate(ours.cubes) for d in ours.cubes[:i]]
        assert all((c[1] ^ d[1]) & c[0] & d[0] for c, d in pairs)  # disjoint


def test_text() -> None:
    """Bench case: decode with mirrors.  The select of 4096 addresses, its registers of 1024 mirrors, and their text."""
    select = AddressSet.of_range(0xC800, 0xCFFF) | AddressSet.of_range(0xD800, 0xDFFF)
    assert str(select) == "110x 1xxx xxxx xxxx"
    assert select.count == 4096
    status = select & AddressSet.parse("xxxx xxxx xxxx xx01")
    assert str(status) == "110x 1xxx xxxx xx01"
    assert (status.count, status.lowest) == (1024, 0xC801)
    assert status.free_lines == (2, 3, 4, 5, 6, 7, 8, 9, 10, 12)
    assert str(AddressSet.of((), 16)) == "none of 16"
    assert str(AddressSet.of((0, 3), 2)) == "00 | 11"
    assert str(AddressSet.of((5,), 10)) == "00 0000 0101"  # a short group comes first


def test_parse() -> None:
    """Spaces are free, capital X is x, several patterns may overlap."""
    assert AddressSet.parse("1X x0 | 1100") == AddressSet.of((8, 10, 12, 14), 4)
    assert AddressSet.parse("none of 4") == AddressSet.of((), 4)


def test_published_ports() -> None:
    """Bench case: the published port list is too long.  A2 = 0 and A0 = A1 = A3 = A6 = A7 = 1 leave four ports."""
    card = AddressSet.parse("xxxx x0xx")
    qualifier = AddressSet.parse("11xx 1x11")
    claimed = AddressSet.of((203, 207, 219, 223, 235, 239, 251, 255), 8)
    assert sorted((card & qualifier).iter_addresses()) == [0xCB, 0xDB, 0xEB, 0xFB]
    assert sorted((claimed - (card & qualifier)).iter_addresses()) == [207, 223, 239, 255]
    assert card.count == 128
    assert 80 in card


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("10a1", "^an address pattern consists of 0, 1 and x, not '10a1'$"),
        ("", "^an address pattern consists of 0, 1 and x, not ''$"),
        ("1x | ", "^an address pattern consists of 0, 1 and x, not ''$"),
        ("10 | 100", r"^address patterns of one set have one width, not \[2, 3\]$"),
        ("none of 40", "^an address has 1 to 32 lines, not 40$"),
    ],
)
def test_parse_wrong(text: str, message: str) -> None:
    """A pattern that is none is refused with the pattern."""
    with pytest.raises(ValueError, match=message):
        AddressSet.parse(text)


def test_build_wrong() -> None:
    """Addresses past the width, ranges upside down and tables too long are refused."""
    with pytest.raises(ValueError, match=r"^cube \(1Fh, 10h\) reaches past 4 lines$"):
        AddressSet.of((16,), 4)
    with pytest.raises(ValueError, match=r"^an address range lies within 0 to Fh, not 3h to 2h$"):
        AddressSet.of_range(3, 2, 4)
    with pytest.raises(ValueError, match=r"^an address range lies within 0 to Fh, not 0h to 10h$"):
        AddressSet.of_range(0, 16, 4)
    with pytest.raises(ValueError, match=r"^a table for 2 lines has 4 bits$"):
        AddressSet.from_table(16, 2)
    with pytest.raises(ValueError, match=r"^an address has 1 to 32 lines, not 0$"):
        AddressSet.of_cubes((), 0)


def test_combine_wrong() -> None:
    """Sets of different widths are not combined, and an empty set has no lowest address."""
    four, five = AddressSet.of((1,), 4), AddressSet.of((1,), 5)
    for combine in (lambda: four | five, lambda: four & five, lambda: four - five, lambda: four <= five):
        with pytest.raises(ValueError, match=r"^address sets of 4 and 5 lines cannot be combined$"):
            combine()
    with pytest.raises(ValueError, match=r"^an empty set has no lowest address$"):
        _ = AddressSet.of((), 4).lowest
