"""The commands of `latchlore program`, on the demonstration and on small image files."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import subprocess
import sys
import xml.etree.ElementTree as ET
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from latchlore.cli import run
from latchlore.cli import wording as cli_wording

if TYPE_CHECKING:
    from collections.abc import Iterator

MINE = ("listing", "drivers", "tree", "handshake", "bytes", "status", "compare")
SEND = bytes.fromhex("2C01C810FB8D00C8A9008D02C8A205CAD0FDA9018D02C860")
STATED = ("--cpu", "6502", "--load", "E000", "--entry", "send=E000", "--devices", "C800-C803")
ROLES = ("--role", "data C800", "--role", "strobe C802 bit 0", "--role", "busy C801 bit 7 inverted")


@pytest.fixture(autouse=True, scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A cache of its own, kept for all tests here."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LATCHLORE_CACHE", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the demonstration study."""
    folder = tmp_path_factory.mktemp("studies") / "demo"
    shutil.copytree(str(resources.files("latchlore.demo")), folder)
    return folder


@pytest.fixture
def rom(tmp_path: Path) -> Path:
    """A raw image of one routine."""
    file = tmp_path / "send.bin"
    file.write_bytes(SEND)
    return file


def text_of(capsys: pytest.CaptureFixture[str], *arguments: str, status: int = 0) -> str:
    """What a command prints."""
    assert run(["program", *arguments]) == status, capsys.readouterr().err
    return capsys.readouterr().out


def json_of(capsysbinary: pytest.CaptureFixture[bytes], *arguments: str) -> dict[str, Any]:
    """What a command prints as JSON."""
    assert run(["program", *arguments, "--json"]) == 0
    plain: dict[str, Any] = json.loads(capsysbinary.readouterr().out.decode("utf-8"))
    return plain


def refusal(capsys: pytest.CaptureFixture[str], *arguments: str, status: int = 2) -> str:
    """The message with which a command ends."""
    assert run(["program", *arguments]) == status
    shown = capsys.readouterr()
    assert shown.out == ""
    return shown.err


