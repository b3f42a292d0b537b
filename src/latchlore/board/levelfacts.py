"""Levels and currents by family and type: limits, not typicals, each row with its document.

Rows without a document are set down from memory of the makers' data books and say so (`is_memory`); they are the
usual limits over the commercial temperature range.  Later rows of one name fill in what earlier ones do not give.

    DS006613   Fairchild, DM7400 Quad 2-Input NAND Gates, DS006613, revised July 2001; 16 mA and 0.4 mA also DS006492
               (DM7402); read on scribd document 358430733
    SDLS025B   Texas Instruments, SN7400, SN74LS00, SN74S00, SDLS025B, December 1983, revised October 2003
    DM74LS244  Fairchild, DM74LS244 sheet; the same part Texas Instruments SDLS144B, April 1985, revised February 2002
    Motorola   Motorola, FAST and LS TTL Data, p. 5-1 (74LS138, and what a unit load is) and p. 5-521 (74LS374)
    SCHS202D   Texas Instruments, CD74HC4024, SCHS202D; alike SCHS167G ('244) and SCLS130H (SN74HC244)
    CD74HCT147 Texas Instruments / Harris, CD74HCT147 sheet; VIL and VIH also SN74HCT00 (JAJSNW4F) and SN74HCT138
               (JAJSO80F)
    S27        restatements of Intel's 8212 sheet (input load 0.25 mA, sinks 15 mA)
"""

from __future__ import annotations

import re
from fractions import Fraction

from latchlore.board._electrical import Level, LevelRow, Point, Technology

UNIT_LOAD_LOW = 1600
UNIT_LOAD_HIGH = 40
"""One TTL unit load in microamperes: 40 uA high, 1.6 mA low (Motorola, p. 5-1)."""

TTL_RAIL = 5000
"""The supply in millivolts of a board that states none: common practice of TTL boards."""

_BIPOLAR, _MOS = Technology.BIPOLAR, Technology.MOS
_TTL_5 = (4750, 5250)
_ALL = Fraction(1)


def _row(name: str, source: str, **figures: object) -> LevelRow:
    return LevelRow(name, source, **figures)  # type: ignore[arg-type]  # the fields of the record by name


def _mem(name: str, **figures: object) -> LevelRow:
    return LevelRow(name, "from memory", is_memory=True, **figures)  # type: ignore[arg-type]  # as above


def _v(millivolts: int) -> Level:
    return Level(millivolts)


def _below(millivolts: int) -> Level:
    """So much below the supply."""
    return Level(-millivolts, _ALL)


def _of(share: str) -> Level:
    """A share of the supply."""
    return Level(0, Fraction(share))


