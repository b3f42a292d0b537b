"""Structural Verilog, read and written: equal nets both ways, and equal behaviour in an HDL simulator."""

from __future__ import annotations

import pathlib
import random
import re
import shutil
import subprocess

import pytest

from latchlore.base import BadInput, Origin, Unsupported
from latchlore.board import Board, ConnectorPin, decode, parse_board, parse_netlist, write_verilog
from tests.random_boards import Maker
from tests.test_board_hdl import compare_nets, simulate, verilog, watched_nets

ROOT = pathlib.Path(__file__).resolve().parent.parent
NET_FILES = sorted([*ROOT.glob("exams/*/study/board/*.nets"), *ROOT.glob("src/latchlore/demo/board/*.nets")])


def shape(board: Board) -> tuple[object, ...]:
    """All that a board says, without places and order of pins."""
    return (
        {net.name: frozenset(net.pins) for net in board.nets},
        [(part.name, part.type, part.marking, part.words) for part in board.parts],
        [
            (plug.name, plug.size, plug.is_host, plug.words, [_pin(pin) for pin in plug.pins])
            for plug in board.connectors
        ],
        [(strap.name, strap.size, strap.joined) for strap in board.straps],
        [
            (cycle.space, cycle.direction, cycle.lines, cycle.width, cycle.base, cycle.controls)
            for cycle in board.cycles
        ],
        sorted((pull.net, pull.level, pull.words) for pull in board.pulls),
        [(doubt.place, doubt.words) for doubt in board.doubts],
        [(card.name, card.space, card.directions, card.addresses) for card in board.cards],
        board.title,
        board.open_pins,
        board.not_traced,
    )


def _pin(pin: ConnectorPin) -> tuple[object, ...]:
    return (pin.number, pin.signal, pin.direction, pin.active)


@pytest.mark.parametrize("file", NET_FILES, ids=lambda file: file.parts[-4] + "-" + file.stem)
def test_round_trip(file: pathlib.Path) -> None:
    """A net file written as Verilog and read back says the same, and is written the same."""
    board = parse_board(file.read_text("utf-8"), "a.nets")
    text = write_verilog(board)
    back = parse_board(text, "a.v")
    assert shape(back) == shape(board)
    assert write_verilog(back) == text


@pytest.mark.parametrize("seed", range(12))
def test_round_trip_of_random_boards(seed: int) -> None:
    """The same of random boards, with odd names of nets."""
    text = Maker(seed, 9).build(unknowns=seed % 3, buffered=seed % 2 == 0)
    board = parse_board(re.sub(r"\bwired\b", "w+i(r)e", text), "a.nets")
    assert shape(parse_board(write_verilog(board), "a.v")) == shape(board)


@pytest.mark.hdl
@pytest.mark.parametrize("seed", range(4))
def test_written_verilog_runs(seed: int, tmp_path: pathlib.Path) -> None:
    """The written module with independent part models behaves as our decode says, at every address (iverilog)."""
    lines = 8
    board = parse_board(Maker(seed, lines).build(unknowns=seed % 2, buffered=False), "a.nets")
    watched = watched_nets(board)
    bench = verilog(board, watched, [], {}, lines)
    # The bench keeps its stimulus; its parts, pull-ups and supplies are ours.
    own = write_verilog(board, stubs=False)
    head, _, tail = own[own.index("module board;") + len("module board;") :].partition("endmodule")
    kept = [row for row in bench.splitlines() if not re.match(r"t7\d+ |wire |pullup|assign \\(gnd|vcc) ", row)]
    at = next(k for k, row in enumerate(kept) if row.startswith("reg "))
    text = "\n".join([*kept[: at + 1], head, *kept[at + 1 :], tail])
    seen = simulate(text, tmp_path)
    assert compare_nets(board, watched, seen, lines, exact=False) > 5_000


