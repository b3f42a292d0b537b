"""Where an image lies and whose code it is; the tables of lengths against a disassembly and a Z80 library."""

from __future__ import annotations

import pathlib
import random
import shutil
import subprocess

import capstone
import pytest
import z80

from latchlore.base import BadInput, UnknownName
from latchlore.program._image import Image
from latchlore.program._load import infer_cpu, infer_load
from latchlore.program._loadcode import instruction_length
from latchlore.program._loaddescribe import describe_image
from latchlore.program._loadfacts import LANDMARKS
from latchlore.program._loadspace import Space

CBIOS = pathlib.Path("/usr/share/cbios")
PROGRAMS = pathlib.Path(__file__).parent / "repair_programs"
CS_MODES = {
    "6502": (capstone.CS_ARCH_MOS65XX, capstone.CS_MODE_MOS65XX_6502),
    "65C02": (capstone.CS_ARCH_MOS65XX, capstone.CS_MODE_MOS65XX_65C02),
    "6800": (capstone.CS_ARCH_M680X, capstone.CS_MODE_M680X_6800),
    "6809": (capstone.CS_ARCH_M680X, capstone.CS_MODE_M680X_6809),
}


@pytest.mark.parametrize("cpu", sorted(CS_MODES))
def test_lengths(cpu: str) -> None:
    """Every documented instruction is as long as capstone says.

    Left out: what capstone decodes as a no-operation or a data byte, which it does for undocumented opcodes.
    """
    decoder = capstone.Cs(*CS_MODES[cpu])
    chooser = random.Random(cpu)
    for first in range(256):
        for _ in range(60):
            data = bytes([first]) + chooser.randbytes(5)
            line = next(decoder.disasm(data, 0x1000), None)
            known = line is not None and not line.mnemonic.startswith("fcb")
            length = instruction_length(cpu, data, 0)
            if line is not None and known and line.mnemonic == "nop" and length == 0:
                continue
            if length and known and line is not None:
                assert (data.hex(), length) == (data.hex(), line.size)
            elif cpu in ("6502", "6800"):
                assert (data.hex(), length > 0) == (data.hex(), known)


def test_lengths_z80() -> None:
    """Every documented Z80 instruction is as long as the z80 library says; 8080 instructions are as long as those."""
    builder = z80.Z80InstrBuilder()
    checked = 0
    for first in range(256):
        for second in range(256):
            data = bytes([first, second, 0x12, 0x46, 1, 2])
            length = instruction_length("Z80", data, 0)
            if length:
                assert (data.hex(), length) == (data.hex(), builder.build_instr(0, data)[1])
                checked += 1
        data = bytes([first, 0x12, 0x34])
        if length := instruction_length("8080", data, 0):
            assert length == instruction_length("Z80", data, 0)
    assert checked > 64_000


def test_landmarks_are_calls_and_jumps() -> None:
    """Calls, jumps, ends and branches have the names that the libraries give them."""
    names = {"6502": ("jsr", "jmp"), "65C02": ("jsr", "jmp"), "6800": ("jsr", "jmp"), "6809": ("jsr", "jmp")}
    for cpu, (call, jump) in names.items():
        decoder, marks = capstone.Cs(*CS_MODES[cpu]), LANDMARKS[cpu]
        for codes, wanted in ((marks.calls, {call}), (marks.always, {jump}), (marks.ends, {"rts", "rti"})):
            found = {next(decoder.disasm(bytes([code, 0x34, 0x12]), 0)).mnemonic for code in codes}
            assert found <= wanted
            assert found
    builder, marks = z80.Z80InstrBuilder(), LANDMARKS["Z80"]
    for codes, start in (
        (marks.calls, "call"),
        (marks.jumps, "jp"),
        (marks.branches, ("jr", "djnz")),
        (marks.short, "jr"),
    ):
        for code in codes:
            assert str(builder.build_instr(0, bytes([code, 0x34, 0x12, 0]))[0]).startswith(start)


def rom(name: str) -> bytes:
    """One ROM of Debian's cbios package."""
    path = CBIOS / f"cbios_{name}.rom"
    if not path.exists():
        pytest.skip("the Debian package cbios is not installed")
    return path.read_bytes()


