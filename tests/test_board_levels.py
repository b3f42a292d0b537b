"""Levels, currents and fan-out against the figures of the data sheets that the table names.

Every figure here was read in the document that stands beside it, not taken from the table.
"""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from latchlore.base import UnknownName
from latchlore.board import electrical_of, get_electrical, iter_types
from latchlore.board import levelfacts as facts
from latchlore.board._electrical import Level, Point, fan_out, high_point, low_point, margins, pull_up_range

# (type, supply, VIL, VIH, [(VOL, IOL)], [(VOH, IOH)], IIL, IIH) in volts and milliamperes, as printed
SHEETS = [
    # Fairchild DS006613 (DM7400), rev. July 2001
    ("7400", 5.0, 0.8, 2.0, [(0.4, 16)], [(2.4, 0.4)], 1.6, 0.040),
    # Texas Instruments SDLS025B (SN74LS00), rev. October 2003
    ("74LS00", 5.0, 0.8, 2.0, [(0.4, 4), (0.5, 8)], [(2.7, 0.4)], 0.4, 0.020),
    # Fairchild DM74LS244; Texas Instruments SDLS144B
    ("74LS244", 5.0, 0.8, 2.0, [(0.4, 12), (0.5, 24)], [(2.7, 1), (2.4, 3), (2.0, 15)], 0.2, 0.020),
    # Texas Instruments SCHS202D (CD74HC4024) at 4.5 V and at 6 V
    ("74HC4024", 4.5, 1.35, 3.15, [], [(4.4, 0.020)], None, None),
    ("74HC4024", 6.0, 1.8, 4.2, [], [(5.9, 0.020)], None, None),
    # Texas Instruments / Harris CD74HCT147, 4.5 V to 5.5 V, to 85 degrees
    ("74HCT147", 4.5, 0.8, 2.0, [(0.33, 4)], [(4.4, 0.020), (3.84, 4)], 0.001, 0.001),
]


def _milli(volts: float) -> Fraction:
    return Fraction(str(volts)) * 1000


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: f"{sheet[0]} at {sheet[1]} V")
def test_sheets(
    sheet: tuple[str, float, float, float, list[tuple[float, float]], list[tuple[float, float]], object, object],
) -> None:
    """Levels and currents of a type are those of its sheet."""
    name, supply, vil, vih, low, high, iil, iih = sheet
    found = electrical_of(name)
    assert found is not None
    at = int(_milli(supply))
    assert found.vil is not None
    assert found.vih is not None
    assert found.vil.at(at) == _milli(vil)
    assert found.vih.at(at) == _milli(vih)
    lows = {(point.level.at(at), point.microamps) for point in found.low}
    highs = {(point.level.at(at), point.microamps) for point in found.high}
    assert {(_milli(volts), _milli(amps)) for volts, amps in low} <= lows
    assert {(_milli(volts), _milli(amps)) for volts, amps in high} <= highs
    for mine, printed in ((found.iil, iil), (found.iih, iih)):
        assert printed is None or mine == _milli(printed)  # type: ignore[arg-type]  # a number where it is not None
    assert "from memory" not in (found.source("vil"), found.source("vih"))


def test_sheets_wrong() -> None:
    """A family without a row is refused with those that there are."""
    assert electrical_of("74xy00") is None
    with pytest.raises(UnknownName, match=r"^no levels are known for '74xy00'; known are '74', '74AC', '74ACT', "):
        get_electrical("74xy00")


@pytest.mark.parametrize(
    ("name", "vol_load", "voh_load", "iil_load", "iih_load"),
    [
        ("74LS138", "5", "10", "0.25", "0.5"),  # Motorola, FAST and LS TTL Data, p. 5-1
        ("74LS374", "15", "65", "0.25", "0.5"),  # the same, p. 5-521
    ],
)
def test_unit_loads(name: str, vol_load: str, voh_load: str, iil_load: str, iih_load: str) -> None:
    """One unit load is 40 uA high and 1.6 mA low (Motorola, p. 5-1); outputs and inputs as printed in unit loads."""
    found = get_electrical(name)
    assert found.low[-1].microamps == Fraction(vol_load) * 1600
    assert found.high[-1].microamps == Fraction(voh_load) * 40
    assert found.iil == Fraction(iil_load) * 1600
    assert found.iih == Fraction(iih_load) * 40


def test_374_second_source() -> None:
    """The data latch of the PC adapter of 1981 gives 2.6 mA and sinks 24 mA (published description of that port)."""
    found = get_electrical("sn74ls374n")
    assert (found.high[-1].microamps, found.low[-1].microamps) == (2600, 24_000)


@pytest.mark.parametrize(
    ("driver", "load", "supply", "low", "high"),
    [
        ("7400", "7400", 5000, 400, 400),  # DS006613: 0.8 - 0.4, 2.4 - 2.0
        ("74LS00", "74LS00", 5000, 300, 700),  # SDLS025B: 0.8 - 0.5, 2.7 - 2.0
        ("74LS00", "74HC244", 4500, 850, -450),  # SDLS025B, SCHS202D: 1.35 - 0.5, 2.7 - 3.15: not guaranteed
        ("74LS00", "74HCT138", 4500, 300, 700),  # SDLS025B, JAJSO80F: as among LS, fine
    ],
)
def test_margins(driver: str, load: str, supply: int, low: int, high: int) -> None:
    """Noise margins follow from the sheets' figures."""
    found = margins(get_electrical(driver), get_electrical(load), supply)
    assert found is not None
    assert list(found) == [Fraction(low), Fraction(high)]


