"""Certain and possible addresses of boards traced in part, against every way in which the trace may be completed.

A completed board is decoded with nothing unknown; those decodes are tested against an HDL simulator and a solver
(`test_board_hdl`, `test_board_equivalence`).  What is certain must hold in all of them, what holds in one must be
possible.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pytest

from latchlore.base import BitKind
from latchlore.board import Board, Register, RegisterMap, decode, parse_board
from latchlore.board._accesses import evaluate_cycle
from latchlore.board._board import Direction
from latchlore.board._network import build_network
from tests.random_cuts import make_cut

LINES = 4


class Fact(NamedTuple):
    """An access reaches something: a bit of the data lines and a signal, perhaps inverted; bit -1 for a pulse."""

    direction: str
    address: int
    bit: int
    signal: str
    inverted: bool


def facts_at(register: Register, addresses: set[int], board: Board) -> set[Fact]:
    """What a register says of these addresses."""
    buffers = {part.name for part in board.parts if part.type.name in ("74244", "74240")}
    found = set()
    for address in addresses:
        for bit in register.bits:
            for reach in bit.reaches:
                found.add(Fact(register.direction, address, bit.number, reach.signal, reach.inverted))
            # A line that only a pull holds is no register; what stands on it is told where nothing else may drive it.
            if bit.sense.kind is BitKind.TIED and buffers & {at.owner for at in bit.way}:
                found.add(Fact(register.direction, address, bit.number, "tied", str(bit.sense) == "tied high"))
        found |= {Fact(register.direction, address, -1, r.signal, r.inverted) for r in register.reaches}
    return found


def unknown_at(register: Register, addresses: set[int]) -> set[tuple[str, int, int]]:
    """Direction, address and bit of what comes from somewhere that is not known."""
    return {
        (register.direction, address, bit.number)
        for address in addresses
        for bit in register.bits
        if bit.sense.kind is BitKind.UNKNOWN
    }


def certain_facts(found: RegisterMap) -> set[Fact]:
    """All that a map says for certain."""
    return {
        fact for r in found.registers for fact in facts_at(r, set(r.certain.iter_addresses()), found.board)
    }  # fmt: skip


def possible_facts(found: RegisterMap) -> tuple[set[Fact], set[tuple[str, int, int]]]:
    """All that a map says may be, and where something unknown may be."""
    facts: set[Fact] = set()
    unknown: set[tuple[str, int, int]] = set()
    for register in found.registers:
        addresses = set(register.addresses.iter_addresses())
        facts |= facts_at(register, addresses, found.board)
        unknown |= unknown_at(register, addresses)
    return facts, unknown


def unselected(board: Board) -> set[str]:
    """Signals that every access pulses or loads, or of which nothing traced says when: they are no register."""
    network = build_network(board)
    found = set()
    for cycle in board.cycles:
        access = evaluate_cycle(network, cycle)
        for net, node in enumerate(network.nets):
            before, now = access.rest.nets[net], access.active.nets[net]
            planes = (before.sure0 & now.sure1, before.sure1 & now.sure0, before.unknown & now.unknown)
            if access.full in planes:
                found |= {pin.signal for _, pin in node.plugs if pin.direction is Direction.OUT}
                outs = [out for b, _ in node.sinks if network.blocks[b].block.captures
                        for out in network.blocks[b].outputs]  # fmt: skip
                found |= {pin.signal for out in outs for _, pin in network.nets[out].plugs}
    return found


SERIES = ((), ("always",), ("card",), ("always", "card"), ("card", "always"), ("gate",), ("always", "gate"))


def check_cut(seed: int, series: tuple[str, ...], completions: int) -> tuple[int, int]:
    """Check one board over its completions; gives how many facts of data bits are certain, and how many only possible.

    Certain must be within the intersection over the completions, possible must hold their union.
    """
    cut = make_cut(seed, LINES, 1 + seed % 3, series=series)
    board = parse_board(cut.text(), f"partial-{seed}.nets")
    partial = decode(board)
    certain, (possible, unknown), nowhere = certain_facts(partial), possible_facts(partial), unselected(board)
    for joined in cut.completions(completions):
        board = parse_board(cut.text(joined), f"complete-{seed}.nets")
        whole, _ = possible_facts(decode(board))
        everywhere = unselected(board)
        missing = {fact for fact in certain - whole if fact.signal not in everywhere}
        assert not missing, (seed, cut.cut, joined, sorted(missing)[:3])
        extra = {fact for fact in whole - possible if fact[:3] not in unknown and fact.signal not in nowhere}
        assert not extra, (seed, cut.cut, joined, sorted(extra)[:3])
    return sum(fact.bit >= 0 for fact in certain), sum(fact.bit >= 0 for fact in possible - certain)


@pytest.mark.parametrize("series", SERIES, ids="-".join)
def test_certain_over_completions(series: tuple[str, ...]) -> None:
    """Random boards with one to three pins not traced, about a dozen completions each."""
    found = [check_cut(seed, series, 12) for seed in range(100, 110)]
    assert sum(certain for certain, _ in found) > 0
    assert sum(doubtful for _, doubtful in found) > 0


BUFFER_IN, BUFFER_OUT = (2, 4, 6, 8, 11, 13, 15, 17), (18, 16, 14, 12, 9, 7, 5, 3)


def input_port(transceivers: tuple[str, ...], select: str) -> Board:
    """A '244 on a '138 with one line of the decoder as given, its data through so many transceivers, always on."""
    rows = ["host z80 8", "part u1 74ls138", "part u2 74ls244", "part u4 74ls32", "plug j1 9"]
    rows += ["net a0 u1.1", "net a1 u1.2", "net a2 u1.3", "net iorq u1.5", "tie high u1.6", select]
    rows += ["net sel u1.15 u4.1", "net on u4.3 u2.1 u2.19"]
    names = [f"u{5 + k}" for k in range(len(transceivers))]
    rows += [f"part {name} {kind}" for name, kind in zip(names, transceivers, strict=True)]
    rows += [f"net rd u4.2 {' '.join(f'{name}.1' for name in names)}"]
    rows += [f"tie low {' '.join(f'{name}.19' for name in names)}"] if names else []
    for k in range(8):
        rows += [f"pin j1.{k + 1} s{k} in", f"net s{k} j1.{k + 1} u2.{BUFFER_IN[k]}"]
        pins = [
            f"u2.{BUFFER_OUT[k]}",
            *(pin for name in reversed(names) for pin in (f"{name}.{18 - k}", f"{name}.{2 + k}")),
        ]
        nets = [f"b{n}-{k}" for n in range(len(names), 0, -1)] + [f"d{k}"]
        rows += [f"net {net} {' '.join(pins[2 * n : 2 * n + 2])}" for n, net in enumerate(nets)]
    return parse_board("\n".join([*rows, ""]), "port.nets")


@pytest.mark.parametrize("through", [(), ("74ls245",), ("74ls640",), ("74645", "74ls245")], ids="-".join)
def test_certain_behind_transceivers(through: tuple[str, ...]) -> None:
    """A decoder's enable that is not traced: nothing is certain, however the data come to the host."""
    (register,) = decode(input_port(through, "doubt u1.4 not looked at")).registers
    assert str(register.addresses) == "xxxx x000"
    assert not register.certain
    assert register.unsure[0] == "u1.4 is not traced"