@pytest.mark.parametrize(
    ("name", "load"), [("main_msx1", 0x0000), ("sub", 0x0000), ("disk", 0x4000), ("basic", 0x4000)]
)
def test_infer_load_real(name: str, load: int) -> None:
    """Real Z80 ROMs of cbios 0.28 are found at their documented places from the bytes alone."""
    report = infer_load(rom(name), "Z80", name)
    assert (report.places[0].load, report.is_decided) == (load, True)


def test_infer_cpu_real() -> None:
    """The main ROM of cbios is Z80 code and nothing else."""
    report = infer_cpu(rom("main_msx1"))
    assert report.cpu == "Z80"
    assert report.guesses[0].bits - report.guesses[1].bits > 50


@pytest.fixture(scope="module")
def strip(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Our strip printer driver, assembled by ca65 for F800 to FFFF."""
    if shutil.which("ca65") is None:
        pytest.skip("ca65 (Debian package cc65) is not installed")
    folder = tmp_path_factory.mktemp("strip")
    config = "MEMORY { M: start = 0, size = $10000, file = %O; }\nSEGMENTS { CODE: load = M, type = rw; }\n"
    (folder / "raw.cfg").write_text(config)
    subprocess.run(["ca65", PROGRAMS / "strip.s", "-o", "strip.o"], cwd=folder, check=True)
    subprocess.run(["ld65", "-C", "raw.cfg", "-o", "strip.bin", "strip.o"], cwd=folder, check=True)
    return (folder / "strip.bin").read_bytes()


def test_infer_load_by_vectors(strip: bytes) -> None:
    """Vectors and calls agree on the top of the space, and the reasons are given."""
    report = infer_load(strip, "6502", "strip.bin")
    assert (report.places[0].load, report.is_decided) == (0xF800, True)
    assert any(reason.startswith("vectors at the top lead into it: NMI ") for reason in report.places[0].reasons)


def test_infer_load_header(strip: bytes) -> None:
    """A two-byte header that states the place is recognised and skipped; without it the rest is the same."""
    report = infer_load(b"\x00\xf8" + strip[:1500], "6502")
    assert (report.places[0].load, report.places[0].skip) == (0xF800, 2)
    assert infer_load(strip[:1500], "6502").places[0].load == 0xF800


def test_infer_cpu_own(strip: bytes) -> None:
    """2 KB of 6502 code cannot be told from 65C02 code that uses no new opcode, and it is no other processor's."""
    report = infer_cpu(strip)
    assert report.cpu is None
    assert report.why == "undecided between 6502 and 65C02: the first leads by 2 bits only; 8 are asked for"
    assert report.guesses[1].bits - report.guesses[2].bits > 20


@pytest.mark.parametrize("seed", range(5))
def test_infer_cpu_none(seed: int) -> None:
    """Random bytes are no processor's code."""
    report = infer_cpu(random.Random(seed).randbytes(8192))
    assert (report.cpu, report.why) == (
        None,
        "none of these: too little of it hangs together as code of any known processor",
    )


def test_infer_load_undecided() -> None:
    """Text has no place."""
    assert not infer_load(b"PRINTER NOT READY " * 40, "Z80").is_decided


def test_infer_load_wrong() -> None:
    """An unknown processor, an empty image and one larger than the space are refused."""
    with pytest.raises(
        UnknownName,
        match=r"^processor 'Z8' is not known; known are '6502', '65C02', '6800', '6809', '8080', '8085', 'Z80'$",
    ):
        infer_load(b"abc", "Z8")
    with pytest.raises(BadInput, match=r"^image: an image holds at least one byte; the file is empty$"):
        infer_load(b"", "Z80")
    with pytest.raises(BadInput, match=r"^image: 65537 bytes are more than the 65536 of the address space$"):
        infer_load(bytes(65537), "Z80")


def image(load: int, size: int, file: str) -> Image:
    """An image of zeros."""
    return Image.from_bytes(bytes(size), load, file)


def test_space() -> None:
    """Banks of one slot share addresses; a choice gives the images that are then there."""
    space = Space.of(
        [image(0xF000, 0x1000, "main")],
        {
            "rom": {"a": [image(0xC000, 0x100, "a")], "b": [image(0xC000, 0x200, "b")]},
            "ram": {"x": [image(0, 16, "x")]},
        },
    )
    assert [part.file for part in space.select({"rom": "b", "ram": "x"})] == ["x", "b", "main"]
    assert [dict(banks) for banks, _ in space.iter_selections()] == [{"rom": "a", "ram": "x"}, {"rom": "b", "ram": "x"}]


def test_space_wrong() -> None:
    """Overlaps that can be there together are refused, all at once; so are unknown slots and banks."""
    with pytest.raises(
        BadInput,
        match=r"^b: 10F0 to 11EF overlaps a at 1000 to 10FF in 10F0 to 10FF\n"
        r"c: 1000 to 1000 overlaps a at 1000 to 10FF in 1000 to 1000$",
    ):
        Space.of([image(0x1000, 0x100, "a"), image(0x10F0, 0x100, "b")], {"s": {"one": [image(0x1000, 1, "c")]}})
    space = Space.of([], {"s": {"one": [image(0x1000, 1, "c")]}})
    with pytest.raises(UnknownName, match=r"^slot 's' needs a bank; known are 'one'$"):
        space.select({})
    with pytest.raises(UnknownName, match=r"^slot 's' has no bank 'two'; known are 'one'$"):
        space.select({"s": "two"})
    with pytest.raises(UnknownName, match=r"^there is no slot 't'; known are 's'$"):
        space.select({"t": "one"})
    with pytest.raises(BadInput, match=r"^s: slot 's' has no bank$"):
        Space.of([], {"s": {}})


def test_describe_image(strip: bytes) -> None:
    """A raw file is described, its place found, and the engines' image made from it."""
    report = describe_image(strip, "strip.bin", cpu="6502")
    assert (report.cpu, report.load) == ("6502", 0xF800)
    assert [(part.load, part.data) for part in report.images()] == [(0xF800, strip)]
    assert str(report).splitlines()[0] == "strip.bin: raw, 2,048 bytes"
    assert str(report).splitlines()[-1] == "strip.bin: 6502; loads at F800, as its code shows"


def test_describe_records() -> None:
    """Records state their addresses, and every stretch becomes an image."""
    report = describe_image(b":0100000011EE\n:0100030022DA\n:00000001FF\n", "a.hex", cpu="Z80")
    assert [(part.load, part.data) for part in report.images()] == [(0, b"\x11"), (3, b"\x22")]
    assert str(report).splitlines()[-1] == "a.hex: Z80; loads at 0000, as its records state"


def test_describe_image_wrong() -> None:
    """Without a place there is no image; and a stated place must hold it."""
    report = describe_image(random.Random(1).randbytes(4096), "noise.bin")
    assert (report.cpu, report.load) == (None, None)
    with pytest.raises(BadInput, match=r"^noise.bin: its load address is not known; state it$"):
        report.images()
    with pytest.raises(BadInput, match=r"^a: 300 bytes from FF00 on reach past FFFF; at most 256 fit there$"):
        describe_image(bytes(range(100)) * 3, "a", cpu="6502", load=0xFF00)


@pytest.mark.parametrize("value", [0x00, 0xFF, 0x3F])
def test_blank_is_nobodys_code(value: int) -> None:
    """A chip that was not selected, or is blank, is no code of any processor and lies nowhere."""
    report = infer_cpu(bytes([value]) * 2048)
    assert (report.cpu, report.guesses) == (None, ())
    for cpu in ("6502", "6809"):
        assert not infer_load(bytes([value]) * 2048, cpu).is_decided


def test_blank_vectors_say_nothing() -> None:
    """Vectors that nobody programmed (FFFFh) do not place an image at the top."""
    data = random.Random(2).randbytes(1000) + bytes([0xFF]) * 1048
    assert not any("vectors" in reason for place in infer_load(data, "6809").places for reason in place.reasons)
