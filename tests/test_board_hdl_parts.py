"""Random boards of multiplexers, decoders, comparators and three-state gates against an HDL simulator (iverilog)."""

from __future__ import annotations

import pathlib

import pytest

from latchlore.board import parse_board
from tests.random_boards import Maker
from tests.test_board_hdl import compare_nets, simulate, verilog, watched_nets

pytestmark = pytest.mark.hdl

LINES = 9

PACKAGES: dict[str, list[tuple[tuple[int, ...], tuple[int, ...]]]] = {
    "74139": [((1, 2, 3), (4, 5, 6, 7)), ((15, 14, 13), (12, 11, 10, 9))],
    "74155": [((3, 13), ()), ((1, 2), (7, 6, 5, 4)), ((14, 15), (9, 10, 11, 12))],
    "74157": [((1, 15), ()), ((2, 3), (4,)), ((5, 6), (7,)), ((11, 10), (9,)), ((14, 13), (12,))],
    "74688": [((1, 2, 3, 4, 5, 6, 7, 8, 9, 11, 12, 13, 14, 15, 16, 17, 18), (19,))],
    "74125": [((1, 2), (3,)), ((4, 5), (6,)), ((10, 9), (8,)), ((13, 12), (11,))],
    "74126": [((1, 2), (3,)), ((4, 5), (6,)), ((10, 9), (8,)), ((13, 12), (11,))],
    "74367": [((1,), ()), ((2,), (3,)), ((4,), (5,)), ((6,), (7,)), ((10,), (9,)), ((15,), ()), ((12,), (11,)),
              ((14,), (13,))],
}  # fmt: skip
"""Sections of packages: input pins and output pins, from the makers' pin diagrams."""

THREE_STATE = ("74125", "74126", "74367")


def mixed_board(seed: int, unknowns: int) -> str:
    """Gates, then packages of all kinds on anything before them; three-state outputs are pulled or joined in pairs."""
    maker = Maker(seed, LINES)
    sources = [*(f"a{k}" for k in range(LINES)), "rw", "phi2", *(f"unk{k}" for k in range(unknowns))]
    maker.gate(sources)
    for kind in maker.random.sample(list(PACKAGES), 5):
        name = maker.part(kind)
        here = [*sources, *maker.loose]
        made: list[str] = []
        for inputs, outputs in PACKAGES[kind]:
            for pin in inputs:
                # a comparator of random lines is nearly never equal: tie most of its pairs together
                maker.join(maker.random.choice(here[:3] if kind == "74688" else here), f"{name}.{pin}")
            for pin in outputs:
                # neighbours of three-state packages share a net now and then, so that they may fight or float
                shared = kind in THREE_STATE and made and maker.random.random() < 0.3
                net = made[-1] if shared else f"n{name[1:]}-{pin}"
                maker.join(net, f"{name}.{pin}")
                if not shared:
                    made.append(net)
                if kind in THREE_STATE and maker.random.random() < 0.5:
                    maker.pulled.add(net)
        maker.loose += made
    maker.gate([*sources, *maker.loose])
    return maker.write(unknowns)


@pytest.mark.parametrize("seed", range(100, 116))
def test_nets_of_mixed_boards(seed: int, tmp_path: pathlib.Path) -> None:
    """Every net at every address in every phase, unknown lines, floating nets and fights included."""
    board = parse_board(mixed_board(seed, seed % 2), f"mixed-{seed}.nets")
    watched = watched_nets(board)
    seen = simulate(verilog(board, watched, [], {}, LINES), tmp_path)
    assert compare_nets(board, watched, seen, LINES, exact=False) > 10_000
