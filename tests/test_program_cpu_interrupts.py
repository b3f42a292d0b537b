"""Waiting for what an interrupt routine does, in the code of each processor."""

from __future__ import annotations

import pytest

from latchlore.base import InputKind, LeafKind
from latchlore.program import Image, explore
from tests.cpu_checks import CARD

ORIGIN, ROUTINE = 0x0300, 0x0340
# Clear 0010; 41 to C800; wait until 0010 is not 0; 42 to C800; return.  Routine: 1 to 0010, and back.
PROGRAMS = {
    "65C02": ("6410 A941 8D00C8 A510 F0FC A942 8D00C8 60", "48 A901 8510 68 40"),
    "8080": ("AF 321000 3E41 3200C8 3A1000 B7 CA0903 3E42 3200C8 C9", "F5 3E01 321000 F1 FB C9"),
    "8085": ("AF 321000 3E41 3200C8 3A1000 B7 CA0903 3E42 3200C8 C9", "F5 3E01 321000 F1 FB C9"),
    "6800": ("7F0010 8641 B7C800 9610 27FC 8642 B7C800 39", "8601 9710 3B"),
    "6809": ("0F10 8641 B7C800 9610 27FC 8642 B7C800 3580", "8601 9710 3B"),
}


def is_data(kind: InputKind, address: int) -> bool:
    """Whether an address is the data register."""
    return kind is InputKind.MEMORY and address == 0xC800


@pytest.mark.parametrize("name", sorted(PROGRAMS))
def test_wait_for_a_flag(name: str) -> None:
    """With the routine the second byte comes and the program returns; without it the wait is endless."""
    code, routine = (bytes.fromhex(part) for part in PROGRAMS[name])
    image = Image.from_bytes(code.ljust(ROUTINE - ORIGIN, b"\0") + routine, ORIGIN, "program")
    both = [frozenset({0x41}), frozenset({0x42})]
    tree = explore([image], ORIGIN, CARD, cpu=name, interrupts=[ROUTINE])
    assert tree.can_emit(both, is_data)
    assert {leaf.kind for leaf in tree.leaves} == {LeafKind.RETURNED}
    alone = explore([image], ORIGIN, CARD, cpu=name)
    assert not alone.can_emit(both, is_data)
    assert {leaf.kind for leaf in alone.leaves} == {LeafKind.ENDLESS}


def test_wait_for_a_flag_wrong() -> None:
    """A routine that sets another cell does not end the wait."""
    code, _ = (bytes.fromhex(part) for part in PROGRAMS["6809"])
    image = Image.from_bytes(code.ljust(ROUTINE - ORIGIN, b"\0") + bytes.fromhex("8601 9711 3B"), ORIGIN, "program")
    tree = explore([image], ORIGIN, CARD, cpu="6809", interrupts=[ROUTINE])
    assert not tree.can_emit([frozenset({0x41}), frozenset({0x42})], is_data)