def test_help_imports_nothing_heavy() -> None:
    """The group's help names every command and imports none of them."""
    code = (
        "import sys\nfrom latchlore.cli import run\nassert run(['program', '--help']) == 0\n"
        "print('LOADED', *sorted(sys.modules), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    loaded = set(done.stderr.partition("LOADED ")[2].split())
    assert not loaded & {"numpy", "numba", "pydantic", "latchlore.base", "latchlore.program", "latchlore.study"}
    assert not {f"latchlore.cli.{module}" for module, _ in cli_wording.PROGRAM_COMMANDS.values()} & loaded
    assert all(f"  {command} " in done.stdout for command in cli_wording.PROGRAM_COMMANDS)


@pytest.mark.parametrize("command", MINE)
def test_help_of_each_command(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Each command explains itself and its exit statuses."""
    shown = " ".join(text_of(capsys, command, "--help").split())
    assert "Exit status: 0 all well;" in shown
    assert f"latchlore program {command}" in shown


def test_listing(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The demonstration's listing: shares, names of registers, cross references, texts, and the invented data said."""
    shown = text_of(capsys, "listing", str(demo), "--width", "100")
    assert "Invented for demonstration" in shown
    assert "F868  2C 10 B8       BIT $B810" in shown
    assert "F86D  8D 08 B8       STA $B808               writes B808 (DATA)" in shown
    assert "      called from F85D, F8A5, F8B2, F8B7" in shown
    assert "“MARRAM TIDE RECORDER 2.1 / 1982 / INVENTED FOR A DEMONSTRATION”" in shown
    assert "not explained" in shown
    assert all(len(line) <= 100 for line in shown.splitlines())


def test_listing_only(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One routine alone."""
    shown = text_of(capsys, "listing", str(demo), "--only", "F868-F87F", "--width", "100")
    lines = [line for line in shown.splitlines() if line.startswith("F8")]
    assert lines[0] == "F868  2C 10 B8       BIT $B810               reads B810 (FAULT, BUSY, PAPER-OUT, W2, W1)"
    assert lines[-1] == "F87F  60             RTS"
    assert refusal(capsys, "listing", str(demo), "--only", "F900-F800") == (
        "latchlore: --only: a range goes from the lower to the higher address, not 'F900-F800'\n"
    )


def test_listing_json(demo: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """Shares add up to the image, and every byte of it is in a part."""
    plain = json_of(capsysbinary, "listing", str(demo))
    assert (plain["format"], plain["version"]) == ("latchlore-program-listing", 1)
    assert sum(plain["shares"].values()) == plain["size"] == 2048
    covered = {
        at for part in plain["parts"] for at in range(part["address"], part["address"] + len(part["bytes"].split()))
    }
    assert covered == set(range(0xF800, 0x10000))


def test_listing_from_vectors(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where no entry is stated, the processor's vectors are where code begins."""
    rom = str(demo / "program" / "marram.bin")
    shown = text_of(capsys, "listing", rom, "--cpu", "6502", "--load", "F800")
    assert "F800  entry “vector reset”" in shown
    assert "F9C8  entry “vector NMI, IRQ”" in shown


def test_listing_follows_paths(tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """Behind an inline text the code is found where an explored path touches a device."""
    # JSR E010; "HI" 00; STA C800; RTS ... E010: the bytes behind the call up to 00 are skipped
    routine = "68 8502 68 8503 A001 B102 F003 C8 D0F9 98 18 6502 8502 9002 E603 A503 48 A502 48 60"
    code = bytes.fromhex("2010E0 484900 8D00C8 60").ljust(16, b"\xea") + bytes.fromhex(routine)
    file = tmp_path / "inline.bin"
    file.write_bytes(code)
    plain = json_of(capsysbinary, "listing", str(file), *STATED)
    assert plain["takes_inline"] == [0xE010]
    assert not any(part["kind"] == "code" and part["address"] == 0xE006 for part in plain["parts"])
    followed = json_of(capsysbinary, "listing", str(file), *STATED, "--follow")
    assert any(part["kind"] == "code" and part["address"] == 0xE006 for part in followed["parts"])


def test_drivers(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Which routines write the data, through which mirror, and from which entries."""
    shown = text_of(capsys, "drivers", str(demo))
    assert "DATA, A808 (write); 512 addresses: 101x 10xx xxx0 1xxx" in shown
    assert "    F86D  STA $B808             writes B808" in shown
    assert "Where the address cannot be told" in shown


def test_drivers_follow_pointers(tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """Where a pointer leads the code alone does not tell; explored paths do."""
    # LDX #0; STX 06; LDX #C8; STX 07; LDY #0; STA (06),Y; RTS
    file = tmp_path / "pointer.bin"
    file.write_bytes(bytes.fromhex("A2008606A2C88607A000910660"))
    plain = json_of(capsysbinary, "drivers", str(file), *STATED)
    assert plain["registers"] == []
    assert [(one["program_address"], one["access"]) for one in plain["cannot_be_told"]] == [(0xE00A, "wr")]
    plain = json_of(capsysbinary, "drivers", str(file), *STATED, "--follow")
    (register,) = plain["registers"]
    (touch,) = register["touches"]
    assert (register["lowest"], touch["program_address"], touch["on_path"]) == (0xC800, 0xE00A, True)


def test_drivers_json(demo: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """Every touch has its origin."""
    plain = json_of(capsysbinary, "drivers", str(demo))
    data = next(one for one in plain["registers"] if one["name"] == "DATA")
    assert [touch["program_address"] for touch in data["touches"]] == [0xF86D, 0xF928]
    assert data["touches"][0]["origin"] == "program/marram.bin at F86D (STA $B808)"
    assert data["sure"] is True


def test_tree(rom: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A tree from a bare file, with the names that roles give, and the bounds below."""
    shown = text_of(capsys, "tree", str(rom), *STATED, *ROLES)
    assert "“send” from E000: 4 events, 0 choices, followed to every end" in shown
    assert "            +3  E000  wait until BUSY (C801 bit 7) = 1" in shown
    assert "            +6  E005  write C800 ← A (DATA)" in shown
    assert "           +32  E014  write C802 ← 01 (STROBE)" in shown
    assert "Taken for granted" in shown
    assert "Bounds" in shown


def test_tree_json_and_picture(demo: Path, tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """The tree in JSON has the nodes that the rows name; the picture is a file of its own, the same every time."""
    files = [tmp_path / "one.svg", tmp_path / "two.svg"]
    for file in files:
        plain = json_of(capsysbinary, "tree", str(demo), "--entry", "power-on", "--picture", str(file))
    (tree,) = plain["trees"]
    assert tree["tree"]["exhausted"] is True
    assert {row["node"] for row in tree["rows"]} == set(range(len(tree["tree"]["nodes"])))
    assert files[0].read_bytes() == files[1].read_bytes()
    assert ET.fromstring(files[0].read_text("utf-8")).tag == "{http://www.w3.org/2000/svg}svg"


def test_tree_rows(demo: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """A long tree can be cut, and then says how much is left out."""
    (tree,) = json_of(capsysbinary, "tree", str(demo), "--entry", "power-on")["trees"]
    assert run(["program", "tree", str(demo), "--entry", "power-on", "--rows", "3"]) == 0
    shown = capsysbinary.readouterr().out.decode("utf-8")
    assert f"… and {len(tree['rows']) - 3} more rows (--rows)" in shown


def test_tree_of_unstated_ports(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A port that nobody states is unknown every time it is read, whatever the upper address lines carry."""
    # IN A,(A9h); AND 80h; LD A,41h; JR Z,+2; LD A,42h; OUT (91h),A; RET: both bytes can be sent
    file = tmp_path / "ports.bin"
    file.write_bytes(bytes.fromhex("DBA9E6803E4128023E42D391C9"))
    stated = ("--cpu", "Z80", "--load", "8000", "--entry", "8000", "--devices", "port 91")
    shown = text_of(capsys, "bytes", str(file), *stated)
    assert "“8000”  2 of 256: 41 to 42" in shown
    assert "port A9: reaches it (bits 1-0 by 7)" in shown


def test_handshake(rom: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Strobe width in cycles and time, with a tolerance rounded outwards; the picture is drawn."""
    file = tmp_path / "handshake.svg"
    clock = ("--clock", "1.0 MHz", "--tolerance", "100")
    shown = text_of(capsys, "handshake", str(rom), *STATED, *ROLES, *clock, "--picture", str(file))
    # 32 cycles of 1 MHz ± 100 ppm: 32 / 1.0001 = 31.99680031... and 32 / 0.9999 = 32.00320032... us
    assert "strobe width  32 cycles = 31.9968 us to 32.003201 us; edge at E00A" in shown
    assert "every 7 cycles = 6.9993 us to 7.000701 us; never gives up" in " ".join(shown.split())
    assert "C802 ← 01" in file.read_text("utf-8")


def test_handshake_of_the_bench_case(tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """Strobe width from code, 6502 and Z80, with nobody naming the strobe: 32.0 us at 1 MHz, 23.6 us at 2.5 MHz."""
    for code, cpu, devices, clock, cycles, picoseconds in (
        ("A9008D02C8A205CAD0FDA9018D02C860", "6502", "C802", "1.000 MHz", 32, 32_000_000),
        ("AFD390060310FE3E01D390C9", "Z80", "port 90", "2.5 MHz", 59, 23_600_000),
    ):
        file = tmp_path / "pulse.bin"
        file.write_bytes(bytes.fromhex(code))
        stated = ("--cpu", cpu, "--load", "0300", "--entry", "0300", "--devices", devices, "--clock", clock)
        (pulse,) = json_of(capsysbinary, "handshake", str(file), *stated)["pulses"]
        assert pulse["bits"] == [0]
        assert pulse["width"] == {
            "least": cycles,
            "most": cycles,
            "least_ps": picoseconds,
            "most_ps": picoseconds,
        }


def test_bytes(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What may be sent comes with a path; what may never be with its grounds; a study asks what it looks for."""
    shown = text_of(capsys, "bytes", str(demo), "--entry", "print a character", "--code", "5A 0D", "--code", "1B")
    assert "“print a character”  71 of 256: 0A, 0D, 20 to 60, 7B to 7E" in shown
    assert "A: reaches it (bits 6, 4-0 as they are; bit 5 by 6-0)" in shown
    assert "X, Y: never reach it" in shown
    assert "for example with A = 5A (bits 6, 4-0), RAM 0012 = 17" in shown
    assert "May it send 1B?\n  “print a character”  never\n      no walk through the tree writes it" in shown
    assert "May it send dot-drawn tide curve?" in text_of(capsys, "bytes", str(demo), "--entry", "power-on")


def test_bytes_json(demo: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """The same for programs, with the nodes of the path."""
    plain = json_of(capsysbinary, "bytes", str(demo), "--entry", "power-on", "--code", "'M' 'A'")
    (code,) = plain["codes"]
    (entry,) = code["entries"]
    assert (entry["happens"], entry["verdict"]) == (True, "it may")
    assert entry["path"]["example"] == [{"kind": "memory", "address": 0xB810, "name": "", "value": 2, "mask": 3}]
    assert plain["registers"][0]["entries"][0]["never"] == ["A", "X", "Y"]


def test_status(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The bench case of two status tests, out of one image with three entries."""
    code = "AD01C829F0C930D0F7A9418D00C860 AD01C8C93FD0F9A9428D00C860 2C01C830FBA9438D00C860"
    file = tmp_path / "three.bin"
    file.write_bytes(bytes.fromhex(code))
    entries = ("--entry", "A=E000", "--entry", "B=E00F", "--entry", "C=E01C")
    devices = ("--devices", "C800-C801", "--register", "C801")
    shown = text_of(capsys, "status", str(file), "--cpu", "6502", "--load", "E000", *entries, *devices)
    assert "All of them at once\n  1 of 256: 3F\n  an undriven bus (FF) satisfies none" in shown
    assert "bit 3  tested by B: reads 1, probably undriven" in shown


def test_compare(rom: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same, other times, and not the same, each by name."""
    longer, other = tmp_path / "longer.bin", tmp_path / "other.bin"
    longer.write_bytes(SEND.replace(b"\xa2\x05", b"\xa2\x06"))
    other.write_bytes(SEND.replace(b"\x10\xfb", b"\x30\xfb"))
    assert "“send”: the same in everything, cycles too" in text_of(capsys, "compare", str(rom), str(rom), *STATED)
    shown = text_of(capsys, "compare", str(rom), str(longer), *STATED)
    assert "“send”: the same bytes under the same conditions, in other times" in shown
    assert "write 01 to C802: 32 cycles (E014), then 37 cycles (E014)" in shown
    shown = text_of(capsys, "compare", str(rom), str(other), *STATED)
    assert "“send”: not the same" in shown
    assert "     first   wait until C801 bit 7 = 1 (at E000)" in shown


def test_compare_moved(rom: Path, tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """A version at another address is asked with its own load address and entry."""
    moved = tmp_path / "moved.hex"
    moved.write_text(
        ":10800000" + SEND[:16].hex().upper() + f"{-(0x10 + 0x80 + sum(SEND[:16])) & 0xFF:02X}\n"
        ":08801000" + SEND[16:].hex().upper() + f"{-(0x08 + 0x80 + 0x10 + sum(SEND[16:])) & 0xFF:02X}\n"
        ":00000001FF\n"
    )
    stated = ("--cpu", "6502", "--entry", "send=8000", "--devices", "C800-C803")
    plain = json_of(capsysbinary, "compare", str(moved), str(moved), *stated)
    assert plain["versions"][0]["images"][0]["load"] == 0x8000
    raw = tmp_path / "moved.bin"
    raw.write_bytes(SEND)
    own = ("--second-load", "8000", "--second-entry", "send=8000")
    plain = json_of(capsysbinary, "compare", str(rom), str(raw), *STATED, *own)
    assert (plain["entries"][0]["same"], plain["entries"][0]["num_times"]) == (True, 0)
    assert [version["images"][0]["load"] for version in plain["versions"]] == [0xE000, 0x8000]


def test_compare_a_study_with_a_file(demo: Path, tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """A study states everything itself; the options are for the file."""
    rom = demo / "program" / "marram.bin"
    held = ("--held", "B810 bits 0-1", "--devices", "1011 1xxx xxxx xxxx", "--devices", "E200-E202")
    stated = ("--cpu", "6502", "--load", "F800", "--entry", "power-on=F820", *held)
    plain = json_of(capsysbinary, "compare", str(demo), str(rom), *stated)
    assert [entry["same"] for entry in plain["entries"]] == [True]


def test_program_wrong(rom: Path, demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every mistake of the command has its words and its status."""
    file = str(rom)
    assert refusal(capsys, "tree", file) == (
        f"latchlore: --cpu: image files need a processor: one of {', '.join(known_cpus())}, or infer\n"
    )
    assert refusal(capsys, "tree", file, "--cpu", "6502") == (
        f"latchlore: {file}: is raw bytes; give its address with --load, or --load infer\n"
    )
    assert refusal(capsys, "tree", file, "--cpu", "6502", "--load", "E000") == (
        f"latchlore: {file}: no entry is stated; a path begins at one (--entry, or [[entry]] in study.toml)\n"
    )
    assert refusal(capsys, "tree", file, "--cpu", "6502", "--load", "E000", "--entry", "E000") == (
        f"latchlore: {file}: no address is known to belong to a device, so no path can be followed to one; state them "
        "(--devices, or [devices] in study.toml), or give the board\n"
    )
    assert refusal(capsys, "tree", file, *STATED, "--load", "F000") == (
        "latchlore: --load: --load is given 2 times, and the number of raw files that need it is 1\n"
    )
    assert refusal(capsys, "tree", file, "--cpu", "6502", "--load", "E0ZZ", "--entry", "E000").startswith(
        "latchlore: --load: a load address is hexadecimal digits, such as 'C800', or 'infer', not 'E0ZZ'"
    )
    assert refusal(capsys, "tree", str(demo), "--cpu", "6502") == (
        f"latchlore: {demo}: is a study, which states everything in study.toml; leave out --cpu\n"
    )
    assert refusal(capsys, "tree", str(demo), "--entry", "no such", status=3) == (
        "latchlore: there is no entry 'no such'; known are 'reset', 'power-on', 'print a character', 'print a line', "
        "'print a reading'\n"
    )
    assert refusal(capsys, "tree", str(demo), "--picture", str(tmp_path / "x.svg")) == (
        "latchlore: --picture: a picture shows one entry; choose one with --entry: 'reset', 'power-on', "
        "'print a character', 'print a line', 'print a reading'\n"
    )
    assert refusal(capsys, "bytes", file, *STATED, "--code", "1").startswith(
        "latchlore: --code: a code is bytes of two"
    )
    assert refusal(capsys, "bytes", file, *STATED, "--register", "C8FF", status=3) == (
        "latchlore: no path from these entries writes 'C8FF'; known are 'unnamed, C800', 'unnamed, C802'\n"
    )
    assert refusal(capsys, "compare", file, str(demo), *STATED, status=3) == (
        "latchlore: there is no entry 'send'; known are 'reset', 'power-on', 'print a character', 'print a line', "
        "'print a reading'\n"
    )
    assert refusal(capsys, "compare", file, file, *STATED, "--second-entry", "other=E000", status=3) == (
        "latchlore: the versions have no entry in common: 'send' and 'other'; give both the same names (NAME=ADDRESS)\n"
    )
    assert refusal(capsys, "tree", file, *STATED, "--entry", "send=E003") == (
        "latchlore: --entry: entry 'send' is stated twice; give each a name of its own (NAME=ADDRESS)\n"
    )
    empty = tmp_path / "empty.bin"
    empty.write_bytes(b"")
    assert refusal(capsys, "listing", str(empty), "--cpu", "6502", "--load", "E000") == (
        f"latchlore: {empty}: image '{empty}' is empty\n"
    )
    assert run(["new", str(tmp_path / "bare")]) == 0
    capsys.readouterr()
    assert refusal(capsys, "tree", str(tmp_path / "bare")) == (
        "latchlore: study.toml: names no image of a program; [program] with a cpu and an [[image]] make one\n"
    )
    assert refusal(capsys, "tree", file, *STATED, "--role", "strobe") == (
        "latchlore: --role: a role has a place, such as 'strobe C802 bit 0', not 'strobe'\n"
    )
    assert refusal(capsys, "tree", str(tmp_path / "none.bin"), *STATED, status=6) == (
        f"latchlore: {tmp_path / 'none.bin'}: No such file or directory\n"
    )


def known_cpus() -> tuple[str, ...]:
    """The processors of this version."""
    from latchlore.program import cpu_names

    return cpu_names()


PAGES = Path(__file__).parent.parent / "docs"


def test_page_is_walked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Every command of docs/program.md works as it is printed."""
    page = (PAGES / "program.md").read_text("utf-8")
    blocks = re.findall(r"^```\n(.*?)^```$", page, re.MULTILINE | re.DOTALL)
    (code,) = (text for text in blocks if re.fullmatch(r"(?:[0-9A-F]{2}[ \n])+", text))
    assert bytes.fromhex(code) == SEND
    monkeypatch.chdir(tmp_path)
    (tmp_path / "send.bin").write_bytes(SEND)
    commands = [line for text in blocks for line in text.splitlines() if line.startswith("latchlore ")]
    assert {shlex.split(line)[2] for line in commands if line.startswith("latchlore program")} == set(MINE)
    for line in commands:
        assert run(shlex.split(line)[1:]) in ((0, 4) if " demo " in line else (0,)), line
    assert "32 cycles = 32 us" in capsys.readouterr().out
    assert (tmp_path / "power-on.svg").is_file()


@pytest.mark.parametrize("command", MINE)
def test_schema_is_documented(command: str, demo: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """Every key of an answer stands in docs/program-json.md."""
    page = (PAGES / "program-json.md").read_text("utf-8")
    tables = (PAGES / "weigh-json.md").read_text("utf-8")
    arguments = [command, str(demo)]
    if command == "compare":
        arguments += [str(demo)]
    else:
        arguments += ["--entry", "power-on"]
    if command == "status":
        arguments += ["--register", "B810"]
    if command == "bytes":
        arguments += ["--code", "5A"]
    plain = json_of(capsysbinary, *arguments)
    keys = set(_keys({key: value for key, value in plain.items() if key not in ("trees", "shares")}))
    for tree in plain.get("trees", ()):
        keys |= set(_keys({key: value for key, value in tree.items() if key != "tree"}))
        assert all(f"`{key}`" in tables for key in _keys(tree["tree"]) if key not in ("exhausted", "nodes", "leaf"))
    assert sorted(key for key in keys if f"`{key}`" not in page) == []


def _keys(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from _keys(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _keys(inner)
