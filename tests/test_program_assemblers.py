"""Listings against packaged assemblers (acme, ca65; z80asm, pasmo) and the z80 library's decoder.

An assembler takes the listing of every documented opcode and must make the bytes it came from.
"""

from __future__ import annotations

import random
import re
import shutil
import subprocess
from typing import TYPE_CHECKING

import pytest
import z80

from latchlore.program import Image, disassemble
from latchlore.program._cpu import get_cpu
from tests.test_program_cpu_engines import examples

if TYPE_CHECKING:
    import pathlib

ORIGIN = 0x4000
TWO_ENCODINGS = frozenset({0x263, 0x26B})  # LD (nn),HL and LD HL,(nn) behind ED: assemblers take the short ones
CA65_LINK = "MEMORY {{ M: start = ${:04X}, size = $4000, file = %O; }}\nSEGMENTS {{ CODE: load = M, type = ro; }}\n"


def every_opcode(name: str, skip: frozenset[int] = frozenset()) -> list[bytes]:
    """The bytes of each documented opcode, three times with other operands; words do not lie in page zero."""
    dice = random.Random(name)
    cpu = get_cpu(name)
    found = []
    for code, start in examples(name).items():
        length = cpu.rows[code].length
        for _ in range(3):
            tail = bytes(dice.randrange(0x10, 0xF0) for _ in range(4))
            if code not in skip:
                # DD CB d op: what is given stands in front of and behind the displacement
                found.append((start + tail)[:length])
    return found


def listing(name: str, parts: list[bytes]) -> list[str]:
    """The text of each instruction of a program."""
    image = Image.from_bytes(b"".join(parts), ORIGIN, "parts")
    lines = disassemble(image, ORIGIN, image.last, cpu=name)
    assert [line.data for line in lines] == parts
    assert all(line.is_documented for line in lines)
    return [line.text for line in lines]


def tool(name: str) -> str:
    """A program's path; skips the test where it is not installed."""
    path = shutil.which(name)
    if path is None:
        pytest.skip(f"{name} is not installed")
    return path


def assemble(tool_name: str, lines: list[str], folder: pathlib.Path) -> bytes:
    """What an assembler makes of some lines."""
    source, binary = folder / "x.asm", folder / "x.bin"
    path = tool(tool_name)
    org = {"acme": f"* = ${ORIGIN:04X}", "ca65": f'.org ${ORIGIN:04X}\n.segment "CODE"'}
    head = org.get(tool_name, f" org 0{ORIGIN:04X}h")
    source.write_text("\n".join([head, *(f" {line}" for line in lines), ""]))
    match tool_name:
        case "acme":
            work = [[path, "-f", "plain", "-o", str(binary), str(source)]]
        case "ca65":
            (folder / "x.cfg").write_text(CA65_LINK.format(ORIGIN))
            work = [
                [path, "-o", str(folder / "x.o"), str(source)],
                [tool("ld65"), "-C", str(folder / "x.cfg"), "-o", str(binary), str(folder / "x.o")],
            ]
        case "z80asm":
            work = [[path, "-o", str(binary), str(source)]]
        case _:
            work = [[path, "--bin", str(source), str(binary)]]
    for command in work:
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stdout[:500] + done.stderr[:500]
    return binary.read_bytes()


@pytest.mark.parametrize(
    ("tool_name", "cpu", "skip"),
    [
        ("acme", "6502", frozenset({0x00})),  # BRK: they leave out the byte that the processor skips
        ("ca65", "6502", frozenset({0x00})),
        ("z80asm", "Z80", TWO_ENCODINGS),
        ("pasmo", "Z80", TWO_ENCODINGS),
    ],
)
def test_assembled_again(tool_name: str, cpu: str, skip: frozenset[int], tmp_path: pathlib.Path) -> None:
    """The listing of every documented opcode, assembled, is the program that it lists."""
    parts = every_opcode(cpu, skip)
    assert len(parts) == 3 * (len(get_cpu(cpu).rows) - len(skip))
    lines = listing(cpu, parts)
    if tool_name == "acme":  # it writes the accumulator by leaving it out, and would take A for a label
        lines = [re.sub(r"^(ASL|LSR|ROL|ROR) A$", r"\1", line) for line in lines]
    made = assemble(tool_name, lines, tmp_path)
    at = 0
    for part in parts:
        assert made[at : at + len(part)] == part, (part.hex(), made[at : at + 4].hex())
        at += len(part)
    assert len(made) == at


