"""Reading VCD files, against two independent writers (pyvcd, iverilog) and an independent reader (pywellen)."""

from __future__ import annotations

import io
import random
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from latchlore.base import BadInput, Span, UnknownName, Unsupported
from latchlore.wire import Capture, ChannelKind, ParallelLines, _vcd, _vcdkernel, read_parallel, read_vcd

HEAD = """$date today $end
$timescale 10 ns $end
$scope module top $end
$var wire 1 ! STB $end
$var wire 8 " D [7:0] $end
$var real 64 # volts $end
$var wire 1 !! ACK $end
$upscope $end
$enddefinitions $end
"""


def read(folder: Path, text: str, keep: bool = False) -> Capture:
    path = folder / "t.vcd"
    path.write_bytes(text.encode())
    return read_vcd(path, "t.vcd", folder / "kept" if keep else None)


def rows(capture: Capture, name: str) -> list[tuple[int, str]]:
    channel = capture.get_channel(name)
    return [(int(time), channel.text(k)) for k, time in enumerate(channel.times)]


@pytest.mark.parametrize("keep", [False, True])
def test_read_vcd(tmp_path: Path, keep: bool) -> None:
    """All value forms of IEEE 1364-2005, 18.2: bits with x and z, shortened vectors (table 18-2), reals."""
    body = '#0\n$dumpvars\nx!\nbx "\nr0 #\nz!!\n$end\n#5\n0!\nb10 "\nr-1.5e3 #\n#7 1! bX1 " B0Z "\n1!\n#9\n'
    capture = read(tmp_path, HEAD + body, keep)
    assert rows(capture, "top.STB") == [(0, "x"), (50_000, "0"), (70_000, "1"), (70_000, "1")]
    assert rows(capture, "D") == [(0, "x" * 8), (50_000, "00000010"), (70_000, "xxxxxxx1"), (70_000, "0000000z")]
    assert rows(capture, "volts") == [(0, "0.0"), (50_000, "-1500.0")]
    assert rows(capture, "ACK") == [(0, "z")]
    assert (capture.begin, capture.end) == (Span(0), Span(90_000))
    assert capture.get_channel("D").bits == "[7:0]"
    times, levels = capture.get_channel("STB").edges()
    assert (times.tolist(), levels.tolist()) == ([0, 50_000, 70_000], [2, 0, 1])


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("#0\n0?\n", "t.vcd:11: identifier '?' is not declared"),
        ("#5\n0!\n#4\n1!\n", "t.vcd:12: time #4 comes after #5; times never fall"),
        ("#0\n0!\nhello\n", "t.vcd:12: no value change, time or keyword begins like 'hello'"),
        ('#0\nb111111111 "\n', "t.vcd:11: 'b111111111' has more digits than 'top.D' has bits (8)"),
        ('#0\nb12 "\n', "t.vcd:11: no value change, time or keyword begins like 'b12'"),
        (
            "#99999999999999999999\n",
            "t.vcd:10: time '#99999999999999999999' is too large; times end at 9,223,372 seconds",
        ),
        (
            "#999999999999999999\n0!\n",
            "t.vcd:10: time '#999999999999999999' is too large; times end at 9,223,372 seconds",
        ),
        (
            "#0\n#9999999999999999999\n0!\n",
            "t.vcd:11: time '#9999999999999999999' is too large; times end at 9,223,372 seconds",
        ),
        ("#0\n0 !\n", "t.vcd:11: '0' has no identifier; one follows without a blank, as in '1!'"),
        ("#0\n0!\n\x00\x01\n1!\n", "t.vcd:12: byte {at} is 00h; a VCD file is text, this file looks binary"),
        ("#0\n1#\n", "t.vcd:11: '1#' does not suit 'top.volts', which carries a real number"),
        ("#0\nr1 !\n", "t.vcd:11: 'r1' does not suit 'top.STB', which carries one bit"),
        ("#0\nrten #\n", "t.vcd:11: 'ten' is no number"),
        ("#0\nr1_0 #\n", "t.vcd:11: '1_0' is no number"),
        ("#0\n$dumpnothing\n", "t.vcd:11: '$dumpnothing' is no keyword among value changes"),
        ("#1x\n", "t.vcd:10: no value change, time or keyword begins like '#1x'"),
    ],
)
def test_read_vcd_wrong(tmp_path: Path, body: str, words: str) -> None:
    """What is no record is refused with its line, and nothing is left in the folder of columns."""
    for ends in ("\n", "\r\n", "\r"):
        with pytest.raises(BadInput) as caught:
            read(tmp_path, "\ufeff" + (HEAD + body).replace("\n", ends), keep=True)
        at = (tmp_path / "t.vcd").read_bytes().find(b"\x00")
        assert str(caught.value) == words.format(at=at)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["t.vcd"]


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ("", "t.vcd: a VCD file ends its declarations with $enddefinitions; none was found in the first 0 bytes"),
        (
            "$enddefinitions $end\n",
            "t.vcd: a VCD file declares at least one variable with $var; this one declares none",
        ),
        ("a,b\n$enddefinitions $end", "t.vcd:1: a declaration begins with a keyword such as $var, not 'a,b'"),
        (
            "\n$timescale 5 ns $end $enddefinitions $end",
            "t.vcd:2: a time scale is 1, 10 or 100 of s, ms, us, ns, ps, fs, not '5 ns'",
        ),
        (
            "$var wire 1 $end $enddefinitions $end",
            "t.vcd:1: $var takes a kind, a width, an identifier and a name, not 'wire 1'",
        ),
        (
            "$var wire 0 ! a $end $enddefinitions $end",
            "t.vcd:1: the width of 'a' is a whole number from 1 to 65536, not '0'",
        ),
        (
            "$var wire 1 ! a $end $var wire 2 ! b $end $enddefinitions $end",
            "t.vcd:1: identifier '!' is declared as 'a' and, with another kind or width, as 'b'",
        ),
        ("$scope module $end $enddefinitions $end", "t.vcd:1: $scope takes a kind and a name, not 'module'"),
        ("$upscope $end $enddefinitions $end", "t.vcd:1: $upscope leaves a scope that was not entered"),
        ("$colour $end $enddefinitions $end", "t.vcd:1: '$colour' is no declaration of a VCD file"),
    ],
)
def test_parse_head_wrong(tmp_path: Path, head: str, words: str) -> None:
    """Declarations that clause 18.2 does not know are refused with their line."""
    with pytest.raises(BadInput) as caught:
        read(tmp_path, head)
    assert str(caught.value) == words