LEVELS: tuple[LevelRow, ...] = (
    # 74
    _row(
        "74",
        "Fairchild DS006613 (DM7400)",
        supply=_TTL_5,
        vil=_v(800),
        vih=_v(2000),
        low=(Point(_v(400), 16_000),),
        high=(Point(_v(2400), 400),),
        iil=1600,
        iih=40,
        technology=_BIPOLAR,
    ),
    _mem("74", leak=250, off_most=5500),
    _mem("7406", low=(Point(_v(400), 16_000), Point(_v(700), 40_000)), off_most=30_000),
    _mem("7407", low=(Point(_v(400), 16_000), Point(_v(700), 40_000)), off_most=30_000),
    _mem("7416", low=(Point(_v(400), 16_000), Point(_v(700), 40_000)), off_most=15_000),
    _mem("7417", low=(Point(_v(400), 16_000), Point(_v(700), 40_000)), off_most=15_000),
    _mem("7426", off_most=15_000),
    _mem("7437", low=(Point(_v(400), 48_000),), high=(Point(_v(2400), 1200),)),
    _mem("7438", low=(Point(_v(400), 48_000),)),
    _mem("7440", low=(Point(_v(400), 48_000),), high=(Point(_v(2400), 1200),)),
    _mem("74125", high=(Point(_v(2400), 5200),), leak=40),
    _mem("74126", high=(Point(_v(2400), 5200),), leak=40),
    _mem("7414", vil=_v(600)),
    # 74L, 74H, 74S
    _mem(
        "74L",
        supply=_TTL_5,
        vil=_v(700),
        vih=_v(2000),
        low=(Point(_v(400), 3600),),
        high=(Point(_v(2400), 200),),
        iil=180,
        iih=10,
        leak=50,
        off_most=5500,
        technology=_BIPOLAR,
    ),
    _mem(
        "74H",
        supply=_TTL_5,
        vil=_v(800),
        vih=_v(2000),
        low=(Point(_v(400), 20_000),),
        high=(Point(_v(2400), 500),),
        iil=2000,
        iih=50,
        leak=250,
        off_most=5500,
        technology=_BIPOLAR,
    ),
    _mem(
        "74S",
        supply=_TTL_5,
        vil=_v(800),
        vih=_v(2000),
        low=(Point(_v(500), 20_000),),
        high=(Point(_v(2700), 1000),),
        iil=2000,
        iih=50,
        leak=250,
        off_most=5500,
        technology=_BIPOLAR,
    ),
    # 74LS
    _row(
        "74LS",
        "Texas Instruments SDLS025B (SN74LS00)",
        supply=_TTL_5,
        vil=_v(800),
        vih=_v(2000),
        low=(Point(_v(400), 4000), Point(_v(500), 8000)),
        high=(Point(_v(2700), 400),),
        iil=400,
        iih=20,
        technology=_BIPOLAR,
    ),
    _mem("74LS", leak=100, off_most=5500),
    _row(
        "74LS244",
        "Fairchild DM74LS244 sheet; Texas Instruments SDLS144B",
        supply=_TTL_5,
        vil=_v(800),
        vih=_v(2000),
        low=(Point(_v(400), 12_000), Point(_v(500), 24_000)),
        high=(Point(_v(2700), 1000), Point(_v(2400), 3000), Point(_v(2000), 15_000)),
        iil=200,
        iih=20,
    ),
    _row(
        "74LS138",
        "Motorola, FAST and LS TTL Data, p. 5-1, in unit loads; voltages those of SDLS025B",
        low=(Point(_v(500), 5 * UNIT_LOAD_LOW),),
        high=(Point(_v(2700), 10 * UNIT_LOAD_HIGH),),
        iil=UNIT_LOAD_LOW // 4,
        iih=UNIT_LOAD_HIGH // 2,
    ),
    _row(
        "74LS374",
        "Motorola, FAST and LS TTL Data, p. 5-521; 0.5 V and 2.4 V at these currents from memory",
        low=(Point(_v(500), 15 * UNIT_LOAD_LOW),),
        high=(Point(_v(2400), 65 * UNIT_LOAD_HIGH),),
        iil=UNIT_LOAD_LOW // 4,
        iih=UNIT_LOAD_HIGH // 2,
    ),
    *(
        _mem(
            f"74LS{number}",
            low=(Point(_v(400), 12_000), Point(_v(500), 24_000)),
            high=(Point(_v(2400), 3000), Point(_v(2000), 15_000)),
            iil=200,
            leak=20,
        )
        for number in ("240", "241", "245", "540", "541", "640", "645")
    ),
    *(
        _mem(
            f"74LS{number}",
            low=(Point(_v(400), 12_000), Point(_v(500), 24_000)),
            high=(Point(_v(2400), 2600),),
            leak=20,
        )
        for number in ("125", "126", "365", "366", "367", "368", "373", "573", "574")
    ),
    _mem("74LS14", vil=_v(500)),
    _mem("74LS38", low=(Point(_v(400), 12_000), Point(_v(500), 24_000)), leak=250),
    # 74ALS, 74AS, 74F
    _mem(
        "74ALS",
        supply=(4500, 5500),
        vil=_v(800),
        vih=_v(2000),
        low=(Point(_v(400), 4000), Point(_v(500), 8000)),
        high=(Point(_below(2000), 400),),
        iil=100,
        iih=20,
        leak=100,
        off_most=5500,
        technology=_BIPOLAR,
    ),
    _mem(
        "74AS",
        supply=(4500, 5500),
        vil=_v(800),
        vih=_v(2000),
        low=(Point(_v(500), 20_000),),
        high=(Point(_below(2000), 2000),),
        iil=500,
        iih=20,
        leak=250,
        off_most=5500,
        technology=_BIPOLAR,
    ),
    _mem(
        "74F",
        supply=(4500, 5500),
        vil=_v(800),
        vih=_v(2000),
        low=(Point(_v(500), 20_000),),
        high=(Point(_v(2500), 1000),),
        iil=600,
        iih=20,
        leak=250,
        off_most=5500,
        technology=_BIPOLAR,
    ),
    # 74HC, 74HCT, 74C, 74AC, 74ACT
    _row(
        "74HC",
        "Texas Instruments SCHS202D (CD74HC4024), at 4.5 V and 6 V",
        supply=(4500, 6000),
        vil=_of("0.3"),
        vih=_of("0.7"),
        technology=_MOS,
    ),
    # 4.4 V at a supply of 4.5 V and 5.9 V at 6 V, both at 20 uA.
    _row(
        "74HC",
        "Texas Instruments SCHS202D (CD74HC4024) at 20 uA; 3.84 V at 4 mA from memory",
        high=(Point(_below(100), 20), Point(_below(660), 4000)),
    ),
    _mem("74HC", low=(Point(_v(100), 20), Point(_v(330), 4000)), iil=1, iih=1, leak=10, off_most=6000),
    _row(
        "74HCT",
        "Texas Instruments / Harris CD74HCT147 sheet; also SN74HCT00, SN74HCT138",
        supply=(4500, 5500),
        vil=_v(800),
        vih=_v(2000),
        low=(Point(_v(330), 4000),),
        # 4.4 V and 3.84 V are given at 4.5 V, the lowest supply: they are floors at any higher one.
        high=(Point(_v(4400), 20), Point(_v(3840), 4000)),
        iil=1,
        iih=1,
        technology=_MOS,
    ),
    _mem("74HCT", leak=10, off_most=5500),
    _mem(
        "74C",
        supply=(4750, 15_000),
        vil=_of("0.3"),
        vih=_of("0.7"),
        low=(Point(_v(400), 360),),
        high=(Point(_below(500), 10), Point(_v(2400), 360)),
        iil=1,
        iih=1,
        technology=_MOS,
    ),
    _mem(
        "74AC",
        supply=(4500, 5500),
        vil=_of("0.3"),
        vih=_of("0.7"),
        low=(Point(_v(100), 50), Point(_v(440), 24_000)),
        high=(Point(_below(100), 50), Point(_below(740), 24_000)),
        iil=1,
        iih=1,
        leak=5,
        technology=_MOS,
    ),
    _mem(
        "74ACT",
        supply=(4500, 5500),
        vil=_v(800),
        vih=_v(2000),
        low=(Point(_v(100), 50), Point(_v(440), 24_000)),
        high=(Point(_below(100), 50), Point(_below(740), 24_000)),
        iil=1,
        iih=1,
        leak=5,
        technology=_MOS,
    ),
    # CMOS 4000 (buffered, at 5 V)
    _mem(
        "4000",
        supply=(4750, 5250),
        vil=_of("0.3"),
        vih=_of("0.7"),
        low=(Point(_v(50), 1), Point(_v(400), 360)),
        high=(Point(_below(50), 1), Point(_below(400), 360)),
        iil=1,
        iih=1,
        leak=12,
        technology=_MOS,
    ),
    # Port chips
    _mem(
        "8255",
        supply=_TTL_5,
        vil=_v(800),
        vih=_v(2000),
        low=(Point(_v(450), 1700),),
        high=(Point(_v(2400), 200),),
        iil=10,
        iih=10,
        leak=10,
        technology=_MOS,
    ),
    _mem(
        "6821",
        supply=_TTL_5,
        vil=_v(800),
        vih=_v(2000),
        low=(Point(_v(400), 3200),),
        high=(Point(_v(2400), 200),),
        iil=2400,
        iih=400,
        leak=10,
        technology=_MOS,
    ),
    _mem(
        "6522",
        supply=_TTL_5,
        vil=_v(400),
        vih=_v(2400),
        low=(Point(_v(400), 1600),),
        high=(Point(_v(2400), 100),),
        iil=1600,
        iih=100,
        leak=10,
        technology=_MOS,
    ),
    _mem(
        "6530",
        supply=_TTL_5,
        vil=_v(800),
        vih=_v(2000),
        low=(Point(_v(400), 1600),),
        high=(Point(_v(2400), 100),),
        iil=1600,
        iih=100,
        leak=10,
        technology=_MOS,
    ),
    _mem(
        "NMOS",
        supply=_TTL_5,
        vil=_v(800),
        vih=_v(2000),
        low=(Point(_v(400), 1600),),
        high=(Point(_v(2400), 100),),
        iil=10,
        iih=10,
        leak=10,
        technology=_MOS,
    ),
    _mem("6850", high=(Point(_v(2400), 205),)),
    _mem("8250", high=(Point(_v(2400), 1000),)),
    _mem("8251", low=(Point(_v(450), 2200),), high=(Point(_v(2400), 400),)),
    # The bus side of the port chips takes next to nothing, unlike some of their port pins.
    _mem("8255 BUS", low=(Point(_v(450), 2500),), high=(Point(_v(2400), 400),)),
    _mem("6821 BUS", high=(Point(_v(2400), 205),)),
    _row("8212", "restatements of Intel's 8212 sheet: input load 0.25 mA, sinks 15 mA", iil=250),
    _mem(
        "8212",
        supply=_TTL_5,
        vil=_v(850),
        vih=_v(2000),
        low=(Point(_v(450), 15_000),),  # 15 mA is the restatements', 0.45 V from memory
        high=(Point(_v(3650), 1000),),  # 3.65 V is the restatements', 1 mA from memory
        iih=10,
        leak=20,
        technology=_BIPOLAR,
    ),
)
"""Every row; see the head of the file for the documents."""

OTHER_TYPES = {
    "8255": "8255",
    "8255A": "8255",
    "82C55": "8255",
    "6520": "6821",
    "6820": "6821",
    "6821": "6821",
    "MC6821": "6821",
    "6522": "6522",
    "R6522": "6522",
    "SY6522": "6522",
    "6530": "6530",
    "6532": "6530",
    "8212": "8212",
    "NMOS": "NMOS",
    "6551": "NMOS",
    "6850": "6850",
    "8250": "8250",
    "8251": "8251",
    "8251A": "8251",
}
"""Types outside the 74 and 4000 series, as printed, and the row that holds for them."""

FILLED_UP = ("6850", "8250", "8251", "8255 BUS", "6821 BUS", "6522 BUS", "6530 BUS")
"""Rows whose missing figures are those of the row NMOS."""

PORT_PIN = re.compile(r"^(?:P[ABC]|C[AB])\d")
"""How the port pins of a port chip are called; its other pins are its bus side."""

CMOS_4000 = re.compile(r"^(?:CD|HEF|MC1|HCF|TC)?4[05]\d{2}[A-Z]{0,3}$")
"""How a type of the CMOS 4000 series is printed."""
