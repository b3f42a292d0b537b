"""A real Z80 ROM: Debian's package `cbios` 0.28-1.1 (BSD-2-Clause), the printer routines of an MSX BIOS.

Published side: MSX2 Technical Handbook, chapter 5, section 4 (port 90h write: strobe, read bit 1: busy; port 91h: data)
and msx.org/wiki/Printer_programming (LPTOUT at 00A5h, LPTSTT at 00A8h, hooks FFB6h and FFBBh).
"""

from __future__ import annotations

import hashlib
import pathlib

import pytest

from latchlore.base import AddressSet, ByteTree, Choice, CycleRange, InputKind, LeafKind, Read, Write
from latchlore.program import Image, explore, run

ROM = pathlib.Path("/usr/share/cbios/cbios_main_msx1.rom")
SUM = "d1c8a22469716399f83bed75c4528027e1f6371af18fd5599b31c59debb8b5db"
LPTOUT, LPTSTT = 0x00A5, 0x00A8
HOOKS = {0xFFB6: 0xC9, 0xFFBB: 0xC9}
NOWHERE = AddressSet.of(())
PORTS = AddressSet.of_range(0, 0xFFFF)


@pytest.fixture(scope="module")
def image() -> Image:
    """The ROM; skips where the package is not installed or is another version."""
    if not ROM.exists():
        pytest.skip("Debian's package cbios is not installed")
    data = ROM.read_bytes()
    if hashlib.sha256(data).hexdigest() != SUM:
        pytest.skip("Debian's package cbios is not version 0.28-1.1")
    return Image.from_bytes(data, 0, ROM.name)


@pytest.fixture(scope="module")
def tree(image: Image) -> ByteTree:
    """Character output, with the hooks stated to return at once."""
    return explore([image], LPTOUT, NOWHERE, cpu="Z80", memory=HOOKS)


def test_hook_not_stated(image: Image) -> None:
    """Without a word about the hook in RAM the only honest answer is unknown code."""
    (leaf,) = explore([image], LPTOUT, NOWHERE, cpu="Z80").leaves
    assert (leaf.kind, leaf.address) == (LeafKind.UNKNOWN_CODE, 0xFFB6)


def test_ports(tree: ByteTree) -> None:
    """Data port, strobe and busy port, and the keyboard's ports are touched, and no others."""
    assert tree.is_exhausted
    written = {e.address for e in tree.iter_events() if isinstance(e, Write)}
    read = {e.address for e in tree.iter_events() if not isinstance(e, Write)}
    assert written == {0x90, 0x91, 0xAA}
    assert read == {0x90, 0xA9, 0xAA}
    assert all(e.kind is InputKind.PORT for e in tree.iter_events())


def test_busy_is_bit_1(tree: ByteTree) -> None:
    """Of port 90h only bit 1 is looked at; at 0 the character goes out, at 1 the routine looks at the keyboard."""
    looked = {
        (bit.address, bit.bit)
        for node in tree.nodes
        if isinstance(node.after, Choice)
        for arm in node.after.arms
        for bit in arm.condition.bits
        if bit.kind is InputKind.PORT
    }
    assert {bit for address, bit in looked if address == 0x90} == {1}
    choice = next(
        n.after for n in tree.nodes if isinstance(n.after, Choice) and n.after.arms[0].condition.bits[0].address == 0x90
    )
    going = {str(arm.condition): tree.nodes[arm.node].events[0] for arm in choice.arms}
    data, keys = going["port 0090 bit 1 (read 1) = 0"], going["port 0090 bit 1 (read 1) = 1"]
    assert isinstance(data, Write)
    assert data.address == 0x91
    assert {bit.name for bit in data.value.bits} == {"A"}
    assert isinstance(keys, Read)
    assert keys.address == 0xAA


def test_strobe(tree: ByteTree) -> None:
    """Data, then strobe low after 18 T-states, then high after 15."""
    for node in tree.nodes:
        writes = [e for e in node.events if isinstance(e, Write) and e.address in (0x90, 0x91)]
        if writes:
            assert [e.address for e in writes] == [0x91, 0x90, 0x90]
            assert [e.value.possible for e in writes[1:]] == [frozenset({0x00}), frozenset({0xFF})]
            assert [e.cycles for e in writes[1:]] == [CycleRange.exactly(18), CycleRange.exactly(15)]


def test_escape(tree: ByteTree) -> None:
    """The waiting ends only by ready or by the keyboard, and the latter sends a stray carriage return."""
    leaves = [node for node in tree.nodes if not node.successors]
    sent = {node.events[0].value.possible for node in leaves if isinstance(node.events[0], Write)}
    assert sent == {frozenset({0x0D}), frozenset(range(256))}
    assert {leaf.kind for leaf in tree.leaves} == {LeafKind.RETURNED}


@pytest.mark.parametrize(("status", "answer"), [(0x00, (255, 0)), (0x02, (0, 1))])
def test_status(image: Image, status: int, answer: tuple[int, int]) -> None:
    """LPTSTT: A = 255 and Z reset when ready, A = 0 and Z set when busy."""
    registers = {"SP": 0xF000}
    done = run([image], LPTSTT, NOWHERE, cpu="Z80", memory=HOOKS, registers=registers, read=lambda a, t: status)
    assert done.end is LeafKind.RETURNED
    assert (done.registers["A"], done.registers["ZF"]) == answer


def test_every_character(image: Image) -> None:
    """All 256 characters run to exactly three writes each, after three reads of a busy port."""
    for code in range(256):
        polls = iter([2, 2, 2, 0])

        def answer(address: int, cycle: int, polls: object = polls) -> int:
            return next(polls) if address & 0xFF == 0x90 else 0xFF  # type: ignore[call-overload]  # an iterator

        done = run([image], LPTOUT, NOWHERE, cpu="Z80", memory=HOOKS, registers={"SP": 0xF000, "A": code}, read=answer)
        writes = [(a.address & 0xFF, a.value, a.cycle) for a in done.accesses if a.direction == "write"]
        printer = [(port, value) for port, value, _ in writes if port != 0xAA]
        assert printer == [(0x91, code), (0x90, 0x00), (0x90, 0xFF)]
        times = [cycle for port, _, cycle in writes if port == 0x90]
        assert times[1] - times[0] == 15
        assert done.registers["CF"] == 0


def test_strobe_width_twin() -> None:
    """Bench case "strobe width from code", its Z80 twin: 59 T-states between the writes."""
    # OUT (90),A; LD B,3; DJNZ $; LD A,1; OUT (90),A; RET
    code = bytes.fromhex("D390060310FE3E01D390C9")
    image = Image.from_bytes(code, 0x8000, "twin")
    first, second = explore([image], 0x8000, NOWHERE, cpu="Z80", arguments={"A": 0}).nodes[0].events
    assert isinstance(first, Write)
    assert second.cycles == CycleRange.exactly(59)