def test_parse_head_unsupported(tmp_path: Path) -> None:
    """A kind of variable that the standard does not list is not guessed at."""
    with pytest.raises(Unsupported, match=r"^t\.vcd:1: variables of kind 'string' are not modelled; IEEE 1364 lists"):
        read(tmp_path, "$var string 1 ! a $end $enddefinitions $end")
    said = "whose driven ports are not modelled; write one with $dumpvars"
    with pytest.raises(Unsupported) as caught:
        read(tmp_path, "$var port 1 <0 a $end $enddefinitions $end")
    assert str(caught.value) == f"t.vcd:1: the file is an extended VCD ('$var port'; clause 18.3), {said}"
    with pytest.raises(Unsupported) as caught:
        read(tmp_path, HEAD + "#0\n$dumpports\n")
    assert str(caught.value) == f"t.vcd:11: the file is an extended VCD ('$dumpports'; clause 18.3), {said}"


def test_get_channel_wrong(tmp_path: Path) -> None:
    """A channel that is not there is refused with the names that are."""
    capture = read(tmp_path, HEAD + "#0\n")
    with pytest.raises(
        UnknownName, match=r"^t\.vcd: no channel 'BUSY'; known are 'top\.STB', 'top\.D', 'top\.volts', "
    ):
        capture.get_channel("BUSY")


@pytest.mark.parametrize(
    ("tail", "last", "note"),
    [
        ("1!!", "1", ""),  # no other identifier begins with it: whole
        ("1!", None, "the file ends in the middle of a record: '1!' at byte {at} was left out; all before it was read"),
        (
            "b1010",
            None,
            "the file ends in the middle of a record: 'b1010' at byte {at} was left out; all before it was read",
        ),
        (
            "#12",
            None,
            "the file ends in the middle of a record: '#12' at byte {at} was left out; all before it was read",
        ),
        (
            "$dump",
            None,
            "the file ends in the middle of a record: '$dump' at byte {at} was left out; all before it was read",
        ),
    ],
)
def test_read_vcd_cut_off(tmp_path: Path, tail: str, last: str | None, note: str) -> None:
    """A file that breaks off is read to its last whole record, and says so."""
    text = HEAD + "#3\n0!\n0!!\n"
    capture = read(tmp_path, text + tail)
    assert rows(capture, "STB") == [(30_000, "0")]
    assert rows(capture, "ACK") == [(30_000, "0"), *([(30_000, last)] if last else [])]
    assert capture.notes == ((note.format(at=len(text)),) if note else ())