@pytest.mark.parametrize("through", [(), ("74ls245",), ("74ls640",), ("74645", "74ls245")], ids="-".join)
def test_certain_when_traced(through: tuple[str, ...]) -> None:
    """The same enable on A3: certain wherever it answers."""
    (register,) = decode(input_port(through, "net a3 u1.4")).registers
    assert str(register.addresses) == "xxxx 0000"
    assert register.certain == register.addresses
    assert not register.unsure


COLLECTOR = """
host z80 8
part u1 74ls138
part u2 74ls03
part u3 74ls04
part u4 74ls245
plug j1 2
net a0 u1.1
net a1 u1.2
net a2 u1.3
net iorq u1.5
tie high u1.6
net sel u1.15 u3.1
net on u3.2 u2.1
pin j1.1 ready in
net ready u2.2 j1.1
net b0 u2.3 u4.18
pull up b0 1k
net d0 u4.2
net rd u4.1
tie low u4.19
"""


def test_open_collector() -> None:
    """A signal through an open collector that may never be let through is certain nowhere."""
    partial = decode(parse_board(COLLECTOR, "x.nets")).registers
    assert [(str(r.addresses), bool(r.certain)) for r in partial if "u2" in r.parts] == [("xxxx x000", False)]
    whole = decode(parse_board(f"{COLLECTOR}net a3 u1.4\n", "x.nets")).registers
    found = [(str(r.addresses), r.certain == r.addresses, str(r.bits[0].sense)) for r in whole if "u2" in r.parts]
    assert found == [("xxxx 0000", True, "NOT ready")]