def test_assembled_again_wrong(tmp_path: pathlib.Path) -> None:
    """A listing with one operand changed does not make the same bytes: the check can fail."""
    parts = every_opcode("6502", frozenset({0x00}))
    lines = listing("6502", parts)
    k = next(k for k, line in enumerate(lines) if line.startswith("LDA #"))
    lines[k] = "LDA #$01"
    assert assemble("ca65", lines, tmp_path) != b"".join(parts)


def plain(text: str) -> str:
    """A text of either decoder with its numbers in one form and without blanks."""
    text = re.sub(r"\b0x([0-9a-f]+)\b", lambda found: str(int(found[1], 16)), text.lower())
    text = re.sub(r"\b([0-9][0-9a-f]*)h\b", lambda found: str(int(found[1], 16)), text)
    return text.replace(" ", "")


def test_z80_decoder() -> None:
    """Names, operands and lengths of every documented Z80 opcode, prefixes included, as the z80 library has them."""
    builder = z80.Z80InstrBuilder()
    wrong = []
    parts = every_opcode("Z80")
    for part, mine in zip(parts, listing("Z80", parts), strict=True):
        theirs, size = builder.build_instr(ORIGIN, part + bytes(4))
        here = disassemble(Image.from_bytes(part, ORIGIN, "one"), ORIGIN, ORIGIN, cpu="Z80")[0].text
        text = str(theirs).replace("xld 0xed63, ", "ld ").replace("xld 0xed6b, ", "ld ")  # its mark of the longer form
        if size != len(part) or plain(here) != plain(text):
            wrong.append((part.hex(), here, str(theirs), size, mine))
    assert wrong == []


def test_z80_undocumented_lengths() -> None:
    """Lengths of the Z80's undocumented opcodes: the library's, which counts a DD or FD without effect in."""
    cpu, builder = get_cpu("Z80"), z80.Z80InstrBuilder()
    front = {0x100: "CB", 0x200: "ED", 0x300: "DD", 0x400: "FD", 0x500: "DDCB05", 0x600: "FDCB05"}
    count = 0
    for code, length in cpu.undocumented.items():
        if code < 0x100 or (code >> 8 in (3, 4) and code & 0xFF in (0xCB, 0xDD, 0xED, 0xFD)):
            continue  # a prefix in front of a prefix
        data = bytes.fromhex(front[code & ~0xFF]) + bytes([code & 0xFF, 0x11, 0x22])
        _, size = builder.build_instr(ORIGIN, data)
        follows = cpu.rows[code & 0xFF].length if length == 1 else 0
        line = disassemble(Image.from_bytes(data, ORIGIN, "one"), ORIGIN, ORIGIN, cpu="Z80")[0]
        assert (line.is_documented, len(line.data), length + follows) == (False, length, size), hex(code)
        assert line.text == f"undocumented {cpu.spell(code)}"
        count += 1
    assert count > 800


def test_6502_undocumented_lengths(tmp_path: pathlib.Path) -> None:
    """Lengths of 56 undocumented opcodes as ca65 assembles them for the processor that it calls 6502X."""
    modify: tuple[str, ...] = ("$12", "$12,x", "$1234", "$1234,x", "$1234,y", "($12,x)", "($12),y")
    uses: dict[str, tuple[str, ...]] = dict.fromkeys(("slo", "rla", "sre", "rra", "dcp", "isc"), modify)
    uses |= {"sax": ("$12", "$12,y", "$1234", "($12,x)"), "lax": (*modify[:1], "$12,y", "$1234", *modify[4:])}
    uses |= dict.fromkeys(("anc", "alr", "arr", "axs"), ("#$12",))
    lines = [f"{name} {operand}" for name, operands in uses.items() for operand in operands]
    made = assemble("ca65", ['.setcpu "6502X"', *lines], tmp_path)
    cpu = get_cpu("6502")
    at = 0
    for line in lines:
        length = 3 if "$1234" in line else 2
        assert cpu.undocumented[made[at]] == length, line
        at += length
    assert (len(made), len({*lines})) == (at, 56)
