"""The commands of `latchlore wire`, as they are typed."""

from __future__ import annotations

import json
import random
from typing import TYPE_CHECKING, Any

import pytest

from latchlore.base import Span
from latchlore.cli import run
from latchlore.wire import HostTimes, Listener, simulate_listener
from tests.handshakes import NS, Host

if TYPE_CHECKING:
    from pathlib import Path

TEXT = b"THE TIDE IS HIGH AT 3.41 M\r\nAND FALLING\r\n"
LINES = (*(f"D{k}" for k in range(8)), "STROBE", "BUSY", "ACK")


@pytest.fixture(autouse=True)
def _own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LATCHLORE_CACHE", str(tmp_path / "cache"))


@pytest.fixture
def host() -> Host:
    """A host that has sent the text."""
    made = Host(junk=False)
    made.send(TEXT, random.Random(1))
    return made


@pytest.fixture
def vcd(tmp_path: Path, host: Host) -> Path:
    """The text as a VCD file, written by pyvcd."""
    path = tmp_path / "tide.vcd"
    write_vcd(path, host)
    return path


def write_vcd(path: Path, host: Host) -> None:
    """A host's waves as pyvcd writes them."""
    from vcd import VCDWriter

    events = sorted((time, name, level) for name, wave in host.waves.items() for time, level in wave)
    with path.open("w") as out, VCDWriter(out, timescale="1 ps") as writer:
        lines = {name: writer.register_var("card", name, "wire", size=1) for name in sorted(host.waves)}
        for time, name, level in events:
            writer.change(lines[name], time, level)


def plain(capsys: pytest.CaptureFixture[str], *arguments: object) -> dict[str, Any]:
    """What a command prints as JSON."""
    assert run([*map(str, arguments), "--json"]) == 0
    told: dict[str, Any] = json.loads(capsys.readouterr().out)
    return told


