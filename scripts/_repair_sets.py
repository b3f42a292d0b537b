"""Programs for the repair's tables, for choosing its constants, and held out to measure it: assembled on the spot.

Three sets that share no module:

- TABLES, from which pairs of bytes are counted: the runtime library of Debian's cc65 (zlib-style licence), the ROMs of
  Debian's cbios (BSD licence), and two programs of ours.
- TUNING, on which the constants of the repair were chosen: half of the libraries of Debian's sdcc, one program of ours.
- HELD, which neither tables nor constants have seen: the other half of those libraries, three programs of ours.

Of sdcc's libraries (GPL with an exception) nothing is kept, not even counts: they are only scrambled and put right.
Programs of ours are those of tests/repair_programs.
"""

from __future__ import annotations

import pathlib
import re
import subprocess
import sys
import tempfile
from typing import NamedTuple

import bincopy

HERE = pathlib.Path(__file__).resolve().parent
SOURCES = HERE.parent / "tests" / "repair_programs"
SDCC = pathlib.Path("/usr/share/sdcc/lib")
CBIOS = pathlib.Path("/usr/share/cbios")
# One of each kind: the other machines' ROMs of the package hold the same routines moved.
CBIOS_NAMES = ("main_msx2+", "sub", "disk", "music", "basic", "logo_msx2+")
TABLE_PROGRAMS = ("loom", "post")
TUNING_PROGRAMS = ("ticket",)
HELD_PROGRAMS = ("tide", "scale")
Z80_PLACES = ("_HOME=0xE800", "_DATA=0xD000")
RAW_CONFIG = "MEMORY { M: start = 0, size = $10000, file = %O; }\nSEGMENTS { CODE: load = M, type = rw; }\n"
LINKER_CONFIG = """
MEMORY { ZP: file = "", start = $40, size = $C0, define = yes;
    CODE: file = %O, start = %S, size = $10000 - %S;
    REST: file = "", start = $0200, size = $8000, define = yes; RAM: file = "", start = $0200, size = $8000; }
SEGMENTS { ZEROPAGE: load = ZP, type = zp; EXTZP: load = ZP, type = zp, optional = yes;
    CODE: load = CODE, type = ro; LOWCODE: load = CODE, type = ro, optional = yes;
    ONCE: load = CODE, type = ro, optional = yes; INIT: load = RAM, type = bss, optional = yes;
    STARTUP: load = REST, type = ro, optional = yes; RODATA: load = REST, type = ro;
    DATA: load = REST, type = rw, define = yes; BSS: load = RAM, type = bss, define = yes; }
FEATURES { CONDES: type = constructor, label = __CONSTRUCTOR_TABLE__, count = __CONSTRUCTOR_COUNT__, segment = RODATA;
    CONDES: type = destructor, label = __DESTRUCTOR_TABLE__, count = __DESTRUCTOR_COUNT__, segment = RODATA;
    CONDES: type = interruptor, label = __INTERRUPTOR_TABLE__, count = __INTERRUPTOR_COUNT__, segment = RODATA,
    import = __CALLIRQ__; }
SYMBOLS { __STACKSIZE__: type = weak, value = $0800; __STACKSTART__: type = weak, value = $8000; }
"""


class Program(NamedTuple):
    """A program: `name`, its bytes, the processor, and the set it belongs to."""

    name: str
    data: bytes
    cpu: str
    set: str


def run(*command: str, cwd: pathlib.Path) -> str:
    """Standard output of a program that must succeed."""
    done = subprocess.run(command, cwd=cwd, check=False, capture_output=True, text=True)
    if done.returncode:
        sys.exit(f"{command[0]}: {done.stderr}")
    return done.stdout


def cc65_runtime(start: int) -> bytes:
    """The code of the cc65 runtime library, every module of it, linked at an address."""
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        library = "/usr/share/cc65/lib/none.lib"
        members = [line.split()[0] for line in run("ar65", "t", library, cwd=folder).splitlines()]
        run("ar65", "x", library, *members, cwd=folder)
        exports = re.findall(r'Name: +"(\w+)"', run("od65", "--dump-exports", *members, cwd=folder))
        (folder / "all.s").write_text("".join(f".forceimport {name}\n" for name in sorted(set(exports))))
        imports = re.findall(r'Name: +"(\w+)"', run("od65", "--dump-imports", *members, cwd=folder))
        # what the library expects of the program and of the machine; the linker's own names look like __DATA_RUN__
        wanted = {"_main", *imports} - set(exports)
        missing = sorted(name for name in wanted if not re.fullmatch("__[A-Z0-9_]+__", name))
        (folder / "main.s").write_text("".join(f".export {name}\n{name}:\n" for name in missing) + "rts\n")
        (folder / "linker.cfg").write_text(LINKER_CONFIG)
        for part in ("all.s", "main.s"):
            run("ca65", part, cwd=folder)
        run("ld65", "-S", str(start), "-C", "linker.cfg", "-o", "out", "all.o", "main.o", library, cwd=folder)
        return (folder / "out").read_bytes()