@pytest.mark.parametrize("piece", [16, 64, 1 << 19])
def test_read_vcd_filled_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, piece: int) -> None:
    """Zero bytes at the end, as a power cut leaves them, end the file; what stands just before them may be cut."""
    monkeypatch.setattr(_vcd, "PIECE", piece)
    text = HEAD + "#3\n0!\n#12"
    capture = read(tmp_path, text + "\0" * 100)
    assert (rows(capture, "STB"), capture.end, capture.breaks_off) == ([(30_000, "0")], Span(30_000), True)
    assert capture.notes == (
        f"the last 100 bytes, from byte {len(text)} on, are zero: writing broke off there; all before it was read",
        f"the file ends in the middle of a record: '#12' at byte {len(text) - 3} was left out; all before it was read",
    )
    whole = read(tmp_path, HEAD + "#3\n0!\n\x1a\r\n")  # the end mark of old systems
    assert (rows(whole, "STB"), whole.notes, whole.breaks_off) == ([(30_000, "0")], (), False)


@pytest.mark.parametrize("piece", [16, 23, 64, 1 << 19])
def test_read_vcd_comments(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, piece: int) -> None:
    """A comment goes on to a word `$end`, not to a word that holds it (18.2.1: keywords stand between blanks)."""
    monkeypatch.setattr(_vcd, "PIECE", piece)
    capture = read(tmp_path, HEAD + "#3\n$comment see $endpoint and a$end there $end\n0!\n$comment $end")
    assert (rows(capture, "STB"), capture.notes) == ([(30_000, "0")], ())
    cut = read(tmp_path, HEAD + "#3\n0!\n$comment b $endl")
    assert (rows(cut, "STB"), cut.breaks_off) == ([(30_000, "0")], True)


def test_read_vcd_leading_zeros(tmp_path: Path) -> None:
    """Zeros in front of a time do not count, however many."""
    capture = read(tmp_path, HEAD + f"#{'0' * 30}\n0!\n#{'0' * 11}123456789\n1!\n#{'0' * 40}123456790\n0!\n")
    assert rows(capture, "STB") == [(0, "0"), (1_234_567_890_000, "1"), (1_234_567_900_000, "0")]


def test_read_vcd_any_cut(tmp_path: Path) -> None:
    """Cut at any byte behind the declarations, a file gives a beginning of what the whole gives."""
    text = HEAD + '#0\n$dumpvars\n0!\nb0 "\nr1.25 #\n1!!\n$end\n$comment a b $end\n#12\n1!\nb101 "\n'
    whole = read(tmp_path, text)
    for end in range(len(HEAD), len(text)):
        part = read(tmp_path, text[:end])
        for name in ("STB", "D", "volts", "ACK"):
            got = rows(part, name)
            assert got == rows(whole, name)[: len(got)]


def test_read_vcd_gaps(tmp_path: Path) -> None:
    """`$dumpoff` (18.1.3): the stretch without recording is a gap; its x values are kept."""
    capture = read(tmp_path, HEAD + "#1\n1!\n#2\n$dumpoff\nx!\n$end\n#7\n$dumpon\n0!\n$end\n#9\n$dumpoff\n$end\n")
    assert [(gap.since, gap.until) for gap in capture.gaps] == [(Span(20_000), Span(70_000)), (Span(90_000), None)]
    assert rows(capture, "STB") == [(10_000, "1"), (20_000, "x"), (70_000, "0")]
    said = "recording was switched off {}, for 50 ns in all, first at 20 ns; what happened then is not known"
    assert capture.notes == (said.format("once"),)
    twice = read(tmp_path, HEAD + "#1\n$dumpoff\n$end\n#2\n$dumpoff\n$end\n#3\n$dumpon\n1!\n$end\n")
    assert [(gap.since, gap.until) for gap in twice.gaps] == [(Span(10_000), Span(30_000))]


