"""Wide address spaces: nets that stand for many address lines give the same addresses as all lines together."""

from __future__ import annotations

import pytest

from latchlore.base import AddressSet, Unsupported
from latchlore.board import Register, RegisterKind, _accesses, decode, parse_board
from latchlore.board._cones import find_cones
from latchlore.board._network import build_network
from tests.random_boards import GATES, Maker


def wide_board(seed: int, lines: int) -> str:
    """Trees of random gates over separate address lines, a decoder on the lowest ones, two latches."""
    maker = Maker(seed, lines)
    pool = [f"a{k}" for k in range(4, lines)]
    maker.random.shuffle(pool)
    tops: list[str] = []
    while len(pool) >= 2:
        kind = maker.random.choice([name for name, sections in GATES.items() if len(sections[0][0]) <= len(pool)])
        name = maker.part(kind)
        for inputs, output in GATES[kind]:
            if len(inputs) > len(pool):
                break
            for pin in inputs:
                maker.join(pool.pop(), f"{name}.{pin}")
            net = f"n{name[1:]}-{output}"
            maker.join(net, f"{name}.{output}")
            tops.append(net)
        pool += [tops.pop(0)] if len(tops) > 3 else []
    name = maker.part("74138")
    enables = (*tops, *pool, "gnd", "gnd")
    for pin, net in zip((1, 2, 3, 4, 5), ("a0", "a1", "a2", enables[0], enables[1]), strict=True):
        maker.join(net, f"{name}.{pin}")
    maker.join("phi2", f"{name}.6")
    last = maker.part("7432")
    for k, (pin, net) in enumerate(zip((1, 2), ((*tops, *pool)[-1], f"y{name}"), strict=True)):
        maker.join(net, f"{last}.{pin}")
        if k:
            maker.join(net, f"{name}.15")
    maker.join("clk", f"{last}.3")
    maker.join("clk2", f"{name}.14")
    data = [f"d{k}" for k in range(8)]
    maker.latch("clk", data)
    maker.latch("clk2", data)
    return maker.write(0)


def sets(registers: tuple[Register, ...]) -> list[tuple[tuple[str, ...], AddressSet, AddressSet]]:
    """Parts and addresses of what takes data."""
    return [(r.parts, r.addresses, r.certain) for r in registers if r.kind is RegisterKind.TAKES]


@pytest.mark.parametrize("seed", range(12))
def test_cones(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sixteen lines, once all together and once with nets in their place: the same registers at the same addresses."""
    board = parse_board(wide_board(seed, 16), "x.nets")
    plain = decode(board)
    assert plain.registers
    monkeypatch.setattr(_accesses, "SPLIT_ABOVE", 0)
    assert sets(decode(board).registers) == sets(plain.registers)


def test_24_lines() -> None:
    """Twenty-four lines: eight behind one NAND, eight behind a comparator, the rest direct; by hand."""
    high, low = [f"a{k}" for k in range(16, 24)], [f"a{k}" for k in range(8, 16)]
    nand = [f"net {line} u1.{pin}" for line, pin in zip(high, (1, 2, 3, 4, 5, 6, 11, 12), strict=True)]
    compare = [f"net {line} u2.{pin}" for line, pin in zip(low, (2, 4, 6, 8, 11, 13, 15, 17), strict=True)]
    text = "\n".join(
        [
            "cycle memory write 24 rw low phi2 up",
            "part u1 7430\npart u2 74688\npart u3 74138\npart u4 74273",
            *nand,
            *compare,
            "tie low u2.1 u2.3 u2.7 u2.12 u2.16\ntie high u2.5 u2.9 u2.14 u2.18",
            "net top u1.8 u3.4\nnet page u2.19 u3.5\nnet phi2 u3.6\nnet a0 u3.1\nnet a1 u3.2\nnet rw u3.3",
            "net clk u3.13 u4.11\nnet d0 u4.3\ntie high u4.1",
        ]
    )
    (register,) = decode(parse_board(text, "x.nets")).registers
    # Q of the comparator: pins 5, 9, 14, 18 high are bits 1, 3, 5, 7, that is AA; output 2 of the decoder: A1 1, A0 0
    assert str(register.addresses) == "1111 1111 1010 1010 xxxx xx10"
    assert register.certain == register.addresses


def test_lines_wrong() -> None:
    """More lines than can be computed, all looked at by two gates, are refused with the number."""
    nets = [f"net a{k} u{1 + k // 8}.{pin} u{4 + k // 8}.{pin}" for k in range(24) for pin in [_pin(k)]]
    parts = [f"part u{k} 7430" for k in range(1, 7)]
    text = "\n".join(["cycle memory write 24 rw low phi2 up", *parts, *nets])
    with pytest.raises(Unsupported, match=r"^x\.nets:1: 24 address lines matter together; 22 can be computed$"):
        decode(parse_board(text, "x.nets"))


def _pin(line: int) -> int:
    return (1, 2, 3, 4, 5, 6, 11, 12)[line % 8]


@pytest.mark.parametrize("seed", range(3))
def test_cones_of_18_lines(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same with eighteen lines, where nets stand in their place without being asked to."""
    board = parse_board(wide_board(seed, 18), "x.nets")
    split = decode(board)
    monkeypatch.setattr(_accesses, "SPLIT_ABOVE", 30)
    assert sets(split.registers) == sets(decode(board).registers)


def test_find_cones() -> None:
    """Nets that stand for lines are found on nearly every such board; a line looked at elsewhere is in none."""
    found = 0
    for seed in range(12):
        board = parse_board(wide_board(seed, 16), "x.nets")
        network = build_network(board)
        cones = find_cones(network, _accesses.cone_lines(network, board.cycles[0]))
        found += bool(cones)
        assert all({0, 1, 2}.isdisjoint(cone.lines) for cone in cones)
        assert all(cone.low == ~cone.high for cone in cones)
    assert found >= 10
