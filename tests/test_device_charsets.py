"""Character sets and control characters."""

from __future__ import annotations

import json
import shutil
import subprocess
import unicodedata

import pytest

from latchlore.base import UnknownName
from latchlore.device import C0, CharacterSet, byte_name, column_row, explain_print, get_set, read_device, set_names
from latchlore.device._iso646 import POSITIONS


@pytest.mark.parametrize("name", set_names())
def test_get_set_as_converter(name: str) -> None:
    """All printing positions equal the C library's converter (glibc iconv) for the set of that name."""
    iconv = shutil.which("iconv")
    if iconv is None:
        pytest.skip("iconv is not installed")
    printing = bytes(range(0x20, 0x7F))
    result = subprocess.run([iconv, "-f", name, "-t", "UTF-8"], input=printing, capture_output=True, check=False)
    if result.returncode:
        pytest.skip(f"this iconv does not know {name}")
    assert get_set(name).text(printing) == result.stdout.decode()


def test_set_names_are_many() -> None:
    """At least twenty versions are known, each differs from ASCII in the national positions only."""
    assert len(set_names()) >= 20
    for name in set_names():
        different = {code for code, char in get_set(name).characters.items() if char != chr(code)}
        assert different <= set(POSITIONS)


def test_get_set_wrong() -> None:
    """An unknown name is refused with the known ones."""
    with pytest.raises(
        UnknownName, match=r"^there is no national version of ISO 646 named 'ISO646-XX'; known are 'ISO"
    ):
        get_set("ISO646-XX")


def test_c0_names() -> None:
    """Acronyms and names stand for the same codes in the Unicode name aliases (unicodedata)."""
    assert [control.code for control in C0] == list(range(32))
    for control in C0:
        # before version 15 the alias list has EOM for ECMA-48's EM
        acronym = {"EM": "EOM"}.get(control.acronym, control.acronym)
        assert unicodedata.lookup(acronym) == chr(control.code)
        if control.acronym != "BEL":  # Unicode gives the name BELL to a picture of a bell
            assert unicodedata.lookup(control.name.replace("shift-", "shift ").upper()) == chr(control.code)


# ECMA-6, 6th edition (1991), and ECMA-48, 5th edition (1991): acronyms in the order of their codes, and the groups.
ECMA = (
    "NUL SOH STX ETX EOT ENQ ACK BEL BS HT LF VT FF CR SO SI DLE DC1 DC2 DC3 DC4 NAK SYN ETB CAN EM SUB ESC FS GS RS US"
)
ECMA_NAMES = {0x09: "character tabulation", 0x0B: "line tabulation", 0x19: "end of medium"}  # as ECMA-48 renamed them


def test_c0_acronyms_of_the_standard() -> None:
    """All 32 acronyms as ECMA-48 lists them; the tabulations by the names of its fifth edition."""
    assert [control.acronym for control in C0] == ECMA.split()
    assert {code: C0[code].name for code in ECMA_NAMES} == ECMA_NAMES


def test_c0_groups() -> None:
    """The numbered groups of ECMA-6: ten TC, six FE, four DC, four IS that run backwards."""
    groups = {control.group: control.code for control in C0 if control.group}
    assert [groups[f"TC{n}"] for n in range(1, 11)] == [1, 2, 3, 4, 5, 6, 0x10, 0x15, 0x16, 0x17]
    assert [groups[f"FE{n}"] for n in range(6)] == [8, 9, 10, 11, 12, 13]
    assert [groups[f"IS{n}"] for n in range(1, 5)] == [0x1F, 0x1E, 0x1D, 0x1C]


def test_names_of_bytes() -> None:
    """Bytes outside C0 are named too; 1Bh is 01/11 in the notation of ECMA-6."""
    assert [byte_name(b) for b in (0x1B, 0x20, 0x41, 0x7F, 0x9B)] == ["ESC", "SP", "A", "DEL", "9B"]
    assert column_row(0x1B) == "01/11"
    assert column_row(0x0A) == "00/10"


SETS = (
    CharacterSet("DE", {0x23: "#", 0x24: "$", 0x40: "§", 0x5B: "Ä", 0x5C: "Ö", 0x5D: "Ü"}),
    CharacterSet("SE", {0x23: "#", 0x24: "¤", 0x40: "É", 0x5B: "Ä", 0x5C: "Ö", 0x5D: "Å"}),
    CharacterSet("UK", {0x23: "£", 0x24: "$", 0x40: "@", 0x5B: "[", 0x5C: "\\", 0x5D: "]"}),
)


def test_explain_print_national_set() -> None:
    """Bench case: 5B and 5C printed as Ä and Ö leave two sets; 5D, 24 or 40 decides, 23 does not."""
    sample = explain_print(SETS, {0x5B: "Ä", 0x5C: "Ö"})
    assert sample.possible == ("DE", "SE")
    assert [(one.name, one.code, one.printed) for one in sample.excluded] == [("UK", 0x5B, "[")]
    assert {decider.code for decider in sample.deciders} == {0x24, 0x40, 0x5D}
    assert all(decider.largest == 1 for decider in sample.deciders)


def test_explain_print_nothing_fits() -> None:
    """A character that no set prints excludes all, and nothing is left to decide."""
    sample = explain_print(SETS, {0x23: "%"})
    assert (sample.possible, sample.deciders) == ((), ())


def test_explain_print_all_versions() -> None:
    """Among all national versions a print of 7B as ä and 7D as å leaves the Nordic ones that say so."""
    sample = explain_print([get_set(name) for name in set_names()], {0x7B: "ä", 0x7D: "å"})
    assert sample.possible == ("ISO646-FI", "ISO646-SE", "ISO646-SE2")
    assert sample.deciders[0].code in POSITIONS


# National sets as printed in the manuals of Printek's FormsMaster 8000 and FormsPro 4503se, at the twelve positions.
PRINTED = {
    "France": "#$à°ç§^`éùè¨",
    "Sweden": "#¤ÉÄÖÅÜéäöåü",
    "Germany": "#$§ÄÖÜ^`äöüß",
    "Italy": "#$@°\\é^ùàòèì",
    "Denmark": "#$@ÆØÅ^`æøå~",
    "England": "£$@[\\]^`{|}~",
}


def test_exam_a_printers_own_sets() -> None:
    """A printer's national sets are ISO 646's in three of six countries only; each is written down with its page."""
    same = set()
    for country, characters in PRINTED.items():
        rows = zip(POSITIONS, characters, strict=True)
        own = "".join(f"{code:02X} = {{ is = {json.dumps(char)}, page = 31 }}\n" for code, char in rows)
        text = f'title = "Guide"\ndevice = "P"\nkind = "manual"\npages = 48\n[characters.own]\n{own}'
        device = read_device(text.encode(), "documents/p.toml")
        assert device.characters.text(bytes(POSITIONS)) == characters
        assert "page 31" in str(device.characters.citations[0x5B].origin)
        for name in set_names():
            if get_set(name).text(bytes(POSITIONS)) == characters:
                same.add((country, name))
    assert same == {("Germany", "ISO646-DE"), ("Sweden", "ISO646-SE2"), ("Denmark", "ISO646-DK")}