@pytest.mark.hdl
def test_written_verilog_compiles_alone(tmp_path: pathlib.Path) -> None:
    """With its stubs the written text compiles by itself, without a warning (iverilog)."""
    if shutil.which("iverilog") is None:
        pytest.skip("the HDL simulator iverilog is not installed")
    for file in NET_FILES[:3]:
        text = write_verilog(parse_board(file.read_text("utf-8"), "a.nets"))
        source = tmp_path / "alone.v"
        source.write_text(text)
        run = subprocess.run(
            ["iverilog", "-s", "board", "-o", str(tmp_path / "alone.vvp"), str(source)],
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
        assert (run.returncode, run.stderr) == (0, "")


STRUCTURE = r"""
`timescale 1ns / 1ps
// a card in two modules
(* said_1 = "host z80 8" *)
module card(input [7:0] a, inout [7:0] d, input iorq, wr, output [1:0] q);
  wire n1, sel, ck;
  supply0 gnd;
  select s(.lines(a[3:0]), .n(sel));
  or (ck, sel, strobes[0], strobes[1]);
  wire [1:0] strobes = {iorq, wr};
  SN74LS374N u1(gnd, q[0], d[0], d[1], q[1]);
  assign u1_clock = ck;
  t74374 u2(.\1D (d[0]), .p2(n2), .CLK(u1_clock), .p1(1'b0), .p5());
  /* read back
     by nothing */
  not #3 i1(n1, n2);
  pullup \pull-1=4k7 (n1);
  resistor r1(n1, a[7]);
endmodule
module select(lines, n);
  input [3:0] lines;
  output n;
  nand (n, lines[3], lines[2], lines[0]);
endmodule
module t74374(p1, p2);
  input p1; output p2;
  always @(posedge p1) p2 = 1;
endmodule
"""


def test_structure() -> None:
    """Vectors, places, names, concatenations, assigns, gates, modules inside modules, attributes and supplies."""
    board = parse_board(STRUCTURE, "card.v")
    nets = {net.name: sorted(str(at) for at in net.pins) for net in board.nets}
    assert nets["d0"] == ["ports.16", "u1.3", "u2.3"]
    assert nets["q1"] == ["ports.19", "u1.5"]
    assert nets["sel"] == ["or-1.2", "s-nand-1.1"]
    assert nets["a3"] == ["ports.5", "s-nand-1.2"]
    assert nets["ck"] == ["or-1.1", "u2.11"]
    assert nets["gnd"] == ["u1.1", "u2.1"]
    assert nets["iorq"] == ["or-1.4", "ports.17"]
    assert nets["wr"] == ["or-1.3", "ports.18"]
    assert {part.name: part.type.name for part in board.parts} == {
        "s-nand-1": "gate-nand-3",
        "or-1": "gate-or-3",
        "u1": "74374",
        "u2": "74374",
        "i1": "gate-not",
        "r1": "resistor",
    }
    assert [(pull.net, pull.words) for pull in board.pulls] == [("n1", "4k7")]
    assert {str(at) for at in board.open_pins} == {"u2.5"}
    assert [str(net.origin) for net in board.nets if net.name == "sel"] == ["card.v:23"]


def test_structure_decodes() -> None:
    """The card of gates decodes: the latch takes data where A3, A2 and A0 are 1."""
    found = decode(parse_board(STRUCTURE, "card.v"))
    assert [str(r.addresses) for r in found.registers if "u2" in r.parts] == ["xxxx 11x1"]


def test_with_net_file() -> None:
    """A Verilog file and a net file are read as one board."""
    verilog_text = "module b; wire a0, y; t7404 u1(.p1(a0), .p2(y)); plug_9 j1(.p1(y)); endmodule"
    board = parse_netlist([("host z80\npin j1.1 led out\n", "a.nets"), (verilog_text, "b.v")])
    assert board.connectors[0].pins[0].signal == "led"
    assert board.cycles


WRONG = {
    "module b; t7404 u1(.p1(a), .p2(a); endmodule": "')' is expected after the connections, not ';'",
    "module b; always @(a) b = a; endmodule": "'always' describes behaviour; only parts and wires are read",
    "module b; assign y = a & b; endmodule": (
        "an assign of plain nets is read, not one with '&'; use a gate for logic"
    ),
    "module b; wire [3:0] a; t7404 u1(.p1(a)); endmodule": "pin u1.1 takes one wire, not 4",
    "module b; wire [3:0] a; t7404 u1(.p1(a[4])); endmodule": "'a' has bits [3:0], not [4:4]",
    "module b; t7404 u1(.p1(a[4])); endmodule": "'a' is no vector; it has no bit 4",
    "module b; flop u1(a, b); endmodule": (
        "'u1' is a 'flop', which is neither a module of this file nor a type of the catalogue"
    ),
    "module b; t7404 u1(a, b), u2(.p15(a), .p2(b)); endmodule": ("part 'u2' (7404) has pins 1 to 14, no pin '15'"),
    "module b; c i(a); endmodule module c(p, q); endmodule module d; endmodule": (
        "one module must be the board, used by no other; there are 'b', 'd'"
    ),
    "module b; c i(a, z, y); endmodule module c(p, q); input p, q; endmodule": ("'c' has 2 ports; 'i' connects 3"),
    "module b; c i(.r(a)); endmodule module c(p, q); input p, q; endmodule": "'c' has no port 'r'; its ports are p, q",
    "module b; c i(.p(a), .p(z)); endmodule module c(p, q); input p, q; endmodule": (
        "port 'p' of 'i' is connected here and in line 1"
    ),
    "module b; wire [1:0] v; c i(v); endmodule module c(p); input p; endmodule": "port 'p' of 'c' has 1 wires, not 2",
    "module b; t7404 u1(.p1(1'bx)); endmodule": 'a constant of a board is 0 or 1, not "1\'bx"',
    "module b; t7404 u1[3:0](a, z); endmodule": "'u1': arrays of instances are not read; write each one",
    "module b; bufif1 g(a, z); endmodule": "a bufif1 of this form has 3 nets, not 2",
    "module b; wire A, a; t7404 u1(A, a), u2(A, a); endmodule": (
        "nets 'A' and 'a' are one in a net file, where letters are small"
    ),
    "module b; supply0 g; supply1 v; assign g = v; t7404 u1(g, v); endmodule": "'g' joins both supplies",
    "module b; wire [1:0] v; wire w; assign v = w; endmodule": "an assign joins 2 wires with 1",
    '`include "x.v"\nmodule b; endmodule': "directive '`include' is not read; only parts and wires are",
    "module b; t7404 u1(.p1(n1)); endmodule": "net 'n1' has one pin only, u1.1",
    "module b; wire a; wire a; endmodule": "wire 'a' is declared here and in line 1",
    "wire a;": "'module' is expected here, not 'wire'",
    "": "the file holds no module",
}


@pytest.mark.parametrize("text", list(WRONG))
def test_parse_board_wrong(text: str) -> None:
    """What is no structure, or does not fit, is refused with its line."""
    with pytest.raises(BadInput) as caught:
        parse_board(text, "b.v")
    assert f"b.v:1: {WRONG[text]}" in str(caught.value).splitlines()


def test_all_mistakes_at_once() -> None:
    """Every mistake is told with its own line, in the order of the lines."""
    text = "module b;\n initial x;\n t7404 u1(a);\n t7404 u2(.p1(1'bz));\n t74999 u3(a);\nendmodule\n"
    with pytest.raises(BadInput) as caught:
        parse_board(text, "b.v")
    places = [str(place) for place, _ in caught.value.mistakes]
    assert places == ["b.v:2", "b.v:3", "b.v:4", "b.v:5"]


def test_write_verilog_wrong() -> None:
    """A gate without a package needs all its pins."""
    board = parse_board("host z80\npart g1 gate-nand-2\npart u1 7404\nnet n g1.1 u1.1\nnet m g1.2 u1.2\n", "a.nets")
    with pytest.raises(Unsupported, match=r"^a\.nets:2: 'g1' is a gate without a package and has an open pin$"):
        write_verilog(board)


def test_documented_example() -> None:
    """The example of docs/verilog.md is read, and its pull, attribute and open pin are what the page says."""
    page = (ROOT / "docs" / "verilog.md").read_text("utf-8")
    text = page.split("```verilog\n")[1].split("```")[0]
    board = parse_board(text, "card.v")
    assert (board.part("u1").marking, board.part("u1").words) == ("74ls374", "c4")
    assert [(pull.net, pull.words) for pull in board.pulls] == [("out", "4k7")]
    assert {str(at) for at in board.open_pins} == {"u1.5"}
    assert board.cycles


def test_broken_text_comes_to_an_end() -> None:
    """Whatever is cut out of or put into a text, it is read or refused with lines, and never for ever."""
    chance = random.Random(7)
    texts = [STRUCTURE, write_verilog(parse_board(Maker(1, 9).build(unknowns=1, buffered=True), "a.nets"))]
    places: list[Origin] = []
    for _ in range(300):
        text = chance.choice(texts)
        for _ in range(chance.randint(1, 4)):
            at = chance.randrange(len(text))
            put = chance.choice("()[]{};,.:=#*\"\\`\n abz01'") if chance.random() < 0.5 else ""
            text = text[:at] + put + text[at + chance.randint(0, 6) :]
        try:
            parse_board(text, "x.v")
        except BadInput as error:
            places += [place for place, _ in error.mistakes]
    assert len(places) > 200
    assert all(place.file == "x.v" and place.number >= 1 for place in places)


def test_empty_text_in_a_statement_wrong() -> None:
    """An empty text where a statement should stand is one mistake and the rest is read on."""
    with pytest.raises(BadInput) as caught:
        parse_board('module b;\n"" "";\nt7404 u1(.p99(a));\nendmodule', "x.v")
    assert [str(place) for place, _ in caught.value.mistakes] == ["x.v:2", "x.v:3"]