def own_6502(name: str, start: int = 0x8000) -> bytes:
    """A program of ours compiled for the 6502, without the runtime library that is linked to it."""
    with tempfile.TemporaryDirectory() as place:
        folder = pathlib.Path(place)
        (folder / "linker.cfg").write_text(LINKER_CONFIG.replace("RODATA: load = REST", "RODATA: load = CODE"))
        run("cc65", "-O", "-t", "none", str(SOURCES / f"{name}.c"), "-o", f"{name}.s", cwd=folder)
        run("ca65", f"{name}.s", "-o", f"{name}.o", cwd=folder)
        sizes = run("od65", "--dump-segsize", f"{name}.o", cwd=folder)
        size = int(re.findall(r"CODE: +(\d+)", sizes)[0])
        library = "/usr/share/cc65/lib/none.lib"
        run("ld65", "-S", str(start), "-C", "linker.cfg", "-o", "out", f"{name}.o", library, cwd=folder)
        return (folder / "out").read_bytes()[:size]


def own_z80(name: str, start: int = 0) -> bytes:
    """A program of ours compiled for the Z80, with its texts and without the library."""
    with tempfile.TemporaryDirectory() as place:
        folder = pathlib.Path(place)
        run("sdcc", "-mz80", "-c", str(SOURCES / f"{name}.c"), "-o", f"{name}.rel", cwd=folder)
        size = int(re.findall(r"A _CODE size ([0-9A-F]+)", (folder / f"{name}.rel").read_text())[0], 16)
        run("sdldz80", "-n", "-i", "-b", f"_CODE={start}", "-b", "_DATA=49152", "-k", str(SDCC / "z80"), "-l",
            "z80.lib", "out.ihx", f"{name}.rel", cwd=folder)  # fmt: skip
        return bytes(bincopy.BinFile(str(folder / "out.ihx")).segments[0].data)[:size]


def own_assembled(name: str) -> bytes:
    """A program of ours in assembler for the 6502."""
    with tempfile.TemporaryDirectory() as place:
        folder = pathlib.Path(place)
        (folder / "raw.cfg").write_text(RAW_CONFIG)
        run("ca65", str(SOURCES / f"{name}.s"), "-o", f"{name}.o", cwd=folder)
        run("ld65", "-C", "raw.cfg", "-o", "out", f"{name}.o", cwd=folder)
        return (folder / "out").read_bytes()


def sdcc_half(linker: str, target: str, half: int, places: tuple[str, ...]) -> bytes:
    """The code of every second module of an sdcc library, linked in one piece; `half` 0 or 1."""
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        run("ar", "x", str(SDCC / target / f"{target}.lib"), cwd=folder)
        modules = sorted(path.name for path in folder.glob("*.rel"))[half::2]
        flags = [word for place in places for word in ("-b", place)]
        # what the library expects from the program, and the other half, stay undefined: reported and survived
        subprocess.run([linker, "-n", "-i", *flags, "out.ihx", *modules], cwd=folder, check=False, capture_output=True)
        segments = bincopy.BinFile(str(folder / "out.ihx")).segments
        return max((bytes(segment.data) for segment in segments), key=len)


def programs(which: str) -> list[Program]:
    """The programs of ``TUNING`` or ``HELD``, in a fixed order."""
    half = ("TUNING", "HELD").index(which)
    names = (TUNING_PROGRAMS, HELD_PROGRAMS)[half]
    found = [
        Program("mos6502.lib", sdcc_half("sdld", "mos6502", half, ("_CODE=32768", "CODE=32768")), "6502", which),
        Program("z80.lib", sdcc_half("sdldz80", "z80", half, ("_CODE=0", "_HOME=61440", "_DATA=57344")), "Z80", which),
    ]
    for name in names:
        found += [
            Program(f"{name} 6502", own_6502(name), "6502", which),
            Program(f"{name} Z80", own_z80(name), "Z80", which),
        ]
    if which == "HELD":
        found.append(Program("strip", own_assembled("strip")[:1024], "6502", which))
    return found
