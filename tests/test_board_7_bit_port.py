"""The 7-bit printer port of a Z80 home computer of 1984: the published questions that are no row of the table.

Sources: the port's page (gryzor.info, Printer_Port), the I/O allocation (cepece.info, iopord), the page on its 8255.
The net list is the exam's.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from latchlore.base import BitKind
from latchlore.board import RegisterMap, decode, pin_states, read_board, reset_state, write_register

NETS = Path(__file__).resolve().parent.parent / "exams" / "z80-7-bit-port" / "study" / "board" / "port.nets"


@pytest.fixture(scope="module")
def port() -> RegisterMap:
    """The port, decoded."""
    return decode(read_board(NETS.read_bytes(), "port.nets"))


def test_reached(port: RegisterMap) -> None:
    """EF00 hits the latch alone; 0000 also the parallel ports, the CRTC, the ROM's latch and the expansion."""
    assert port.reached(0xEF00, "write", "port") == ("u2",)
    assert port.reached(0x0000, "write", "port") == ("u2", "u4 port A", "crtc", "upper-rom", "expansion")
    assert "gate-array" in port.reached(0x4000, "write", "port")
    assert port.reached(0xF500, "read", "port") == ("u4 port B",)


def test_latch_is_half_of_all(port: RegisterMap) -> None:
    """32,768 of the 65,536 ports hit the latch, and none of them reads it."""
    latch = port.register(0xEF00, "write", "port")
    assert latch.addresses.count == 32_768
    assert all("u2" not in register.parts for register in port.registers if register.direction == "read")


@pytest.mark.parametrize(("byte", "level"), [(0x41, 1), (0xC1, 0), (0x00, 1)])
def test_strobe(port: RegisterMap, byte: int, level: int) -> None:
    """Bytes 41, C1, 41 give strobe 1, 0, 1; the latch cleared by reset leaves it at 1."""
    bit = port.register(0xEF00, "write", "port").bit(7)
    assert bit.sense.kind is BitKind.FOLLOWS
    assert (byte >> 7 & 1) ^ bit.sense.inverted == level


def test_signals_absent(port: RegisterMap) -> None:
    """No acknowledge, paper end, select, fault or initialise: paper out cannot be told from busy."""
    signals = {pin.signal for plug in port.board.connectors if plug.name == "j1" for pin in plug.pins}
    assert signals - {f"data{k}" for k in range(7)} == {"strobe", "busy", "gnd"}
    assert {drive.pin.signal for drive in port.pins} == {"strobe", *(f"data{k}" for k in range(7))}


def test_port_b_is_input() -> None:
    """The word that the driver writes, 82, makes port B an input and leaves A and C outputs (published layout)."""
    pins = pin_states(write_register(reset_state("8255"), 3, 0x82))
    assert not any(pins[f"PB{k}"].is_output for k in range(8))
    assert all(pins[f"PA{k}"].is_output and pins[f"PC{k}"].is_output for k in range(8))


def test_input_must_stay_input(port: RegisterMap) -> None:
    """BUSY comes in at port B bit 6: a program that made that pin an output would fight with the printer."""
    bit = port.register(0xF500, "write", "port").bit(6)
    assert bit.note == "j1.11 busy drives u4.24: as an output it would fight"
    assert port.register(0xF500, "write", "port").bit(5).note == ""
