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
    ("pins", "status"),
    [
        ({"BUSY": 0, "ACK": 1, "PE": 0, "SLCT": 1, "ERROR": 1}, 0xD8),
        ({"BUSY": 1, "ACK": 1, "PE": 1, "SLCT": 1, "ERROR": 0}, 0x70),
    ],
    ids=["idle and on line", "out of paper"],
)
def test_status_byte(adapter: RegisterMap, pins: dict[str, int], status: int) -> None:
    """What base+1 reads for the pins' levels, bits 7 to 3 (S1, S3: bit 7 is inverted); bits 2 to 0 are unused."""
    register = adapter.register(0x3BD, "read", "port")
    byte = sum((pins[bit.sense.source.upper()] ^ bit.sense.inverted) << bit.number for bit in register.bits)
    assert byte == status
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
