"""Port chips against hardware descriptions of them in an HDL simulator: thousands of random accesses (iverilog)."""

from __future__ import annotations

import pathlib
import random
import shutil
import subprocess

import pytest

from latchlore.board import ChipState, input_edge, pin_states, read_register, reset_state, write_register

pytestmark = pytest.mark.hdl

MODELS = pathlib.Path(__file__).parent / "board_chips.v"
STEPS = 3000


def simulate(bench: str, folder: pathlib.Path) -> list[list[str]]:
    """Run a bench; the words of each line it prints."""
    if shutil.which("iverilog") is None:
        pytest.skip("the HDL simulator iverilog is not installed")
    source, program = folder / "bench.v", folder / "bench.vvp"
    source.write_text(bench)
    command = ["iverilog", "-g2012", "-s", "bench", "-o", str(program), str(MODELS), str(source)]
    subprocess.run(command, check=True, timeout=60)
    run = subprocess.run(["vvp", "-n", str(program)], check=True, timeout=120, capture_output=True, text=True)
    return [line.split() for line in run.stdout.splitlines()]


def port_text(state: ChipState, stem: str) -> str:
    """A port as the simulator prints it when nothing else drives it: z for an input."""
    pins = pin_states(state)
    return "".join(str(pins[f"{stem}{k}"].level) if pins[f"{stem}{k}"].is_output else "z" for k in reversed(range(8)))


def test_8255(tmp_path: pathlib.Path) -> None:
    """Random writes, mode 0 words and single bits; every pin after each, and reads with levels at the input pins."""
    chance = random.Random(1)
    steps, lines = [], []
    for _ in range(STEPS):
        code = chance.choice((0, 1, 2, 3, 3))
        word = chance.randrange(256)
        if code == 3 and word & 0x80:
            word &= 0x9B  # mode 0 in both groups
        levels = chance.randrange(256)
        steps.append((code, word, levels))
        lines.append(f"step({code}, 8'd{word}, 8'd{levels});")
    bench = f"""
module bench;
reg cs_, rd_, wr_, reset, on; reg [1:0] a; reg [7:0] data, level; wire [7:0] d, pa, pb, pc;
assign d = wr_ ? 8'bz : data;
chip8255 u(cs_, rd_, wr_, a, reset, d, pa, pb, pc);
genvar g; generate for (g = 0; g < 8; g = g + 1) begin : outside
  assign (weak0, weak1) pa[g] = on ? level[g] : 1'bz;
  assign (weak0, weak1) pb[g] = on ? level[g] : 1'bz;
  assign (weak0, weak1) pc[g] = on ? level[g] : 1'bz;
end endgenerate
task step(input [1:0] code, input [7:0] word, input [7:0] levels);
begin
  a = code; data = word; #1 wr_ = 0; #1 wr_ = 1; #1 $write("%b %b %b", pa, pb, pc);
  on = 1; level = levels; rd_ = 0; #1 a = 0; #1 $write(" %b", d); a = 1; #1 $write(" %b", d);
  a = 2; #1 $display(" %b", d); rd_ = 1; on = 0; #1;
end endtask
initial begin
  cs_ = 0; rd_ = 1; wr_ = 1; on = 0; level = 0; reset = 0; a = 0; #1 reset = 1; #1 reset = 0; #1
{chr(10).join(lines)}
end
endmodule
"""
    state = reset_state("8255")
    shown = simulate(bench, tmp_path)
    assert len(shown) == STEPS
    for (code, word, levels), row in zip(steps, shown, strict=True):
        state = write_register(state, code, word)
        assert row[:3] == [port_text(state, stem) for stem in ("PA", "PB", "PC")], (code, hex(word))
        for k, stem in enumerate(("PA", "PB", "PC")):
            outside = {f"{stem}{n}": levels >> n & 1 for n in range(8) if not pin_states(state)[f"{stem}{n}"].is_output}
            seen, state = read_register(state, k, outside)
            assert (f"{seen.word:08b}", seen.known) == (row[3 + k], 0xFF), (code, hex(word))


def test_6821(tmp_path: pathlib.Path) -> None:
    """Random writes, reads and edges on CA1 and CB1; every pin, and what each register reads, after each step."""
    chance = random.Random(2)
    steps: list[tuple[str, int, int]] = []
    lines = []
    level = {"CA1": 1, "CB1": 1}
    for _ in range(STEPS):
        kind = chance.choice(("write", "write", "read", "edge"))
        if kind == "edge":
            pin = chance.choice(("CA1", "CB1"))
            level[pin] ^= 1
            steps.append((pin, level[pin], 0))
            lines.append(f"{pin.lower()} = {level[pin]}; #1 show;")
            continue
        code, word = chance.randrange(4), chance.randrange(256)
        if kind == "write" and code in (1, 3):
            word &= 0x3F
            # C2 stays an output without pulse, or an input that nobody moves
            word = word & ~0x38 | chance.choice((0x20, 0x30, 0x38, 0x00))
        steps.append((kind, code, word))
        lines.append(f"{kind}({code}{f', {word}' if kind == 'write' else ''}); show;")
    bench = f"""
module bench;
reg e, rw, reset_, ca1, cb1; reg [1:0] rs; reg [7:0] data; wire [7:0] d, pa, pb; wire ca2, cb2, irqa_, irqb_;
assign d = (!rw) ? data : 8'bz;
chip6821 u(e, rw, 1'b1, rs, reset_, d, pa, pb, ca1, cb1, ca2, cb2, irqa_, irqb_);
task write(input [1:0] code, input [7:0] word);
begin rs = code; data = word; rw = 0; #1 e = 1; #1 e = 0; #1 rw = 1; #1; end endtask
task read(input [1:0] code); begin rs = code; #1 e = 1; #1 e = 0; #1; end endtask
task show; $display("%b %b %b %b %b %b %b %b %b", pa, pb, ca2, cb2, irqa_, irqb_, u.da, {{u.fa1, u.fa2, u.ca}},
  {{u.fb1, u.fb2, u.cb}}); endtask
initial begin
  e = 0; rw = 1; ca1 = 1; cb1 = 1; rs = 0; reset_ = 1; #1 reset_ = 0; #1 reset_ = 1; #1
{chr(10).join(lines)}
end
endmodule
"""
    state = reset_state("6821")
    shown = simulate(bench, tmp_path)
    assert len(shown) == STEPS
    for (kind, first, second), row in zip(steps, shown, strict=True):
        if kind in ("CA1", "CB1"):
            state = input_edge(state, kind, first)
        elif kind == "write":
            state = write_register(state, first, second)
        else:
            _, state = read_register(state, first, {})
        pins = pin_states(state)
        ours = [port_text(state, "PA"), port_text(state, "PB")]
        ours += [str(pins[name].level) if pins[name].is_output else "z" for name in ("CA2", "CB2", "/IRQA", "/IRQB")]
        ours += [f"{state.word('direction A'):08b}"]
        ours += [f"{read_register(state, code)[0].word:08b}" for code in (1, 3)]
        assert row == ours, (kind, first, second)
