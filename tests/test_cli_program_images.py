"""The commands that tell what a dump is and what can be done about a bad one."""

from __future__ import annotations

import hashlib
import json
import random
from importlib import resources
from typing import TYPE_CHECKING

import pytest

from latchlore.base import OUTCOME, BadInput
from latchlore.cli import run
from latchlore.program import Wiring, describe_image

if TYPE_CHECKING:
    from pathlib import Path

USAGE = 2


def marram() -> bytes:
    """The demonstration's image: 2 KB of invented 6502 code for F800, with vectors."""
    return resources.files("latchlore.demo").joinpath("program/marram.bin").read_bytes()


def ramp_rom() -> bytes:
    """Bench case "inverted address line": 256 bytes of a plain rule with a text in them."""
    rom = bytearray((73 * address + 29) % 256 for address in range(256))
    rom[0x38:0x4A] = b"PRINTER NOT READY\r"
    return bytes(rom)


def noisy(data: bytes, seed: int) -> bytes:
    """A read with five bits flipped anywhere."""
    chooser, read = random.Random(seed), bytearray(data)
    for _ in range(5):
        read[chooser.randrange(len(data))] ^= 1 << chooser.randrange(8)
    return bytes(read)


def test_image(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Form, fill, texts, processor with margin, and place are told, file by file."""
    (tmp_path / "a.bin").write_bytes(marram())
    (tmp_path / "b.bin").write_bytes(b"\xff" * 2048)
    (tmp_path / "c.bin").write_bytes(marram() * 2)
    assert run(["program", "image", *(str(tmp_path / name) for name in ("a.bin", "b.bin", "c.bin"))]) == 0
    out = capsys.readouterr().out.replace(f"{tmp_path}/", "")
    first, second, third = out.split("\n\n")
    assert first.startswith("a.bin: raw, 2,048 bytes\na.bin: FFh fills 1,475 bytes, the longest stretch at 01F9-077F\n")
    assert "a.bin: processor not named: undecided between 6502 and 65C02: the first leads by " in first
    assert first.endswith("a.bin: processor not known; loads at F800, as its code shows")
    assert "b.bin: all 2,048 bytes read FFh: the chip was not selected, or it is blank\n" in second
    assert "none of these: too little of it hangs together as code of any known processor" in second
    assert "the dump cannot say which half" in third


def test_image_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same as plain data, with what was stated taken."""
    (tmp_path / "a.bin").write_bytes(marram())
    assert run(["program", "image", str(tmp_path / "a.bin"), "--cpu", "6502", "--load", "F800", "--json"]) == 0
    (told,) = json.loads(capsys.readouterr().out)["images"]
    assert (told["cpu"], told["load"], told["format"], told["bytes"]) == ("6502", "F800", "raw", 2048)
    assert {"offset": "01DC", "text": "MARRAM"} in told["texts"]


def test_image_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A broken file is named with its line behind what could be read; a bad address is refused by its option."""
    (tmp_path / "a.bin").write_bytes(marram())
    (tmp_path / "bad.hex").write_bytes(b":0100000011EF\n")
    assert run(["program", "image", str(tmp_path / "bad.hex"), str(tmp_path / "a.bin")]) == OUTCOME[BadInput].exit_code
    printed = capsys.readouterr()
    assert printed.err == f"latchlore: {tmp_path}/bad.hex:1: the checksum is EFh; the record's bytes give EEh\n"
    assert "a.bin: raw, 2,048 bytes" in printed.out
    assert run(["program", "image", str(tmp_path / "a.bin"), "--load", "top"]) == OUTCOME[BadInput].exit_code
    assert capsys.readouterr().err == (
        "latchlore: --load: an address is hexadecimal digits, such as 'C800', not 'top'\n"
    )


def test_repair_proposes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Bench case "inverted address line": proposed with its runner-up and the line for study.toml; nothing written."""
    dump = bytes(ramp_rom()[address ^ 0x40] for address in range(256))
    (tmp_path / "a.bin").write_bytes(dump)
    assert run(["program", "repair", str(tmp_path / "a.bin")]) == 0
    out = capsys.readouterr().out
    assert "\nlikeliest: A6 inverted (read as text and tables: " in out
    assert "\nrunner-up: " in out
    assert out.endswith('In study.toml:  repair = ["A6 inverted"]\n')
    assert [path.name for path in tmp_path.iterdir()] == ["a.bin"]
    assert (tmp_path / "a.bin").read_bytes() == dump


def test_repair_write(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A known line is put back in a new file, with a note of what was done; never over a file that is there."""
    dump = bytes(ramp_rom()[address ^ 0x40] for address in range(256))
    source, target = tmp_path / "a.bin", tmp_path / "b.bin"
    source.write_bytes(dump)
    command = ["program", "repair", str(source), "--line", "A6 inverted", "--write", str(target)]
    assert run(command) == 0
    assert target.read_bytes() == ramp_rom()
    note = (tmp_path / "b.bin.txt").read_text()
    assert f"a.bin  sha256 {hashlib.sha256(dump).hexdigest()}" in note
    assert f"b.bin  sha256 {hashlib.sha256(ramp_rom()).hexdigest()}" in note
    assert "decided: the wiring is stated, so nothing was searched" in note
    assert "likeliest: A6 inverted" in note
    capsys.readouterr()
    assert run(command) == OUTCOME[BadInput].exit_code
    assert capsys.readouterr().err == (
        f"latchlore: {target}: is there already; a repaired image goes into a new file\n"
    )


def test_repair_write_undecided(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is undecided is not written, unless the likeliest is asked for."""
    (tmp_path / "a.bin").write_bytes(random.Random(9).randbytes(256))
    command = ["program", "repair", str(tmp_path / "a.bin"), "--cpu", "6502", "--write", str(tmp_path / "b.bin")]
    assert run(command) == OUTCOME[BadInput].exit_code
    assert capsys.readouterr().err.startswith(
        f"latchlore: {tmp_path}/b.bin: nothing was written, for it is undecided: "
    )
    assert not (tmp_path / "b.bin").exists()
    assert run([*command, "--likeliest"]) == 0
    assert (tmp_path / "b.bin").stat().st_size == 256


def test_repair_reads(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Reads are merged, the one with a bad contact is dropped by name, and the image is written with its note."""
    chip = marram()
    for k in range(4):
        (tmp_path / f"r{k}").write_bytes(noisy(chip, k))
    (tmp_path / "r4").write_bytes(bytes(byte | 8 for byte in chip))
    files = [str(tmp_path / f"r{k}") for k in range(5)]
    assert run(["program", "repair", *files, "--reads", "--no-lines", "--write", str(tmp_path / "out")]) == 0
    out = capsys.readouterr().out
    assert out.startswith("majority: zeros and ones flip alike and seldom twice")
    assert "read 5 dropped: bad contact: D3 reads 1 where the others read 0" in out
    assert (tmp_path / "out").read_bytes() == chip
    assert "undecided: no wiring was looked for" in (tmp_path / "out.txt").read_text()
    assert run(["program", "repair", *files, "--reads", "--no-lines", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["reads"]["rule"] == "majority"
    assert [one["file"] for one in told["reads"]["dropped"]] == [files[4]]
    assert len(told["reads"]["weak"]) == 20


def test_repair_known_wiring(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The board's net file tells the wiring: here A3 and A10 crossed."""
    wiring = Wiring((0, 1, 2, 10, 4, 5, 6, 7, 8, 9, 3))
    (tmp_path / "a.bin").write_bytes(wiring.apply(marram()))
    address, data = (8, 7, 6, 5, 4, 3, 2, 1, 23, 22, 19), (9, 10, 11, 13, 14, 15, 16, 17)
    crossed = [*range(3), 10, *range(4, 10), 3]
    text = "board card\nhost 6502\npart u5 unknown 24\nplug p1 50 host\n"
    text += "".join(f"pin p1.{k + 1} a{k} in\n" for k in range(11))
    text += "".join(f"pin p1.{k + 20} d{k} both\n" for k in range(8))
    text += "".join(f"net a{line} p1.{line + 1} u5.{address[k]}\n" for k, line in enumerate(crossed))
    text += "".join(f"net d{k} p1.{k + 20} u5.{data[k]}\n" for k in range(8))
    (tmp_path / "card.nets").write_text(text)
    known = ["--known-wiring", str(tmp_path / "card.nets"), "--chip", "u5"]
    assert run(["program", "repair", str(tmp_path / "a.bin"), *known, "--write", str(tmp_path / "b")]) == 0
    assert "likeliest: A3 and A10 swapped" in capsys.readouterr().out
    assert (tmp_path / "b").read_bytes() == marram()


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["a", "a"], "several files are several reads of one chip (--reads); repair chips one by one"),
        (["a", "--merge", "AND"], "--merge belongs to --reads"),
        (
            ["a", "--chip", "u5"],
            "--known-wiring and --chip belong together: the board's net files, and the chip in them",
        ),
        (
            ["a", "--line", "A0 inverted", "--no-lines"],
            "the wiring is known from --line or --known-wiring, or not looked for (--no-lines)",
        ),
    ],
)
def test_repair_wrong(tmp_path: Path, options: list[str], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Options that do not go together are refused."""
    (tmp_path / "a").write_bytes(ramp_rom())
    assert run(["program", "repair", *(str(tmp_path / one) if one == "a" else one for one in options)]) == USAGE
    assert words in " ".join(capsys.readouterr().err.split())


def test_repair_line_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A line that the chip does not have is refused by the option."""
    (tmp_path / "a").write_bytes(ramp_rom())
    assert run(["program", "repair", str(tmp_path / "a"), "--line", "A8 inverted"]) == OUTCOME[BadInput].exit_code
    assert capsys.readouterr().err == ("latchlore: --line: there is no A8: the lines of this chip are A0 to A7\n")


def test_describe_carries_the_glance() -> None:
    """The report prints itself: fill and texts with the rest."""
    assert "FFh fills 1,475 bytes" in str(describe_image(marram(), "a"))
