"""The printer half of the PC display and printer adapter of 1981: the published questions that are no table row.

Sources: S1 "Interfacing the IBM PC parallel printer port", sections 4-6 and 9-11; S3 LPT register overview; the levels
for given bytes follow from their tables by arithmetic.  The net list is the exam's.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from latchlore.base import BitKind
from latchlore.board import RegisterMap, decode, read_board

NETS = Path(__file__).resolve().parent.parent / "exams" / "pc-parallel-1981" / "study" / "board" / "adapter.nets"


@pytest.fixture(scope="module")
def adapter() -> RegisterMap:
    """The adapter, decoded."""
    return decode(read_board(NETS.read_bytes(), "adapter.nets"))


@pytest.mark.parametrize(
    ("written", "levels"),
    [(0x0C, (1, 1, 1, 0)), (0x0D, (0, 1, 1, 0)), (0x08, (1, 1, 0, 0)), (0x00, (1, 1, 0, 1))],
)
def test_control_pins(adapter: RegisterMap, written: int, levels: tuple[int, ...]) -> None:
    """A byte written to base+2 puts these levels on pins 1, 14, 16 and 17 (S1, S3: bits 0, 1 and 3 are inverted)."""
    sources = {f"port 03BE (write) bit {bit}": written >> bit & 1 for bit in range(8)}
    found = {}
    for drive in adapter.pins:
        if drive.sense.kind is BitKind.FOLLOWS and drive.sense.source in sources:
            found[drive.pin.number] = sources[drive.sense.source] ^ drive.sense.inverted
    assert tuple(found[pin] for pin in (1, 14, 16, 17)) == levels


@pytest.mark.parametrize(
    ("pins", "status", "printer_status"),
    [
        ({"BUSY": 0, "ACK": 1, "PE": 0, "SLCT": 1, "ERROR": 1}, 0xD8, 0x90),
        ({"BUSY": 1, "ACK": 1, "PE": 1, "SLCT": 1, "ERROR": 0}, 0x70, 0x38),
    ],
    ids=["idle and on line", "out of paper"],
)
def test_status_byte(adapter: RegisterMap, pins: dict[str, int], status: int, printer_status: int) -> None:
    """What base+1 reads for the pins' levels, bits 7 to 3 (S1, S3: bit 7 is inverted); bits 2 to 0 are unused.

    `printer_status`: what interrupt 17h gives back in AH: (status and F8) exclusive or 48 (S1), whose bits are 7 not
    busy, 6 acknowledge, 5 out of paper, 4 selected, 3 error (S7).
    """
    register = adapter.register(0x3BD, "read", "port")
    byte = sum((pins[bit.sense.source.upper()] ^ bit.sense.inverted) << bit.number for bit in register.bits)
    assert byte == status
    assert (byte & 0xF8) ^ 0x48 == printer_status
    assert [bit.number for bit in register.bits] == [3, 4, 5, 6, 7]


def test_drivers(adapter: RegisterMap) -> None:
    """Pins 1, 14, 16 and 17 are open collector with a pull-up, pins 2 to 9 always driven (S1)."""
    assert {drive.pin.number for drive in adapter.pins if drive.open_collector and drive.pulled} == {1, 14, 16, 17}
    assert {
        drive.pin.number
        for drive in adapter.pins
        if drive.sense.source.startswith("port 03BC (write)") and not drive.switched_by and not drive.open_collector
    } == set(range(2, 10))


def test_interrupt(adapter: RegisterMap) -> None:
    """IRQ7 follows ACK while control bit 4 is 1; the sources' conflict about the edge stays visible as a doubt."""
    irq = next(drive for drive in adapter.pins if drive.pin.signal == "irq7")
    assert (irq.sense.source.upper(), irq.sense.inverted) == ("ACK", False)
    assert [reach.signal for reach in irq.switched_by] == ["port 03BE (write) bit 4"]
    assert any("disagree on the edge" in doubt.words for doubt in adapter.board.doubts)


def test_control_read_back(adapter: RegisterMap) -> None:
    """After 1D is written to base+2 bits 0 to 4 read 1D; nothing drives bits 5 to 7 (S1)."""
    register = adapter.register(0x3BE, "read", "port")
    assert [bit.number for bit in register.bits] == [0, 1, 2, 3, 4]
    read = 0
    for bit in register.bits:
        assert bit.sense.source == f"port 03BE (write) bit {bit.number}"
        read |= ((0x1D >> bit.number & 1) ^ bit.sense.inverted) << bit.number
    assert read == 0x1D


@pytest.mark.parametrize(("base", "irq"), [(0x378, "irq7"), (0x278, "irq5")])
def test_other_bases(base: int, irq: str) -> None:
    """The printer adapter's bases 378 and 278 differ from 3BC in a few lines only, from one another in A8 (S1, S5).

    The address gate sees a line or its inverse; the net list is changed accordingly and nothing else.
    """
    text = NETS.read_text("utf-8")
    # 3BC: A6 through the inverter, the other six straight; 378: A7 and A2 low; 278: A8 as well
    text = text.replace("net a6 u2.1\nnet na6 u2.2 u1.12\n", "net a6 u1.12\n")
    text = text.replace("net a7 u1.3\n", "net a7 u2.1\nnet na7 u2.2 u1.3\n").replace("tie low u2.13 ", "tie low ")
    text = text.replace("net a2 u1.11\n", "net a2 u2.13\nnet na2 u2.12 u1.11\n").replace("open u2.12 ", "open ")
    if base == 0x278:
        # no inverter is left on the card; a 74LS04 more
        text = text.replace("net a8 u1.2\n", "part u12 74ls04\nnet a8 u12.1\nnet na8 u12.2 u1.2\n")
        text = text.replace("irq7", irq)
    found = decode(read_board(text.encode(), "adapter.nets"))
    shown = {(register.address, register.direction) for register in found.registers}
    assert shown == {(base, "write"), (base, "read"), (base + 1, "read"), (base + 2, "write"), (base + 2, "read")}
    assert all(register.mirrors == 1 for register in found.registers)
    assert any(drive.pin.signal == irq for drive in found.pins)
