"""How chips are marked: date codes, makers' prefixes, house numbers, types that differ at a pin.

Sources: S44 the cross table of one NAND in a 74LS00 sheet (read by OCR); S45 S46 two pages on the numbering of the
7400 series; S47 S48 mailing-list notes on date codes (1998, 2000); S49 an article on the series (SN7400N beside 7645);
S50 a page on makers' package letters.  Rows marked M are from memory of the makers' cross tables.
"""

from __future__ import annotations

from typing import NamedTuple

MAKERS: dict[str, str] = {
    "SN": "Texas Instruments [S45]",
    "DM": "National [S44]",
    "MC": "Motorola [S44]",
    "N": "Signetics or Philips [S44]",
    "S": "Signetics, military [S44]",
    "HD": "Hitachi [S44]",
    "MB": "Fujitsu [S44]",
    "M": "Mitsubishi [S44]",
    "T": "SGS [M]",
    "P": "Intel, plastic [S50]",
    "D": "Intel, ceramic [S50]",
    "C": "Intel, ceramic [S50]",
    "R": "Rockwell [M]",
    "SY": "Synertek [M]",
    "MCS": "MOS Technology [M]",
    "INS": "National [M]",
}
"""Prefix letters of a type number → maker."""

HOUSE: dict[str, tuple[str, str]] = {
    "HD2503": ("7400", "Hitachi [S44]"),
    "MB400": ("7400", "Fujitsu [S44]"),
    "MB601": ("7400", "Fujitsu [S44]"),
    "UPB201": ("7400", "NEC [S44]"),
    "FJH131": ("7400", "Philips [S44]"),
    "FLH101": ("7400", "Siemens [S44]"),
    "M53200": ("7400", "Mitsubishi [S44]"),
    "TD3400": ("7400", "Toshiba [S44; number by the pattern TD34xx]"),
    "9N00": ("7400", "Fairchild [S44]"),
    "9S00": ("7400", "Fairchild, Schottky [S44]"),
    "9310": ("74160", "Fairchild [M]"),
    "9311": ("74154", "Fairchild [M]"),
    "9316": ("74161", "Fairchild [M]"),
    "9318": ("74148", "Fairchild [M]"),
    "9322": ("74157", "Fairchild [M]"),
    "9334": ("74259", "Fairchild [M]"),
    "9341": ("74181", "Fairchild [M]"),
    "9342": ("74182", "Fairchild [M]"),
}
"""House numbers without a 74 in them → type and maker."""

HOUSE_SERIES: dict[str, str] = {
    r"HD25\d\d": "Hitachi [S44]",
    r"MB[46]\d\d": "Fujitsu [S44]",
    r"UPB2\d\d": "NEC [S44]",
    r"FJ[HJ]\d{3}": "Philips [S44]",
    r"FL[HJ]\d{3}": "Siemens [S44]",
    r"M53[2-9]\d\d": "Mitsubishi [S44]",
    r"TD34\d\d": "Toshiba [S44]",
    r"9[NS]\d\d": "Fairchild [S44]",
    r"93[LS]?\d\d": "Fairchild [M]",
    r"MC3[01]\d\d": "Motorola, like the H series [S44]",
}
"""Patterns of house numbers of which only single rows are known: the maker, and no type."""

FIRST_YEAR, LAST_YEAR = 1964, 1999
"""Years that a code can mean where nothing else is said: from the first 7400 parts on; four digits are YYWW."""

LAST_WEEK = 53


class NearRow(NamedTuple):
    """Types with one pinout that differ at `pins` (by number); `words` say how."""

    types: tuple[str, str]
    pins: tuple[int, ...]
    words: str


NEAR: tuple[NearRow, ...] = (
    NearRow(("74157", "74257"), (15,), "high forces the outputs low on the '157, lets them go on the '257"),
    NearRow(("74158", "74258"), (15,), "high forces the outputs high on the '158, lets them go on the '258"),
    NearRow(("74157", "74158"), (4, 7, 9, 12), "outputs are true on the '157, inverted on the '158"),
    NearRow(("74257", "74258"), (4, 7, 9, 12), "outputs are true on the '257, inverted on the '258"),
    NearRow(
        ("74240", "74244"),
        (3, 5, 7, 9, 12, 14, 16, 18),
        "outputs are inverted on the '240, true on the '244",
    ),
    NearRow(("74241", "74244"), (19,), "the second enable is high on the '241, low on the '244"),
    NearRow(("74125", "74126"), (1, 4, 10, 13), "the enables are low on the '125, high on the '126"),
    NearRow(("74373", "74374"), (11,), "the '373 is open while it is high, the '374 takes data as it rises"),
    NearRow(("74573", "74574"), (11,), "the '573 is open while it is high, the '574 takes data as it rises"),
    NearRow(("74365", "74366"), (3, 5, 7, 9, 11, 13), "outputs are true on the '365, inverted on the '366"),
    NearRow(("74367", "74368"), (3, 5, 7, 9, 11, 13), "outputs are true on the '367, inverted on the '368"),
    NearRow(
        ("74365", "74367"),
        (1, 15),
        "both enable all six on the '365; on the '367 pin 1 enables four and pin 15 two",
    ),
    NearRow(
        ("74366", "74368"),
        (1, 15),
        "both enable all six on the '366; on the '368 pin 1 enables four and pin 15 two",
    ),
    NearRow(("74153", "74253"), (1, 15), "high forces an output low on the '153, lets it go on the '253"),
    NearRow(("74151", "74251"), (7,), "high forces Y low on the '151, lets the outputs go on the '251"),
    NearRow(("74138", "74238"), (7, 9, 10, 11, 12, 13, 14, 15), "outputs are low on the '138, high on the '238"),
    NearRow(("74160", "74162"), (1,), "clears at once on the '160, with the clock on the '162"),
    NearRow(("74161", "74163"), (1,), "clears at once on the '161, with the clock on the '163"),
)
"""Near-equal types.  Checked against the catalogue's rows, which are checked against open facts and vectors."""
