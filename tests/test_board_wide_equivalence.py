"""Twenty-four address lines against a solver: each latch's addresses are equal to the formula of its clock (z3)."""

from __future__ import annotations

from typing import Any

import pytest
import z3

from latchlore.base import AddressSet
from latchlore.board import RegisterKind, decode, parse_board
from tests.test_board_equivalence import Formulas
from tests.test_board_wide import wide_board

LINES = 24


def member(addresses: AddressSet) -> Any:
    """Whether the address lines name a member."""
    return z3.Or(
        [
            z3.And([z3.Bool(f"a{k}") == bool(value >> k & 1) for k in range(LINES) if care >> k & 1])
            for care, value in addresses.cubes
        ]
    )


@pytest.mark.parametrize("seed", range(60, 72))
def test_latches_of_wide_boards(seed: int) -> None:
    """The address set of each latch equals the formula at every one of 16,777,216 addresses, and not with one more."""
    board = parse_board(wide_board(seed, LINES), f"wide-{seed}.nets")
    found = decode(board)
    proved = 0
    for part in board.parts:
        if part.type.name not in ("74374", "74273"):
            continue
        lines = {f"a{k}": z3.Bool(f"a{k}") for k in range(LINES)}
        rest, active = (Formulas(board, {"rw": False, "phi2": clock}) for clock in (False, True))
        rest.known |= lines
        active.known |= lines
        clock = rest.net_of[f"{part.name}.11"]
        pulse = z3.And(rest.net(clock), z3.Not(active.net(clock)))
        taken = [r.addresses for r in found.registers if r.kind is RegisterKind.TAKES and part.name in r.parts]
        whole = AddressSet.of((), LINES)
        for one in taken:
            whole = whole | one
        solver = z3.Solver()
        solver.add(z3.Xor(pulse, member(whole)))
        if not taken:
            # a latch that no address reaches, or that every address reaches, is no register
            assert z3.unsat in (z3.Solver().check(pulse), z3.Solver().check(z3.Not(pulse)))
            continue
        assert solver.check() == z3.unsat
        one_off = whole - AddressSet.of([whole.lowest], LINES)
        wrong = z3.Solver()
        wrong.add(z3.Xor(pulse, member(one_off)))
        assert wrong.check() == z3.sat
        proved += 1
    assert proved
