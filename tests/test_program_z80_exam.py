"""A real Z80 ROM: Debian's package `cbios` 0.28-1.1 (BSD-2-Clause), the printer routines of an MSX BIOS.

Published side: MSX2 Technical Handbook, chapter 5, section 4 (port 90h write: strobe, read bit 1: busy; port 91h: data)
and msx.org/wiki/Printer_programming (LPTOUT at 00A5h, LPTSTT at 00A8h, hooks FFB6h and FFBBh).
"""

from __future__ import annotations

import hashlib
import os
import pathlib
import shutil
import subprocess

import pytest

from latchlore.base import AddressSet, ByteTree, Choice, CycleRange, InputKind, LeafKind, Read, SignalRole, Wait, Write
from latchlore.program import Image, explore, run
from latchlore.program._order import find_order

ROM = pathlib.Path("/usr/share/cbios/cbios_main_msx1.rom")
SUM = "d1c8a22469716399f83bed75c4528027e1f6371af18fd5599b31c59debb8b5db"
LPTOUT, LPTSTT = 0x00A5, 0x00A8
HOOKS = {0xFFB6: 0xC9, 0xFFBB: 0xC9}
NOWHERE = AddressSet.of(())
PORTS = AddressSet.of_range(0, 0xFFFF)


def install() -> str:
    """Install the package with the system's own package manager; why that is not possible, or nothing."""
    if shutil.which("apt-get") is None:
        return "there is no apt-get"
    if os.geteuid():
        return "only the superuser can install packages"
    command = ["apt-get", "install", "--yes", "--no-install-recommends", "cbios"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
    return "" if done.returncode == 0 else done.stderr.strip()[-300:]


@pytest.fixture(scope="module")
def image() -> Image:
    """The ROM, installed where it is missing; skips, with the reason, where that fails or it is another version."""
    if not ROM.exists():
        why = install()
        if not ROM.exists():
            pytest.skip(f"Debian's package cbios is not installed: {why}")
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
    data, keys = going["port 90 bit 1 (read 1) = 0"], going["port 90 bit 1 (read 1) = 1"]
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


def test_order(tree: ByteTree) -> None:
    """Busy is looked at, then the data go out, then the strobe: MSX2 Technical Handbook, chapter 5, section 4."""
    addresses = [AddressSet.of((port,), 16) for port in (0x90, 0x91)]
    strobe = SignalRole("STROBE", InputKind.PORT, addresses[0], "write", 0)
    data = SignalRole("DATA", InputKind.PORT, addresses[1], "write")
    busy = SignalRole("BUSY", InputKind.PORT, addresses[0], "read", 1)
    found = find_order([tree], [strobe, data, busy])
    assert found is not None
    assert str(found[0]) == "busy looked at, then data set, then strobe begins, then strobe ends"


def test_escape(tree: ByteTree) -> None:
    """The waiting ends only by ready or by the keyboard, and the latter sends a stray carriage return."""
    leaves = [node for node in tree.nodes if not node.successors]
    sent = {node.events[0].value.possible for node in leaves if isinstance(node.events[0], Write)}
    assert sent == {frozenset({0x0D}), frozenset(range(256))}
    assert {leaf.kind for leaf in tree.leaves} == {LeafKind.RETURNED}


def test_escape_by_keys(image: Image, tree: ByteTree) -> None:
    """The escape looks at rows of the keyboard only; with CTRL and STOP held, a run sends 0Dh, strobes, sets carry.

    That CTRL is bit 1 of row 6 and STOP bit 4 of row 7, and that a key held reads as 0, is *from memory*; another
    row or bit would leave the routine waiting.
    """
    asked = {
        bit.address
        for node in tree.nodes
        if isinstance(node.after, Choice)
        for arm in node.after.arms
        for bit in arm.condition.bits
        if bit.kind is InputKind.PORT
    }
    assert asked == {0x90, 0xA9}
    row = 0

    def write(address: int, value: int, cycle: int) -> None:
        nonlocal row
        if address & 0xFF == 0xAA:
            row = value & 0x0F

    def held(address: int, cycle: int) -> int:
        port = address & 0xFF
        if port == 0x90:
            return 0x02
        return {6: 0xFD, 7: 0xEF}.get(row, 0xFF) if port == 0xA9 else 0xFF

    registers = {"SP": 0xF000, "A": 0x41}
    done = run([image], LPTOUT, NOWHERE, cpu="Z80", memory=HOOKS, registers=registers, read=held, write=write)
    sent = [(a.address & 0xFF, a.value) for a in done.accesses if a.direction == "write" and a.address & 0xFF != 0xAA]
    assert sent == [(0x91, 0x0D), (0x90, 0x00), (0x90, 0xFF)]
    assert (done.end, done.registers["CF"]) == (LeafKind.RETURNED, 1)


def test_wait_has_no_end(tree: ByteTree) -> None:
    """While busy stays 1 and no key is held, the graph leads back to the first look at busy: no time-out."""
    looks = [
        number
        for number, node in enumerate(tree.nodes)
        if isinstance(node.after, Choice) and node.after.arms[0].condition.bits[0].address == 0x90
    ]
    reached: set[int] = set()
    work = [number for start in looks for _, number in tree.nodes[start].successors]
    while work:
        number = work.pop()
        if number not in reached:
            reached.add(number)
            work += [follower for _, follower in tree.nodes[number].successors]
    assert set(looks) <= reached
    assert [event.polls for event in tree.iter_events() if isinstance(event, Wait) and event.polls is not None] == []


def test_status_routine(image: Image) -> None:
    """LPTSTT explored: one read of port 90h, the answer made of its bit 1 alone, no write."""
    tree = explore([image], LPTSTT, NOWHERE, cpu="Z80", memory=HOOKS)
    assert tree.is_exhausted
    (read,) = {(e.kind, e.address) for e in tree.iter_events()}
    assert read == (InputKind.PORT, 0x90)
    assert not [e for e in tree.iter_events() if isinstance(e, Write)]


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
