"""Gates that feed themselves: latches made of gates in the decode, oscillators, and the same in an HDL simulator."""

from __future__ import annotations

import pathlib

import pytest

from latchlore.base import SubjectKind
from latchlore.board import Board, RegisterKind, decode, parse_board
from latchlore.board import testify as say
from latchlore.board._accesses import evaluate_cycle
from latchlore.board._loops import describe_loop
from latchlore.board._network import build_network
from tests.test_board_hdl import levels_at, simulate, verilog

HEAD = """
cycle memory read 8 rw high phi2 up
cycle memory write 8 rw low phi2 up
part u1 74138
net phi2 u1.6
net a7 u1.5
net a0 u1.1
net a1 u1.2
net rw u1.3
tie low u1.4
plug p1 20 host
pin p1.1 rw in
pin p1.2 phi2 in
plug j1 9 printer
pin j1.1 led out
"""

SET_RESET = """
part u2 7400
part u3 7400
net s u1.15 u2.1
net r u1.14 u3.2
net q u2.3 u3.1 j1.1
net nq u3.3 u2.2
"""

OPEN_LATCH = """
part u2 7404
part u3 7400
net take u1.15 u2.1
net gate u2.2 u3.1 u3.4
net d3 u3.2 u2.3
net nd u2.4 u3.5
net s u3.3 u3.9
net r u3.6 u3.13
net q u3.8 u3.12 j1.1
net nq u3.11 u3.10
"""


def test_set_and_reset() -> None:
    """Two NANDs of two packages: one write sets the latch, another clears it, and the pin follows its state."""
    found = decode(parse_board(HEAD + SET_RESET + "done all\n", "x.nets"))
    (loop,) = found.loops
    assert (
        describe_loop(loop) == "latch of u2.3, u3.3: u2.3 is set where s is low, cleared where s is high and r is low"
    )
    effects = {str(r.addresses): r.effects for r in found.registers if r.kind is RegisterKind.PULSES}
    assert effects == {"0xxx xx00": ("sets u2.3",), "0xxx xx01": ("clears u2.3",)}
    (drive,) = [drive for drive in found.pins if drive.pin.signal == "led"]
    assert str(drive.sense) == "the state of u2.3"


def test_open_latch() -> None:
    """Four NANDs and an inverter are a latch that takes D3 while the write lasts."""
    found = decode(parse_board(HEAD + OPEN_LATCH + "done all\n", "x.nets"))
    (loop,) = found.loops
    assert loop.follows is not None
    (register,) = [r for r in found.registers if r.kind is RegisterKind.TAKES]
    assert str(register.addresses) == "0xxx xx00"
    (bit,) = register.bits
    assert (bit.number, str(bit.sense), register.note) == (3, "led", "open during the access")
    (drive,) = [drive for drive in found.pins if drive.pin.signal == "led"]
    assert str(drive.sense) == "0000 (write) bit 3"


def test_nor_latch() -> None:
    """Two NORs: set and cleared by high levels."""
    text = HEAD + (
        "part u2 7402\npart u4 7404\nnet y0 u1.15 u4.1\nnet y1 u1.14 u4.3\nnet s u4.2 u2.2\nnet r u4.4 u2.6\n"
        "net nq u2.1 u2.5\nnet q u2.4 u2.3 j1.1\ndone all\n"
    )
    found = decode(parse_board(text, "x.nets"))
    effects = {str(r.addresses): r.effects for r in found.registers if r.kind is RegisterKind.PULSES}
    # the first gate of the pair shows the opposite of what the connector sees
    assert effects == {"0xxx xx00": ("clears u2.1",), "0xxx xx01": ("sets u2.1",)}
    (drive,) = [drive for drive in found.pins if drive.pin.signal == "led"]
    assert str(drive.sense) == "NOT the state of u2.1"


def test_oscillator() -> None:
    """A NAND fed by its own output turns over while its other input is high."""
    found = decode(parse_board(HEAD + "part u2 7400\nnet go u1.15 u2.1\nnet osc u2.2 u2.3 j1.1\ndone all\n", "x.nets"))
    assert [describe_loop(loop) for loop in found.loops] == [
        "u2.3 feed themselves and turn over by themselves where go is high"
    ]


def test_feedback_that_never_matters() -> None:
    """An OR whose other input is the supply does not care for its own output."""
    found = decode(parse_board(HEAD + "part u2 7432\ntie high u2.1\nnet q u2.2 u2.3 j1.1\ndone all\n", "x.nets"))
    (loop,) = found.loops
    # the supply is an input like others; with it low the gate would keep what it has
    assert loop.kind == "latch"
    (drive,) = [drive for drive in found.pins if drive.pin.signal == "led"]
    assert str(drive.sense) == "always 1"


def test_testimony() -> None:
    """The board says what the gates make."""
    board = parse_board(HEAD + SET_RESET + "done all\n", "x.nets")
    (said,) = [t for t in say(board, decode(board)) if str(t.subject).startswith("feedback")]
    assert said.subject.kind is SubjectKind.NOTE
    assert str(said.value).startswith("latch of u2.3, u3.3")
    assert {str(origin) for origin in said.origins} == {"x.nets:17", "x.nets:18"}


@pytest.mark.hdl
@pytest.mark.parametrize("text", [SET_RESET, OPEN_LATCH], ids=["set-reset", "open"])
def test_latches_in_the_simulator(text: str, tmp_path: pathlib.Path) -> None:
    """Wherever our levels are known the simulated gates have them, in every phase of every access (iverilog)."""
    board = parse_board(HEAD + text + "done all\n", "x.nets")
    watched = [net.name for net in board.nets if net.name not in ("gnd", "vcc", "d3")]
    seen = simulate(verilog(board, watched, [], {}, 8), tmp_path)
    assert compared(board, watched, seen) > 4000


def compared(board: Board, watched: list[str], seen: dict[str, list[str]]) -> int:
    """How many known levels were compared; each must be equal."""
    network = build_network(board)
    count = 0
    for cycle, rest, active in zip(board.cycles, "rw", "RW", strict=True):
        access = evaluate_cycle(network, cycle)
        for phase, key in ((access.rest, rest), (access.active, active)):
            for column, name in enumerate(watched):
                at = network.index[board.net(name).pins[0]]
                for address in range(256):
                    k = sum((address >> line & 1) << n for n, line in enumerate(access.lines))
                    ours, theirs = levels_at(phase.nets[at], k), seen[key][address].split()[0][column]
                    if ours != "?":
                        assert ours == theirs, (name, hex(address), key)
                        count += 1
    return count