def test_read(vcd: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Lines stated: bytes, levels with their reasons; a second opening comes from the kept columns."""
    data = ",".join(f"card.D{k}" for k in range(8))
    options = ("--data", data, "--strobe", "card.STROBE", "--busy", "card.BUSY", "--low", "card.STROBE")
    told = plain(capsys, "wire", "read", vcd, *options)
    assert told["format"] == "latchlore-wire-handshake"
    assert bytes(byte["value"] for byte in told["bytes"]) == TEXT
    assert told["strobe_active"] == {"value": 0, "why": "stated"}
    assert told["busy_active"]["value"] == 1
    assert told["lines_proposed"] is False
    assert plain(capsys, "wire", "read", vcd, *options) == told


def test_read_table(tmp_path: Path, host: Host, capsys: pytest.CaptureFixture[str]) -> None:
    """The same from a table of samples, its lines proposed; text output says so."""
    capture = host.sampled(100 * NS, 0)
    path = tmp_path / "tide.csv"
    waves = {c.name: list(zip(c.times.tolist(), c.levels.tolist(), strict=True)) for c in capture.channels}
    now = dict.fromkeys(waves, 0)
    rows = ["t," + ",".join(LINES)]
    for time in range(0, host.end, 100 * NS):
        for name, wave in waves.items():
            while wave and wave[0][0] <= time:
                now[name] = wave.pop(0)[1]
        rows.append(f"{time // NS}," + ",".join(str(now[name]) for name in LINES))
    path.write_text("\n".join(rows) + "\n")
    columns = [text for name in LINES for text in ("--column", f"{name}={name}")]
    assert run(["wire", "read", str(path), "--time", "t", "--unit", "ns", *columns]) == 0
    out = capsys.readouterr().out
    assert "The lines were proposed, not stated" in out
    assert f"{len(TEXT)} bytes, {len(TEXT)} of them certain" in out
    assert "sampled every 100 ns" in out
    assert "THE TIDE IS HIGH" in out


def test_timing(vcd: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Against the Epson FX-890/FX-2190 service manual, p. 24: kept; against the NCR manual's 1 us strobe: broken."""
    assert run(["wire", "timing", str(vcd), "--against", "FX-890"]) == 0
    out = capsys.readouterr().out
    assert "Times against Epson FX-890/FX-2190 service manual, p. 24, table 1-26" in out
    assert "Every stated figure is kept in this capture." in out
    told = plain(capsys, "wire", "timing", vcd, "--against", "NCR")
    width = next(row for row in told["figures"] if row["figure"] == "strobe width")
    assert (len(width["broken_at_ps"]), width["cannot_be_told"]) == (len(TEXT), 0)
    assert width["limit"] == "at least 1 us"


def test_lines(vcd: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What the lines may be."""
    told = plain(capsys, "wire", "lines", vcd)
    assert told["proposal"]["lines"]["strobe"] == "card.STROBE"
    assert told["proposal"]["lines"]["data"] == [f"card.D{k}" for k in range(8)]


def test_bus(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two writes and a read of a Z80 manner bus from a table of changes; only one address asked for."""
    path = tmp_path / "bus.csv"
    path.write_text("us,a,d,rd,wr\n0,0,0,1,1\n1,1,1,1,0\n2,1,1,1,1\n3,0,1,1,0\n4,0,1,1,1\n5,1,0,0,1\n6,1,0,1,1\n")
    columns = [text for name in ("a", "d", "rd", "wr") for text in ("--column", f"{name}={name}")]
    options = (*columns, "--time", "us", "--unit", "us", "--changes", "--address", "a", "--data", "d")
    options = (*options, "--read", "rd", "--write", "wr")
    told = plain(capsys, "wire", "bus", path, *options)
    assert [(c["address"], c["value"], c["writes"]) for c in told["cycles"]] == [
        (1, 1, True),
        (0, 1, True),
        (1, 0, False),
    ]
    assert run(["wire", "bus", str(path), *options, "--at", "1"]) == 0
    out = capsys.readouterr().out
    assert "2 bus cycles of 3" in out
    assert "  6 us: reads 00 from 0001\n" in out


def test_merge(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Runs under their merge, a lost byte as --."""
    log = tmp_path / "runs.log"
    log.write_text("54 49 44 45\n54 44 45\n54 49 44 45\n54 49 44 45\n")
    assert run(["wire", "merge", str(log), "--base", "hex"]) == 0
    out = capsys.readouterr().out
    assert "     0  54 49 44 45" in out
    assert " run 2  54 -- 44 45" in out
    assert "  - runs.log: numbers hexadecimal, as stated; each line is a run, concluded: lines hold" in out
    told = plain(capsys, "wire", "merge", log, "--base", "hex")
    assert bytes(item["value"] for item in told["bytes"]) == b"TIDE"
    assert [run_["columns"] for run_ in told["aligned"] if run_["run"] == 1] == [[0, None, 1, 2]]


def test_merge_runs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Only some of the runs, under their own numbers."""
    log = tmp_path / "mixed.log"
    log.write_text("numbers: hex\nruns: line\n51 55 49 4C 4C\n4D 41 52 52\n51 55 4C 4C\n51 49 4C 4C\n")
    assert run(["wire", "merge", str(log), "--runs", "1, 3-4"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("3 of 4 runs of mixed.log\n5 bytes")
    assert " run 4  51 -- 49 4C 4C" in said
    assert "run 2" not in said


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("2,5", "--runs: the runs are 1 to 2, not '5'"),
        ("2-1", "--runs: the runs are 1 to 2, not '2-1'"),
        ("all", "--runs: is numbers of runs and ranges of them, such as 1,3-5, not 'all'"),
    ],
)
def test_merge_runs_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str], asked: str, words: str) -> None:
    """Runs that are not there are refused."""
    log = tmp_path / "two.log"
    log.write_text("numbers: hex\nruns: line\n51 55\n51 55\n")
    assert run(["wire", "merge", str(log), "--runs", asked]) == 2
    assert capsys.readouterr().err == f"latchlore: {words}\n"


def test_merge_known_listener(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Bench case "predictable listener loss": what the listener command printed is used by the merge."""
    log, told = tmp_path / "runs.log", tmp_path / "listener.json"
    heard = [0, 1, 2, 4, 5, 6, 7, 9, 10, 11, 13, 14, 15, 16, 18, 19, 20, 22, 23, 24, 26, 27, 28, 29]
    log.write_text(f"{bytes(heard).hex(' ')}\n" * 3)
    case = ("--period", "47 us", "--service", "61 us", "--reads", "5 us", "--depth", "1")
    assert run(["wire", "listener", *case, "--json"]) == 0
    told.write_text(capsys.readouterr().out)
    found = plain(capsys, "wire", "merge", log, "--base", "hex", "--listener", told)
    assert [item["value"] for item in found["bytes"]] == heard
    assert "no run can be expected to hold 6 of them (counted from 0: 3, 8, 12, 17, 21, 25)" in found["notes"][0]
    gaps = [item["value"] for item in found["bytes"] if item["missing_before"] > 0.99]
    assert gaps == [4, 9, 13, 18, 22, 26]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{}", "holds no chances of missing bytes; print them with 'latchlore wire listener ... --json'"),
        ('{"missed": [0.5, 2]}', "the chance of missing byte 1 is a number from 0 to 1, not 2"),
    ],
)
def test_merge_known_listener_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, words: str) -> None:
    """Anything else than a listener's prediction is refused."""
    log, told = tmp_path / "runs.log", tmp_path / "listener.json"
    log.write_text("4A 4B\n4A 4B\n")
    told.write_text(text)
    assert run(["wire", "merge", str(log), "--listener", str(told)]) == 2
    assert f"listener.json: {words}" in capsys.readouterr().err


def test_faults(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Bench case "bridged data lines", typed in."""
    sent, log = tmp_path / "sent.log", tmp_path / "got.log"
    sent.write_text(b"LIST 100-250".hex(" ") + "\n")
    log.write_text("4C 4D 53 5C 20 31 30 30 2D 32 3D 30\n")
    told = plain(capsys, "wire", "faults", log, "--sent", sent)
    assert told["against_sent"][0].startswith("D2 and D3 are bridged and high wins (wired OR), seen on D2")
    assert run(["wire", "faults", str(log)]) == 0
    assert "D2 and D3 are equal in all 12 bytes" in capsys.readouterr().out


def test_faults_runs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Several runs that lost bytes: put beside what was sent, all judged together."""
    sent = b"TIDE 3.5 AT NINE AND FALLING SINCE SEVEN, LAMP LIT"
    stuck = bytes(byte & ~4 for byte in sent)
    (tmp_path / "sent.log").write_text("numbers: hex\n" + sent.hex(" ") + "\n")
    runs = [stuck[:7] + stuck[8:], stuck[:30] + stuck[31:40] + stuck[41:]]
    (tmp_path / "got.log").write_text("numbers: hex\nruns: line\n" + "\n".join(one.hex(" ") for one in runs) + "\n")
    told = plain(capsys, "wire", "faults", str(tmp_path / "got.log"), "--sent", str(tmp_path / "sent.log"))
    assert told["against_sent"][0].startswith(
        "97 bytes logged were put beside the bytes sent; 3 sent were lost and 0 logged are over (2 runs)"
    )
    assert told["against_sent"][1].startswith("D2 is stuck low: ")
    assert told["from_bytes"][0] == "D2 is 0 in all 97 bytes: stuck, or never used"


def test_compare(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Bench case "ramp through a host", typed in."""
    ramp = bytes(range(256))
    sent, got = tmp_path / "sent.log", tmp_path / "got.log"
    sent.write_text(ramp.hex(" ") + "\n")
    got.write_text((ramp[:112] + b"\r\n" + ramp[112:192] + b"\r\n" + ramp[192:]).hex(" ") + "\n")
    told = plain(capsys, "wire", "compare", sent, got)
    assert "after every 80 bytes of 20h and above" in told["rules"][0]["words"]
    assert told["unexplained"] == []
    assert run(["wire", "compare", str(sent), str(sent)]) == 0
    assert "They are the same." in capsys.readouterr().out


def test_compare_peers(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A capture beside a log of the same bytes with one lost and one doubled; both captures' times side by side."""
    long = TEXT * 4
    host, vcd = Host(junk=False), tmp_path / "tide.vcd"
    host.send(long, random.Random(1))
    write_vcd(vcd, host)
    times = [time // NS for time, _ in host.latched]
    rows = [f"{time} {byte:02X}" for time, byte in zip(times, long, strict=True)]
    rows[20] = f"{rows[20]}\n{times[20] + 300} {long[20]:02X}"
    del rows[9]
    log = tmp_path / "heard.log"
    log.write_text("numbers: hex\nruns: file\ntimes: ns\n" + "\n".join(rows) + "\n")
    told = plain(capsys, "wire", "compare", "--peers", vcd, log)
    assert told["format"] == "latchlore-wire-peers"
    assert [(step["verdict"], step["wrong"]) for step in told["steps"]] == [("lost", 1), ("added", 1)]
    assert told["handshake"][0]["second"] is None
    assert run(["wire", "compare", "--peers", str(vcd), str(log), "--width", "200"]) == 0
    out = capsys.readouterr().out
    assert "tide.vcd, the first: 164 bytes; heard.log, the second: 164 bytes" in out
    assert "By the times the first lost 0 and has 0 in excess, the second lost 1 and has 1 in excess" in out
    slow = Host(junk=False, width=900 * NS)
    slow.send(long, random.Random(1))
    other = tmp_path / "slow.vcd"
    write_vcd(other, slow)
    told = plain(capsys, "wire", "compare", "--peers", vcd, other)
    assert told["steps"] == []
    widths = next(row for row in told["handshake"] if row["figure"] == "strobe width")
    assert (widths["first"]["least_ps"], widths["second"]["least_ps"]) == ([500 * NS] * 2, [900 * NS] * 2)
    assert widths["differs"] is widths["apart"] is True
    assert run(["wire", "compare", "--peers", str(vcd), str(other), "--width", "200"]) == 0
    out = capsys.readouterr().out
    assert "All 164 bytes are the same." in out
    assert "strobe width: 500 ns to 500 ns, half up to 500 ns (164) | 900 ns to 900 ns, half up to 900 ns (164)" in out
    assert plain(capsys, "wire", "compare", vcd, other)["differences"] == []


def test_listener(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Bench case "predictable listener loss", and back from its log to the listener."""
    case = ("wire", "listener", "--period", "47 us", "--reads", "5 us", "--depth", "1")
    told = plain(capsys, *case, "--service", "61 us")
    assert [k for k, chance in enumerate(told["missed"]) if chance == 1] == [3, 8, 12, 17, 21, 25]
    log = tmp_path / "ramp.log"
    heard = [k for k in range(30) if k not in {3, 8, 12, 17, 21, 25}]
    log.write_text(bytes(heard).hex(" ") + "\n")
    back = plain(capsys, *case, "--heard", log, "--base", "hex")
    low, high = back["intervals_ps"]["service"]
    # 61 us without latency is the corner of what explains the log (60.5 us with 6 us of latency does as well)
    assert low < 61_000_000 < high + 100_000
    assert high - low < 1_000_000
    assert back["explained"]
    assert run([*case, "--heard", str(log), "--base", "hex"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("What one run tells of the listener, with 90 % each")
    assert "a pause between bytes that is longer by " in said
    assert "To try next, by what the most telling byte of one run tells of the listener" in said


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (["read", "nothing.vcd"], 6, "nothing.vcd: no such file"),
        (
            ["read", "t.csv"],
            2,
            "t.csv: what the file holds is not stated: a VCD file begins with a $ keyword; of a table state each "
            "column with --column NAME=COLUMN, of packed samples each bit with --bit NAME=BIT",
        ),
        (["read", "t.csv", "--column", "A"], 2, "--column: takes NAME=VALUE, not 'A'"),
        (["read", "t.csv", "--column", "A=1", "--column", "A=2"], 2, "--column: names 'A' twice"),
        (["read", "t.csv", "--bit", "A=1"], 2, "--bit: packed samples need a sampling rate; state --rate"),
        (["read", "t.csv", "--bit", "A=x", "--rate", "1 MHz"], 2, "--bit: takes a whole number, not 'x'"),
        (
            ["read", "t.csv", "--bit", "A=1", "--rate", "fast"],
            2,
            "--rate: a clock rate is a number and one of Hz, kHz, MHz, not 'fast'",
        ),
        (
            ["read", "t.csv", "--column", "A=1", "--rate", "1 MHz", "--volts", "A=1"],
            2,
            "--volts: takes NAME=LOW..HIGH in volts, not '1'",
        ),
        (
            ["read", "t.csv", "--column", "A=a", "--rate", "1 MHz", "--busy", "A"],
            2,
            "--strobe: is missing: data, busy and acknowledge lines need the strobe",
        ),
        (
            ["read", "t.csv", "--column", "A=a", "--rate", "1 MHz", "--strobe", "A"],
            2,
            "--data: is missing: name the data lines, D0 first, or the bus",
        ),
        (
            ["read", "t.csv", "--column", "A=a", "--rate", "1 MHz", "--strobe", "A", "--data", "B", "--low", "Q"],
            2,
            "--low: names 'Q', which is not the strobe, busy or acknowledge line",
        ),
        (
            ["read", "t.csv", "--column", "A=a", "--rate", "1 MHz"],
            2,
            "t.csv: no line pulses as a strobe does, shortly after others have moved: state what the lines are",
        ),
        (
            ["serial", "t.csv", "--column", "A=a", "--rate", "1 MHz", "--line", "A", "--framing", "9X9"],
            2,
            "--framing: is data bits, parity and stop bits, such as 8N1 or 7E2, not '9X9'",
        ),
        (
            ["timing", "t.csv", "--limit", "glory=1 us.."],
            3,
            "--limit names no figure: 'glory'; known are 'data set-up', 'strobe width', 'data hold', 'pause', "
            "'byte period', 'strobe to busy', 'busy length', 'busy end to strobe', 'strobe to acknowledge', "
            "'acknowledge width', 'acknowledge end to busy end'",
        ),
        (["timing", "t.csv", "--limit", "data hold=1 us"], 2, "--limit: takes FIGURE=LEAST..MOST, not '1 us'"),
        (
            ["listener", "--period", "47 us"],
            2,
            "--service: is missing: state how long it is busy, or give runs with --heard",
        ),
        (
            ["listener", "--period", "soon"],
            2,
            "--period: a time is a number and one of ps, ns, us, ms, s, not 'soon'",
        ),
        (["bus", "t.csv", "--at", "Q"], 2, "--at: takes addresses in hexadecimal, not 'Q'"),
        (["bus", "t.csv"], 2, "--address: is missing: name the lines, lowest first, or the bus"),
        (
            ["bus", "t.csv", "--address", "a", "--data", "b"],
            2,
            "the bus: a bus is either clocked (clock and R/W) or strobed (read and write strobes)",
        ),
        (["compare", "two.log", "two.log"], 2, "two.log: one run is compared at a time; the log has 2"),
    ],
)
def test_wire_wrong(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    status: int,
    words: str,
) -> None:
    """What is typed wrongly is refused with the option or the file, and the rule."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "t.csv").write_text("a\n0\n1\n0\n")
    (tmp_path / "two.log").write_text("4C\n\n4D\n")
    assert run(["wire", *arguments]) == status
    assert capsys.readouterr().err == f"latchlore: {words}\n"


def test_read_marked(vcd: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A byte-order mark before the first keyword does no harm."""
    vcd.write_bytes(b"\xef\xbb\xbf" + vcd.read_bytes())
    assert bytes(row["value"] for row in plain(capsys, "wire", "read", vcd)["bytes"]) == TEXT


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "t.vcd: the file is empty"),
        ("$date today $end".encode("utf-16"), "t.vcd:1: the file is UTF-16; store it as UTF-8 text"),
    ],
)
def test_read_marked_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str], raw: bytes, words: str) -> None:
    """An empty file and one in UTF-16 are called by their names."""
    (tmp_path / "t.vcd").write_bytes(raw)
    assert run(["wire", "read", str(tmp_path / "t.vcd")]) == 2
    assert capsys.readouterr().err == f"latchlore: {words}\n"


def test_timing_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A capture without a strobe has no times, and that is said."""
    path = tmp_path / "t.vcd"
    path.write_text("$timescale 1 ns $end $var wire 1 ! S $end $var wire 1 # A $end $enddefinitions $end\n#0\n1!\n0#\n")
    assert run(["wire", "timing", str(path), "--strobe", "S", "--data", "A"]) == 0
    assert "None can be measured: no whole strobe was seen." in capsys.readouterr().out


def test_lines_quantities(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A channel that is no line is named as what it is, not passed over."""
    path = tmp_path / "t.vcd"
    path.write_text(
        "$timescale 1 ns $end $var wire 1 ! S $end $var real 64 # supply $end $enddefinitions $end\n#0\n1!\nr4.9 #\n"
    )
    assert run(["wire", "lines", str(path)]) == 0
    out = capsys.readouterr().out
    assert "No lines, but measured quantities\n  - supply\n" in out


def write_ramp(path: Path, host: HostTimes) -> None:
    """What a listener of 5 us latency, 6 us jitter and 50 us service hears of a ramp, 8 times."""
    listener = Listener(Span.of(us=5), Span.of(us=50), jitter=Span.of(us=6))
    runs = [bytes(simulate_listener(host, listener, seed)) for seed in range(8)]
    path.write_text("numbers: hex\nruns: line\n" + "".join(run.hex(" ") + "\n" for run in runs))


def test_listener_also(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A second log at another pace narrows the figures; jitter is looked for where it is not stated."""
    width = Span.of(us=1)
    first, second = tmp_path / "first.log", tmp_path / "second.log"
    write_ramp(first, HostTimes.regular(30, Span.of(us=58), width=width))
    write_ramp(second, HostTimes.by_turns(30, [Span.of(us=40), Span.of(us=61)], width=width))
    asked = ("wire", "listener", "--period", "58 us", "--heard", str(first))
    alone = plain(capsys, *asked)
    both = plain(capsys, *asked, "--also", f"40 us, 61 us={second}")
    assert alone["explained"] is both["explained"] is True
    least, most = both["intervals_ps"]["service"]
    assert least < 50_000_000 < most
    assert most - least < alone["intervals_ps"]["service"][1] - alone["intervals_ps"]["service"][0]
    least, most = both["intervals_ps"]["jitter"]
    assert least < 6_000_000 < most


def test_listener_also_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is no pace and log, and a log without the first, are refused; so is reading after the service."""
    log = tmp_path / "ramp.log"
    write_ramp(log, HostTimes.regular(30, Span.of(us=47)))
    asked = ["wire", "listener", "--period", "47 us"]
    for more, words in (
        (
            ["--heard", str(log), "--also", "94 us"],
            "--also: is a time, or several by turns, and a log, such as '94 us=slow.log', not '94 us'",
        ),
        (["--also", f"94 us={log}"], "--also: goes with --heard"),
        (
            ["--service", "3 us", "--reads", "5 us"],
            "the listener: a listener reads the port before it is ready again: reads after 5 us, ready after 3 us",
        ),
        (["--heard", str(log), "--count", "9"], "ramp.log: a run holds indices of bytes sent, 0 to 8, not "),
    ):
        assert run([*asked, *more]) == 2
        assert capsys.readouterr().err.startswith(f"latchlore: {words}")


def test_listener_chance(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Losses by pure chance: it is said first that no listener explains them."""
    rng = random.Random("chance")
    runs = [bytes(k for k in range(30) if rng.random() > 0.3) for _ in range(8)]
    log = tmp_path / "chance.log"
    log.write_text("numbers: hex\nruns: line\n" + "".join(one.hex(" ") + "\n" for one in runs))
    assert run(["wire", "listener", "--period", "47 us", "--heard", str(log)]) == 0
    assert capsys.readouterr().out.splitlines()[1].startswith("no listener was found that explains these runs better")