def test_read_vcd_forms(tmp_path: Path) -> None:
    """Forms that writers differ in: a line as a vector, a vector as one digit, events, capital letters, %.16g reals."""
    head = HEAD.replace("$upscope", "$var event 1 % done $end\n$upscope")
    capture = read(tmp_path, head + '#0 b1 !\nX"\n1%\nR+.5E1 #\n#1 B0 !\n1"\n1%\nr-inf #\n#2\nrnan #\n')
    assert rows(capture, "STB") == [(0, "1"), (10_000, "0")]
    assert rows(capture, "D") == [(0, "x" * 8), (10_000, "00000001")]
    assert rows(capture, "done") == [(0, "1"), (10_000, "1")]
    assert rows(capture, "volts") == [(0, "5.0"), (10_000, "-inf"), (20_000, "nan")]


def test_read_vcd_femtoseconds(tmp_path: Path) -> None:
    """Times below a picosecond are rounded to the nearest and counted; whole ones are not."""
    capture = read(tmp_path, HEAD.replace("10 ns", "100fs") + '#10\n0!\n#14\n1!\n#15\n0!\nb1 "\n')
    assert rows(capture, "STB") == [(1, "0"), (1, "1"), (2, "0")]
    assert capture.notes == ("3 times were no whole number of picoseconds and were rounded to the nearest",)


@pytest.mark.parametrize("piece", [16, 64, 1 << 20])
def test_read_vcd_pieces(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, piece: int) -> None:
    """Records that fall across the pieces of a file are read once and whole."""
    text = HEAD + "#0\n$comment " + "long " * 40 + "$end\n" + "".join(f'#{k}\n{k % 2}!\nb{k:b} "\n' for k in range(200))
    monkeypatch.setattr(_vcd, "PIECE", piece)
    capture = read(tmp_path, text)
    assert rows(capture, "STB") == [(k * 10_000, str(k % 2)) for k in range(200)]
    assert rows(capture, "D") == [(k * 10_000, f"{k:08b}") for k in range(200)]


def read_plainly(body: str, widths: dict[str, int], scale: int) -> dict[str, list[tuple[int, str]]]:
    """What a file's records say, token by token: the plain twin of the compiled reading."""
    told: dict[str, list[tuple[int, str]]] = {code: [] for code in widths}
    now = 0
    tokens = iter(body.split())
    for token in tokens:
        if token[0] == "#":
            now = int(token[1:]) * scale
            continue
        code, digits = (next(tokens), token[1:]) if token[0] in "bB" else (token[1:], token[0])
        lead = digits[0] if digits[0] in "xz" else "0"
        told[code].append((now, lead * (widths[code] - len(digits)) + digits))
    return told


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_read_vcd_plainly(data: st.DataObject) -> None:
    """Times, vectors and codes of any length, in pieces and rooms of any size, are read as by the plain twin."""
    widths = data.draw(
        st.dictionaries(
            st.text("!#$%*~aZ", min_size=1, max_size=9),
            st.sampled_from([1, 1, 2, 7, 8, 9, 63, 64, 65, 130]),
            min_size=1,
        )
    )
    steps = st.one_of(st.integers(0, 12), st.integers(0, 10**5), st.integers(0, 10**15))
    blank = st.sampled_from(["\n", "\r\n", " ", "\n\n\t "])
    body, now = "", 0
    for code in data.draw(st.lists(st.sampled_from(sorted(widths)), max_size=60)):
        if data.draw(st.booleans()):
            now = min(now + data.draw(steps), 9 * 10**17)
            body += f"#{now}{data.draw(blank)}"
        digits = data.draw(st.text(data.draw(st.sampled_from(["01", "01", "01xz"])), min_size=1, max_size=widths[code]))
        body += f"b{digits} {code}" if widths[code] > 1 or data.draw(st.booleans()) else digits + code
        body += data.draw(blank)
    head = "".join(f"$var wire {width} {code} s{k} $end " for k, (code, width) in enumerate(widths.items()))
    with (
        tempfile.TemporaryDirectory() as folder,
        patch.object(_vcd, "PIECE", data.draw(st.sampled_from([16, 200, 1 << 19]))),
        patch.object(_vcd, "ROOM", data.draw(st.sampled_from([1, 40, 1 << 22]))),
        patch.object(_vcd, "VECTOR_ROOM", data.draw(st.sampled_from([1, 7, 1 << 20]))),
    ):
        capture = read(
            Path(folder), f"$timescale 1 ps $end {head}$enddefinitions $end\n{body}", data.draw(st.booleans())
        )
        for k, (code, expected) in enumerate(read_plainly(body, widths, 1).items()):
            assert rows(capture, f"s{k}") == expected, code


