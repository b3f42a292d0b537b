"""Decode of random boards against a solver: the condition of every latch is equal to the formula of its gates.

The formulas are written here from the makers' function tables and share nothing with the catalogue (z3).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import z3

from latchlore.base import AddressSet
from latchlore.board import Board, RegisterKind, decode, parse_board
from tests.random_boards import GATES, Maker

LINES = 9

FORMULAS: dict[str, Callable[[list[Any]], Any]] = {
    "7400": lambda pins: z3.Not(z3.And(pins)),
    "7402": lambda pins: z3.Not(z3.Or(pins)),
    "7404": lambda pins: z3.Not(pins[0]),
    "7408": z3.And,
    "7410": lambda pins: z3.Not(z3.And(pins)),
    "7411": z3.And,
    "7420": lambda pins: z3.Not(z3.And(pins)),
    "7421": z3.And,
    "7427": lambda pins: z3.Not(z3.Or(pins)),
    "7430": lambda pins: z3.Not(z3.And(pins)),
    "7432": z3.Or,
    "7486": lambda pins: z3.Xor(pins[0], pins[1]),
}


class Formulas:
    """The formula of every net in one phase of an access."""

    def __init__(self, board: Board, fixed: dict[str, bool]) -> None:
        self.net_of = {str(at): net.name for net in board.nets for at in net.pins}
        self.pins_of = {net.name: [at for at in net.pins if at.owner.startswith("u")] for net in board.nets}
        self.types = {part.name: part.type.name for part in board.parts}
        self.known: dict[str, Any] = {f"a{k}": z3.Bool(f"a{k}") for k in range(LINES)}
        self.known |= {name: z3.BoolVal(level) for name, level in {**fixed, "gnd": False, "vcc": True}.items()}

    def net(self, name: str) -> Any:
        """The formula of a net: the host's line, or the output that drives it."""
        if name not in self.known:
            self.known[name] = next(
                formula for at in self.pins_of[name] if (formula := self.output(at.owner, at.pin)) is not None
            )
        return self.known[name]

    def output(self, part: str, pin: int) -> Any | None:
        """The formula of an output pin; None for an input."""
        kind = self.types[part]
        if kind == "74138" and pin in (15, 14, 13, 12, 11, 10, 9, 7):
            number = (15, 14, 13, 12, 11, 10, 9, 7).index(pin)
            at = [self.net(self.net_of[f"{part}.{k}"]) for k in (1, 2, 3, 4, 5, 6)]
            chosen = [at[k] if number >> k & 1 else z3.Not(at[k]) for k in range(3)]
            return z3.Not(z3.And(*chosen, z3.Not(at[3]), z3.Not(at[4]), at[5]))
        for inputs, output in GATES.get(kind, ()):
            if output == pin:
                return FORMULAS[kind]([self.net(self.net_of[f"{part}.{k}"]) for k in inputs])
        return None


def member(addresses: AddressSet) -> Any:
    """Whether the address lines name a member."""
    cubes = [
        z3.And([z3.Bool(f"a{k}") == bool(value >> k & 1) for k in range(LINES) if care >> k & 1])
        for care, value in addresses.cubes
    ]
    return z3.Or(cubes)


@pytest.mark.parametrize("seed", range(40, 60))
def test_latches_of_random_boards(seed: int) -> None:
    """A latch takes the data at exactly the addresses for which its clock's formula pulses during a write (z3)."""
    board = parse_board(Maker(seed, LINES).build(unknowns=0, buffered=seed % 2 == 0), f"random-{seed}.nets")
    registers = decode(board)
    rest = Formulas(board, {"rw": False, "phi2": False})
    active = Formulas(board, {"rw": False, "phi2": True})
    proved = 0
    for part in board.parts:
        if part.type.name not in ("74374", "74273"):
            continue
        clock = rest.net_of[f"{part.name}.11"]
        pulse = z3.And(rest.net(clock), z3.Not(active.net(clock)))
        found = [r for r in registers.registers if r.kind is RegisterKind.TAKES and part.name in r.parts]
        writes = [r.addresses for r in found if r.direction == "write"]
        solver = z3.Solver()
        solver.add(z3.Xor(pulse, z3.Or([member(one) for one in writes])))
        assert solver.check() == z3.unsat, (part.name, clock, solver.model())
        proved += 1
    assert proved == 2


def test_latches_wrong() -> None:
    """One address more or less is found by the solver, so that the proof above can fail."""
    board = parse_board(Maker(40, LINES).build(unknowns=0, buffered=True), "random-40.nets")
    rest = Formulas(board, {"rw": False, "phi2": False})
    active = Formulas(board, {"rw": False, "phi2": True})
    part = next(part for part in board.parts if part.type.name in ("74374", "74273"))
    clock = rest.net_of[f"{part.name}.11"]
    pulse = z3.And(rest.net(clock), z3.Not(active.net(clock)))
    registers = decode(board)
    found = [r for r in registers.registers if r.kind is RegisterKind.TAKES and part.name in r.parts]
    right = [r.addresses for r in found if r.direction == "write"]
    whole = right[0] if right else AddressSet.of((), LINES)
    one = AddressSet.of([0x55], LINES)
    for wrong in (whole | one if 0x55 not in whole else whole - one,):
        solver = z3.Solver()
        solver.add(z3.Xor(pulse, member(wrong)))
        assert solver.check() == z3.sat