def test_margins_wrong() -> None:
    """Where a level is not known there is no margin, and none is made up."""
    from dataclasses import replace

    bare = replace(get_electrical("ls"), vih=None)
    assert margins(get_electrical("ls"), bare, 5000) is None
    assert margins(replace(get_electrical("ls"), low=()), get_electrical("ls"), 5000) is None


@pytest.mark.parametrize(
    ("driver", "load", "low", "high"),
    [
        ("7400", "7400", 10, 10),  # 16 / 1.6, 0.4 / 0.040
        ("74LS00", "74LS00", 20, 20),  # 8 / 0.4, 0.4 / 0.020
        ("74LS00", "7400", 5, 10),  # 8 / 1.6, 0.4 / 0.040
        ("7400", "74LS00", 40, 20),  # 16 / 0.4, 0.4 / 0.020
    ],
)
def test_fan_out(driver: str, load: str, low: int, high: int) -> None:
    """Fan-out is current over current (DS006613, SDLS025B)."""
    assert fan_out(get_electrical(driver), get_electrical(load), 5000) == (low, high)


def test_fan_out_wrong() -> None:
    """Levels that the input is not sure to understand drive none, however much current there is."""
    assert fan_out(get_electrical("74LS00"), get_electrical("74HC00"), 4500) == (8000, 0)


def test_points() -> None:
    """An LS244 gives 2.7 V at 1 mA, 2.4 V at 3 mA, 2.0 V at 15 mA (DM74LS244), and no more."""
    buffer = get_electrical("74LS244")
    steps = [high_point(buffer, Fraction(amps)) for amps in (1000, 1001, 3000, 3001, 15_000, 15_001)]
    assert [point and point.level.millivolts for point in steps] == [2700, 2400, 2400, 2000, 2000, None]
    assert low_point(buffer, Fraction(12_000)) == Point(Level(400), 12_000)


def test_points_wrong() -> None:
    """Beyond the guaranteed current there is no guaranteed level."""
    assert low_point(get_electrical("74LS244"), Fraction(24_001)) is None


def test_pull_up_range() -> None:
    """One 7405-like collector and one 74 input at 5 V, by the data books' rule with the figures of DS006613.

    Least: (5.0 - 0.4) V / (16 - 1.6) mA = 319 ohm; most: (5.0 - 2.0) V / (0.25 + 0.04) mA = 10.3 kohm.  The leak
    of 0.25 mA is from memory.
    """
    found = pull_up_range(get_electrical("7405"), get_electrical("7400"), 5000)
    assert found is not None
    assert (round(found.least), round(found.most)) == (319, 10345)


def test_pull_up_range_wrong() -> None:
    """A collector that the inputs alone overload has no pull-up that serves."""
    assert pull_up_range(get_electrical("7405"), get_electrical("7400"), 5000, loads=10) is None


def test_every_family() -> None:
    """Every family that the catalogue reads has levels, but the one-off rows of types without outputs of their own."""
    for family in ("", "L", "H", "S", "LS", "AS", "ALS", "F", "C", "HC", "HCT", "AC", "ACT"):
        found = electrical_of(f"74{family}00")
        assert found is not None, family
        assert None not in (found.vil, found.vih, found.iil, found.iih, found.technology), family
        assert found.low, family
        assert found.high, family


def test_rows_say_where_they_come_from() -> None:
    """Every row names a document or says *from memory*; points rise in current and fall in quality."""
    for row in facts.LEVELS:
        assert row.source
        assert row.is_memory == (row.source == "from memory"), row.name
        for points in (row.low, row.high):
            currents = [point.microamps for point in points]
            assert currents == sorted(set(currents)), row.name
        assert [p.level.at(5000) for p in row.low] == sorted(p.level.at(5000) for p in row.low)
        assert [p.level.at(5000) for p in row.high] == sorted((p.level.at(5000) for p in row.high), reverse=True)


def test_port_chips() -> None:
    """A port chip's bus side is not its ports: a 6821's port A pulls 2.4 mA low, its data lines next to nothing.

    The figures are from memory; that the two sides differ is what any sheet of the part shows.
    """
    ports, bus = electrical_of("6821", None, "PA0"), electrical_of("6821", None, "D0")
    assert ports is not None
    assert bus is not None
    assert (ports.iil or 0) > 100 * (bus.iil or 0)
    assert all(electrical_of(name) for name in ("6551", "6850", "8250", "8251", "8255", "6522", "6532", "8212"))


def test_every_part_of_the_catalogue() -> None:
    """A bare type such as 74138 has the levels of plain 74."""
    bare = [part for part in iter_types() if re.fullmatch(r"74\d+", part.name)]
    assert len(bare) > 100
    assert all(electrical_of(part.name) for part in bare)