def test_read_vcd_pyvcd(tmp_path: Path) -> None:
    """What pyvcd (an independent writer) was told comes back: bits, wide vectors with x and z, reals."""
    from vcd import VCDWriter

    rng = random.Random(7)
    out = io.StringIO()
    told: dict[str, list[tuple[int, str]]] = {}
    with VCDWriter(out, timescale="100 ps") as writer:
        widths = {"a": 1, "b": 8, "c": 64, "d": 65, "e": 200}
        names = {name: writer.register_var("m.n", name, "wire", size=width) for name, width in widths.items()}
        for name, width in widths.items():
            told[name] = [(0, "x" * width)]
        for time in range(1, 400):
            name = rng.choice("abcde")
            value = "".join(rng.choice("01xz" if time % 3 else "01") for _ in range(widths[name]))
            if told[name][-1][1] == value:
                continue
            writer.change(names[name], time, value)
            told[name].append((time * 100, value))
    capture = read(tmp_path, out.getvalue())
    for name, expected in told.items():
        assert rows(capture, f"m.n.{name}") == expected


def test_read_vcd_iverilog(tmp_path: Path) -> None:
    """The dump of iverilog agrees with what the simulation printed by $display, and with pywellen's reading."""
    if shutil.which("iverilog") is None:
        pytest.skip("iverilog is not installed")
    import pywellen

    (tmp_path / "t.v").write_text(
        """`timescale 1ps/1ps
module t; reg c; reg [11:0] v; real r; reg [69:0] w; integer k;
initial begin $dumpfile("t.vcd"); $dumpvars(0, t); c = 0; v = 12'bx; r = 0.5; w = 70'bz;
for (k = 0; k < 200; k = k + 1) begin
  #7 c = ~c; if (k % 3 == 0) v = v + 1; if (k == 50) v = 0; if (k % 5 == 0) r = r * 1.25;
  if (k % 11 == 0) w = {70{1'b0}} | k << 60; if (k == 120) v = 12'bz1x0; if (k == 140) $dumpoff; if (k == 150) $dumpon;
  $display("%0d %b %b %b", $time, c, v, w);
end $finish; end endmodule
"""
    )
    subprocess.run(["iverilog", "-g2012", "-o", "t.vvp", "t.v"], cwd=tmp_path, check=True)
    said = subprocess.run(["vvp", "t.vvp"], cwd=tmp_path, check=True, capture_output=True, text=True).stdout
    capture = read_vcd(tmp_path / "t.vcd", "t.vcd")
    num = 0
    for line in said.splitlines():
        fields = line.split()
        if len(fields) != 4 or not fields[0].isdecimal() or 140 * 7 <= int(fields[0]) <= 152 * 7:
            continue
        for name, value in zip(("t.c", "t.v", "t.w"), fields[1:], strict=True):
            channel = capture.get_channel(name)
            assert channel.text(int(np.searchsorted(channel.times, int(fields[0]), "right")) - 1) == value
            num += 1
    assert num > 500
    waves: Any = pywellen.Waveform(path=str(tmp_path / "t.vcd"))
    for variable in waves.all_vars():
        channel = capture.get_channel(variable.full_name)
        if channel.kind is ChannelKind.REAL:
            continue
        mine = {}  # the last of several values at one time; pywellen leaves out what is said again
        for time, text in rows(capture, channel.name):
            mine[time] = text
        theirs = dict(variable.tv)
        for time, value in theirs.items():
            shown = f"{value:0{channel.width}b}" if isinstance(value, int) else str(value).lower()
            assert mine[time] == shown


