"""How addresses of registers are written."""

from __future__ import annotations

import re
from pathlib import Path

from latchlore.base import InputKind, address_digits, describe_place

SOURCES = Path(__file__).resolve().parent.parent / "src" / "latchlore"
OWN = re.compile(r"'port ' if [^}]*\}\{[^}]*:0[0-9{]|2 if [^\n]*port[^\n]* else 4\}|\"02X\" if|if [^\n]* else \"02X\"")
"""A port's address written by hand: the word and then digits, or a choice of two or four digits."""


def test_address_digits() -> None:
    """Four digits, two for a port that eight lines can tell; the same for a kind and for its word."""
    cases = {
        (InputKind.MEMORY, 0xC801): "C801",
        (InputKind.MEMORY, 0x90): "0090",
        (InputKind.CELL, 0x12): "0012",
        (InputKind.PORT, 0x0): "00",
        (InputKind.PORT, 0xFF): "FF",
        (InputKind.PORT, 0x100): "0100",
        (InputKind.MEMORY, 0x1C801): "1C801",
    }
    assert {case: address_digits(*case) for case in cases} == cases
    assert {case: address_digits(case[0].value, case[1]) for case in cases} == cases


def test_describe_place() -> None:
    """A port says that it is one."""
    assert [describe_place("port", at) for at in (0x90, 0x378)] == ["port 90", "port 0378"]
    assert describe_place("memory", 0x90) == "0090"


def test_one_way() -> None:
    """No other module chooses how many digits a port's address has."""
    found = [
        f"{path.relative_to(SOURCES)}: {line.strip()}"
        for path in sorted(SOURCES.rglob("*.py"))
        if path.name != "_addresswords.py"
        for line in path.read_text("utf-8").splitlines()
        if OWN.search(line)
    ]
    assert found == []
    assert OWN.search("""place = f"{'port ' if is_port else ''}{address:04X}\"""")
    assert OWN.search("""digits = "02X" if kind is PORT and address <= 0xFF else "04X\"""")