LATCHED = """
cycle port write 8 iorq down wr down
part u1 74ls138
part u2 74ls374
part u3 74ls245
plug j1 2
net a0 u1.1
net a1 u1.2
net a2 u1.3
{strobes}
tie high u1.6
net sel u1.15 u2.11
tie low u2.1 u3.1
{gate}
net d0 u3.18
net b0 u3.2 u2.3
pin j1.1 lamp out
net lamp u2.2 j1.1
"""


def latched(strobes: str, gate: str) -> Register:
    """The latch's register, with strobes and the transceiver's enable as given."""
    board = parse_board(LATCHED.format(strobes=strobes, gate=gate), "x.nets")
    return next(r for r in decode(board).registers if r.bits)


def test_write_through_a_gate_not_traced() -> None:
    """A clock that is certain does not make the data certain: the transceiver on their way may be off."""
    register = latched("net iorq u1.4\nnet wr u1.5", "doubt u3.19 not looked at")
    assert str(register.addresses) == "xxxx x000"
    assert not register.certain
    assert register.unsure[0] == "u3.19 is not traced"
    sure = latched("net iorq u1.4\nnet wr u1.5", "tie low u3.19")
    assert sure.certain == sure.addresses


def test_strobe_not_traced() -> None:
    """A decoder of which both strobes are not traced may still take the data, at its own addresses only."""
    register = latched("doubt u1.4 not looked at", "tie low u3.19")
    assert str(register.addresses) == "xxxx x000"
    assert not register.certain
    assert register.unsure[:2] == ("u1.4 is not traced", "u1.5 is not traced")
    assert register.note == "takes data at the start of the access or at its end"


@pytest.mark.parametrize(("clear", "certain"), [("tie high u2.1", True), ("doubt u2.1 not looked at", False)])
def test_clear_not_traced(clear: str, certain: bool) -> None:
    """A clear that is not traced may hold the latch for good: where it takes data is then certain nowhere."""
    text = LATCHED.format(strobes="net iorq u1.4\nnet wr u1.5", gate="tie low u3.19")
    text = text.replace("part u2 74ls374", "part u2 74ls273").replace("tie low u2.1 u3.1", f"tie low u3.1\n{clear}")
    register = next(r for r in decode(parse_board(text, "x.nets")).registers if r.bits)
    assert str(register.addresses) == "xxxx x000"
    assert register.certain == register.addresses if certain else not register.certain
    assert register.unsure[:1] == (() if certain else ("u2.1 is not traced",))


def test_clear_from_outside() -> None:
    """A clear that the computer's reset works is at rest while it accesses the card."""
    text = LATCHED.format(strobes="net iorq u1.4\nnet wr u1.5", gate="tie low u3.19")
    text = text.replace("part u2 74ls374", "part u2 74ls273").replace("tie low u2.1 u3.1", "tie low u3.1")
    text += "pin j1.2 reset in\nnet reset j1.2 u2.1\n"
    register = next(r for r in decode(parse_board(text, "x.nets")).registers if r.bits)
    assert register.certain == register.addresses


@pytest.mark.parametrize("exam", ["port-chips-at-ports", "port-chips-in-memory"])
def test_certain_in_port_chips(exam: str) -> None:
    """What a program writes into a port chip turns its pins round; the register that shows them is reached still.

    The boards are traced in full, so that all addresses are certain.
    """
    path = Path(__file__).parent.parent / "exams" / exam / "study" / "board" / "card.nets"
    registers = decode(parse_board(path.read_text("utf-8"), "card.nets")).registers
    assert len(registers) > 5
    assert all(register.certain == register.addresses for register in registers)


def test_conflict_with_unknown_logic() -> None:
    """An output of logic that nobody knows may be off: two drivers may be on together, certainly nowhere."""
    text = "host z80 8\npart u1 unknown 20\npart u2 74ls244\nlogic u1 in 1 2 out 19\nnet a0 u1.1\nnet a1 u1.2\n"
    found = decode(parse_board(f"{text}tie low u2.1\nnet d0 u1.19 u2.18\n", "x.nets"))
    during = [c for c in found.conflicts if c.during == "port read"]
    assert [(c.net, c.addresses.count, c.certain.count) for c in during] == [("d0", 256, 0)]