def test_read_vcd_kept(tmp_path: Path) -> None:
    """A second opening takes the stored columns; a changed file is read again; a torn store is thrown away."""
    path = tmp_path / "t.vcd"
    path.write_text(HEAD + "#1\n1!\n")
    kept = tmp_path / "kept"
    first = read_vcd(path, "t.vcd", kept)
    calls: list[int] = []
    again = read_vcd(path, "t.vcd", kept, lambda *_: calls.append(1))
    assert rows(again, "STB") == rows(first, "STB") == [(10_000, "1")]
    assert not calls
    path.write_text(HEAD + "#1\n0!\n#2\n1!\n")
    assert rows(read_vcd(path, "t.vcd", kept), "STB") == [(10_000, "0"), (20_000, "1")]
    (kept / "0.times").write_bytes(b"1234")
    assert rows(read_vcd(path, "t.vcd", kept), "STB") == [(10_000, "0"), (20_000, "1")]


@pytest.mark.parametrize(
    ("bits", "names", "values"),
    [
        ("[7:0]", ["D[0]", "D[1]", "D[7]"], [1, 1, 0]),
        ("[0:7]", ["D[7]", "D[6]", "D[0]"], [1, 1, 0]),  # IEEE 1364-2005, 4.3.1: the right end is the lowest bit
        ("[15:8]", ["D[8]", "D[9]", "D[15]"], [1, 1, 0]),
        ("[-4:3]", ["D[3]", "D[2]", "D[-4]"], [1, 1, 0]),
        ("", ["D[0]", "D[1]", "D[7]"], [1, 1, 0]),
        ("[3:0]", ["D[0]", "D[1]", "D[7]"], [1, 1, 0]),  # does not fit the width: counted from 0
    ],
)
def test_bit_names(tmp_path: Path, bits: str, names: list[str], values: list[int]) -> None:
    """A bit of a bus goes by the number that its declaration gives it, and the whole bus has its value."""
    text = f"$scope module m $end $var wire 8 % D {bits} $end $var wire 1 ! S $end $enddefinitions $end\n"
    capture = read(tmp_path, text + "#0\nb01010011 %\n1!\n#5\n0!\n#6\n1!\n#9\n")
    for name, value in zip(names, values, strict=True):
        assert read_parallel(capture, ParallelLines((name,), "S", 0)).data == bytes([value])
    assert read_parallel(capture, ParallelLines(("D",), "S", 0)).data == b"\x53"
    channel = capture.get_channel("D")
    assert (channel.bit_names[0], channel.bit_names[-1]) == (f"m.{names[0]}", f"m.{names[2]}")


def test_bit_names_wrong(tmp_path: Path) -> None:
    """A number that the bus does not have is refused with those that it has."""
    capture = read(tmp_path, "$var wire 8 % D [15:8] $end $var wire 1 ! S $end $enddefinitions $end\n#0\n1!\n")
    with pytest.raises(UnknownName, match=r"^t\.vcd: channel 'D' has no bit 3; its lowest is 8, its highest 15$"):
        read_parallel(capture, ParallelLines(("D[3]",), "S", 0))


def test_has_controls() -> None:
    """At any place of a word, just the bytes below 32 that lay out no text (9 to 13 do, ISO 646) are found."""
    for value in range(256):
        for place in range(8):
            word = np.full(8, ord("A"), np.uint8)
            word[place] = value
            assert _vcdkernel.has_controls(word.view(np.uint64)) == (value < 32 and value not in range(9, 14))


def test_same_names(tmp_path: Path) -> None:
    """Variables of one name but of different identifiers are kept apart, and that is said."""
    head = "$scope module a $end $var wire 1 ! S $end $var wire 1 # S $end $var wire 1 % S $end $upscope $end "
    capture = read(tmp_path, "$timescale 1 ns $end " + head + "$enddefinitions $end\n#0\n1!\n0#\n#5\n1#\nx%\n#9\n")
    assert [channel.name for channel in capture.channels] == ["a.S", "a.S#2", "a.S#3"]
    assert (rows(capture, "a.S"), rows(capture, "S#2")) == ([(0, "1")], [(0, "0"), (5_000, "1")])
    assert capture.notes == ("3 variables are called 'a.S'; from the second on they go by a number, up to 'a.S#3'",)
    many = "".join(f"$var wire 1 {code}{k} n{k} $end " for k in range(12) for code in "ab")
    noted = read(tmp_path, f"$timescale 1 ns $end {many}$enddefinitions $end\n#0\n").notes
    assert (len(noted), noted[-1]) == (9, "so it is with 4 more names")
