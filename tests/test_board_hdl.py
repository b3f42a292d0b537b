"""Decode of random boards against an HDL simulator, whose part models share nothing with the catalogue."""

from __future__ import annotations

import pathlib
import random
import re
import shutil
import subprocess

import pytest

from latchlore.base import BitKind
from latchlore.board import Board, Levels, Register, RegisterKind, RegisterMap, decode, parse_board
from latchlore.board._accesses import evaluate_cycle
from latchlore.board._network import build_network
from tests.random_boards import Maker

pytestmark = pytest.mark.hdl

MODELS = pathlib.Path(__file__).parent / "board_parts.v"


def verilog(board: Board, watched: list[str], inputs: list[str], fixed: dict[str, int], lines: int) -> str:
    """The board as a module with its test bench: every address, a read and a write, the watched nets in each phase."""
    names = {net.name: f"\\{net.name} " for net in board.nets}
    body = [f"wire {names[net.name]};" for net in board.nets]
    for part in board.parts:
        pins = [(at.pin, net.name) for net in board.nets for at in net.pins if at.owner == part.name]
        ports = ", ".join(f".p{pin}({names[net]})" for pin, net in sorted(pins))
        body.append(f"t{part.type.name} {part.name}({ports});")
    body += [f"pullup({names[pull.net]});" for pull in board.pulls]
    body += [f"assign {names[rail]} = 1'b{level};" for rail, level in (("gnd", 0), ("vcc", 1)) if rail in names]
    body += [f"assign {names[f'a{k}']} = address[{k}];" for k in range(lines) if f"a{k}" in names]
    body += [f"assign {names[net]} = now_{net};" for net in ("rw", "phi2") if net in names]
    body += [f"bufif1({names[f'd{k}']}, data[{k}], drives);" for k in range(8) if f"d{k}" in names]
    body += [f"assign {names[net]} = 1'b{fixed[net]};" for net in inputs if net in fixed and net in names]
    latches = [part.name for part in board.parts if part.type.name in ("74374", "74273")]
    shown = ", ".join(names[net] for net in watched)
    took = ", ".join(f"({name}.q === 8'hff)" for name in latches) or "1'b0"
    empty = " ".join(f"{name}.q = 8'h00;" for name in latches)
    seen = ", ".join(names.get(f"d{k}", "1'bz") for k in reversed(range(8)))
    bits = "%b" * 8
    return f"""
module bench;
reg [{lines - 1}:0] address; reg now_rw, now_phi2, drives; reg [7:0] data; integer k;
{chr(10).join(body)}
initial for (k = 0; k < {1 << lines}; k = k + 1) begin
  address = k; now_phi2 = 0; now_rw = 1; drives = 0; data = 8'h00; #1 $display("r %b", {{{shown}}}); now_phi2 = 1; #1
  $display("R %b {bits}", {{{shown}}}, {seen}); now_phi2 = 0; #1
  now_rw = 0; drives = 1; data = 8'hff; #1 $display("w %b", {{{shown}}});
  {empty} now_phi2 = 1; #1 $display("W %b", {{{shown}}});
  now_phi2 = 0; #1 $display("T %b", {{{took}}});
end
endmodule
"""


def simulate(text: str, folder: pathlib.Path) -> dict[str, list[str]]:
    """Run the simulator; the lines of each kind in address order."""
    if shutil.which("iverilog") is None:
        pytest.skip("the HDL simulator iverilog is not installed")
    source, program = folder / "bench.v", folder / "bench.vvp"
    source.write_text(text)
    # -s: a model that no board uses must not become a root of its own (the simulator fails on its open pins)
    command = ["iverilog", "-g2012", "-s", "bench", "-o", str(program), str(MODELS), str(source)]
    subprocess.run(command, check=True, timeout=60)
    run = subprocess.run(["vvp", "-n", str(program)], check=True, timeout=120, capture_output=True, text=True)
    found: dict[str, list[str]] = {"r": [], "R": [], "w": [], "W": [], "T": []}
    for line in run.stdout.splitlines():
        kind, _, rest = line.partition(" ")
        if kind in found:
            found[kind].append(rest)
    return found


def levels_at(levels: Levels, k: int) -> str:
    """One situation of a net: 0, 1 or ? for not known."""
    low, high = levels.can0 >> k & 1, levels.can1 >> k & 1
    return "?" if low and high else "1" if high else "0"


def compare_nets(board: Board, watched: list[str], seen: dict[str, list[str]], lines: int, *, exact: bool) -> int:
    """Compare every watched net in both phases of both accesses.

    `exact`: nothing in the simulation is unknown but what nobody drives, so a known level must be equal; else the
    simulator's unknown allows anything, and its known levels must be known to us too.
    """
    network = build_network(board)
    checked = 0
    for cycle, rest, active in zip(board.cycles, "rw", "RW", strict=True):
        access = evaluate_cycle(network, cycle)
        for phase, key in ((access.rest, rest), (access.active, active)):
            for column, name in enumerate(watched):
                at = network.index[board.net(name).pins[0]]
                for address in range(1 << lines):
                    k = sum((address >> line & 1) << n for n, line in enumerate(access.lines))
                    ours, theirs = levels_at(phase.nets[at], k), seen[key][address].split()[0][column]
                    if ours != "?" and theirs in "01":
                        assert ours == theirs, (name, hex(address), key)
                    elif not exact and theirs in "01":
                        pytest.fail(f"{name} at {address:X} in {key}: {theirs} in the simulator, unknown here")
                    elif exact and ours != "?":
                        pytest.fail(f"{name} at {address:X} in {key}: {theirs} in the simulator, {ours} here")
                    checked += 1
    return checked


def watched_nets(board: Board) -> list[str]:
    """Nets whose level does not depend on the data or on what a latch holds."""
    names = []
    for net in board.nets:
        stem = re.sub(r"\d.*", "", net.name)
        if stem in ("d", "b") or net.name in ("gnd", "vcc") or re.match(r"u\d+[qsi]\d+", net.name):
            continue
        names.append(net.name)
    return names


@pytest.mark.parametrize("seed", range(10))
def test_nets_of_random_boards(seed: int, tmp_path: pathlib.Path) -> None:
    """Every net of the decode, at every address, in every phase, with lines from outside left unknown (iverilog)."""
    text = Maker(seed, 9).build(unknowns=seed % 3, buffered=seed % 2 == 1)
    board = parse_board(text, f"random-{seed}.nets")
    watched = watched_nets(board)
    seen = simulate(verilog(board, watched, [], {}, 9), tmp_path)
    assert compare_nets(board, watched, seen, 9, exact=False) > 10_000


@pytest.mark.parametrize("seed", range(4))
def test_possible_levels_of_random_boards(seed: int, tmp_path: pathlib.Path) -> None:
    """Whatever level an unknown line takes, the simulated nets stay within what is possible (iverilog)."""
    board = parse_board(Maker(seed, 8).build(unknowns=1, buffered=False), f"random-{seed}.nets")
    watched = [name for name in watched_nets(board) if name != "unk0"]
    for level in (0, 1):
        seen = simulate(verilog(board, watched, ["unk0"], {"unk0": level}, 8), tmp_path)
        network = build_network(board)
        access = evaluate_cycle(network, board.cycles[0])
        for column, name in enumerate(watched):
            levels = access.active.nets[network.index[board.net(name).pins[0]]]
            for address in range(256):
                k = sum((address >> line & 1) << n for n, line in enumerate(access.lines))
                theirs = seen["R"][address].split()[0][column]
                assert levels_at(levels, k) in ("?", theirs), (name, address)


def reads_at(registers: RegisterMap, address: int) -> Register | None:
    """The register that gives at an address."""
    for register in registers.registers:
        if register.kind is RegisterKind.GIVES and address in register.addresses:
            return register
    return None


@pytest.mark.parametrize("seed", range(20, 28))
def test_registers_of_random_boards(seed: int, tmp_path: pathlib.Path) -> None:
    """What each address writes and reads: latches that took the data, bits that came back (iverilog).

    The signals of the connector have random fixed levels; a conflict between two buffers is told where it is.
    """
    lines = 9
    board = parse_board(Maker(seed, lines).build(unknowns=0, buffered=seed % 2 == 0), f"random-{seed}.nets")
    registers = decode(board)
    inputs = [
        pin.signal for plug in board.connectors for pin in plug.pins if not plug.is_host and pin.direction == "in"
    ]
    chance = random.Random(seed)
    fixed = {name: chance.randint(0, 1) for name in inputs}
    seen = simulate(verilog(board, watched_nets(board), inputs, fixed, lines), tmp_path)
    latches = [part.name for part in board.parts if part.type.name in ("74374", "74273")]
    for column, name in enumerate(latches):
        took = {k for k in range(1 << lines) if seen["T"][k][column] == "1"}
        ours = {
            k
            for r in registers.registers
            if r.kind is RegisterKind.TAKES and name in r.parts
            for k in r.addresses.iter_addresses()
        }
        assert took == ours or (len(ours) == 0 and took in (set(), set(range(1 << lines)))), name
    fights = [c for c in registers.conflicts if "read" in c.during]
    for address in range(1 << lines):
        data = seen["R"][address].split()[1]
        register = reads_at(registers, address)
        for k in range(8):
            theirs = data[7 - k]
            if any(c.net in (f"d{k}", f"b{k}") and address in c.addresses for c in fights):
                continue
            bits = [bit for bit in register.bits if bit.number == k] if register else []
            kind = bits[0].sense.kind if bits else BitKind.UNCONNECTED
            if kind is BitKind.FOLLOWS:
                assert theirs == str(fixed[bits[0].sense.source] ^ bits[0].sense.inverted), (hex(address), k)
            elif kind is BitKind.TIED:
                assert theirs == str(bits[0].sense.level), (hex(address), k)
            else:
                assert kind is BitKind.UNCONNECTED
                assert theirs in "xz", (hex(address), k)
